"""Engaging a set-up: play, friction, peg, pull and yield against beam theory and statics."""

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

import fem.cantilever
from fem.activation_branches import moved_hook
from fem.appliance import Unit
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.closed_form import TwoPointCantilever, two_point_deflection
from fem.engage import Alloy, Setup, engage, engage_for_couple, engage_for_force
from fem.fibre import FibreSection, rectangular_fibres
from fem.material import Elastic
from fem.rigid import rotation
from fem.section import rectangular_section
from fem.slot import Slot, jamming_angle
from fem.uniaxial import ElasticPlastic, Superelastic

WIDTH, HEIGHT = 0.64, 0.48
SECTION = rectangular_section(WIDTH, HEIGHT)
STEEL = Elastic(200e3, 0.3)
ALONG, ASIDE, UP = np.eye(3)
BASE, SPAN = 4.0, 16.0
SOFT = np.diag([200.0, 200, 100, 3000, 3000, 800])
BEAM = TwoPointCantilever(SECTION, STEEL, SPAN, BASE)

YIELD_MPA = 20.0  # so low that the wire yields at a 300th of its span: small deflection
LAW = ElasticPlastic(STEEL.youngs_modulus_MPa, YIELD_MPA)
FIRST_YIELD_N = YIELD_MPA * WIDTH * HEIGHT**2 / 6 / SPAN
FIRST_YIELD_MM = YIELD_MPA / STEEL.youngs_modulus_MPa / (HEIGHT / 2) * SPAN * (SPAN + BASE) / 3


def cantilever(*, bar=ALONG, tip_deg=0.0, stiffness=None, pull=False, elements=40, shear=True):
    a = np.radians(tip_deg)
    axes = np.column_stack([[np.cos(a), 0, -np.sin(a)], ASIDE, [np.sin(a), 0, np.cos(a)]])
    mouths = (np.zeros(3), BASE * axes[:, 0])
    hook = mouths[1] + SPAN * ALONG
    units = (Unit("tooth", np.zeros(3), stiffness), Unit("anchor", hook, stiffness))
    wire = WireDesign(SECTION, STEEL, 1.0, elements, shear_rigid=not shear)
    return Cantilever(CantileverSites(mouths, axes, hook, bar, UP, pull), wire, units)


def alloy(law=LAW, limit=YIELD_MPA, trial_share=1.0):
    fibres = rectangular_fibres(WIDTH, HEIGHT, across_height=100)
    return Alloy(FibreSection(fibres, law), limit, trial_share)


def couple(engaged):
    return engaged.couple_Nmm(np.array([BASE / 2, 0, 0]))


# --- the elastic limit -------------------------------------------------------------------------


def test_below_its_limit_an_alloy_adds_nothing():
    """Just below the limit the answer is the elastic one; just above it, it is close to it.

    A rectangle stressed to 1.01 of yield at its edge lacks 1e-4 of its moment there
    (``M/M_y = 1.5 − 0.5 (κ_y/κ)²``, textbook), the wire less.
    """
    design, at = cantilever(stiffness=SOFT), 3.0
    elastic = engage(Setup(design), at)
    peak = float(elastic.stress_MPa.max())
    below = engage(Setup(design, alloy=alloy(limit=1.01 * peak)), at)
    assert below.past_limit is None
    assert below.force_N == elastic.force_N
    law = ElasticPlastic(STEEL.youngs_modulus_MPa, 0.99 * peak)
    above = engage(Setup(design, alloy=alloy(law, limit=0.99 * peak)), at)
    assert above.past_limit is not None
    assert above.force_N == pytest.approx(elastic.force_N, rel=1e-3)
    assert above.past_limit.set_mm < 1e-3 * at


def exact_deflection(m):
    """``δ/δ_y = [5 − (3 + m) √(3 − 2m)]/m²``, m = F/F_y: rectangle, perfectly plastic.

    Clamped cantilever (Prager & Hodge 1951, from memory); over two points the same ratio
    (derived: the moment falls linearly to both sides of the mouth).
    """
    return (5 - (3 + m) * sqrt(3 - 2 * m)) / m**2


