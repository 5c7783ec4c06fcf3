"""Every case of the project on teeth of made-up stiffness: statics, and what the trade expects.

The stiffness of a tooth is invented (a root of its own length in a uniform bed), since nothing
here depends on it but what is said to.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from fem.engage import engage, engage_for_couple
from geometry.anatomy import tooth_dimensions
from workflow.case import load_case, resolved
from workflow.case_units import case_units
from workflow.checks import balance_checks, twin_units
from workflow.equilibrium import case_setup, engage_case, equilibrium_record
from workflow.figures_loads import loads_on_units
from workflow.plan import teeth_of
from workflow.records import write_json
from workflow.response import unit_record

CASES = Path(__file__).parents[2] / "configs" / "cases"
NAMES = sorted(path.stem for path in CASES.glob("*.yaml"))
FILES = {name: load_case(CASES / f"{name}.yaml") for name in NAMES}
DETERMINATE = [
    name for name, file in FILES.items() if not file.further and file.one_point.contact != "bracket"
]
BED_MPa = 26.0  # lateral force per length and movement: near the supports of the default ligament
GF = 9.80665e-3


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("supports")


def support_file(folder, tooth, factor):
    """A straight root of length h in a bed: ``k h`` across, half along, ``k h³/12`` about."""
    path = folder / f"{tooth}_{factor:g}.json"
    h = tooth_dimensions(tooth).root_length_mm - 1.5
    k = factor * BED_MPa
    tip = k * h**3 / 12
    stiffness = np.diag([k * h, k * h, k * h / 2, tip, tip, k * h * 4.0])
    write_json(path, {"stiffness": stiffness, "point_mm": [0.0, 0.0, -1.5 - h / 2]})
    return path


@cache
def case_of(name):
    return resolved(load_case(CASES / f"{name}.yaml"))


@pytest.fixture(scope="module")
def solved(folder):
    @cache
    def of(name, factor=1.0, offset_mm=None):
        case = case_of(name)
        files = {t: str(support_file(folder, t, factor)) for t in teeth_of(case)}
        units = case_units(case, files)
        if offset_mm is None:
            engaged = engage_case(case, units)
        else:
            engaged = engage(case_setup(case, units), offset_mm)
        record = equilibrium_record(case, units, engaged)
        loads = {
            name: unit_record(case, name, units.supports[name], as_lists(record))
            for name in units.in_order
        }
        return case, record, loads, units

    return of


def as_lists(record):
    """The record as its file would hold it."""
    if isinstance(record, dict):
        return {key: as_lists(value) for key, value in record.items()}
    return record.tolist() if isinstance(record, np.ndarray) else record


def sizes(result):
    """Force at the hook and couple at the tube."""
    case, record, loads, _ = result
    couple = loads[case["two_point"]["unit"]]["moment_at_attachment_Nmm"]
    return np.linalg.norm(record["hook"]["force_N"]), np.linalg.norm(couple)


@pytest.mark.parametrize("name", NAMES)
def test_every_case_balances(solved, name):
    """Sum of loads nothing, from the reported numbers (statics)."""
    case, _, loads, _ = solved(name)
    assert all(check.passed for check in balance_checks(loads, twin_units(case)))


@pytest.mark.parametrize("name", DETERMINATE)
def test_every_one_couple_case_is_determinate(solved, name):
    """Couple = arm × force from the reported numbers (statics)."""
    case, record, loads, _ = solved(name)
    force, couple = sizes((case, record, loads, None))
    arm = np.asarray(record["hook"]["touch_mm"]) - record["tube"]["middle_mm"]
    assert np.linalg.norm(np.cross(arm, record["hook"]["force_N"])) == pytest.approx(
        couple, rel=1e-8
    )
    small = record["wire"]["small_activation"]
    assert small["rod_N_per_mm"] == pytest.approx(small["unit_load_N_per_mm"], rel=1e-3)
    assert force > 0


@pytest.mark.parametrize("name", DETERMINATE)
def test_the_force_at_a_couple_does_not_depend_on_the_ligament(solved, folder, name):
    """Statically determinate: ten times stiffer teeth change the force at the couple by < 1 %.

    At the same activation stiffer teeth get a little more force instead: less of it is taken up.
    """
    base = solved(name)
    force, couple = sizes(base)
    case = case_of(name)
    files = {t: str(support_file(folder, t, 10.0)) for t in teeth_of(case)}
    engaged = engage_for_couple(case_setup(case, case_units(case, files)), couple)
    assert engaged.force_N == pytest.approx(force, rel=0.01)
    stiffer, _ = sizes(solved(name, 10.0, base[1]["offset_mm"]))
    assert force < stiffer


def test_a_longer_arm_gives_the_couple_with_less_force(solved):
    """Force ratio = inverse ratio of the distances (statics)."""
    near, far = solved("lower_molar_uprighting"), solved("lower_molar_hook_forward")
    (force, couple), (less, same) = sizes(near), sizes(far)
    assert same == pytest.approx(couple, rel=1e-6)
    arms = [
        np.linalg.norm((np.asarray(r[1]["hook"]["touch_mm"]) - r[1]["tube"]["middle_mm"])[:2])
        for r in (near, far)
    ]
    assert less / force == pytest.approx(arms[0] / arms[1], rel=0.01)


def test_the_force_follows_the_modulus_of_the_alloy(solved):
    """Ni-Ti < β-titanium < steel at the same activation (common practice, no source)."""
    names = ("nickel_titanium", "beta_titanium", "stainless_steel")
    forces = [sizes(solved(f"lower_molar_alloy_{name}"))[0] for name in names]
    assert forces == sorted(forces)
    rigid = [sizes(solved(f"lower_molar_alloy_{name}", 1e5))[0] for name in names[1:]]
    moduli = [
        case_of(f"lower_molar_alloy_{name}")["wire"]["alloy"]["youngs_modulus_MPa"]
        for name in names[1:]
    ]
    assert rigid[1] / rigid[0] == pytest.approx(moduli[1] / moduli[0], rel=1e-3)


@pytest.mark.parametrize("name", ["helix", "u_loop", "long_wire"])
def test_loops_and_length_ask_for_more_activation(solved, name):
    """The same couple from a softer wire (common practice, no source)."""
    plain, other = solved("lower_molar_uprighting"), solved(f"lower_molar_{name}")
    assert sizes(other)[1] == pytest.approx(sizes(plain)[1], rel=1e-6)
    assert other[1]["offset_mm"] > 1.3 * plain[1]["offset_mm"]


def test_a_thin_wire_deforms_and_a_stiff_one_does_not(solved):
    assert solved("lower_molar_ladder_too_thin")[1]["wire"]["permanent_set_mm"] > 0.01
    ladder = [solved(f"lower_molar_ladder_{step}") for step in ("thin", "middle", "stiff")]
    forces = [sizes(result)[0] / GF for result in ladder]
    low, high = case_of("lower_molar_ladder_thin")["limits"]["force_range_gf"]
    assert forces[0] < low < forces[1] < high < forces[2]


def test_a_second_tooth_in_the_anchor_holds_it_in_the_ratio_of_the_supports(solved):
    """q = K⁻¹ w of molar and of molar and premolar, with the load each gets."""
    alone, joined = solved("upper_canine_out"), solved("upper_canine_out_segment")
    moved = []
    for case, record, _, units in (alone, joined):
        name = case["two_point"]["unit"]
        unit = record["units"][name]
        expected = np.linalg.solve(units.supports[name].centre.stiffness, unit["wrench_at_centre"])
        assert unit["motion_at_centre"] == pytest.approx(expected, rel=1e-6, abs=1e-12)
        moved.append(np.linalg.norm(unit["motion_at_centre"][:3]))
    assert moved[1] < 0.75 * moved[0]


def test_signs_of_what_each_case_is_for(solved):
    """What each appliance is used for (common practice, no source)."""
    expected = {
        "lower_molar_uprighting": ("molar", {"mesial_tip_mrad": -1, "extrusion_um": 1}),
        "lower_canine_and_molar": ("canine", {"extrusion_um": -1}),
        "upper_canine_out": ("canine", {"buccal_um": 1}),
        "upper_canine_high": ("canine", {"extrusion_um": 1}),
        "upper_incisor_intrusion": ("incisors", {"extrusion_um": -1}),
        "upper_molar_rotation": ("molar", {"mesial_in_mrad": -1}),
    }
    for name, (unit, signs) in expected.items():
        _, _, loads, _ = solved(name)
        for component, sign in signs.items():
            assert np.sign(loads[unit]["anatomical"][component]) == sign, (name, component)


def test_two_wires_move_the_incisors_straight_and_load_them_twice(solved):
    """Mirror symmetry: no motion across the midline, the load of both wires on the unit."""
    _, record, loads, _ = solved("upper_incisor_intrusion")
    motion = np.asarray(record["units"]["incisors"]["motion_at_centre"])
    assert np.abs(motion[[0, 4, 5]]).max() < 1e-12
    both = np.asarray(loads["incisors"]["force_N"])
    assert both[1:] == pytest.approx(2 * np.asarray(record["hook"]["force_N"])[1:], rel=1e-12)
    assert both[0] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("name", "determinate"),
    [("lower_molar_one_bracket", True), ("lower_molar_two_brackets", False)],
)
def test_couple_is_arm_times_force_on_a_hook_and_not_in_a_bracket(solved, name, determinate):
    case, record, loads, _ = solved(name)
    _, couple = sizes((case, record, loads, None))
    arm = np.subtract(record["hook"]["touch_mm"], record["tube"]["middle_mm"])
    moment = np.linalg.norm(np.cross(arm, record["hook"]["force_N"]))
    assert (abs(couple / moment - 1) < 1e-8) == determinate
    assert determinate or abs(couple / moment - 1) > 0.1


def test_a_bracket_on_the_way_gives_its_unit_a_couple_and_all_balances(folder):
    name = "upper_front_intrusion"
    case = case_of(name)
    held = [case["further"][0] | {"contact": "bracket"}]
    case = case | {"further": held}
    units = case_units(case, {t: str(support_file(folder, t, 1.0)) for t in teeth_of(case)})
    record = as_lists(equilibrium_record(case, units, engage_case(case, units)))
    loads = {name: unit_record(case, name, units.supports[name], record) for name in units.in_order}
    assert all(check.passed for check in balance_checks(loads, twin_units(case)))
    canine = loads[held[0]["unit"]]
    assert canine["contact"] == "bracket"
    assert np.linalg.norm(canine["moment_at_attachment_Nmm"]) > 0.1
    drawn = {load.unit: load for load in loads_on_units({"units": loads}, record)}
    assert drawn[held[0]["unit"]].couple_Nmm == pytest.approx(
        canine["moment_at_attachment_Nmm"], abs=1e-9
    )
