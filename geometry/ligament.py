"""The periodontal ligament as layers of tetrahedra grown outwards from a root surface."""

from __future__ import annotations

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from geometry.mesh import TetMesh, TriSurface, boundary_edges, lone_faces, tet_volumes
from geometry.surface import Plane, vertex_normals

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_LEAST_ROOM = 0.8  # of the thickness; facets in a hollow take some of it
_STEEPEST_RIM = 0.5  # cosine: where the root leans further from the rim's normal, do not follow


def ligament_layer(
    surface: TriSurface,
    thickness_mm: float | Floats,
    layers: int = 2,
    rim: Plane | None = None,
    patch: str = "root",
    normals: Floats | None = None,
) -> TetMesh:
    """Grow a layer of even thickness outwards from one patch of a surface.

    Each node of the patch moves along its normal in equal steps. Each triangle thus becomes a
    stack of prisms, and each prism three tetrahedra whose diagonals start at the lower node
    number, so that neighbours agree. Normals along the rim are turned into its plane, keeping the
    thickness measured across the layer.

    Parameters
    ----------
    surface : TriSurface
        Facing outwards. Patches besides `patch` serve for the normals along the rim.
    thickness_mm : float or (n,) array
        Thickness, the same everywhere or one for each of the surface's n points.
    layers : int
        Elements through the thickness.
    rim : Plane, optional
        Plane that the border of the patch lies in. Without it border nodes follow their normals;
        a patch without border (a sphere) needs none.
    patch : str
    normals : (n, 3) array, optional
        Outward unit normals at the surface's points, where they are known exactly.

    Returns
    -------
    TetMesh
        Region ``"ligament"``. Its first nodes are those of the patch, by rising number in
        `surface`, then those of each further layer in the same order. Facets ``"root"`` (inner)
        and ``"socket"`` (outer) face away from the tooth, ``"rim"`` out of the layer; the last
        is left out where the patch has no border.

    Raises
    ------
    ValueError
        If a thickness or the number of layers is not positive, an element is turned inside out,
        as where the layer is thicker than a hollow of the root is wide, or layers of two roots
        meet.
    """
    thickness = np.broadcast_to(np.asarray(thickness_mm, dtype=np.float64), len(surface.points))
    if layers < 1 or not thickness.min() > 0.0:
        raise ValueError(
            f"ligament thickness {thickness.min()} mm in {layers} layers: both must be positive"
        )
    used, local = np.unique(surface.patch_triangles(patch), return_inverse=True)
    inner = local.reshape(-1, 3)
    if normals is None:
        normals = vertex_normals(surface.points, surface.triangles)
    step = normals[used]
    if rim is not None:
        step = _turn_into_rim(step, np.unique(boundary_edges(inner)), rim)
    step = step * (thickness[used] / layers)[:, None]
    base = surface.points[used]
    points = np.vstack([base + level * step for level in range(layers + 1)])
    tets = np.concatenate([_prisms(inner, level * len(used), len(used)) for level in range(layers)])
    _check_volumes(points, tets)
    _check_room(points[layers * len(used) :], surface, patch, thickness[used])
    facets = {"root": inner, "socket": inner + layers * len(used)}
    side = _side_faces(tets, len(used))
    if len(side):
        facets["rim"] = side
    return TetMesh(points, tets, np.zeros(len(tets), dtype=np.int64), ("ligament",), facets)


def thickness_profile(
    points: Floats, crest: Plane, profile_mm: tuple[float, float, float]
) -> Floats:
    """Return the thickness (n,) at points of a root from its values at crest, mid-root and apex.

    Linear in the distance from the crest to the deepest point; crest values above the crest.

    Parameters
    ----------
    points : (n, 3) array
    crest : Plane
    profile_mm : tuple of float
        Thickness at the crest, at mid-root and at the apex.
    """
    depth = -crest.height(points)
    return np.interp(depth / depth.max(), [0.0, 0.5, 1.0], profile_mm)


def _turn_into_rim(normals: Floats, border: Ints, rim: Plane) -> Floats:
    """Lay the border's normals into the rim's plane, longer so that the layer keeps its width."""
    turned = normals.copy()
    axis = rim.unit_normal
    flat = normals[border] - (normals[border] @ axis)[:, None] * axis
    cosine = np.linalg.norm(flat, axis=1)
    turned[border] = flat / (cosine * np.maximum(cosine, _STEEPEST_RIM))[:, None]
    return turned


def _prisms(triangles: Ints, below: int, size: int) -> Ints:
    """Cut the prisms on `triangles` into tetrahedra of positive volume.

    Their nodes are those of the triangles plus `below`, and plus `size` more on the upper side.
    """
    order = np.argsort(triangles, axis=1)
    a, b, c = np.take_along_axis(triangles, order, axis=1).T + below
    even = np.isin(order @ (9, 3, 1), [5, 15, 19])  # 012, 120, 201
    parts = [(a, b, c, c + size), (a, b, c + size, b + size), (a, b + size, c + size, a + size)]
    tets = np.stack([np.stack(part, axis=1) for part in parts], axis=1)
    tets[~even] = tets[~even][:, :, [1, 0, 2, 3]]
    return tets.reshape(-1, 4)


def _side_faces(tets: Ints, size: int) -> Ints:
    """Return the outer faces that join the inner to the outer side."""
    faces = lone_faces(tets)
    level = faces // size
    return faces[level.min(axis=1) < level.max(axis=1)]


def _check_volumes(points: Floats, tets: Ints) -> None:
    volumes = tet_volumes(points, tets)
    worst = int(np.argmin(volumes))
    if volumes[worst] <= 0.0:
        place = ", ".join(f"{x:.2f}" for x in points[tets[worst]].mean(axis=0))
        raise ValueError(
            f"ligament: {int((volumes <= 0.0).sum())} elements are turned inside out, the worst "
            f"is {worst} at ({place}) mm with {volumes[worst]:.2e} mm³; take a thinner ligament, "
            "finer triangles or a smoother root there, or move the crest away from a furcation"
        )


def _check_room(outer: Floats, surface: TriSurface, patch: str, thickness: Floats) -> None:
    """See that no outer node comes nearer to the patch than the layer is thick.

    Layers that grow into each other between two roots have sound elements; only this shows them.
    """
    faces = surface.patch_triangles(patch)
    inner = pv.PolyData.from_regular_faces(surface.points, faces)
    measured = pv.PolyData(outer).compute_implicit_distance(inner)
    share = np.abs(measured["implicit_distance"]) / thickness
    worst = int(np.argmin(share))
    if share[worst] < _LEAST_ROOM:
        place = ", ".join(f"{x:.2f}" for x in outer[worst])
        raise ValueError(
            f"ligament: it is {thickness[worst]:.2f} mm thick, but at ({place}) mm only "
            f"{share[worst] * thickness[worst]:.2f} mm are left to the next part of the root; "
            "take a thinner ligament, or move the crest away from a furcation"
        )
