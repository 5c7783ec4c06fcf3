"""Alveolar bone around a socket: a block that continues the crest, cortical and cancellous."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import gmsh
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from geometry.crest import Crest, Plane
from geometry.hard_tissue import split_region
from geometry.mesh import TetMesh, TriSurface, area_vectors, border_loops, boundary_edges
from geometry.quality import assert_quality
from geometry.remesh import fill_surface
from geometry.session import gmsh_session

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_TRIANGLE = 2  # gmsh's element type
_BORDER_TOLERANCE_MM = 0.05
# Faces of the block and the outward normals of the box they are made on.
_NORMALS = {
    "mesial": (1.0, 0.0, 0.0),
    "distal": (-1.0, 0.0, 0.0),
    "buccal": (0.0, 1.0, 0.0),
    "lingual": (0.0, -1.0, 0.0),
    "apical": (0.0, 0.0, -1.0),
    "crestal": (0.0, 0.0, 1.0),
}
FAR_FACES = ("mesial", "distal", "apical")
FREE_FACES = ("buccal", "lingual", "crestal")


@dataclass(frozen=True)
class BoneSpec:
    """Size of the block and of its elements, mm; defaults are common practice, no source.

    Parameters
    ----------
    mesial_margin_mm, distal_margin_mm : float
        From the outermost point of the socket to the faces where the jaw goes on.
    buccal_plate_mm, lingual_plate_mm : float
        Least thickness of bone between the socket and the free face.
    apical_depth_mm : float
        Bone beyond the apex.
    cortical_mm : float
        Thickness of the cortical shell on the buccal, lingual and crestal face.
    far_size_mm : float
        Longest edge wanted on the outer faces.
    growth : float
        Edge length gained a mm away from the socket.
    """

    mesial_margin_mm: float = 4.0
    distal_margin_mm: float = 4.0
    buccal_plate_mm: float = 1.5
    lingual_plate_mm: float = 3.0
    apical_depth_mm: float = 6.0
    cortical_mm: float = 1.5
    far_size_mm: float = 1.5
    growth: float = 0.3

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if not value > 0.0:
                raise ValueError(f"bone block: {field.name} is {value}; it must be positive")


def bone_block(mesh: TetMesh, crest: Crest | None = None, spec: BoneSpec | None = None) -> TetMesh:
    """Add a conforming block of alveolar bone around the socket.

    Its sides are those of a box along the tooth's axes; its top is the crest's surface. An
    element is cortical if its centroid lies within `BoneSpec.cortical_mm` of the buccal, lingual
    or crestal face. Elements are not cut, so the shell's inner side is a staircase of half an
    element's height: its volume comes out a few percent off (compare the regions' volumes). There
    is no shell towards the socket (the lamina dura is left out), nor on the apical face, where
    the jaw goes on; in a thin jaw whose lower border lies within the block that is too soft.

    Parameters
    ----------
    mesh : TetMesh
        Tooth and ligament, axes mesial, buccal, occlusal, with the facets ``"socket"`` (see
        `geometry.tooth_mesh.mesh_tooth`). The socket has a border (or several, where the crest
        lies below a furcation).
    crest : Crest, optional
        That of the ligament (see `geometry.crest`), moved by what `BuiltTooth.crest_shift_mm`
        states; its height is linear in z. Without it, the plane through the socket's border.
    spec : BoneSpec, optional

    Returns
    -------
    TetMesh
        The mesh, its nodes and elements first and unchanged, with two more regions
        ``"cortical"`` and ``"cancellous"`` and the facets ``"bone_far"`` (mesial, distal and
        apical faces, where the jaw goes on) and ``"bone_free"`` (buccal, lingual, crestal).

    Raises
    ------
    ValueError
        If the mesh has no socket or has bone already, the crest does not pass through the
        socket's border, a region comes out empty, or an element is below the gate of
        `geometry.quality`.
    RuntimeError
        If gmsh fails.
    """
    spec = BoneSpec() if spec is None else spec
    if "socket" not in mesh.facets or "bone_far" in mesh.facets:
        raise ValueError("bone goes round a mesh with the facet set 'socket' and no bone as yet")
    nodes, local = np.unique(mesh.facets["socket"], return_inverse=True)
    socket = TriSurface.one_patch(mesh.points[nodes], local.reshape(-1, 3), "socket")
    if not len(boundary_edges(socket.triangles)):
        raise ValueError("the socket is closed; a bone block needs one that opens at the crest")
    loops = border_loops(socket.triangles)
    crest = _through_border(socket, loops, crest)
    skin = _skin(socket, loops, crest, spec)
    points, tets = fill_surface(skin)
    number = np.concatenate([nodes, len(mesh.points) + np.arange(len(points) - len(nodes))])
    whole = TetMesh(
        np.vstack([mesh.points, points[len(nodes) :]]),
        np.vstack([mesh.tets, number[tets]]),
        np.concatenate([mesh.region, np.full(len(tets), len(mesh.region_names))]),
        (*mesh.region_names, "bone"),
        {
            **mesh.facets,
            "bone_far": number[np.vstack([skin.patch_triangles(name) for name in FAR_FACES])],
            "bone_free": number[np.vstack([skin.patch_triangles(name) for name in FREE_FACES])],
        },
    )
    shell = _in_shell(points[tets].mean(axis=1), _box(socket, spec), crest, spec.cortical_mm)
    marked = split_region(whole, "bone", shell, "cortical", "cancellous")
    assert_quality(marked)
    return marked


def _through_border(socket: TriSurface, loops: list[Ints], crest: Crest | None) -> Crest:
    """Return the crest, or the plane of the border, after seeing that it meets the border."""
    border = socket.points[np.concatenate(loops)]
    if crest is None:
        middle = border.mean(axis=0)
        normal = np.linalg.svd(border - middle)[2][2]
        x, y, z = normal * np.sign(normal[2])
        a, b, c = middle
        crest = Plane((float(a), float(b), float(c)), (float(x), float(y), float(z)))
    gap = float(np.abs(crest.height(border)).max())
    if gap > _BORDER_TOLERANCE_MM:
        raise ValueError(
            f"bone block: the socket's border lies up to {gap:.2f} mm off the crest's surface; "
            "give the crest that the ligament was built with"
        )
    return crest


def _box(socket: TriSurface, spec: BoneSpec) -> Floats:
    """Lowest and highest corner of the block, (2, 3); the top is set by the crest."""
    low = (spec.distal_margin_mm, spec.lingual_plate_mm, spec.apical_depth_mm)
    high = (spec.mesial_margin_mm, spec.buccal_plate_mm, 0.0)
    return np.stack([socket.points.min(axis=0) - low, socket.points.max(axis=0) + high])


def _crest_z(crest: Crest, points: Floats) -> Floats:
    """Height z of the crest (n,) above or below points (n, 3); a crest is linear in z."""
    base, above = points * (1.0, 1.0, 0.0), points * (1.0, 1.0, 0.0) + (0.0, 0.0, 1.0)
    at_base = crest.height(base)
    return np.asarray(-at_base / (crest.height(above) - at_base))


def _in_shell(
    centroids: Floats, box: Floats, crest: Crest, thickness_mm: float
) -> NDArray[np.bool_]:
    y = centroids[:, 1]
    depth = np.minimum(box[1, 1] - y, y - box[0, 1])
    return np.asarray(np.minimum(depth, -crest.height(centroids)) < thickness_mm)


def _skin(socket: TriSurface, loops: list[Ints], crest: Crest, spec: BoneSpec) -> TriSurface:
    """Closed surface of the block: the socket's nodes first, then those of the outer faces."""
    box = _box(socket, spec)

    def onto_crest(points: Floats) -> Floats:
        """Stretch the box along z until its top lies on the crest."""
        low, high = box[:, 2]
        share = (points[:, 2] - low) / (high - low)
        z = low + share * (_crest_z(crest, points) - low)
        return np.column_stack([points[:, :2], z])

    edges = np.diff(socket.points[socket.triangles[:, [0, 1]]], axis=1)[:, 0]
    near_mm = float(np.median(np.linalg.norm(edges, axis=1)))
    tree = cKDTree(socket.points)

    def size(x: float, y: float, z: float) -> float:
        gap = tree.query(onto_crest(np.array([[x, y, z]]))[0])[0]
        return float(min(near_mm + spec.growth * gap, max(spec.far_size_mm, near_mm)))

    with gmsh_session({"Mesh.MeshSizeExtendFromBoundary": 0}):
        try:
            points, faces = _mesh_box(socket.points, loops, box, size)
        except Exception as error:  # gmsh raises bare Exception
            raise RuntimeError(
                f"gmsh could not mesh the faces of the bone block ({error})"
            ) from error
    outer = onto_crest(points[len(socket.points) :])
    triangles = [socket.triangles[:, ::-1]]
    for name, normal in _NORMALS.items():
        inward = area_vectors(points, faces[name]) @ normal < 0.0
        faces[name][inward] = faces[name][inward][:, ::-1]
        triangles.append(faces[name])
    patch = np.repeat(np.arange(len(triangles)), [len(part) for part in triangles])
    names = ("socket", *_NORMALS)
    return TriSurface(np.vstack([socket.points, outer]), np.vstack(triangles), patch, names)


