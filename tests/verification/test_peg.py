"""Wires over pegs and bars: which way friction acts, and a peg on a unit that moves."""

from dataclasses import replace

import numpy as np
import pytest

from fem.appliance import EquilibriumError, Unit
from fem.attachment import bar_contact
from fem.friction import friction_bracket
from fem.peg import Peg, solve_on_peg, straight_cut
from fem.rod import passive_rod
from workflow.verification.rods_elastica import LAW, WALL
from workflow.verification.rods_peg import ALONG, UP, on_bar, on_peg, unit_wire


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
    appliance = replace(unit_wire(20), units=units)
    solved = solve_on_peg(straight_cut(appliance, 0, LAW), 1.0, Peg(1, place, 0.2))
    wrench = solved.equilibrium.wrench_on(1, units[1].point)
    assert soft @ solved.equilibrium.motions[1] == pytest.approx(wrench, abs=1e-8)
    total = sum(solved.equilibrium.wrench_on(u, place) for u in (0, 1))
    assert total == pytest.approx(np.zeros(6), abs=1e-8 * solved.normal_N)
    assert solved.along_N == pytest.approx(0.2 * solved.normal_N, rel=1e-8)


@pytest.mark.parametrize("mu", [0.0, 0.1, 0.3])
def test_wire_slides_more_letting_back_than_going(mu):
    found = on_bar(0.4, mu)
    assert not found.sticks
    slips = np.abs(found.slip_mm)
    assert slips[0] <= slips[2] <= slips[1]


def test_a_bar_rough_enough_keeps_the_wire():
    """Tied: μ N exceeds what slipping needs; the force along the bar lies inside the cone."""
    mu = 5.0
    wire = unit_wire(20)
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
    wire = unit_wire(8)
    with pytest.raises(ValueError, match="holds the wire along the bar"):
        friction_bracket(wire, 0, ALONG, 0.2)


def over_a_near_peg(first, height, place_x=0.8):
    """A wire whose run is straight from one node on, over a peg that stands nearer than its end."""
    peg = Peg(0, np.array([place_x, 0, height]))
    return solve_on_peg(straight_cut(unit_wire(20), first, LAW), 1.0, peg)


@pytest.mark.parametrize(("first", "height"), [(16, 0.8), (18, 0.4), (19, 0.8)])
def test_a_step_that_would_cut_the_wire_before_its_straight_run_is_shortened(first, height):
    """On its way Newton's method would draw the wire back further than it ends up."""
    least = first / 20
    found = over_a_near_peg(first, height)
    assert found.length_mm > least
    assert found.length_mm == pytest.approx(over_a_near_peg(0, height).length_mm, rel=1e-3)


def test_a_wire_drawn_back_to_its_last_bend_has_no_equilibrium_there():
    with pytest.raises(EquilibriumError, match="no equilibrium beyond"):
        over_a_near_peg(19, 0.1, 0.85)
