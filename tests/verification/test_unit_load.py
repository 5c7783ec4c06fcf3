"""Linear theory along a bent wire: against closed forms, and the rod at small activation."""

import numpy as np
import pytest

from fem.appliance import Unit
from fem.cantilever import Cantilever, CantileverSites, WireDesign, solve_for_offset
from fem.closed_form import TwoPointCantilever
from fem.material import Elastic
from fem.section import rectangular_section
from fem.unit_load import linear_force, tip_compliance
from geometry.wire import SHORTEST_BEND_MM, cantilever_wire
from geometry.wire_features import Helix, LLoop, ULoop
from geometry.wire_path import Straight

FLAT, BETA_TI = rectangular_section(0.635, 0.4318), Elastic(65e3, 0.3)
LAW = FLAT.stiffness(BETA_TI)
BASE, SPAN = 4.0, 22.0
MOUTHS = (np.zeros(3), np.array([BASE, 0, 0]))
RUNS = {
    "straight": (),
    "helix": (Straight(4.0), Helix(1.0, 1.25, 0.6, "-height")),
    "U loop": (Straight(6.0), ULoop(5.0, 3.0, 1.0, "-height")),
    "L loop": (Straight(5.0), LLoop(6.0, 6.0, 2.0, 1.5, 0.5, "-height")),
}


ALONG = np.array([1.0, 0, 0])


def cantilever(bar=ALONG, run=(), **more):
    hook = np.array([BASE + SPAN, 2.0, 0.5])
    sites = CantileverSites(MOUTHS, np.eye(3), hook, bar, np.array([0.0, 0, 1]), **more)
    units = (Unit("tube", np.zeros(3), None), Unit("hook", hook, None))
    return Cantilever(sites, WireDesign(FLAT, BETA_TI, 1.0, 40, run), units)


def test_straight_wire_is_the_timoshenko_beam():
    """``1/k = L² (L + b)/(3 E I) + L (1 + L/b)/(κ G A)`` in both planes (beam theory)."""
    path = cantilever_wire(MOUTHS, np.eye(3), np.array([BASE + SPAN, 0, 0]))
    C = tip_compliance(path, LAW)
    beam = TwoPointCantilever(FLAT, BETA_TI, SPAN, BASE)
    turned = rectangular_section(FLAT.height_mm, FLAT.width_mm)
    assert 1 / C[2, 2] == pytest.approx(beam.timoshenko_stiffness_N_per_mm, rel=1e-10)
    other = TwoPointCantilever(turned, BETA_TI, SPAN, BASE)
    assert 1 / C[1, 1] == pytest.approx(other.timoshenko_stiffness_N_per_mm, rel=1e-10)
    assert C[0, 0] == pytest.approx((BASE + SPAN) / LAW[0], rel=1e-10)
    assert pytest.approx(C, abs=1e-12) == np.diag(np.diag(C))


def test_closed_loop_in_a_cantilever():
    """A plane loop of n turns at a from the load adds ``2πRn (a² + R²/2 …)/EI`` (Castigliano).

    With the loop's circle through its own start, its points at ``a + R sin θ`` from the load's
    line: ``∫ (a + R sin θ)² R dθ = 2πRn (a² + R²/2)``.
    """
    lead, R, n = 6.0, 1.25, 2.0
    run = (Straight(lead), Helix(n, R, 0.0, "height"))
    path = cantilever_wire(MOUTHS, np.eye(3), np.array([BASE + SPAN, 0, 0]), run=run)
    thin = LAW.copy()
    thin[:3] *= 1e9
    plain = SPAN**2 * (SPAN + BASE) / (3 * LAW[4])
    a = SPAN - SHORTEST_BEND_MM - lead
    loop = 2 * np.pi * R * n * (a**2 + R**2 / 2) / LAW[4]
    assert tip_compliance(path, thin)[2, 2] == pytest.approx(plain + loop, rel=1e-8)


@pytest.mark.parametrize("kind", ["bar", "tied", "pull"])
@pytest.mark.parametrize("run", RUNS.values(), ids=RUNS)
def test_rod_at_small_activation(run, kind):
    """The rod of `fem.rod`, another formulation: forces differ by the square of the activation."""
    options = {
        "bar": {"bar": np.array([0.9, 0.3, 0.2])},
        "tied": {"bar": None},
        "pull": {"bar": None, "pull": True},
    }
    design = cantilever(run=run, **options[kind])
    offset = 1e-3
    rod = -solve_for_offset(design, offset).force_on_hook_N()
    linear = linear_force(design, offset)
    assert np.linalg.norm(rod - linear) < 2e-3 * np.linalg.norm(linear)


def test_a_loop_lowers_the_rate():
    """A loop adds wire, so force per millimetre falls (common practice, no source)."""
    plain = np.linalg.norm(linear_force(cantilever(), 1.0))
    for name in ("helix", "U loop", "L loop"):
        looped = np.linalg.norm(linear_force(cantilever(run=RUNS[name]), 1.0))
        assert looped < 0.95 * plain
