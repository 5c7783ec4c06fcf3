"""Tables of parameter studies against single cases, and what is kept from one run to the next."""

import copy
import io
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest

from fem.engage import engage
from fem.stress import hydrostatic, volume_statistics
from fem.unit import tooth_motion
from tests.sweeps import SMALL, loaded, make_supports
from workflow.batch_answers import PAST_PLATEAU, PAST_YIELD
from workflow.equilibrium import case_setup, engage_case, equilibrium_record
from workflow.plan import cantilever_sites
from workflow.response import unit_record
from workflow.supports import load_stress_basis
from workflow.sweep_design import design_points
from workflow.sweep_responses import known_responses
from workflow.sweep_runs import make_run
from workflow.sweep_solve import FOLLOWED, in_batch
from workflow.sweep_store import RunStore
from workflow.sweep_table import failures, study_table
from workflow.sweep_units import Supports
from workflow.units import GF_PER_N

ALL = [response.name for response in known_responses([37])]
SPANS = {"name": "set_span_mm", "key": "wire.span_mm", "levels": [18, 24]}
ALLOYS = {
    "name": "alloy",
    "key": "wire.alloy",
    "levels": ["beta_titanium", "stainless_steel", "nickel_titanium_superelastic"],
}
WISHES = {
    "name": "wish",
    "levels": [
        {"label": "couple", "values": {"wire.activation.couple_gfmm": 900}},
        {"label": "force", "values": {"wire.activation.force_gf": 30}},
        {"label": "offset", "values": {"wire.activation.offset_mm": 3}},
        {"label": "far", "values": {"wire.activation.offset_mm": 11}},
    ],
}
CONTACTS = {
    "name": "held",
    "levels": [
        {"label": "bar", "values": {"one_point.contact": "bar"}},
        {"label": "tied", "values": {"one_point.contact": "tied"}},
        {"label": "peg", "values": {"one_point.contact": "peg"}},
        {"label": "pull", "values": {"one_point.contact": "dead_force"}},
        {"label": "rubs", "values": {"one_point.friction": 0.15}},
        {"label": "play", "values": {"two_point.attachment": "tube_0.018x0.025_in"}},
        {
            "label": "bracket",
            "values": {"one_point.contact": "bracket", "one_point.tooth": 34},
        },
    ],
}


class Made:
    """A study on made-up teeth, and its table."""

    def __init__(self, folder, **changes):
        folder.mkdir(exist_ok=True)
        self.study = loaded(folder, **changes)
        self.supports = Supports(make_supports(folder / "supports", self.study))
        self.store = folder / "store"
        self.table = self.again()
        self.rows = self.table.rows

    def again(self, processes=1, progress=None):
        return study_table(self.study, self.supports.folder, self.store, processes, progress)

    def case(self, row):
        return make_run(self.study, design_points(self.study.study)[row]).case


@cache
def alone(made, row):
    """Responses of one run by the stages of a case: engaged, recorded, units and ligaments."""
    case = made.case(row)
    units = made.supports.units(case)
    engaged = engage_case(case, units)
    record = equilibrium_record(case, units, engaged)
    middle = cantilever_sites(case).tube_middle
    force, couple = engaged.force_N, engaged.couple_Nmm(middle)
    ratio = engaged.stress_MPa.max() / case["wire"]["alloy"]["yield_strength_MPa"]
    values = {
        "force_N": force,
        "force_gf": force * GF_PER_N,
        "couple_Nmm": couple,
        "couple_gfmm": couple * GF_PER_N,
        "yield_ratio": ratio,
        "peak_stress_MPa": engaged.stress_MPa.max(),
        "span_mm": record["span_mm"],
        "offset_mm": record["offset_mm"],
        "resistance_mesiodistal_share_37": 0.41,
        "resistance_buccolingual_share_37": 0.43,
    }
    bodies = {
        "target": units.two_point,
        "two_point": units.two_point,
        "anchor": units.one_point,
        "one_point": units.one_point,
    }
    for body, name in bodies.items():
        own = unit_record(case, name, units.supports[name], record)
        values |= {f"{body}_{part}": value for part, value in own["anatomical"].items()}
        values[f"{body}_displacement_um"] = np.linalg.norm(own["displacement_at_resistance_um"])
        values[f"{body}_rotation_mrad"] = np.linalg.norm(own["rotation_mrad"])
        values[f"{body}_moment_to_force_mm"] = own["moment_to_force_mm"]
        low, high = ligaments(made, case, units.supports[name], record["units"][name])
        values |= {f"{body}_ligament_p01_kPa": low, f"{body}_ligament_p99_kPa": high}
    return engaged, values


