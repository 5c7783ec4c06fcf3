"""Even remeshing of a closed surface, and filling one with tetrahedra, both by gmsh."""

from __future__ import annotations

from collections.abc import Mapping

import gmsh
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from geometry.mesh import TriSurface, border_loops, tet_volumes
from geometry.session import gmsh_session

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_POINT, _LINE, _TRIANGLE, _TETRAHEDRON = 15, 1, 2, 4  # gmsh's element types
_GROWTH = 0.5  # mm of edge length gained a mm away from the finest patch


def remesh_surface(surface: TriSurface, sizes_mm: Mapping[str, float]) -> TriSurface:
    """Remesh a closed surface evenly, keeping the lines where its patches meet.

    Every connected piece of a patch gets its own parametrisation; away from the finest patch the
    edges grow to the size of their own.

    Parameters
    ----------
    surface : TriSurface
        Closed, of two patches or more that meet along lines of edges (see
        `geometry.surface.split_surface`).
    sizes_mm : mapping of str to float
        Wanted edge length on each patch.

    Raises
    ------
    ValueError
        If the surface is open, has one patch only, or a patch has no size.
    RuntimeError
        If gmsh fails, or leaves the surface open.
    """
    missing = set(surface.patch_names) - set(sizes_mm)
    if missing:
        raise ValueError(f"no mesh size for patch {', '.join(sorted(missing))}; state one")
    if not surface.is_closed():
        raise ValueError("the surface is not closed; fill its holes before remeshing")
    if len(np.unique(surface.patch)) < 2:
        raise ValueError("a surface of one patch has no line to start from; split it first")
    with gmsh_session({"Mesh.MeshSizeExtendFromBoundary": 0}):
        try:
            result = _remesh(surface, sizes_mm)
        except Exception as error:  # gmsh raises bare Exception
            raise RuntimeError(
                f"gmsh could not remesh the surface ({error}); smooth it or refine its triangles"
            ) from error
    if not result.is_closed():
        raise RuntimeError("the remeshed surface is not closed; choose a smaller mesh size")
    return result


def fill_surface(surface: TriSurface) -> tuple[Floats, Ints]:
    """Fill a closed surface with tetrahedra, keeping its triangles as they are.

    Parameters
    ----------
    surface : TriSurface
        Closed, facing outwards, free of self-intersection.

    Returns
    -------
    points : (n, 3) array
        The surface's points, in their order, and then those inside.
    tets : (m, 4) array of int
        With positive volume.

    Raises
    ------
    ValueError
        If the surface is not closed.
    RuntimeError
        If gmsh fails, moves a node of the surface or leaves an element without volume.
    """
    if not surface.is_closed():
        raise ValueError("the surface is not closed; it cannot be filled")
    with gmsh_session():
        try:
            points, tets = _fill(surface)
        except Exception as error:
            raise RuntimeError(
                f"gmsh could not fill the surface ({error}); look for triangles that cross"
            ) from error
    if not np.array_equal(points[: len(surface.points)], surface.points):
        raise RuntimeError("gmsh moved nodes of the surface while filling it")
    if len(tets) == 0 or tet_volumes(points, tets).min() <= 0.0:
        raise RuntimeError("gmsh left elements without volume; improve the surface's triangles")
    return points, tets


def _remesh(surface: TriSurface, sizes_mm: Mapping[str, float]) -> TriSurface:
    pieces = _patch_pieces(surface)
    _add_entities(surface.points, [triangles for _, triangles in pieces])
    gmsh.model.mesh.createGeometry()
    _set_size_field([(tag, sizes_mm[name]) for tag, (name, _) in enumerate(pieces, start=1)])
    gmsh.model.mesh.generate(2)
    parts = [_elements(_TRIANGLE, tag) for tag in range(1, len(pieces) + 1)]
    indices = [surface.patch_names.index(name) for name, _ in pieces]
    patch = np.repeat(indices, [len(part) for part in parts])
    used, numbers = np.unique(np.concatenate(parts), return_inverse=True)
    result = TriSurface(_points_by_tag()[used], numbers.reshape(-1, 3), patch, surface.patch_names)
    return result.oriented_outwards()


