"""Stress, activation and ligament of many wires at once: closed forms, and one wire at a time."""

from dataclasses import replace

import numpy as np
import pytest

from fem.appliance import Unit
from fem.batch import solve_batch
from fem.batch_activation import (
    OUT_OF_REACH,
    couples_Nmm,
    forces_N,
    rates_N_per_mm,
    solve_for_couples,
)
from fem.batch_stress import peak_stresses_MPa
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.closed_form import TwoPointCantilever
from fem.engage import Setup, elastic_stress_MPa, engage_for_couple
from fem.ligament_percentiles import hydrostatic_percentiles
from fem.material import Elastic
from fem.rigid import rotation
from fem.section import rectangular_section, round_section
from fem.stress import hydrostatic, volume_statistics
from fem.support import StressBasis
from geometry.wire_features import Helix
from geometry.wire_path import Straight

STEEL, BETA_TI = Elastic(170e3, 0.3), Elastic(65e3, 0.3)
FLAT, THIN = rectangular_section(0.635, 0.4318), round_section(0.4064)
ROUNDED = rectangular_section(0.5588, 0.4064, 0.14)
TOOTH = np.diag([200.0, 180.0, 100.0, 3000.0, 2500.0, 800.0])
UP = np.array([0.0, 0.0, 1.0])
BASE = 4.0


def in_line(span, *, section=FLAT, material=STEEL, run=()):
    """Tube, hook and activation in one plane, units immovable: the wire of the textbooks."""
    mouths = (np.zeros(3), np.array([BASE, 0.0, 0.0]))
    hook = mouths[1] + np.array([span, 0.0, 0.0])
    sites = CantileverSites(mouths, np.eye(3), hook, np.array([1.0, 0.0, 0.0]), UP)
    units = (Unit("tooth", np.zeros(3), None), Unit("anchor", hook, None))
    return Cantilever(sites, WireDesign(section, material, 0.5, 12, run), units)


def in_space(span, bar, *, section, material=BETA_TI, run=()):
    axes = rotation(np.array([0.1, -0.3, 0.08]))
    mouths = (np.zeros(3), BASE * axes[:, 0])
    hook = mouths[1] + span * np.array([1.0, 0.1, 0.05])
    sites = CantileverSites(mouths, axes, hook, bar, UP)
    units = (Unit("tooth", np.array([1.0, 2.0, -9.0]), TOOTH), Unit("anchor", hook, 3 * TOOTH))
    return Cantilever(sites, WireDesign(section, material, 1.0, 12, run), units)


SLANTED = np.array([1.0, 0.3, -0.2])
MIXED = [
    in_space(18.0, SLANTED, section=FLAT),
    in_space(24.0, None, section=THIN, material=STEEL),
    in_space(21.0, SLANTED, section=ROUNDED, run=(Straight(4.0), Helix(1.0, 1.2, 0.6, "-height"))),
]
OFFSETS = np.array([3.0, 5.0, 4.0])


# --- statics and stress --------------------------------------------------------------------------


def test_couple_is_the_moment_of_the_hook_force_about_the_tube():
    # Statics: the wire's end takes a force alone, so M = r × F about any point.
    result = solve_batch(MIXED, OFFSETS)
    arm = result.points[:, -1] - np.array([wire.sites.tube_middle for wire in MIXED])
    moment = np.linalg.norm(np.cross(arm, result.forces_on_hook_N), axis=1)
    assert couples_Nmm(MIXED, result) == pytest.approx(moment, rel=1e-9)


def test_peak_stress_of_small_bending_is_the_textbook_one():
    # σ = F L h / (2 I) at the mesial mouth (Euler–Bernoulli theory, any textbook).
    wire = in_line(20.0)
    result = solve_batch([wire], np.array([0.2]))
    simple = TwoPointCantilever(FLAT, STEEL, 20.0, BASE)
    assert peak_stresses_MPa([wire], result)[0] == pytest.approx(
        simple.peak_stress_MPa(float(forces_N(result)[0])), rel=1e-3
    )


def test_peak_stress_is_that_of_each_wire_alone():
    peaks = peak_stresses_MPa(MIXED, solve_batch(MIXED, OFFSETS))
    alone = [
        elastic_stress_MPa(wire, solve_for_offset(wire, float(offset))).max()
        for wire, offset in zip(MIXED, OFFSETS, strict=True)
    ]
    # The tied one is alone fitted to a slip of 1e-6 mm only.
    assert peaks[[0, 2]] == pytest.approx(np.array(alone)[[0, 2]], rel=1e-8)
    assert peaks[1] == pytest.approx(alone[1], rel=1e-6)


# --- activation for a couple ---------------------------------------------------------------------


def test_small_couple_needs_the_offset_of_beam_theory():
    # M = F (L + b/2) and F = 3 E I δ / (L² (L + b)), derived in `fem.closed_form`.
    wires = [in_line(span) for span in (16.0, 22.0)]
    offsets, result = solve_for_couples(wires, np.array([0.4, 0.5]))
    for wire, own in zip(wires, offsets.reshape(2, 2), strict=True):
        simple = TwoPointCantilever(FLAT, STEEL, wire.sites.span_mm, BASE)
        per_mm = simple.couple_Nmm(simple.stiffness_N_per_mm)
        assert own == pytest.approx(np.array([0.4, 0.5]) / per_mm, rel=3e-3)
    arms = np.repeat([18.0, 24.0], 2)
    assert forces_N(result) == pytest.approx(np.tile([0.4, 0.5], 2) / arms, rel=1e-3)