def _mesh_box(
    inner: Floats, loops: list[Ints], box: Floats, size: Callable[[float, float, float], float]
) -> tuple[Floats, dict[str, Ints]]:
    """Triangles on the faces of a box whose top has the given holes.

    Returns the points, `inner` first, and the triangles of each face; the nodes of the holes are
    those of `inner`.
    """
    surfaces, hole_points = _add_box(inner, loops, box)
    gmsh.model.geo.synchronize()
    gmsh.model.mesh.setSizeCallback(lambda _dim, _tag, x, y, z, _lc: size(x, y, z))
    gmsh.model.mesh.generate(2)
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    number = np.full(int(tags.max()) + 1, -1)
    for point, node in hole_points.items():
        number[int(gmsh.model.mesh.getNodes(0, point)[0][0])] = node
    place = np.zeros((len(number), 3))
    place[tags.astype(np.int64)] = coordinates.reshape(-1, 3)
    fresh = np.setdiff1d(tags.astype(np.int64), np.flatnonzero(number >= 0))
    number[fresh] = len(inner) + np.arange(len(fresh))
    faces = {
        name: number[gmsh.model.mesh.getElementsByType(_TRIANGLE, tag)[1].astype(np.int64)]
        for name, tag in surfaces.items()
    }
    return np.vstack([inner, place[fresh]]), {
        name: triangles.reshape(-1, 3) for name, triangles in faces.items()
    }


