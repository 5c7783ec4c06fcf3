"""Centres of stiffness and compliance, screw axes, and units of several teeth."""

import numpy as np
import pytest

from fem.movement import anatomical_motion, movement
from fem.resistance import centre_of_compliance, centre_of_resistance, textbook_depth_mm
from fem.rigid import rotate_stiffness, screw_axis, shift_motion, shift_stiffness, shift_wrench
from fem.unit import ToothSupport, join_teeth, tooth_motion
from geometry.frame import ToothFrame

ORIGIN = np.zeros(3)
X, Y, Z = np.eye(3)


def springs(rows):
    """6×6 about the origin of springs (stiffness, direction, point)."""
    K = np.zeros((6, 6))
    for k, direction, point in rows:
        line = np.concatenate([direction, np.cross(point, direction)])
        K += k * np.outer(line, line)
    return K


def test_isotropic_springs_have_a_true_centre():
    """Weighted mean (0.8, 0.9, 0.8) of springs at four points: statics."""
    points = [(1, (0, 0, 0)), (2, (4, 0, 0)), (3, (0, 3, 0)), (4, (0, 0, 2))]
    K = springs([(k, e, p) for k, p in points for e in np.eye(3)])
    centre = centre_of_resistance(K, ORIGIN)
    assert centre.point == pytest.approx([0.8, 0.9, 0.8], abs=1e-12)
    assert centre_of_compliance(K, ORIGIN) == pytest.approx([0.8, 0.9, 0.8], abs=1e-12)
    assert centre.coupling_mm < 1e-12
    expected = [[28.5, 7.2, 6.4], [7.2, 35.2, 7.2], [6.4, 7.2, 44.5]]
    assert centre.stiffness[3:, 3:] == pytest.approx(np.array(expected), abs=1e-12)


def test_screw_like_body_keeps_its_coupling():
    """B = diag(0, 0, 1.5) at a centre (0.4, −0.2, 1.5) is found back (Loncaric 1987, memory)."""
    at_centre = np.diag([2.0, 2, 5, 1, 1, 1.15])
    at_centre[2, 5] = at_centre[5, 2] = 1.5
    place = np.array([0.4, -0.2, 1.5])
    K = shift_stiffness(at_centre, place, ORIGIN)
    centre = centre_of_resistance(K, ORIGIN)
    assert centre.point == pytest.approx(place, abs=1e-12)
    assert centre_of_compliance(K, ORIGIN) == pytest.approx(place, abs=1e-12)
    assert centre.coupling_mm == pytest.approx(1.5 / 5)


def test_stiffness_and_compliance_centres_differ_in_general():
    """Six springs whose three notions of a centre are three points (worked by hand)."""
    K = springs(
        [
            (1, X, (0, 1, 0)),
            (3, X, (0, -1, 0)),
            (2, Y, (2, 0, 0)),
            (1, Z, (1, 1, 0)),
            (1, Z, (-1, 1, 0)),
            (1, Z, (0, -1, 0)),
        ]
    )
    assert centre_of_resistance(K, ORIGIN).point == pytest.approx([0.8, -1 / 7, 0], abs=1e-12)
    compliance = centre_of_compliance(K, ORIGIN)
    assert compliance == pytest.approx([0.8, -0.0588235294117647, 0], abs=1e-12)


def test_shift_and_turn_keep_the_energy():
    rng = np.random.default_rng(3)
    root = rng.standard_normal((6, 6))
    K, motion, place = root @ root.T, rng.standard_normal(6), rng.standard_normal(3)
    moved = shift_motion(motion, ORIGIN, place)
    shifted = shift_stiffness(K, ORIGIN, place)
    assert moved @ shifted @ moved == pytest.approx(motion @ K @ motion, rel=1e-12)
    wrench = shift_wrench(K @ motion, ORIGIN, place)
    assert shifted @ moved == pytest.approx(wrench, rel=1e-10)


def test_screw_of_a_small_twist():
    """v = (.3, −.2, .1), ω = (.01, .02, −.02): ω × v/ω², ω·v/ω² by hand."""
    screw = screw_axis(np.array([0.3, -0.2, 0.1, 0.01, 0.02, -0.02]), ORIGIN)
    assert screw.point == pytest.approx([-2.2222222, -7.7777778, -8.8888889], abs=1e-6)
    assert screw.pitch == pytest.approx(-3.3333333, abs=1e-6)


def test_translation_has_no_screw_axis():
    assert screw_axis(np.array([0.3, -0.2, 0.1, 0, 0, 0]), ORIGIN) is None


