"""Bent wires as rods, small and large loads, against closed forms of curved and looped beams."""

from itertools import pairwise

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.sparse.linalg import splu

from fem.appliance import Appliance, Unit
from fem.appliance_system import solve_equilibrium
from fem.attachment import DeadForce, clamp_contact
from fem.rigid import point_shift, rotation
from fem.rod import RodState, internal_forces, passive_rod
from geometry.wire_course import polyline
from geometry.wire_features import BoxLoop, Helix, LLoop, TLoop, ULoop
from geometry.wire_path import Bend, Straight, section_axes, sweep

STIFF = 1e3  # axial and shear stiffness where a thin wire is meant: their share is taken off
GJ, EI_OUT, EI_IN = 0.8, 1.3, 1.0  # twist; bending about the width axis; about the height axis
LAW = np.array([STIFF, STIFF, STIFF, GJ, EI_OUT, EI_IN])
ROUND_LAW = np.array([STIFF, STIFF, STIFF, 0.8, 1.0, 1.0])
ORIGIN, AXES = np.zeros(3), np.eye(3)  # along x, width y, height z; loops lie in x–y
X, Y, Z, RZ = 0, 1, 2, 5


def swept(features, start=ORIGIN, axes=AXES, piece_mm=0.5, turn=0.1):
    return sweep(features, start, axes, piece_mm=piece_mm, largest_turn_rad=turn)


def assembled(rod, state):
    """Residual (6 n,) and tangent, in the axes of the nodes."""
    forces, blocks = internal_forces(rod, state)
    nodes = 6 * np.arange(rod.n_elements)[:, None] + np.arange(12)
    size = 6 * (rod.n_elements + 1)
    residual = np.zeros(size)
    np.add.at(residual, nodes, forces)
    rows, columns = np.repeat(nodes, 12, axis=1).ravel(), np.tile(nodes, (1, 12)).ravel()
    return residual, sp.coo_matrix((blocks.ravel(), (rows, columns)), shape=(size, size)).tocsc()


def tip_compliance(wire, law):
    """Motion of the tip per unit force and moment there, first node clamped, (6, 6), about it."""
    rod = passive_rod(wire.points, wire.axes, wire.lengths_mm, law)
    _, K = assembled(rod, RodState(wire.points, wire.axes))
    turn = np.kron(np.eye(2), wire.axes[-1])
    loads = np.zeros((K.shape[0] - 6, 6))
    loads[-6:] = turn.T
    return turn @ splu(K[6:, 6:]).solve(loads)[-6:]


def thin_compliance(wire, law=LAW):
    """The same of a wire that neither stretches nor shears.

    With ``EA = κGA = S`` a force strains every piece by itself over S, along itself, whichever way
    the piece runs: length/S is taken off. Stiffer wires would need no correction but lose digits.
    """
    C = tip_compliance(wire, law)
    C[:3, :3] -= wire.length_mm / STIFF * np.eye(3)
    return C


def polyline_compliance(vertices, EI=1.0):
    """In-plane compliance (x, y, rz) of a thin polyline (derived, exact)."""

    def moment(p):
        return np.array([-(vertices[-1][1] - p[1]), vertices[-1][0] - p[0], 1.0])

    total = np.zeros((3, 3))
    for a, b in pairwise(np.asarray(vertices, dtype=float)):
        parts = zip((a, (a + b) / 2, b), (1, 4, 1), strict=True)
        length = np.linalg.norm(b - a)
        total += sum(w * np.outer(moment(p), moment(p)) for p, w in parts) * length / 6 / EI
    return total


def quarter_circle(pieces, radius=1.0):
    """From (R, 0) to (0, R), bent about z."""
    axes = section_axes(np.array([0.0, 1, 0]), np.array([0.0, 0, 1]))
    bend = Bend(np.pi / 2, radius, "height")
    start = np.array([radius, 0.0, 0.0])
    return sweep([bend], start, axes, piece_mm=10.0, largest_turn_rad=np.pi / 2 / pieces)


def quarter_circle_compliance(R, EA, GA):
    """Castigliano, derived with a computer algebra system; as in Roark (from memory)."""
    both = np.pi * R / 4 * (1 / EA + 1 / GA)
    turned = (3 * np.pi / 4 - 2) * R**3  # of a moment that grows with 1 − cos
    straight = np.pi / 4 * R**3  # with sin
    return {
        (X, X): turned / EI_IN + both,
        (Y, Y): straight / EI_IN + both,
        (X, Y): R**3 / (2 * EI_IN) - R / (2 * EA) + R / (2 * GA),
        (X, RZ): -(np.pi / 2 - 1) * R**2 / EI_IN,
        (Y, RZ): -(R**2) / EI_IN,
        (RZ, RZ): np.pi * R / (2 * EI_IN),
        (Z, Z): straight / EI_OUT + turned / GJ + np.pi / 2 * R / GA,
    }


