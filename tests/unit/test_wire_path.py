"""Passive wires swept from features: lengths, ends, frames, and what cannot be bent.

End points and directions are elementary geometry, derived beside each check.
"""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from geometry.wire_course import along_curve, curve_tangents, polyline
from geometry.wire_features import BoxLoop, Helix, LLoop, Step, TLoop, ULoop
from geometry.wire_path import SHARPEST_RADIUS_MM, Bend, Straight, Twist, section_axes, sweep
from geometry.wire_touch import near_pieces

ORIGIN, AXES = np.zeros(3), np.eye(3)
QUARTER = np.pi / 2
FREE = np.array([[0, 0, 0], [5, 0, 0], [5, 4, 0], [5, 4, 6], [1, 2, 7.0]])
EVERYTHING = (
    Straight(3.0),
    Bend(0.8, 1.5, (0.6, -0.8)),
    Twist(0.5, 2.0),
    Step(1.0, 0.5, "width", 3.0),
    Helix(2.25, 1.2, 0.4, "-height"),
    LLoop(6.0, 4.0, 2.0, 1.5, 0.5),
    TLoop(6.0, 4.0, 2.0, 1.5, 0.5, "-width"),
    Straight(1.0),
)


def swept(*features, **options):
    return sweep(features, ORIGIN, AXES, **options)


def test_bend_turns_about_its_axis():
    """About height (z) from x towards y; about width (y) from x towards −z."""
    wire = swept(Straight(2.0), Bend(QUARTER, 1.5, "height"), Straight(1.0))
    assert wire.tip == pytest.approx([3.5, 2.5, 0])
    assert wire.axes[-1] == pytest.approx(np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1]]))
    assert swept(Bend(QUARTER, 1.5, "width")).tip == pytest.approx([1.5, 0, -1.5])
    assert swept(Bend(-QUARTER, 1.5, "width")).tip == pytest.approx([1.5, 0, 1.5])
    assert swept(Bend(QUARTER, 1.5, "-width")).tip == pytest.approx([1.5, 0, 1.5])
    slanted = swept(Bend(np.pi, 2.0, (3, 4)))
    assert slanted.tip == pytest.approx(4.0 * np.cross([0, 0.6, 0.8], [1, 0, 0]))


def test_axes_of_the_second_bend_are_those_the_first_left():
    wire = swept(Bend(QUARTER, 1.0, "height"), Bend(QUARTER, 1.0, "width"), Straight(2.0))
    assert wire.axes[-1][:, 0] == pytest.approx([0, 0, -1])
    assert wire.tip == pytest.approx([1, 2, -3])


def test_pieces_of_an_arc_have_its_length_and_curvature():
    wire = swept(Bend(1.2, 2.0, "height"))
    assert len(wire.lengths_mm) == 5  # 0.24 rad each
    assert wire.lengths_mm == pytest.approx(np.full(5, 0.48))
    assert wire.curvature_per_mm == pytest.approx(np.tile([0, 0, 0.5], (5, 1)))
    chords = np.linalg.norm(np.diff(wire.points, axis=0), axis=1)
    assert chords == pytest.approx(np.full(5, 4 * np.sin(0.12)))
    centre = np.array([0, 2.0, 0])
    assert np.linalg.norm(wire.points - centre, axis=1) == pytest.approx(2.0)


def test_twist_turns_the_section_only():
    wire = swept(Twist(0.5, 2.0), Bend(QUARTER, 1.0, "height"))
    nodes = wire.feature_nodes[0]
    turned = Rotation.from_rotvec([0.5, 0, 0]).as_matrix()
    assert wire.axes[nodes[1]] == pytest.approx(turned)
    assert wire.points[nodes[1]] == pytest.approx([2, 0, 0])
    assert wire.tip == pytest.approx(np.array([2, 0, 0]) + turned @ [1, 1, 0])


def test_relative_turn_of_neighbours_is_curvature_times_length():
    """For every kind of arc: ``R₁ᵀ R₂ = exp(h k×)``."""
    wire = swept(*EVERYTHING)
    relative = np.swapaxes(wire.axes[:-1], 1, 2) @ wire.axes[1:]
    turns = Rotation.from_matrix(relative).as_rotvec()
    assert turns == pytest.approx(wire.lengths_mm[:, None] * wire.curvature_per_mm, abs=1e-12)


