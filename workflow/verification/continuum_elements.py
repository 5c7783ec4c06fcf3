"""Every element and formulation of the elasticity code on a body that a check can hold and load.

A body of each: quadratic tetrahedra, the same with the dilatation projected prism by prism, the
hexahedra of the straight wire, and those of any bent wire, whose law holds for finite rotation.
Sampling for loads and errors is the check's own, of an order well above the code's quadrature.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import Basis, ElementHex2, ElementVector, MeshHex, MeshHex2
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTet

from fem.assembly import Assembler, LayerDilatation
from fem.elasticity import elastic_energy
from fem.material import Elastic
from fem.section import rectangular_section
from fem.space import EDGE_ENDS, QuadraticSpace
from fem.sweep_solid import WireSolid, shape_gradients, wire_solid
from geometry.ligament import ligament_layer
from geometry.mesh import TriSurface
from geometry.wire_path import Bend, Straight, sweep

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Move = Callable[[Array], Array]

TETRAHEDRA = "quadratic tetrahedra"
PROJECTED = "quadratic tetrahedra, dilatation projected"
HEXAHEDRA = "quadratic hexahedra of the straight wire"
WIRE = "quadratic hexahedra of the bent wire"
FORMULATIONS = (TETRAHEDRA, PROJECTED, HEXAHEDRA, WIRE)

_CODE_ORDER = 4  # of the hexahedra's quadrature in fem.wire_solid and fem.sweep_solid


@dataclass(frozen=True)
class Samples:
    """Shape functions at points of a quadrature.

    Attributes
    ----------
    places
        Points, (m, q, 3), mm.
    weights
        Volume that each stands for, (m, q), mm³.
    shapes
        Values of an element's a shape functions, (m or 1, q, a).
    gradients
        Their gradients, (m, q, a, 3), 1/mm.
    """

    places: Array
    weights: Array
    shapes: Array
    gradients: Array


@dataclass(frozen=True)
class Body:
    """A meshed body in one formulation.

    Attributes
    ----------
    nodes
        Places of the nodes, (n, 3), mm.
    elements
        Nodes of each element, (m, a).
    boundary
        Which nodes lie on the body's surface, (n,).
    stiffness
        Matrix for a material, three rows a node, N/mm.
    sampled
        Samples of at least a given polynomial order.
    solid
        The wire solid behind it, if it is one.
    """

    nodes: Array
    elements: Ints
    boundary: Bools
    stiffness: Callable[[Elastic], sp.spmatrix]
    sampled: Callable[[int], Samples]
    solid: WireSolid | None = None


def solid_of(body: Body) -> WireSolid:
    """The wire solid behind a body.

    Raises
    ------
    ValueError
        If it is of another element.
    """
    if body.solid is None:
        raise ValueError("a body of another element has no wire solid")
    return body.solid


def unmoved(points: Array) -> Array:
    """Leave the mesh as it is."""
    return points


def tetrahedra(cells: int, move: Move = unmoved, *, projected: bool = False) -> Body:
    """Unit cube of layers of prisms along y, each cut in three tetrahedra.

    Parameters
    ----------
    cells
        Along each edge.
    move
        Distortion of the vertices.
    projected
        Whether the dilatation is projected.
    """
    u, v = np.meshgrid(*2 * [np.linspace(0, 1, cells + 1)], indexing="ij")
    flat = np.stack([u.ravel(), 0 * u.ravel(), v.ravel()], axis=1)
    number = np.arange(len(flat)).reshape(cells + 1, cells + 1)
    a, b, c, d = (
        part.ravel()
        for part in (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:])
    )
    triangles = np.concatenate([np.stack([a, c, b], 1), np.stack([a, d, c], 1)])
    surface = TriSurface.one_patch(flat, triangles, "root")
    layer = ligament_layer(surface, 1.0, cells, normals=np.tile([0.0, 1.0, 0.0], (len(flat), 1)))
    still = QuadraticSpace.on(layer.points, layer.tets).nodes
    boundary = np.any((still < 1e-9) | (still > 1 - 1e-9), axis=1)
    return on_tetrahedra(move(layer.points), layer.tets, boundary, projected=projected)


def on_tetrahedra(points: Array, tets: Ints, boundary: Bools, *, projected: bool = False) -> Body:
    """A body of given tetrahedra."""
    space = QuadraticSpace.on(points, tets)
    whole = Assembler.on(space)
    layer = LayerDilatation.on(space) if projected else None

    def stiffness(material: Elastic) -> sp.spmatrix:
        lame, shear = material.lame_MPa, material.shear_modulus_MPa
        if layer is None:
            return whole.stiffness(lame, shear)
        return whole.stiffness(0.0, shear) + layer.stiffness(lame)

    return Body(
        space.nodes,
        space.elements,
        boundary,
        stiffness,
        lambda order: _tetrahedral_samples(space, order),
    )


def _tetrahedral_samples(space: QuadraticSpace, order: int) -> Samples:
    X, weights = get_quadrature(RefTet, order)
    L = np.concatenate([1 - X.sum(axis=0, keepdims=True), X]).T
    i, j = EDGE_ENDS.T
    shapes = np.concatenate([L * (2 * L - 1), 4 * L[:, i] * L[:, j]], axis=1)
    corners = space.points[space.vertices]
    # Gradients of L from the rows of the inverse of [1, corners].
    matrix = np.concatenate([np.ones((len(corners), 4, 1)), corners], axis=2)
    slopes = np.linalg.inv(matrix)[:, 1:].transpose(0, 2, 1)
    vertex = (4 * L - 1)[None, :, :, None] * slopes[:, None]
    edge = 4 * (L[:, i, None] * slopes[:, None, j] + L[:, j, None] * slopes[:, None, i])
    volumes = np.abs(np.linalg.det(matrix))[:, None] * weights
    return Samples(
        np.einsum("qv,evi->eqi", L, corners),
        volumes,
        shapes[None],
        np.concatenate([vertex, edge], axis=2),
    )


def cube_of_hexahedra(cells: int, move: Move = unmoved) -> Body:
    """Unit cube of the elements of `fem.wire_solid`, assembled as there."""
    mesh = MeshHex.init_tensor(*3 * [np.linspace(0, 1, cells + 1)])
    mesh = MeshHex(np.ascontiguousarray(move(mesh.p.T).T), mesh.t)
    vector = Basis(mesh, ElementVector(ElementHex2()), intorder=_CODE_ORDER)
    dofs = (vector.nodal_dofs, vector.edge_dofs, vector.facet_dofs, vector.interior_dofs)
    order = np.concatenate([part.T.ravel() for part in dofs])

    def stiffness(material: Elastic) -> sp.spmatrix:
        K = elastic_energy.assemble(
            vector, lame=material.lame_MPa, shear=material.shear_modulus_MPa
        )
        return K.tocsr()[order][:, order]

    return _hexahedral_body(mesh, stiffness)


def bent_wire(cells: int, *, angle_rad: float = 0.7) -> Body:
    """A bend of unit section and the elements of `fem.sweep_solid`, at rest.

    Parameters
    ----------
    cells
        Across and along.
    angle_rad
        Of the bend, about which the axis runs at a radius of 1.5; 0 for a straight unit cube.
    """
    path = Bend(angle_rad, 1.5) if angle_rad else Straight(1.0)
    length = 1.5 * angle_rad if angle_rad else 1.0
    turn = angle_rad / cells * 1.001 if angle_rad else 1.0
    wire = sweep(
        (path,),
        np.zeros(3),
        np.eye(3),
        piece_mm=length / cells * 1.001,
        largest_turn_rad=turn,
    )
    section = rectangular_section(1.0, 1.0)
    return _on_wire(wire_solid(wire, section, Elastic(1.0, 0.3), (cells, cells)))


def wire_cube(cells: int, move: Move = unmoved) -> Body:
    """Straight wire of unit size with its vertices moved and its elements' edges straight."""
    solid = solid_of(bent_wire(cells, angle_rad=0.0))
    old = solid.swept.mesh
    vertices = old.doflocs[:, : old.nvertices].T
    shift = np.array([0.0, 0.5, 0.5])
    mesh = MeshHex2.from_mesh(
        MeshHex(np.ascontiguousarray((move(vertices + shift) - shift).T), old.t)
    )
    basis = Basis(mesh, ElementHex2(), intorder=_CODE_ORDER)
    return _on_wire(
        replace(
            solid,
            swept=replace(solid.swept, mesh=mesh),
            nodes=basis.element_dofs.T.astype(np.int64),
            gradients=shape_gradients(basis),
            volumes=np.asarray(basis.dx),
        )
    )


