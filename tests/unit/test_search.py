"""Searches: their files, their numbers against one design at a time, the choice, and refusals."""

import copy
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import yaml

from fem.stress import hydrostatic, volume_statistics
from workflow.case import CaseError, load_case, resolved, validate_case
from workflow.case_units import case_units
from workflow.catalogue import load_catalogue
from workflow.equilibrium import engage_case
from workflow.figures import save_figure
from workflow.figures_search import (
    binding_figure,
    binding_table,
    trade_off_figure,
    trade_off_table,
)
from workflow.plan import cantilever_sites
from workflow.response import ligament_field_of
from workflow.search import find_designs
from workflow.search_config import Search, count_of, load_search
from workflow.search_field import design_content, hook_places, wires_of
from workflow.search_limits import trade_off
from workflow.search_report import chosen_text, search_report
from workflow.units import GF_PER_N, KPA_PER_MPA, N_PER_GF
from workflow.yaml_files import read_mapping

FILE = Path("configs/searches/lower_molar_uprighting.yaml")
CASE = Path("configs/cases/lower_molar_uprighting.yaml")
TEETH = (37, 35, 34, 33)
STEEL, BETA_TI, NITI = "stainless_steel", "beta_titanium", "nickel_titanium_superelastic"
FLAT, THIN = "rectangular_0.017x0.025_in", "round_0.016_in"

SMALL = {
    "search": "small",
    "title": "A small search",
    "case": "lower_molar_uprighting",
    "wish": {"couple_gfmm": [900, 1300]},
    "limits": {"force_gf": {"segment": 90}, "ligament_hydrostatic_kPa": 60, "action_mm": 0.5},
    "field": {
        "alloys": [STEEL, BETA_TI, NITI],
        "sections": [FLAT, THIN],
        "spans_mm": {"low": 18, "high": 26, "count": 3},
        "runs": {"straight": [], "helix": [{"helix": {"turns": 1}}]},
        "activation": {"couple_gfmm": {"low": 900, "high": 1300, "count": 3}},
    },
}


@pytest.fixture(scope="module")
def supports(tmp_path_factory):
    """Teeth on springs, with stress fields that follow no pattern: every tooth its own."""
    folder, drawn = tmp_path_factory.mktemp("supports"), np.random.default_rng(5)
    files, bases = {}, {}
    for tooth in TEETH:
        stiffness = np.diag([150.0, 140.0, 90.0, 2500.0, 2300.0, 900.0]) * drawn.uniform(0.7, 1.5)
        record = {"point_mm": [0.0, 0.0, -7.0], "stiffness": stiffness.tolist()}
        files[tooth] = str(folder / f"{tooth}.json")
        Path(files[tooth]).write_text(json.dumps(record), encoding="utf-8")
        bases[tooth] = str(folder / f"{tooth}.npz")
        values = (
            drawn.normal(size=(6, 6, 200, 4))
            * np.array([0.3, 0.3, 0.3, 2, 2, 2])[:, None, None, None]
        )
        volumes = drawn.uniform(0.5, 1.5, size=(200, 4))
        np.savez(bases[tooth], values=values, volumes=volumes, displacements=np.zeros((6, 1, 3)))
    return files, bases


def searched(supports, **changes):
    content = copy.deepcopy(SMALL)
    for path, value in changes.items():
        *parents, last = path.split("__")
        place = content
        for name in parents:
            place = place[name]
        place[last] = value
    search = Search.model_validate(content)
    hooks = hook_places(search, read_mapping(CASE), supports[0], "small.yaml")
    return search, hooks, find_designs(search, hooks, supports[1])


@pytest.fixture(scope="module")
def small(supports):
    return searched(supports)


# --- the file ------------------------------------------------------------------------------------


def test_the_example_has_about_ten_thousand_designs_of_the_demonstration_case():
    search, case = load_search(FILE)
    assert case.case == CASE.stem
    assert 9_500 < count_of(search) < 10_600
    assert search.wish.couple == pytest.approx((1100 * N_PER_GF, 1400 * N_PER_GF))


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("search: lower", "search: upper", "search = 'upper_molar_uprighting': must equal"),
        ("case: lower_molar_uprighting  ", "case: nowhere  ", "no such file"),
        ("[1100, 1400]", "[1400, 1100]", "must rise from lowest to highest"),
        ("wish: {couple_gfmm: [1100, 1400]}", "wish: {}", "at least one of couple_Nmm"),
        (
            "molar: 70",
            "molr: 70",
            "limits.force_gf.molr: no such unit; did you mean molar?",
        ),
        ("beta_titanium", "beta_titan", "did you mean beta_titanium?"),
        ("yield_ratio: 0.9", "yield_ratio: 1.2", "out of range"),
        ("turns: 1,", "turns: 1.5,", "turns must be a whole number"),
        ("low: 16, high: 30", "low: 30, high: 16", "low must lie below high"),
        ("count: 10}", "count: 1000}", "leave at most 200000"),
        ("criterion: least_force", "criterion: cheapest", "criterion = 'cheapest'"),
    ],
)
def test_a_wrong_search_is_refused_in_words(tmp_path, old, new, message):
    text = FILE.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / FILE.name
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_search(path)
    assert message in str(caught.value)
    assert len(str(caught.value).splitlines()) == len(caught.value.problems)


