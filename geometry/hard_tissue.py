"""Which elements of the hard tissue are enamel or dentine, cortical or cancellous bone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from geometry.crest import Plane, crest_plane
from geometry.mesh import TetMesh

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def with_enamel(mesh: TetMesh, thickness_mm: float = 1.0, cervix: Plane | None = None) -> TetMesh:
    """Split the region ``"tooth"`` into ``"enamel"`` and ``"dentine"``.

    Enamel is every element above the cervix whose centroid lies within `thickness_mm` of the
    crown's surface above the cervix. Elements are not cut: the enamel's inner side is a staircase
    of about half an element's height, and its volume is off by a few percent to either side
    where the crown's triangles are as long as the enamel is thick. A cap of even thickness is
    itself a simplification: enamel thins out towards the cervix.

    Parameters
    ----------
    mesh : TetMesh
        With the region ``"tooth"`` and the facets ``"crown"``.
    thickness_mm : float
        The default of 1.0 is common practice, no source.
    cervix : Plane, optional
        Plane of the cervix, its normal towards the crown; z = 0 of the tooth's frame without it.

    Raises
    ------
    ValueError
        If the thickness is not positive, the mesh has no crown, or no element becomes enamel or
        dentine.
    """
    if not thickness_mm > 0.0:
        raise ValueError(f"enamel thickness {thickness_mm} mm: it must be positive")
    if "crown" not in mesh.facets:
        raise ValueError("the mesh has no facet set 'crown'; build it with geometry.tooth_mesh")
    plane = crest_plane(0.0) if cervix is None else cervix
    crown = mesh.facets["crown"]
    crown = crown[plane.height(mesh.points[crown].mean(axis=1)) > 0.0]
    if not len(crown):
        raise ValueError(f"no facet of the crown lies above the cervix through {plane.point}")
    centroids = mesh.points[mesh.region_tets("tooth")].mean(axis=1)
    near = _distance(centroids, mesh.points, crown) < thickness_mm
    return split_region(mesh, "tooth", near & (plane.height(centroids) > 0.0), "enamel", "dentine")


def split_region(mesh: TetMesh, name: str, first: Bools, *names: str) -> TetMesh:
    """Split a region in two.

    Parameters
    ----------
    mesh : TetMesh
    name : str
        Region to split; its name goes.
    first : (k,) array of bool
        Which of its tetrahedra, in their order, belong to the first of the new regions.
    names : str
        The two new names; they take the place of the old one in `region_names`.

    Raises
    ------
    ValueError
        If the region is unknown, a new name is taken or a new region is empty.
    """
    inside, outside = names
    taken = (set(mesh.region_names) - {name}) & set(names)
    if taken:
        raise ValueError(f"the mesh has a region {taken.pop()!r} already")
    members = len(mesh.region_tets(name))
    if first.all() or not first.any():
        empty = outside if first.all() else inside
        raise ValueError(
            f"region {name!r}: none of its {members} elements would be {empty!r}; "
            "change its thickness or take smaller elements"
        )
    index = mesh.region_names.index(name)
    region = np.where(mesh.region > index, mesh.region + 1, mesh.region)
    region[mesh.region == index] = np.where(first, index, index + 1)
    listed = (*mesh.region_names[:index], *names, *mesh.region_names[index + 1 :])
    return replace(mesh, region=region, region_names=listed)


def _distance(queries: Floats, points: Floats, triangles: NDArray[np.int64]) -> Floats:
    surface = pv.PolyData.from_regular_faces(points, triangles.astype(int))
    measured = pv.PolyData(queries).compute_implicit_distance(surface)
    return np.abs(np.asarray(measured["implicit_distance"]))
