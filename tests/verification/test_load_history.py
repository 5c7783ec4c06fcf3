"""Wires activated past their limit and let back: permanent set, three-point bending."""

from math import acos, pi, sqrt

import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid, solve_ivp
from scipy.optimize import brentq, root

from fem.fibre import FibreSection, rectangular_fibres, round_fibres, round_strips
from fem.fibre_rod import element_forces, passive_fibre_rod
from fem.lead import NodeLead, PegLead
from fem.load_history import (
    Bench,
    LoadHistoryError,
    begin,
    clamped_at,
    displace_to,
    load_to,
)
from fem.material import Elastic
from fem.rod import RodState, internal_forces, passive_rod
from fem.section import rectangular_section, round_section
from fem.three_point import three_point_bench, three_point_test
from fem.uniaxial import ElasticPlastic, LinearElastic, Superelastic

EX, EZ = np.eye(3)[0], np.eye(3)[2]
NITI = Superelastic(60e3, 520.0, 600.0, 300.0, 200.0, 0.075)


def straight(x, section, shear_torsion):
    axes = np.tile(np.eye(3), (len(x), 1, 1))
    return passive_fibre_rod(x[:, None] * EX, axes, np.diff(x), section, shear_torsion)


def shear_torsion(section, E, nu=0.3, shear_rigid=1.0):
    return section.stiffness(Elastic(E, nu))[1:4] * [shear_rigid, shear_rigid, 1.0]


def graded(length, fine, coarse, share=0.4):
    """Nodes: short elements next to the clamp, where the wire yields."""
    near = np.linspace(0, share * length, fine + 1)
    return np.concatenate([near, np.linspace(share * length, length, coarse + 1)[1:]])


# --- cantilever past yield, small deflection ------------------------------------------------

WIDTH, HEIGHT, SPAN = 0.64, 0.48, 10.0
SOFT = ElasticPlastic(200e3, 20.0)  # yields at a 700th of the span: small deflection


def soft_cantilever(x):
    section = FibreSection(rectangular_fibres(WIDTH, HEIGHT), SOFT)
    law = shear_torsion(rectangular_section(WIDTH, HEIGHT), 200e3, shear_rigid=1e3)
    wire, state = straight(x, section, law)
    bench = Bench(wire, clamped_at(len(x), 0), NodeLead(len(x) - 1, EZ))
    return bench, begin(bench, state)


FIRST_YIELD_N = SOFT.yield_strength_MPa * WIDTH * HEIGHT**2 / 6 / SPAN
FIRST_YIELD_MM = FIRST_YIELD_N * SPAN**3 / 3 / (200e3 * WIDTH * HEIGHT**3 / 12)


def exact_deflection(m):
    """``δ/δ_y = [5 − (3 + m) √(3 − 2m)]/m²``: ∫ κ(M) x dx of the rectangle, textbook."""
    return (5 - (3 + m) * sqrt(3 - 2 * m)) / m**2


@pytest.mark.parametrize(("m", "deflection"), [(1.2, 1.21298194), (1.4, 1.54707152)])
def test_cantilever_past_yield_and_its_permanent_set(m, deflection):
    """Perfectly plastic rectangle (closed form above, values derived); elastic release."""
    assert exact_deflection(m) == pytest.approx(deflection, abs=1e-8)
    bench, history = soft_cantilever(graded(SPAN, 80, 20))
    history = load_to(bench, history, m * FIRST_YIELD_N, 6)
    assert history.displacement_mm[-1] / FIRST_YIELD_MM == pytest.approx(deflection, rel=1e-3)
    free = load_to(bench, history, 0.0, 2)
    left = free.displacement_mm[-1] / FIRST_YIELD_MM
    assert left == pytest.approx(deflection - m, rel=3e-3)
    assert left == pytest.approx(deflection - m, abs=1e-3 * deflection)


