"""The alveolar crest as a smooth surface that cuts a tooth: level, by side, or drawn.

A crest needs a signed height above it and the direction of that height. Cutting, the rim of the
ligament and thickness profiles work with any crest.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Protocol, Self

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RBFInterpolator

Floats = NDArray[np.float64]

_STEP_MM = 1e-4  # central differences: error ~1e-8 of a smooth surface
_KNEE = 0.7  # share of the cervical half width inside which a crest by side is a saddle
_RINGS = (0.8, 1.0, 1.3)  # scales of a drawn line between which its height is carried along
_REACH = 1.6  # of the half widths of a drawn line: farther out its height stays the same
_FEWEST_POINTS = 6
_NARROWEST = 0.05  # least width of a drawn line over its length, seen along the axis
_STEEPEST = 3.0  # rise over run of a drawn line, 72°


class Crest(Protocol):
    """A smooth surface between crown and apex, in the tooth's frame."""

    def height(self, points: Floats) -> Floats:
        """Return the height (n,) of `points` (n, 3), mm: positive on the side of the crown.

        Zero on the crest, with a gradient of unit length there, so that close to the crest the
        height is the distance from it.
        """
        ...

    def normals(self, points: Floats) -> Floats:
        """Return the unit direction (n, 3) in which the height rises, towards the crown."""
        ...

    def moved(self, distance_mm: float) -> Self:
        """Return the crest moved towards the crown."""
        ...


@dataclass(frozen=True)
class Plane:
    """A plane in space, as a crest a level one.

    Parameters
    ----------
    point, normal : tuple of float
        A point of the plane in mm, and its normal, which need not have unit length. For the
        crest the normal points to the crown.
    """

    point: tuple[float, float, float]
    normal: tuple[float, float, float]

    @property
    def unit_normal(self) -> Floats:
        """Return the normal (3,) with unit length."""
        normal = np.asarray(self.normal, dtype=np.float64)
        return normal / np.linalg.norm(normal)

    def height(self, points: Floats) -> Floats:
        """Return the signed distance (n,) of `points` (n, 3) from the plane, mm."""
        return (points - np.asarray(self.point)) @ self.unit_normal

    def normals(self, points: Floats) -> Floats:
        """Return the unit normal at each of `points`, (n, 3)."""
        return np.broadcast_to(self.unit_normal, points.shape)

    def moved(self, distance_mm: float) -> Plane:
        """Return the plane moved along its normal."""
        m, b, o = np.asarray(self.point, dtype=np.float64) + distance_mm * self.unit_normal
        return Plane((float(m), float(b), float(o)), self.normal)