def residual_end_mm(force_N):
    """Where the end of the unloaded wire lies: ∫ κ_r M₁ dx, M₁ the moment of a force of 1 there.

    ``κ_r = κ(M) − M/(EI)`` with ``κ/κ_y = 1/√(3 − 2 M/M_y)`` beyond yield (textbook). M₁ is x from
    the hook on the span and ``L x/b`` in the tube (statics of a beam on two supports).
    """
    EI = STEEL.youngs_modulus_MPa * WIDTH * HEIGHT**3 / 12
    M_y = YIELD_MPA * WIDTH * HEIGHT**2 / 6

    def left(moment):
        m = moment / M_y
        return M_y / EI * (1 / np.sqrt(3 - 2 * m) - m) if m > 1 else 0.0

    start = M_y / force_N  # from the hook, where the span begins to yield
    span = quad(lambda x: left(force_N * x) * x, start, SPAN, epsabs=1e-12)[0]
    slope = SPAN / BASE
    tube = quad(lambda x: left(force_N * slope * x) * slope * x, start / slope, BASE, epsabs=1e-12)[
        0
    ]
    return span + tube


@pytest.fixture
def fine_tube(monkeypatch):
    """Short elements in the tube too, where the wire yields as it does beyond the mouth."""
    monkeypatch.setattr(fem.cantilever, "TUBE_PIECES", 40)


@pytest.mark.usefixtures("fine_tube")
@pytest.mark.parametrize("m", [1.2, 1.35])
def test_force_and_set_past_yield(m):
    """The force of the closed form at its deflection, and the set by integration of κ_r."""
    design = cantilever(elements=160, shear=False)
    at = exact_deflection(m) * FIRST_YIELD_MM
    found = engage(Setup(design, alloy=alloy()), at)
    assert 0 < found.force_N < 0.99 * engage(Setup(design), at).force_N
    assert found.force_N == pytest.approx(m * FIRST_YIELD_N, rel=2e-3)
    assert found.past_limit.set_mm == pytest.approx(residual_end_mm(found.force_N), rel=1e-2)
    assert found.stress_MPa.max() == pytest.approx(YIELD_MPA, rel=1e-9)


@pytest.mark.usefixtures("fine_tube")
def test_trial_activation_lowers_the_force_of_a_wire_that_yields_there():
    """Bent to δ(1.35) and let back elastically to 0.8 of it: F = F(1.35) − k 0.2 δ (springback)."""
    design = cantilever(elements=160, shear=False)
    ratio = exact_deflection(1.35)
    at = 0.8 * ratio * FIRST_YIELD_MM
    plain = engage(Setup(design, alloy=alloy()), at)
    tried = engage(Setup(design, alloy=alloy(trial_share=1.25)), at)
    expected = (1.35 - 0.2 * ratio) * FIRST_YIELD_N
    assert tried.force_N == pytest.approx(expected, rel=4e-3)
    assert tried.force_N < 0.98 * plain.force_N
    assert tried.past_limit.set_mm > plain.past_limit.set_mm


def test_trial_activation_leaves_an_elastic_wire_alone():
    design, at = cantilever(), 0.5 * FIRST_YIELD_MM
    tried = engage(Setup(design, alloy=alloy(trial_share=1.5)), at)
    assert tried.past_limit is None
    assert tried.force_N == engage(Setup(design), at).force_N
    assert tried.force_N == pytest.approx(BEAM.timoshenko_stiffness_N_per_mm * at, rel=1e-3)


def test_a_wire_that_yields_at_its_trial_only_keeps_its_set():
    """0.8 of first yield at work, 1.4 at trial: less force than the elastic wire, and a set."""
    design, at = cantilever(), 0.8 * FIRST_YIELD_MM
    tried = engage(Setup(design, alloy=alloy(trial_share=1.75)), at)
    assert tried.past_limit is not None
    assert tried.past_limit.set_mm > 0.01 * at
    lost = engage(Setup(design), at).force_N - tried.force_N
    expected = BEAM.stiffness_N_per_mm * tried.past_limit.set_mm  # spring back from the set
    assert lost == pytest.approx(expected, rel=0.02)


