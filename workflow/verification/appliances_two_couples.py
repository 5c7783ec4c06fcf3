"""A wire in two brackets: six classes of geometry, V-bends, brackets of finite width, ligaments.

Plane problems in x (along) and z (up). A moment is positive where it turns z towards x, so that
slope and moment have one sign.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Unit
from fem.appliance_system import solve_equilibrium
from fem.attachment import Contact, PointContact, clamp_contact, two_point_contact
from fem.material import Elastic
from fem.rod import RodState, passive_rod
from fem.section import round_section
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table

Array = NDArray[np.float64]

STEEL = Elastic(170e3, 0.3)
DIAMETER_MM = 0.4064  # 0.016 in
WIRE = round_section(DIAMETER_MM)
EI = 170e3 * np.pi * DIAMETER_MM**4 / 64
SPAN_MM = 7.0  # between two neighbouring brackets
SMALL = 1e-3  # rad
ALONG, ASIDE, UP = np.eye(3)
UNIT_NMM = 2 * EI * SMALL / SPAN_MM
_TOOTH = np.diag([500.0, 300, 250, 4500, 7000, 5000])
_ANGLES = (1.0, 0.5, 0.0, -0.5, -0.75, -1.0)


@dataclass(frozen=True)
class Held:
    """What the wire gives the brackets: upward force on the first, moments about both middles."""

    force: float
    first: float
    second: float

    @property
    def over_unit(self) -> list[float]:
        """Both moments and force × span, over 2EIθ/L."""
        return [x / UNIT_NMM for x in (self.first, self.second, self.force * SPAN_MM)]


@dataclass(frozen=True)
class Bent:
    """A wire as bent: its nodes and the slope of its axes there."""

    x: Array
    z: Array
    slope: Array

    @property
    def points(self) -> Array:
        """Nodes, (n, 3), mm."""
        return np.stack([self.x, 0 * self.x, self.z], axis=1)

    @property
    def axes(self) -> Array:
        """Section axes of the nodes, (n, 3, 3)."""
        return np.stack([tilted(slope) for slope in self.slope])


def tilted(slope: float) -> Array:
    """Axes (along, width, height) of a wire that rises at a small slope."""
    c, s = np.cos(slope), np.sin(slope)
    return np.column_stack([[c, 0, s], ASIDE, [-s, 0, c]])


def _straight(*stations: float, pieces: int = 24) -> Bent:
    legs = [np.linspace(a, b, pieces + 1)[:-1] for a, b in pairwise(stations)]
    x = np.concatenate([*legs, stations[-1:]])
    return Bent(x, 0 * x, 0 * x)


def solved(
    wire: Bent,
    contacts: Sequence[Contact],
    middles: tuple[Array, Array],
    shear: float = 1e3,
    supports: tuple[Array | None, Array | None] = (None, None),
) -> Held:
    """Equilibrium of a wire in two brackets; shear suppressed unless `shear` is 1."""
    law = WIRE.stiffness(STEEL)
    law[1:3] *= shear
    lengths = np.linalg.norm(np.diff(wire.points, axis=0), axis=1)
    rod = passive_rod(wire.points, wire.axes, lengths, law)
    units = tuple(Unit(n, m, K) for n, m, K in zip("ab", middles, supports, strict=True))
    appliance = Appliance(rod, RodState(wire.points, wire.axes), units, tuple(contacts))
    found = solve_equilibrium(appliance)
    a, b = (found.wrench_on(unit, middles[unit]) for unit in (0, 1))
    return Held(a[2], -a[4], -b[4])


def clamped(
    wire: Bent,
    slopes: tuple[float, float],
    shear: float = 1e3,
    supports: tuple[Array | None, Array | None] = (None, None),
) -> Held:
    """Both ends clamped at slopes, the second free to slide lengthwise."""
    places, contacts = (np.zeros(3), SPAN_MM * ALONG), []
    for unit, node in enumerate((0, len(wire.x) - 1)):
        axes = tilted(slopes[unit])
        held, *turns = clamp_contact(unit, node, places[unit], axes)
        if unit == 1:
            assert isinstance(held, PointContact)
            held = replace(held, directions=axes.T[1:], gap=np.zeros(2))
        contacts += [held, *turns]
    return solved(wire, contacts, places, shear, supports)


def _bar(angles: float, shear: float = 1e3, factor: float | None = None) -> Held:
    """Straight bar at slopes ``(angles θ, θ)``, on teeth of a multiple of a stiffness."""
    K = None if factor is None else factor * _TOOTH
    slopes = (angles * SMALL, SMALL)
    return clamped(_straight(0, SPAN_MM), slopes, shear, (K, K))


def _six_classes() -> Compared:
    table = reference_table("six_classes")
    held = [_bar(angles) for angles in table.angles]
    ratios = [h.first / h.second for h in held]
    return Compared(ratios, table.moments, 1.0, [f"class {name}" for name in table["class"]])


def _over_angles(
    of: Callable[[float], Held], formula: Callable[[float], Sequence[float]]
) -> Compared:
    computed = [of(angles).over_unit for angles in _ANGLES]
    expected = [formula(angles) for angles in _ANGLES]
    names = ("first moment", "second moment", "force")
    labels = [f"angles {angles:g} : 1, {name}" for angles in _ANGLES for name in names]
    return Compared(computed, expected, 1.0, labels)


def _with_force(first: float, second: float, span: float = SPAN_MM) -> tuple[float, float, float]:
    return first, second, (first + second) * SPAN_MM / span


def _slope_deflection() -> Compared:
    return _over_angles(_bar, lambda a: _with_force(-(2 * a + 1), -(a + 2)))


def _slope_deflection_with_shear() -> Compared:
    shear = 6 * 1.3 / (7 + 6 * 0.3)  # Cowper's factor of a circle
    GA = shear * 170e3 / 2.6 * np.pi * DIAMETER_MM**2 / 4
    phi = 12 * EI / (GA * SPAN_MM**2)

    def formula(a: float) -> Sequence[float]:
        share = -0.5 / (1 + phi)
        return _with_force(share * ((4 + phi) * a + 2 - phi), share * ((2 - phi) * a + 4 + phi))

    return _over_angles(lambda a: _bar(a, shear=1.0), formula)


def _in_brackets(angles: float, width: float) -> Held:
    """Straight wire in two brackets of finite width, the clear span between them kept."""
    middles, half = (np.zeros(3), (SPAN_MM + width) * ALONG), width / 2
    wire = _straight(-half, half, half + SPAN_MM, 3 * half + SPAN_MM)
    contacts: list[Contact] = []
    for unit, (nodes, slope) in enumerate(
        zip(((0, 24), (48, 72)), (angles * SMALL, SMALL), strict=True)
    ):
        axes = tilted(slope)
        a, b = (middles[unit] + side * half * axes[:, 0] for side in (-1, 1))
        contacts += two_point_contact(unit, nodes, (a, b), axes, cinched=unit == 0)
    return solved(wire, contacts, middles)


def _three_moments(angles: float, width: float) -> Held:
    """Continuous beam on the four mouths as supports that have settled (Clapeyron)."""
    half = width / 2
    x = np.array([-half, half, half + SPAN_MM, 3 * half + SPAN_MM])
    middle = np.array([0, 0, SPAN_MM + width, SPAN_MM + width])
    z = np.repeat([angles * SMALL, SMALL], 2) * (x - middle)
    slope = np.diff(z) / np.diff(x)
    both = 2 * (width + SPAN_MM)
    A = np.array([[both, SPAN_MM], [SPAN_MM, both]])
    m = np.array([0, *np.linalg.solve(A, 6 * EI * np.diff(slope)), 0])
    on_wire = np.diff(np.array([0, *(np.diff(m) / np.diff(x)), 0]))
    turn = -on_wire * (x - middle)  # of the wire on the brackets, reversed
    return Held(-on_wire[:2].sum(), turn[:2].sum(), turn[2:].sum())


def _finite_brackets() -> Compared:
    parts = [
        _over_angles(
            lambda a, w=width: _in_brackets(a, w),  # type: ignore[misc]
            lambda a, w=width: _three_moments(a, w).over_unit,  # type: ignore[misc]
        )
        for width in (1.5, 3.0)
    ]
    return Compared(
        np.array([part.computed for part in parts]),
        np.array([part.reference for part in parts]),
        1.0,
        [
            f"{width} mm, {label}"
            for width, part in zip((1.5, 3.0), parts, strict=True)
            for label in part.labels
        ],
    )


def _softer_by_brackets() -> Compared:
    """Opposite angles: pure bending of a bar of length ``L + 2b/3`` instead of L."""
    clamped = _bar(-1.0).second
    widths = (1.5, 3.0)
    return Compared(
        [_in_brackets(-1.0, width).second / clamped for width in widths],
        [SPAN_MM / (SPAN_MM + 2 * width / 3) for width in widths],
        labels=[f"{width} mm" for width in widths],
    )


def _in_series(angles: float, factor: float) -> Held:
    """Bar of slope deflection on two supports that give: ``(k⁻¹ + K⁻¹)⁻¹`` in (z₁, θ₁, z₂, θ₂)."""
    L, K = SPAN_MM, factor * _TOOTH
    k = (
        EI
        / L**3
        * np.array(
            [
                [12, 6 * L, -12, 6 * L],
                [6 * L, 4 * L**2, -6 * L, 2 * L**2],
                [-12, -6 * L, 12, -6 * L],
                [6 * L, 2 * L**2, -6 * L, 4 * L**2],
            ]
        )
    )
    turned = np.array([0, angles * SMALL, 0, SMALL])
    moved = -np.linalg.solve(k + np.diag([K[2, 2], K[4, 4]] * 2), k @ turned)
    on_wire = k @ (turned + moved)
    return Held(-on_wire[0], -on_wire[1], -on_wire[3])


def _on_ligaments(factor: float) -> Compared:
    return _over_angles(lambda a: _bar(a, factor=factor), lambda a: _in_series(a, factor).over_unit)


def _stiffer_ligament() -> Compared:
    """What ten times the ligament does to both moments at equal angles."""
    soft, stiff = (_bar(1.0, factor=factor) for factor in (1.0, 10.0))
    expected = _in_series(1.0, 10.0).first / _in_series(1.0, 1.0).first
    return Compared([stiff.first / soft.first, stiff.second / soft.second], expected)


_SLOPES = "rotations of a thousandth, and a thousandth of the shear deflection, 1 % of it all"

CHECKS = (
    Check(
        id="six_classes_of_geometry",
        what="moment of the first bracket over that of the second",
        code="fem.appliance_system.solve_equilibrium, fem.attachment.clamp_contact",
        kind=Kind.BENCHMARK,
        source="burstone_koenig",
        place="classes I to VI: 1, 0.8, 0.5, 0, −0.4, −1",
        tolerance=0.01,
        reason="published with one or two digits",
        compute=_six_classes,
    ),
    Check(
        id="moments_of_six_classes",
        what="moments and force of a straight wire between turned clamps, over 2EIθ/L",
        code="fem.appliance_system.solve_equilibrium, fem.rod.internal_forces",
        kind=Kind.CODE,
        source="beam",
        place="slope deflection: 2θ₁ + θ₂ and θ₁ + 2θ₂",
        tolerance=1e-4,
        reason=_SLOPES,
        compute=_slope_deflection,
    ),
    Check(
        id="moments_of_six_classes_with_shear",
        what="the same of Timoshenko's beam",
        code="fem.appliance_system.solve_equilibrium, fem.section.Section.stiffness",
        kind=Kind.CODE,
        source="przemieniecki",
        place="(4 + φ) and (2 − φ) over (1 + φ), φ = 12EI/(κGA L²)",
        tolerance=1e-4,
        reason="rotations of a thousandth",
        compute=_slope_deflection_with_shear,
    ),
    Check(
        id="brackets_of_finite_width",
        what="moments and force in brackets of 1.5 and 3 mm, over 2EIθ/L",
        code="fem.attachment.two_point_contact, fem.appliance_system.solve_equilibrium",
        kind=Kind.CODE,
        source="clapeyron",
        place="four supports that have settled",
        tolerance=1e-4,
        reason=_SLOPES,
        compute=_finite_brackets,
    ),
    Check(
        id="brackets_soften_a_wire",
        what="moment at opposite angles in wide brackets over that between clamps",
        code="fem.attachment.two_point_contact",
        kind=Kind.CODE,
        source="beam",
        place="L/(L + 2b/3): an end turn Mb/(3EI) in each bracket",
        tolerance=1e-4,
        reason=_SLOPES,
        compute=_softer_by_brackets,
    ),
    Check(
        id="two_couples_on_a_ligament",
        what="moments and force of the six classes on teeth that give way, over 2EIθ/L",
        code="fem.appliance_system.solve_equilibrium",
        kind=Kind.CODE,
        source="beam",
        place="bar and supports in series, by matrix statics",
        tolerance=1e-4,
        reason=_SLOPES,
        compute=lambda: _on_ligaments(1.0),
    ),
    Check(
        id="two_couples_on_a_stiff_ligament",
        what="the same with ten times the ligament's stiffness, over 2EIθ/L",
        code="fem.appliance_system.solve_equilibrium",
        kind=Kind.CODE,
        source="beam",
        place="bar and supports in series, by matrix statics",
        tolerance=1e-4,
        reason=_SLOPES,
        compute=lambda: _on_ligaments(10.0),
    ),
    Check(
        id="two_couples_feel_the_ligament",
        what="moments at equal angles with a ligament ten times as stiff, over those before",
        code="fem.appliance_system.solve_equilibrium",
        kind=Kind.CODE,
        source="beam",
        place="bar and supports in series: 8 % more",
        tolerance=1e-4,
        reason=_SLOPES,
        compute=_stiffer_ligament,
    ),
)
