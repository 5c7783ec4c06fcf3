"""Closed surfaces: cutting along the alveolar crest, vertex normals, a sphere to test with.

Works on any closed surface of triangles, a contour of a parametric tooth or a scan alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.mesh import TriSurface

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Plane:
    """A plane in space.

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

    def moved(self, distance_mm: float) -> Plane:
        """Return the plane moved along its normal."""
        m, b, o = np.asarray(self.point, dtype=np.float64) + distance_mm * self.unit_normal
        return Plane((float(m), float(b), float(o)), self.normal)


def crest_plane(depth_mm: float) -> Plane:
    """Return the plane of the alveolar crest, `depth_mm` below the cervix in the tooth's frame."""
    return Plane((0.0, 0.0, -depth_mm), (0.0, 0.0, 1.0))


def split_surface(
    surface: TriSurface, plane: Plane, names: tuple[str, str] = ("crown", "root")
) -> TriSurface:
    """Cut a surface along a plane, so that the plane becomes a line of edges.

    Nodes nearer to the plane than a twentieth of the mean edge are moved onto it first, which
    keeps slivers away.

    Parameters
    ----------
    surface : TriSurface
    plane : Plane
    names : tuple of str
        Names of the patches above and below the plane.

    Raises
    ------
    ValueError
        If the plane does not meet the surface.
    """
    edges = surface.points[surface.triangles] - surface.points[np.roll(surface.triangles, 1, 1)]
    snap_mm = 0.05 * float(np.linalg.norm(edges, axis=2).mean())
    height = plane.height(surface.points)
    near = np.abs(height) < snap_mm
    points = surface.points - np.where(near, height, 0.0)[:, None] * plane.unit_normal
    side = np.where(near, 0, np.sign(height)).astype(np.int64)
    if (side >= 0).all() or (side <= 0).all():
        raise ValueError(
            f"the plane through {plane.point} does not cut the surface, whose points lie "
            f"{height.min():.2f} to {height.max():.2f} mm from it; move the crest"
        )
    points, triangles = _cut_triangles(points, surface.triangles, side, plane)
    heights = plane.height(points)[triangles]
    lowest, highest = heights.min(axis=1), heights.max(axis=1)
    patch = np.where(highest > -lowest, 0, 1)
    return TriSurface(points, triangles, patch, names)


def vertex_normals(points: Floats, triangles: Ints) -> Floats:
    """Return outward unit normals (n, 3) at the nodes of a surface; zero at nodes it leaves out.

    Each triangle with edges u, v from the node adds u × v / (|u|² |v|²), which is exact on a
    sphere through the nodes. Source: Max, N. (1999), J. Graphics Tools 4(2), 1–6 (from memory).
    Invalid at sharp edges, where a surface has no normal, and only a guess along open borders.

    Parameters
    ----------
    points : (n, 3) array
    triangles : (k, 3) array of int
    """
    normals = np.zeros_like(points)
    for first in range(3):
        at, forward, back = np.roll(triangles, -first, axis=1).T
        u, v = points[forward] - points[at], points[back] - points[at]
        weight = (u * u).sum(axis=1) * (v * v).sum(axis=1)
        np.add.at(normals, at, np.cross(u, v) / weight[:, None])
    size = np.linalg.norm(normals, axis=1, keepdims=True)
    return np.divide(normals, size, out=np.zeros_like(normals), where=size > 0.0)


def sphere_surface(radius_mm: float, subdivisions: int, patch_name: str = "root") -> TriSurface:
    """Return an icosahedron refined `subdivisions` times, its nodes on the sphere.

    Parameters
    ----------
    radius_mm : float
    subdivisions : int
        Every step splits each triangle into four: 20·4ⁿ triangles.
    patch_name : str
        Name of its only patch.
    """
    golden = (1.0 + 5.0**0.5) / 2.0
    corners = [(0.0, a, b * golden) for a in (-1.0, 1.0) for b in (-1.0, 1.0)]
    points = np.array([np.roll(corner, shift) for shift in range(3) for corner in corners])
    gaps = np.linalg.norm(points[:, None] - points[None], axis=2)
    near = np.isclose(gaps, 2.0)
    triangles = np.array(
        [
            (i, j, k)
            for i in range(12)
            for j in range(i)
            for k in range(j)
            if near[i, j] and near[j, k] and near[i, k]
        ]
    )
    inward = np.linalg.det(points[triangles]) < 0.0
    triangles[inward] = triangles[inward][:, ::-1]
    for _ in range(subdivisions):
        points, triangles = _quarter(points, triangles)
        points = points / np.linalg.norm(points, axis=1, keepdims=True)  # keeps triangles even
    points = radius_mm * points / np.linalg.norm(points, axis=1, keepdims=True)
    return TriSurface.one_patch(points, triangles, patch_name)


def _quarter(points: Floats, triangles: Ints) -> tuple[Floats, Ints]:
    """Split every triangle into four at the middles of its edges."""
    edges = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]], axis=2).reshape(-1, 2)
    unique, inverse = np.unique(edges, axis=0, return_inverse=True)
    ab, bc, ca = (len(points) + inverse.reshape(-1, 3)).T
    a, b, c = triangles.T
    parts = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
    return (
        np.vstack([points, points[unique].mean(axis=1)]),
        np.concatenate([np.stack(part, axis=1) for part in parts]),
    )


def _cut_triangles(
    points: Floats, triangles: Ints, side: Ints, plane: Plane
) -> tuple[Floats, Ints]:
    """Split the triangles that the plane crosses; `side` is the sign of each node's height."""
    signs = side[triangles]
    crossed = (signs.min(axis=1) < 0) & (signs.max(axis=1) > 0)
    touching = crossed & (signs == 0).any(axis=1)
    whole = crossed & ~touching
    lone = np.argmax(signs == -np.sign(signs.sum(axis=1))[:, None], axis=1)
    # The node that stands alone, or the one on the plane, comes first.
    z, d, e = _rotate(triangles[touching], np.argmax(signs == 0, axis=1)[touching]).T
    a, b, c = _rotate(triangles[whole], lone[whole]).T
    cuts = np.concatenate([np.stack(pair, axis=1) for pair in ((d, e), (a, b), (c, a))])
    unique, inverse = np.unique(np.sort(cuts, axis=1), axis=0, return_inverse=True)
    new = len(points) + inverse.reshape(-1)
    f, p, q = np.split(new, [len(d), len(d) + len(a)])
    parts = [(z, d, f), (z, f, e), (a, p, q), (p, b, c), (p, c, q)]
    ends, heights = points[unique], plane.height(points)[unique]
    share = heights[:, 0] / (heights[:, 0] - heights[:, 1])
    crossing = ends[:, 0] + share[:, None] * (ends[:, 1] - ends[:, 0])
    return (
        np.vstack([points, crossing]),
        np.concatenate([triangles[~crossed], *(np.stack(part, axis=1) for part in parts)]),
    )


def _rotate(triangles: Ints, first: Ints) -> Ints:
    """Rotate each triangle so that its corner `first` comes first."""
    order = (first[:, None] + np.arange(3)) % 3
    return np.take_along_axis(triangles, order, axis=1)
