"""A wire that three units hold: continuous beam, balance, and what it refuses."""

from dataclasses import replace

import numpy as np
import pytest

from fem.appliance import Unit
from fem.batch import solve_batch
from fem.cantilever import (
    Cantilever,
    CantileverSites,
    FurtherHold,
    WireDesign,
    solve_for_offset,
)
from fem.engage import Setup, engage
from fem.force_activation import force_activation
from fem.material import Elastic
from fem.section import rectangular_section
from fem.slot import Slot

SECTION, BETA_TI = rectangular_section(0.635, 0.4318), Elastic(65e3, 0.3)
EI = 65e3 * SECTION.I_height_mm4
B, L, AT = 4.0, 20.0, 12.0
ALONG, UP = np.array([1.0, 0, 0]), np.array([0.0, 0, 1])
TOOTH = np.diag([300.0, 280.0, 150.0, 4000.0, 4500.0, 1000.0])


def cantilever(stiffness=None, bar=ALONG, raised=0.0):
    mouths = (np.zeros(3), np.array([B, 0, 0]))
    hook, middle = np.array([B + L, 0, 0]), np.array([B + AT, 0, raised])
    sites = CantileverSites(mouths, np.eye(3), hook, ALONG, UP)
    units = tuple(
        Unit(name, np.array([x, 1.0, -9.0]), stiffness)
        for name, x in (("tube", 2.0), ("hook", B + L), ("middle", B + AT))
    )
    wire = WireDesign(SECTION, BETA_TI, 1.0, 40, shear_rigid=True)
    return Cantilever(sites, wire, units, (FurtherHold(2, middle, bar),))


def reactions(deflection):
    """Upward forces on a straight beam over tube mouths, middle and hook, the end raised.

    Three moments (Clapeyron; textbook, sagging positive, from memory):
    ``l₁ M₁ + 2(l₁ + l₂) M₂ + l₂ M₃ = 6EI [(y₁ − y₂)/l₁ + (y₃ − y₂)/l₂]``.
    """
    end = L - AT
    A = np.array([[2 * (B + AT), AT], [AT, 2 * (AT + end)]])
    second, third = np.linalg.solve(A, 6 * EI * np.array([0.0, deflection / end]))
    return np.array(
        [
            second / B,
            (third - second) / AT - second / B,
            -(third - second) / AT - third / end,
            third / end,
        ]
    )


def test_three_units_share_the_load_as_a_continuous_beam():
    """The end is raised by a hundredth of a millimetre while the middle stays in line."""
    design = cantilever()
    offset = 0.01
    solved = solve_for_offset(design, offset)
    loads = solved.equilibrium.loads
    upward = [-loads[i].wrench[2] for i in (0, 1, 3, 4)]
    passive = solved.path.points[solved.appliance.contacts[3].node]
    bent = passive[2] - design.further[0].place[2]  # the passive wire is off the middle too
    along = (passive[0] - B) / L
    assert bent == pytest.approx(-offset * along, rel=0.02)
    # seen from the passive wire, which is straight from the mouth on, middle and end are raised
    expected = reactions(offset) + reactions_of_middle(-bent)
    assert upward == pytest.approx(expected, rel=0.02)


def reactions_of_middle(deflection):
    """The same beam with its middle raised and its end in line."""
    end = L - AT
    A = np.array([[2 * (B + AT), AT], [AT, 2 * (AT + end)]])
    right = 6 * EI * np.array([deflection / AT, -deflection / AT - deflection / end])
    second, third = np.linalg.solve(A, right)
    return np.array(
        [
            second / B,
            (third - second) / AT - second / B,
            -(third - second) / AT - third / end,
            third / end,
        ]
    )


@pytest.mark.parametrize("bar", [ALONG, None], ids=["bar", "tied"])
def test_all_units_balance(bar):
    solved = solve_for_offset(cantilever(TOOTH, bar), 4.0)
    wrenches = np.array([solved.equilibrium.wrench_on(unit, np.zeros(3)) for unit in range(3)])
    assert np.abs(wrenches.sum(axis=0)).max() < 1e-8 * np.abs(wrenches).max()
    assert np.abs(wrenches[2, :3]).max() > 0.01


def test_an_untouched_hold_changes_nothing():
    """Placed where a node of the engaged wire lies anyway, the further unit feels nothing."""
    alone = replace(cantilever(), further=())
    solved = solve_for_offset(alone, 3.0)
    for node in range(15, 40):
        place = solved.equilibrium.state.points[node]
        found = solve_for_offset(replace(alone, further=(FurtherHold(2, place, None),)), 3.0)
        if found.appliance.contacts[3].node == node:
            break
    else:
        pytest.fail("no node is held where it lies")
    assert np.abs(found.equilibrium.wrench_on(2, np.zeros(3))[:3]).max() < 1e-6
    assert found.force_on_hook_N() == pytest.approx(solved.force_on_hook_N(), abs=1e-6)


def test_the_curve_goes_from_nothing_through_the_working_point():
    setup = Setup(cantilever(TOOTH))
    curve = force_activation(setup, 4.0, 1e9)
    working = engage(setup, 4.0)
    assert curve.points[0].force_N == 0.0
    assert curve.working.force_N == pytest.approx(working.force_N, rel=1e-6)
    small = curve.points[1]
    assert small.force_N / small.activation_mm == pytest.approx(
        curve.working.force_N / 4.0, rel=0.15
    )


def test_what_is_not_computed_with_it_is_refused():
    with pytest.raises(ValueError, match="without play and peg"):
        Setup(cantilever(), slot=Slot(0.5588, 0.7, 4.0))
    result = solve_batch([cantilever()], np.array([1.0]))
    assert "not solved in batches" in result.reasons[0]
