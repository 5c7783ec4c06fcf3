"""Case files: the good one loads, every bad one is refused with all its problems at once."""

import copy
import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.campaigns.mutate import places
from workflow.case import CaseError, load_case, resolved, validate_case
from workflow.case_parts import arch_order

CASES = Path(__file__).resolve().parents[2] / "configs" / "cases"
GOOD = CASES / "lower_molar_uprighting.yaml"
REMOVE = object()


def changed(**values: Any) -> dict[str, Any]:
    """The good case with some values changed; ``wire__span_mm=3`` sets ``wire.span_mm``."""
    data = copy.deepcopy(yaml.safe_load(GOOD.read_text(encoding="utf-8")))
    for path, value in values.items():
        *parents, last = path.split("__")
        place = data
        for key in parents:
            place = place.setdefault(key, {})
        if value is REMOVE:
            del place[last]
        else:
            place[last] = value
    return data


def complaint(data: dict[str, Any]) -> str:
    with pytest.raises(CaseError) as caught:
        validate_case(data, "x.yaml", GOOD.stem)
    return str(caught.value)


@pytest.mark.parametrize("path", sorted(CASES.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_case_of_the_project_loads(path: Path) -> None:
    assert load_case(path).case == path.stem


def test_the_good_case_keeps_what_is_written() -> None:
    case = load_case(GOOD)
    assert case.units["segment"].teeth == (35, 34, 33)
    assert case.teeth[37].mesial_tip_deg == 25
    assert case.one_point.between == (34, 35)
    # 1200 gf·mm = 1200 × 9.80665e-3 N·mm, standard gravity by definition
    assert case.wire.activation.wanted_couple_Nmm == pytest.approx(11.76798, rel=1e-12)


def test_a_case_cannot_be_changed_after_reading() -> None:
    with pytest.raises(ValueError, match="frozen"):
        load_case(GOOD).wire.elements = 3  # type: ignore[misc]


def test_resolved_survives_json_and_holds_the_catalogue_rows() -> None:
    plain = resolved(load_case(GOOD))
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    assert plain["wire"]["alloy"]["youngs_modulus_MPa"] == 65000
    # one inch is 25.4 mm exactly: 0.017 in × 0.025 in
    assert plain["wire"]["section"]["height_mm"] == pytest.approx(0.4318, abs=1e-12)
    assert plain["wire"]["section"]["width_mm"] == pytest.approx(0.635, abs=1e-12)
    assert plain["ligament"]["youngs_modulus_MPa"] == 0.28
    assert plain["teeth"]["37"]["mesial_tip_deg"] == 25.0
    assert plain["teeth"]["33"]["mesial_tip_deg"] == 0.0
    assert plain["teeth"]["33"]["crest_depth_mm"] == plain["bone"]["crest_depth_mm"] == 1.5


def test_resolved_is_alike_for_alike_cases() -> None:
    """Runs are named by a hash of it: 1 and 1.0, or gf·mm and N·mm, must not make two runs."""
    whole, real = changed(bone__crest_depth_mm=1), changed(bone__crest_depth_mm=1.0)
    in_gf = changed(wire__activation={"couple_gfmm": 1000})
    in_newton = changed(wire__activation={"couple_Nmm": 9.80665})
    for one, other in [(whole, real), (in_gf, in_newton)]:
        texts = {json.dumps(resolved(validate_case(data, "x.yaml"))) for data in (one, other)}
        assert len(texts) == 1


def test_own_ligament_values_replace_those_of_the_law_and_say_so() -> None:
    ligament = resolved(validate_case(changed(ligament={"poisson_ratio": 0.45}), "x"))["ligament"]
    assert (ligament["youngs_modulus_MPa"], ligament["poisson_ratio"]) == (0.28, 0.45)
    assert "poisson_ratio set in the case" in ligament["source"]


SIDES = {"mesial_mm": 2, "distal_mm": 2, "buccal_mm": 2, "lingual_mm": 2}
BAD_VALUES: dict[str, tuple[dict[str, Any], list[str]]] = {
    "misspelt key": (
        {"wire__spna_mm": 12},
        ["x.yaml: wire.spna_mm = 12: unknown key; did you mean span_mm?"],
    ),
    "misspelt section": ({"wrie": 3}, ["wrie = 3: unknown key; did you mean wire?"]),
    "unit in the value": (
        {"wire__span_mm": "8 mm"},
        ["wire.span_mm = '8 mm': the key already carries the unit; write 8"],
    ),
    "other unit in the value": (
        {"wire__span_mm": "0.8 cm"},
        ["wire.span_mm = '0.8 cm'", "carries the unit mm; write the value in mm"],
    ),
    "unit of a count": ({"ligament__layers": "2 layers"}, ["must be a plain number; write 2"]),
    "number in quotes": ({"wire__span_mm": "8"}, ["write 8 without quotes"]),
    "negative span": (
        {"wire__span_mm": -12},
        ["wire.span_mm = -12: out of range; must be more than 0 and at most 80 mm"],
    ),
    "not a number": ({"wire__span_mm": float("nan")}, ["wire.span_mm = nan", "finite number"]),
    "infinite": ({"wire__span_mm": float("inf")}, ["wire.span_mm = inf", "finite number"]),
    "truth for a number": ({"wire__elements": True}, ["wire.elements = True: must be a number"]),
    "half an element": ({"wire__elements": 80.5}, ["wire.elements = 80.5: must be a whole number"]),
    "hook on a missing tooth": (
        {"one_point__between": [35, 36]},
        ["one_point.between = 36: the hook is on a missing tooth; use one of 35, 34, 33"],
    ),
    "hook on a tooth of another unit": (
        {"one_point__between": [35, 37]},
        ["one_point.between = 37: tooth 37 is not in the unit; use one of 35, 34, 33"],
    ),
    "hook between teeth that are no neighbours": (
        {"one_point__between": [33, 35]},
        ["one_point.between = [33, 35]: must be two neighbouring teeth"],
    ),
    "hook at a tooth of another unit": (
        {"one_point__between": None, "one_point__tooth": 37},
        ["one_point.tooth = 37: tooth 37 is not in the unit"],
    ),
    "hook at two places": (
        {"one_point__tooth": 34},
        ["one_point.tooth = 34: give either between or tooth, not both"],
    ),
    "hook nowhere": ({"one_point__between": None}, ["one_point.between: missing", "wire.span_mm"]),
    "hook on the unit of the tube": (
        {"one_point__unit": "molar"},
        ["one_point.unit = 'molar': is the two_point unit too"],
    ),
    "tube on a tooth of another unit": (
        {"two_point__tooth": 35},
        ["two_point.tooth = 35: tooth 35 is not in the unit; use one of 37"],
    ),
    "tube on a missing tooth": (
        {"two_point__tooth": 36},
        ["two_point.tooth = 36: the tube is on a missing tooth"],
    ),
    "unknown unit": (
        {"two_point__unit": "mollar"},
        ["two_point.unit = 'mollar': no such unit; did you mean molar?"],
    ),
    "unknown alloy": (
        {"wire__alloy": "beta_titanum"},
        ["wire.alloy = 'beta_titanum'", "alloys.yaml; did you mean beta_titanium?"],
    ),
    "unknown section": (
        {"wire__section": "rectangular_0.17x0.25_in"},
        ["sections.yaml; did you mean rectangular_0.017x0.025_in?"],
    ),
    "unknown ligament": (
        {"ligament__law": "poppe_2002_stif"},
        ["ligaments.yaml; did you mean poppe_2002_stiff?"],
    ),
    "no ISO 3950 number": (
        {"two_point__tooth": 59},
        ["two_point.tooth = 59: not an ISO 3950 number", "as 37 for the lower left second molar"],
    ),
    "no ISO 3950 number as a key": ({"teeth": {49: {}}}, ["x.yaml: teeth.49: not an ISO 3950"]),
    "no ISO 3950 number in a unit": (
        {"units__molar__teeth": ["LL7"]},
        ["units.molar.teeth[0] = 'LL7': not an ISO 3950 number"],
    ),
    "tooth missing and used": (
        {"missing": [36, 35]},
        ["units.segment.teeth: tooth 35 is in missing as well; drop it from one"],
    ),
    "tooth in two units": (
        {"units__molar__teeth": [37, 35]},
        ["units.segment.teeth: tooth 35 also belongs to units.molar; keep one"],
    ),
    "tooth twice in a unit": ({"units__molar__teeth": [37, 37]}, ["tooth 37 is written 2 times"]),
    "position of a tooth in no unit": ({"teeth": {36: {}}}, ["teeth.36: tooth 36 is in no unit"]),
    "teeth of both jaws": (
        {"units__molar__teeth": [27], "two_point__tooth": 27},
        ["units: teeth of both jaws (27, 35, 34, 33); one appliance lies in one jaw"],
    ),
    "tooth without dimensions": (
        {"units__molar__teeth": [37, 38]},
        ["units.molar.teeth: tooth 38 has no shape", "33"],
    ),
    "unknown dimension": (
        {"teeth__37": {"dimensions": {"root_lenght_mm": 12}}},
        ["teeth.37.dimensions: tooth 37: dimension 'root_lenght_mm' is unknown", "root_length_mm"],
    ),
    "dimension beyond sense": (
        {"teeth__37": {"dimensions": {"root_length_mm": 60}}},
        ["teeth.37.dimensions: tooth 37: dimension 'root_length_mm' is 60; it must lie from 4"],
    ),
    "dimension with a unit": (
        {"teeth__37": {"dimensions": {"root_length_mm": "12 mm"}}},
        ["teeth.37.dimensions.root_length_mm = '12 mm'", "write 12"],
    ),
    "number of roots that a tooth has not": (
        {"teeth__34": {"roots": 2}},
        ["teeth.34.roots = 2: tooth number 34: roots is 2; choose 1"],
    ),
    "two crests": (
        {"teeth__37": {"crest_depth_mm": 2, "crest_by_side_mm": SIDES}},
        ["teeth.37: give one crest; found crest_depth_mm and crest_by_side_mm"],
    ),
    "scan that is not there": (
        {"teeth__37": {"scan": {"file": "nowhere.stl"}}},
        ["teeth.37.scan.file = 'nowhere.stl': no such file", "the workflow is run"],
    ),
    "scan and dimensions": (
        {"teeth__37": {"scan": {"file": "x.stl"}, "dimensions": {"root_length_mm": 12}}},
        ["teeth.37: a scan has its own shape; drop dimensions and roots, or drop scan"],
    ),
    "scan in place beside teeth on the arch": (
        {"teeth__37": {"scan": {"file": str(GOOD), "placed": "as_scanned"}}},
        ["teeth.37.scan.placed = 'as_scanned': as_scanned needs scans of all teeth", "35, 34, 33"],
    ),
    "scan with two crests": (
        {"teeth__37": {"crest_depth_mm": 2, "scan": {"file": "x.stl", "crest_line": "c.csv"}}},
        ["teeth.37: give one crest; found crest_depth_mm and scan.crest_line"],
    ),
    "direction of two numbers": (
        {"teeth__37": {"scan": {"file": "x.stl", "buccal": [1, 0]}}},
        ["teeth.37.scan.buccal[2]: missing"],
    ),
    "crest below the roots": (
        {"bone": {"crest_depth_mm": 15}},
        ["bone.crest_depth_mm = 15.0: leaves less than 1.5 mm of the shortest root of tooth 37"],
    ),
    "crest of a tooth below its root": (
        {"teeth__37": {"crest_by_side_mm": SIDES | {"distal_mm": 12}}},
        ["teeth.37.crest_by_side_mm.distal_mm = 12.0: leaves less than 1.5 mm"],
    ),
    "crest at three sides": (
        {"teeth__37": {"crest_by_side_mm": {"mesial_mm": 2, "distal_mm": 2, "buccal_mm": 2}}},
        ["teeth.37.crest_by_side_mm.lingual_mm: missing; add it"],
    ),
    "profile of two": (
        {"ligament": {"profile_mm": [0.2, 0.15]}},
        ["ligament.profile_mm[2]: missing"],
    ),
    "three units": (
        {"units__more": {"teeth": [47], "role": "anchor"}},
        ["units: holds 3; a one-couple appliance joins exactly two units"],
    ),
    "no target": ({"units__molar__role": "anchor"}, ["units: no unit is a target"]),
    "unknown role": ({"units__molar__role": "targte"}, ["did you mean target?"]),
    "no activation": ({"wire__activation": {}}, ["wire.activation: give exactly one of", "none"]),
    "two activations": (
        {"wire__activation__offset_mm": 8},
        ["wire.activation: give exactly one of", "offset_mm and couple_gfmm"],
    ),
    "required key missing": ({"wire__alloy": REMOVE}, ["x.yaml: wire.alloy: missing; add it"]),
    "empty part": ({"bone": None}, ["bone = (empty): is empty; drop it", "crest_depth_mm"]),
    "value for a part": ({"bone": 3}, ["bone = 3: must hold keys with values"]),
    "value for a list": ({"units__molar__teeth": 37}, ["must be a list; write it in brackets"]),
    "force range upside down": (
        {"limits": {"force_range_gf": [75, 15]}},
        ["force_range_gf must rise from lowest to highest; found 75, 15"],
    ),
    "force range of three": ({"limits": {"force_range_gf": [1, 2, 3]}}, ["must hold at most 2"]),
    "other name than the file": (
        {"case": "other"},
        ["case = 'other': must equal the file name; write lower_molar_uprighting or rename"],
    ),
    "name that makes no file name": ({"case": "../x"}, ["case = '../x': use small letters"]),
    "later version": ({"schema_version": 2}, ["schema_version = 2: not allowed; known: 1"]),
}


@pytest.mark.parametrize(("change", "fragments"), BAD_VALUES.values(), ids=BAD_VALUES.keys())
def test_bad_value(change: dict[str, Any], fragments: list[str]) -> None:
    text = complaint(changed(**change))
    for fragment in fragments:
        assert fragment in text
    assert all(line.startswith("x.yaml: ") for line in text.splitlines())


@pytest.mark.parametrize(
    "name", ["misspelt key", "unit in the value", "unknown alloy", "no target", "unknown role"]
)
def test_one_mistake_makes_one_line(name: str) -> None:
    assert len(complaint(changed(**BAD_VALUES[name][0])).splitlines()) == 1


def test_all_problems_are_reported_at_once() -> None:
    """Also those between parts, beside unknown keys and wrong values in the same parts."""
    data = changed(
        wire__spna_mm=12,
        wire__alloy="steel",
        units__molar__role="targte",
        two_point__tube_length_mm="4 mm",
        two_point__tooth=35,
        one_point__between=[35, 36],
        case="other",
    )
    keys = [line.split(": ")[1].split(" = ")[0] for line in complaint(data).splitlines()]
    assert sorted(keys) == sorted(
        [
            "case",
            "one_point.between",
            "two_point.tooth",
            "two_point.tube_length_mm",
            "units.molar.role",
            "wire.alloy",
            "wire.spna_mm",
        ]
    )


def test_a_given_span_needs_no_pair_of_teeth() -> None:
    case = validate_case(changed(wire__span_mm=20, one_point__between=REMOVE), "x.yaml")
    assert (case.wire.span_mm, case.one_point.between) == (20, None)


def test_a_hook_over_a_gap_lies_between_neighbours() -> None:
    data = changed(missing=[34, 36], units__segment__teeth=[35, 33], one_point__between=[33, 35])
    assert validate_case(data, "x.yaml").one_point.between == (33, 35)


@pytest.mark.parametrize(
    ("tooth", "place"),
    [(18, 1), (11, 8), (21, 9), (28, 16), (48, 1), (41, 8), (31, 9), (38, 16)],
)
def test_arch_order_follows_iso_3950(tooth: int, place: int) -> None:
    """ISO 3950: quadrants 1 upper right, 2 upper left, 3 lower left, 4 lower right."""
    assert arch_order(tooth) == ("upper" if tooth < 30 else "lower", place)


def refusal(data: dict[str, Any]) -> str:
    try:
        validate_case(data, "x.yaml")
    except CaseError as error:
        return str(error)
    return ""


ODD = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5) | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.integers(), inner, max_size=2),
    max_leaves=4,
)


@settings(max_examples=150, deadline=None)
@given(path=st.sampled_from(places(changed())), odd=ODD)
def test_an_odd_value_anywhere_never_ends_in_a_traceback(path: tuple[Any, ...], odd: Any) -> None:
    data = changed()
    place: Any = data
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = odd
    assert all(line.startswith("x.yaml: ") for line in refusal(data).splitlines())