def _on_wire(solid: WireSolid) -> Body:
    def stiffness(material: Elastic) -> sp.spmatrix:
        return replace(solid, material=material).internal(np.zeros(solid.unknowns))[1]

    return _hexahedral_body(solid.swept.mesh, stiffness, solid)


def _hexahedral_body(
    mesh: MeshHex, stiffness: Callable[[Elastic], sp.spmatrix], solid: WireSolid | None = None
) -> Body:
    basis = Basis(mesh, ElementHex2(), intorder=2)
    boundary = np.zeros(basis.N, dtype=bool)
    boundary[basis.get_dofs(mesh.boundary_facets()).all()] = True
    elements = basis.element_dofs.T.astype(np.int64)
    nodes = np.ascontiguousarray(basis.doflocs.T)
    return Body(
        nodes, elements, boundary, stiffness, lambda order: _hexahedral_samples(mesh, order), solid
    )


def _hexahedral_samples(mesh: MeshHex, order: int) -> Samples:
    basis = Basis(mesh, ElementHex2(), intorder=order)
    weights = np.asarray(basis.dx)
    shapes = np.stack([np.broadcast_to(b[0], weights.shape) for b in basis.basis], axis=2)
    places = np.asarray(basis.global_coordinates()).transpose(1, 2, 0)
    return Samples(places, weights, shapes, shape_gradients(basis))