def test_a_wire_deformed_beyond_its_working_activation_is_refused():
    """Let back by more than its force springs back elastically, ``F/k``, nothing is left of it."""
    law = ElasticPlastic(STEEL.youngs_modulus_MPa, YIELD_MPA, 5e3)
    design, at, share = cantilever(), 1.2 * FIRST_YIELD_MM, 3.0
    trial = engage(Setup(design, alloy=alloy(law)), share * at)
    assert trial.force_N / BEAM.stiffness_N_per_mm < (share - 1) * at
    with pytest.raises(ValueError, match=r"trial of 3 times as much, the wire has no force left"):
        engage(Setup(design, alloy=alloy(law, trial_share=share)), at)


def test_superelastic_wire_gives_less_force_letting_back_and_keeps_no_set():
    """Hysteresis of the law: the lower plateau on the way back, all strain recovered."""
    niti = Superelastic(60e3, 520.0, 600.0, 300.0, 200.0, 0.075)
    wire = WireDesign(SECTION, Elastic(60e3, 0.33), 1.0, 40)
    design = replace(cantilever(), wire=wire)
    going = engage(Setup(design, alloy=alloy(niti, 520.0)), 5.0)
    coming = engage(Setup(design, alloy=alloy(niti, 520.0, 1.6)), 5.0)
    assert going.past_limit is not None
    assert coming.force_N < 0.9 * going.force_N
    assert max(going.past_limit.set_mm, coming.past_limit.set_mm) < 1e-6


def test_tied_wire_past_yield_is_let_go_across_its_tube_only():
    """Released, a tied wire hangs in its tube: no force anywhere (statics), its end at its set."""
    design = cantilever(bar=None)
    found = engage(Setup(design, alloy=alloy()), 1.4 * FIRST_YIELD_MM)
    resting = found.past_limit.resting.equilibrium
    assert max(np.abs(load.wrench).max() for load in resting.loads) < 1e-8
    assert found.past_limit.set_mm == pytest.approx(residual_end_mm(found.force_N), rel=0.1)


def test_set_of_a_tied_wire_is_that_of_its_shape():
    """A rigid slide along the tube is no set: both shapes laid on each other at the first mouth.

    The run leaves the tube at a steep bend, so its set has a large part along the tube too.
    """
    design, law = cantilever(bar=None), ElasticPlastic(STEEL.youngs_modulus_MPa, 1200.0, 4e3)
    found = engage(Setup(design, alloy=alloy(law, 1200.0)), 0.6 * SPAN)
    rest, bent = found.past_limit.resting.equilibrium.state.points, found.solved.path.points
    apart = (rest[-1] - rest[0]) - (bent[-1] - bent[0])
    assert abs(apart @ ALONG) > 0.2 * np.linalg.norm(apart)
    assert found.past_limit.set_mm == pytest.approx(np.linalg.norm(apart), rel=1e-9)


# --- a wanted couple or force ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("setup", "tolerance"),
    [
        (Setup(cantilever(tip_deg=20.0, stiffness=SOFT)), 1e-9),
        (Setup(cantilever(tip_deg=20.0, bar=None, stiffness=SOFT)), 1e-6),
        (Setup(cantilever(), slot=Slot(0.55, 0.7, BASE)), 1e-9),
        (Setup(cantilever(tip_deg=10.0), over_peg=True), 1e-9),
        (Setup(cantilever(), alloy=alloy(ElasticPlastic(200e3, 400.0, 5e3), 400.0)), 1e-6),
    ],
    ids=["bar", "tied", "play", "peg", "yields"],
)
def test_wanted_couple_and_force_are_hit(setup, tolerance):
    """What was asked for is what the equilibrium gives: M = F × arm about the tube (statics)."""
    found = engage_for_couple(setup, 15.0)
    middle = setup.cantilever.sites.tube_middle
    force = found.solved.force_on_hook_N()
    moment = np.linalg.norm(np.cross(found.solved.touch_mm - middle, force))
    assert moment == pytest.approx(15.0, rel=tolerance)
    assert (found.past_limit is not None) == (setup.alloy is not None)
    found = engage_for_force(setup, 0.8)
    assert np.linalg.norm(found.solved.force_on_hook_N()) == pytest.approx(0.8, rel=tolerance)


