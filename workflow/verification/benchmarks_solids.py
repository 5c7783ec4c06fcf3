"""Elastic solids of quadratic tetrahedra held and loaded as a benchmark says.

The teeth are held and loaded in their own way (`fem.elastic_model`). Here planes of symmetry hold
single components and pressure acts on named facets, with the same space, matrix and solver:
`fem.space.QuadraticSpace`, `fem.assembly.Assembler` or `fem.assembly.LayerDilatation`,
`fem.solver.solve_spd`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.assembly import Assembler, LayerDilatation
from fem.material import Elastic
from fem.solver import solve_spd
from fem.space import QUADRATURE, QuadraticSpace
from geometry.mesh import TetMesh, area_vectors

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

RINGS = 2
_COMPONENTS = {"x": 0, "y": 1, "z": 2}


@dataclass(frozen=True)
class Field:
    """Displacements of a solved solid.

    Attributes
    ----------
    mesh, space, material
        What was solved.
    displacements
        At all nodes, (n, 3).
    """

    mesh: TetMesh
    space: QuadraticSpace
    material: Elastic
    displacements: Array

    def at(self, place: Array) -> Array:
        """Displacement (3,) of the vertex at a place."""
        return np.asarray(self.displacements[self.vertex(place)])

    def vertex(self, place: Array) -> int:
        """Number of the vertex at a place.

        Raises
        ------
        ValueError
            If no vertex lies there.
        """
        distance = np.linalg.norm(self.mesh.points - place, axis=1)
        if not distance.min() < 1e-6 * np.ptp(self.mesh.points):
            raise ValueError(f"no vertex at {place}; the nearest is {distance.min():.3g} away")
        return int(distance.argmin())

    def mean_over(self, facets: str) -> Array:
        """Mean displacement (3,) of some facets by area."""
        weights = traction(self.space, self.mesh.facets[facets], np.ones(3))
        return np.asarray((weights * self.displacements).sum(axis=0) / weights.sum(axis=0))


def solved(
    mesh: TetMesh,
    material: Elastic,
    held: Mapping[str, str],
    loads: Mapping[str, Array | float],
    *,
    held_nodes: Sequence[tuple[Ints, str]] = (),
    layered: bool = False,
) -> Field:
    """Solve a solid.

    Parameters
    ----------
    mesh
    material
        Of all of it.
    held
        Components held on named facets, such as ``{"bottom": "z"}``.
    loads
        On named facets: a traction (3,), or a pressure that pushes on the surface.
    held_nodes
        Further nodes of the quadratic space, each set with its components.
    layered
        Project the dilatation prism by prism (`fem.assembly.LayerDilatation`) instead of taking
        it as it is; the mesh must be one of `geometry.ligament.ligament_layer`.
    """
    space = QuadraticSpace.on(mesh.points, mesh.tets)
    free = np.ones((space.node_count, 3), dtype=bool)
    for name, components in held.items():
        _hold(free, space.facet_nodes(mesh.facets[name]), components)
    for nodes, components in held_nodes:
        _hold(free, nodes, components)
    forces = np.zeros((space.node_count, 3))
    for name, load in loads.items():
        if isinstance(load, float):
            forces += pressure(space, mesh.facets[name], load)
        else:
            forces += traction(space, mesh.facets[name], load)
    kept = np.flatnonzero(free)
    K = stiffness(space, material, layered).tocsr()[kept][:, kept]
    u = np.zeros(free.size)
    u[kept] = solve_spd(K, forces.ravel()[kept, None]).x[:, 0]
    return Field(mesh, space, material, u.reshape(-1, 3))


def stiffness(space: QuadraticSpace, material: Elastic, layered: bool) -> sp.bsr_matrix:
    """Matrix of one material, its dilatation as it is or projected."""
    lame, shear = material.lame_MPa, material.shear_modulus_MPa
    assembler = Assembler.on(space)
    if not layered:
        return assembler.stiffness(lame, shear)
    return assembler.stiffness(0.0, shear) + LayerDilatation.on(space).stiffness(lame)


def traction(space: QuadraticSpace, triangles: Ints, traction: Array) -> Array:
    """Nodal forces (n, 3) of a uniform traction.

    On a quadratic triangle each middle of an edge carries a third, the vertices nothing.
    """
    areas = np.linalg.norm(area_vectors(space.points, triangles), axis=1)
    return _on_middles(space, triangles, areas[:, None] * traction)


def pressure(space: QuadraticSpace, triangles: Ints, pressure: float) -> Array:
    """Nodal forces (n, 3) of a pressure on facets that face outwards."""
    return _on_middles(space, triangles, -pressure * area_vectors(space.points, triangles))


def stress_at(field: Field, place: Array, rings: int = RINGS) -> Array:
    """Stress (3, 3) at a vertex from a polynomial through the quadrature points around it.

    A full quadratic polynomial in x, y, z is fitted by least squares to the stress at the four
    quadrature points of each element in so many rings around the vertex, and evaluated there
    (after Zienkiewicz & Zhu 1992, IJNME 33:1331, from memory). On a boundary the rings lie to
    one side, and the polynomial is carried on to it.
    """
    space, near = field.space, _rings(field.space, field.vertex(place), rings)
    strain = space.strains(field.displacements[:, :, None])[0][:, near]
    lame, shear = field.material.lame_MPa, field.material.shear_modulus_MPa
    stress = 2 * shear * strain
    stress[:3] += lame * strain[:3].sum(axis=0)
    at = np.einsum("qm,emi->eqi", QUADRATURE, space.points[space.vertices[near]])
    local = (at - place).reshape(-1, 3)
    local = local / np.abs(local).max(axis=0)
    x, y, z = local.T
    terms = np.stack([np.ones_like(x), x, y, z, x * x, y * y, z * z, x * y, y * z, x * z], axis=1)
    fitted = np.linalg.lstsq(terms, stress.reshape(6, -1).T, rcond=None)[0][0]
    xx, yy, zz, yz, xz, xy = fitted
    return np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])


def _rings(space: QuadraticSpace, vertex: int, rings: int) -> Ints:
    """Elements in so many rings around a vertex."""
    reached = np.zeros(len(space.points), dtype=bool)
    reached[vertex] = True
    for _ in range(rings):
        near = reached[space.vertices].any(axis=1)
        reached[space.vertices[near]] = True
    return np.flatnonzero(near)


def _hold(free: NDArray[np.bool_], nodes: Ints, components: str) -> None:
    for name in components:
        free[nodes, _COMPONENTS[name]] = False


def _on_middles(space: QuadraticSpace, triangles: Ints, forces: Array) -> Array:
    nodal = np.zeros((space.node_count, 3))
    np.add.at(nodal, space.facet_table(triangles)[:, 3:], (forces / 3)[:, None, :])
    return nodal
