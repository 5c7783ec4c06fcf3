"""The ligament of a tooth as a scene shows it: its outside, with the stress of what is behind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.mesh import TetMesh, tet_faces
from workflow.figures_ligament import LigamentStress
from workflow.figures_view import Ints
from workflow.scenes_bodies import Surface

Array = NDArray[np.float64]

OUTSIDE = ("socket", "rim")


@dataclass(frozen=True)
class StressedSurface:
    """Socket wall and upper rim of a ligament.

    Attributes
    ----------
    surface
        In the patient.
    hydrostatic_kPa
        Mean over the element behind each triangle, tension positive, (k,).
    """

    surface: Surface
    hydrostatic_kPa: Array


def stressed_surface(mesh: TetMesh, stress: LigamentStress) -> StressedSurface:
    """Outside of a ligament with the field that was computed on its elements.

    Parameters
    ----------
    mesh
        The tooth's mesh, in tooth coordinates.
    stress
        Field on the elements of its ligament, in their order, in the patient.

    Raises
    ------
    ValueError
        If the field has not the elements of this mesh.
    """
    layer = mesh.submesh(["ligament"])
    if not np.array_equal(np.sort(layer.tets, axis=1), np.sort(stress.tets, axis=1)):
        raise ValueError("the stress is not that of this mesh: compute the response anew")
    triangles = np.concatenate([layer.facets[name] for name in OUTSIDE])
    behind = owners(stress.tets, triangles)
    used, renumbered = np.unique(triangles, return_inverse=True)
    surface = Surface(stress.points[used], renumbered.reshape(-1, 3))
    return StressedSurface(surface, stress.hydrostatic_kPa[behind])


def owners(tets: Ints, triangles: Ints) -> Ints:
    """The tetrahedron of which each triangle is a face, (k,); of two, the first.

    Raises
    ------
    ValueError
        If a triangle is a face of none.
    """
    faces = np.sort(tet_faces(tets), axis=1)
    both = np.concatenate([faces, np.sort(triangles, axis=1)])
    _, first, same = np.unique(both, axis=0, return_index=True, return_inverse=True)
    found = first[same.ravel()[len(faces) :]]
    if (found >= len(faces)).any():
        raise ValueError("a triangle is no face of these tetrahedra")
    return found // 4
