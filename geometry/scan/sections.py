"""Plane sections of a closed surface along an axis: area, centre, outline, second moments."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from geometry.mesh import TriSurface

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Sections:
    """Sections square to an axis, from the lowest to the highest.

    Parameters
    ----------
    axis : (3,) array
        Unit vector.
    height_mm : (n,) array
        Along the axis, from the origin of the coordinates.
    area_mm2 : (n,) array
    centre : (n, 3) array
        Centroid of each section, mm.
    radius_mm : (n,) array
        Perimeter of each section's convex outline over 2π: half its mean width. The outline
        bridges the gap between roots, so that a furcation does not show in it.
    spread_mm4 : (n, 3, 3) array
        Second moments of area about the centroid, ∫ x xᵀ dA; zero along the axis.
    """

    axis: Floats
    height_mm: Floats
    area_mm2: Floats
    centre: Floats
    radius_mm: Floats
    spread_mm4: Floats


def across(axis: Floats) -> Floats:
    """Return two unit vectors (2, 3) square to a unit vector, the three right-handed."""
    helper = np.eye(3)[np.argmin(np.abs(axis))]
    first = np.cross(helper, axis)
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(axis, first)])


def sections(surface: TriSurface, axis: Floats, height_mm: Floats) -> Sections:
    """Cut a closed surface by planes square to an axis.

    Area, centroid and moments are line integrals along the cuts (Green), so several roots and
    inner loops count rightly.

    Parameters
    ----------
    surface : TriSurface
        Closed, facing outwards.
    axis : (3,) array
        Unit vector.
    height_mm : (n,) array
        Heights of the planes, each between the surface's lowest and highest point.
    """
    plan = across(axis)
    origin = surface.points.mean(axis=0)  # near the tooth, where products lose no digits
    flat = (surface.points - origin) @ plan.T
    level = (surface.points - origin) @ axis
    corner = level[surface.triangles]
    lowest, highest = corner.min(axis=1), corner.max(axis=1)
    rows = []
    for z in height_mm - origin @ axis:
        crossed = surface.triangles[(lowest < z) & (highest >= z)]
        rows.append(_section(*_cut(flat, level, crossed, float(z))))
    area, centre, radius, spread = (np.array(part) for part in zip(*rows, strict=True))
    place = origin + centre @ plan + (height_mm - origin @ axis)[:, None] * axis
    return Sections(axis, height_mm, area, place, radius, plan.T @ spread @ plan)


def even_heights(surface: TriSurface, axis: Floats, spacing_mm: float) -> Floats:
    """Return evenly spaced heights between the ends of a surface along an axis."""
    level = surface.points @ axis
    count = max(int(np.ptp(level) / spacing_mm), 8)
    return np.linspace(level.min(), level.max(), count + 2)[1:-1]


def solid_axes(surface: TriSurface) -> tuple[Floats, Floats]:
    """Return the centroid (3,) of a solid and its principal axes, columns, the longest last.

    Second moments are summed over tetrahedra from the surface's triangles to one point,
    ∫ x xᵀ dV = V/20 (Σ xᵢ xᵢᵀ + s sᵀ) with s = Σ xᵢ.
    """
    origin = surface.points.mean(axis=0)
    corners = surface.points[surface.triangles] - origin
    volume = np.linalg.det(corners) / 6.0
    total = corners.sum(axis=1)
    centroid = volume @ total / 4.0 / volume.sum()
    moment = np.einsum("t,tia,tib->ab", volume, corners, corners)
    moment = (moment + np.einsum("t,ta,tb->ab", volume, total, total)) / 20.0
    moment -= volume.sum() * np.outer(centroid, centroid)
    return origin + centroid, np.linalg.eigh(moment)[1]


def _cut(flat: Floats, level: Floats, cut: Ints, z: float) -> tuple[Floats, Floats]:
    """Return start and end (k, 2) of the directed pieces in which a plane cuts its triangles."""
    under = level[cut] < z
    single = under.sum(axis=1) == 1
    lone = np.where(single[:, None], under, ~under).argmax(axis=1)
    row = np.arange(len(cut))
    at = cut[row, lone]

    def end(other: Ints) -> Floats:
        share = (z - level[at]) / (level[other] - level[at])
        return np.asarray(flat[at] + share[:, None] * (flat[other] - flat[at]))

    first, second = end(cut[row, (lone + 1) % 3]), end(cut[row, (lone + 2) % 3])
    # Outward triangles leave their inside on the left, seen along −axis, if walked this way.
    turn = single[:, None]
    return np.where(turn, second, first), np.where(turn, first, second)


def _section(start: Floats, end: Floats) -> tuple[float, Floats, float, Floats]:
    """Return area, centroid, outline radius and central second moments of directed pieces."""
    if len(start) < 3:
        return 0.0, np.zeros(2), 0.0, np.zeros((2, 2))
    cross = start[:, 0] * end[:, 1] - start[:, 1] * end[:, 0]
    area = cross.sum() / 2.0
    if not area > 0.0:
        return 0.0, start.mean(axis=0), 0.0, np.zeros((2, 2))
    total = start + end
    centre = cross @ total / (6.0 * area)
    moment = sum(np.einsum("k,ka,kb->ab", cross, p, p) for p in (start, end, total)) / 24.0
    radius = ConvexHull(start).area / (2.0 * np.pi)  # in a plane its "area" is the perimeter
    return float(area), centre, float(radius), moment - area * np.outer(centre, centre)
