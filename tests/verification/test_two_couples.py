"""Wires held at two brackets beside wires hooked at one point: beam theory and statics.

Plane problems in x (along) and z (up). A moment is positive where it turns z towards x, as the
right-hand rule has it about −y; so slope and moment have the same sign.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import pytest

from fem.appliance import Appliance, Unit
from fem.appliance_system import solve_equilibrium
from fem.attachment import clamp_contact, two_point_contact
from fem.cantilever import Cantilever, CantileverSites, WireDesign, solve_for_offset
from fem.material import Elastic
from fem.rigid import shift_wrench
from fem.rod import RodState, passive_rod
from fem.section import rectangular_section, round_section

STEEL = Elastic(170e3, 0.3)
WIRE = round_section(0.4064)  # 0.016 in
EI = STEEL.youngs_modulus_MPa * WIRE.I_height_mm4
SPAN = 7.0  # between two neighbouring brackets
SMALL = 1e-3  # rad
ALONG, ASIDE, UP = np.eye(3)

# Angle of the first bracket over that of the second, moment of the first over that of the second:
# Burstone & Koenig 1974, Am J Orthod 65:270–289, the six classes of geometry (from memory).
SIX_CLASSES = [(1, 1), (0.5, 0.8), (0, 0.5), (-0.5, 0), (-0.75, -0.4), (-1, -1)]


def tilted(slope):
    """Axes (along, width, height) of a wire that rises at a small slope."""
    c, s = np.cos(slope), np.sin(slope)
    return np.column_stack([[c, 0, s], ASIDE, [-s, 0, c]])


@dataclass(frozen=True)
class Held:
    """What the wire gives the brackets: upward force on the first, moments about both middles."""

    force: float
    first: float
    second: float


@dataclass(frozen=True)
class Passive:
    """A wire as bent, its nodes and their axes."""

    x: np.ndarray
    z: np.ndarray
    slope: np.ndarray

    @property
    def points(self):
        return np.stack([self.x, 0 * self.x, self.z], axis=1)

    @property
    def axes(self):
        return np.stack([tilted(slope) for slope in self.slope])


def straight(*stations, pieces=24):
    """Straight wire with nodes at all stations."""
    legs = [np.linspace(a, b, pieces + 1)[:-1] for a, b in pairwise(stations)]
    x = np.concatenate([*legs, stations[-1:]])
    return Passive(x, 0 * x, 0 * x)


def kinked(share, angle, pieces=60):
    """Wire with one sharp bend, downwards beyond it, at a share of the span; its ends level."""
    bend = share * SPAN
    rise, fall = np.arctan(np.tan(angle) * (1 - share)), np.arctan(np.tan(angle) * share)
    x = np.concatenate([np.linspace(0, bend, pieces + 1), np.linspace(bend, SPAN, pieces + 1)[1:]])
    z = np.where(x <= bend, x * np.tan(rise), (SPAN - x) * np.tan(fall))
    slope = np.where(np.arange(len(x)) < pieces, rise, -fall)
    slope[pieces] = (rise - fall) / 2
    return Passive(x, z, slope)


def clamps(nodes, places, slopes, *_):
    """Both ends clamped, the second free to slide lengthwise."""
    contacts = []
    for unit in (0, 1):
        axes = tilted(slopes[unit])
        held, *turns = clamp_contact(unit, nodes[unit], places[unit], axes)
        if unit == 1:
            held = replace(held, directions=axes.T[1:], gap=np.zeros(2))
        contacts += [held, *turns]
    return tuple(contacts)


def solved(passive, contacts, middles, *, shear=1e3, stiffness=(None, None)):
    """Equilibrium of a wire in two brackets, and what it gives them.

    Shear is suppressed, as Euler–Bernoulli theory does, unless `shear` is 1.
    """
    law = WIRE.stiffness(STEEL)
    law[1:3] *= shear
    lengths = np.linalg.norm(np.diff(passive.points, axis=0), axis=1)
    rod = passive_rod(passive.points, passive.axes, lengths, law)
    units = tuple(Unit(n, m, K) for n, m, K in zip("ab", middles, stiffness, strict=True))
    appliance = Appliance(rod, RodState(passive.points, passive.axes), units, contacts)
    equilibrium = solve_equilibrium(appliance)
    a, b = (equilibrium.wrench_on(unit, middles[unit]) for unit in (0, 1))
    assert np.abs(shift_wrench(a, middles[0], middles[1]) + b).max() < 1e-7 * np.abs(b).max()
    return Held(a[2], -a[4], -b[4])


def between_clamps(passive, slopes, **rest):
    places = (np.zeros(3), SPAN * ALONG)
    contacts = clamps((0, len(passive.x) - 1), places, slopes)
    return solved(passive, contacts, places, **rest)


@pytest.mark.parametrize(("angles", "moments"), SIX_CLASSES)
def test_six_classes_of_geometry(angles, moments):
    """Ratio of the two moments (Burstone & Koenig 1974), to one percent of the larger."""
    held = between_clamps(straight(0, SPAN), (angles * SMALL, SMALL))
    assert held.first / held.second == pytest.approx(moments, abs=0.01)


@pytest.mark.parametrize("angles", [angles for angles, _ in SIX_CLASSES])
def test_straight_wire_between_clamps(angles):
    """End moments ``2EI(2θ₁ + θ₂)/L`` of a bar clamped at turned supports (slope deflection).

    The wire pulls back on the bracket that turned it; force from the moments by statics.
    """
    held = between_clamps(straight(0, SPAN), (angles * SMALL, SMALL))
    unit = 2 * EI * SMALL / SPAN
    first, second = -unit * (2 * angles + 1), -unit * (angles + 2)
    assert (held.first, held.second) == pytest.approx((first, second), abs=2e-3 * unit)
    assert held.force == pytest.approx((first + second) / SPAN, abs=2e-3 * unit / SPAN)


@pytest.mark.parametrize("angles", [angles for angles, _ in SIX_CLASSES])
def test_straight_wire_between_clamps_with_shear(angles):
    """The same of Timoshenko's beam: (4 + φ) and (2 − φ) over (1 + φ), φ = 12EI/(κGA L²).

    Przemieniecki, Theory of Matrix Structural Analysis, 1968 (from memory).
    """
    held = between_clamps(straight(0, SPAN), (angles * SMALL, SMALL), shear=1)
    phi = 12 * EI / (WIRE.stiffness(STEEL)[2] * SPAN**2)
    unit = EI * SMALL / SPAN
    first = -unit * ((4 + phi) * angles + 2 - phi) / (1 + phi)
    second = -unit * ((2 - phi) * angles + 4 + phi) / (1 + phi)
    assert (held.first, held.second) == pytest.approx((first, second), abs=1e-3 * unit)


def in_brackets(angles, width):
    """Straight wire in two brackets of finite width, the clear span between them kept."""
    middles = (np.zeros(3), (SPAN + width) * ALONG)
    half = width / 2
    stations = (-half, half, half + SPAN, 3 * half + SPAN)
    passive = straight(*stations)
    nodes = ((0, 24), (48, 72))
    contacts = []
    for unit, slope in enumerate((angles * SMALL, SMALL)):
        axes = tilted(slope)
        mouths = tuple(middles[unit] + side * half * axes[:, 0] for side in (-1, 1))
        contacts += two_point_contact(unit, nodes[unit], mouths, axes, cinched=unit == 0)
    return solved(passive, tuple(contacts), middles)


def three_moments(angles, width):
    """Continuous beam on the four mouths as supports that have settled (Clapeyron)."""
    half = width / 2
    x = np.array([-half, half, half + SPAN, 3 * half + SPAN])
    middle = np.array([0, 0, SPAN + width, SPAN + width])
    z = np.repeat([angles * SMALL, SMALL], 2) * (x - middle)
    slope = np.diff(z) / np.diff(x)
    b = 2 * (width + SPAN)
    bending = np.linalg.solve([[b, SPAN], [SPAN, b]], 6 * EI * np.diff(slope))
    m = np.array([0, *bending, 0])
    shear = np.diff(m) / np.diff(x)
    on_wire = np.diff(np.array([0, *shear, 0]))  # upward forces of the supports on the wire
    turn = -on_wire * (x - middle)  # of the wire on the brackets, reversed
    return Held(-on_wire[:2].sum(), turn[:2].sum(), turn[2:].sum())


@pytest.mark.parametrize("width", [1.5, 3.0])
@pytest.mark.parametrize("angles", [angles for angles, _ in SIX_CLASSES])
def test_brackets_of_finite_width(angles, width):
    """Clapeyron's theorem of three moments, supports settled (textbook beam theory)."""
    held, expected = in_brackets(angles, width), three_moments(angles, width)
    scale = 2 * EI * SMALL / SPAN
    assert held.first == pytest.approx(expected.first, abs=2e-3 * scale)
    assert held.second == pytest.approx(expected.second, abs=2e-3 * scale)
    assert held.force == pytest.approx(expected.force, abs=2e-3 * scale / SPAN)


