"""Steps of a course of movement: poses of the units, the wire engaged there, the next poses.

The equation and what it assumes are in `fem.course`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from fem.appliance import Appliance, Equilibrium
from fem.appliance_system import solve_equilibrium
from fem.attachment import PointContact
from fem.cantilever_design import ONE_POINT, TWO_POINT
from fem.carried import Pose, carried
from fem.rigid import shift_motion

Array = NDArray[np.float64]

_ORIGIN = np.zeros(3)
_ROOT_TOLERANCE_MM = 1e-9
_WHOLE = 1e-9  # of the way: what may be left of it at its end
_SHORTER = 2.0
_MOST_HALVINGS = 12
_FADED = 1e-3  # of the first initial movement: steps as short as that lead nowhere


@dataclass(frozen=True)
class Pace:
    """How a course is followed.

    Attributes
    ----------
    step_mm
        Path of the most moved marked point in one step; shorter where the force has faded.
    most_mm
        Path of that point after which to end.
    floor_N
        Force on the one-point unit at which to end before; 0 for loads that do not fade.
    reactivate_share
        Share of the first force at which to reactivate.
    fade_share
        Share of the first force by which the force may change in a step; a longer one is halved.
    order
        2: midpoint rule. 1: Euler's.

    Raises
    ------
    ValueError
        If a number is out of its range.
    """

    step_mm: float
    most_mm: float
    floor_N: float
    reactivate_share: float = 0.5
    fade_share: float = 0.1
    order: Literal[1, 2] = 2

    def __post_init__(self) -> None:
        for name in ("step_mm", "most_mm"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} of a course must be positive, got {getattr(self, name)}")
        if not self.floor_N >= 0:
            raise ValueError(f"floor_N of a course must not be negative, got {self.floor_N}")
        for name in ("reactivate_share", "fade_share"):
            if not 0 < getattr(self, name) < 1:
                raise ValueError(f"{name} must lie between 0 and 1, got {getattr(self, name)}")


@dataclass(frozen=True)
class Bodies:
    """What of an appliance moves, and how far it has.

    Attributes
    ----------
    appliance
        As it was at first.
    marks
        Points of each unit whose paths are looked at, (n, 3) each, mm, where they are at first.
    moves
        Whether each unit may move on; one that may not still gives way in its ligament.
    """

    appliance: Appliance
    marks: tuple[Array, ...]
    moves: tuple[bool, ...]


@dataclass(frozen=True)
class CoursePoint:
    """A moment of the course.

    Attributes
    ----------
    moved_mm
        Path of the most moved marked point.
    poses
        Of each unit.
    appliance
        Wire, units and contacts there.
    equilibrium
        The same wire engaged there.
    initial_mm
        Largest displacement of a marked point by the initial movement from there.
    """

    moved_mm: float
    poses: tuple[Pose, ...]
    appliance: Appliance
    equilibrium: Equilibrium
    initial_mm: float

    @property
    def force_N(self) -> Array:
        """Force on the one-point unit, (3,)."""
        return self.equilibrium.wrench_on(ONE_POINT, _ORIGIN)[:3]

    def couple_Nmm(self, middle: Array) -> Array:
        """Moment on the two-point unit about the middle of its attachment, (3,).

        Parameters
        ----------
        middle
            That middle at first, (3,), mm.
        """
        return self.equilibrium.wrench_on(TWO_POINT, self.poses[TWO_POINT].points(middle))[3:]

    def wrench_at_resistance(self, unit: int) -> Array:
        """Force and moment on a unit about the point of its support, (6,)."""
        return self.equilibrium.wrench_on(unit, self.appliance.units[unit].point)

    def offset_mm(self, activation: Array) -> float:
        """How far the passive wire still is from its hook, along the activation.

        Counted along what the hook holds, so that it is zero where the wire is passive.

        Parameters
        ----------
        activation
            Unit vector at first, (3,), carried along with the one-point unit.
        """
        hook = self.appliance.contacts[-1]
        assert isinstance(hook, PointContact)
        held = hook.directions @ self.poses[ONE_POINT].vectors(activation)
        return float(-held @ hook.gap / (held @ held))


@dataclass(frozen=True)
class Course:
    """A course of movement.

    Attributes
    ----------
    points
        From the first engagement on, a step apart; the last at the end.
    reactivate
        Where the force has fallen to the share at which to reactivate; None if it has not.
    at_floor
        Whether it ended because the force had fallen to the floor.
    """

    points: tuple[CoursePoint, ...]
    reactivate: CoursePoint | None
    at_floor: bool


def follow_course(bodies: Bodies, pace: Pace) -> Course:
    """Follow any appliance of a one-point and a two-point unit from where it stands.

    Raises
    ------
    fem.appliance.EquilibriumError
        If no equilibrium is found on the way.
    ValueError
        If no unit can move, the force begins below its floor, or it fades where there is none.
    """
    start = _at(bodies, 0.0, tuple(Pose.start() for _ in bodies.appliance.units))
    first = float(np.linalg.norm(start.force_N))
    if first <= pace.floor_N != 0:
        raise ValueError(
            f"the force begins at {first:.3g} N, below the floor of {pace.floor_N:.3g} N at which "
            "its course ends: lower the floor or activate the wire further"
        )
    points, reactivate = [start], None
    while points[-1].moved_mm < pace.most_mm * (1 - _WHOLE):
        last = points[-1]
        step = _step(bodies, last, pace.order)
        length, ahead = _short(pace, start, last, step)
        level = pace.reactivate_share * first
        if reactivate is None and level > pace.floor_N and _signed(last, ahead) <= level:
            reactivate = _where(step, last, level, length)
        if pace.floor_N and _signed(last, ahead) <= pace.floor_N:
            points.append(_where(step, last, pace.floor_N, length))
            return Course(tuple(points), reactivate, at_floor=True)
        if ahead.initial_mm < _FADED * start.initial_mm:
            raise ValueError(
                f"floor_N = {pace.floor_N:g}: the force has faded after {ahead.moved_mm:.3g} mm of "
                f"{pace.most_mm:.3g} mm; give a floor above 0 at which to end"
            )
        points.append(ahead)
    return Course(tuple(points), reactivate, at_floor=False)


def _step(bodies: Bodies, start: CoursePoint, order: int) -> Callable[[float], CoursePoint]:
    """One step of any length from a point."""
    rates = _rates(bodies, start)

    def after(rates: Sequence[Array], length: float) -> CoursePoint:
        poses = tuple(
            pose.moved(length * rate) for pose, rate in zip(start.poses, rates, strict=True)
        )
        return _at(bodies, start.moved_mm + length, poses)

    def step(length: float) -> CoursePoint:
        if order == 1:
            return after(rates, length)
        return after(_rates(bodies, after(rates, 0.5 * length)), length)

    return step


def _short(
    pace: Pace, start: CoursePoint, last: CoursePoint, step: Callable[[float], CoursePoint]
) -> tuple[float, CoursePoint]:
    """Length of a step that is short enough, and where it leads."""
    length = min(
        pace.step_mm * min(1.0, _SHORTER * last.initial_mm / start.initial_mm),
        pace.most_mm - last.moved_mm,
    )
    most = pace.fade_share * np.linalg.norm(start.force_N)
    ahead = step(length)
    for _ in range(_MOST_HALVINGS):
        if np.linalg.norm(ahead.force_N - last.force_N) <= most:
            break
        length *= 0.5
        ahead = step(length)
    return length, ahead


def _at(bodies: Bodies, moved_mm: float, poses: tuple[Pose, ...]) -> CoursePoint:
    """Engage the wire between units at given poses."""
    appliance = carried(bodies.appliance, poses, TWO_POINT)
    equilibrium = solve_equilibrium(appliance)
    largest = 0.0
    for index, unit in enumerate(appliance.units):
        motion = equilibrium.motions[index] * bodies.moves[index]
        arms = poses[index].points(bodies.marks[index]) - unit.point
        moved = np.linalg.norm(motion[:3] + np.cross(motion[3:], arms), axis=-1)
        largest = max(largest, float(moved.max()))
    if largest == 0.0:
        raise ValueError("no unit can move: give at least one of them a ligament and leave it free")
    return CoursePoint(moved_mm, poses, appliance, equilibrium, largest)


def _rates(bodies: Bodies, point: CoursePoint) -> list[Array]:
    """Twist of each unit about the origin, (6,), by which the most moved point moves 1 mm/mm."""
    return [
        shift_motion(motion * moves, unit.point, _ORIGIN) / point.initial_mm
        for unit, motion, moves in zip(
            point.appliance.units, point.equilibrium.motions, bodies.moves, strict=True
        )
    ]


def _signed(last: CoursePoint, point: CoursePoint) -> float:
    """Size of the force; negative where it has turned against that of the last point."""
    return float(np.copysign(np.linalg.norm(point.force_N), point.force_N @ last.force_N))


def _where(
    step: Callable[[float], CoursePoint], last: CoursePoint, level_N: float, length: float
) -> CoursePoint:
    """Where within a step the force comes down to a level."""

    def excess(part: float) -> float:
        return _signed(last, step(part) if part > 0 else last) - level_N

    return step(float(brentq(excess, 0.0, length, xtol=_ROOT_TOLERANCE_MM)))
