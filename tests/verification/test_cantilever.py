"""A cantilever in a tube: supports, bars and ties, wanted couples, and what is out of reach."""

import numpy as np
import pytest

from fem.cantilever import solve_for_offset
from fem.engage import Setup, engage_for_couple
from fem.section import round_section
from fem.wire_solid import solid_two_point_cantilever
from workflow.verification.rods_cantilever import (
    ALONG,
    BETA_TITANIUM,
    hook_force_N,
    tube_cantilever,
)


def couple(solved, design):
    return float(np.linalg.norm(solved.couple_on_tube_Nmm(design.sites.tube_middle)))


def test_a_unit_moves_as_its_support_says():
    """K q = W: the reported motion is the reported load over the 6×6."""
    soft = np.diag([200.0, 200, 100, 3000, 3000, 800])
    design = tube_cantilever(18.0, tip_deg=25.0, stiffness=(soft, 3 * soft))
    solved = solve_for_offset(design, 5.0)
    for unit, K in ((0, soft), (1, 3 * soft)):
        wrench = solved.equilibrium.wrench_on(unit, design.units[unit].point)
        assert K @ solved.equilibrium.motions[unit] == pytest.approx(wrench, abs=1e-6)


def test_bar_takes_no_force_along_itself_and_a_tie_does():
    slanted = np.array([1.0, 0.3, 0.1]) / np.linalg.norm([1.0, 0.3, 0.1])
    on_bar = solve_for_offset(tube_cantilever(18.0, bar=slanted, tip_deg=20.0), 4.0)
    tied = solve_for_offset(tube_cantilever(18.0, bar=None, tip_deg=20.0), 4.0)
    assert abs(on_bar.force_on_hook_N() @ slanted) < 1e-9
    assert abs(tied.force_on_hook_N() @ ALONG) > 0.1 * hook_force_N(tied)


def test_tied_wire_needs_no_hold_along_its_tube():
    design = tube_cantilever(18.0, bar=None, tip_deg=20.0)
    solved = solve_for_offset(design, 4.0)
    axis = design.sites.tube_axes[:, 0]
    tube = sum(load.wrench[:3] for load in solved.equilibrium.loads if load.unit == 0)
    hook = solved.force_on_hook_N()
    assert tube @ axis == pytest.approx(-hook @ axis, abs=1e-8)
    first = solved.equilibrium.loads[0].wrench[:3]
    assert abs(first @ axis) < 1e-9


@pytest.mark.parametrize("bar", [ALONG, None], ids=["bar", "tied"])
def test_wanted_couple_is_reached(bar):
    design = tube_cantilever(18.0, bar=bar, tip_deg=25.0)
    solved = engage_for_couple(Setup(design), 11.77).solved
    assert couple(solved, design) == pytest.approx(11.77, rel=1e-8)


def test_impossible_couple_says_the_largest():
    with pytest.raises(ValueError, match="the largest is"):
        engage_for_couple(Setup(tube_cantilever(18.0)), 500.0)


def test_unreachable_target_names_the_remedy():
    with pytest.raises(ValueError, match="out of reach of one bend"):
        solve_for_offset(tube_cantilever(0.9), 0.8)


def test_more_anchor_moves_less():
    tooth = np.diag([200.0, 200, 100, 3000, 3000, 800])
    moved = []
    for teeth in (1, 3):
        solved = solve_for_offset(tube_cantilever(18.0, stiffness=(tooth, teeth * tooth)), 5.0)
        moved.append(np.linalg.norm(solved.equilibrium.motions[1][:3]))
    assert moved[1] == pytest.approx(moved[0] / 3, rel=2e-2)


def test_round_wire_is_not_swept():
    with pytest.raises(ValueError, match="rectangular sections only"):
        solid_two_point_cantilever(round_section(0.4), BETA_TITANIUM, 20.0, 4.0)