def test_brackets_that_do_not_clamp_change_the_classes():
    """What the wire's bending inside brackets of 3 mm changes, as the three moments tell.

    Equal and opposite angles keep their ratios by symmetry; a level bracket beside a turned one
    does not keep 0.5. Opposite angles meet a bar of length L + 2b/3 instead of L: in pure bending
    each bracket adds the end turn of a bar on two supports, Mb/(3EI) (textbook beam theory).
    """
    width = 3.0
    held = {angles: in_brackets(angles, width) for angles in (1, 0, -1)}
    ratio = {angles: h.first / h.second for angles, h in held.items()}
    assert (ratio[1], ratio[-1]) == pytest.approx((1, -1), abs=2e-3)
    assert abs(ratio[0] - 0.5) > 0.05
    clamped = between_clamps(straight(0, SPAN), (-SMALL, SMALL))
    softer = SPAN / (SPAN + 2 * width / 3)
    assert held[-1].second / clamped.second == pytest.approx(softer, rel=2e-3)


def test_worked_exercise_in_statics():
    """100 gf at 30°, 9 mm and 14 mm from the centre of resistance, moved to the centre.

    discoverortho.com, solution to exercise 1 (2019): 536.2 gf·mm clockwise; its other product,
    86.60 × 9, is 779.4 gf·mm, where the page prints 770.42 by a slip. Net 243.2 anticlockwise.
    """
    force = 100 * np.array([np.cos(np.pi / 6), np.sin(np.pi / 6), 0])
    place, centre = np.array([-np.sqrt(14.0**2 - 9**2), -9, 0]), np.zeros(3)

    def moved(f):
        return shift_wrench(np.concatenate([f, np.zeros(3)]), place, centre)

    assert force == pytest.approx([86.60, 50, 0], abs=0.005)
    across, up = (moved(part * force)[5] for part in (ALONG, ASIDE))
    assert (across, up) == pytest.approx((779.4, -536.2), abs=0.05)
    assert moved(force)[5] == pytest.approx(243.2, abs=0.05)
    assert moved(force)[:3] == pytest.approx(force)


