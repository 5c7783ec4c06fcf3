"""Mending the triangles of a scan: copies, loose pieces, holes, triangles that face inwards."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from geometry.mesh import TriSurface

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_LEAST_TRIANGLES = 500
_CRUMB_SHARE = 0.05  # of the largest piece's area: smaller pieces are left out
_WIDEST_HOLE_MM = 3.0  # mean diameter
_SAME_POINT = 1e-6  # of the size: nodes nearer than this are one; STL stores single precision


@dataclass
class Repairs:
    """What was mended so far, for the report.

    Parameters
    ----------
    name : str
        Of the scan, for messages.
    """

    name: str
    triangles: int = 0
    duplicates: int = 0
    crumbs: int = 0
    cavities: int = 0
    turned: int = 0
    shared_edges: int = 0
    hole_widths_mm: list[float] = field(default_factory=list)


def sound_triangles(points: Floats, triangles: Ints, repairs: Repairs) -> pv.PolyData:
    """Join nodes that coincide; drop triangles without area and second copies.

    Raises
    ------
    ValueError
        If there are too few triangles for a tooth or coordinates are not finite.
    """
    if not np.isfinite(points).all():
        raise ValueError(
            f"{repairs.name}: some coordinates are no finite numbers; export the scan anew"
        )
    size = float(np.ptp(points, axis=0).max()) if len(points) else 0.0
    mesh = pv.PolyData.from_regular_faces(points - _middle(points), triangles.astype(int))
    if size > 0.0:
        mesh = mesh.clean(tolerance=_SAME_POINT * size, absolute=True, lines_to_points=False)
    kept = _faces(mesh)
    kept = kept[[len(set(row)) == 3 for row in kept.tolist()]] if len(kept) else kept
    single = np.unique(np.sort(kept, axis=1), axis=0, return_index=True)[1]
    repairs.duplicates = len(kept) - len(single)
    repairs.triangles = len(single)
    if len(single) < _LEAST_TRIANGLES:
        raise ValueError(
            f"{repairs.name}: {len(single)} triangles are too few for a tooth (at least "
            f"{_LEAST_TRIANGLES}); export it finer, as a surface of triangles"
        )
    return pv.PolyData.from_regular_faces(
        np.asarray(mesh.points, dtype=np.float64) + _middle(points),
        kept[np.sort(single)].astype(int),
    )


def _middle(points: Floats) -> Floats:
    """Return the middle of the box; far from the origin single precision would lose digits."""
    return (points.min(axis=0) + points.max(axis=0)) / 2.0 if len(points) else np.zeros(3)


def _faces(mesh: pv.PolyData) -> Ints:
    return mesh.regular_faces.astype(np.int64) if mesh.n_cells else np.empty((0, 3), np.int64)


def main_piece(mesh: pv.PolyData, repairs: Repairs) -> pv.PolyData:
    """Keep the largest connected piece; loose crumbs and shells inside it are left out.

    Raises
    ------
    ValueError
        If another piece outside it has more than a twentieth of its area.
    """
    labelled = mesh.connectivity("all")
    label = np.asarray(labelled.cell_data["RegionId"])
    areas = np.bincount(label, weights=np.asarray(mesh.compute_cell_sizes()["Area"]))
    order = np.argsort(areas)[::-1]
    largest = _cells(mesh, label == order[0])
    for other in order[1:]:
        if _lies_within(_cells(mesh, label == other), largest):
            repairs.cavities += 1
        elif areas[other] <= _CRUMB_SHARE * areas[order[0]]:
            repairs.crumbs += 1
        else:
            share = ", ".join(f"{area / areas.sum():.0%}" for area in areas[order][:4])
            raise ValueError(
                f"{repairs.name}: {len(order)} separate pieces, with {share} of the area; a tooth "
                "must be one piece: join them, or give every tooth its own file"
            )
    return largest


def _cells(mesh: pv.PolyData, kept: NDArray[np.bool_]) -> pv.PolyData:
    return pv.PolyData.from_regular_faces(
        np.asarray(mesh.points, dtype=np.float64), _faces(mesh)[kept].astype(int)
    ).clean()


def _lies_within(piece: pv.PolyData, shell: pv.PolyData) -> bool:
    """Whether a piece lies inside a shell, whichever way the shell faces."""
    spread = np.linspace(0, piece.n_points - 1, min(piece.n_points, 50)).astype(int)
    samples = pv.PolyData(np.asarray(piece.points, dtype=np.float64)[spread])
    closed = shell.fill_holes(1e9) if shell.n_open_edges else shell
    enclosed = samples.select_interior_points(closed, check_surface=False)
    return bool(np.asarray(enclosed["selected_points"]).all())


def without_holes(mesh: pv.PolyData, repairs: Repairs) -> pv.PolyData:
    """Fill holes up to 3 mm wide with flat fans, lengths in mm.

    Raises
    ------
    ValueError
        If a hole is wider, or an edge stays open.
    """
    borders = mesh.extract_feature_edges(
        boundary_edges=True, feature_edges=False, manifold_edges=False, non_manifold_edges=False
    )
    if borders.n_cells == 0:
        return mesh
    loops = borders.connectivity("all")
    lengths = np.asarray(loops.compute_cell_sizes()["Length"])
    widths = np.bincount(np.asarray(loops.cell_data["RegionId"]), weights=lengths) / np.pi
    widest = float(widths.max())
    if widest > _WIDEST_HOLE_MM:
        raise ValueError(
            f"{repairs.name}: a hole about {widest:.1f} mm wide, more than {_WIDEST_HOLE_MM:g} mm "
            "can be filled; close it first, or give the whole tooth with its root"
        )
    filled = mesh.fill_holes(10.0 * _WIDEST_HOLE_MM).triangulate().clean()
    if filled.n_open_edges:
        raise ValueError(
            f"{repairs.name}: {filled.n_open_edges} open edges are left; close the surface first"
        )
    repairs.hole_widths_mm = [float(width) for width in widths]
    return filled


def facing_outwards(mesh: pv.PolyData, repairs: Repairs) -> pv.PolyData:
    """Turn triangles so that all agree with their neighbours and face outwards."""
    edges = np.sort(_faces(mesh)[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    repairs.shared_edges = int((np.unique(edges, axis=0, return_counts=True)[1] > 2).sum())
    agreed = mesh.compute_normals(
        cell_normals=True,
        point_normals=False,
        consistent_normals=True,
        auto_orient_normals=False,
        split_vertices=False,
    )
    points, triangles = np.asarray(agreed.points, dtype=np.float64), _faces(agreed)
    centred = TriSurface.one_patch(points - _middle(points), triangles, "tooth")
    triangles = centred.oriented_outwards().triangles
    repairs.turned = _turns(_faces(mesh), triangles)
    return pv.PolyData.from_regular_faces(points, triangles.astype(int))


def _turns(before: Ints, after: Ints) -> int:
    """Count the triangles that have changed their sense of rotation."""
    follows = (after == before[:, :1]) & (np.roll(after, -1, axis=1) == before[:, 1:2])
    return int((~follows.any(axis=1)).sum())
