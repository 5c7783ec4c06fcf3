"""Uniaxial laws: partial loops, the energy they lose, constants that are refused."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fem.uniaxial import ElasticPlastic, Superelastic, compression_ratios
from workflow.verification.inelastic_law import HARDENING, LAWS, NITI, PERFECT, TWO_MODULI, followed


def legs(*turns, n=200):
    """Strains from zero through the turning points, n a leg."""
    ends = (0.0, *turns)
    return np.concatenate([np.linspace(a, b, n + 1)[1:] for a, b in pairwise(ends)])


@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
def test_stress_is_continuous_and_the_state_does_not_depend_on_the_steps(law):
    """One step along a leg ends where five hundred do."""
    turns = (0.03, 0.012, 0.045, -0.02, -0.09, -0.03, 0.01)
    fine, fine_state = followed(law, legs(*turns, n=500))
    _, coarse_state = followed(law, turns)
    assert coarse_state == pytest.approx(fine_state, rel=1e-9, abs=1e-12)
    assert np.abs(np.diff(fine)).max() < 1.01 * law.initial_modulus_MPa * 0.07 / 500 * 2


@pytest.mark.parametrize("law", [NITI, TWO_MODULI])
@given(turns=st.lists(st.floats(0.0, 0.1), min_size=1, max_size=8))
@settings(max_examples=40, deadline=None, derandomize=True)
def test_partial_loops_stay_inside_the_outer_loop(law, turns):
    """Between the loading curve of austenite and the unloading curve of martensite."""
    path = legs(*turns, n=25)
    stress, _ = followed(law, path)
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
    stress, state = followed(law, path)
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
    stress = np.concatenate([[0.0], followed(law, path[1:])[0]])
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