@dataclass(frozen=True)
class SaddleCrest:
    """A crest given by its depth at the four sides of the tooth; lengths in mm.

    With u = (m/M) q and v = (b/B) q the depth below the cervix is
    d(m, b) = a₀ + a₁ u + b₁ v + a₂ (u² − v²), the smallest polynomial that takes four values at
    (±M, 0) and (0, ±B). The factor q = ((1 + κ⁴)/(κ⁴ + ρ⁴))^¼ with ρ² = (m/M)² + (b/B)² and
    κ = 0.7 keeps the depth nearly even across the root's wall: a root narrower than its cervix
    still has its crest at the depths stated, and the bone does not climb along a bulging crown.
    The form is this project's own.

    Parameters
    ----------
    mesial_mm, distal_mm, buccal_mm, lingual_mm : float
        Depth of the crest below the cervix at each side.
    half_md_mm, half_bl_mm : float
        Half the widths M, B of the tooth at the cervix.
    """

    mesial_mm: float
    distal_mm: float
    buccal_mm: float
    lingual_mm: float
    half_md_mm: float
    half_bl_mm: float

    def __post_init__(self) -> None:
        for name in ("half_md_mm", "half_bl_mm"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0.0):
                raise ValueError(f"crest: {name} is {value}; it must be positive")
        for name in ("mesial_mm", "distal_mm", "buccal_mm", "lingual_mm"):
            if not np.isfinite(getattr(self, name)):
                raise ValueError(f"crest: {name} is {getattr(self, name)}; give a depth in mm")

    def depth(self, points: Floats) -> Floats:
        """Return the depth of the crest below the cervix (n,) under or over `points` (n, 3)."""
        u, v = points[:, 0] / self.half_md_mm, points[:, 1] / self.half_bl_mm
        knee = _KNEE**4
        held = ((1.0 + knee) / (knee + (u**2 + v**2) ** 2)) ** 0.25
        u, v = held * u, held * v
        mesial, distal, buccal, lingual = self._sides
        level = 0.25 * (mesial + distal + buccal + lingual)
        saddle = 0.25 * (mesial + distal - buccal - lingual)
        tilt = 0.5 * ((mesial - distal) * u + (buccal - lingual) * v)
        return np.asarray(level + tilt + saddle * (u**2 - v**2))

    def height(self, points: Floats) -> Floats:
        """Return the height (n,) of `points` (n, 3) above the crest, mm."""
        return _height(self.depth, points)

    def normals(self, points: Floats) -> Floats:
        """Return the unit direction (n, 3) in which the height rises."""
        return _normals(self.depth, points)

    def moved(self, distance_mm: float) -> SaddleCrest:
        """Return the crest moved along the tooth's axis towards the crown."""
        mesial, distal, buccal, lingual = (side - distance_mm for side in self._sides)
        return SaddleCrest(mesial, distal, buccal, lingual, self.half_md_mm, self.half_bl_mm)

    @property
    def _sides(self) -> tuple[float, float, float, float]:
        return self.mesial_mm, self.distal_mm, self.buccal_mm, self.lingual_mm


@dataclass(frozen=True, eq=False)
class PolylineCrest:
    """A crest through a closed line drawn around a tooth.

    The depth is a thin-plate spline over the plane across the tooth's axis, through the points of
    the line; they count once more a fifth nearer to its middle and three tenths farther out, so
    that the crest meets the root's wall squarely. Far out it stays the same.
    Source of the spline: Duchon, J. (1977), Lecture Notes in Mathematics 571, 85–100 (from
    memory), as in SciPy's ``RBFInterpolator``.

    Parameters
    ----------
    points : (n, 3) array
        Points of the line in the tooth's frame, in order around it, mm; six or more. The line
        closes itself.
    shift_mm : float
        How far the crest lies from the line, positive towards the crown.

    Raises
    ------
    ValueError
        If there are too few points, one is no number or repeated, or the line crosses itself
        seen along the tooth's axis or is too steep.
    """

    points: Floats
    shift_mm: float = 0.0
    _spline: RBFInterpolator = field(init=False, repr=False)
    _middle: Floats = field(init=False, repr=False)
    _half: Floats = field(init=False, repr=False)

    def __post_init__(self) -> None:
        line = _checked_line(self.points)
        plan = line[:, :2]
        middle = 0.5 * (plan.min(axis=0) + plan.max(axis=0))
        knots = np.vstack([middle + scale * (plan - middle) for scale in _RINGS])
        spline = RBFInterpolator(knots, np.tile(-line[:, 2], len(_RINGS)))
        object.__setattr__(self, "points", line)
        object.__setattr__(self, "_spline", spline)
        object.__setattr__(self, "_middle", middle)
        object.__setattr__(self, "_half", 0.5 * np.ptp(plan, axis=0))

    def depth(self, points: Floats) -> Floats:
        """Return the depth of the crest below the cervix (n,) under or over `points` (n, 3)."""
        offset = points[:, :2] - self._middle
        far = np.maximum(np.linalg.norm(offset / self._half, axis=1) - 1.0, 0.0)
        room = _REACH - 1.0
        held = (1.0 + room * np.tanh(far / room)) / (1.0 + far)
        return np.asarray(self._spline(self._middle + held[:, None] * offset)) - self.shift_mm

    def height(self, points: Floats) -> Floats:
        """Return the height (n,) of `points` (n, 3) above the crest, mm."""
        return _height(self.depth, points)

    def normals(self, points: Floats) -> Floats:
        """Return the unit direction (n, 3) in which the height rises."""
        return _normals(self.depth, points)

    def moved(self, distance_mm: float) -> PolylineCrest:
        """Return the crest moved along the tooth's axis towards the crown."""
        return replace(self, shift_mm=self.shift_mm + distance_mm)


