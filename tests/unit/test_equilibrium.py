"""Records of an engaged case: what the sheet reads of play, friction, yield and a moving unit."""

import copy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from fem.engage import Engaged
from fem.unit import ToothSupport, join_teeth
from workflow.case import resolved, validate_case
from workflow.case_units import CaseUnits, case_units
from workflow.cautions import warnings
from workflow.equilibrium import engage_case, equilibrium_record, wire_table
from workflow.plan import cantilever_sites, frames
from workflow.records import write_json
from workflow.sheet_wire import contact_sentences, shape_text
from workflow.sheet_wire import wire_table as sheet_table
from workflow.specs import Spec

GOOD = Path(__file__).resolve().parents[2] / "configs" / "cases" / "lower_molar_uprighting.yaml"
SUPPORT = np.diag([200.0, 200.0, 100.0, 3000.0, 3000.0, 800.0])  # in tooth axes, N/mm and N·mm
TUBE = "tube_0.022x0.028_in"


def case_of(wire: Any = None, one_point: Any = None, two_point: Any = None) -> Spec:
    """The good case, activated by 4 mm, with some values changed."""
    data = copy.deepcopy(yaml.safe_load(GOOD.read_text(encoding="utf-8")))
    data["wire"] |= {"activation": {"offset_mm": 4.0}} | (wire or {})
    data["one_point"] |= one_point or {}
    data["two_point"] |= two_point or {}
    return resolved(validate_case(data, "x.yaml", GOOD.stem))


def units_of(case: Spec) -> CaseUnits:
    """Every tooth on the same support, 5 mm below its cervix."""
    placed = frames(case)
    names = case["two_point"]["unit"], case["one_point"]["unit"]
    supports = {
        name: join_teeth(
            tuple(
                ToothSupport(tooth, placed[tooth], np.array([0.0, 0.0, -5.0]), SUPPORT)
                for tooth in case["units"][name]["teeth"]
            )
        )
        for name in names
    }
    return CaseUnits(*names, supports)


def solved(case: Spec) -> tuple[Engaged, dict[str, Any]]:
    units = units_of(case)
    engaged = engage_case(case, units)
    return engaged, equilibrium_record(case, units, engaged)


def sheet_rows(case: Spec, record: dict[str, Any]) -> dict[str, str]:
    """First two columns of the sheet's table of the wire."""
    wire = record["wire"]
    summary = {
        "wire": {key: wire[key] for key in ("linear_theory", "linear_as_bent", "peak_stress_MPa")}
        | {key: wire[key] for key in ("yield_ratio", "permanent_set_mm")}
        | {key: record[key] for key in ("play", "friction")}
        | {"force_N": record["hook"]["force_N"], "couple_Nmm": [0, 0, 12.0], "length_mm": 20.0}
    }
    return {row[0]: row[1] for row in sheet_table(case, summary).rows}


def told(case: Spec, record: dict[str, Any]) -> str:
    """Warnings of the wire alone."""
    rod = {"spec": {"span_mm": 20.0}, "curve": {"offset_mm": [0.0, 10.0]}}
    force = {"force_N": [0.0, 0.0, 0.4], "ligament": {}, "peak_strain": {"all": 0.075}}
    units = {case["one_point"]["unit"]: force}
    return " ".join(warnings(case, record, {"units": units, "wire_inside_teeth": []}, rod, []))


def test_a_joined_unit_holds_the_wire_in_one_of_its_brackets(tmp_path: Path) -> None:
    """Its support is felt at the middle of that bracket, where the joining wire lies too.

    As stiff as its teeth allow: softer than they are as one body, stiffer than that tooth alone.
    """
    record = tmp_path / "support.json"
    write_json(record, {"stiffness": SUPPORT, "point_mm": [0.0, 0.0, -5.0]})
    wire = {"alloy": "stainless_steel", "section": "rectangular_0.018x0.025_in"}

    def compliance(joined_by: Any) -> float:
        one = {"unit": "segment", "contact": "bracket", "tooth": 34, "bracket_width_mm": 3.0}
        data = copy.deepcopy(yaml.safe_load(GOOD.read_text(encoding="utf-8")))
        data["units"]["segment"] = {"teeth": [33, 34], "role": "anchor", "joined_by": joined_by}
        data |= {"one_point": one}
        case = resolved(validate_case(data, "x.yaml", GOOD.stem))
        files = {tooth: str(record) for unit in case["units"].values() for tooth in unit["teeth"]}
        centre = case_units(case, files).supports["segment"].centre
        bracket = cantilever_sites(case).bracket
        assert bracket is not None
        push = np.concatenate([np.eye(3)[1], np.cross(bracket.middle - centre.point, np.eye(3)[1])])
        return float(push @ np.linalg.solve(centre.stiffness, push))

    as_one, joined = compliance(None), compliance(wire)
    assert as_one < joined < 2.5 * as_one