@pytest.mark.parametrize("R", [1.0, 2.5])
def test_quarter_circle_in_and_out_of_plane(R):
    C = tip_compliance(quarter_circle(48, R), LAW)
    for place, value in quarter_circle_compliance(R, STIFF, STIFF).items():
        assert C[place] == pytest.approx(value, rel=1e-6), place
    assert pytest.approx(C.T, abs=1e-8 * np.abs(C).max()) == C


def test_quarter_circle_that_stretches_and_shears():
    EA, GA = 40.0, 15.0
    C = tip_compliance(quarter_circle(48), np.array([EA, GA, GA, GJ, EI_OUT, EI_IN]))
    for place, value in quarter_circle_compliance(1.0, EA, GA).items():
        assert C[place] == pytest.approx(value, rel=1e-6), place


@pytest.mark.parametrize("place", [(X, X), (Y, Y), (X, Y), (Z, Z)])
@pytest.mark.parametrize("S", [1e5, 40.0], ids=["thin", "that stretches"])
def test_fourth_order_on_an_arc(place, S):
    """In the arc's plane and out of it, where bending passes into twist along each piece."""
    law = np.array([S, S, S, GJ, EI_OUT, EI_IN])
    exact = quarter_circle_compliance(1.0, S, S)[place]
    errors = [abs(tip_compliance(quarter_circle(n), law)[place] - exact) for n in (3, 6)]
    assert np.log2(errors[0] / errors[1]) > 3.85
    assert errors[1] < 5e-5


LOOPS = [  # length, place, radius, turns; EI C_yy and k_y L³/3EI, k_y L³/12EI guided, to 10 digits
    (10, 3, 0.5, 1, 487.6640724409, 0.6835306355, 0.8932879499, 0.9521877462),
    (10, 3, 0.5, 2, 641.9948115485, 0.5192149957, 0.8370707429, 0.9152926631),
    (10, 7, 0.5, 1, 362.0003662973, 0.9208093813, 0.8932879499, 0.9521877462),
    (10, 0, 1.0, 3, 2227.7137034480, 0.1496302388, 0.3253916112, 0.4403916724),
]


def looped(L, a, R, n, side="width", turn=0.1):
    before = (Straight(a),) if a > 0 else ()
    return swept((*before, Helix(n, R, 0.0, side), Straight(L - a)), turn=turn)


@pytest.mark.parametrize("row", LOOPS, ids=lambda row: f"a={row[1]},R={row[2]},n={row[3]}")
def test_closed_loops_at_four_places(row):
    """No published table found: derived with computer algebra, frame elements agree to 1e-7."""
    L, a, R, n, C_yy, free, guided, locked = row
    C = thin_compliance(looped(L, a, R, n))
    assert C[Y, Y] == pytest.approx(C_yy, rel=1e-5)
    assert L**3 / 3 / C[Y, Y] == pytest.approx(free, rel=1e-5)
    assert L**3 / 12 / (C[Y, Y] - C[Y, RZ] ** 2 / C[RZ, RZ]) == pytest.approx(guided, rel=1e-5)
    plane = np.ix_([X, Y, RZ], [X, Y, RZ])
    assert np.linalg.inv(C[plane])[1, 1] * L**3 / 12 == pytest.approx(locked, rel=1e-5)


def test_closed_loop_in_all_directions():
    """Castigliano, derived with a computer algebra system; out of plane and coupled too."""
    L, a, R, n = 10.0, 3.0, 0.5, 2
    D = L - a
    C = thin_compliance(looped(L, a, R, n))
    assert C[X, X] == pytest.approx(3 * np.pi * n * R**3 / EI_IN, rel=1e-5)
    assert C[X, Y] == pytest.approx(2 * np.pi * n * R**2 * D / EI_IN, rel=1e-5)
    assert C[Y, RZ] == pytest.approx((L**2 / 2 + 2 * np.pi * n * R * D) / EI_IN, rel=1e-5)
    assert C[X, RZ] == pytest.approx(2 * np.pi * n * R**2 / EI_IN, rel=1e-5)
    assert C[RZ, RZ] == pytest.approx((L + 2 * np.pi * n * R) / EI_IN, rel=1e-5)
    bending = (L**3 / 3 + np.pi * n * R * (D**2 + R**2)) / EI_OUT
    twist = np.pi * n * R * (D**2 + 3 * R**2) / GJ
    assert C[Z, Z] == pytest.approx(bending + twist, rel=1e-5)