def smoothly_moved(points: Array) -> Array:
    """The unit cube distorted by a smooth map that keeps its faces plane."""
    x = points
    bump = np.prod(np.sin(np.pi * x), axis=1, keepdims=True)
    return np.asarray(x + bump * np.array([0.09, -0.07, 0.08]))


def randomly_moved(points: Array) -> Array:
    """The inner vertices of the unit cube moved at random, by up to 7 % of its edge."""
    inside = np.all((points > 1e-9) & (points < 1 - 1e-9), axis=1)
    moved = points.copy()
    moved[inside] += np.random.default_rng(0).uniform(-0.07, 0.07, (inside.sum(), 3))
    return moved


def moved_along_the_layers(points: Array) -> Array:
    """The unit cube's layers moved along y at random, and all of them alike along x and z."""
    moved, rng = points.copy(), np.random.default_rng(1)
    x, y, z = points.T
    moved[:, 0] += 0.06 * np.sin(np.pi * x) * np.sin(3 * z)
    moved[:, 2] += 0.05 * np.sin(np.pi * z) * np.cos(2 * x)
    inside = (y > 1e-9) & (y < 1 - 1e-9)
    moved[inside, 1] += rng.uniform(-0.05, 0.05, inside.sum())
    return moved


def cube(formulation: str, cells: int, move: Move) -> Body:
    """Unit cube, distorted, in one of `FORMULATIONS`."""
    if formulation == HEXAHEDRA:
        return cube_of_hexahedra(cells, move)
    if formulation == WIRE:
        return wire_cube(cells, move)
    return tetrahedra(cells, move, projected=formulation == PROJECTED)
