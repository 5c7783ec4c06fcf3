"""A tooth as an implicit function, and its outer surface as a contour of it.

The field f(m, b, o) is negative inside the tooth and close to the distance from the surface in its
neighbourhood, so that contours are smooth and blends have the width they are given in mm.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pyvista as pv
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from geometry.anatomy import Cusp, Root, ToothDimensions
from geometry.mesh import TriSurface

Floats = NDArray[np.float64]

_STEP_MM = 1e-4  # central differences: error ~1e-8 of a smooth field of order one
_OCCLUSAL_BLEND_MM = 0.5  # rounding where the biting surface meets the sides of the crown
_CUSP_ROUNDING_MM = 0.5
_FURCATION_BLEND_MM = 1.0
_ROOT_SQUARENESS = 2.3  # of a root that is one of several
_TRUNK_TAPER = 4.0  # a blunt end keeps the trunk's walls upright down to the furcation
_INNER_CAP_MM = 1.0  # how far one of several roots reaches up into the crown


@dataclass(frozen=True)
class ToothField:
    """Implicit function of a parametric tooth.

    A cross-section at height o is the superellipse E = (|m/a|ⁿ + |(b − b₀)/c|ⁿ)^(1/n) = 1. Over the
    crown a, b₀, c follow the outline of the crown; along a root of length L they are those of the
    cervix, tapered by g = (E² + sᵖ)^(1/2) = 1 with s = −o/L, so that the widths fall as √(1 − sᵖ)
    to a rounded apex; several roots taper from the furcation and join the trunk by a smooth union.
    Each body becomes a distance to first order, (g − 1)/|∇g|. The crown is cut by the biting
    surface o = H(m, b). The form is this project's own; only its measures are published.

    Invalid far from the surface (beyond about half the tooth's width), where f keeps its sign but
    is no distance.

    Parameters
    ----------
    dimensions : ToothDimensions
    """

    dimensions: ToothDimensions
    _outline: Callable[[Floats], Floats] = field(init=False, repr=False, compare=False)
    _trunk_end_mm: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_outline", _crown_outline(self.dimensions))
        object.__setattr__(self, "_trunk_end_mm", self._solve_trunk_end())

    def __call__(self, points: Floats) -> Floats:
        """Return the field (n,) in mm at `points` (n, 3): negative inside."""
        body = self._body(points, self._trunk_end_mm)
        return _smooth_max(body, self._above_biting_surface(points), _OCCLUSAL_BLEND_MM)

    def gradient(self, points: Floats) -> Floats:
        """Return the gradient (n, 3) at `points` (n, 3), outward on the surface."""
        return _gradient(self, points)

    def project(self, points: Floats, steps: int = 3) -> Floats:
        """Move `points` (n, 3) that lie near the surface onto it, along the gradient."""
        for _ in range(steps):
            slope = self.gradient(points)
            size = np.maximum((slope**2).sum(axis=1), 1e-12)
            points = points - (self(points) / size)[:, None] * slope
        return points

    def _body(self, points: Floats, trunk_end_mm: float) -> Floats:
        """Return the field before the biting surface cuts it."""
        dims = self.dimensions
        taper = _TRUNK_TAPER if dims.roots else dims.taper
        f = _distance(lambda p: self._crown_and_trunk(p, trunk_end_mm, taper), points)
        for root in dims.roots:
            g = _distance(lambda p, root=root: _root_level(p, root, dims), points)  # type: ignore[misc]
            f = -_smooth_max(-f, -g, _FURCATION_BLEND_MM)
        return f

    def _crown_and_trunk(self, points: Floats, length_mm: float, taper: float) -> Floats:
        m, b, o = points.T
        half_m, buccal, lingual = self._outline(np.clip(o, 0.0, self.dimensions.crown_length_mm))
        centre, half_b = (buccal - lingual) / 2.0, (buccal + lingual) / 2.0
        section = _superellipse(m / half_m, (b - centre) / half_b, self.dimensions.squareness)
        return np.sqrt(section**2 + np.maximum(-o / length_mm, 0.0) ** taper)

    def _above_biting_surface(self, points: Floats) -> Floats:
        height = self.dimensions.crown_length_mm
        return _distance(
            lambda p: 1.0 + p[:, 2] - height - _cusp_height(p, self.dimensions.cusps), points
        )

    def _solve_trunk_end(self) -> float:
        """Place the end of the trunk so that the furcation lies at its published depth."""
        dims = self.dimensions
        if not dims.roots:
            return dims.root_length_mm
        if dims.trunk_mm is None:
            raise ValueError(f"tooth {dims.number}: several roots need trunk_mm; state its depth")
        roof = np.array([[0.0, 0.0, -dims.trunk_mm]])
        return float(
            brentq(
                lambda end: self._body(roof, end)[0],
                0.3 * dims.trunk_mm,
                1.5 * dims.trunk_mm,
                xtol=1e-6,
            )
        )


def tooth_surface(dimensions: ToothDimensions, spacing_mm: float = 0.25) -> TriSurface:
    """Return the closed outer surface of a parametric tooth.

    Parameters
    ----------
    dimensions : ToothDimensions
    spacing_mm : float
        Grid spacing of the contour. Its nodes are moved onto the field's zero afterwards.

    Returns
    -------
    TriSurface
        One patch, ``"tooth"``, oriented outwards.
    """
    shape = ToothField(dimensions)
    lower, upper = _bounds(dimensions)
    counts = np.ceil((upper - lower) / spacing_mm).astype(int) + 1
    grid = pv.ImageData(dimensions=counts, spacing=(spacing_mm,) * 3, origin=lower)
    values = shape(np.asarray(grid.points, dtype=np.float64))
    contour = grid.contour([0.0], scalars=values, method="flying_edges").clean(tolerance=1e-6)
    points = shape.project(np.asarray(contour.points, dtype=np.float64))
    triangles = contour.faces.reshape(-1, 4)[:, 1:].astype(np.int64)
    return TriSurface.one_patch(points, triangles, "tooth").oriented_outwards()


def _bounds(dims: ToothDimensions, margin_mm: float = 0.6) -> tuple[Floats, Floats]:
    """Return the corners of a box that holds the tooth."""
    widest = max(dims.crown_md_mm, dims.cervix_md_mm), max(dims.crown_bl_mm, dims.cervix_bl_mm)
    half = np.array(widest) / 2.0
    lower, upper = np.append(-half, -dims.root_length_mm), np.append(half, dims.crown_length_mm)
    for root in dims.roots:
        reach = np.array([root.md_mm, root.bl_mm, 0.0]) / 2.0
        for place in (np.array([*root.offset_mm, 0.0]), np.array(root.apex_mm())):
            lower, upper = np.minimum(lower, place - reach), np.maximum(upper, place + reach)
    return lower - margin_mm, upper + margin_mm


def _crown_outline(dims: ToothDimensions) -> Callable[[Floats], Floats]:
    """Return the crown's half widths (mesiodistal, buccal, lingual) as a function of height."""
    half = np.array([dims.crown_md_mm, dims.crown_bl_mm, dims.crown_bl_mm]) / 2.0
    cervix = np.array([dims.cervix_md_mm, dims.cervix_bl_mm, dims.cervix_bl_mm]) / 2.0
    levels = [0.0, *(row.level for row in dims.outline)]
    knots = [cervix, *(half * (r.mesiodistal, r.buccal, r.lingual) for r in dims.outline)]
    return PchipInterpolator(np.array(levels) * dims.crown_length_mm, np.array(knots).T, axis=1)


def _root_level(points: Floats, root: Root, dims: ToothDimensions) -> Floats:
    """Return g of one root: 1 on its surface, less inside.

    The taper runs from the furcation to the apex. Above the furcation a cap draws the root into
    the trunk, so that the union does not thicken the cervix.
    """
    depth, top = -points[:, 2], dims.trunk_mm or 0.0
    lean = np.tan(np.radians(root.tilt_deg))
    m = points[:, 0] - root.offset_mm[0] - lean[0] * depth
    b = points[:, 1] - root.offset_mm[1] - lean[1] * depth
    below = (depth - top) / (root.length_mm - top)
    above = (top - depth) / (top + _INNER_CAP_MM)
    along = np.maximum(below, above)
    section = _superellipse(2.0 * m / root.md_mm, 2.0 * b / root.bl_mm, _ROOT_SQUARENESS)
    return np.sqrt(section**2 + along**dims.taper)


def _cusp_height(points: Floats, cusps: tuple[Cusp, ...]) -> Floats:
    """Return the height of the biting surface (n,) from the highest cusp tip, zero or less."""
    height = np.full(len(points), -np.inf)
    for cusp in cusps:
        run = np.hypot(
            cusp.mesial_slope * (points[:, 0] - cusp.mesial_mm),
            cusp.buccal_slope * (points[:, 1] - cusp.buccal_mm),
        )
        fall = np.hypot(run, _CUSP_ROUNDING_MM) - _CUSP_ROUNDING_MM
        height = _smooth_max(height, -cusp.drop_mm - fall, 0.3)
    return height


def _superellipse(x: Floats, y: Floats, exponent: float) -> Floats:
    return (np.abs(x) ** exponent + np.abs(y) ** exponent) ** (1.0 / exponent)


def _smooth_max(a: Floats, b: Floats, width: float) -> Floats:
    """Return max(a, b), rounded by a quadratic where they differ by less than `width`."""
    overlap = np.maximum(width - np.abs(a - b), 0.0) / width
    return np.maximum(a, b) + 0.25 * width * overlap**2


def _distance(level: Callable[[Floats], Floats], points: Floats) -> Floats:
    """Return the first-order distance (g − 1)/|∇g| from the surface g = 1."""
    slope = np.linalg.norm(_gradient(level, points), axis=1)
    return (level(points) - 1.0) / np.maximum(slope, 1e-3)


def _gradient(level: Callable[[Floats], Floats], points: Floats) -> Floats:
    """Return central differences (n, 3) of `level`."""
    columns = []
    for step in _STEP_MM * np.eye(3):
        columns.append((level(points + step) - level(points - step)) / (2.0 * _STEP_MM))
    return np.stack(columns, axis=1)
