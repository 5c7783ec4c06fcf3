"""Force, couple and wire stress of a cantilever over its activation.

One wire is made, bent so that its end lies the working activation off the hook. Then the hook is
taken from the wire's end (activation 0) to its place (the working point) and past it, along the
activation. A tied wire, which slides in its tube, is cut anew at each activation so that as much of
it lies there: the work of its curve and the energy it stores then differ by about 1 % at a third of
the span. Going back is what happens as the teeth move: the hook nears the end of the wire and the
force fades at the load-deflection rate ``dF/da``.

An elastic wire goes back along the same curve. One taken past its elastic limit does not: it goes
back along a branch of its own and has no force left before it is back where it was bent to. With
friction two curves bracket the frictionless one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from fem.activation_branches import (
    At,
    CurvePoint,
    History,
    Points,
    RubbingCurves,
    held_curve,
    history_of,
    interpolated,
    moved_hook,
    play_curve,
    rubbing_curves,
)
from fem.appliance import EquilibriumError
from fem.engage import Setup, engage
from fem.unit_load import linear_force

Array = NDArray[np.float64]

BAND = 0.25  # of the working force
_STEPS_TO_WORKING = 8
_LEAST_REACH = 1.5  # of the working activation
_MOST_REACH = 3.0
_RATE_STEP = 1e-3  # of the working activation: curvature leaves an error of its square
_ROOT_TOLERANCE = 1e-9


@dataclass(frozen=True)
class ForceBand:
    """Activations around the working point over which the force stays near the working force.

    Attributes
    ----------
    share
        How far the force may differ, as a share of the working force.
    lower, upper
        Ends of the range, letting back and activating; an end beyond its curve is the curve's
        own below, None above. Past the elastic limit a wire goes back and forth on the branch of
        letting back, up to its greatest activation (exact of an elastic–plastic alloy).
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
        The frictionless elastic curve by growing activation, from the passive wire on.
    working
        The working point; of a wire with a history, as it is let back.
    first_yield
        Where the greatest stress reaches the elastic limit, or None if that is beyond the curve.
    band
        Where the force stays near the working force.
    rate_N_per_mm
        Slope of the force at the working point, letting back.
    linear_rate_N_per_mm, linear_couple_rate_N
        Force and couple per millimetre by linear theory of the wire as bent, between immovable
        units.
    history
        Beyond the elastic limit; None where the curve does not come there or is taken as elastic.
    rubbing
        With friction; None without.
    closings
        Where walls of a tube with play are first reached.
    """

    points: Points
    working: CurvePoint
    first_yield: CurvePoint | None
    band: ForceBand
    rate_N_per_mm: float
    linear_rate_N_per_mm: float
    linear_couple_rate_N: float
    history: History | None = None
    rubbing: RubbingCurves | None = None
    closings: Points = ()

    @property
    def end_mm(self) -> float:
        """Greatest activation of the curve; of a wire past its limit, to which that is known."""
        known = self.points if self.history is None else self.history.activating
        return min(self.points[-1].activation_mm, known[-1].activation_mm)


def force_activation(
    setup: Setup, working_mm: float, limit_MPa: float, *, band: float = BAND
) -> ForceActivation:
    """Force–activation curve of the wire that is made for a working activation.

    The curve goes to 1.5 times the working activation and on, at most to 3 times, until the wire
    comes to its elastic limit and the force has left the band; it ends before where no equilibrium
    is found. Of a wire with a history, or with play, marks are interpolated between points at
    sixteenths of the working activation.

    Parameters
    ----------
    setup
        Cantilever and contacts; the hook where it is at the working point.
    working_mm
        Distance between the passive wire's end and that hook; positive.
    limit_MPa
        Stress up to which the wire is linear.
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
    if not limit_MPa > 0:
        raise ValueError(f"the yield strength must be positive, got {limit_MPa} MPa")

    def exact(activation_mm: float) -> CurvePoint:
        return point_at(setup, working_mm, activation_mm)

    if setup.slot is None and setup.cantilever.determinate:
        at: At = exact
        points = _curve(at, working_mm, limit_MPa, band)
    elif not setup.cantilever.determinate:
        points = held_curve(setup, working_mm, _LEAST_REACH)
        at = interpolated(points)
    else:
        points = play_curve(setup, working_mm, _LEAST_REACH)
        at = interpolated(points)
    first = _crossing(at, points, "stress_MPa", limit_MPa)
    up = down = at
    rising, falling, history = points, points[::-1], None
    if setup.alloy is not None and first is not None:
        past = first.activation_mm < max(1.0, setup.alloy.trial_share) * working_mm
        reach = points[-1].activation_mm / working_mm
        history = history_of(setup, working_mm, reach, let_back=past)
        rising = history.activating
        if past:  # activated again, it goes the way it came back until it is beyond its trial
            back = history.letting_back[::-1]
            beyond = (p for p in rising if p.activation_mm > back[-1].activation_mm)
            rising = (*back, *beyond)
        up = interpolated(rising)
        if past:
            falling, down = history.letting_back, interpolated(history.letting_back)
    working = down(working_mm)
    step = _RATE_STEP * working_mm
    end = min(working_mm + step, falling[0].activation_mm)
    rise = down(end).force_N - down(working_mm - step).force_N
    linear = linear_force(setup.cantilever, working_mm)
    arm = setup.cantilever.sites.hook - setup.cantilever.sites.tube_middle
    return ForceActivation(
        points=points,
        working=working,
        first_yield=first,
        band=_band((up, rising), (down, falling), working, band),
        rate_N_per_mm=rise / (end - working_mm + step),
        linear_rate_N_per_mm=float(np.linalg.norm(linear)) / working_mm,
        linear_couple_rate_N=float(np.linalg.norm(np.cross(arm, linear))) / working_mm,
        history=history,
        rubbing=rubbing_curves(setup, working_mm, points) if setup.friction else None,
        closings=_closings(setup, working_mm, at),
    )