def _add_box(
    inner: Floats, loops: list[Ints], box: Floats
) -> tuple[dict[str, int], dict[int, int]]:
    """Give gmsh the box; return the tag of each face, and the node behind each hole's point."""
    geo = gmsh.model.geo
    corner = {
        key: geo.addPoint(*(box[side, axis] for axis, side in enumerate(key)))
        for key in np.ndindex(2, 2, 2)
    }
    line: dict[tuple[int, int], int] = {}

    def between(a: int, b: int) -> int:
        """Line from a to b: negative where it was drawn the other way."""
        if (b, a) in line:
            return -line[b, a]
        if (a, b) not in line:
            line[a, b] = geo.addLine(a, b)
        return line[a, b]

    def ring(points: list[int]) -> int:
        pairs = zip(points, [*points[1:], points[0]], strict=True)
        return int(geo.addCurveLoop([between(a, b) for a, b in pairs]))

    hole_points: dict[int, int] = {}
    holes = []
    for loop in loops:
        tags = [geo.addPoint(*inner[node, :2], box[1, 2]) for node in loop]
        hole_points |= dict(zip(tags, loop.tolist(), strict=True))
        holes.append(ring(tags))
        for a, b in zip(tags, [*tags[1:], tags[0]], strict=True):
            geo.mesh.setTransfiniteCurve(abs(between(a, b)), 2)
    surfaces = {}
    for name, normal in _NORMALS.items():
        axis = int(np.argmax(np.abs(normal)))
        side = int(normal[axis] > 0.0)
        key = [(0, 0), (1, 0), (1, 1), (0, 1)]
        corners = [corner[(*pair[:axis], side, *pair[axis:])] for pair in key]
        cut = holes if name == "crestal" else []
        surfaces[name] = geo.addPlaneSurface([ring(corners), *cut])
    return surfaces, hole_points