@pytest.mark.parametrize(
    ("part", "key", "value", "message"),
    [
        ("one_point", "contact", "dead_force", "contact dead_force, which is not searched"),
        ("one_point", "friction", 0.1, "has friction, which is not searched"),
    ],
)
def test_a_base_case_that_batches_do_not_solve_is_refused(tmp_path, part, key, value, message):
    case = read_mapping(CASE)
    case[part][key] = value
    (tmp_path / CASE.name).write_text(yaml.safe_dump(case), encoding="utf-8")
    with pytest.raises(CaseError, match=message):
        load_search(FILE, tmp_path)


def test_a_span_that_the_segment_does_not_reach_is_refused(supports):
    with pytest.raises(CaseError, match=r"field\.spans_mm: the segment's wire lies"):
        searched(supports, field__spans_mm={"low": 18, "high": 60, "count": 2})


def test_limits_of_force_may_be_in_newton():
    # 1 gf = 9.80665e-3 N, exact by definition of standard gravity.
    content = SMALL | {"limits": {"force_gf": {"molar": 70}, "force_N": {"segment": 0.588399}}}
    bounds = Search.model_validate(content).limits
    assert bounds.most_force_gf == pytest.approx({"molar": 70.0, "segment": 60.0})


# --- numbers -------------------------------------------------------------------------------------


def test_every_number_is_that_of_the_design_alone(small, supports):
    search, hooks, found = small
    files, bases = supports
    rows = found.table[found.table["note"] == ""].iloc[[0, 7, -1]].to_dict("records")
    assert {row["run"] for row in rows} == {"straight", "helix"}
    for row in rows:
        place = next(place for place in hooks if place.name == row["hook"])
        content = design_content(search, place, row)
        content["wire"]["elements"] = search.elements
        case = resolved(validate_case(content, "x"))
        units = case_units(case, files)
        engaged = engage_case(case, units)
        middle = cantilever_sites(case).tube_middle
        strength = case["wire"]["alloy"]["yield_strength_MPa"]
        assert row["force_N"] == pytest.approx(engaged.force_N, rel=1e-8)
        assert row["couple_Nmm"] == pytest.approx(engaged.couple_Nmm(middle), rel=1e-8)
        assert row["yield_ratio"] == pytest.approx(engaged.stress_MPa.max() / strength, rel=1e-8)
        for index, name in enumerate(units.in_order):
            motion = engaged.solved.equilibrium.motions[index]
            for tooth in units.supports[name].teeth:
                field = ligament_field_of(units.supports[name], motion, tooth, bases[tooth.number])
                share = volume_statistics(hydrostatic(field.stress), field.volumes)
                stress = KPA_PER_MPA * max(share.p99, -share.p01)
                assert row[f"ligament_{tooth.number}_kPa"] == pytest.approx(stress, rel=1e-8)


def test_couple_over_force_is_the_distance_of_statics(small):
    # M = F (L + b/2) where wire and tube are in line; here the tube is tipped and the wire's end
    # slides, so the arm lies a little off that, and never beyond the wire's length.
    table = small[2].table.dropna(subset=["force_N"])
    arm = table["couple_Nmm"] / table["force_N"]
    assert np.all(np.abs(arm / (table["span_mm"] + 2.0) - 1) < 0.15)


def test_superelastic_wire_past_its_plateau_gets_no_numbers(small):
    table = small[2].table
    past = (table["alloy"] == NITI) & (table["yield_ratio"] > 1)
    assert past.any()
    assert (table.loc[past, "note"] == "past its plateau: run it as a case").all()
    assert table.loc[past, ["force_N", "couple_gfmm", "ligament_kPa"]].isna().all(axis=None)
    assert not table.loc[past, "feasible"].any()


def test_a_run_longer_than_the_span_breaks_the_limit_of_room(supports):
    *_, found = searched(
        supports,
        field__runs={"long": [{"straight_mm": 30}]},
        field__spans_mm={"low": 20, "high": 20, "count": 1},
        limits__room_mm=2,
    )
    # By hand: 20 − 30 = −10 mm where 2 mm are asked for, six times the limit.
    assert not found.table["feasible"].any()
    assert found.violations["room"].to_numpy() == pytest.approx(6.0)
    assert (found.table["binding"] == "room").all()


# --- choice --------------------------------------------------------------------------------------


def test_feasible_designs_keep_every_limit_and_the_chosen_has_the_least_force(small):
    search, _, found = small
    kept = found.table[found.table["feasible"]]
    assert 0 < len(kept) < len(found.table)
    assert kept["couple_gfmm"].between(900 * 0.999, 1300 * 1.001).all()
    assert (kept["force_gf"] <= 90).all()
    assert (kept["yield_ratio"] <= 1).all()
    assert (kept["ligament_kPa"] <= 60).all()
    assert (kept["action_mm"] >= 0.5).all()
    assert found.table.loc[found.chosen, "force_gf"] == kept["force_gf"].min()
    assert (found.feasible.filter(like="margin") >= -1e-3).all(axis=None)
    assert search.criterion == "least_force"


