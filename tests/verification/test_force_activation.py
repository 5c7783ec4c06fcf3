"""Force–activation curve of a cantilever: beam theory, first yield by hand, facts of the trade."""

from dataclasses import replace

import numpy as np
import pytest

from fem.activation_branches import interpolated, moved_hook
from fem.appliance import Unit
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.closed_form import TwoPointCantilever
from fem.engage import Alloy, Setup, engage
from fem.fibre import FibreSection, rectangular_fibres
from fem.force_activation import force_activation, point_at
from fem.material import Elastic
from fem.section import Section, rectangular_section, round_section
from fem.slot import Slot
from fem.uniaxial import ElasticPlastic

SECTION = rectangular_section(0.635, 0.4318)  # 0.017 × 0.025 in
BETA_TI = Elastic(65e3, 0.3)
ALONG, _, UP = np.eye(3)
BASE, SPAN = 4.0, 20.0
HIGH = 1e9  # a strength that is never reached, MPa
SOFT = np.diag([200.0, 200, 100, 3000, 3000, 800])


def cantilever(section: Section = SECTION, span: float = SPAN, stiffness=(None, None)):
    hook = (BASE + span) * ALONG
    mouths = (np.zeros(3), BASE * ALONG)
    sites = CantileverSites(mouths, np.eye(3), hook, ALONG, UP)
    units = (Unit("tooth", np.zeros(3), stiffness[0]), Unit("anchor", hook, stiffness[1]))
    return Cantilever(sites, WireDesign(section, BETA_TI, 1.0, 10), units)


def test_small_activation_is_the_closed_form():
    """1/k = L²(L+b)/(3EI) + shear: Timoshenko beam on two supports (Cowper 1966, from memory)."""
    curve = force_activation(Setup(cantilever()), 1e-3 * SPAN, HIGH)
    beam = TwoPointCantilever(SECTION, BETA_TI, SPAN, BASE)
    expected = beam.timoshenko_stiffness_N_per_mm
    slopes = [p.force_N / p.activation_mm for p in curve.points[1:]]
    assert slopes == pytest.approx([expected] * len(slopes), rel=1e-4)
    assert curve.rate_N_per_mm == pytest.approx(expected, rel=1e-4)
    assert curve.linear_rate_N_per_mm == pytest.approx(expected, rel=1e-4)


def test_first_yield_of_a_straight_wire_is_moment_over_section_modulus():
    """σ = F L/(w h²/6) at the mesial mouth, by hand for 0.4318 × 0.635 mm (Gere, beam theory).

    A strength met at 1 % of the span, where the rod is within a few 1e-4 of linear theory.
    """
    beam = TwoPointCantilever(SECTION, BETA_TI, SPAN, BASE)
    activation = 0.01 * SPAN
    force = beam.timoshenko_stiffness_N_per_mm * activation
    strength = force * SPAN / (0.635 * 0.4318**2 / 6)
    curve = force_activation(Setup(cantilever()), 0.8 * activation, strength)
    assert curve.first_yield.activation_mm == pytest.approx(activation, rel=1e-3)
    assert curve.first_yield.stress_MPa == pytest.approx(strength, rel=1e-7)
    assert curve.end_mm == pytest.approx(1.5 * 0.8 * activation)  # no need to go on
    assert curve.first_yield.force_N == pytest.approx(force, rel=1e-3)


def test_the_band_of_a_linear_spring_is_that_of_its_activation():
    """F = k a: a force within ±25 % is an activation within ±25 % (Hooke)."""
    working = 1e-3 * SPAN
    band = force_activation(Setup(cantilever()), working, HIGH).band
    ends = [band.lower.activation_mm, band.upper.activation_mm]
    assert ends == pytest.approx([0.75 * working, 1.25 * working], rel=1e-5)


def test_the_force_at_the_ends_of_the_band_is_that_of_the_band():
    """At a large activation on teeth, where the curve is no line, the roots are still roots."""
    curve = force_activation(Setup(cantilever(stiffness=(SOFT, 3 * SOFT))), 6.0, HIGH, band=0.2)
    force = curve.working.force_N
    assert curve.band.lower.force_N == pytest.approx(0.8 * force, rel=1e-6)
    assert curve.band.upper.force_N == pytest.approx(1.2 * force, rel=1e-6)
    width = curve.band.upper.activation_mm - curve.band.lower.activation_mm
    assert width * curve.rate_N_per_mm == pytest.approx(0.4 * force, rel=0.05)
    assert width != pytest.approx(0.4 * 6.0, rel=0.01)  # as a line through zero would have it


