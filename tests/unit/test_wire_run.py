"""What a case's wire is bent to, seen from the tooth: gingival, buccal, ahead in any quadrant."""

import copy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from fem.cantilever import passive_path
from fem.cantilever_design import Cantilever, CantileverSites
from geometry.anatomy import tooth_dimensions
from geometry.arch import tooth_frame
from geometry.frame import ToothFrame
from geometry.measures import ToothMeasures
from geometry.sites import bracket_point, tube_at
from geometry.wire import CantileverWire
from geometry.wire_path import Arc, Course, sweep
from workflow.case import resolved, validate_case
from workflow.case_run import RunPart
from workflow.case_wire import Wire
from workflow.plan import cantilever_sites, case_run, frames, wire_design
from workflow.wire_run import as_bent, part_fault, run_parts

GOOD = Path(__file__).resolve().parents[2] / "configs" / "cases" / "lower_molar_uprighting.yaml"
SECTION = {"width_mm": 0.635, "height_mm": 0.4318}
MOLARS = (17, 27, 37, 47)
SIDES = {  # in the tooth's axes: mesial, buccal, occlusal
    "gingival": np.array([0.0, 0.0, -1.0]),
    "occlusal": np.array([0.0, 0.0, 1.0]),
    "buccal": np.array([0.0, 1.0, 0.0]),
    "lingual": np.array([0.0, -1.0, 0.0]),
}


class Seen:
    """A part swept from the tube's mouth, in coordinates of the tooth from there."""

    def __init__(self, tooth: int, ahead: float, part: dict[str, Any]) -> None:
        frame = tooth_frame(tooth).tipped(0.4, 0.2, np.zeros(3))
        mesial = frame.axes[:, 0]
        middle = frame.to_patient(np.array([0.0, 6.0, 4.0]))
        tube = tube_at(middle, frame, 4.0, middle + 20 * ahead * mesial)
        hook = tube.mouths[1] + 20 * ahead * mesial
        sites = CantileverSites(tube.mouths, tube.axes, hook, mesial, np.array([0, 0, 1.0]))
        wire = {"along_arch": False, "through": None, "section": SECTION, "bend_radius_mm": 1.0}
        wire["run"] = [RunPart.model_validate(part).model_dump()]
        (self.part,) = run_parts(wire, sites, frame, list)
        swept = sweep(
            [self.part.feature], tube.mouths[1], tube.axes, piece_mm=0.05, largest_turn_rad=0.05
        )
        self.points = frame.to_tooth(swept.points) - frame.to_tooth(tube.mouths[1])
        self.points[:, 0] *= ahead  # from the tube to the hook
        self.end = self.points[-1]
        self.direction = (swept.axes[-1][:, 0] @ frame.axes) * [ahead, 1, 1]

    def reach(self, side: str) -> float:
        return float((self.points @ SIDES[side]).max())


@pytest.fixture(params=MOLARS)
def tooth(request: pytest.FixtureRequest) -> int:
    return int(request.param)


@pytest.fixture(params=[1.0, -1.0], ids=["hook in front", "hook behind"])
def ahead(request: pytest.FixtureRequest) -> float:
    return float(request.param)


def test_straight_run_leads_to_the_hook(tooth: int, ahead: float) -> None:
    seen = Seen(tooth, ahead, {"straight_mm": 5})
    assert seen.end == pytest.approx([5, 0, 0], abs=1e-9)


@pytest.mark.parametrize("side", SIDES)
def test_bend_turns_to_its_side(tooth: int, ahead: float, side: str) -> None:
    seen = Seen(tooth, ahead, {"bend": {"angle_deg": 30, "towards": side}})
    expected = np.cos(np.pi / 6) * np.array([1, 0, 0]) + np.sin(np.pi / 6) * SIDES[side]
    assert seen.direction == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("side", SIDES)
def test_step_sets_off_to_its_side(tooth: int, ahead: float, side: str) -> None:
    seen = Seen(tooth, ahead, {"step": {"offset_mm": 3, "towards": side}})
    assert seen.end @ SIDES[side] == pytest.approx(3)
    assert seen.direction == pytest.approx([1, 0, 0], abs=1e-9)


