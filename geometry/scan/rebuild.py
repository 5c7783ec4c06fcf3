"""Rebuilding a surface as the contour of its signed distance on a grid.

The distance is that to the triangles; the sign is that of the winding number, which counts how
often a surface encloses a point and so stays right where walls cross.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyvista as pv
from numpy.typing import NDArray
from scipy import ndimage

from geometry.mesh import TriSurface

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_BAND = 1.8  # grid steps on either side of the surface where the distance itself is kept
_UNCLEAR_SHARE = 0.01  # of the points inside, on whose side the three counts may differ
_LEAST_OVERLAP = 4  # grid points: fewer come from rounding
_SMOOTHING = {"n_iter": 12, "pass_band": 0.15}  # takes away steps of the grid, keeps volume


@dataclass(frozen=True)
class Rebuilt:
    """A closed surface without crossings.

    Parameters
    ----------
    surface : TriSurface
        One patch, ``"tooth"``, facing outwards.
    overlap_mm3 : float
        Volume that the original enclosed more than once, or from its wrong side.
    tunnels : int
        Holes from side to side.
    """

    surface: TriSurface
    overlap_mm3: float
    tunnels: int


def rebuild(mesh: pv.PolyData, spacing_mm: float, name: str) -> Rebuilt:
    """Return the contour of the signed distance of a closed surface.

    Parameters
    ----------
    mesh : pyvista.PolyData
        Triangles in mm that agree with their neighbours and face outwards.
    spacing_mm : float
        Of the grid.
    name : str
        For messages.

    Raises
    ------
    ValueError
        If the surface has no clear inside, or none that hangs together.
    """
    points = np.asarray(mesh.points, dtype=np.float64)
    triangles = mesh.regular_faces.astype(np.int64)
    lower = points.min(axis=0) - 3.0 * spacing_mm
    counts = np.ceil((points.max(axis=0) - lower) / spacing_mm).astype(int) + 4
    winding, unclear = _winding((points - lower) / spacing_mm, triangles, tuple(counts))
    inside = winding > 0
    if unclear > _UNCLEAR_SHARE * max(int(inside.sum()), 1):
        raise ValueError(
            f"{name}: inside and outside cannot be told apart, the surface is not closed or its "
            "triangles contradict each other; close and mend it first"
        )
    grid = pv.ImageData(dimensions=counts, spacing=(spacing_mm,) * 3, origin=lower)
    values = _signed_distance(mesh, grid, inside, spacing_mm)
    contour = grid.contour([0.0], scalars=values, method="flying_edges").clean(tolerance=1e-6)
    if contour.n_cells == 0:
        raise ValueError(f"{name}: encloses no volume; give a closed surface of the tooth")
    contour = contour.connectivity("largest").clean().triangulate()
    smooth = contour.smooth_taubin(**_SMOOTHING)
    surface = TriSurface.one_patch(
        np.asarray(smooth.points, dtype=np.float64), smooth.regular_faces.astype(np.int64), "tooth"
    )
    if not surface.is_closed():
        raise ValueError(f"{name}: no closed surface could be made from it; mend it by hand")
    wrong = int(((winding > 1) | (winding < 0)).sum())
    overlap = wrong * spacing_mm**3 if wrong > _LEAST_OVERLAP else 0.0
    euler = len(surface.points) - len(surface.triangles) // 2  # V − E + F with E = 3F/2
    return Rebuilt(_outwards(surface), overlap, (2 - euler) // 2)


def deviations(points: Floats, surface: TriSurface) -> Floats:
    """Return the distance (n,) of `points` (n, 3) from a surface, mm, negative inside."""
    target = pv.PolyData.from_regular_faces(surface.points, surface.triangles.astype(int))
    measured = pv.PolyData(points).compute_implicit_distance(target)["implicit_distance"]
    return np.asarray(measured, dtype=np.float64)


def _outwards(surface: TriSurface) -> TriSurface:
    centred = TriSurface.one_patch(
        surface.points - surface.points.mean(axis=0), surface.triangles, "tooth"
    )
    return TriSurface.one_patch(surface.points, centred.oriented_outwards().triangles, "tooth")


def _signed_distance(
    mesh: pv.PolyData, grid: pv.ImageData, inside: NDArray[np.bool_], spacing_mm: float
) -> Floats:
    """Return the distance at grid points near the surface, cut off farther away."""
    border = ndimage.binary_dilation(inside, iterations=2) & ~ndimage.binary_erosion(
        inside, iterations=2
    )
    band = border.ravel(order="F")
    nodes = pv.PolyData(np.asarray(grid.points, dtype=np.float64)[band])
    size = np.full(len(band), _BAND * spacing_mm)
    near = np.abs(np.asarray(nodes.compute_implicit_distance(mesh)["implicit_distance"]))
    size[band] = np.clip(near, 1e-3 * spacing_mm, _BAND * spacing_mm)
    return np.where(inside.ravel(order="F"), -size, size)


def _winding(points: Floats, triangles: Ints, counts: tuple[int, ...]) -> tuple[Ints, int]:
    """Return how often each grid point is enclosed, and on how many counts disagree.

    Parameters
    ----------
    points : (n, 3) array
        In grid steps.
    triangles : (k, 3) array of int
    counts : tuple of int
        Grid points along the three axes.

    Returns
    -------
    (nx, ny, nz) array of int
        The middle one of three counts, one along every axis.
    int
        Number of grid points where two counts are on different sides.
    """
    along = np.stack([_crossings(points, triangles, counts, axis) for axis in range(3)])
    sides = (along > 0).sum(axis=0)
    return np.sort(along, axis=0)[1], int(((sides == 1) | (sides == 2)).sum())


def _crossings(points: Floats, triangles: Ints, counts: tuple[int, ...], axis: int) -> Ints:
    """Sum, for each grid point, the senses in which a ray along an axis leaves the surface."""
    order = [(axis + 1) % 3, (axis + 2) % 3, axis]
    # An odd shift keeps nodes of the surface off the grid's lines.
    a, b, c = (points[:, order] + [3.1e-5, 1.7e-5, 0.0])[triangles].transpose(1, 0, 2)
    first = np.ceil(np.minimum(np.minimum(a, b), c)[:, :2]).astype(np.int64)
    last = np.floor(np.maximum(np.maximum(a, b), c)[:, :2]).astype(np.int64)
    wide = np.maximum(last - first + 1, 0)
    repeats = wide.prod(axis=1)
    which = np.repeat(np.arange(len(triangles)), repeats)
    step = np.arange(len(which)) - np.repeat(np.cumsum(repeats) - repeats, repeats)
    column = first[which] + np.stack([step // wide[which, 1], step % wide[which, 1]], axis=1)
    weights = np.stack(
        [_area2(p[which], q[which], column) for p, q in ((b, c), (c, a), (a, b))], axis=1
    )
    hit = (weights > 0.0).all(axis=1) | (weights < 0.0).all(axis=1)
    which, column, weights = which[hit], column[hit], weights[hit]
    total = weights.sum(axis=1)
    heights = np.stack([a[which, 2], b[which, 2], c[which, 2]], axis=1)
    level = np.floor((weights * heights).sum(axis=1) / total).astype(np.int64)
    sums = np.zeros([counts[k] for k in order], dtype=np.int64)
    np.add.at(sums, (column[:, 0], column[:, 1], level), np.sign(total).astype(np.int64))
    above = np.cumsum(sums[:, :, ::-1], axis=2)[:, :, ::-1]
    return np.moveaxis(above, [0, 1, 2], order)


def _area2(p: Floats, q: Floats, at: Ints) -> Floats:
    """Twice the signed area of the triangles (p, q, at) in the plane."""
    u, v = p[:, :2] - at, q[:, :2] - at
    return u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