def test_plain_case_balances_and_has_nothing_of_the_rest() -> None:
    """Loads on both units sum to nothing (statics); each support bears its load, K q = W."""
    case = case_of()
    _, record = solved(case)
    assert record["play"] is record["friction"] is record["past_limit"] is None
    assert record["wire"]["permanent_set_mm"] == 0.0
    forces = [np.asarray(unit["wrench_at_centre"])[:3] for unit in record["units"].values()]
    assert np.abs(sum(forces)).max() < 1e-8 * np.linalg.norm(forces[0])
    moments = [
        np.asarray(unit["wrench_at_centre"])[3:]
        + np.cross(unit["centre_mm"], np.asarray(unit["wrench_at_centre"])[:3])
        for unit in record["units"].values()
    ]
    assert np.abs(sum(moments)).max() < 1e-8 * np.linalg.norm(moments[0])
    for name, support in units_of(case).supports.items():
        borne = support.centre.stiffness @ record["units"][name]["motion_at_centre"]
        assert borne == pytest.approx(record["units"][name]["wrench_at_centre"], abs=1e-7)
    assert [c["unit"] for c in record["contacts"]] == ["molar", "molar", "segment"]
    assert "Permanent set" in sheet_rows(case, record)


def test_small_activation_of_the_rod_is_that_of_unit_loads() -> None:
    """Two ways to one rate: rod with finite rotations, and Castigliano on the wire as bent."""
    small = solved(case_of())[1]["wire"]["small_activation"]
    assert small["rod_N_per_mm"] == pytest.approx(small["unit_load_N_per_mm"], rel=1e-3)


def test_play_is_recorded_as_the_sheet_says_it() -> None:
    """Wire of 0.017 × 0.025 in a slot of 0.022 × 0.028 in: (H − h)/b, and torsion by hand.

    The depth of the slot stops torsion first: 0.017 sin θ + 0.025 cos θ = 0.028.
    """
    case = case_of(two_point={"attachment": TUBE})
    engaged, record = solved(case)
    play, length = record["play"], case["two_point"]["tube_length_mm"]
    assert play["height_mm"] == pytest.approx(0.005 * 25.4)
    assert play["width_mm"] == pytest.approx(0.003 * 25.4)
    assert play["height_deg"] == pytest.approx(np.degrees(0.127 / length), rel=1e-2)
    theta = np.radians(play["torsion_deg"])
    assert 0.017 * np.sin(theta) + 0.025 * np.cos(theta) == pytest.approx(0.028, rel=1e-9)
    assert play["closings_mm"] == sorted(play["closings_mm"])
    assert play["first_contact_mm"] == play["closings_mm"][0] > 0
    rows = sheet_rows(case, record)
    assert "torsion 12.1°" in rows["Play in the tube, to each side"]
    assert f"{play['closings_mm'][0]:.2g}" in rows["Walls reached at an activation of"]
    assert "held at the walls it reaches" in contact_sentences(case, record)[0]
    assert [c["unit"] for c in record["contacts"]] == ["molar", "molar", "segment"]
    assert engaged.force_N < solved(case_of())[0].force_N


def test_a_wire_loose_in_its_tube_is_warned_of() -> None:
    case = case_of({"activation": {"offset_mm": 0.02}}, two_point={"attachment": TUBE})
    _, record = solved(case)
    assert record["play"]["first_contact_mm"] is None
    assert record["play"]["closings_mm"] == []
    assert "wire loose in its tube" in told(case, record)


