"""The rod against large-deflection beams, exact kinematics and its own energy."""

import numpy as np
import pytest

from fem.appliance import Appliance, EquilibriumError, Unit
from fem.appliance_system import solve_equilibrium
from fem.attachment import DeadForce, clamp_contact
from fem.rigid import rotation, se3_exp
from fem.rod import RodState, internal_forces, passive_rod, strain_energy_Nmm
from workflow.verification.reference import reference_table

ELASTICA = reference_table("elastica_dead_load")
STIFF = 1e6  # axial and shear stiffness beside a bending stiffness of 1 and a length of 1
FIXED = (Unit("wall", np.zeros(3), None),)


def straight_rod(n, law, axes=None):
    x = np.linspace(0.0, 1.0, n + 1)
    axes = np.eye(3) if axes is None else axes
    points = x[:, None] * axes[:, 0]
    frames = np.broadcast_to(axes, (n + 1, 3, 3))
    return passive_rod(points, frames, np.diff(x), np.asarray(law)), RodState(points, frames)


def tip_loaded(n, force, axes=None, law=(STIFF, STIFF, STIFF, 1, 1, 1)):
    axes = np.eye(3) if axes is None else axes
    rod, passive = straight_rod(n, law, axes)
    contacts = clamp_contact(0, 0, np.zeros(3), axes)
    loads = (DeadForce(n, np.asarray(force, dtype=float)),)
    return solve_equilibrium(Appliance(rod, passive, FIXED, contacts, loads))


@pytest.mark.parametrize("row", list(ELASTICA.itertuples()), ids=lambda row: f"alpha={row.alpha:g}")
def test_tip_of_elastica_within_1e_4_of_the_length(row):
    """Bisshopp & Drucker 1945; Mattiasson 1981 (see the table's head)."""
    solved = tip_loaded(80, [0, 0, row.alpha])
    tip = solved.state.points[-1]
    tangent = solved.state.axes[-1][:, 0]
    assert tip[2] == pytest.approx(row.deflection, abs=1e-4)
    assert 1 - tip[0] == pytest.approx(row.shortening, abs=1e-4)
    assert np.arctan2(tangent[2], tangent[0]) == pytest.approx(row.tip_angle_rad, abs=1e-4)
    root = solved.wrench_on(0, np.zeros(3))
    assert np.linalg.norm(root[3:]) == pytest.approx(row.root_moment, rel=1e-4)


def test_converges_with_fourth_order():
    """Halving the elements cuts the error of the elastica (alpha = 2) sixteenfold."""
    exact = ELASTICA[ELASTICA.alpha == 2].deflection.item()
    law = (1e9, 1e9, 1e9, 1, 1, 1)
    errors = [abs(tip_loaded(n, [0, 0, 2], law=law).state.points[-1][2] - exact) for n in (10, 20)]
    assert np.log2(errors[0] / errors[1]) == pytest.approx(4.0, abs=0.15)
    assert errors[1] < 1e-6


def test_answer_turns_with_the_problem():
    """Objectivity: a rigidly turned problem has the turned answer."""
    law = (1e4, 1e4, 1e4, 0.8, 1, 2)
    turn = rotation(np.array([0.4, -1.1, 0.7]))
    force = np.array([0.5, 1.0, 1.5])
    plain = tip_loaded(20, force, law=law)
    turned = tip_loaded(20, turn @ force, axes=turn, law=law)
    assert turned.state.points == pytest.approx(plain.state.points @ turn.T, abs=1e-10)


def test_rigid_motion_stores_no_energy():
    rod, passive = straight_rod(8, (100, 40, 40, 3, 5, 9))
    R, p = se3_exp(np.array([3.0, -1.0, 2.0, 0.5, 2.0, -1.0]))
    moved = RodState(passive.points @ R.T + p, R @ passive.axes)
    assert strain_energy_Nmm(rod, moved) < 1e-24
    forces, _ = internal_forces(rod, moved)
    assert np.abs(forces).max() < 1e-11


@pytest.fixture
def bent():
    rng = np.random.default_rng(7)
    rod, passive = straight_rod(4, (100, 40, 40, 3, 5, 9))
    return rod, passive.moved(0.03 * rng.standard_normal((5, 6)))


def residual(rod, state, twists):
    forces, _ = internal_forces(rod, state.moved(twists))
    total = np.zeros((5, 6))
    np.add.at(total, np.arange(4), forces[:, :6])
    np.add.at(total, np.arange(1, 5), forces[:, 6:])
    return total.ravel()


def central_difference(function, step=1e-6):
    units = step * np.eye(30).reshape(30, 5, 6)
    return np.array([(function(e) - function(-e)) / (2 * step) for e in units]).T


def test_internal_force_is_the_derivative_of_the_energy(bent):
    rod, state = bent
    slope = central_difference(lambda e: strain_energy_Nmm(rod, state.moved(e)))
    exact = residual(rod, state, np.zeros((5, 6)))
    assert exact == pytest.approx(slope, abs=1e-7 * np.abs(slope).max())


def test_tangent_is_the_derivative_of_the_force(bent):
    """Exact to the third power of the element's turn (0.05 rad here)."""
    rod, state = bent
    slope = central_difference(lambda e: residual(rod, state, e))
    tangent = np.zeros((30, 30))
    for i, block in enumerate(internal_forces(rod, state)[1]):
        tangent[6 * i : 6 * i + 12, 6 * i : 6 * i + 12] += block
    assert tangent == pytest.approx(slope, abs=2e-5 * np.abs(slope).max())


def test_arc_of_a_circle_is_exact():
    """A ring under end moment: constant curvature is met with any number of elements."""
    n, angle = 7, 1.5
    turns = rotation(np.linspace(0, angle, n + 1)[:, None] * np.array([0.0, 0.0, 1.0]))
    points = np.stack([[np.sin(a), 1 - np.cos(a), 0] for a in np.linspace(0, angle, n + 1)])
    rod = passive_rod(points, turns, np.full(n, angle / n), np.ones(6))
    expected = np.tile([1.0, 0, 0, 0, 0, 1.0], (n, 1))
    assert rod.passive_strain == pytest.approx(expected, abs=1e-12)


def test_says_how_far_it_came_when_nothing_holds_the_wire():
    rod, passive = straight_rod(4, (100, 40, 40, 3, 5, 9))
    loose = Appliance(rod, passive, FIXED, (), (DeadForce(4, np.array([0.0, 0, 1])),))
    with pytest.raises(EquilibriumError, match=r"no equilibrium beyond 0\.0 %"):
        solve_equilibrium(loose)