def test_frames_stay_orthonormal_and_run_along_the_wire():
    wire = swept(*EVERYTHING, largest_turn_rad=0.01, piece_mm=0.02)
    squares = np.swapaxes(wire.axes, 1, 2) @ wire.axes
    assert squares == pytest.approx(np.broadcast_to(AXES, squares.shape), abs=1e-13)
    assert np.linalg.det(wire.axes) == pytest.approx(1.0)
    chords = np.diff(wire.points, axis=0) / wire.lengths_mm[:, None]
    middle = (wire.axes[:-1, :, 0] + wire.axes[1:, :, 0]) / 2
    assert chords == pytest.approx(middle, abs=1e-4)  # 0.01² over 12 and 24


def test_pieces_only_subdivide():
    """Nodes of a coarse sweep are nodes of a fine one: the shape does not depend on the pieces."""
    coarse, fine = swept(*EVERYTHING), swept(*EVERYTHING, piece_mm=0.1, largest_turn_rad=0.05)
    assert coarse.length_mm == pytest.approx(fine.length_mm, rel=1e-13)
    for a, b in zip(coarse.feature_nodes.ravel(), fine.feature_nodes.ravel(), strict=True):
        assert coarse.points[a] == pytest.approx(fine.points[b], abs=1e-12)
        assert coarse.axes[a] == pytest.approx(fine.axes[b], abs=1e-12)


@pytest.mark.parametrize("turn", [0.25, 0.1])
def test_no_piece_is_too_long_or_turns_too_far(turn):
    wire = swept(*EVERYTHING, piece_mm=[0.5] * 7 + [0.3], largest_turn_rad=turn)
    assert wire.lengths_mm.max() <= 0.5 * (1 + 1e-9)
    turns = wire.lengths_mm * np.linalg.norm(wire.curvature_per_mm, axis=1)
    assert turns.max() <= turn * (1 + 1e-9)
    first, last = wire.feature_nodes[-1]
    assert wire.lengths_mm[first:last] == pytest.approx(np.full(4, 0.25))


def test_feature_nodes_chain_from_start_to_end():
    wire = swept(*EVERYTHING, Bend(0.0, 1.0), Straight(1.0))
    nodes = wire.feature_nodes
    assert nodes[0, 0] == 0
    assert nodes[-1, 1] == len(wire.points) - 1
    assert np.all(nodes[1:, 0] == nodes[:-1, 1])
    assert nodes[8, 0] == nodes[8, 1]  # no angle, no pieces
    assert wire.arc_mm[nodes[0, 1]] == pytest.approx(3.0)
    assert wire.arc_mm[-1] == pytest.approx(wire.length_mm)


def test_rigid_motion_moves_the_whole_wire():
    turn, shift = Rotation.from_rotvec([0.7, -1.9, 0.4]).as_matrix(), np.array([5.0, -3, 2])
    plain = swept(*EVERYTHING)
    moved = sweep(EVERYTHING, shift, turn)
    assert moved.points == pytest.approx(plain.points @ turn.T + shift, abs=1e-12)
    assert moved.axes == pytest.approx(turn @ plain.axes, abs=1e-12)
    assert moved.lengths_mm == pytest.approx(plain.lengths_mm)


@pytest.mark.parametrize(
    ("step", "length", "offset"),
    [
        (Step(3.0, 0.6), 1.2, 3.0),  # square bends, 1.8 mm between them
        (Step(1.0, 1.0), np.sqrt(3), 1.0),  # 60°: 2 sin 60° along, 2 (1 − cos 60°) aside
        (Step(1.0, 0.5, length_mm=4.0), 4.0, 1.0),
        (Step(1.0, 0.0, length_mm=4.0), 4.0, 1.0),
    ],
)
def test_step_sets_the_wire_off_to_a_parallel_line(step, length, offset):
    wire = swept(step)
    assert wire.tip == pytest.approx([length, 0, offset], abs=3 * SHARPEST_RADIUS_MM * 1e-9)
    assert wire.axes[-1] == pytest.approx(AXES, abs=1e-12)


def test_length_of_a_step():
    """60° twice at a radius of 1 mm; 3 mm of offset at square bends of 0.6 mm."""
    assert swept(Step(1.0, 1.0)).length_mm == pytest.approx(2 * np.pi / 3)
    assert swept(Step(3.0, 0.6)).length_mm == pytest.approx(0.6 * np.pi + 1.8)