def ligaments(made, case, unit, record):
    """Percentiles by `fem.stress`, tooth by tooth."""
    ids, found = made.supports.ids(case), []
    for tooth in unit.teeth:
        basis, _ = load_stress_basis(made.supports.file(ids[tooth.number], "stress_basis.npz"))
        motion = tooth_motion(unit, np.asarray(record["motion_at_centre"]), tooth)
        found.append(volume_statistics(hydrostatic(basis.combine(motion)), basis.volumes))
    return 1e3 * min(f.p01 for f in found), 1e3 * max(f.p99 for f in found)


@pytest.fixture(scope="module")
def elastic(tmp_path_factory):
    return Made(tmp_path_factory.mktemp("elastic"), factors=[SPANS, ALLOYS, WISHES], responses=ALL)


@pytest.fixture(scope="module")
def held(tmp_path_factory):
    offset = {"wire.activation.offset_mm": 2}
    return Made(tmp_path_factory.mktemp("held"), factors=[CONTACTS], fixed=offset, responses=ALL)


def test_a_table_has_the_numbers_of_single_cases(elastic):
    """Elastic runs: every response but the rate, by the stages of a case, to 1e-6."""
    compared = 0
    for row, found in elastic.rows.iterrows():
        if found["note"]:
            continue
        assert in_batch(elastic.case(row))
        _, values = alone(elastic, row)
        for name, value in values.items():
            assert found[name] == pytest.approx(value, rel=1e-6, abs=1e-9), (row, name)
        compared += 1
    assert compared >= 12


def test_wishes_are_met(elastic):
    rows = elastic.rows[elastic.rows["note"] == ""]
    couples = rows.loc[rows["wish"] == "couple", "couple_gfmm"]
    forces = rows.loc[rows["wish"] == "force", "force_gf"]
    assert len(couples) >= 4
    assert len(forces) >= 4
    assert couples.to_numpy() == pytest.approx(900, rel=1e-9)
    assert forces.to_numpy() == pytest.approx(30, rel=1e-9)


def test_past_the_limit_is_said(elastic):
    """A single case follows such wires past their limit: only then do the two differ."""
    for row, found in elastic.rows.iterrows():
        engaged, _ = alone(elastic, row)
        assert (engaged.past_limit is not None) == (found["note"] in (PAST_YIELD, PAST_PLATEAU))
    steel = elastic.rows[elastic.rows["note"] == PAST_YIELD]
    transformed = elastic.rows[elastic.rows["note"] == PAST_PLATEAU]
    assert len(steel) > 0
    assert len(transformed) > 0
    assert (steel["yield_ratio"] > 1).all()
    assert steel["force_N"].notna().all()
    assert transformed["force_N"].isna().all()
    assert elastic.table.failed == 0


def test_rates_are_slopes_of_the_wire_as_bent(elastic, held):
    """By single equilibria; the difference over a twentieth makes 1e-6 of a force 2e-5 of it."""
    for made, rows in ((elastic, (0, 1, 2, 6)), (held, range(7))):
        for row in rows:
            found = made.rows.loc[row]
            assert found["rate_N_per_mm"] == pytest.approx(slope(made, row), rel=2e-5), row


def slope(made, row):
    case = made.case(row)
    setup = case_setup(case, made.supports.units(case))
    offset, force = made.rows.loc[row, ["offset_mm", "force_N"]]
    sites = setup.cantilever.sites
    near = sites.moved_hook(-0.05 * offset * sites.activation)
    less = engage(
        replace(setup, cantilever=replace(setup.cantilever, sites=near)), 0.95 * float(offset)
    )
    return (force - less.force_N) / (0.05 * offset)


def test_wires_that_no_batch_can_solve_are_engaged_alone(held):
    rows = held.rows.set_index("held")
    assert [in_batch(held.case(row)) for row in range(len(rows))] == [True, True] + 5 * [False]
    assert rows["note"].tolist() == [""] * 6 + [FOLLOWED]  # two brackets bend it more than a hook
    for row in range(len(rows)):
        _, values = alone(held, row)
        for name, value in values.items():
            assert held.rows.loc[row, name] == pytest.approx(value, rel=1e-6, abs=1e-9), name
    assert rows["force_N"].nunique() >= 5


def test_what_fails_stays_as_a_row_with_its_reason(tmp_path):
    """Off the segment, a refused value, out of reach: three reasons, and one run that is solved."""
    spans = {"name": "set_span_mm", "key": "wire.span_mm", "levels": [20, 60]}
    teeth = {
        "name": "anchor",
        "levels": [
            {"label": "three", "values": {"units.segment.teeth": [35, 34, 33]}},
            {"label": "repeated", "values": {"units.segment.teeth": [35, 35]}},
        ],
    }
    couples = {"name": "c_gfmm", "key": "wire.activation.couple_gfmm", "levels": [900, 9000]}
    made = Made(tmp_path / "failing", factors=[spans, teeth, couples])
    notes = made.rows["note"].tolist()
    assert notes[0] == ""
    assert notes[1] == "no activation up to the span gives the couple"
    assert all("tooth 35 is written 2 times; keep one" in note for note in (notes[2], notes[3]))
    assert all("mm" in note for note in notes[4:6])
    assert made.table.failed == 7
    assert failures(made.rows).tolist() == [False] + 7 * [True]
    assert made.rows.loc[1:, ["force_N", "couple_Nmm"]].isna().all().all()
    assert made.rows["run"].nunique() == 8


