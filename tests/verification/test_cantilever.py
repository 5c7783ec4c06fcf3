"""A cantilever in a tube: beam theory, the 3D solid, statics, and facts of the trade."""

from dataclasses import replace

import numpy as np
import pytest

from fem.appliance import Unit
from fem.cantilever import (
    Cantilever,
    CantileverSites,
    WireDesign,
    solve_for_offset,
)
from fem.closed_form import TwoPointCantilever
from fem.engage import Setup, engage_for_couple
from fem.material import Elastic
from fem.section import rectangular_section, round_section
from fem.wire_solid import solid_two_point_cantilever

SECTION = rectangular_section(0.635, 0.4318)  # 0.017 × 0.025 in
STEEL, BETA_TI, NITI = Elastic(170e3, 0.3), Elastic(65e3, 0.3), Elastic(34e3, 0.33)
ALONG, ASIDE, UP = np.eye(3)
BASE = 4.0


def cantilever(span=20.0, *, material=BETA_TI, bar=ALONG, tip_deg=0.0, stiffness=(None, None)):
    a = np.radians(tip_deg)
    axes = np.column_stack([[np.cos(a), 0, -np.sin(a)], ASIDE, [np.sin(a), 0, np.cos(a)]])
    mouths = (np.zeros(3), BASE * axes[:, 0])
    hook = mouths[1] + span * ALONG
    sites = CantileverSites(mouths, axes, hook, bar, UP)
    units = (Unit("tooth", np.zeros(3), stiffness[0]), Unit("anchor", hook, stiffness[1]))
    return Cantilever(sites, WireDesign(SECTION, material, 1.0, 40), units)


def force(solved):
    return float(np.linalg.norm(solved.force_on_hook_N()))


def couple(solved, design):
    return float(np.linalg.norm(solved.couple_on_tube_Nmm(design.sites.tube_middle)))


@pytest.mark.parametrize("span", [20.0, 30.0])
def test_small_activation_is_the_two_point_formula(span):
    """3EI/(L²(L+b)) of Euler–Bernoulli theory, with shear suppressed as that theory does.

    The bound of 0.1 % covers the true effect of the small rotation.
    """
    design = cantilever(span)
    plain = replace(design, wire=replace(design.wire, shear_rigid=True))
    solved = solve_for_offset(plain, 1e-3 * span)
    beam = TwoPointCantilever(SECTION, BETA_TI, span, BASE)
    assert force(solved) / solved.offset_mm == pytest.approx(beam.stiffness_N_per_mm, rel=1e-3)


@pytest.mark.parametrize("span", [6.0, 12.0, 20.0, 30.0])
def test_small_activation_with_shear(span):
    """The same with Timoshenko's shear, at any span; nothing but the small rotation is left."""
    solved = solve_for_offset(cantilever(span), 1e-3 * span)
    beam = TwoPointCantilever(SECTION, BETA_TI, span, BASE)
    expected = beam.timoshenko_stiffness_N_per_mm
    assert force(solved) / solved.offset_mm == pytest.approx(expected, rel=1e-4)


def test_a_tube_is_softer_than_a_clamp():
    """The formula itself: with b → 0 a wire only hinged would have no stiffness, with b → ∞ 0."""
    long = TwoPointCantilever(SECTION, BETA_TI, 20.0, 4.0).stiffness_N_per_mm
    clamp = 3 * 65e3 * SECTION.I_height_mm4 / 20.0**3
    assert long == pytest.approx(clamp * 20 / 24, rel=1e-12)


def test_contact_forces_of_a_straight_wire():
    """F·L/b and F·(L+b)/b, statics of a bar on two supports."""
    solved = solve_for_offset(cantilever(20.0), 0.02)
    across = [np.linalg.norm(load.wrench[:3]) for load in solved.equilibrium.loads[:2]]
    beam = TwoPointCantilever(SECTION, BETA_TI, 20.0, BASE)
    assert across == pytest.approx(beam.contact_forces_N(force(solved)), rel=1e-3)


@pytest.mark.parametrize("span", [10.0, 20.0])
def test_solid_is_timoshenko_within_one_percent(span):
    """Timoshenko beam with Cowper's factor (Cowper 1966, from memory), same supports."""
    solid = solid_two_point_cantilever(SECTION, BETA_TI, span, BASE)
    beam = TwoPointCantilever(SECTION, BETA_TI, span, BASE)
    expected = beam.timoshenko_stiffness_N_per_mm
    assert solid.stiffness_N_per_mm == pytest.approx(expected, rel=1e-2)


def test_solid_deflects_along_the_whole_wire_as_the_beam():
    """Deflection between the contacts is F L x (x² − b²)/(6 E I b); at the tip 1/k."""
    solid = solid_two_point_cantilever(SECTION, BETA_TI, 20.0, BASE)
    inside = (solid.positions_mm > 0.5) & (solid.positions_mm < BASE - 0.5)
    x = solid.positions_mm[inside]
    EI = 65e3 * SECTION.I_height_mm4
    expected = -20.0 * x * (BASE**2 - x**2) / (6 * EI * BASE)
    largest = np.abs(solid.deflection_mm_per_N).max()
    assert solid.deflection_mm_per_N[inside] == pytest.approx(expected, abs=1e-3 * largest)