def test_plane_helix_comes_back_to_where_it_began():
    wire = swept(Straight(3.0), Helix(2, 1.5, 0.0, "width"), Straight(4.0))
    assert wire.tip == pytest.approx([7, 0, 0], abs=1e-13)
    assert wire.axes[-1] == pytest.approx(AXES, abs=1e-13)
    assert wire.length_mm == pytest.approx(7 + 6 * np.pi)
    first, last = wire.feature_nodes[1]
    loop = wire.points[first : last + 1]
    assert np.linalg.norm(loop - [3, 1.5, 0], axis=1) == pytest.approx(1.5)


@pytest.mark.parametrize("pitch", [0.4, -0.4])
def test_helix_with_pitch_lies_on_its_cylinder(pitch):
    """Advance turns × pitch, length ``turns √((2πR)² + pitch²)``, direction kept, no kink."""
    R, turns = 1.2, 3
    wire = swept(Helix(turns, R, pitch, "width"))
    assert wire.length_mm == pytest.approx(turns * np.hypot(2 * np.pi * R, pitch))
    assert np.linalg.norm(wire.tip) == pytest.approx(turns * abs(pitch))
    assert np.sign(wire.tip[2]) == np.sign(pitch)
    assert wire.axes[-1] == pytest.approx(AXES, abs=1e-12)
    axis = wire.tip / np.linalg.norm(wire.tip)
    from_axis = wire.points - [0, R, 0]
    across = from_axis - np.outer(from_axis @ axis, axis)
    assert np.linalg.norm(across, axis=1) == pytest.approx(R)
    inward = -np.einsum("ni,ni->n", across / R, wire.axes[:, :, 1])
    assert inward == pytest.approx(1.0)  # the same face stays towards the axis


@pytest.mark.parametrize("r", [0.0, 0.4])
@pytest.mark.parametrize(
    ("kind", "ahead", "polygon_mm", "corners", "reach"),
    [
        (lambda r: ULoop(6, 4, r), 4, 16, 4, [0, 4]),
        (lambda r: LLoop(6, 4, 2, 1, r), 1, 6 + 4 + 2 + 3 + 4, 6, [0, 4]),
        (lambda r: TLoop(6, 5, 2, 1, r), 1, 4 + 2 + 2 + 5 + 2 + 2 + 4, 8, [-2, 3]),
        (lambda r: BoxLoop(6, 4, r), 0, 20, 4, [-2, 2]),
    ],
    ids=["U", "L", "T", "box"],
)
def test_loops_go_on_along_the_line(kind, ahead, polygon_mm, corners, reach, r):
    """A rounded square corner is ``2r − πr/2`` shorter than a sharp one."""
    wire = swept(kind(r))
    radius = max(r, SHARPEST_RADIUS_MM)
    feet = 0 if ahead == 0 else 2 * radius  # the box has none
    assert wire.tip == pytest.approx([ahead + feet, 0, 0], abs=1e-12)
    assert wire.axes[-1] == pytest.approx(AXES, abs=1e-12)
    cut = corners * (2 - QUARTER) * radius
    assert wire.length_mm == pytest.approx(polygon_mm + feet - cut)
    assert wire.points[:, 2].max() == pytest.approx(6.0)
    assert wire.points[:, 2].min() == pytest.approx(0.0, abs=1e-12)
    assert np.abs(wire.points[:, 1]).max() < 1e-12
    along = wire.points[:, 0] - feet / 2
    assert along.max() == pytest.approx(max(reach[1], ahead + feet / 2))
    assert along.min() == pytest.approx(min(reach[0], -feet / 2))


def test_polyline_runs_on_its_legs_and_rounds_its_corners():
    """Length: the legs, less ``2r tan(θ/2) − rθ`` a corner; turns about ``u × v``."""
    r = 1.0
    wire = sweep([polyline(FREE, r, AXES)], FREE[0], AXES)
    legs = np.diff(FREE, axis=0)
    lengths = np.linalg.norm(legs, axis=1)
    u = legs / lengths[:, None]
    angles = np.arccos(np.sum(u[:-1] * u[1:], axis=1))
    expected = lengths.sum() - np.sum(2 * r * np.tan(angles / 2) - r * angles)
    assert wire.length_mm == pytest.approx(expected)
    assert wire.tip == pytest.approx(FREE[-1], abs=1e-12)
    assert wire.axes[-1][:, 0] == pytest.approx(u[-1], abs=1e-12)
    curved = np.linalg.norm(wire.curvature_per_mm, axis=1)
    assert set(np.round(curved, 9)) == {0.0, 1.0}
    assert np.abs(wire.curvature_per_mm[:, 0]).max() < 1e-12


