"""The course of a case: its keys, record, table, words and figure, and a trial beside it."""

from functools import cache
from math import pi, sqrt
from tempfile import TemporaryDirectory

import numpy as np
import pytest

import workflow.course
from geometry.anatomy import tooth_dimensions
from workflow.case import CaseError, resolved, validate_case
from workflow.case_units import case_units
from workflow.course import case_course, course_record, course_table, tooth_marks, weeks
from workflow.course_words import course_texts, target_words
from workflow.equilibrium import engage_case, equilibrium_record
from workflow.figures_course import OUTLINE, course_figure, drawing_table
from workflow.figures_view import PlacedTooth, directions
from workflow.plan import frames, teeth_of
from workflow.records import read_json, write_json
from workflow.tip_back import AT_CENTRE, AT_CROWN, TRIAL, tip_back_table

BED_MPa = 26.0  # lateral force per length and movement of a root: near those of the default case
OCTAHEDRON = np.array([[5.0, 0, 0], [-5, 0, 0], [0, 5, 0], [0, -5, 0], [0, 0, 7], [0, 0, -14]])
FACES = np.array(
    [[0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4], [2, 0, 5], [1, 2, 5], [3, 1, 5], [0, 3, 5]]
)


def content(side=3, **changed):
    tooth = (10 * side).__add__
    return {
        "schema_version": 1,
        "case": "x",
        "title": "x",
        "teeth": {tooth(7): {"mesial_tip_deg": 25}},
        "missing": [tooth(6)],
        "units": {
            "molar": {"teeth": [tooth(7)], "role": "target"},
            "segment": {"teeth": [tooth(5), tooth(4), tooth(3)], "role": "anchor"},
        },
        "two_point": {"unit": "molar", "tooth": tooth(7)},
        "one_point": {"unit": "segment", "between": [tooth(4), tooth(5)]},
        "wire": {
            "alloy": "beta_titanium",
            "section": "rectangular_0.017x0.025_in",
            "activation": {"couple_gfmm": 1200},
        },
        "course": {"step_mm": 0.2},
    } | changed


def case_of(data):
    return resolved(validate_case(data, "x.yaml"))


def support_of(tooth):
    """A straight root of length h in an even bed: ``k h`` across, half along, ``k h³/12`` about."""
    h = tooth_dimensions(tooth).root_length_mm - 1.5
    k = BED_MPa
    tip = k * h**3 / 12
    stiffness = np.diag([k * h, k * h, k * h / 2, tip, tip, 4 * k * h])
    return {"stiffness": stiffness, "point_mm": [0.0, 0.0, -1.5 - h / 2]}


def engaged(case):
    """Units of a case in even beds, and its wire engaged."""
    with TemporaryDirectory() as folder:
        files = {tooth: f"{folder}/{tooth}.json" for tooth in teeth_of(case)}
        for tooth, file in files.items():
            write_json(file, support_of(tooth))
        units = case_units(case, files)
    return units, engage_case(case, units)


def follow(data):
    case = case_of(data)
    units, solved = engaged(case)
    return case_course(case, units, solved.solved.offset_mm)


@cache
def followed(side=3):
    return follow(content(side))


def test_a_case_has_no_course_unless_it_asks():
    plain = content()
    del plain["course"]
    assert case_of(plain)["course"] is None
    assert case_of(content(course={}))["course"]["step_mm"] == 0.1


@pytest.mark.parametrize(
    ("part", "key"),
    [
        ({"step_mm": 0.0}, "course.step_mm"),
        ({"force_floor_gf": -1}, "course.force_floor_gf"),
        ({"reactivate_share": 1}, "course.reactivate_share"),
        ({"weeks": 4}, "course.weeks"),
    ],
)
def test_bad_keys_are_named(part, key):
    with pytest.raises(CaseError, match=key):
        case_of(content(course=part))


def test_the_molar_is_uprighted_until_the_force_is_at_its_floor():
    """Common practice, no source: the spring uprights and extrudes the molar and intrudes its
    anchorage, and has to be reactivated on the way."""
    record = course_record(followed())
    end, again = record["end"], record["reactivate"]
    assert record["ended_at_floor"]
    assert end["force_gf"] == pytest.approx(10.0, rel=1e-6)
    assert again["force_N"] == pytest.approx(0.5 * record["start"]["force_N"], rel=1e-6)
    assert 0 < again["moved_mm"] < end["moved_mm"]
    assert end["offset_mm"] < again["offset_mm"] < record["start"]["offset_mm"]
    molar, segment = end["units"]["molar"], end["units"]["segment"]
    assert molar["mesial_tip_deg"] < -5
    assert molar["extrusion_mm"] > 0 > segment["extrusion_mm"]
    assert (
        molar["teeth"]["37"]["crown"]["mesial_mm"] < 0 < molar["teeth"]["37"]["apex"]["mesial_mm"]
    )
    assert record["halving_change"] < 0.01
    # a residual counts moments over 1 mm, so it is held against the couple
    assert record["largest_residual_N"] < 1e-8 * end["couple_Nmm"]


def test_the_start_is_the_equilibrium_of_the_case():
    """Force and couple before anything has moved are those of the stage before."""
    case = case_of(content())
    _, solved = engaged(case)
    start = course_record(followed())["start"]
    assert start["force_N"] == pytest.approx(solved.force_N, rel=1e-9)
    assert start["couple_Nmm"] == pytest.approx(1200 * 9.80665e-3, rel=1e-6)  # as asked for
    assert start["offset_mm"] == pytest.approx(solved.solved.offset_mm, rel=1e-12)


