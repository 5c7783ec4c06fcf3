"""A cantilever's wire seated in a second bracket, against beam theory and statics."""

from dataclasses import replace

import numpy as np
import pytest

from fem.appliance import Unit
from fem.cantilever import solve_for_offset
from fem.cantilever_design import ONE_POINT, TWO_POINT, Cantilever, CantileverSites, WireDesign
from fem.engage import Alloy, Setup, engage
from fem.fibre import FibreSection, rectangular_fibres
from fem.material import Elastic
from fem.section import rectangular_section
from fem.uniaxial import ElasticPlastic
from geometry.sites import Tube

SECTION, BETA_TI = rectangular_section(0.635, 0.4318), Elastic(65e3, 0.3)
EI = 65e3 * SECTION.I_height_mm4
B, L, W = 4.0, 18.0, 3.2
UP = np.array([0.0, 0, 1])
TOOTH = np.diag([200.0, 180.0, 100.0, 3000.0, 2500.0, 800.0])


def cantilever(stiffness=None, **wire):
    mouths = (np.zeros(3), np.array([B, 0, 0]))
    hook = np.array([B + L, 0, 0])
    sites = CantileverSites(mouths, np.eye(3), hook, None, UP)
    units = (
        Unit("tube", np.array([2.0, 1, -9]), stiffness),
        Unit("bracket", np.array([24.0, 1, -8]), stiffness),
    )
    return Cantilever(sites, WireDesign(SECTION, BETA_TI, 1.0, 40, **wire), units)


def bracket(turn=0.0):
    c, s = np.cos(turn), np.sin(turn)
    axes = np.array([[c, 0, -s], [0, 1, 0], [s, 0, c]])
    near = np.array([B + L, 0.0, 0])
    return Tube((near, near + W * axes[:, 0]), axes)


def seat(design, offset, held):
    sites = replace(design.sites, hook=held.mouths[0], bracket=held)
    return solve_for_offset(replace(design, sites=sites), offset)


def middle(held):
    return 0.5 * (held.mouths[0] + held.mouths[1])


def loads(solved, held):
    """Force and couple on both units, about the middles of tube and bracket."""
    at = (np.array([B / 2, 0, 0]), middle(held))
    units = (TWO_POINT, ONE_POINT)
    return np.array([solved.equilibrium.wrench_on(u, p) for u, p in zip(units, at, strict=True)])


def straight_on_four_supports(turn):
    """Reactions of a straight beam on four supports, the last raised by W·turn (three moments).

    ``l₁ M₁ + 2(l₁ + l₂) M₂ + l₂ M₃ = 6EI [(y₁ − y₂)/l₁ + (y₃ − y₂)/l₂]`` with free ends
    (Clapeyron; textbook, sagging positive, from memory).
    """
    y = W * turn
    A = np.array([[2 * (B + L), L], [L, 2 * (L + W)]])
    second, third = np.linalg.solve(A, 6 * EI * np.array([0.0, y / W]))
    return np.array(
        [
            second / B,
            -second / B + (third - second) / L,
            -(third - second) / L - third / W,
            third / W,
        ]
    )


def test_a_tipped_bracket_bends_a_straight_wire_as_a_beam_on_four_supports():
    turn = 1e-3
    solved = seat(cantilever(shear_rigid=True), 0.0, bracket(turn))
    points = sorted(
        (load.point[0], -load.wrench[2]) for load in solved.equilibrium.loads if load.wrench[2]
    )
    upward = [force for _, force in points]
    assert upward == pytest.approx(straight_on_four_supports(turn), rel=2e-3)


def test_both_units_balance():
    held = bracket(0.05)
    on_units = loads(seat(cantilever(TOOTH), 4.0, held), held)
    forces, couples = on_units[:, :3], on_units[:, 3:]
    size = np.abs(forces).max()
    assert np.abs(forces.sum(axis=0)).max() < 1e-8 * size
    middles = np.array([[B / 2, 0, 0], middle(held)])
    total = (couples + np.cross(middles, forces)).sum(axis=0)
    assert np.abs(total).max() < 1e-8 * np.abs(couples).max()


def test_the_angle_of_the_bracket_changes_what_both_units_feel():
    """Not statically determinate: unlike on a hook, where a unit's angle changes nothing."""
    upright, tipped = (
        loads(seat(cantilever(), 4.0, held), held)
        for held in (bracket(0.0), bracket(np.radians(3)))
    )
    assert abs(upright[0, 4] - tipped[0, 4]) > 0.05 * abs(upright[0, 4])
    assert abs(upright[1, 4] - tipped[1, 4]) > 0.1 * abs(upright[1, 4])


def test_an_untouched_wire_rests_in_its_bracket():
    design, held = cantilever(), bracket()
    assert np.abs(loads(seat(design, 0.0, held), held)).max() < 1e-9
    raised = replace(design, sites=replace(design.sites, activation=-UP))
    up, down = (loads(seat(d, 0.01, held), held)[1, 2] for d in (design, raised))
    assert up == pytest.approx(-down, rel=1e-6)


def test_a_wire_in_two_brackets_is_followed_past_its_limit():
    """Below the limit the fibres give what the elastic wire gives; beyond, less and a set."""
    held = bracket(0.05)
    design = cantilever(TOOTH)
    seated = replace(design, sites=replace(design.sites, hook=held.mouths[0], bracket=held))
    fibres = rectangular_fibres(SECTION.width_mm, SECTION.height_mm)
    law = ElasticPlastic(65e3, 300.0)
    elastic, yielding = (
        engage(Setup(seated, alloy=alloy), 6.0)
        for alloy in (None, Alloy(FibreSection(fibres, law), 300.0))
    )
    assert elastic.stress_MPa.max() > 2 * 300
    assert yielding.past_limit.set_mm > 0.05
    assert yielding.force_N < elastic.force_N