def test_the_working_point_is_the_engaged_case():
    """The same wire, hook and teeth as `solve_for_offset` engages: statics knows no curve."""
    design = cantilever(stiffness=(SOFT, 3 * SOFT))
    point, solved = point_at(Setup(design), 5.0, 5.0), solve_for_offset(design, 5.0)
    couple = solved.couple_on_tube_Nmm(design.sites.tube_middle)
    assert point.force_N == pytest.approx(np.linalg.norm(solved.force_on_hook_N()), rel=1e-9)
    assert point.couple_Nmm == pytest.approx(np.linalg.norm(couple), rel=1e-9)


def test_soft_anchorage_lowers_the_rate():
    """Springs in series: 1/k = 1/k_wire + 1/k_z of the anchor alone (statics)."""
    anchor = np.diag([1e6, 1e6, 0.2, 1e9, 1e9, 1e9])
    curve = force_activation(Setup(cantilever(stiffness=(None, anchor))), 1e-3 * SPAN, HIGH)
    beam = TwoPointCantilever(SECTION, BETA_TI, SPAN, BASE)
    expected = 1 / (1 / beam.timoshenko_stiffness_N_per_mm + 1 / 0.2)
    assert curve.rate_N_per_mm == pytest.approx(expected, rel=1e-3)


def test_twice_the_span_halves_the_force_at_equal_couple():
    """M = F (L + b/2) (statics): spans from the middle of the tube of 12 and 24 mm.

    Common practice, no source: the longer arm gives the couple with less extrusive force.
    """
    short, long = (
        point_at(Setup(cantilever(span=arm - BASE / 2)), 0.02, 0.02) for arm in (12.0, 24.0)
    )
    per_couple = [p.force_N / p.couple_Nmm for p in (short, long)]
    assert per_couple[0] == pytest.approx(2 * per_couple[1], rel=1e-4)


def test_force_goes_with_the_fourth_power_of_a_round_wire():
    """I = π d⁴/64 (beam theory); shear is left out, as the rule does."""
    forces = []
    for diameter in (0.4, 0.5):
        design = cantilever(round_section(diameter))
        plain = replace(design, wire=replace(design.wire, shear_rigid=True))
        forces.append(point_at(Setup(plain), 0.02, 0.02).force_N)
    assert forces[1] / forces[0] == pytest.approx((0.5 / 0.4) ** 4, rel=1e-4)


def test_the_thinner_wire_yields_at_the_smaller_force():
    """F = σ W/L with W = π d³/32 (beam theory): it yields first although it is activated more.

    Activation at yield is σ(L+b)L·2/(3 E d): the thinner wire has the longer range.
    """
    strength, diameters = 60.0, (0.4, 0.5)  # low, so that both yield at a small activation
    ends = []
    for d in diameters:
        at_yield = 2 * strength * SPAN * (SPAN + BASE) / (3 * 65e3 * d)
        ends.append(force_activation(Setup(cantilever(round_section(d))), 0.8 * at_yield, strength))
    thin, thick = (curve.first_yield for curve in ends)
    assert thin.force_N / thick.force_N == pytest.approx((0.4 / 0.5) ** 3, rel=2e-3)
    assert thin.activation_mm / thick.activation_mm == pytest.approx(0.5 / 0.4, rel=2e-3)


def test_a_wire_that_stays_elastic_has_no_first_yield():
    """Stress of the whole curve below the strength."""
    curve = force_activation(Setup(cantilever()), 2.0, HIGH)
    assert curve.first_yield is None
    assert max(p.stress_MPa for p in curve.points) < HIGH
    assert curve.end_mm >= 1.5 * 2.0


@pytest.mark.parametrize(
    ("working", "strength", "band", "words"),
    [
        (0.0, 800.0, 0.25, "working activation"),
        (2.0, 0.0, 0.25, "yield strength"),
        (2.0, 800.0, 1.0, "band"),
    ],
)
def test_bad_arguments_are_named(working, strength, band, words):
    with pytest.raises(ValueError, match=words):
        force_activation(Setup(cantilever()), working, strength, band=band)


# --- branches: past the limit, play, friction --------------------------------------------------

WIDTH, HEIGHT = 0.635, 0.4318
YIELD_MPA = 10.0  # so low that the wire yields at a 300th of its span: small deflection
FIRST_YIELD_N = YIELD_MPA * WIDTH * HEIGHT**2 / 6 / SPAN
FIRST_YIELD_MM = YIELD_MPA / 65e3 / (HEIGHT / 2) * SPAN * (SPAN + BASE) / 3