@pytest.mark.parametrize("bar", [ALONG, None], ids=["bar", "tied"])
@pytest.mark.parametrize("tip_deg", [0.0, 25.0])
def test_free_body_balances(bar, tip_deg):
    """What the wire exerts on both units sums to nothing about any point (statics)."""
    soft = np.diag([200.0, 200, 100, 3000, 3000, 800])
    design = cantilever(18.0, bar=bar, tip_deg=tip_deg, stiffness=(soft, 3 * soft))
    solved = solve_for_offset(design, 5.0)
    point = np.array([7.0, -3.0, 11.0])
    total = sum(solved.equilibrium.wrench_on(unit, point) for unit in (0, 1))
    assert np.linalg.norm(total[:3]) < 1e-8 * force(solved)
    assert np.linalg.norm(total[3:]) < 1e-8 * couple(solved, design)


def test_a_unit_moves_as_its_support_says():
    """K q = W: the reported motion is the reported load over the 6×6."""
    soft = np.diag([200.0, 200, 100, 3000, 3000, 800])
    design = cantilever(18.0, tip_deg=25.0, stiffness=(soft, 3 * soft))
    solved = solve_for_offset(design, 5.0)
    for unit, K in ((0, soft), (1, 3 * soft)):
        wrench = solved.equilibrium.wrench_on(unit, design.units[unit].point)
        assert K @ solved.equilibrium.motions[unit] == pytest.approx(wrench, abs=1e-6)


def test_bar_takes_no_force_along_itself_and_a_tie_does():
    slanted = np.array([1.0, 0.3, 0.1]) / np.linalg.norm([1.0, 0.3, 0.1])
    on_bar = solve_for_offset(cantilever(18.0, bar=slanted, tip_deg=20.0), 4.0)
    tied = solve_for_offset(cantilever(18.0, bar=None, tip_deg=20.0), 4.0)
    assert abs(on_bar.force_on_hook_N() @ slanted) < 1e-9
    assert abs(tied.force_on_hook_N() @ ALONG) > 0.1 * force(tied)


def test_tied_wire_needs_no_hold_along_its_tube():
    design = cantilever(18.0, bar=None, tip_deg=20.0)
    solved = solve_for_offset(design, 4.0)
    axis = design.sites.tube_axes[:, 0]
    tube = sum(load.wrench[:3] for load in solved.equilibrium.loads if load.unit == 0)
    hook = solved.force_on_hook_N()
    assert tube @ axis == pytest.approx(-hook @ axis, abs=1e-8)
    first = solved.equilibrium.loads[0].wrench[:3]
    assert abs(first @ axis) < 1e-9


@pytest.mark.parametrize("bar", [ALONG, None], ids=["bar", "tied"])
def test_wanted_couple_is_reached(bar):
    design = cantilever(18.0, bar=bar, tip_deg=25.0)
    solved = engage_for_couple(Setup(design), 11.77).solved
    assert couple(solved, design) == pytest.approx(11.77, rel=1e-8)


def test_impossible_couple_says_the_largest():
    with pytest.raises(ValueError, match="the largest is"):
        engage_for_couple(Setup(cantilever(18.0)), 500.0)


def test_unreachable_target_names_the_remedy():
    with pytest.raises(ValueError, match="out of reach of one bend"):
        solve_for_offset(cantilever(0.9), 0.8)


# Facts of the trade: common practice, no source.


def test_same_couple_farther_away_takes_less_force():
    """Force in inverse proportion to the hook's distance (also Melsen et al. 1996, JCO 30:640)."""
    near, far = cantilever(14.0), cantilever(24.0)
    first, second = (engage_for_couple(Setup(each), 11.77).solved for each in (near, far))
    distance = [
        np.linalg.norm(s.touch_mm - d.sites.tube_middle) for s, d in ((first, near), (second, far))
    ]
    assert force(second) / force(first) == pytest.approx(distance[0] / distance[1], rel=1e-2)
    assert force(second) < force(first)


def test_alloys_rank_at_equal_activation():
    forces = [
        force(solve_for_offset(cantilever(20.0, material=m), 5.0)) for m in (NITI, BETA_TI, STEEL)
    ]
    assert forces == sorted(forces)
    assert forces[2] / forces[1] == pytest.approx(170 / 65, rel=1e-2)


def test_more_anchor_moves_less():
    tooth = np.diag([200.0, 200, 100, 3000, 3000, 800])
    moved = []
    for teeth in (1, 3):
        solved = solve_for_offset(cantilever(18.0, stiffness=(tooth, teeth * tooth)), 5.0)
        moved.append(np.linalg.norm(solved.equilibrium.motions[1][:3]))
    assert moved[1] == pytest.approx(moved[0] / 3, rel=2e-2)


def test_peak_stress_is_at_the_mouth():
    """M c / I with M = F L (beam theory)."""
    from fem.rod import section_resultants

    solved = solve_for_offset(cantilever(20.0), 0.02)
    resultants = section_resultants(solved.appliance.rod, solved.equilibrium.state)
    beam = TwoPointCantilever(SECTION, BETA_TI, 20.0, BASE)
    expected = beam.peak_stress_MPa(force(solved))
    assert SECTION.peak_stress_MPa(resultants).max() == pytest.approx(expected, rel=1e-3)


def test_round_wire_is_not_swept():
    with pytest.raises(ValueError, match="rectangular sections only"):
        solid_two_point_cantilever(round_section(0.4), BETA_TI, 20.0, BASE)
