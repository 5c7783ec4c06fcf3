"""A wire that three units hold: continuous beam, balance, and what it refuses."""

from dataclasses import replace

import numpy as np
import pytest

from fem.appliance import Unit
from fem.batch import solve_batch
from fem.cantilever import solve_for_offset
from fem.cantilever_design import (
    Cantilever,
    CantileverSites,
    FurtherBracket,
    FurtherHold,
    WireDesign,
)
from fem.engage import Setup, engage
from fem.force_activation import force_activation
from fem.material import Elastic
from fem.section import rectangular_section
from fem.slot import Slot
from geometry.sites import Tube

SECTION, BETA_TI = rectangular_section(0.635, 0.4318), Elastic(65e3, 0.3)
EI = 65e3 * SECTION.I_height_mm4
B, L, AT = 4.0, 20.0, 12.0
ALONG, UP = np.array([1.0, 0, 0]), np.array([0.0, 0, 1])
TOOTH = np.diag([300.0, 280.0, 150.0, 4000.0, 4500.0, 1000.0])


def cantilever(stiffness=None, raised=0.0):
    mouths = (np.zeros(3), np.array([B, 0, 0]))
    hook, middle = np.array([B + L, 0, 0]), np.array([B + AT, 0, raised])
    sites = CantileverSites(mouths, np.eye(3), hook, ALONG, UP)
    units = tuple(
        Unit(name, np.array([x, 1.0, -9.0]), stiffness)
        for name, x in (("tube", 2.0), ("hook", B + L), ("middle", B + AT))
    )
    wire = WireDesign(SECTION, BETA_TI, 1.0, 40, shear_rigid=True)
    return Cantilever(sites, wire, units, (FurtherHold(2, middle, ALONG),))


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


def test_all_units_balance():
    solved = solve_for_offset(cantilever(TOOTH), 4.0)
    wrenches = np.array([solved.equilibrium.wrench_on(unit, np.zeros(3)) for unit in range(3)])
    assert np.abs(wrenches.sum(axis=0)).max() < 1e-8 * np.abs(wrenches).max()
    assert np.abs(wrenches[2, :3]).max() > 0.01


class Node:
    """A node of the wire where it passes a place, held by nothing."""

    along_mm = (0.0,)

    def __init__(self, place):
        self.place = place

    def contacts(self, nodes, path):
        (self.node,) = nodes
        return ()


def at_rest(alone, offset, place):
    """Place and bar near another place over which the engaged wire lies anyway."""
    for _ in range(20):
        node = Node(place)
        solved = solve_for_offset(replace(alone, further=(node,)), offset)
        state, before = solved.equilibrium.state, place
        lies, bar = state.points[node.node], state.axes[node.node][:, 0]
        place = lies - (lies - place) @ bar * bar
    assert place == pytest.approx(before, abs=1e-13)
    return place, bar, solved


def test_an_untouched_hold_changes_nothing():
    """Where the engaged wire lies over the bar anyway, the further unit feels nothing."""
    alone = replace(cantilever(), further=())
    place, bar, solved = at_rest(alone, 3.0, np.array([B + AT, 0, 0]))
    found = solve_for_offset(replace(alone, further=(FurtherHold(2, place, bar),)), 3.0)
    assert np.abs(found.equilibrium.wrench_on(2, np.zeros(3))[:3]).max() < 1e-6
    assert found.force_on_hook_N() == pytest.approx(solved.force_on_hook_N(), abs=1e-6)
    off = FurtherHold(2, place + 0.1 * UP, bar)
    pushed = solve_for_offset(replace(alone, further=(off,)), 3.0)
    assert np.abs(pushed.equilibrium.wrench_on(2, np.zeros(3))[:3]).max() > 0.01


def bracket_at(middle, width=3.2):
    return FurtherBracket(
        2, Tube((middle - width / 2 * ALONG, middle + width / 2 * ALONG), np.eye(3))
    )


def test_a_bracket_on_the_way_gives_its_unit_a_couple():
    """A straight wire, its end raised, on five supports: two mouths, two edges and the hook."""
    offset, width = 0.01, 3.2
    middle = np.array([B + AT, 0.0, 0.0])
    held = replace(cantilever(), further=(bracket_at(middle, width),))
    loads = solve_for_offset(held, offset).equilibrium.loads
    upward = sorted((load.point[0], -load.wrench[2]) for load in loads if abs(load.wrench[2]) > 0)
    x = np.array([0.0, B, B + AT - width / 2, B + AT + width / 2, B + L])
    assert [place for place, _ in upward] == pytest.approx(x, abs=2e-3)
    # seen from the straight wire, bent half-way along a bend of 0.1 mm, they rise in proportion
    raised = offset * np.clip((x - B - 0.05) / (L - 0.05), 0, None)
    assert [force for _, force in upward] == pytest.approx(continuous_beam(x, raised), rel=5e-3)


def continuous_beam(x, raised):
    """Upward forces on a straight beam on supports raised by so much (three moments, textbook)."""
    spans, n = np.diff(x), len(x)
    A, right = np.eye(n), np.zeros(n)
    for i in range(1, n - 1):
        left, next_ = spans[i - 1], spans[i]
        A[i, i - 1 : i + 2] = left, 2 * (left + next_), next_
        slopes = (raised[i - 1] - raised[i]) / left + (raised[i + 1] - raised[i]) / next_
        right[i] = 6 * EI * slopes
    moments = np.linalg.solve(A, right)
    shear = np.diff(moments) / spans
    return np.diff(np.concatenate([[0.0], shear, [0.0]]))


def test_units_balance_with_a_bracket_between():
    held = replace(cantilever(TOOTH), further=(bracket_at(np.array([B + AT, 0.4, 0.8])),))
    solved = solve_for_offset(held, 4.0)
    wrenches = np.array([solved.equilibrium.wrench_on(unit, np.zeros(3)) for unit in range(3)])
    assert np.abs(wrenches.sum(axis=0)).max() < 1e-8 * np.abs(wrenches).max()
    couple = solved.equilibrium.wrench_on(2, held.further[0].place)[3:]
    assert np.linalg.norm(couple) > 0.1


def test_a_unit_that_the_wire_does_not_pass_is_refused():
    behind = replace(cantilever(), further=(FurtherHold(2, np.array([B - 2.0, 0, 0]), ALONG),))
    with pytest.raises(ValueError, match="does not pass the further unit"):
        solve_for_offset(behind, 1.0)


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