def exact_deflection(m: float) -> float:
    """``δ/δ_y = [5 − (3 + m) √(3 − 2m)]/m²``: rectangle, perfectly plastic (Prager & Hodge 1951).

    From memory for the clamped cantilever; over two points the same ratio (derived).
    """
    return (5 - (3 + m) * np.sqrt(3 - 2 * m)) / m**2


@pytest.fixture(scope="module")
def past():
    """Curve of a wire bent to the closed form's deflection at 1.35 of its first yield."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("fem.cantilever.TUBE_PIECES", 40)  # it yields in the tube as beyond it
        design = cantilever()
        wire = replace(design.wire, elements=120, shear_rigid=True)
        law = ElasticPlastic(65e3, YIELD_MPA)
        fibres = FibreSection(rectangular_fibres(WIDTH, HEIGHT, across_height=100), law)
        setup = Setup(replace(design, wire=wire), alloy=Alloy(fibres, YIELD_MPA))
        working = exact_deflection(1.35) * FIRST_YIELD_MM
        curve = force_activation(setup, working, YIELD_MPA)
        yield curve, engage(setup, working)


def test_the_activating_branch_is_elastic_until_it_yields(past):
    """Below first yield Euler–Bernoulli's rate; at the working point the closed form's force."""
    curve, _ = past
    k = FIRST_YIELD_N / FIRST_YIELD_MM
    below = [p for p in curve.history.activating if 0 < p.activation_mm < FIRST_YIELD_MM]
    assert len(below) > 5
    rates = [p.force_N / p.activation_mm for p in below]
    assert rates == pytest.approx([k] * len(rates), rel=2e-3)
    assert curve.first_yield.activation_mm == pytest.approx(FIRST_YIELD_MM, rel=2e-3)
    assert curve.working.force_N == pytest.approx(1.35 * FIRST_YIELD_N, rel=3e-3)


def test_let_back_the_wire_loses_its_force_at_the_elastic_rate(past):
    """Springback is elastic: dF/da = 3EI/(L²(L + b)) from the working point to no force."""
    curve, _ = past
    k = FIRST_YIELD_N / FIRST_YIELD_MM
    assert curve.rate_N_per_mm == pytest.approx(k, rel=3e-3)
    back = curve.history.letting_back
    assert back[0].activation_mm == pytest.approx(curve.working.activation_mm)
    lost = [back[0].force_N - p.force_N for p in back[1:]]
    way = [k * (back[0].activation_mm - p.activation_mm) for p in back[1:]]
    assert lost == pytest.approx(way, rel=5e-3)


def test_no_force_is_left_at_the_set(past):
    """δ − m δ_y of the closed form; and where the released wire's end is seen to lie."""
    curve, engaged = past
    end = curve.history.letting_back[-1]
    assert end.force_N == 0.0
    expected = (exact_deflection(1.35) - 1.35) * FIRST_YIELD_MM
    assert end.activation_mm == pytest.approx(expected, rel=2e-2)
    assert end.activation_mm == pytest.approx(engaged.past_limit.set_mm, rel=1e-3)


def test_a_trial_starts_the_way_back_beyond_the_working_point():
    """The working point lies on the way back: F(1.35) − k times the way (springback)."""
    law = ElasticPlastic(65e3, YIELD_MPA)
    fibres = FibreSection(rectangular_fibres(WIDTH, HEIGHT, across_height=60), law)
    working = exact_deflection(1.35) * FIRST_YIELD_MM / 1.25
    setup = Setup(cantilever(), alloy=Alloy(fibres, YIELD_MPA, 1.25))
    curve = force_activation(setup, working, YIELD_MPA)
    first, *_ = curve.history.letting_back
    assert first.activation_mm == pytest.approx(1.25 * working)
    k = FIRST_YIELD_N / FIRST_YIELD_MM
    assert first.force_N - curve.working.force_N == pytest.approx(0.25 * working * k, rel=0.02)
    assert curve.band.lower.activation_mm < working < curve.band.upper.activation_mm
    # activated again it is elastic up to the trial: ± a quarter of the force at the elastic rate
    assert curve.band.upper.force_N == pytest.approx(1.25 * curve.working.force_N)
    way = curve.band.upper.activation_mm - working
    assert way == pytest.approx(0.25 * curve.working.force_N / k, rel=0.02)