def test_nothing_beats_the_trade_off_and_something_beats_the_rest():
    values = pd.DataFrame(
        {
            "force_gf": [10.0, 20.0, 10.0, 30.0, 5.0],
            "couple_gfmm": [100.0, 200.0, 90.0, 200.0, 300.0],
            "yield_ratio": [0.5, 0.5, 0.5, 0.4, 0.1],
            "feasible": [True, True, True, True, False],
        }
    )
    # By hand: the third is beaten by the first, the fourth has the least stress, the last is out.
    assert list(trade_off(values)) == [True, True, False, True, False]


@pytest.mark.parametrize("way", ["couple_gfmm", "offset_mm"])
def test_the_chosen_design_run_as_a_case_gives_what_was_promised(supports, tmp_path, way):
    low, high = (900, 1300) if way == "couple_gfmm" else (4, 7)
    steps = {way: {"low": low, "high": high, "count": 3}}
    search, hooks, found = searched(supports, field__activation=steps)
    report = search_report(search, hooks, found)
    path = tmp_path / "chosen.yaml"
    path.write_text(chosen_text(report), encoding="utf-8")
    case = resolved(load_case(path))
    engaged = engage_case(case, case_units(case, supports[0]))
    couple = GF_PER_N * engaged.couple_Nmm(cantilever_sites(case).tube_middle)
    assert couple == pytest.approx(report["promised"]["couple_gfmm"], rel=1e-6)
    assert couple == pytest.approx(found.table.loc[found.chosen, "couple_gfmm"], rel=1e-3)
    assert engaged.force_N == pytest.approx(found.table.loc[found.chosen, "force_N"], rel=1e-3)
    assert case["wire"]["elements"] == 40


def test_an_impossible_couple_is_said_to_break_the_yield_limit_and_by_how_much(supports):
    _, hooks, _ = outcome = searched(
        supports,
        wish={"couple_gfmm": [280, 320]},
        limits={"yield_ratio": 0.1, "ligament_hydrostatic_kPa": 900},
        field__alloys=[STEEL],
        field__sections=["round_0.020_in", "round_0.018_in"],
        field__spans_mm={"low": 18, "high": 18, "count": 1},
        field__runs={"straight": []},
        field__activation={"couple_gfmm": {"low": 280, "high": 320, "count": 2}},
    )
    report = search_report(*outcome)
    assert report["nearest"]["binding"] == "yield"
    assert report["nearest"]["section"] == "round_0.020_in"
    assert chosen_text(report).startswith("# none of 4 designs keeps all limits")
    # By hand: F = M/|r × e| along the activation e, bending moment m and torque t at the mesial
    # mouth by statics, σ = √(m² + ¾ t²)/W with W = π d³/32 of a round wire (any textbook). At a
    # tenth of yield the end moves by 0.5 mm of 18: its direction turns by 3 %.
    sites = hooks[0].cantilever.sites
    unit = -sites.activation
    force = 280 * N_PER_GF / np.linalg.norm(np.cross(sites.hook - sites.tube_middle, unit))
    moment = sites.tube_axes.T @ np.cross(sites.hook - sites.mouths[1], force * unit)
    stress = np.sqrt(moment[1] ** 2 + moment[2] ** 2 + 0.75 * moment[0] ** 2)
    stress /= np.pi * (0.020 * 25.4) ** 3 / 32
    ratio = stress / load_catalogue().alloys[STEEL].yield_strength_MPa
    least = next(entry for entry in report["limits"] if entry["limit"] == "yield")
    assert least["least_violation"] == pytest.approx(report["nearest"]["yield_ratio"] / 0.1 - 1)
    assert report["nearest"]["yield_ratio"] == pytest.approx(ratio, rel=0.03)
    assert f"breaks yield by {100 * least['least_violation']:.3g} %" in report["said"]
    assert not least["can_be_kept"]
    assert all(entry["can_be_kept"] for entry in report["limits"] if entry["limit"] != "yield")


def test_wires_of_every_combination_are_there_once(small):
    search, hooks, _ = small
    table = wires_of(search, hooks).table
    assert len(table) == 3 * 2 * 3 * 2
    assert not table.duplicated(["alloy", "section", "hook", "run"]).any()


# --- figures -------------------------------------------------------------------------------------


def test_figures_show_the_counts_of_the_table(small, tmp_path):
    _, _, found = small
    table, binding = trade_off_table(found), binding_table(found)
    assert binding["designs"].sum() == len(found.table)
    assert binding["feasible"].sum() == found.table["feasible"].sum() == table["feasible"].sum()
    for name, figure in (
        ("map", trade_off_figure(table, found, "A small search")),
        ("binding", binding_figure(binding, "A small search")),
    ):
        for suffix in ("svg", "png"):
            path = tmp_path / f"{name}.{suffix}"
            save_figure(figure, str(path), title="A search", description="Its designs.")
            assert path.stat().st_size > 10_000