# One couple against two: which loads statics alone gives.

TOOTH = np.diag([500.0, 300, 250, 4500, 7000, 5000])  # about a molar in a ligament, N and mm
FLAT = rectangular_section(0.635, 0.4318)  # 0.017 × 0.025 in
TITANIUM = Elastic(65e3, 0.3)


def hooked(bar, modulus_factor, tip_deg=20.0, offset_mm=6.0):
    """Cantilever from a tipped tube, hooked over a bar or tied, its units' ligaments scaled."""
    axes = tilted(-np.radians(tip_deg))
    mouths = (np.zeros(3), 4 * axes[:, 0])
    sites = CantileverSites(mouths, axes, mouths[1] + 20 * ALONG, bar, UP)
    units = tuple(
        Unit(name, point, modulus_factor * TOOTH)
        for name, point in (("molar", np.array([2.0, 4, -8])), ("anchor", sites.hook - 9 * UP))
    )
    design = Cantilever(sites, WireDesign(FLAT, TITANIUM, 1.0, 40), units)
    return sites, solve_for_offset(design, offset_mm)


@pytest.mark.parametrize("bar", [ALONG, None], ids=["bar", "tied"])
@pytest.mark.parametrize("tip_deg", [0.0, 20.0, 35.0])
def test_force_of_one_couple_is_the_couple_over_its_distance(bar, tip_deg):
    """Statics: F = C/d, with d from the middle of the tube to the line of the force."""
    sites, found = hooked(bar, 1.0, tip_deg)
    force = found.force_on_hook_N()
    size = np.linalg.norm(force)
    arm = found.touch_mm - sites.tube_middle
    distance = np.linalg.norm(arm - (arm @ force) * force / size**2)
    couple = np.linalg.norm(found.couple_on_tube_Nmm(sites.tube_middle))
    assert size == pytest.approx(couple / distance, rel=1e-6)