def test_a_wire_that_yields_beyond_its_working_point_goes_back_as_it_came():
    working = 0.8 * FIRST_YIELD_MM
    fibres = FibreSection(
        rectangular_fibres(WIDTH, HEIGHT, across_height=40), ElasticPlastic(65e3, YIELD_MPA, 5e3)
    )
    curve = force_activation(Setup(cantilever(), alloy=Alloy(fibres, YIELD_MPA)), working, 10.0)
    assert curve.history.letting_back == ()
    assert curve.rate_N_per_mm == pytest.approx(FIRST_YIELD_N / FIRST_YIELD_MM, rel=1e-2)


def test_the_play_curve_is_the_engaged_wire_at_other_activations():
    """Followed from passive on, or engaged anew: the same equilibria; no force while it is loose.

    Half-way between points of the curve, a sixteenth apart, to their monotone cubic.
    """
    design, working = cantilever(stiffness=(SOFT, 3 * SOFT)), 3.0
    setup = Setup(design, slot=Slot(HEIGHT + 0.05, WIDTH + 0.08, BASE))
    curve = force_activation(setup, working, HIGH)
    exact = engage(setup, working)
    assert curve.working.force_N == pytest.approx(exact.force_N, rel=1e-9)
    assert curve.working.couple_Nmm == pytest.approx(
        exact.couple_Nmm(design.sites.tube_middle), rel=1e-9
    )
    assert curve.working.stress_MPa == pytest.approx(exact.stress_MPa.max(), rel=1e-9)
    for activation in (0.61 * working, 1.37 * working):
        alone = engage(moved_hook(setup, working, activation), activation)
        found = interpolated(curve.points)(activation)
        assert found.force_N == pytest.approx(alone.force_N, rel=2e-4)
        assert found.stress_MPa == pytest.approx(alone.stress_MPa.max(), rel=2e-4)
    closings = [p.activation_mm for p in curve.closings]
    assert closings == pytest.approx(sorted(exact.closings_mm.values()))
    assert curve.closings[0].force_N < 1e-3 * curve.working.force_N


def test_friction_brackets_the_frictionless_couple():
    """Dry friction lets a range of states rest; that without friction lies in it (Coulomb)."""
    design = cantilever(stiffness=(SOFT, 3 * SOFT))
    bar = np.array([1.0, 0.0, 0.3]) / np.hypot(1.0, 0.3)
    setup = Setup(replace(design, sites=replace(design.sites, bar=bar)), friction=0.2)
    curve = force_activation(setup, 4.0, HIGH)
    rubbing = curve.rubbing
    assert not rubbing.sticks
    for free, up, down in zip(
        curve.points[1:], rubbing.activating[1:], rubbing.letting_back[1:], strict=True
    ):
        low, high = sorted((up.couple_Nmm, down.couple_Nmm))
        assert low < free.couple_Nmm < high


def test_first_slip_is_where_the_stuck_wire_pulls_with_all_its_friction():
    """|T| = μ N there; below, the wire sticks and both branches are one (Coulomb).

    On a bar that slants and yields along the span: between rigid ends a wire sticks nowhere.
    """
    yielding = np.diag([0.2, 1e6, 1e6, 1e9, 1e9, 1e9])
    bar = np.array([1.0, 0.0, -0.3]) / np.hypot(1.0, 0.3)
    design = cantilever(stiffness=(None, yielding))
    setup = Setup(replace(design, sites=replace(design.sites, bar=bar)), friction=0.25)
    curve = force_activation(setup, 2.0, HIGH)
    at = curve.rubbing.first_slip.activation_mm
    stuck = engage(replace(moved_hook(setup, 2.0, at), friction=1e3), at).rubbing
    force = stuck.activating.loads[-1].wrench[:3]
    pull = force @ bar
    assert stuck.sticks
    assert abs(pull) / np.linalg.norm(force - pull * bar) == pytest.approx(0.25, rel=1e-4)
    for up, down in zip(curve.rubbing.activating, curve.rubbing.letting_back, strict=True):
        assert (up == down) == (up.activation_mm <= at)
    assert not curve.rubbing.sticks


def test_a_wire_that_slips_from_the_start_has_no_first_slip():
    """Inclined to the bar between rigid ends, it pulls E A α/L a mm: more than μ k (statics)."""
    curve = force_activation(Setup(cantilever(), friction=0.3), 0.01, HIGH)
    assert curve.rubbing.first_slip is None
    assert not curve.rubbing.sticks