def test_centre_of_rotation_stays_put_in_plane_movement():
    motion = np.array([0.02, 0.0, 0.01, 0.0, 0.004, 0.0])
    centre = np.array([1.0, 2.0, 3.0])
    moved = movement(motion, centre, centre, np.eye(3))
    at_rest = shift_motion(motion, centre, moved.centre_of_rotation)
    assert np.abs(at_rest[:3]).max() < 1e-15


@pytest.mark.parametrize("mirrored", [False, True])
def test_anatomical_words_follow_the_crown(mirrored):
    """A rotation that takes the crown mesially is a mesial tip, on either side of the mouth."""
    axes = np.column_stack([-Y, -X if mirrored else X, Z])
    mesial, buccal, occlusal = axes.T
    crown, side = 10 * occlusal, 5 * mesial
    for towards, name in ((mesial, "mesial_tip_rad"), (buccal, "buccal_tip_rad")):
        turn = 1e-3 * np.cross(occlusal, towards)
        assert np.cross(turn, crown) @ towards > 0
        words = anatomical_motion(np.concatenate([ORIGIN, turn]), axes)
        assert getattr(words, name) == pytest.approx(1e-3)
    turn = 1e-3 * np.cross(mesial, -buccal)
    assert np.cross(turn, side) @ -buccal > 0  # the mesial side goes lingually
    assert anatomical_motion(np.concatenate([ORIGIN, turn]), axes).mesial_in_rad == (
        pytest.approx(1e-3)
    )
    shift = anatomical_motion(np.concatenate([0.01 * occlusal, ORIGIN]), axes)
    assert shift.extrusion_mm == pytest.approx(0.01)


def test_textbook_depth_is_where_the_springs_are():
    """All lateral springs at one depth: that depth, whichever point the 6×6 is stated about."""
    rows = [(2, X, (0, 0, -6)), (2, Y, (0, 0, -6)), (5, Z, (1, 0, 0)), (5, Z, (-1, 1, 0))]
    rows += [(5, Z, (0, -1, 0)), (1, X, (0, 2, -6))]
    K = springs(rows)
    assert textbook_depth_mm(K, ORIGIN, X, Z) == pytest.approx(6.0)
    above = shift_stiffness(K, ORIGIN, 2 * Z)
    assert textbook_depth_mm(above, 2 * Z, X, Z) == pytest.approx(8.0)


def test_three_equal_teeth_in_a_row_move_a_third():
    local = np.diag([300.0, 200, 100, 3000, 4000, 900])
    axes = np.column_stack([-Y, X, Z])
    teeth = [
        ToothSupport(n, ToothFrame(np.array([0, y, 0.0]), axes), ORIGIN, local)
        for n, y in ((33, 0.0), (34, 7.0), (35, 14.0))
    ]
    one, three = join_teeth((teeth[1],)), join_teeth(tuple(teeth))
    assert three.centre.point == pytest.approx([0, 7, 0], abs=1e-9)
    down = np.array([0, 0, -1.0, 0, 0, 0])
    assert np.linalg.solve(three.centre.stiffness, down)[2] == pytest.approx(
        np.linalg.solve(one.centre.stiffness, down)[2] / 3
    )


def test_a_unit_carries_its_load_on_its_teeth():
    """The sum of what the teeth's own 6×6 return is the load on the unit."""
    rng = np.random.default_rng(5)
    axes = np.column_stack([-Y, X, Z])
    teeth = []
    for n in (33, 34, 35):
        root = rng.standard_normal((6, 6))
        frame = ToothFrame(10 * rng.standard_normal(3), axes)
        teeth.append(ToothSupport(n, frame, rng.standard_normal(3), root @ root.T + np.eye(6)))
    unit = join_teeth(tuple(teeth))
    load = rng.standard_normal(6)
    motion = np.linalg.solve(unit.centre.stiffness, load)
    total = np.zeros(6)
    for tooth in teeth:
        wrench = tooth.stiffness @ tooth_motion(unit, motion, tooth)
        in_patient = np.concatenate([axes @ wrench[:3], axes @ wrench[3:]])
        total += shift_wrench(in_patient, tooth.place, unit.centre.point)
    assert total == pytest.approx(load, abs=1e-9)


def test_mirrored_axes_keep_the_energy():
    rng = np.random.default_rng(6)
    root = rng.standard_normal((6, 6))
    K, axes = root @ root.T, np.column_stack([-Y, -X, Z])
    motion = rng.standard_normal(6)
    local = np.concatenate([motion[:3] @ axes, -(motion[3:] @ axes)])
    turned = rotate_stiffness(K, axes)
    assert motion @ turned @ motion == pytest.approx(local @ K @ local, rel=1e-12)
