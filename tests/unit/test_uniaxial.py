"""Uniaxial laws: tangents, loops and the energy they lose."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fem.uniaxial import ElasticPlastic, Superelastic, compression_ratios

HARDENING = ElasticPlastic(170e3, 1300.0, 8e3)
PERFECT = ElasticPlastic(65e3, 830.0)
NITI = Superelastic(60e3, 520.0, 600.0, 300.0, 200.0, 0.075)
TWO_MODULI = Superelastic(40e3, 400.0, 450.0, 200.0, 150.0, 0.05, 30e3, 1.45, 0.7)
LAWS = (HARDENING, PERFECT, NITI, TWO_MODULI)


def follow(law, path):
    """Stress along a path of strains, and the last state."""
    state, stress = law.initial_state(()), []
    for strain in path:
        value, _, state = law.update(np.array(strain), state)
        stress.append(float(value))
    return np.array(stress), state


def legs(*turns, n=200):
    """Strains from zero through the turning points, n a leg."""
    ends = (0.0, *turns)
    return np.concatenate([np.linspace(a, b, n + 1)[1:] for a, b in pairwise(ends)])


@pytest.mark.parametrize("law", LAWS)
def test_tangent_is_the_slope(law):
    """Central differences at random strains from random states, kinks left out."""
    rng = np.random.default_rng(1)
    _, _, state = law.update(rng.normal(0, 0.03, 4000), law.initial_state((4000,)))
    strain, h = rng.normal(0, 0.03, 4000), 1e-8
    high, low = law.update(strain + h, state), law.update(strain - h, state)
    smooth = np.isclose(high[1], low[1], rtol=1e-3)
    assert smooth.mean() > 0.99
    slope = (high[0] - low[0]) / (2 * h)
    tangent = law.update(strain, state)[1]
    assert slope[smooth] == pytest.approx(tangent[smooth], rel=1e-4, abs=1e-2)
    assert len(np.unique(np.round(tangent))) >= 2


@pytest.mark.parametrize("law", LAWS)
def test_stress_is_continuous_and_does_not_depend_on_the_steps(law):
    """One step along a leg ends where five hundred do."""
    turns = (0.03, 0.012, 0.045, -0.02, -0.09, -0.03, 0.01)
    fine, fine_state = follow(law, legs(*turns, n=500))
    coarse, coarse_state = follow(law, turns)
    assert coarse == pytest.approx(fine[499::500], rel=1e-9, abs=1e-6)
    assert coarse_state == pytest.approx(fine_state, rel=1e-9, abs=1e-12)
    assert np.abs(np.diff(fine)).max() < 1.01 * law.initial_modulus_MPa * 0.07 / 500 * 2


def test_linear_hardening_by_hand():
    """Yield at σ_y, slope EH/(E+H), reverse yield 2σ_y below the turning point (textbook)."""
    E, H, limit = 170e3, 8e3, 1300.0
    top = limit + E * H / (E + H) * (0.02 - limit / E)
    stress, _ = follow(HARDENING, [limit / E, 0.02, 0.02 - 2 * limit / E, -0.01])
    back = top - 2 * limit - E * H / (E + H) * (0.02 - 2 * limit / E + 0.01)
    assert stress == pytest.approx([limit, top, top - 2 * limit, back], rel=1e-12)


def test_superelastic_by_hand():
    """Corners of the loop and a point half way, from the piecewise linear law.

    Auricchio & Taylor 1997 and Auricchio 2001 constants; uniaxial consequences derived.
    """
    start, finish = 520 / 60e3, 0.085
    loading, state = follow(NITI, [start, 0.5 * (start + finish), finish, 0.09])
    assert loading == pytest.approx([520, 560, 600, 900], rel=1e-12)
    assert state[1] == 1.0
    unload = [0.075 + 300 / 60e3, 0.5 * (0.080 + 200 / 60e3), 200 / 60e3, 0.001]
    stress, _ = follow(NITI, [0.09, *unload])
    assert stress[1:] == pytest.approx([300, 250, 200, 60], rel=1e-12)


def test_partial_unloading_starts_at_the_plateau_of_the_full_loop():
    """From ξ₀: elastic to σ'_s, then ``σ = (E ε + c σ'_f)/(1 + c)``, c = E ε_L ξ₀/(σ'_s − σ'_f)."""
    _, state = follow(NITI, [0.04])
    share = state[1]
    assert share == pytest.approx((0.04 - 520 / 60e3) / (0.085 - 520 / 60e3) * 1.0, rel=1e-12)
    knee = 0.075 * share + 300 / 60e3
    c = 60e3 * 0.075 * share / 100
    path = [0.04, knee, 0.02, 200 / 60e3]
    stress, _ = follow(NITI, path)
    assert stress[1:] == pytest.approx([300, (60e3 * 0.02 + c * 200) / (1 + c), 200], rel=1e-12)


def test_martensite_modulus():
    """Fully transformed, the wire unloads with E_M; ``ε = σ/E_M + ε_L``."""
    stress, _ = follow(TWO_MODULI, [0.05 + 600 / 30e3, 0.05 + 300 / 30e3])
    assert stress == pytest.approx([600, 300], rel=1e-12)


def test_compression_has_its_own_plateau():
    law = Superelastic(
        60e3, 520, 600, 300, 200, 0.06, compression_stress_ratio=1.5, compression_strain_ratio=0.5
    )
    strain = -(780 / 60e3)
    stress, _ = follow(law, [strain, -(900 / 60e3 + 0.03), -(1200 / 60e3 + 0.03)])
    assert stress == pytest.approx([-780, -900, -1200], rel=1e-12)


def test_asymmetry_of_the_pressure_sensitive_criterion():
    """α = 0.15 gives 1.450115 (derived from the criterion of Auricchio & Taylor 1997)."""
    stress, strain = compression_ratios(0.15)
    assert stress == pytest.approx(1.450115, abs=1e-6)
    assert stress * strain == pytest.approx(1.0)


@pytest.mark.parametrize("law", [NITI, TWO_MODULI])
@given(turns=st.lists(st.floats(0.0, 0.1), min_size=1, max_size=8))
@settings(max_examples=40, deadline=None, derandomize=True)
def test_partial_loops_stay_inside_the_outer_loop(law, turns):
    """Between the loading curve of austenite and the unloading curve of martensite."""
    path = legs(*turns, n=25)
    stress, _ = follow(law, path)
    upper = law.update(path, law.initial_state((len(path),)))[0]
    full = law.update(np.full(len(path), 0.2), law.initial_state((len(path),)))[2]
    lower = law.update(path, full)[0]
    assert np.all(stress <= upper + 1e-6)
    assert np.all(stress >= lower - 1e-6)


TURNS = st.lists(st.floats(-0.08, 0.08), min_size=2, max_size=6)


def work(path, stress):
    """∫ σ dε from the origin and what the trapezoids may miss at two kinks a leg."""
    strain, sigma = np.append(0.0, path), np.append(0.0, stress)
    steps = np.diff(strain)
    missed = 60e3 * 3 * np.abs(steps).max() ** 2 * 12
    return np.sum(0.5 * (sigma[1:] + sigma[:-1]) * steps), missed


@pytest.mark.parametrize("law", [NITI, TWO_MODULI])
@given(turns=TURNS)
@settings(max_examples=25, deadline=None, derandomize=True)
def test_superelastic_wire_gives_no_energy_back(law, turns):
    """∮ σ dε ≥ 0 from austenite to austenite, whatever lies between."""
    path = legs(*turns, 0.0, n=200)
    stress, state = follow(law, path)
    assert stress[-1] == 0
    assert np.all(state == 0)
    spent, missed = work(path, stress)
    assert spent >= -missed


@pytest.mark.parametrize("law", [HARDENING, PERFECT])
@given(turns=TURNS)
@settings(max_examples=25, deadline=None, derandomize=True)
def test_plastic_work_is_lost(law, turns):
    """``∫ σ dε − σ²/2E − H εₚ²/2 = σ_y ∫ |dεₚ|``: what is not stored is dissipated at yield."""
    path = legs(*turns, n=200)
    state, stress, slip = law.initial_state(()), [], 0.0
    for strain in path:
        value, _, new = law.update(np.array(strain), state)
        slip += abs(float(new[0] - state[0]))
        stress, state = [*stress, float(value)], new
    plastic = float(state[0])
    stored = stress[-1] ** 2 / (2 * law.youngs_modulus_MPa)
    stored += law.hardening_modulus_MPa * plastic**2 / 2
    spent, missed = work(path, np.array(stress))
    assert spent - stored == pytest.approx(law.yield_strength_MPa * slip, abs=missed)


@pytest.mark.parametrize(("law", "turn"), [(PERFECT, 0.03), (NITI, 0.1), (TWO_MODULI, 0.04)])
def test_a_full_loop_loses_energy(law, turn):
    """The area of the loop; for the full superelastic one it is plateau gap times strain."""
    path = np.concatenate([[0.0], legs(turn, 0.0, n=4000)])
    stress = np.concatenate([[0.0], follow(law, path[1:])[0]])
    lost = np.sum(0.5 * (stress[1:] + stress[:-1]) * np.diff(path))
    assert lost > 0
    if law is NITI:
        assert lost == pytest.approx(0.075 * (560 - 250), rel=1e-3)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: ElasticPlastic(0, 1), "youngs_modulus_MPa"),
        (lambda: ElasticPlastic(1, -1), "yield_strength_MPa"),
        (lambda: ElasticPlastic(1, 1, -0.1), "hardening_modulus_MPa"),
        (lambda: Superelastic(60e3, 520, 500, 300, 200, 0.05), "must rise"),
        (lambda: Superelastic(60e3, 520, 600, 300, -10, 0.05), "unloading_finish_MPa"),
        (lambda: compression_ratios(0.9), "pressure_sensitivity"),
    ],
)
def test_wrong_constants_are_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()