def told_largest_N(setup, wanted_N):
    """The largest force that a refused wish names."""
    with pytest.raises(ValueError, match="stiffer wire, a shorter span or a smaller force") as told:
        engage_for_force(setup, wanted_N)
    return float(str(told.value).split("the largest is ")[1].split(" N")[0])


def test_an_impossible_wish_is_told_the_largest_force():
    """The most that any of many activations gives."""
    setup = Setup(cantilever())
    most = max(engage(setup, share * SPAN).force_N for share in np.linspace(0.1, 1, 19))
    assert told_largest_N(setup, 500.0) == pytest.approx(most, rel=0.01)


def test_a_refused_wish_is_told_a_remedy_that_helps():
    """At a deflection of the span the simple formula gives ``3EI/(L(L + b))``: more if shorter."""
    whole = cantilever()
    near = replace(whole.sites, hook=whole.sites.mouths[1] + 0.8 * SPAN * ALONG)
    longer, shorter = (
        told_largest_N(Setup(replace(whole, sites=sites)), 500.0) for sites in (whole.sites, near)
    )
    assert shorter > 1.2 * longer


def test_the_largest_force_of_a_yielding_wire_is_that_of_its_plastic_moment():
    """``1.5 M_y/L`` of a rectangle (textbook); beyond, such a wire finds no equilibrium."""
    law = ElasticPlastic(STEEL.youngs_modulus_MPa, 20 * YIELD_MPA)
    section = FibreSection(rectangular_fibres(WIDTH, HEIGHT, across_height=40), law)
    setup = Setup(cantilever(elements=10), alloy=Alloy(section, 20 * YIELD_MPA))
    largest = told_largest_N(setup, 3 * 20 * FIRST_YIELD_N)
    assert 1.45 < largest / (20 * FIRST_YIELD_N) < 1.55  # whole elements yield: 10 of them


def test_a_force_that_is_largest_on_the_way_is_found():
    """A tipped wire gives less at the span than before it; what it gives there can be asked for.

    Its play takes up most of the first step, so that a straight line leads far beyond.
    """
    slot = Slot(HEIGHT + 0.15, WIDTH + 0.2, BASE)
    setup = Setup(cantilever(tip_deg=-25.0, stiffness=SOFT, elements=12), slot=slot)
    on_the_way = engage(setup, 0.8 * SPAN).force_N
    assert on_the_way > 1.01 * engage(setup, SPAN).force_N
    assert engage_for_force(setup, on_the_way).force_N == pytest.approx(on_the_way, rel=1e-9)


# --- play --------------------------------------------------------------------------------------

SLOT = Slot(HEIGHT + 0.04, WIDTH + 0.08, BASE)
CLOSED_MM = jamming_angle(BASE, HEIGHT, SLOT.height_mm) * (SPAN + BASE / 2)


def test_no_couple_before_the_play_is_taken_up():
    """The wire turns freely by the angle at which a stiff one jams, about the tube's middle."""
    free = engage(Setup(cantilever(), slot=SLOT), 0.97 * CLOSED_MM)
    tight = engage(Setup(cantilever()), 0.97 * CLOSED_MM)
    assert couple(free) < 1e-3 * couple(tight)


def test_walls_close_where_a_stiff_wire_reaches_them():
    """First mesial, then distal wall: a stiff wire on the two weak springs that centre it.

    Springs share the hook's force as L : L + b (statics), so the mesial wall closes at
    ``p/2 (1 + (L/b) (2L + b)/(L + b))``; both at the jamming angle times L + b/2.
    """
    found = engage(Setup(cantilever(), slot=SLOT), 2.0 * CLOSED_MM)
    first, last = sorted(found.closings_mm.values())
    half = (SLOT.height_mm - HEIGHT) / 2
    expected = half * (1 + SPAN / BASE * (2 * SPAN + BASE) / (SPAN + BASE))
    assert first == pytest.approx(expected, rel=5e-3)
    assert last == pytest.approx(CLOSED_MM, rel=5e-3)


