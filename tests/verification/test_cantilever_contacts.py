"""A cantilever with play in its tube, friction on its bar, or sliding over its hook."""

from dataclasses import replace

import numpy as np
import pytest

from fem.appliance import Unit
from fem.cantilever import solve_for_offset
from fem.cantilever_contacts import engage_over_peg, engage_with_friction, engage_with_play
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.material import Elastic
from fem.section import rectangular_section

INCH = 25.4
SECTION = rectangular_section(0.025 * INCH, 0.017 * INCH)
ALONG, ASIDE, UP = np.eye(3)
BASE, SPAN = 4.0, 18.0
SOFT = np.diag([200.0, 200, 100, 3000, 3000, 800])


def cantilever(*, bar=ALONG, tip_deg=0.0, stiffness=None):
    a = np.radians(tip_deg)
    axes = np.column_stack([[np.cos(a), 0, -np.sin(a)], ASIDE, [np.sin(a), 0, np.cos(a)]])
    mouths = (np.zeros(3), BASE * axes[:, 0])
    hook = mouths[1] + SPAN * ALONG
    units = (Unit("tooth", np.zeros(3), stiffness), Unit("anchor", hook, stiffness))
    wire = WireDesign(SECTION, Elastic(65e3, 0.3), 1.0, 24)
    return Cantilever(CantileverSites(mouths, axes, hook, bar, UP), wire, units)


def hook_force(equilibrium):
    return np.linalg.norm(equilibrium.wrench_on(1, np.zeros(3))[:3])


def test_play_costs_what_its_free_travel_costs():
    """The force with play p is that of an offset less p (1/2 + L/b): geometry of a loose wire.

    To the square of the wire's slope, 1/18.
    """
    design, height = cantilever(), 0.018 * INCH
    loose = engage_with_play(design, 1.0, height, 0.028 * INCH)
    travel = loose.play.height_mm * (0.5 + SPAN / BASE)
    tight = solve_for_offset(design, 1.0 - travel)
    assert hook_force(loose.solution.equilibrium) == pytest.approx(
        hook_force(tight.equilibrium), rel=1 / SPAN**2
    )
    assert max(loose.closings_mm.values()) == pytest.approx(travel, rel=2e-2)


def test_snug_tube_has_no_play():
    design = cantilever(tip_deg=15.0)
    snug = engage_with_play(design, 3.0, SECTION.height_mm, SECTION.width_mm)
    tight = solve_for_offset(design, 3.0)
    assert hook_force(snug.solution.equilibrium) == pytest.approx(
        hook_force(tight.equilibrium), rel=1e-9
    )
    assert snug.closings_mm == {}


def test_loose_appliance_balances():
    """Both units move; what the wire exerts on them sums to nothing (statics)."""
    design = cantilever(tip_deg=15.0, stiffness=SOFT)
    found = engage_with_play(design, 4.0, 0.022 * INCH, 0.028 * INCH).solution.equilibrium
    total = sum(found.wrench_on(unit, np.array([7.0, -3, 11])) for unit in (0, 1))
    assert np.linalg.norm(total) < 1e-7 * hook_force(found)


@pytest.mark.parametrize("tip_deg", [0.0, 20.0])
def test_friction_brackets_the_frictionless_force(tip_deg):
    """Coulomb: |T| = μ N on the bar at both ends of the bracket, in opposite directions."""
    design = cantilever(tip_deg=tip_deg, stiffness=SOFT)
    found = engage_with_friction(design, 4.0, 0.2)
    bounds = [np.linalg.norm(e.multipliers[-1]) for e in (found.activating, found.deactivating)]
    assert min(bounds) < np.linalg.norm(found.frictionless.multipliers[-1]) < max(bounds)
    along = [e.loads[-1].wrench[:3] @ ALONG for e in (found.activating, found.deactivating)]
    assert along[0] * along[1] < 0
    # the unit, and its bar with it, turns by less than a hundredth
    assert np.abs(along) == pytest.approx(0.2 * np.array(bounds), rel=5e-2)


def test_peg_is_the_bar_while_the_wire_hardly_turns():
    """Sliding lengthwise over the hook or along a bar is the same to the square of the slope."""
    design = cantilever()
    over = engage_over_peg(design, 0.2).frictionless
    on_bar = solve_for_offset(design, 0.2)
    assert over.normal_N == pytest.approx(hook_force(on_bar.equilibrium), rel=1e-3)
    assert abs(over.along_N) < 1e-9


@pytest.mark.parametrize("tip_deg", [0.0, 20.0])
def test_friction_of_a_peg_is_against_the_slip(tip_deg):
    """Bent at its tube, the passive run is a hypotenuse: too long once engaged, it slips out."""
    way = -1
    found = engage_over_peg(cantilever(tip_deg=tip_deg, stiffness=SOFT), 4.0, 0.1)
    assert not found.sticks
    assert np.sign(found.activating.slip_mm) == np.sign(found.frictionless.slip_mm) == way
    for solved, sign in ((found.activating, way), (found.deactivating, -way)):
        assert solved.along_N == pytest.approx(sign * 0.1 * solved.normal_N, rel=1e-7)


def test_rough_peg_keeps_the_wire():
    """Too rough to slip: the force lies inside the cone of friction."""
    found = engage_over_peg(cantilever(), 1.0, 100.0)
    assert found.sticks
    assert found.activating.slip_mm == 0.0
    assert abs(found.activating.along_N) < 100.0 * found.activating.normal_N


def test_tied_wire_does_not_rub():
    with pytest.raises(ValueError, match="tied at its hook"):
        engage_with_friction(cantilever(bar=None), 1.0, 0.2)


def test_wire_must_enter_the_tube():
    with pytest.raises(ValueError, match="does not enter"):
        engage_with_play(replace(cantilever()), 1.0, 0.016 * INCH, 0.028 * INCH)