def test_fillet_that_just_fits_leaves_no_straight_run():
    points = np.array([[0, 0, 0], [5, 0, 0], [5, 4, 0], [9, 4, 0.0]])
    wire = sweep([polyline(points, 2.0, AXES)], points[0], AXES)
    assert wire.tip == pytest.approx(points[-1])
    with pytest.raises(ValueError, match=r"corner 1 and corner 2.* 4 mm: .* fits is 2 mm"):
        polyline(points, 2.001, AXES)


def test_fillet_beside_the_end_names_its_corner():
    points = np.array([[0, 0, 0], [5, 0, 0], [5, 1.5, 0.0]])
    with pytest.raises(ValueError, match=r"fit at corner 1, on a leg of 1\.5 mm: .* is 1\.5 mm"):
        polyline(points, 2.0, AXES)


def test_straight_polyline_has_no_corner():
    points = np.array([[0, 0, 0], [2, 0, 0], [5, 0, 0.0]])
    wire = sweep([polyline(points, 3.0, AXES)], points[0], AXES)
    assert not wire.curvature_per_mm.any()
    assert wire.length_mm == pytest.approx(5.0)


def arch(n):
    """A flat arch, ``y = 0.03 x²``, as tooth positions on it."""
    x = np.linspace(-25, 25, n)
    return np.column_stack([x, 0.03 * x**2, np.zeros(n)])


def test_curve_passes_through_its_points_and_stays_near_the_curve():
    points = arch(15)
    axes = section_axes(curve_tangents(points)[0], np.array([0, 0, 1.0]))
    wire = sweep([along_curve(points, axes)], points[0], axes, piece_mm=0.25)
    for point in points:
        assert np.linalg.norm(wire.points - point, axis=1).min() < 1e-10
    assert np.abs(wire.points[:, 1] - 0.03 * wire.points[:, 0] ** 2).max() < 0.05
    slope = 0.06 * 25  # closed form of a parabola's length
    exact = (slope * np.hypot(1, slope) + np.arcsinh(slope)) / 0.06
    assert wire.length_mm == pytest.approx(exact, rel=1e-3)
    assert wire.axes[:, :, 2] == pytest.approx(np.tile([0, 0, 1.0], (len(wire.points), 1)))


def test_curve_is_a_circle_where_the_points_are_on_one():
    """With the circle's own tangents both arcs of every stretch are the circle."""
    errors = []
    for n in (8, 15):
        a = np.linspace(0, 2.0, n)
        points = 20 * np.column_stack([np.sin(a), 1 - np.cos(a), 0 * a])
        wire = sweep([along_curve(points, AXES)], points[0], AXES)
        errors.append(np.abs(np.linalg.norm(wire.points - [0, 20, 0], axis=1) - 20).max())
    assert errors[0] < 0.02
    assert errors[1] < errors[0] / 6  # the spline's tangents are of third order or better


def test_curve_in_space_keeps_its_length_and_adds_no_twist():
    s = np.linspace(0, 2, 20)
    points = np.column_stack([10 * np.sin(s), 10 - 10 * np.cos(s), 3 * s])
    axes = section_axes(np.array([10, 0, 3.0]), np.array([0, 0, 1.0]))
    wire = sweep([along_curve(points, axes)], points[0], axes)
    assert wire.tip == pytest.approx(points[-1], abs=1e-10)
    assert wire.length_mm == pytest.approx(2 * np.hypot(10, 3), rel=1e-4)
    assert np.abs(wire.curvature_per_mm[:, 0]).max() < 1e-12


@pytest.mark.parametrize(
    ("features", "message"),
    [
        ((Straight(1.0), Straight(0.0)), r"feature 1 \(Straight\): straight run of 0 mm"),
        ((Bend(1.0, -1.0),), r"feature 0 \(Bend\): bend of radius -1 mm"),
        ((Bend(1.0, 1.0, "depth"),), "direction 'depth': give one of width"),
        ((Bend(1.0, 1.0, (0.0, 0.0)),), "not both 0"),
        ((Helix(0, 1.0),), "0 turns"),
        ((ULoop(6, 1, 0.6),), r"leg 2 of 6, 1, 6 mm: the largest radius that fits is 0\.5 mm"),
        ((LLoop(6, 4, 6, 1, 0.1),), "legs of 6, 4, 6, 3, 0 mm"),
        ((Step(2.0, 3.0, "width", 4.0),), r"the largest that fits is 2\.5 mm"),
        ((Bend(0.0, 1.0),), "without length"),
    ],
)
def test_what_cannot_be_bent_is_named(features, message):
    with pytest.raises(ValueError, match=message):
        swept(*features)


