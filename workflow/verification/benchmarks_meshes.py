"""Meshes of published benchmarks: slabs over four-sided plans, and an eighth of a hollow sphere.

Lengths are in the benchmark's own unit. Tetrahedra are straight-sided, so that a curved boundary
is a polyhedron with its vertices on it, off by about h²/(8R) where an edge of length h bridges a
radius R.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import gmsh
import numpy as np
from numpy.typing import NDArray

from geometry.mesh import TetMesh, lone_faces, tet_volumes
from geometry.session import gmsh_session

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Test = Callable[[Array], NDArray[np.bool_]]
Ellipse = tuple[float, float]

REGION = "solid"
_TETRAHEDRA, _TRIANGLES = 4, 2
_CLOSE = 1e-6


@dataclass(frozen=True)
class Cuts:
    """How an edge is cut.

    Attributes
    ----------
    pieces
        Number of pieces.
    growth
        Length of each piece over that of the one before.
    """

    pieces: int
    growth: float = 1.0


def ring_slab(
    inner: Ellipse,
    outer: Ellipse,
    heights: Sequence[float],
    layers: Sequence[int],
    around: Cuts,
    across: Cuts,
) -> TetMesh:
    """Quarter of an elliptic ring in the first quadrant, as a slab.

    Parameters
    ----------
    inner, outer
        Half axes along x and y of the two ellipses, all centred at the origin.
    heights, layers
        Planes z from the lowest to the highest, and how many elements lie between two of them.
    around
        Cuts of both elliptic arcs, counted from the x axis.
    across
        Cuts from the inner to the outer ellipse.

    Returns
    -------
    TetMesh
        Facets ``inner``, ``outer``, ``x_axis`` (y = 0), ``y_axis`` (x = 0), ``bottom``, ``top``.
    """
    with gmsh_session():
        geo = gmsh.model.geo
        centre = geo.addPoint(0, 0, heights[0])
        places = [(inner[0], 0), (outer[0], 0), (0, outer[1]), (0, inner[1])]
        a, b, c, d = (geo.addPoint(x, y, heights[0]) for x, y in places)
        low, high = geo.addLine(a, b), geo.addLine(d, c)
        near, far = (geo.addEllipseArc(s, centre, s, e) for s, e in ((a, d), (b, c)))
        for curves, cuts in (((low, high), across), ((near, far), around)):
            _cut(curves, cuts)
        _fill_plan([low, far, -high, -near], [a, b, c, d])
        points, tets = _extruded(heights, layers)
    tests = {
        "inner": _on_ellipse(inner),
        "outer": _on_ellipse(outer),
        "x_axis": _in_plane(1, 0.0),
        "y_axis": _in_plane(0, 0.0),
        "bottom": _in_plane(2, heights[0]),
        "top": _in_plane(2, heights[-1]),
    }
    return _named(points, tets, tests)


def four_sided_plan(corners: Array, first: Cuts, growth_along: float) -> tuple[Array, Ints]:
    """Triangles of a plan with four straight sides, in the plane z = 0, facing up.

    All sides have equally many pieces; those of the side opposite to the first are equal.

    Parameters
    ----------
    corners
        (4, 2), anticlockwise.
    first
        Cuts of the side between corners 3 and 0, counted from corner 3.
    growth_along
        Growth of the pieces on the two sides that leave it.
    """
    with gmsh_session():
        geo = gmsh.model.geo
        p = [geo.addPoint(x, y, 0) for x, y in corners]
        low, high = geo.addLine(p[0], p[1]), geo.addLine(p[3], p[2])
        left, right = geo.addLine(p[3], p[0]), geo.addLine(p[2], p[1])
        _cut((low, high), Cuts(first.pieces, growth_along))
        _cut((left,), first)
        _cut((right,), Cuts(first.pieces))
        _fill_plan([low, -right, -high, left], p)
        geo.synchronize()
        gmsh.model.mesh.generate(2)
        points, triangles = _read(_TRIANGLES, 3)
    a, b, c = points[triangles].transpose(1, 0, 2)
    down = np.cross(b - a, c - a)[:, 2] < 0
    triangles[down] = triangles[down][:, ::-1]
    return points, triangles


def sphere_octant(inner: float, outer: float, size: float) -> TetMesh:
    """Eighth of a hollow sphere in x, y, z ≥ 0, with edges of `size` times the radius.

    Returns
    -------
    TetMesh
        Facets ``inner``, ``outer``, and ``x``, ``y``, ``z`` in the planes of symmetry.
    """
    eighth = {"angle1": 0.0, "angle2": np.pi / 2, "angle3": np.pi / 2}
    with gmsh_session({"Mesh.MeshSizeExtendFromBoundary": 0}):
        occ = gmsh.model.occ
        balls = [(3, occ.addSphere(0, 0, 0, radius, -1, **eighth)) for radius in (outer, inner)]
        occ.cut(balls[:1], balls[1:])
        occ.synchronize()
        field = gmsh.model.mesh.field
        field.add("MathEval", 1)
        field.setString(1, "F", f"{size} * sqrt(x^2 + y^2 + z^2)")
        field.setAsBackgroundMesh(1)
        gmsh.model.mesh.generate(3)
        points, tets = _read(_TETRAHEDRA, 4)
    tests = {"inner": _on_sphere(inner), "outer": _on_sphere(outer)}
    tests |= {name: _in_plane(axis, 0.0) for axis, name in enumerate("xyz")}
    return _named(points, tets, tests)


def named_facets(points: Array, tets: Ints, tests: Mapping[str, Test]) -> dict[str, Ints]:
    """Boundary triangles by name: those whose three vertices pass a test on points (n, 3)."""
    faces = lone_faces(tets)
    return {name: faces[test(points)[faces].all(axis=1)] for name, test in tests.items()}


def _named(points: Array, tets: Ints, tests: Mapping[str, Test]) -> TetMesh:
    """Mesh of one region with positive volumes and named facets.

    Raises
    ------
    ValueError
        If a boundary triangle has no name or two.
    """
    turned = tet_volumes(points, tets) < 0
    tets[turned] = tets[turned][:, [1, 0, 2, 3]]
    facets = named_facets(points, tets, tests)
    named = sum(len(triangles) for triangles in facets.values())
    if named != len(lone_faces(tets)):
        raise ValueError(f"{named} of {len(lone_faces(tets))} boundary triangles have a name")
    return TetMesh(points, tets, np.zeros(len(tets), dtype=np.int64), (REGION,), facets)


def _on_ellipse(half: Ellipse) -> Test:
    return lambda p: np.abs(np.hypot(p[:, 0] / half[0], p[:, 1] / half[1]) - 1) < _CLOSE


def _on_sphere(radius: float) -> Test:
    return lambda p: np.abs(np.linalg.norm(p, axis=1) / radius - 1) < _CLOSE


def _in_plane(axis: int, place: float) -> Test:
    return lambda p: np.abs(p[:, axis] - place) < _CLOSE


def _cut(curves: Sequence[int], cuts: Cuts) -> None:
    for curve in curves:
        gmsh.model.geo.mesh.setTransfiniteCurve(curve, cuts.pieces + 1, "Progression", cuts.growth)


def _fill_plan(loop: Sequence[int], corners: Sequence[int]) -> None:
    geo = gmsh.model.geo
    surface = geo.addPlaneSurface([geo.addCurveLoop(loop)])
    geo.mesh.setTransfiniteSurface(surface, "Alternate", corners)


def _extruded(heights: Sequence[float], layers: Sequence[int]) -> tuple[Array, Ints]:
    """Tetrahedra between the planes z above the one surface of the model."""
    geo = gmsh.model.geo
    depth = heights[-1] - heights[0]
    shares = [(z - heights[0]) / depth for z in heights[1:]]
    geo.extrude([(2, 1)], 0, 0, depth, numElements=list(layers), heights=shares)
    geo.synchronize()
    gmsh.model.mesh.generate(3)
    return _read(_TETRAHEDRA, 4)


def _read(kind: int, size: int) -> tuple[Array, Ints]:
    """Points that elements of one kind use, and their vertices renumbered."""
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    place = np.zeros(int(tags.max()) + 1, dtype=np.int64)
    place[tags] = np.arange(len(tags))
    _, nodes = gmsh.model.mesh.getElementsByType(kind)
    used, elements = np.unique(place[nodes], return_inverse=True)
    points = np.asarray(coordinates, dtype=np.float64).reshape(-1, 3)[used]
    return points, elements.reshape(-1, size).astype(np.int64)
