"""Force, couple and wire stress of a cantilever over its activation.

One wire is made, bent so that its end lies the working activation off the hook. Then the hook is
taken from the wire's end (activation 0) to its place (the working point) and past it, along the
activation. Going back along the curve is what happens as the teeth move: the hook nears the end of
the wire and the force fades at the load-deflection rate ``dF/da``.

The wire is elastic. Beyond first yield the curve is what a wire without yield would give: a real
one gives less, and on the way back it does not return along the curve.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from fem.appliance import EquilibriumError
from fem.cantilever import Cantilever, SolvedCantilever, solve_for_offset
from fem.closed_form import TwoPointCantilever
from fem.rod import section_resultants
from fem.section import Section

Array = NDArray[np.float64]

BAND = 0.25  # of the working force
_STEPS_TO_WORKING = 8
_LEAST_REACH = 1.5  # of the working activation
_MOST_REACH = 3.0
_RATE_STEP = 1e-3  # of the working activation: curvature leaves an error of its square
_ROOT_TOLERANCE = 1e-9


@dataclass(frozen=True)
class CurvePoint:
    """The wire at one activation.

    Attributes
    ----------
    activation_mm
        Distance from the passive wire's end to the hook, along the activation.
    force_N
        Size of the force on the one-point unit.
    couple_Nmm
        Size of the moment on the two-point unit about the middle of its attachment.
    stress_MPa
        Greatest stress of the wire (`Section.peak_stress_MPa`).
    """

    activation_mm: float
    force_N: float
    couple_Nmm: float
    stress_MPa: float


@dataclass(frozen=True)
class ForceBand:
    """Activations around the working point over which the force stays near the working force.

    Attributes
    ----------
    share
        How far the force may differ, as a share of the working force.
    lower, upper
        Ends of the range; None for an upper end beyond the curve.
    """

    share: float
    lower: CurvePoint
    upper: CurvePoint | None


@dataclass(frozen=True)
class ForceActivation:
    """Force–activation curve of one wire.

    Attributes
    ----------
    points
        The curve by growing activation, from the passive wire on.
    working
        The working point.
    first_yield
        Where the greatest stress reaches the yield strength, or None if that is beyond the curve.
    band
        Where the force stays near the working force.
    rate_N_per_mm
        Slope of the force at the working point.
    linear
        The straight wire of linear theory, between immovable units.
    """

    points: tuple[CurvePoint, ...]
    working: CurvePoint
    first_yield: CurvePoint | None
    band: ForceBand
    rate_N_per_mm: float
    linear: TwoPointCantilever

    @property
    def end_mm(self) -> float:
        """Greatest activation of the curve."""
        return self.points[-1].activation_mm


def force_activation(
    cantilever: Cantilever, working_mm: float, yield_strength_MPa: float, *, band: float = BAND
) -> ForceActivation:
    """Force–activation curve of the wire that is made for a working activation.

    The curve goes to 1.5 times the working activation and on, at most to 3 times, until the wire
    yields and the force has left the band; it ends before where no equilibrium is found.

    Parameters
    ----------
    cantilever
        Sites, wire and units; the hook where it is at the working point.
    working_mm
        Distance between the passive wire's end and that hook; positive.
    yield_strength_MPa
        Stress at which the wire is said to yield.
    band
        Share of the working force by which the force may differ; between 0 and 1.

    Raises
    ------
    fem.appliance.EquilibriumError
        If there is no equilibrium up to the working point.
    ValueError
        If an argument is out of its range.
    """
    if not working_mm > 0:
        raise ValueError(f"the working activation must be positive, got {working_mm} mm")
    if not 0 < band < 1:
        raise ValueError(f"the band must be a share between 0 and 1, got {band}")
    if not yield_strength_MPa > 0:
        raise ValueError(f"the yield strength must be positive, got {yield_strength_MPa} MPa")

    def at(activation_mm: float) -> CurvePoint:
        return point_at(cantilever, working_mm, activation_mm)

    points = _curve(at, working_mm, yield_strength_MPa, band)
    working = points[_STEPS_TO_WORKING]
    step = _RATE_STEP * working_mm
    rise = at(working_mm + step).force_N - at(working_mm - step).force_N
    sites, wire = cantilever.sites, cantilever.wire
    return ForceActivation(
        points=points,
        working=working,
        first_yield=_crossing(at, points, "stress_MPa", yield_strength_MPa),
        band=_band(at, points, working, band),
        rate_N_per_mm=rise / (2 * step),
        linear=TwoPointCantilever(wire.section, wire.material, sites.span_mm, sites.base_mm),
    )


def point_at(cantilever: Cantilever, working_mm: float, activation_mm: float) -> CurvePoint:
    """Engage the wire made for the working activation at another one, by moving the hook.

    Raises
    ------
    fem.appliance.EquilibriumError
        If no equilibrium is found.
    """
    if activation_mm == 0:
        return CurvePoint(0.0, 0.0, 0.0, 0.0)
    sites = cantilever.sites
    hook = sites.hook + (activation_mm - working_mm) * sites.activation
    moved = replace(cantilever, sites=replace(sites, hook=hook))
    solved = solve_for_offset(moved, activation_mm)
    return CurvePoint(
        activation_mm,
        float(np.linalg.norm(solved.force_on_hook_N())),
        float(np.linalg.norm(solved.couple_on_tube_Nmm(sites.tube_middle))),
        greatest_stress_MPa(solved, cantilever.wire.section),
    )


def greatest_stress_MPa(solved: SolvedCantilever, section: Section) -> float:
    """Greatest stress anywhere along an engaged wire (`Section.peak_stress_MPa`)."""
    resultants = section_resultants(solved.appliance.rod, solved.equilibrium.state)
    return float(section.peak_stress_MPa(resultants).max())


def _curve(
    at: Callable[[float], CurvePoint], working_mm: float, yield_MPa: float, band: float
) -> tuple[CurvePoint, ...]:
    """Points at equal steps; the working point is one of them."""
    points = [at(working_mm * i / _STEPS_TO_WORKING) for i in range(_STEPS_TO_WORKING + 1)]
    force = points[-1].force_N
    for i in range(_STEPS_TO_WORKING + 1, int(_MOST_REACH * _STEPS_TO_WORKING) + 1):
        enough = i > _LEAST_REACH * _STEPS_TO_WORKING
        left = any(abs(p.force_N - force) > band * force for p in points[_STEPS_TO_WORKING:])
        if enough and left and any(p.stress_MPa > yield_MPa for p in points):
            break
        try:
            points.append(at(working_mm * i / _STEPS_TO_WORKING))
        except (EquilibriumError, ValueError):
            break  # the hook is out of the wire's reach
    return tuple(points)


def _band(
    at: Callable[[float], CurvePoint],
    points: tuple[CurvePoint, ...],
    working: CurvePoint,
    share: float,
) -> ForceBand:
    """Nearest place on each side of the working point where the force leaves the band."""

    def leaves(side: tuple[CurvePoint, ...]) -> CurvePoint | None:
        limits = [working.force_N * (1 - share), working.force_N * (1 + share)]
        found = [_crossing(at, side, "force_N", limit) for limit in limits]
        near = [point for point in found if point is not None]
        distance = [abs(point.activation_mm - working.activation_mm) for point in near]
        return near[int(np.argmin(distance))] if near else None

    index = points.index(working)
    lower = leaves(points[index::-1])
    assert lower is not None  # the passive wire has no force
    return ForceBand(share, lower, leaves(points[index:]))


def _crossing(
    at: Callable[[float], CurvePoint], points: tuple[CurvePoint, ...], name: str, value: float
) -> CurvePoint | None:
    """First place along the points where a quantity passes a value."""

    def excess(activation_mm: float) -> float:
        return float(getattr(at(activation_mm), name)) - value

    for first, second in pairwise(points):
        if (getattr(first, name) - value) * (getattr(second, name) - value) <= 0:
            low, high = sorted((first.activation_mm, second.activation_mm))
            tolerance = _ROOT_TOLERANCE * max(high, 1e-3)
            return at(float(brentq(excess, low, high, xtol=tolerance)))
    return None
