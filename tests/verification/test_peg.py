"""A wire over a peg: the place of contact as an unknown, friction, and forces that follow."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from fem.appliance import Appliance, Unit
from fem.appliance_system import solve_equilibrium
from fem.attachment import FollowerForce, bar_contact, clamp_contact
from fem.friction import friction_bracket
from fem.peg import Peg, solve_on_peg, straight_cut
from fem.rod import RodState, passive_rod
from workflow.verification.reference import reference_table

ON_PEG = reference_table("elastica_on_peg")
FOLLOWER = reference_table("elastica_follower")
STIFF = 1e8  # axial and shear stiffness beside a bending stiffness of 1: as good as inextensible
LAW = np.array([STIFF, STIFF, STIFF, 1, 1, 1])
WALL = (Unit("wall", np.zeros(3), None),)


def straight(n=60):
    x = np.linspace(0.0, 1.0, n + 1)
    points = np.stack([x, 0 * x, 0 * x], axis=1)
    axes = np.broadcast_to(np.eye(3), (n + 1, 3, 3))
    rod = passive_rod(points, axes, np.diff(x), LAW)
    clamp = clamp_contact(0, 0, np.zeros(3), np.eye(3))
    return Appliance(rod, RodState(points, axes), WALL, clamp)


def on_peg(deflection, friction=0.0, n=60):
    cut = straight_cut(straight(n), 0, LAW)
    return solve_on_peg(cut, 1.0, Peg(0, np.array([1.0, 0, deflection]), friction))


@pytest.mark.parametrize("row", list(ON_PEG.itertuples()), ids=lambda row: f"d={row.deflection:g}")
def test_elastica_over_a_frictionless_peg(row):
    """Sixteen deflections to 1e-6, closed form (see the table's head)."""
    solved = on_peg(row.deflection)
    tangent = solved.equilibrium.state.axes[-1][:, 0]
    force = -solved.equilibrium.loads[-1].wrench[:3]
    root = sum(load.wrench[3:] for load in solved.equilibrium.loads[:4])
    found = [
        np.arctan2(tangent[2], tangent[0]),
        solved.normal_N,
        np.linalg.norm(root),
        solved.length_mm,
        force[2],
        -force[0],
    ]
    assert found == pytest.approx(list(row)[2:], rel=1e-6)
    assert abs(solved.along_N) < 1e-8


def test_peg_converges_with_fourth_order():
    """Halving the elements cuts the error of the force sixteenfold."""
    row = next(r for r in ON_PEG.itertuples() if r.deflection == 0.8)
    coarse, fine = (abs(on_peg(0.8, n=n).normal_N - row.force) for n in (8, 16))
    assert np.log2(coarse / fine) == pytest.approx(4.0, abs=0.3)


def pushed_elastica(tip_angle, direction):
    """Reach X, Y and length S of a cantilever under a tip force of 1 (EI = 1), by quadrature.

    ``θ'²/2 = cos(φ − θ_c) − cos(φ − θ)`` for a force at the angle φ and a free end at θ_c
    (first integral of EI θ'' = −F sin(φ − θ)); derived here.
    """

    def integral(weight):
        def integrand(u):
            theta = tip_angle - u**2
            half = u**2 / 2  # cos a − cos b as a product, exact to the end
            bend = 4 * np.sin(direction - tip_angle + half) * np.sin(half)
            return weight(theta) * 2 * u / np.sqrt(bend)

        return quad(integrand, 0, np.sqrt(tip_angle), epsabs=1e-13, epsrel=1e-12)[0]

    return integral(np.cos), integral(np.sin), integral(np.ones_like)


@pytest.mark.parametrize("friction", [0.2, -0.2, 0.5, -0.5])
@pytest.mark.parametrize("deflection", [0.2, 0.6])
def test_rough_peg_pushes_at_the_angle_of_friction(friction, deflection):
    """Coulomb: the force leans by atan μ from the normal; elastica under that force."""
    lean = np.arctan(friction)

    def reach(angle):
        return pushed_elastica(angle, angle + np.pi / 2 - lean)

    def miss(angle):
        X, Y, _ = reach(angle)
        return Y / X - deflection

    angle = brentq(miss, 1e-3, 1.3, xtol=1e-14)
    X, _, S = reach(angle)
    solved = on_peg(deflection, friction)
    assert solved.normal_N == pytest.approx(X**2 * np.cos(lean), rel=1e-6)
    assert solved.along_N == pytest.approx(friction * solved.normal_N, rel=1e-9)
    assert solved.length_mm == pytest.approx(S / X, rel=1e-6)


def test_rough_peg_takes_more_going_in_than_coming_out():
    """The wire is drawn in while activated; friction holds it back and stiffens it."""
    going, smooth, coming = (on_peg(0.4, mu) for mu in (0.3, 0.0, -0.3))
    assert min(going.slip_mm, smooth.slip_mm, coming.slip_mm) > 0
    transverse = [-s.equilibrium.loads[-1].wrench[2] for s in (going, smooth, coming)]
    assert transverse == sorted(transverse, reverse=True)


def test_peg_on_a_unit_that_moves():
    """K q = W on the peg's unit, and what the wire gives both units sums to nothing."""
    soft = np.diag([20.0, 30, 25, 40, 30, 20])
    place = np.array([1.0, 0.1, 0.4])
    units = (*WALL, Unit("post", np.array([1.2, -0.3, 0.5]), soft))
    appliance = replace(straight(20), units=units)
    solved = solve_on_peg(straight_cut(appliance, 0, LAW), 1.0, Peg(1, place, 0.2))
    wrench = solved.equilibrium.wrench_on(1, units[1].point)
    assert soft @ solved.equilibrium.motions[1] == pytest.approx(wrench, abs=1e-8)
    total = sum(solved.equilibrium.wrench_on(u, place) for u in (0, 1))
    assert total == pytest.approx(np.zeros(6), abs=1e-8 * solved.normal_N)
    assert solved.along_N == pytest.approx(0.2 * solved.normal_N, rel=1e-8)


BAR, _, UP = np.eye(3)


def on_bar(deflection, mu):
    wire = straight(60)
    tip = wire.passive.points[-1]
    hold = bar_contact(0, 60, tip + deflection * UP, BAR, tip)
    appliance = replace(wire, contacts=(*wire.contacts, hold))
    return friction_bracket(appliance, len(wire.contacts), BAR, mu)


def bar_force(deflection, mu):
    """Force square to the bar of the elastica under a force at a fixed angle."""
    direction = np.pi / 2 - np.arctan(mu)

    def miss(angle):
        _, Y, S = pushed_elastica(angle, direction)
        return Y / S - deflection

    angle = brentq(miss, 0.1, 1.0, xtol=1e-14)
    return pushed_elastica(angle, direction)[2] ** 2 * np.cos(np.arctan(mu))


@pytest.mark.parametrize("mu", [0.0, 0.1, 0.3])
def test_force_on_a_rough_bar_lies_between_two_values(mu):
    """Coulomb friction along the bar, both ways; elastica under an inclined force (derived)."""
    found = on_bar(0.4, mu)
    act, back = (e.multipliers[-1] for e in (found.activating, found.deactivating))
    assert np.linalg.norm(act) == pytest.approx(bar_force(0.4, mu), rel=1e-6)
    assert np.linalg.norm(back) == pytest.approx(bar_force(0.4, -mu), rel=1e-6)
    for equilibrium, way in ((found.activating, 1), (found.deactivating, -1)):
        on_wire = -equilibrium.loads[-1].wrench[:3]
        assert on_wire[0] == pytest.approx(way * mu * on_wire[2], abs=1e-9)
    assert not found.sticks
    slips = np.abs(found.slip_mm)
    assert slips[0] <= slips[2] <= slips[1]


def test_a_bar_rough_enough_keeps_the_wire():
    """Tied: μ N exceeds what slipping needs; the force along the bar lies inside the cone."""
    mu = 5.0
    wire = straight(20)
    law = np.array([200.0, 200, 200, 1, 1, 1])
    rod = passive_rod(wire.passive.points, wire.passive.axes, wire.rod.lengths_mm, law)
    tip = wire.passive.points[-1]
    bar = np.array([1.0, 0, 0.2]) / np.hypot(1, 0.2)
    hold = bar_contact(0, 20, tip + 0.02 * UP, bar, tip)
    appliance = replace(wire, rod=rod, contacts=(*wire.contacts, hold))
    found = friction_bracket(appliance, len(wire.contacts), bar, mu)
    assert found.sticks
    on_wire = -found.activating.loads[-1].wrench[:3]
    along = on_wire @ bar
    assert abs(along) < mu * np.linalg.norm(on_wire - along * bar)
    assert found.slip_mm[0] == 0.0


def test_friction_needs_a_wire_that_slides():
    wire = straight(8)
    with pytest.raises(ValueError, match="holds the wire along the bar"):
        friction_bracket(wire, 0, BAR, 0.2)


@pytest.mark.parametrize("row", list(FOLLOWER.itertuples()), ids=lambda row: f"a={row.alpha:g}")
def test_force_that_follows_the_tip(row):
    """Tip force normal to the wire, to nearly a half turn (see the table's head)."""
    wire = replace(straight(60), forces=(FollowerForce(60, np.array([0, 0, row.alpha])),))
    solved = solve_equilibrium(wire, steps=12)
    tip, tangent = solved.state.points[-1], solved.state.axes[-1][:, 0]
    root = np.linalg.norm(solved.wrench_on(0, np.zeros(3))[3:])
    found = [tip[2], 1 - tip[0], np.arctan2(tangent[2], tangent[0]), root]
    assert found == pytest.approx(list(row)[2:], abs=2e-6)