def _add_entities(points: Floats, pieces: list[Ints]) -> None:
    """Give gmsh the pieces and the closed curves where they meet.

    gmsh finds the curves too, but in an order that hangs on memory addresses, so that the mesh
    would differ from run to run.
    """
    loops = {loop[0]: loop for piece in pieces for loop in border_loops(piece)}
    curve_of = {first: tag for tag, first in enumerate(sorted(loops), start=1)}
    placed = np.zeros(len(points), dtype=bool)

    def add_nodes(dim: int, tag: int, nodes: Ints) -> None:
        fresh = nodes[~placed[nodes]]
        placed[fresh] = True
        gmsh.model.mesh.addNodes(dim, tag, fresh + 1, points[fresh].ravel())

    for first, tag in curve_of.items():
        loop = loops[first]
        gmsh.model.addDiscreteEntity(0, tag)
        gmsh.model.addDiscreteEntity(1, tag, [tag, tag])
        add_nodes(0, tag, loop[:1])
        add_nodes(1, tag, loop[1:])
        gmsh.model.mesh.addElementsByType(tag, _POINT, [], [first + 1])
        lines = np.stack([loop, np.roll(loop, -1)], axis=1) + 1
        gmsh.model.mesh.addElementsByType(tag, _LINE, [], lines.ravel())
    for tag, piece in enumerate(pieces, start=1):
        border = [curve_of[loop[0]] for loop in border_loops(piece)]
        gmsh.model.addDiscreteEntity(2, tag, border)
        add_nodes(2, tag, np.unique(piece))
        gmsh.model.mesh.addElementsByType(tag, _TRIANGLE, [], (piece + 1).ravel())


def _fill(surface: TriSurface) -> tuple[Floats, Ints]:
    gmsh.model.addDiscreteEntity(2, 1)
    _add_nodes(surface.points)
    gmsh.model.mesh.addElementsByType(1, _TRIANGLE, [], (surface.triangles + 1).ravel())
    loop = gmsh.model.geo.addSurfaceLoop([1])
    volume = gmsh.model.geo.addVolume([loop])
    gmsh.model.geo.synchronize()
    gmsh.model.mesh.generate(3)
    tets = _elements(_TETRAHEDRON, volume)
    points = _points_by_tag()
    inside = np.setdiff1d(np.unique(tets), np.arange(1, len(surface.points) + 1))
    number = np.full(len(points), -1)
    number[1 : len(surface.points) + 1] = np.arange(len(surface.points))
    number[inside] = len(surface.points) + np.arange(len(inside))
    return np.vstack([surface.points, points[inside]]), number[tets]


def _patch_pieces(surface: TriSurface) -> list[tuple[str, Ints]]:
    """Return the connected pieces of each patch, with the patch's name."""
    pieces = []
    for name in surface.patch_names:
        triangles = surface.patch_triangles(name)
        rows = triangles[:, [0, 1, 2]].ravel()
        cols = triangles[:, [1, 2, 0]].ravel()
        size = len(surface.points)
        graph = coo_array((np.ones(len(rows)), (rows, cols)), shape=(size, size))
        label = connected_components(graph, directed=False)[1][triangles[:, 0]]
        pieces += [(name, triangles[label == value]) for value in np.unique(label)]
    return pieces


def _set_size_field(sizes: list[tuple[int, float]]) -> None:
    """Give each surface tag its size, growing from the lines where it meets a finer one."""
    field = gmsh.model.mesh.field
    finest = min(size for _, size in sizes)
    distance = field.add("Distance")
    field.setNumbers(distance, "CurvesList", [tag for _, tag in gmsh.model.getEntities(1)])
    field.setNumber(distance, "Sampling", 100)
    parts = []
    for tag, size in sizes:
        growing = field.add("Threshold")
        field.setNumber(growing, "InField", distance)
        field.setNumber(growing, "SizeMin", finest)
        field.setNumber(growing, "SizeMax", size)
        field.setNumber(growing, "DistMin", 0.0)
        field.setNumber(growing, "DistMax", max((size - finest) / _GROWTH, 1e-6))
        part = field.add("Restrict")
        field.setNumber(part, "InField", growing)
        field.setNumbers(part, "SurfacesList", [tag])
        field.setNumber(part, "IncludeBoundary", 1)
        parts.append(part)
    smallest = field.add("Min")
    field.setNumbers(smallest, "FieldsList", parts)
    field.setAsBackgroundMesh(smallest)


def _add_nodes(points: Floats) -> None:
    gmsh.model.mesh.addNodes(2, 1, np.arange(1, len(points) + 1), points.ravel())


def _elements(kind: int, entity: int) -> Ints:
    """Return the node tags of an entity's elements, one row each."""
    nodes = gmsh.model.mesh.getElementsByType(kind, entity)[1].astype(np.int64)
    return nodes.reshape(-1, 3 if kind == _TRIANGLE else 4)


def _points_by_tag() -> Floats:
    """Return coordinates indexed by node tag."""
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    points = np.zeros((int(tags.max()) + 1, 3))
    points[tags.astype(np.int64)] = coordinates.reshape(-1, 3)
    return points
