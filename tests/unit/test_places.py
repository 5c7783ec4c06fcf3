"""Where teeth, tubes and hooks stand, and the wire between them."""

import numpy as np
import pytest

from geometry.anatomy import tooth_dimensions
from geometry.arch import LOWER_ARCH, ToothPlacement, tooth_frame
from geometry.frame import mean_axes
from geometry.measures import ToothMeasures
from geometry.sites import bracket_point, hook_at_span, hook_between, tube_at
from geometry.wire import cantilever_wire
from geometry.wire_features import Helix, Step, ULoop
from geometry.wire_path import Bend, Straight

LEFT, POSTERIOR, SUPERIOR = np.eye(3)


def test_patient_frame_is_lps():
    """DICOM PS3.3 C.7.6.2.1.1: +x to the patient's left; lower occlusal faces up."""
    left, right = tooth_frame(37), tooth_frame(47)
    assert left.origin[0] > 0 > right.origin[0]
    assert left.axes[:, 2] == pytest.approx(SUPERIOR)
    assert left.axes[:, 0] @ POSTERIOR < 0  # mesial of a molar is forward
    assert left.axes[:, 1] @ LEFT > 0.9  # buccal of a left molar is to the left
    assert not left.mirrored
    assert right.mirrored
    assert right.origin == pytest.approx(left.origin * [-1, 1, 1])


def test_teeth_touch_their_neighbours():
    """Centres of neighbours are about half the sum of their widths apart (a chord, so less)."""
    for a, b in ((33, 34), (34, 35)):
        widths = tooth_dimensions(a).crown_md_mm + tooth_dimensions(b).crown_md_mm
        crowns = [
            tooth_frame(n).to_patient([0, 0, tooth_dimensions(n).crown_length_mm]) for n in (a, b)
        ]
        gap = np.linalg.norm(crowns[0] - crowns[1])
        assert 0.97 * widths / 2 < gap <= widths / 2 + 1e-9


def test_arch_passes_the_published_widths():
    """Intercanine 26.85 mm (76 casts, authors not shown in the source seen)."""
    tip = tooth_frame(33).to_patient([0, 0, tooth_dimensions(33).crown_length_mm])
    assert 2 * tip[0] == pytest.approx(LOWER_ARCH.intercanine_width_mm, abs=1e-3)


def test_mesial_tip_leans_the_crown_forward_about_mid_root():
    upright = tooth_frame(37)
    tipped = tooth_frame(37, ToothPlacement(mesial_tip_deg=25))
    dimensions = tooth_dimensions(37)
    pivot = [0, 0, -dimensions.root_length_mm / 2]
    assert tipped.to_patient(pivot) == pytest.approx(upright.to_patient(pivot))
    crown = [0, 0, dimensions.crown_length_mm]
    moved = tipped.to_patient(crown) - upright.to_patient(crown)
    assert moved @ upright.axes[:, 0] > 5.0
    assert tipped.axes[:, 2] @ upright.axes[:, 2] == pytest.approx(np.cos(np.radians(25)))
    assert tipped.to_tooth(tipped.to_patient([1.0, 2, 3])) == pytest.approx([1, 2, 3])


@pytest.mark.parametrize("number", [33, 43, 13, 23])
def test_a_turned_tooth_keeps_its_long_axis_and_its_mesial_side_goes_in(number):
    upright = tooth_frame(number, ToothPlacement(mesial_tip_deg=10))
    turned = tooth_frame(number, ToothPlacement(mesial_tip_deg=10, mesial_in_deg=30))
    assert turned.axes[:, 2] == pytest.approx(upright.axes[:, 2])
    assert turned.origin == pytest.approx(upright.origin)
    lingually = -upright.axes[:, 1]
    assert turned.axes[:, 0] @ lingually == pytest.approx(np.sin(np.radians(30)))
    assert turned.mirrored == upright.mirrored


def test_a_shift_goes_along_the_regular_axes():
    regular = tooth_frame(23)
    placed = tooth_frame(23, ToothPlacement(mesial_mm=1, buccal_mm=2, occlusal_mm=-4))
    assert placed.origin - regular.origin == pytest.approx(regular.axes @ (1, 2, -4))


def test_mean_axes_of_one_side_and_across_the_midline():
    mean = mean_axes([tooth_frame(n) for n in (33, 34, 35)])
    assert mean.T @ mean == pytest.approx(np.eye(3), abs=1e-12)
    incisors = mean_axes([tooth_frame(n) for n in (32, 31, 41, 42)])
    assert incisors[:, 0] == pytest.approx(-LEFT, abs=1e-12)  # mesial of a left tooth
    assert incisors[:, 1] == pytest.approx(-POSTERIOR, abs=1e-12)
    assert incisors[:, 2] == pytest.approx(SUPERIOR, abs=1e-12)


@pytest.mark.parametrize("number", [37, 47])
def test_tube_faces_the_hook_and_its_axes_are_right_handed(number):
    frame = tooth_frame(number)
    hook = tooth_frame(number - 3).origin
    tube = tube_at(
        bracket_point(ToothMeasures.of(tooth_dimensions(number)), frame, 0.5, 1.5), frame, 4.0, hook
    )
    assert np.linalg.norm(tube.mouths[1] - tube.mouths[0]) == pytest.approx(4.0)
    assert np.linalg.norm(hook - tube.mouths[1]) < np.linalg.norm(hook - tube.mouths[0])
    assert np.linalg.det(tube.axes) == pytest.approx(1.0)