def crest_plane(depth_mm: float) -> Plane:
    """Return the plane of the alveolar crest, `depth_mm` below the cervix in the tooth's frame."""
    return Plane((0.0, 0.0, -depth_mm), (0.0, 0.0, 1.0))


def onto_crest(points: Floats, crest: Crest, steps: int = 4) -> Floats:
    """Move `points` (n, 3) that lie near a crest onto it, along its normals."""
    for _ in range(steps):
        points = points - crest.height(points)[:, None] * crest.normals(points)
    return points


def _slope(depth: Callable[[Floats], Floats], points: Floats) -> Floats:
    """Return the gradient (n, 3) of o + d(m, b)."""
    slope = np.ones_like(points)
    for axis in (0, 1):
        step = np.zeros(3)
        step[axis] = _STEP_MM
        slope[:, axis] = (depth(points + step) - depth(points - step)) / (2.0 * _STEP_MM)
    return slope


def _height(depth: Callable[[Floats], Floats], points: Floats) -> Floats:
    steepness = np.linalg.norm(_slope(depth, points), axis=1)
    return np.asarray((points[:, 2] + depth(points)) / steepness)


def _normals(depth: Callable[[Floats], Floats], points: Floats) -> Floats:
    slope = _slope(depth, points)
    return np.asarray(slope / np.linalg.norm(slope, axis=1, keepdims=True))


def _checked_line(points: Floats) -> Floats:
    """Return the points of a drawn line, or say what is wrong with them."""
    line = np.asarray(points, dtype=np.float64)
    if line.ndim != 2 or line.shape[1:] != (3,) or len(line) < _FEWEST_POINTS:
        raise ValueError(
            f"crest line of shape {line.shape}: give {_FEWEST_POINTS} points or more around the "
            "tooth, three coordinates each"
        )
    if not np.isfinite(line).all():
        raise ValueError("crest line: a coordinate is no number; give all in mm")
    if np.array_equal(line[0], line[-1]):
        line = line[:-1]
    along = np.roll(line, -1, axis=0) - line
    run = np.linalg.norm(along[:, :2], axis=1)
    if run.min() < 1e-3:
        at = int(np.argmin(run)) + 1
        raise ValueError(
            f"crest line: points {at} and {at % len(line) + 1} lie over each other along the "
            "tooth's axis; leave one out"
        )
    steepest = int(np.argmax(np.abs(along[:, 2]) / run))
    if abs(along[steepest, 2]) > _STEEPEST * run[steepest]:
        raise ValueError(
            f"crest line: it rises {abs(along[steepest, 2]):.2f} mm over {run[steepest]:.2f} mm "
            f"after point {steepest + 1}, steeper than {_STEEPEST:g} to 1; draw it smoother"
        )
    _check_plan(line[:, :2])
    return line


def _check_plan(plan: Floats) -> None:
    """See that a closed line in a plane does not cross itself."""
    widths = np.linalg.svd(plan - plan.mean(axis=0), compute_uv=False)
    if widths[1] < _NARROWEST * widths[0]:
        raise ValueError(
            "crest line: it encloses nothing seen along the tooth's axis; draw it around the tooth"
        )
    a, b = plan, np.roll(plan, -1, axis=0)
    first, second = np.triu_indices(len(plan), 2)
    keep = ~((first == 0) & (second == len(plan) - 1))
    i, j = first[keep], second[keep]

    def turn(p: Floats, q: Floats, r: Floats) -> Floats:
        u, v = q - p, r - p
        return np.asarray(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])

    apart = turn(a[i], b[i], a[j]) * turn(a[i], b[i], b[j])
    across = turn(a[j], b[j], a[i]) * turn(a[j], b[j], b[i])
    crossed = (apart < 0.0) & (across < 0.0)
    if crossed.any():
        at = int(np.argmax(crossed))
        raise ValueError(
            f"crest line: it crosses itself after points {i[at] + 1} and {j[at] + 1} seen along "
            "the tooth's axis; give the points in order around the tooth"
        )