@pytest.mark.parametrize("contact", ["bar", "peg"])
def test_friction_is_recorded_both_ways(contact: str) -> None:
    """The couple without friction lies between those activating and letting back (Coulomb)."""
    case = case_of(one_point={"contact": contact, "friction": 0.15})
    engaged, record = solved(case)
    friction = record["friction"]
    assert (friction["coefficient"], friction["computed"], friction["sticks"]) == (
        0.15,
        True,
        False,
    )
    bounds = [friction[way]["couple_Nmm"] for way in ("activating", "letting_back")]
    free = engaged.couple_Nmm(cantilever_sites(case).tube_middle)
    assert min(bounds) < free < max(bounds)
    rows = sheet_rows(case, record)
    shown = rows["With friction, activating"]
    assert f"{friction['activating']['couple_Nmm']:#.3g} N·mm" in shown
    assert "friction of 0.15" in contact_sentences(case, record)[0]


def test_a_wire_that_yields_keeps_its_set_in_the_record() -> None:
    """Its end at rest is that set away from where it was bent to, less what slides in the tube."""
    thin = {"section": "round_0.014_in", "activation": {"offset_mm": 9.0, "trial_share": 1.2}}
    case = case_of(thin | {"alloy": "stainless_steel"})
    engaged, record = solved(case)
    past = record["past_limit"]
    assert past["trial_share"] == 1.2
    assert past["trial_force_N"] > engaged.force_N
    ends = np.asarray(past["resting_mm"])[-1] - np.asarray(record["wire"]["passive_mm"])[-1]
    assert np.linalg.norm(ends) == pytest.approx(past["set_mm"], rel=1e-9)
    assert record["wire"]["permanent_set_mm"] == past["set_mm"] > 0.05
    assert "mm at the wire's end" in sheet_rows(case, record)["Permanent set"]
    assert "wire deforms: it yields and keeps a set" in told(case, record)
    assert "past the elastic limit" in contact_sentences(case, record)[1]


def test_taken_as_elastic_its_set_is_unknown() -> None:
    thin = {"section": "round_0.014_in", "activation": {"offset_mm": 9.0}, "inelastic": False}
    case = case_of(thin | {"alloy": "stainless_steel"})
    _, record = solved(case)
    assert record["past_limit"] is None
    assert record["wire"]["permanent_set_mm"] is None
    assert sheet_rows(case, record)["Permanent set"] == "unknown above yield"
    assert "yield exceeded" in told(case, record)


def test_friction_past_the_limit_is_said_to_be_left_out() -> None:
    thin = {"section": "round_0.014_in", "activation": {"offset_mm": 9.0}}
    case = case_of(thin | {"alloy": "stainless_steel"}, one_point={"friction": 0.1})
    _, record = solved(case)
    assert record["friction"] == {"coefficient": 0.1, "computed": False}
    assert "friction left out" in told(case, record)
    assert "With friction, activating" not in sheet_rows(case, record)


def test_wanted_force_is_what_the_hook_gets() -> None:
    """1 gf = 9.80665e-3 N by definition."""
    _, record = solved(case_of({"activation": {"force_gf": 30}}))
    assert np.linalg.norm(record["hook"]["force_N"]) == pytest.approx(30 * 9.80665e-3, rel=1e-8)


def test_shape_and_nodes_of_a_wire_with_loops() -> None:
    run = [{"straight_mm": 4}, {"u_loop": {"height_mm": 4, "width_mm": 2}}]
    case = case_of({"run": run})
    _, record = solved(case)
    text = shape_text(record)
    assert text.startswith("bend at the tube (")
    assert ", straight run (4 mm), U loop (4 mm high, 2 wide" in text.replace("4.00 mm", "4 mm")
    table = wire_table(record)
    steps = np.linalg.norm(np.diff(table[[f"passive_{a}_mm" for a in "xyz"]], axis=0), axis=1)
    assert (steps <= np.diff(table["arc_mm"]) * (1 + 1e-9)).all()  # a chord is shorter than its arc
    assert record["wire"]["linear_as_bent"]["force_N"] < record["wire"]["linear_theory"]["force_N"]