@pytest.mark.parametrize(("pitch", "C_yy"), [(0.05, 487.70590), (0.1, 487.83090), (0.2, 488.33050)])
def test_legs_of_a_loop_set_apart_by_its_pitch(pitch, C_yy):
    """Derived with frame elements, the helix axis square to the legs and bent at its ends."""
    lead = np.arctan2(pitch, np.pi)  # of a loop of radius 0.5
    helix = (Bend(-lead, 0.0, "width"), Helix(1, 0.5, pitch, "width"), Bend(lead, 0.0, "width"))
    loop = swept((Straight(3), *helix), turn=0.02)
    wire = swept((Straight(3), *helix, Straight(10 - loop.tip[X])), turn=0.02)
    assert wire.tip == pytest.approx([10, 0, pitch], abs=1e-5)
    assert thin_compliance(wire, ROUND_LAW)[Y, Y] == pytest.approx(C_yy, rel=1e-5)


def test_loop_of_any_orientation_is_the_same_loop():
    """A round wire's loop to another side has the turned compliance."""
    plain = thin_compliance(looped(10, 3, 0.5, 2), ROUND_LAW)
    angle = 0.7
    leaning = looped(10, 3, 0.5, 2, side=(np.cos(angle), np.sin(angle)))
    turn = np.kron(np.eye(2), rotation(np.array([angle, 0, 0])))
    turned = turn @ plain @ turn.T
    assert thin_compliance(leaning, ROUND_LAW) == pytest.approx(turned, abs=1e-8 * plain.max())


CORNERED = [  # vertices; EI times C_xx, C_xy, C_xm, C_yy, C_ym, C_mm to 10 digits
    (
        [(0, 0), (2, 0), (2, 6), (6, 6), (6, 0), (10, 0)],
        (288, 360, 60, 813.3333333, 122, 22),
        lambda r: (Straight(2 - r), ULoop(6, 4, r, "width"), Straight(4 - r)),
    ),
    (
        [(0, 0), (3.5, 0), (3.5, 6), (7.5, 6), (7.5, 4), (4.5, 4), (4.5, 0), (10, 0)],
        (336, 342, 72, 820.8333333, 140, 28),
        lambda r: (Straight(3.5 - r), LLoop(6, 4, 2, 1, r, "width"), Straight(5.5 - r)),
    ),
]
UPPER = tuple(np.array(([X, X, X, Y, Y, RZ], [X, Y, RZ, Y, RZ, RZ])))


@pytest.mark.parametrize(("vertices", "printed", "features"), CORNERED, ids=["U", "L"])
def test_u_and_l_loops_with_sharp_corners(vertices, printed, features):
    """Derived, exact (no published table found), by extrapolation of the corners' radius to 0.

    Thin-wire compliances are polynomials of third degree in the radius: four radii give the
    sharp-cornered wire exactly.
    """
    radii = np.array([0.1, 0.2, 0.3, 0.4])
    values = np.array([thin_compliance(swept(features(r)))[UPPER] for r in radii])
    sharp = np.linalg.solve(np.vander(radii, increasing=True), values)[0]
    assert EI_IN * sharp == pytest.approx(printed, rel=1e-5)
    points = np.column_stack([vertices, np.zeros(len(vertices))])
    drawn = swept([polyline(points, 0.3, AXES)])
    assert drawn.tip == pytest.approx(points[-1], abs=1e-12)
    assert thin_compliance(drawn)[UPPER] == pytest.approx(values[2], rel=1e-5)


@pytest.mark.parametrize(("vertices", "printed"), [row[:2] for row in CORNERED], ids=["U", "L"])
def test_corners_of_radius_0(vertices, printed):
    """The same table with corners as sharp as the path makes them: each cuts 0.4e-3 mm short."""
    points = np.column_stack([vertices, np.zeros(len(vertices))])
    C = thin_compliance(swept([polyline(points, 0.0, AXES)]))
    assert EI_IN * C[UPPER] == pytest.approx(printed, rel=2e-4)


@pytest.mark.parametrize(
    ("loop", "vertices"),
    [
        (
            lambda r: TLoop(6, 5, 2, 1, r, "width"),
            [(4, 0), (4, 4), (2, 4), (2, 6), (7, 6), (7, 4), (5, 4), (5, 0)],
        ),
        (lambda r: BoxLoop(4, 3, r, "width"), [(5.5, 0), (5.5, 4), (2.5, 4), (2.5, 0)]),
    ],
    ids=["T", "box"],
)
def test_t_and_box_loops_with_sharp_corners(loop, vertices):
    """Sum over the segments of a thin polyline (derived, exact)."""
    vertices = [(0, 0), *vertices, (10, 0)]
    exact = polyline_compliance(vertices)[np.triu_indices(3)]
    radii = np.array([0.1, 0.2, 0.3, 0.4])
    values = []
    for r in radii:
        lead = 4 - (r if vertices[1] == (4, 0) else 0)
        width = 1 + 2 * r if vertices[1] == (4, 0) else 0
        wire = swept((Straight(lead), loop(r), Straight(10 - lead - width)))
        assert wire.tip == pytest.approx([10, 0, 0], abs=1e-12)
        values.append(thin_compliance(wire)[UPPER])
    sharp = np.linalg.solve(np.vander(radii, increasing=True), np.array(values))[0]
    assert sharp == pytest.approx(exact, rel=1e-5)