def test_the_other_side_of_the_mouth_moves_alike():
    """A mirror image changes no number that is said in words of the trade."""
    left, right = (course_record(followed(side))["end"] for side in (3, 4))
    for name, unit in left["units"].items():
        for key, value in unit.items():
            if key != "teeth":
                assert right["units"][name][key] == pytest.approx(value, abs=1e-6)


def test_the_table_follows_crown_and_apex():
    table, points = course_table(followed()), followed().found.points
    assert len(table) == len(points)
    assert np.all(np.diff(table["moved_mm"]) > 0)
    crown, apex = (
        table[[f"37_{mark}_{axis}_mm" for axis in "xyz"]].to_numpy() for mark in ("crown", "apex")
    )
    apart = np.linalg.norm(crown - apex, axis=1)
    own = tooth_dimensions(37)
    assert apart == pytest.approx(own.crown_length_mm / 2 + own.root_length_mm, rel=1e-9)
    steps = np.linalg.norm(np.diff(crown, axis=0), axis=1)
    assert steps == pytest.approx(np.diff(table["moved_mm"]), rel=1e-3)  # it moves most


def test_anchors_can_be_held():
    held = course_record(follow(content(course={"step_mm": 0.2, "anchors_move": False})))
    segment = held["end"]["units"]["segment"]
    assert all(segment[key] == 0 for key in segment if key != "teeth")
    assert held["end"]["moved_mm"] > course_record(followed())["end"]["moved_mm"]


def test_teeth_joined_by_a_wire_are_refused():
    data = content()
    wire = {"alloy": "stainless_steel", "section": "rectangular_0.017x0.025_in"}
    data["units"]["segment"]["joined_by"] = wire
    with pytest.raises(ValueError, match=r"units\.segment\.joined_by"):
        follow(data)


def test_a_step_too_long_is_refused(monkeypatch):
    monkeypatch.setattr(workflow.course, "MOST_CHANGE", 1e-9)
    with pytest.raises(ValueError, match=r"course\.step_mm = 0\.2 .* smaller step"):
        follow(content())


def test_weeks_are_those_of_canines():
    """0.87 and 1.27 mm a month, persons 3:1 apart (Iwasaki et al. 2000): by hand, 4.348 weeks."""
    low, high = weeks(1.27)
    assert low == pytest.approx(4.348 / sqrt(3), rel=1e-3)
    assert high == pytest.approx(4.348 * sqrt(3) * 1.27 / 0.87, rel=1e-3)


def test_words_and_figure_have_the_record_s_numbers():
    record = course_record(followed())
    alt, caption = course_texts(record, {"molar": "target", "segment": "anchor"})
    tip = -record["end"]["units"]["molar"]["mesial_tip_deg"]
    assert f"molar distal crown tip {tip:.3g}°" in alt
    assert "no forecast" in caption
    assert "segment" not in caption
    unit = dict.fromkeys(record["end"]["units"]["molar"], 0.0)
    words = target_words(unit | {"buccal_tip_deg": -2.0, "extrusion_mm": -0.5})
    assert words == "lingual crown tip 2.00°, its centre of resistance intrusion 0.500 mm"


def test_the_drawing_shows_the_target_s_way(tmp_path):
    case, found = followed().case, followed()
    frame = frames(case)[37]
    body = PlacedTooth(37, "molar", frame, frame.to_patient(OCTAHEDRON), FACES[:4], FACES[4:])
    units, solved = engaged(case)
    write_json(tmp_path / "solved.json", equilibrium_record(case, units, solved))
    words = directions(case, read_json(tmp_path / "solved.json"))
    drawing = drawing_table(found, [body], words)
    assert drawing.loc[drawing["kind"] == OUTLINE, "moved_mm"].nunique() == 4
    path = drawing.loc[drawing["kind"] == "apex", ["right_mm", "up_mm"]].to_numpy()
    tooth = found.units.supports["molar"].teeth[0]
    start = words.buccal_view.flat(tooth_marks(case, tooth)["apex"])
    assert path[0] == pytest.approx(start, abs=1e-9)
    assert len(path) == len(found.found.points)
    figure = course_figure(drawing, course_table(found), course_record(found), words)
    labels = [axes.get_ylabel() for axes in figure.axes]
    assert "force of the wire\non each unit (N)" in labels
    assert "moment to force (mm)" in labels


def test_a_tip_back_is_set_beside_the_trial():
    """Signs as the trial's (Janakiraman et al., Angle Orthod): 1.53 mm distal, 6.65°, 0.86 mm."""
    data = content(
        side=2,
        teeth={},
        missing=[],
        units={
            "molar": {"teeth": [26], "role": "target"},
            "incisors": {"teeth": [12, 11, 21, 22], "role": "anchor"},
        },
        two_point={"unit": "molar", "tooth": 26},
        one_point={"unit": "incisors", "between": [21, 22]},
        mirror_image=True,
        course={"step_mm": 0.2, "force_floor_gf": 2},
    )
    data["wire"]["activation"] = {"force_gf": 20}
    table = tip_back_table(follow(data)).set_index("molar")
    assert table.loc[TRIAL, "distal_mm_per_deg"] == pytest.approx(1.53 / 6.65)
    assert table.loc[TRIAL, "extrusion_mm_per_deg"] == pytest.approx(0.86 / 6.65)
    assert table.loc[AT_CROWN, "distal_mm"] > 0
    assert table.loc[AT_CENTRE, "extrusion_mm"] > 0
    assert 0 < table.loc[AT_CROWN, "tip_deg"] <= 6.65
    crown_above_turn = table.loc[AT_CROWN, "distal_mm_per_deg"] * 180 / pi
    assert 5 < crown_above_turn < 25  # the tooth turns about a point of its root or near it
