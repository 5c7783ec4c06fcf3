"""Warnings fire by name, each with what was found, the limit and what to do."""

import copy

import pytest

from workflow.cautions import warnings

CASE = {
    "limits": {"force_range_gf": [15, 75], "ligament_hydrostatic_kPa": 16.0, "yield_ratio": 1.0},
    "ligament": {"youngs_modulus_MPa": 0.28},
    "one_point": {"unit": "anchor", "contact": "bar"},
    "further": [],
    "wire": {"alloy": {"superelastic": None}},
}
SOLVED = {
    "offset_mm": 4.0,
    "span_mm": 20.0,
    "wire": {"yield_ratio": 0.7, "nearest_itself_mm": None},
    "past_limit": None,
    "friction": None,
    "play": None,
    "hook": {"bar_angle_deg": 20.0},
}
ROD = {"spec": {"span_mm": 20.0}, "curve": {"offset_mm": [0.0, 10.0]}}
UNITS = {
    "anchor": {
        "force_N": [0.0, 0.0, -0.5],
        "ligament": {"33": {"hydrostatic_kPa": {"p01": -3.0, "p99": 4.0}}},
        "peak_strain": {"33": 0.1},
    }
}


def told(case=CASE, solved=SOLVED, units=UNITS, inside=(), note="", scan=None):
    response = {"units": units, "wire_inside_teeth": list(inside)}
    return warnings(
        case,
        solved,
        response,
        ROD,
        [{"spec": {"tooth": 36}, "meshed": {"note": note, "scan": scan}}],
    )


def changed(record, path, value):
    record = copy.deepcopy(record)
    inner = record
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = value
    return record


def test_a_second_bracket_is_told():
    held = changed(CASE, ("one_point", "contact"), "bracket")
    (text,) = told(case=held)
    assert text.startswith("more than one couple: the wire is held at two points on anchor too")
    between = changed(CASE, ("further",), [{"unit": "canine", "contact": "bracket"}])
    assert "on canine too" in told(case=between)[0]


def test_nothing_to_say_inside_the_limits():
    assert told() == []


@pytest.mark.parametrize(
    ("path", "value", "name", "found"),
    [
        (("wire", "yield_ratio"), 1.2, "yield exceeded", "1.20"),
        (("offset_mm",), 12.0, "deflection beyond the checked range", "0.60"),
        (("wire", "nearest_itself_mm"), 0.3, "wire touches itself", "0.30 mm apart"),
        (("wire", "nearest_itself_mm"), 5e-15, "wire touches itself", " 0.00 mm apart"),
        (("past_limit",), {"set_mm": 1.4}, "wire deforms: it yields", "a set of 1.4 mm"),
        (("friction",), {"computed": False}, "friction left out", "without"),
        (("hook", "bar_angle_deg"), 50.0, "wire held lengthwise", "50°"),
        (("play",), {"first_contact_mm": None}, "wire loose in its tube", "no couple"),
    ],
)
def test_wire(path, value, name, found):
    (text,) = told(solved=changed(SOLVED, path, value))
    assert text.startswith(name)
    assert found in text


@pytest.mark.parametrize(
    ("path", "value", "name", "found"),
    [
        (("force_N",), [0.0, 0.0, -1.0], "force above the stated range", "102 gf"),
        (("force_N",), [0.0, 0.0, -0.1], "force below the stated range", "10 gf"),
        (("ligament", "33", "hydrostatic_kPa", "p99"), 17.0, "ligament stress above", "tension"),
        (("ligament", "33", "hydrostatic_kPa", "p01"), -18.0, "ligament stress above", "18.0 kPa"),
        (("peak_strain", "33"), 0.02, "ligament strain below the knee", "5.6 times"),
    ],
)
def test_unit(path, value, name, found):
    (text,) = told(units=changed(UNITS, ("anchor", *path), value))
    assert text.startswith(name)
    assert found in text


def test_soft_law_past_its_knee():
    soft = changed(CASE, ("ligament", "youngs_modulus_MPa"), 0.05)
    (text,) = told(soft, units=changed(UNITS, ("anchor", "peak_strain", "33"), 0.2))
    assert text.startswith("ligament strain beyond the soft branch")


def test_wire_through_a_crown():
    (text,) = told(inside=[35])
    assert text.startswith("wire passes through a crown")
    assert "35" in text


def test_mesh_that_gave_way():
    (text,) = told(note="the crest was moved 0.2 mm towards the crown, because: no room")
    assert text.startswith("mesh gave way: tooth 36")
    assert "0.2 mm towards the crown" in text


def test_scan_that_was_mended():
    (text,) = told(scan={"notes": ["2 holes filled."]})
    assert text == "look at the scan: tooth 36; 2 holes filled."
    assert told(scan={"notes": []}) == []


def test_a_wire_that_springs_back_deforms_not():
    """Past the elastic limit of a superelastic wire there is a plateau, not a set."""
    past = changed(SOLVED, ("past_limit",), {"set_mm": 1e-6})
    assert told(solved=changed(past, ("wire", "yield_ratio"), 1.3)) == []
    partly = changed(SOLVED, ("past_limit",), {"set_mm": 0.5})
    (text,) = told(changed(CASE, ("wire", "alloy", "superelastic"), {}), solved=partly)
    assert "does not spring back in full" in text