def test_yielded_cantilever_converges_with_second_order():
    errors = []
    for n in (20, 80):
        bench, history = soft_cantilever(np.linspace(0, SPAN, n + 1))
        history = load_to(bench, history, 1.4 * FIRST_YIELD_N, 6)
        errors.append(abs(history.displacement_mm[-1] / FIRST_YIELD_MM - exact_deflection(1.4)))
    assert np.log2(errors[0] / errors[1]) / 2 == pytest.approx(2.0, abs=0.3)


def test_within_the_limit_there_is_no_set_and_beyond_collapse_no_equilibrium():
    bench, history = soft_cantilever(np.linspace(0, SPAN, 13))
    loaded = load_to(bench, history, 0.9 * FIRST_YIELD_N, 2)
    assert abs(load_to(bench, loaded, 0.0, 1).displacement_mm[-1]) < 1e-9
    with pytest.raises(LoadHistoryError, match="cannot carry"):
        load_to(bench, loaded, 1.8 * FIRST_YIELD_N, 1)


# --- large rotation: shooting with the closed moment–curvature law -----------------------------


def shoot(curvature, length, force, angle):
    """Cantilever under a dead tip force F, from the tip's slope back to the clamp: (θ, x, z).

    ``θ' = −κ(F x)``, ``x' = cos θ``, ``z' = sin θ``, x measured from the tip toward the clamp.
    """

    def rates(s, y):
        return [-curvature(force * y[1]), np.cos(y[0]), np.sin(y[0])]

    s = np.linspace(0, length, 2001)
    return solve_ivp(rates, (0, length), [angle, 0, 0], t_eval=s, rtol=1e-9, atol=1e-11).y


def test_large_rotation_of_a_yielding_cantilever():
    """Titanium–molybdenum wire led to half its span: force and set against shooting.

    Moment–curvature of the perfectly plastic rectangle in closed form; sections only ever load,
    and let back elastically by M/EI everywhere, which gives the wire's shape when free.
    """
    E, limit, width, height, span = 65e3, 830.0, 0.635, 0.432, 20.0
    law = ElasticPlastic(E, limit)
    first = limit * width * height**2 / 6
    kappa = limit / E / (height / 2)

    def curvature(M):
        m = M / first
        return kappa * (m if m <= 1 else 1 / np.sqrt(max(3 - 2 * m, 1e-6)))

    force = 1.6 * first / span
    angle = brentq(lambda a: shoot(curvature, span, force, a)[0, -1], 0.2, 1.4, xtol=1e-10)
    _, x, z = shoot(curvature, span, force, angle)
    expected = z[-1]
    left = [curvature(force * arm) - kappa * force * arm / first for arm in x[::-1]]
    step = span / (len(x) - 1)
    slope = cumulative_trapezoid(left, dx=step, initial=0)
    expected_set = np.trapezoid(np.sin(slope), dx=step)
    assert expected > 0.45 * span

    section = FibreSection(rectangular_fibres(width, height), law)
    stiffness = shear_torsion(rectangular_section(width, height), E, shear_rigid=100)
    nodes = graded(span, 60, 20)
    wire, state = straight(nodes, section, stiffness)
    bench = Bench(wire, clamped_at(len(nodes), 0), NodeLead(len(nodes) - 1, EZ))
    history = displace_to(bench, begin(bench, state), expected, 8)
    assert history.force_N[-1] == pytest.approx(force, rel=1e-3)
    tip = history.state.frames.axes[-1][:, 0]
    assert np.arctan2(tip[2], tip[0]) == pytest.approx(angle, rel=1e-3)
    free = load_to(bench, history, 0.0, 4)
    assert free.displacement_mm[-1] == pytest.approx(expected_set, abs=1e-3 * expected)
    assert expected_set > 0.05 * expected


# --- smooth peg --------------------------------------------------------------------------------