def point_at(setup: Setup, working_mm: float, activation_mm: float) -> CurvePoint:
    """Engage the elastic wire made for the working activation at another one, by moving the hook.

    Raises
    ------
    fem.appliance.EquilibriumError
        If no equilibrium is found.
    """
    if activation_mm == 0:
        return CurvePoint(0.0, 0.0, 0.0, 0.0)
    engaged = engage(
        replace(moved_hook(setup, working_mm, activation_mm), friction=0.0), activation_mm
    )
    couple = engaged.couple_Nmm(setup.cantilever.sites.tube_middle)
    return CurvePoint(activation_mm, engaged.force_N, couple, float(engaged.stress_MPa.max()))


def _curve(at: At, working_mm: float, limit_MPa: float, band: float) -> Points:
    """Points at equal steps; the working point is one of them."""
    points = [at(working_mm * i / _STEPS_TO_WORKING) for i in range(_STEPS_TO_WORKING + 1)]
    force = points[-1].force_N
    for i in range(_STEPS_TO_WORKING + 1, int(_MOST_REACH * _STEPS_TO_WORKING) + 1):
        enough = i > _LEAST_REACH * _STEPS_TO_WORKING
        left = any(abs(p.force_N - force) > band * force for p in points[_STEPS_TO_WORKING:])
        if enough and left and any(p.stress_MPa > limit_MPa for p in points):
            break
        try:
            points.append(at(working_mm * i / _STEPS_TO_WORKING))
        except (EquilibriumError, ValueError):
            break  # the hook is out of the wire's reach
    return tuple(points)


def _closings(setup: Setup, working_mm: float, at: At) -> Points:
    """Where walls of the tube are first reached on the way to the working point."""
    if setup.slot is None:
        return ()
    engaged = engage(replace(setup, alloy=None, friction=0.0), working_mm)
    return tuple(at(a) for a in sorted(engaged.closings_mm.values()))


def _band(
    up: tuple[At, Points], down: tuple[At, Points], working: CurvePoint, share: float
) -> ForceBand:
    """Nearest place on each side of the working point where the force leaves the band.

    Parameters
    ----------
    up, down
        Curve and points by growing activation, and by falling activation.
    """

    def leaves(at: At, points: Points) -> CurvePoint | None:
        limits = [working.force_N * (1 - share), working.force_N * (1 + share)]
        found = [_crossing(at, points, "force_N", limit) for limit in limits]
        near = [point for point in found if point is not None]
        distance = [abs(point.activation_mm - working.activation_mm) for point in near]
        return near[int(np.argmin(distance))] if near else None

    a = working.activation_mm
    below = tuple(p for p in down[1] if p.activation_mm < a)
    above = tuple(p for p in up[1] if p.activation_mm > a)
    lower = leaves(down[0], (working, *below)) or down[1][-1]
    return ForceBand(share, lower, leaves(up[0], (working, *above)))


def _crossing(at: At, points: Points, name: str, value: float) -> CurvePoint | None:
    """First place along the points where a quantity passes a value."""

    def excess(activation_mm: float) -> float:
        return float(getattr(at(activation_mm), name)) - value

    for first, second in pairwise(points):
        if (getattr(first, name) - value) * (getattr(second, name) - value) <= 0:
            low, high = sorted((first.activation_mm, second.activation_mm))
            if excess(low) * excess(high) > 0:  # another branch passes there than at this point
                return second
            tolerance = _ROOT_TOLERANCE * max(high, 1e-3)
            return at(float(brentq(excess, low, high, xtol=tolerance)))
    return None
