"""The periodontal ligament as layers of tetrahedra grown outwards from a root surface."""

from __future__ import annotations

import numpy as np
import pyvista as pv
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from geometry.crest import Crest, onto_crest
from geometry.easing import eased_steps
from geometry.mesh import TetMesh, TriSurface, boundary_edges, lone_faces, tet_volumes
from geometry.surface import facet_cosines, vertex_normals

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_LEAST_ROOM = 0.8  # of the thickness; facets in a hollow take some of it
_SHARPEST = 0.8  # mean cosine between a node's normal and its facets that steps make up for
_APEX_REACH_MM = 2.0
_STEEPEST_RIM = 0.5  # cosine: where the root leans further from the rim's normal, do not follow
_LOOSE_RIM = (
    0.5,
    0.9,
)  # the same cosine: a loose rim follows from the first on, fully at the second


def ligament_layer(
    surface: TriSurface,
    thickness_mm: float | Floats,
    layers: int = 2,
    rim: Crest | None = None,
    patch: str = "root",
    normals: Floats | None = None,
    loose_rim: bool = False,
    eased: bool = False,
    over_facets: bool = False,
) -> TetMesh:
    """Grow a layer of even thickness outwards from one patch of a surface.

    Each node of the patch moves along its normal in equal steps. Each triangle thus becomes a
    stack of prisms, and each prism three tetrahedra whose diagonals start at the lower node
    number, so that neighbours agree. Normals along the rim are turned into the crest, keeping the
    thickness measured across the layer.

    Parameters
    ----------
    surface : TriSurface
        Facing outwards. Patches besides `patch` serve for the normals along the rim.
    thickness_mm : float or (n,) array
        Thickness, the same everywhere or one for each of the surface's n points.
    layers : int
        Elements through the thickness.
    rim : Crest, optional
        Crest that the border of the patch lies in. Without it border nodes follow their normals;
        a patch without border (a sphere) needs none.
    patch : str
    normals : (n, 3) array, optional
        Outward unit normals at the surface's points, where they are known exactly.
    loose_rim : bool
        Let the border follow its own normals instead of the rim where the two are nearly at right
        angles, as where the crest cuts the roof of a furcation at a small angle.
    eased : bool
        Repair the steps of nodes whose elements fold or which lack room (see `eased_steps`).
    over_facets : bool
        Take the thickness as the mean over the facets (see `facet_cosines`) instead of that at the
        nodes, by longer steps where facets lean from the normals of their corners; at most by a
        quarter, so that no spike grows out of a sharp edge.

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
    base, step = surface.points[used], normals[used]
    size_mm = thickness[used]
    if over_facets:
        size_mm = size_mm / np.maximum(facet_cosines(base, inner, step), _SHARPEST)
    border = np.unique(boundary_edges(inner))
    if rim is not None:
        step = step.copy()
        turned, in_rim = _turned_into_rim(step[border], rim.normals(base[border]), loose_rim)
        step[border], held = turned, border[in_rim]
    step = step * (size_mm / layers)[:, None]

    def grown(step: Floats) -> Floats:
        levels = [base + level * step for level in range(layers + 1)]
        if rim is not None:
            for level in levels[1:]:
                level[held] = onto_crest(level[held], rim)
        return np.vstack(levels)

    def room(points: Floats) -> Floats:
        return _room(points[layers * len(used) :], surface, patch, thickness[used])

    tets = np.concatenate([_prisms(inner, level * len(used), len(used)) for level in range(layers)])
    if eased:
        across = np.zeros_like(base)
        if rim is not None:
            across[held] = rim.normals(base[held])
        step = eased_steps(step, inner, tets, across, grown, room, _LEAST_ROOM)
    points = grown(step)
    _check_volumes(points, tets)
    _check_room(points[layers * len(used) :], np.abs(room(points)), thickness[used])
    facets = {"root": inner, "socket": inner + layers * len(used)}
    side = _side_faces(tets, len(used))
    if len(side):
        facets["rim"] = side
    return TetMesh(points, tets, np.zeros(len(tets), dtype=np.int64), ("ligament",), facets)


def thickness_profile(
    points: Floats, crest: Crest, profile_mm: tuple[float, float, float]
) -> Floats:
    """Return the thickness (n,) at points of roots from its values at crest, mid-root and apex.

    Linear in d/L, the depth below the crest over that of the apex. Of several roots each ends at
    its own apex: L is the mean of the apices' depths, weighted by the inverse fourth power of the
    distance to them, which leaves no step at the furcation. Crest values above the crest.
    An apex is a point deeper than all within 2 mm of it; roots fused down to closer tips than
    that count as one.

    Parameters
    ----------
    points : (n, 3) array
    crest : Crest
    profile_mm : tuple of float
        Thickness at the crest, at mid-root and at the apex.
    """
    depth = -crest.height(points)
    apices = _apices(points, depth)
    gap = np.linalg.norm(points[:, None] - points[apices], axis=2)
    weight = 1.0 / np.maximum(gap, 1e-6) ** 4
    length = weight @ depth[apices] / weight.sum(axis=1)
    return np.interp(depth / length, [0.0, 0.5, 1.0], profile_mm)


def _apices(points: Floats, depth: Floats) -> Ints:
    """Return the nodes below the crest that lie deeper than all around them."""
    below = np.flatnonzero(depth > 0.0)
    tree = cKDTree(points[below])
    sunk = depth[below]
    # Of nodes at one depth the first counts.
    order = np.lexsort((np.arange(len(sunk)), -sunk))
    rank = np.argsort(order)
    near = tree.query_ball_point(points[below], _APEX_REACH_MM)
    deepest = np.array([rank[around].min() for around in near], dtype=np.int64)
    return np.asarray(below[deepest == rank])


def _turned_into_rim(normals: Floats, axes: Floats, loose: bool) -> tuple[Floats, Bools]:
    """Lay normals into the rim across `axes`, longer so that the layer keeps its width.

    Also returns which lie in it. A loose rim leaves it where the root runs nearly along it.
    """
    along = (normals * axes).sum(axis=1, keepdims=True)
    cosine = np.sqrt(np.maximum(1.0 - along**2, 0.0))
    share = np.ones_like(cosine)
    if loose:
        share = np.interp(cosine, _LOOSE_RIM, [0.0, 1.0])
    turned = normals - share * along * axes
    reach = np.maximum((turned * normals).sum(axis=1, keepdims=True), _STEEPEST_RIM * cosine)
    return np.asarray(turned / reach), share[:, 0] == 1.0


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


def _room(outer: Floats, surface: TriSurface, patch: str, thickness: Floats) -> Floats:
    """Return the distance of outer nodes from the patch over the thickness; inside negative."""
    faces = surface.patch_triangles(patch)
    inner = pv.PolyData.from_regular_faces(surface.points, faces.astype(int))
    measured = pv.PolyData(outer).compute_implicit_distance(inner)
    return np.asarray(measured["implicit_distance"] / thickness)


def _check_room(outer: Floats, share: Floats, thickness: Floats) -> None:
    """See that no outer node comes nearer to the patch than the layer is thick.

    Layers that grow into each other between two roots have sound elements; only this shows them.
    """
    worst = int(np.argmin(share))
    if share[worst] < _LEAST_ROOM:
        place = ", ".join(f"{x:.2f}" for x in outer[worst])
        raise ValueError(
            f"ligament: it is {thickness[worst]:.2f} mm thick, but at ({place}) mm only "
            f"{share[worst] * thickness[worst]:.2f} mm are left to the next part of the root; "
            "take a thinner ligament, or move the crest away from a furcation"
        )