OPPOSITE = {
    "gingival": "occlusal",
    "occlusal": "gingival",
    "buccal": "lingual",
    "lingual": "buccal",
}
OPEN_LOOPS = {
    "u_loop": ({"height_mm": 7, "width_mm": 3}, 7.0, (0.0, 5.0), 5.0),
    "l_loop": (
        {"height_mm": 7, "head_length_mm": 8, "head_height_mm": 3, "gap_mm": 2},
        7.0,
        (0.0, 8.5),
        3.0,
    ),
    "t_loop": (
        {"height_mm": 7, "head_width_mm": 10, "head_height_mm": 3, "gap_mm": 2},
        7.0,
        (-3.5, 6.5),
        3.0,
    ),
}


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("kind", OPEN_LOOPS)
def test_open_loop_rises_to_its_side(tooth: int, ahead: float, kind: str, side: str) -> None:
    """Legs, head and gap as drawn: to the side, ahead to the hook, and back on the wire's line.

    The first leg stands at one radius ahead; a T reaches (head − gap)/2 to both sides of its legs.
    """
    values, height, extent, end = OPEN_LOOPS[kind]
    seen = Seen(tooth, ahead, {kind: values | {"towards": side}})
    assert seen.reach(side) == pytest.approx(height, abs=1e-9)
    assert seen.reach(OPPOSITE[side]) == pytest.approx(0.0, abs=1e-9)
    along = seen.points[:, 0]
    assert (along.min(), along.max()) == pytest.approx(extent, abs=1e-9)
    assert seen.end == pytest.approx([end, 0, 0], abs=1e-9)
    assert seen.direction == pytest.approx([1, 0, 0], abs=1e-9)


@pytest.mark.parametrize("side", SIDES)
def test_box_loop_lies_to_its_side(tooth: int, ahead: float, side: str) -> None:
    seen = Seen(tooth, ahead, {"box_loop": {"height_mm": 6, "width_mm": 5, "towards": side}})
    assert seen.reach(side) == pytest.approx(6.0, abs=1e-9)
    assert seen.points[:, 0].max() == pytest.approx(2.5, abs=1e-9)
    assert seen.end == pytest.approx(np.zeros(3), abs=1e-9)


def test_loops_rise_gingivally_unless_told(tooth: int, ahead: float) -> None:
    for kind, (values, height, *_) in OPEN_LOOPS.items():
        assert Seen(tooth, ahead, {kind: values}).reach("gingival") == pytest.approx(height)


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("turns", [1, 3])
def test_helix_lies_at_its_side_and_advances_away_from_the_teeth(
    tooth: int, ahead: float, side: str, turns: int
) -> None:
    """Axis one radius to the side; turns pass each other by 1.1 of the wire, cheek or crown-wards.

    The helix axis leans by ``atan(pitch/(2π radius))`` towards the wire (see `Helix`).
    """
    radius = 1.5
    seen = Seen(tooth, ahead, {"helix": {"turns": turns, "radius_mm": radius, "towards": side}})
    upright = side in ("gingival", "occlusal")
    away = SIDES["buccal" if upright else "occlusal"]
    pitch = 1.1 * SECTION["width_mm" if upright else "height_mm"]
    lead = np.arctan(pitch / (2 * np.pi * radius))
    assert seen.end @ away == pytest.approx(turns * pitch * np.cos(lead), rel=1e-9)
    assert seen.end @ SIDES[side] == pytest.approx(0.0, abs=1e-9)
    assert seen.direction == pytest.approx([1, 0, 0], abs=1e-9)
    assert seen.reach(side) == pytest.approx(2 * radius, abs=2e-3)
    assert seen.reach(OPPOSITE[side]) == pytest.approx(0.0, abs=2e-3)


def test_pitch_of_a_helix_can_be_given(tooth: int, ahead: float) -> None:
    seen = Seen(tooth, ahead, {"helix": {"turns": 2, "radius_mm": 1.5, "pitch_mm": 1.0}})
    lead = np.arctan(1.0 / (2 * np.pi * 1.5))
    assert seen.end @ SIDES["buccal"] == pytest.approx(2 * np.cos(lead))


def test_words_have_the_sizes() -> None:
    assert Seen(37, 1.0, {"helix": {"turns": 1}}).part.words.startswith("1 turn, pitch 0.7 mm")
    bend = Seen(37, 1.0, {"bend": {"angle_deg": 30, "towards": "buccal"}}).part
    assert (bend.name, bend.words) == ("bend", "30°, radius 1 mm, towards buccal")


def test_a_part_that_cannot_be_bent_says_why() -> None:
    wide = RunPart.model_validate({"u_loop": {"height_mm": 7, "width_mm": 3}}).model_dump()
    narrow = RunPart.model_validate({"u_loop": {"height_mm": 7, "width_mm": 1}}).model_dump()
    assert part_fault(wide, SECTION) is None
    assert "largest radius that fits is 0.5 mm" in str(part_fault(narrow, SECTION))


# --- whole wires -------------------------------------------------------------------------------

BRACKET = {"height_fraction": 0.5, "stand_off_mm": 1.5}
HARDLY_MM = 1e-3  # an activation that leaves the passive wire where the engaged one is


def case_of(quadrant: int, **wire: Any) -> dict[str, Any]:
    """The good case in any quadrant, its hook at the canine."""
    data = copy.deepcopy(yaml.safe_load(GOOD.read_text(encoding="utf-8")))
    number = {place: 10 * quadrant + place for place in range(1, 9)}
    data["teeth"] = {number[7]: {"mesial_tip_deg": 10}}
    data["missing"] = [number[6]]
    data["units"]["molar"]["teeth"] = [number[7]]
    data["units"]["segment"]["teeth"] = [number[5], number[4], number[3]]
    data["two_point"] = {"unit": "molar", "tooth": number[7]}
    data["one_point"] = {"unit": "segment", "tooth": number[3]}
    data["wire"] |= {"activation": {"offset_mm": 4}, "elements": 80} | wire
    return resolved(validate_case(data, "x.yaml", GOOD.stem))