def test_helical_spring():
    """Thin helix loaded on its axis (Love/Kirchhoff, from memory; digits derived from it)."""
    n, R, alpha = 5, 1.0, np.radians(10)
    wire = swept([Helix(n, R, 2 * np.pi * R * np.tan(alpha))])
    axis = wire.tip / np.linalg.norm(wire.tip)  # whole turns: the tip lies along the helix axis
    to_axis = point_shift(-R * np.array([0.0, 0, 1]))  # from the tip to the point beside it
    C = to_axis @ thin_compliance(wire, ROUND_LAW) @ to_axis.T
    C_F, C_M, C_FM = axis @ C[:3, :3] @ axis, axis @ C[3:, 3:] @ axis, axis @ C[:3, 3:] @ axis
    fixed = 1 / (C_F - C_FM**2 / C_M)
    assert pytest.approx((39.635230, 32.141048), rel=1e-5) == (C_F, C_M)
    assert (abs(C_FM), fixed) == pytest.approx((1.363830, 0.02526697), rel=1e-5)


def with_end_moment(wire, law, moment):
    """Nodes of a clamped wire under an end moment (3,) in the axes of its tip, by Newton's method.

    A moment about an axis that does not turn stays the same in space.
    """
    rod = passive_rod(wire.points, wire.axes, wire.lengths_mm, law)
    state = RodState(wire.points, wire.axes)
    for share in np.linspace(0, 1, 41)[1:]:
        for _ in range(12):
            residual, K = assembled(rod, state)
            residual[-3:] -= share * np.asarray(moment)
            step = splu(K[6:, 6:]).solve(-residual[6:])
            state = state.moved(np.concatenate([np.zeros(6), step]).reshape(-1, 6))
            if np.abs(step).max() < 1e-13:
                break
    return state


def test_end_moment_closes_a_straight_wire_to_a_circle():
    """M = 2π EI/L (Euler, textbook): the tip comes back to the clamp."""
    law = np.array([1e3, 1e3, 1e3, 0.8, 1.3, 1.0])
    wire = swept([Straight(5.0)], piece_mm=0.25)
    state = with_end_moment(wire, law, (0, 0, 2 * np.pi / 5))
    assert state.points[-1] == pytest.approx(np.zeros(3), abs=1e-8)
    top = state.points[len(state.points) // 2]
    assert top == pytest.approx([0, 5 / np.pi, 0], abs=1e-8)


def test_end_moment_opens_a_loop_to_a_straight_wire():
    """The same the other way (derived): a turn wound without load is straight under −EI/R."""
    law = np.array([1e3, 1e3, 1e3, 0.8, 1.3, 1.0])
    R = 0.8
    wire = swept([Helix(1, R, 0.0, "width")], turn=0.25)
    state = with_end_moment(wire, law, (0, 0, -1 / R))
    assert state.points[-1] == pytest.approx([2 * np.pi * R, 0, 0], abs=1e-8)


def bent_out_of_plane(turn=AXES):
    """Half a circle, a loop and a run, far out of their plane under a dead force."""
    features = (Bend(np.pi / 2, 3.0, "height"), Helix(1, 0.6, 0.2, "width"), Straight(3.0))
    wire = swept(features, start=turn @ np.array([0.3, -0.2, 0.5]), axes=turn, turn=0.2)
    rod = passive_rod(wire.points, wire.axes, wire.lengths_mm, [1e4, 1e4, 1e4, 0.8, 1.3, 1.0])
    load = DeadForce(rod.n_elements, turn @ np.array([0.01, -0.02, 0.06]))
    clamp = clamp_contact(0, 0, wire.points[0], turn)
    fixed = (Unit("wall", np.zeros(3), None),)
    passive = RodState(wire.points, wire.axes)
    return wire, solve_equilibrium(Appliance(rod, passive, fixed, clamp, (load,)))


def test_wire_far_out_of_its_plane_turns_with_the_problem():
    """Objectivity: a rigidly turned problem has the turned answer."""
    turn = rotation(np.array([0.9, -1.3, 0.4]))
    wire, plain = bent_out_of_plane()
    _, turned = bent_out_of_plane(turn)
    assert np.linalg.norm(plain.state.points[-1] - wire.tip) > 0.4 * np.linalg.norm(wire.tip)
    assert turned.state.points == pytest.approx(plain.state.points @ turn.T, abs=1e-10)
    assert turned.state.axes == pytest.approx(turn @ plain.state.axes, abs=1e-10)