def test_only_new_runs_are_computed(tmp_path):
    """6 runs; the same again; 8 with a fourth span; none anew after a name is changed."""
    folder = tmp_path / "grows"
    made = Made(folder)
    assert (made.table.kept, made.table.computed) == (0, 6)
    same = made.again()
    assert (same.kept, same.computed) == (6, 0)
    pd.testing.assert_frame_equal(same.rows, made.rows)
    factors = copy.deepcopy(SMALL["factors"])
    factors[1] = {"name": "set_span_mm", "key": "wire.span_mm", "levels": [18, 20, 21, 24]}
    more = Made(folder, factors=factors)
    assert (more.table.kept, more.table.computed) == (6, 2)
    shared = made.rows.merge(more.rows, on="run")
    assert len(shared) == 6
    assert shared["force_N_x"].equals(shared["force_N_y"])
    factors[0]["name"] = "metal"
    assert Made(folder, factors=factors).table.computed == 0


def test_other_responses_supports_or_code_are_computed_anew(tmp_path, monkeypatch):
    folder = tmp_path / "changes"
    made = Made(folder)
    wider = Made(folder, responses=["force_N", "couple_Nmm", "yield_ratio"])
    assert wider.table.computed == 6
    assert made.again().computed == 0
    (record,) = made.supports.folder.glob(f"{made.supports.ids(made.case(0))[37]}/support.json")
    record.write_text(record.read_text("utf-8").replace("0.41", "0.42"), encoding="utf-8")
    assert made.again().computed == 6
    monkeypatch.setattr("workflow.sweep_table.computing_code", lambda: "another")
    assert made.again().computed == 6


def test_a_damaged_chunk_is_named_and_computed_again(tmp_path, capsys):
    made = Made(tmp_path / "cut")
    (chunk,) = made.store.glob("*.parquet")
    whole = chunk.read_bytes()
    chunk.write_bytes(whole[: len(whole) // 2])
    (made.store / "left.parquet.part").write_bytes(whole[:100])
    capsys.readouterr()
    again = made.again()
    said = capsys.readouterr().out
    assert f"{chunk.name}: damaged" in said
    assert "left.parquet.part: a chunk that was not finished" in said
    assert (again.kept, again.computed) == (0, 6)
    pd.testing.assert_frame_equal(again.rows, made.rows)
    assert made.again().kept == 6


def test_a_kill_loses_the_running_chunk_alone(tmp_path, monkeypatch):
    """Three chunks of two; the third is killed; two are kept, the third is computed next time."""
    made = Made(tmp_path / "killed")
    monkeypatch.setattr("workflow.sweep_table._CHUNK", 2)
    for chunk in made.store.glob("*.parquet"):
        chunk.unlink()
    add, added = RunStore.add, []

    def killed(self, rows):
        if len(added) == 2:
            raise KeyboardInterrupt
        added.append(len(rows))
        add(self, rows)

    monkeypatch.setattr(RunStore, "add", killed)
    with pytest.raises(KeyboardInterrupt):
        made.again()
    assert added == [2, 2]
    monkeypatch.setattr(RunStore, "add", add)
    resumed = made.again()
    assert (resumed.kept, resumed.computed) == (4, 2)
    pd.testing.assert_frame_equal(resumed.rows, made.rows)


def test_processes_give_the_same_table_and_say_how_far_they_are(tmp_path, monkeypatch):
    made = Made(tmp_path / "one")
    monkeypatch.setattr("workflow.sweep_table._CHUNK", 2)
    for chunk in made.store.glob("*.parquet"):
        chunk.unlink()
    said = io.StringIO()
    two = made.again(processes=2, progress=said)
    assert two.computed == 6
    pd.testing.assert_frame_equal(two.rows, made.rows)
    lines = said.getvalue().splitlines()
    assert len(lines) == 3
    assert lines[-1].startswith("6 of 6 runs")
    assert all(line.endswith("s to go") for line in lines)


def test_repeated_points_are_one_run(tmp_path):
    design = {"latin_hypercube": {"runs": 20, "seed": 1}}
    made = Made(tmp_path / "sampled", design=design)
    assert len(made.rows) == 20
    assert made.table.computed == made.rows["run"].nunique() == 6
    assert made.rows["force_N"].notna().all()