# d/L and transverse force F_y L²/EI of an elastica over a smooth peg at distance L: derived from
# elliptic integrals, checked by shooting. The force passes a maximum at d/L = 0.476.
PEG = (
    (0.10, 0.29241350269),
    (0.30, 0.71959265675),
    (0.50, 0.83224134035),
    (0.80, 0.61455776266),
    (1.00, 0.40941879305),
)


def test_elastica_sliding_over_a_smooth_peg():
    """Table above, past the maximum of the force; shear and stretch are worth 1e-4."""
    side = 0.02
    section = FibreSection(rectangular_fibres(side, side), LinearElastic(12 / side**4))
    x = np.linspace(0, 2.0, 81)
    wire, state = straight(x, section, np.array([3e4, 3e4, 1.0]))
    bench = Bench(wire, clamped_at(len(x), 0), PegLead(1.0, EX, EZ))
    history = begin(bench, state)
    for deflection, force in PEG:
        history = displace_to(bench, history, deflection, 3)
        assert history.force_N[-1] == pytest.approx(force, rel=3e-4)


def test_derivatives_of_the_peg():
    rng = np.random.default_rng(0)
    points = np.cumsum(np.abs(rng.normal(1, 0.3, (6, 3))), axis=0)
    axes, peg, h = np.tile(np.eye(3), (6, 1, 1)), PegLead(3.1, EX, EZ), 1e-6
    reading = peg.read(RodState(points, axes))
    for j in range(6):
        moved = np.zeros((6, 3))
        moved[reading.nodes[j // 3], j % 3] = h
        high, low = (peg.read(RodState(points + way * moved, axes)) for way in (1, -1))
        slope = (high.distance_mm - low.distance_mm) / (2 * h)
        assert slope == pytest.approx(reading.gradient.ravel()[j], abs=1e-8)
        bend = (high.gradient - low.gradient).ravel() / (2 * h)
        assert bend == pytest.approx(reading.hessian[:, j], abs=1e-8)


# --- the rod itself ----------------------------------------------------------------------------


def bent_frames(n, seed=5):
    rng = np.random.default_rng(seed)
    x = np.linspace(0, 4.0, n + 1)
    passive = RodState(x[:, None] * EX, np.tile(np.eye(3), (n + 1, 1, 1)))
    return x, passive, passive.moved(rng.normal(0, 0.01, (n + 1, 6)))


def test_elastic_fibres_are_the_elastic_rod():
    """Forces and tangent of fem.rod, every component strained."""
    x, passive, bent = bent_frames(6)
    law = round_section(0.4).stiffness(Elastic(170e3, 0.3))
    rod = passive_rod(passive.points, passive.axes, np.diff(x), law)
    section = FibreSection(round_fibres(0.4), LinearElastic(170e3))
    wire, state = straight(x, section, law[1:4])
    forces, tangent = internal_forces(rod, bent)
    answer = element_forces(wire, bent, state.memory)
    assert answer.forces == pytest.approx(forces, rel=1e-9, abs=1e-9 * np.abs(forces).max())
    assert answer.tangent == pytest.approx(tangent, rel=1e-9, abs=1e-9 * np.abs(tangent).max())


def test_tangent_of_yielding_elements():
    """Central differences by twists of the nodes; the geometric part is a truncated series."""
    x, _, bent = bent_frames(3)
    law = ElasticPlastic(170e3, 300.0, 5e3)
    section = FibreSection(round_fibres(0.4, 6, 9), law)
    wire, state = straight(x, section, shear_torsion(round_section(0.4), 170e3))
    answer = element_forces(wire, bent, state.memory)
    assert np.abs(answer.memory).max() > 1e-3
    h = 1e-8
    for j in range(6):
        twists = np.zeros((4, 6))
        twists[1, j] = h
        high, low = (
            element_forces(wire, bent.moved(way * twists), state.memory).forces for way in (1, -1)
        )
        numeric = (high - low) / (2 * h)
        scale = np.abs(answer.tangent).max()
        assert numeric[0] == pytest.approx(answer.tangent[0, :, 6 + j], abs=2e-4 * scale)
        assert numeric[1] == pytest.approx(answer.tangent[1, :, j], abs=2e-4 * scale)


# --- three-point bending -----------------------------------------------------------------------


@pytest.mark.parametrize("case", ["round", "rectangular"])
def test_small_deflection_stiffness(case):
    """``1/k = L³/48EI + L/4κGA`` on a span of 10 mm (textbook; 48EI/L³ within 1 %)."""
    E = 170e3
    if case == "round":
        section, fibres = round_section(0.4572), round_strips(0.4572)
    else:
        section, fibres = rectangular_section(0.5588, 0.4064), rectangular_fibres(0.5588, 0.4064)
    law = section.stiffness(Elastic(E, 0.3))
    bench, history = three_point_bench(FibreSection(fibres, LinearElastic(E)), law[1:4])
    history = displace_to(bench, history, 1e-3, 1)
    stiffness = 2 * history.force_N[-1] / history.displacement_mm[-1]
    bending, shear = 1000 / (48 * law[4]), 10 / (4 * law[1])
    assert stiffness == pytest.approx(1 / (bending + shear), rel=1e-5)
    assert stiffness == pytest.approx(1 / bending, rel=1e-2)


def circle_moment(kappa, d):
    """Closed form of the superelastic circle, loading: ``σ = E ε + Σ ΔE ⟨|ε| − ε_i⟩``."""
    r, E, first, last = d / 2, 60e3, 520 / 60e3, 0.085
    plateau = 80 / (last - first)
    M = E * kappa * pi * r**4 / 4
    for change, at in ((plateau - E, first), (E - plateau, last)):
        eta = at / (kappa * r) if kappa > 0 else 2.0
        if eta < 1:
            chord = acos(eta) + eta * sqrt(1 - eta**2) * (1 - 2 * eta**2)
            M += change * kappa * r**4 * (chord / 2 - 4 / 3 * eta * (1 - eta**2) ** 1.5)
    return M


@pytest.mark.parametrize("deflection", [0.3, 0.6, 1.0])
def test_loading_curve_of_a_superelastic_wire(deflection):
    """Independent shooting with the closed moment–curvature law, wire sliding over the support."""
    d, half = 0.4064, 5.0
    kappas = np.linspace(0, 0.5, 4001)
    moments = np.array([circle_moment(k, d) for k in kappas])

    def back_to_the_clamp(F, angle):
        """From the support: force F across the wire, whose slope there is `angle`."""

        def rates(s, y):
            arm = y[1] * np.cos(angle) + y[2] * np.sin(angle)
            return [-np.interp(F * arm, moments, kappas), np.cos(y[0]), np.sin(y[0])]

        def clamp(s, y):
            return y[1] - half

        clamp.terminal = True
        path = solve_ivp(rates, (0, 20), [angle, 0, 0], events=clamp, rtol=1e-9, atol=1e-11)
        return path.y[:, -1]

    def misses(unknown):
        end = back_to_the_clamp(unknown[0], unknown[1])
        return [end[0], end[2] - deflection]

    found = root(misses, [0.5 * 3.8 * deflection * 0.8, 1.5 * deflection / half], tol=1e-10)
    assert found.success
    force, angle = found.x
    section = round_section(d)
    law = section.stiffness(Elastic(60e3, 0.33)) * [1, 1e2, 1e2, 1, 1, 1]
    bench, history = three_point_bench(FibreSection(round_strips(d), NITI), law[1:4], elements=60)
    history = displace_to(bench, history, deflection, 10)
    assert history.force_N[-1] == pytest.approx(force * np.cos(angle), rel=1e-3)


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
        begin(Bench(wire, clamped_at(5, 0), PegLead(5.0, EX, EZ)), state)