def test_beyond_its_play_a_wire_is_as_stiff_as_without():
    """M = k (a − a₀)(L + b/2): Timoshenko beam from where the play ends (Cowper 1966)."""
    found = engage(Setup(cantilever(), slot=SLOT), CLOSED_MM + 0.5)
    expected = BEAM.couple_Nmm(0.5 * BEAM.timoshenko_stiffness_N_per_mm)
    assert couple(found) == pytest.approx(expected, rel=5e-3)


# --- friction, peg, pull -----------------------------------------------------------------------


def along_and_across(equilibrium):
    """Force on an immovable hook along its bar, and across it."""
    force = equilibrium.loads[-1].wrench[:3]
    return force @ ALONG, np.linalg.norm(force - (force @ ALONG) * ALONG)


@pytest.mark.parametrize("tip_deg", [0.0, 20.0])
def test_a_wire_slips_with_coulombs_force_both_ways(tip_deg):
    """|T| = μ N while activating and while letting back, in opposite directions (Coulomb)."""
    found = engage(Setup(cantilever(tip_deg=tip_deg), friction=0.15), 3.0).rubbing
    assert not found.sticks
    going, coming = map(along_and_across, (found.activating, found.deactivating))
    assert abs(going[0]) / going[1] == pytest.approx(0.15, rel=1e-9)
    assert abs(coming[0]) / coming[1] == pytest.approx(0.15, rel=1e-9)
    assert going[0] * coming[0] < 0


@pytest.mark.parametrize("share", [0.3, 0.7, 1.0, 1.3])
def test_friction_takes_work_on_the_way_in_and_out(share):
    """Push along the activation: going in ≥ frictionless ≥ going out (second law).

    The wire slips forth along its bar first and back again before it is engaged.
    """
    setup = moved_hook(Setup(cantilever(), friction=0.2), 6.0, 6.0 * share)
    found = engage(setup, 6.0 * share)
    states = found.rubbing.activating, found.solved.equilibrium, found.rubbing.deactivating
    going, free, coming = (-state.loads[-1].wrench[:3] @ UP for state in states)
    assert going > free > coming


def first_slip_mm(friction):
    """Activation up to which a stuck straight wire pulls along its bar less than μ N.

    The passive wire is a hypotenuse, longer by a²/(2L) than its span; engaged it deflects by
    ``a (φ − (x − b)/L)`` on the span and a φ in the tube, and takes up ½ ∫ of the slopes squared.
    Kept where it first touched, what is left, a² (1/L − ½ ∫ φ'²), is pressed together with EA over
    L + b, while N = k a (beam theory for moderate rotations; derived).
    """
    x = np.linspace(0.0, BASE + SPAN, 20_001)
    slope = np.gradient(two_point_deflection(x, BASE, SPAN), x)
    left = 1 / SPAN - 0.5 * np.trapezoid(slope**2, x)
    press = STEEL.youngs_modulus_MPa * WIDTH * HEIGHT / (SPAN + BASE)
    return friction * BEAM.timoshenko_stiffness_N_per_mm / (press * left)


@pytest.mark.parametrize("friction", [0.1, 0.5])
def test_a_wire_sticks_at_small_slopes_and_slips_where_its_pull_reaches_friction(friction):
    setup = Setup(cantilever(), friction=friction)
    assert engage(setup, 0.5 * first_slip_mm(friction)).rubbing.sticks

    def lacks(offset):
        found = engage(replace(setup, friction=10.0), offset).rubbing  # always sticks
        assert found.sticks
        pull, normal = along_and_across(found.activating)
        return friction - abs(pull) / normal

    slips = brentq(lacks, 0.5 * first_slip_mm(friction), 2 * first_slip_mm(friction))
    assert slips == pytest.approx(first_slip_mm(friction), rel=0.02)
    assert engage(setup, 0.999 * slips).rubbing.sticks
    assert not engage(setup, 1.001 * slips).rubbing.sticks


