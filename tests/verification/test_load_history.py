"""Wires activated past their limit and let back: permanent set, three-point bending."""

import numpy as np
import pytest

from fem.fibre import FibreSection, round_strips
from fem.lead import PegLead
from fem.load_history import (
    Bench,
    LoadHistoryError,
    begin,
    clamped_at,
    load_to,
)
from fem.material import Elastic
from fem.rod import RodState
from fem.section import round_section
from fem.three_point import three_point_bench, three_point_test
from fem.uniaxial import ElasticPlastic, LinearElastic
from workflow.verification.inelastic_far import ALONG, UP, straight
from workflow.verification.inelastic_superelastic import NITI
from workflow.verification.inelastic_wires import FIRST_YIELD_N, SPAN, clamped_bench

# --- cantilever past yield, small deflection ------------------------------------------------


def test_within_the_limit_there_is_no_set_and_beyond_collapse_no_equilibrium():
    bench, history = clamped_bench(np.linspace(0, SPAN, 13))
    loaded = load_to(bench, history, 0.9 * FIRST_YIELD_N, 2)
    assert abs(load_to(bench, loaded, 0.0, 1).displacement_mm[-1]) < 1e-9
    with pytest.raises(LoadHistoryError, match="cannot carry"):
        load_to(bench, loaded, 1.8 * FIRST_YIELD_N, 1)


# --- smooth peg --------------------------------------------------------------------------------


def test_derivatives_of_the_peg():
    rng = np.random.default_rng(0)
    points = np.cumsum(np.abs(rng.normal(1, 0.3, (6, 3))), axis=0)
    axes, peg, h = np.tile(np.eye(3), (6, 1, 1)), PegLead(3.1, ALONG, UP), 1e-6
    reading = peg.read(RodState(points, axes))
    for j in range(6):
        moved = np.zeros((6, 3))
        moved[reading.nodes[j // 3], j % 3] = h
        high, low = (peg.read(RodState(points + way * moved, axes)) for way in (1, -1))
        slope = (high.distance_mm - low.distance_mm) / (2 * h)
        assert slope == pytest.approx(reading.gradient.ravel()[j], abs=1e-8)
        bend = (high.gradient - low.gradient).ravel() / (2 * h)
        assert bend == pytest.approx(reading.hessian[:, j], abs=1e-8)


# --- three-point bending -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def niti_test():
    d = 0.4064
    law = round_section(d).stiffness(Elastic(60e3, 0.33))
    section = FibreSection(round_strips(d, 80), NITI)
    bench, history = three_point_bench(section, law[1:4])
    return three_point_test(bench, history)


def test_superelastic_wire_comes_back_with_less_force(niti_test):
    """Loading plateau, lower unloading plateau, no set (the shape ISO 15841 asks makers for)."""
    n = niti_test.loading_points
    initial = niti_test.force_N[1] / niti_test.deflection_mm[1]
    assert initial == pytest.approx(48 * 60e3 * round_section(0.4064).I_height_mm4 / 1e3, rel=2e-2)
    loading = np.interp([0.5, 1, 2, 3], niti_test.deflection_mm[:n], niti_test.force_N[:n])
    back = np.array([niti_test.unloading_force_N(at) for at in (0.5, 1, 2, 3)])
    assert np.all(back < loading)
    assert niti_test.set_mm == pytest.approx(0.0, abs=1e-6)
    # An elastic wire doubles its force from 1 to 2 mm; on the way back this one hardly changes.
    assert back[2] / back[1] == pytest.approx(1.0, abs=0.1)
    assert loading[2] / loading[1] == pytest.approx(1.0, abs=0.1)
    lost = np.trapezoid(niti_test.force_N, niti_test.deflection_mm)
    stored = np.trapezoid(niti_test.force_N[:n], niti_test.deflection_mm[:n])
    # All fibres lose plateau gap × strain, so at most 1 − 250/560 of the work is lost.
    assert 0.2 * stored < lost < (1 - 250 / 560) * stored


def test_plastic_wire_keeps_a_set():
    """Steel of 0.018 in goes far past yield at 3.1 mm and stays bent."""
    d = 0.4572
    law = round_section(d).stiffness(Elastic(170e3, 0.3))
    steel = ElasticPlastic(170e3, 1300.0, 10e3)
    bench, history = three_point_bench(FibreSection(round_strips(d, 80), steel), law[1:4])
    test = three_point_test(bench, history)
    assert 0.5 < test.set_mm < 3.0
    assert test.force_N[-1] == pytest.approx(0.0, abs=1e-9)
    assert test.unloading_force_N(0.1) == pytest.approx(0.0, abs=1e-9)


def test_a_wire_that_ends_short_of_the_support_is_refused():
    section = FibreSection(round_strips(0.4), LinearElastic(1.0))
    with pytest.raises(ValueError, match="overhang_mm"):
        three_point_bench(section, np.ones(3), overhang_mm=0.0)
    x = np.linspace(0, 4, 5)
    wire, state = straight(x, section, np.ones(3))
    with pytest.raises(ValueError, match="misses the peg"):
        begin(Bench(wire, clamped_at(5, 0), PegLead(5.0, ALONG, UP)), state)
