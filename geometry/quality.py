"""How well shaped the tetrahedra are, and a gate that a mesh must pass."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.mesh import TetMesh, area_vectors, tet_faces, tet_volumes

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Flat elements are the nature of a thin layer; elsewhere only slivers come below these.
LEAST_GAMMA: Mapping[str, float] = {"ligament": 0.10}
LEAST_GAMMA_ELSEWHERE = 0.05


@dataclass(frozen=True)
class RegionQuality:
    """Shape of the elements of one region.

    Parameters
    ----------
    region : str
    elements : int
    volume_mm3 : float
    gamma_min, gamma_p01, gamma_median : float
        Least, first percentile and median of the radius ratio, by number of elements.
    """

    region: str
    elements: int
    volume_mm3: float
    gamma_min: float
    gamma_p01: float
    gamma_median: float


def radius_ratio(points: Floats, tets: Ints) -> Floats:
    """Return γ = 3 r_in / r_circ (m,): 1 for a regular tetrahedron, 0 for a flat one.

    With r_in = 3V/A and r_circ = √(p (p−a)(p−b)(p−c)) / (6V), where A is the surface area, a, b, c
    are the products of opposite edges and p half their sum, γ = 54 V² / (A √(…)). Elements
    turned inside out give a negative γ.

    Parameters
    ----------
    points : (n, 3) array
    tets : (m, 4) array of int
    """
    volume = tet_volumes(points, tets)
    faces = np.linalg.norm(area_vectors(points, tet_faces(tets)), axis=1).reshape(-1, 4)
    p0, p1, p2, p3 = points[tets].transpose(1, 0, 2)

    def product(u: Floats, v: Floats) -> Floats:
        return np.asarray(np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1))

    a, b, c = product(p1 - p0, p3 - p2), product(p2 - p0, p3 - p1), product(p3 - p0, p2 - p1)
    p = (a + b + c) / 2.0
    root = np.sqrt(np.maximum(p * (p - a) * (p - b) * (p - c), 0.0))
    below = faces.sum(axis=1) * root
    gamma = np.divide(54.0 * volume**2, below, out=np.zeros_like(volume), where=below > 0.0)
    return np.sign(volume) * gamma


def mesh_quality(mesh: TetMesh) -> tuple[RegionQuality, ...]:
    """Return the quality of each region of a mesh, in the order of `mesh.region_names`."""
    rows = []
    for name in mesh.region_names:
        tets = mesh.region_tets(name)
        gamma = radius_ratio(mesh.points, tets)
        least, p01, median = (float(q) for q in np.quantile(gamma, [0.0, 0.01, 0.5]))
        volume = float(tet_volumes(mesh.points, tets).sum())
        rows.append(RegionQuality(name, len(tets), volume, least, p01, median))
    return tuple(rows)


def assert_quality(mesh: TetMesh, least_gamma: Mapping[str, float] | None = None) -> None:
    """Refuse a mesh with an element worse than the targets.

    Parameters
    ----------
    mesh : TetMesh
    least_gamma : mapping of str to float, optional
        Least γ by region, in place of the design targets (0.10 in the ligament, 0.05 elsewhere).

    Raises
    ------
    ValueError
        Naming the region, the worst element, where it lies and the remedy.
    """
    limits = LEAST_GAMMA if least_gamma is None else least_gamma
    for name in mesh.region_names:
        tets = mesh.region_tets(name)
        gamma = radius_ratio(mesh.points, tets)
        worst, limit = int(np.argmin(gamma)), limits.get(name, LEAST_GAMMA_ELSEWHERE)
        if gamma[worst] < limit:
            place = ", ".join(f"{x:.2f}" for x in mesh.points[tets[worst]].mean(axis=0))
            raise ValueError(
                f"region {name!r}: element {worst} at ({place}) mm has quality {gamma[worst]:.3f}, "
                f"below {limit}; take smaller triangles"
                + (", or fewer layers" if name == "ligament" else "")
            )