def test_peg_is_the_bar_at_small_activation():
    """Sliding lengthwise or along a bar differ by the square of the slope (geometry)."""
    over = engage(Setup(cantilever(), over_peg=True), 0.02 * SPAN)
    on_bar = engage(Setup(cantilever()), 0.02 * SPAN)
    assert over.force_N == pytest.approx(on_bar.force_N, rel=2 * 0.02**2)
    assert couple(over) == pytest.approx(couple(on_bar), rel=2 * 0.02**2)


def test_friction_of_a_peg_is_coulombs_along_the_wire_and_brackets_the_couple():
    """Along the wire where it lies on the peg, |T| = μ N, in opposite directions (Coulomb)."""
    setup = Setup(cantilever(tip_deg=15.0, stiffness=SOFT), over_peg=True, friction=0.2)
    found = engage(setup, 3.0)
    pulls, couples = [], []
    for solved in (found.rubbing.activating, found.rubbing.deactivating):
        force, tangent = solved.loads[-1].wrench[:3], solved.state.axes[-1][:, 0]
        pull = force @ tangent
        pulls.append(pull / np.linalg.norm(force - pull * tangent))
        middle = setup.cantilever.sites.tube_middle
        couples.append(float(np.linalg.norm(solved.wrench_on(0, middle)[3:])))
    assert sorted(pulls) == pytest.approx([-0.2, 0.2], rel=1e-7)
    assert min(couples) < found.couple_Nmm(setup.cantilever.sites.tube_middle) < max(couples)


@pytest.mark.parametrize("stiffness", [None, SOFT], ids=["immovable", "on teeth"])
@pytest.mark.parametrize("tip_deg", [0.0, 25.0])
def test_a_pull_is_along_the_activation(tip_deg, stiffness):
    """No force across it, at any turn of the tube; it turns with the tooth. The body balances."""
    design = cantilever(bar=None, pull=True, tip_deg=tip_deg, stiffness=stiffness)
    found = engage(Setup(design), 4.0)
    force, turn = found.solved.force_on_hook_N(), found.solved.equilibrium.motions[1][3:]
    assert np.linalg.norm(np.cross(force, rotation(turn) @ UP)) < 1e-9 * found.force_N
    total = sum(found.solved.equilibrium.wrench_on(unit, ASIDE) for unit in (0, 1))
    assert np.abs(total).max() < 1e-7 * found.force_N * SPAN


def test_a_pull_is_the_bar_of_a_straight_wire_at_small_activation():
    pulled = engage(Setup(cantilever(bar=None, pull=True)), 0.1)
    assert pulled.force_N == pytest.approx(BEAM.timoshenko_stiffness_N_per_mm * 0.1, rel=1e-3)


# --- refusals ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"over_peg": True, "slot": SLOT}, "without play in its tube: drop one"),
        ({"over_peg": True, "alloy": alloy()}, "computed as elastic: drop the alloy or the peg"),
    ],
)
def test_what_cannot_be_computed_together_is_refused(parts, words):
    with pytest.raises(ValueError, match=words):
        Setup(cantilever(), **parts)


def test_friction_needs_something_to_slide_on():
    with pytest.raises(ValueError, match="needs a bar or a peg"):
        Setup(cantilever(bar=None), friction=0.1)


def test_a_wire_that_does_not_enter_its_tube_is_refused():
    with pytest.raises(ValueError, match="does not enter"):
        engage(Setup(cantilever(), slot=Slot(0.9 * HEIGHT, 1.0, BASE)), 1.0)


def test_the_plain_set_up_is_the_plain_cantilever():
    """Nothing asked for, nothing added."""
    design = cantilever(tip_deg=15.0, stiffness=SOFT)
    plain = solve_for_offset(design, 3.0)
    assert engage(Setup(design), 3.0).solved.force_on_hook_N() == pytest.approx(
        plain.force_on_hook_N(), rel=1e-12
    )