def test_largest_radius_of_a_step_does_fit():
    assert swept(Step(2.0, 2.5, "width", 4.0)).tip == pytest.approx([4, 2, 0])


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ([[0, 0, 0], [1, 0, 0], [1, 0, 0]], "points 1 and 2 are the same"),
        ([[0, 0, 0], [2, 0, 0], [1, 0, 0]], "doubles back at corner 1"),
        ([[0, 0, 0], [0, 2, 0]], "start along the first leg"),
        ([[0, 0, 0]], "give at least two"),
    ],
)
def test_bad_polyline(points, message):
    with pytest.raises(ValueError, match=message):
        polyline(np.array(points, dtype=float), 0.1, AXES)


def test_curve_that_turns_too_far_between_points():
    points = np.array([[0, 0, 0], [1, 3, 0], [-4, 3, 0.0]])
    with pytest.raises(ValueError, match="more than a right angle between points 0 and 1"):
        along_curve(points, section_axes(np.array([0, -1.0, 0]), np.array([0, 0, 1.0])))


def test_bad_axes_and_pieces():
    with pytest.raises(ValueError, match="right-handed"):
        sweep([Straight(1.0)], ORIGIN, np.diag([1.0, 1, -1]))
    with pytest.raises(ValueError, match="one for each feature"):
        swept(Straight(1.0), piece_mm=[0.1, 0.1])
    with pytest.raises(ValueError, match="height lies along the wire"):
        section_axes(np.array([0, 0, 2.0]), np.array([0, 0, 1.0]))


def test_section_axes_take_the_height_as_near_as_can_be():
    axes = section_axes(np.array([2.0, 0, 0]), np.array([1.0, 0, 3]))
    assert axes == pytest.approx(AXES)


def test_plane_loop_runs_through_itself():
    loop = swept(Straight(5), Helix(1, 1.0), Straight(5))
    near = near_pieces(loop, 0.4)
    assert near.distance_mm[0] == pytest.approx(0.0, abs=1e-9)
    assert loop.points[near.pieces[0]] == pytest.approx(np.tile([5, 0, 0], (2, 1)), abs=0.5)


@pytest.mark.parametrize(("pitch", "touches"), [(0.3, True), (0.5, False)])
def test_coils_touch_below_the_pitch_of_the_wires_size(pitch, touches):
    """Neighbouring coils of a helix are ``pitch · cos α`` apart, here 0.2997 and 0.4984 mm."""
    wire = swept(Helix(3, 1.0, pitch), largest_turn_rad=0.05)
    near = near_pieces(wire, 0.4)
    assert bool(len(near.pieces)) is touches
    if touches:
        lead = np.arctan2(pitch, 2 * np.pi)
        assert near.distance_mm[0] == pytest.approx(pitch * np.cos(lead), abs=2e-3)


@pytest.mark.parametrize(("width", "touches"), [(0.39, True), (0.41, False)])
def test_legs_of_a_loop_touch_when_nearer_than_the_wires_size(width, touches):
    near = near_pieces(swept(ULoop(5, width, width / 2)), 0.4)
    assert bool(len(near.pieces)) is touches
    assert np.all(near.distance_mm < 0.4)


def test_no_bend_of_half_the_size_or_more_touches_itself():
    assert len(near_pieces(swept(Straight(3), Bend(QUARTER, 0.2), Straight(3)), 0.4).pieces) == 0
    assert len(near_pieces(swept(Straight(9)), 0.4).pieces) == 0


def test_wire_that_crosses_itself_between_nodes():
    points = np.array([[0, 0, 0], [5, 0, 0], [5, 3, 0], [2.3, 3, 0], [2.3, -3, 0.1]])
    near = near_pieces(sweep([polyline(points, 0.5, AXES)], ORIGIN, AXES), 0.4)
    slope = np.array([-6.0, 0.1]) / np.hypot(6, 0.1)  # the last leg passes 0.05 mm above
    assert near.distance_mm[0] == pytest.approx(0.05 * abs(slope[0]), abs=1e-3)


def test_ends_of_a_hook_touch():
    """Chord ``2r sin(θ/2)`` of 0.353 mm between the ends of a bend of 288°."""
    near = near_pieces(swept(Bend(1.6 * np.pi, 0.3)), 0.4)
    assert near.distance_mm[0] == pytest.approx(0.6 * np.sin(0.8 * np.pi))