def test_hook_at_a_span_lies_on_the_segment():
    brackets = [np.array([10.0, 0, 0]), np.array([17.0, 1, 0]), np.array([23.0, 4, 0])]
    hook = hook_at_span(np.zeros(3), brackets, 15.0)
    assert np.linalg.norm(hook.point) == pytest.approx(15.0)
    between = np.cross(brackets[1] - brackets[0], hook.point - brackets[0])
    assert np.abs(between).max() < 1e-9
    middle = hook_between(brackets[0], brackets[1])
    assert middle.point == pytest.approx([13.5, 0.5, 0])
    with pytest.raises(ValueError, match=r"10\.0 to 23\.3 mm"):
        hook_at_span(np.zeros(3), brackets, 40.0)


MOUTHS = (np.zeros(3), np.array([4.0, 0, 0]))


@pytest.mark.parametrize("target", [(20.0, 0, 0), (20, 0, -5), (18, -4, 3), (10, 6, 6)])
def test_wire_starts_in_the_tube_and_ends_at_its_target(target):
    path = cantilever_wire(MOUTHS, np.eye(3), np.array(target, dtype=float))
    assert path.tip == pytest.approx(target, abs=1e-12)
    assert path.points[path.mouths[1]] == pytest.approx(MOUTHS[1])
    frames = np.swapaxes(path.axes, 1, 2) @ path.axes
    assert frames == pytest.approx(np.broadcast_to(np.eye(3), frames.shape), abs=1e-12)
    chords = np.linalg.norm(np.diff(path.points, axis=0), axis=1)
    assert (path.lengths_mm >= chords - 1e-12).all()


def test_wire_bends_by_the_angle_between_tube_and_run():
    path = cantilever_wire(MOUTHS, np.eye(3), np.array([20.0, 0, -5]))
    run = path.points[-1] - path.points[-2]
    assert np.arccos(run[0] / np.linalg.norm(run)) == pytest.approx(path.bend.angle_rad)
    assert path.axes[-1][:, 0] == pytest.approx(run / np.linalg.norm(run))


def test_straight_wire_has_no_bend():
    path = cantilever_wire(MOUTHS, np.eye(3), np.array([20.0, 0, 0]), pieces=(2, 5, 8))
    assert path.bend.angle_rad == 0.0
    assert len(path.lengths_mm) == 15
    assert path.points[:, 1:] == pytest.approx(np.zeros((16, 2)), abs=1e-12)


RUNS = {
    "helix": (Straight(3.0), Helix(1.0, 1.25, 0.5, "-height"), Straight(2.0)),
    "helix to the side": (Straight(2.0), Helix(2.0, 1.0, -0.6, "width")),
    "U loop": (Straight(4.0), ULoop(6.0, 3.0, 1.5, "-height")),
    "step": (Straight(3.0), Step(1.0, 0.5, "width"), Straight(2.0)),
    "bend out of the plane": (Straight(5.0), Bend(0.3, 1.0, "height")),
}


@pytest.mark.parametrize("target", [(24.0, 2, -6), (22, 0, -0.01), (24, 0, 0), (18, -5, 4)])
@pytest.mark.parametrize("run", RUNS.values(), ids=RUNS)
def test_wire_with_loops_ends_at_its_target(run, target):
    path = cantilever_wire(MOUTHS, np.eye(3), np.array(target, dtype=float), run=run)
    assert path.tip == pytest.approx(target, abs=1e-10)
    assert path.points[path.mouths[1]] == pytest.approx(MOUTHS[1])
    last = np.diff(path.points[-path.last_pieces - 1 :], axis=0)
    assert np.abs(np.cross(last, path.axes[-1][:, 0])).max() < 1e-10
    needed = sum(arc.length_mm for feature in path.features for arc in feature.arcs())
    assert path.lengths_mm.sum() == pytest.approx(needed, rel=1e-12)


def test_run_longer_than_the_wire_is_refused():
    with pytest.raises(ValueError, match=r"takes 30\.00 mm before the last leg"):
        cantilever_wire(MOUTHS, np.eye(3), np.array([24.0, 0, -3]), run=(Straight(30.0),))


def test_a_run_cut_into_features_is_the_same_wire():
    """Two straight legs are one: fitted for the first, closed form for the second."""
    target = np.array([22.0, 3, -5])
    cut = cantilever_wire(MOUTHS, np.eye(3), target, run=(Straight(7.0),))
    plain = cantilever_wire(MOUTHS, np.eye(3), target)
    assert cut.bend.turn_rad == pytest.approx(plain.bend.turn_rad, abs=1e-12)
    assert cut.lengths_mm.sum() == pytest.approx(plain.lengths_mm.sum(), abs=1e-11)


def test_extra_length_goes_on_straight():
    path = cantilever_wire(MOUTHS, np.eye(3), np.array([20.0, 0, -5]), extra_length_mm=0.5)
    plain = cantilever_wire(MOUTHS, np.eye(3), np.array([20.0, 0, -5]))
    assert np.linalg.norm(path.tip - plain.tip) == pytest.approx(0.5)
    with pytest.raises(ValueError, match="free run"):
        cantilever_wire(MOUTHS, np.eye(3), np.array([20.0, 0, -5]), extra_length_mm=-40.0)