@pytest.mark.parametrize("bar", [ALONG, None], ids=["bar", "tied"])
def test_one_couple_hardly_feels_the_ligament(bar):
    """A ligament ten times as stiff changes force and couple by less than one percent.

    By beam theory the wire, 12 mm/N, is in series with supports that give 0.09 mm/N at the hook.
    """
    (sites, soft), (_, stiff) = (hooked(bar, factor) for factor in (1.0, 10.0))
    for load in (
        lambda s: np.linalg.norm(s.force_on_hook_N()),
        lambda s: np.linalg.norm(s.couple_on_tube_Nmm(sites.tube_middle)),
    ):
        assert load(soft) == pytest.approx(load(stiff), rel=0.01)


def in_series(angles, K):
    """Bar of slope deflection on two supports that give: ``(k⁻¹ + K⁻¹)⁻¹`` in (z₁, θ₁, z₂, θ₂)."""
    L = SPAN
    k = EI / L**3 * np.array(
        [
            [12, 6 * L, -12, 6 * L],
            [6 * L, 4 * L**2, -6 * L, 2 * L**2],
            [-12, -6 * L, 12, -6 * L],
            [6 * L, 2 * L**2, -6 * L, 4 * L**2],
        ]
    )  # fmt: skip
    turned = np.array([0, angles * SMALL, 0, SMALL])
    support = np.diag([K[2, 2], K[4, 4]] * 2)
    moved = -np.linalg.solve(k + support, k @ turned)
    on_wire = k @ (turned + moved)
    return Held(-on_wire[0], -on_wire[1], -on_wire[3])


@pytest.mark.parametrize("angles", [angles for angles, _ in SIX_CLASSES])
def test_two_couples_depend_on_the_ligament(angles):
    """Supports in series with the bar, by matrix statics (textbook), at two stiffnesses."""
    for factor in (1.0, 10.0):
        K = factor * TOOTH
        held = between_clamps(straight(0, SPAN), (angles * SMALL, SMALL), stiffness=(K, K))
        expected, scale = in_series(angles, K), 2 * EI * SMALL / SPAN
        assert held.first == pytest.approx(expected.first, abs=2e-3 * scale)
        assert held.second == pytest.approx(expected.second, abs=2e-3 * scale)


def test_two_couples_feel_the_ligament():
    """What one couple does not (above): ten times the stiffness changes both moments by percents.

    By the formula 8 % at equal angles, where the force is largest.
    """
    soft, stiff = (
        between_clamps(straight(0, SPAN), (SMALL, SMALL), stiffness=(factor * TOOTH,) * 2)
        for factor in (1.0, 10.0)
    )
    expected = in_series(1, 10 * TOOTH).first / in_series(1, TOOTH).first
    assert expected > 1.05
    assert stiff.first / soft.first == pytest.approx(expected, rel=2e-3)
    assert stiff.second / soft.second == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize("share", [0.1, 0.25, 1 / 3, 0.4, 0.5, 2 / 3, 0.8])
def test_v_bend_between_clamps(share):
    """Moments ``2EIα(2 − 3a)/L`` and ``2EIα(1 − 3a)/L``: a bend α at a share a of the span.

    The legs as bent rise to the brackets at (1 − a)α and −aα; the level brackets turn them back, so
    the slope deflection of a straight bar applies (derived). Within one percent.
    """
    angle = 0.01
    held = between_clamps(kinked(share, angle), (0, 0))
    unit = 2 * EI * angle / SPAN
    assert held.first == pytest.approx(unit * (2 - 3 * share), abs=0.01 * unit)
    assert held.second == pytest.approx(unit * (1 - 3 * share), abs=0.01 * unit)
    assert held.force == pytest.approx(unit * (3 - 6 * share) / SPAN, abs=0.01 * unit / SPAN)


def test_where_the_v_bend_lies_tells_the_moments():
    """Burstone & Koenig 1988, Am J Orthod Dentofacial Orthop 93:59–67, creative wire bending, and
    Ronay et al. 1989, ibid. 96:295–301, force system by V bends in an arch wire (from memory).

    In the middle: equal and opposite moments and no force. At a third: the far moment vanishes.
    Nearer than that both moments have one sense.
    """
    middle, third, near = (between_clamps(kinked(a, 0.01), (0, 0)) for a in (0.5, 1 / 3, 0.2))
    assert middle.second == pytest.approx(-middle.first, rel=0.01)
    assert abs(middle.force) * SPAN < 0.01 * middle.first
    assert abs(third.second) < 0.01 * abs(third.first)
    assert near.second / near.first > 0.1
