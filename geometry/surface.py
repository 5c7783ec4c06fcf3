"""Closed surfaces: cutting along the alveolar crest, vertex normals, a sphere to test with.

Works on any closed surface of triangles, a contour of a parametric tooth or a scan alike.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometry.crest import Crest, Plane, crest_plane, onto_crest
from geometry.mesh import TriSurface, area_vectors

__all__ = [
    "Plane",
    "crest_plane",
    "facet_cosines",
    "sphere_surface",
    "split_surface",
    "straddling_nodes",
    "vertex_normals",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_STRADDLING = 5.0 / 24.0  # of the mean drop to the neighbours
_FARTHEST_MOVE = 0.1  # of the mean edge: there κ ℓ is 0.8, and the expansion has lost its sense


def split_surface(
    surface: TriSurface, crest: Crest, names: tuple[str, str] = ("crown", "root")
) -> TriSurface:
    """Cut a surface along a crest, so that the crest becomes a line of edges.

    Nodes nearer to the crest than a twentieth of the mean edge are moved onto it first, which
    keeps slivers away.

    Parameters
    ----------
    surface : TriSurface
    crest : Crest
        A plane or any other (see `geometry.crest`).
    names : tuple of str
        Names of the patches above and below the crest.

    Raises
    ------
    ValueError
        If the crest does not meet the surface.
    """
    edges = surface.points[surface.triangles] - surface.points[np.roll(surface.triangles, 1, 1)]
    snap_mm = 0.05 * float(np.linalg.norm(edges, axis=2).mean())
    height = crest.height(surface.points)
    near = np.abs(height) < snap_mm
    points = surface.points.copy()
    points[near] = onto_crest(points[near], crest)
    side = np.where(near, 0, np.sign(height)).astype(np.int64)
    if (side >= 0).all() or (side <= 0).all():
        raise ValueError(
            f"the crest does not cut the surface, whose points lie {height.min():.2f} to "
            f"{height.max():.2f} mm above it; move the crest"
        )
    height[near] = 0.0
    points, triangles, height = _cut_triangles(points, surface.triangles, side, height, crest)
    heights = height[triangles]
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


def facet_cosines(points: Floats, triangles: Ints, normals: Floats) -> Floats:
    """Return the area-weighted mean (n,) of n_f · n over the facets at each node; 1 at bare nodes.

    A layer whose nodes step by t along their normals n is thinner over the facets, with normals
    n_f, than at the nodes. Its volume to the first order in t is ``Σ_f A_f n_f · (Σ_v t_v n_v)/3``,
    summed by nodes ``Σ_v t_v c_v Σ_f A_f/3`` with these means c_v: steps of t/c_v give it the mean
    thickness t over every fan, exactly, on convex, hollow and saddle-shaped roots alike. On an even
    mesh of a sphere ``c = 1 − (κ ℓ)²/6``, for edges ℓ and curvature κ.

    Parameters
    ----------
    points : (n, 3) array
    triangles : (k, 3) array of int
    normals : (n, 3) array
        Unit normals at the points.
    """
    vectors = area_vectors(points, triangles)
    inclined = np.einsum("kj,kcj->kc", vectors, normals[triangles])
    areas = np.repeat(np.linalg.norm(vectors, axis=1), 3)
    flat = triangles.ravel()
    whole = np.bincount(flat, areas, len(points))
    leaning = np.bincount(flat, inclined.ravel(), len(points))
    return np.divide(leaning, whole, out=np.ones(len(points)), where=whole > 0.0)


def straddling_nodes(surface: TriSurface, patch: str) -> Floats:
    """Return the surface's points (n, 3), those of a patch moved so that its facets straddle it.

    Facets with their corners on a curved surface lie inside it where it is convex, outside where it
    is hollow. On an even mesh of edges ℓ the surface falls below a node's tangent plane by
    ``H ℓ²/2`` at its neighbours, on the mean, with the mean curvature H. Nodes move outwards along
    their normals by 5/24 of the mean of n · (x_v − x_w) over the edges vw at v. To the second order
    in ℓ this gives a sphere's facets the sphere's area, of which they lose ``5/24 (κ ℓ)²`` with
    their corners on it, and leaves them below it by ``(κ ℓ²)/48`` on the mean instead of
    ``(κ ℓ²)/8``. Any other surface then has ``(κ_1 − κ_2)² ℓ²/24`` too much area, for its facets
    lean to and fro.

    Not valid where κ ℓ is not small, at sharp edges and on the noise of a scan, which the moves
    would raise by a fifth: none is longer than a tenth of the mean edge at its node.

    Parameters
    ----------
    surface : TriSurface
        Facing outwards.
    patch : str
        Nodes on its border move too.
    """
    triangles = surface.patch_triangles(patch)
    points, normals = surface.points, vertex_normals(surface.points, surface.triangles)
    # Both ways round each triangle: edges inside count twice, as half of their ring does, and those
    # of the border once.
    start = triangles[:, [0, 1, 2, 1, 2, 0]].ravel()
    edges = points[start] - points[triangles[:, [1, 2, 0, 0, 1, 2]].ravel()]
    count = np.maximum(np.bincount(start, minlength=len(points)), 1)
    drop = np.bincount(start, (normals[start] * edges).sum(axis=1), len(points)) / count
    most = np.bincount(start, np.linalg.norm(edges, axis=1), len(points)) / count * _FARTHEST_MOVE
    return np.asarray(points + np.clip(_STRADDLING * drop, -most, most)[:, None] * normals)


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
    points: Floats, triangles: Ints, side: Ints, height: Floats, crest: Crest
) -> tuple[Floats, Ints, Floats]:
    """Split the triangles that the crest crosses; `side` is the sign of each node's height."""
    signs = side[triangles]
    crossed = (signs.min(axis=1) < 0) & (signs.max(axis=1) > 0)
    touching = crossed & (signs == 0).any(axis=1)
    whole = crossed & ~touching
    lone = np.argmax(signs == -np.sign(signs.sum(axis=1))[:, None], axis=1)
    # The node that stands alone, or the one on the crest, comes first.
    z, d, e = _rotate(triangles[touching], np.argmax(signs == 0, axis=1)[touching]).T
    a, b, c = _rotate(triangles[whole], lone[whole]).T
    cuts = np.concatenate([np.stack(pair, axis=1) for pair in ((d, e), (a, b), (c, a))])
    unique, inverse = np.unique(np.sort(cuts, axis=1), axis=0, return_inverse=True)
    new = len(points) + inverse.reshape(-1)
    f, p, q = np.split(new, [len(d), len(d) + len(a)])
    parts = [(z, d, f), (z, f, e), (a, p, q), (p, b, c), (p, c, q)]
    ends, heights = points[unique], height[unique]
    share = heights[:, 0] / (heights[:, 0] - heights[:, 1])
    crossing = ends[:, 0] + share[:, None] * (ends[:, 1] - ends[:, 0])
    return (
        np.vstack([points, onto_crest(crossing, crest)]),
        np.concatenate([triangles[~crossed], *(np.stack(part, axis=1) for part in parts)]),
        np.append(height, np.zeros(len(crossing))),
    )


def _rotate(triangles: Ints, first: Ints) -> Ints:
    """Rotate each triangle so that its corner `first` comes first."""
    order = (first[:, None] + np.arange(3)) % 3
    return np.take_along_axis(triangles, order, axis=1)