def test_wanted_couples_are_met_and_by_the_offset_of_one_wire_alone():
    wanted = np.array([3.0, 4.0, 5.0])
    offsets, result = solve_for_couples(MIXED, wanted)
    many = [wire for wire in MIXED for _ in wanted]
    assert result.converged.all()
    assert couples_Nmm(many, result) == pytest.approx(np.tile(wanted, 3), rel=5e-4)
    alone = engage_for_couple(Setup(MIXED[0]), 4.0).solved.offset_mm
    assert offsets[1] == pytest.approx(alone, rel=1e-3)


def test_one_couple_alone_is_met_too():
    offsets, result = solve_for_couples(MIXED[:1], np.array([8.0]))
    assert couples_Nmm(MIXED[:1], result)[0] == pytest.approx(8.0, rel=5e-4)
    assert np.isfinite(offsets).all()


def test_a_couple_out_of_reach_is_said_and_does_not_stop_the_others():
    soft = in_line(28.0, section=THIN, material=Elastic(34e3, 0.33))
    offsets, result = solve_for_couples([soft, MIXED[0]], np.array([8.0, 12.0]))
    assert list(result.converged) == [False, False, True, True]
    assert result.reasons[0] == OUT_OF_REACH
    assert np.isnan(offsets[:2]).all()
    assert np.isnan(peak_stresses_MPa([soft], solve_for_couples([soft], np.array([12.0]))[1])[0])


@pytest.mark.parametrize("span", [14.0, 24.0])
def test_yield_limits_the_couple_as_beam_theory_says(span):
    # σ_y W = F L at the mouth and M = F (L + b/2), so M ≤ σ_y W (1 + b/2L); W = w h²/6.
    strength = 1300.0
    bound = strength * 0.635 * 0.4318**2 / 6 * (1 + BASE / (2 * span))
    wanted = 0.25 * bound  # small deflection, so that the formula holds
    _, result = solve_for_couples([in_line(span)], np.array([wanted]))
    ratio = peak_stresses_MPa([in_line(span)], result)[0] / strength
    assert ratio == pytest.approx(0.25, rel=0.02)


def test_rate_of_a_straight_wire_is_that_of_beam_theory():
    wire = in_line(20.0)
    offsets = np.array([0.3])
    result = solve_batch([wire], offsets)
    simple = TwoPointCantilever(FLAT, STEEL, 20.0, BASE)
    rate = rates_N_per_mm([wire], offsets, forces_N(result))
    assert rate[0] == pytest.approx(simple.timoshenko_stiffness_N_per_mm, rel=5e-3)


def test_rate_is_that_of_the_same_bent_wire_let_back():
    # The wire bent for 3 mm, its hook 0.15 mm nearer to its passive end.
    wire, step = MIXED[0], 0.15
    sites = wire.sites
    near = replace(wire, sites=replace(sites, hook=sites.hook - step * UP))
    forces = [
        np.linalg.norm(solve_for_offset(w, d).force_on_hook_N())
        for w, d in ((wire, 3.0), (near, 3.0 - step))
    ]
    rate = rates_N_per_mm([wire], np.array([3.0]), np.array([forces[0]]))
    assert rate[0] == pytest.approx((forces[0] - forces[1]) / step, rel=1e-6)


# --- percentiles of the ligament -----------------------------------------------------------------


def basis_of(n, seed=1):
    drawn = np.random.default_rng(seed)
    return StressBasis(drawn.normal(size=(6, 6, n, 4)), drawn.uniform(0.5, 2.0, size=(n, 4)))


@pytest.mark.parametrize("spread", [0.0, 0.02, 0.3, 10.0])
def test_percentiles_are_those_of_each_field_alone(spread):
    basis, drawn = basis_of(700), np.random.default_rng(2)
    sizes = drawn.uniform(0.1, 3.0, size=(90, 1))
    motions = sizes * (
        np.array([1.0, -2.0, 0.5, 0.1, 0.3, -0.2]) + spread * drawn.normal(size=(90, 6))
    )
    found = hydrostatic_percentiles(basis, motions)
    for own, motion in zip(found, motions, strict=True):
        alone = volume_statistics(hydrostatic(basis.combine(motion)), basis.volumes)
        assert own == pytest.approx([alone.p01, alone.p99], rel=1e-12)


def test_percentiles_of_an_even_ramp():
    # p = q z with z even over [0, 1]: 1 and 99 % of the volume lie below 0.01 q and 0.99 q.
    n = 5000
    values = np.zeros((6, 6, n, 1))
    values[2, :3] = ((np.arange(n) + 0.5) / n)[:, None]
    basis = StressBasis(values, np.ones((n, 1)))
    motions = np.zeros((40, 6))
    motions[:, 2] = np.linspace(-1, 2, 40)
    low, high = hydrostatic_percentiles(basis, motions).T
    ends = np.sort([0.01 * motions[:, 2], 0.99 * motions[:, 2]], axis=0)
    assert low == pytest.approx(ends[0], abs=1e-3)
    assert high == pytest.approx(ends[1], abs=1e-3)


def test_no_motion_gives_no_stress_and_an_unknown_one_none():
    motions = np.zeros((3, 6))
    motions[1] = np.nan
    motions[2, 0] = 1.0
    found = hydrostatic_percentiles(basis_of(50), motions)
    assert found[0] == pytest.approx([0.0, 0.0])
    assert np.isnan(found[1]).all()
    assert np.isfinite(found[2]).all()