def passive(case: dict[str, Any], offset_mm: float = HARDLY_MM) -> CantileverWire:
    design = wire_design(case)
    return passive_path(Cantilever(cantilever_sites(case), design, ()), offset_mm)  # type: ignore[arg-type]


def distance_mm(path: CantileverWire, point: np.ndarray) -> float:
    """Of a point from the wire's chords."""
    start, chord = path.points[:-1], np.diff(path.points, axis=0)
    share = np.sum((point - start) * chord, axis=1) / np.sum(chord**2, axis=1)
    nearest = start + np.clip(share, 0, 1)[:, None] * chord
    return float(np.linalg.norm(point - nearest, axis=1).min())


def place_on(frame: ToothFrame, tooth: int) -> np.ndarray:
    return bracket_point(ToothMeasures.of(tooth_dimensions(tooth)), frame, **BRACKET)


@pytest.mark.parametrize("quadrant", [1, 2, 3, 4])
def test_along_the_arch_it_passes_the_brackets_of_the_teeth_between(quadrant: int) -> None:
    """Also where a tooth is missing, at its place on the mean arch."""
    case = case_of(quadrant, along_arch=True)
    path, placed = passive(case), frames(case)
    for place in (4, 5, 6):
        tooth = 10 * quadrant + place
        frame = placed.get(tooth, tooth_frame(tooth))
        assert distance_mm(path, place_on(frame, tooth)) < 0.05
    straight = passive(case_of(quadrant))
    assert distance_mm(straight, place_on(placed[10 * quadrant + 5], 10 * quadrant + 5)) > 0.5


@pytest.mark.parametrize("quadrant", [2, 4])
def test_through_given_places_it_cuts_each_corner_by_its_fillet(quadrant: int) -> None:
    """r (1/cos(θ/2) − 1) from a corner of angle θ (geometry)."""
    sites = cantilever_sites(case_of(quadrant))
    start, chord = sites.mouths[1], sites.hook - sites.mouths[1]
    up = np.array([0, 0, 1.0])
    corners = np.array([start + 0.3 * chord + 3 * up, start + 0.7 * chord - 2 * up])
    radius = 1.5
    through = {"points_mm": corners.tolist(), "radius_mm": radius}
    path = passive(case_of(quadrant, through=through))
    places = np.array([start, *corners, sites.hook])
    legs = np.diff(places, axis=0)
    legs /= np.linalg.norm(legs, axis=1)[:, None]
    for corner, before, after in zip(corners, legs[:-1], legs[1:], strict=True):
        half = np.arccos(before @ after) / 2
        expected = radius * (1 / np.cos(half) - 1)
        assert distance_mm(path, corner) == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(
    "wire",
    [
        {},
        {"along_arch": True},
        {
            "run": [
                {"straight_mm": 4},
                {"helix": {"turns": 2}},
                {"straight_mm": 3},
                {"u_loop": {"height_mm": 4, "width_mm": 2}},
            ]
        },
    ],
    ids=["straight", "along the arch", "loops"],
)
def test_arcs_of_the_record_make_the_same_wire(wire: dict[str, Any]) -> None:
    """Swept anew from what the record keeps, every node is where it was."""
    case = case_of(3, **wire)
    path = passive(case, 4.0)
    record = as_bent(path, case_run(case))
    courses = [
        Course(tuple(Arc(a["length_mm"], np.array(a["curvature_per_mm"])) for a in part["arcs"]))
        for part in record["parts"]
    ]
    again = sweep(courses, record["start_mm"], record["axes"], piece_mm=0.1)
    assert again.length_mm == pytest.approx(path.swept.length_mm)
    ends = again.points[again.feature_nodes[:, 1]]
    assert ends == pytest.approx(path.points[path.swept.feature_nodes[:, 1]], abs=1e-9)
    assert max(distance_mm(path, point) for point in again.points) < 0.05
    names = [part["part"] for part in record["parts"]]
    assert names[:2] == ["run in the tube", "bend at the tube"]
    assert len(names) == 3 + len(case_run(case))


def test_only_one_way_is_taken() -> None:
    """The model refuses two; a plain wire has no parts at all."""
    assert case_run(case_of(3)) == ()
    (course,) = case_run(case_of(3, along_arch=True))
    assert course.name == "along the arch"
    with pytest.raises(ValueError, match="not both"):
        Wire.model_validate(
            {
                "alloy": "beta_titanium",
                "section": "round_0.016_in",
                "activation": {"offset_mm": 3},
                "run": [{"straight_mm": 3}],
                "along_arch": True,
            }
        )
