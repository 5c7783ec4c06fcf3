"""Quadratic displacements on straight tetrahedra: numbering, gradients, motions and strains.

Nodes are the vertices, then the middles of the edges by rising vertex numbers; node ``a`` owns the
degrees of freedom ``3a, 3a+1, 3a+2``. The vertices of each element are kept in rising order, so
that its ten node numbers rise too and an upper triangle of an element is one of the whole matrix.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fem.rigid import skew

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

# Ends of an element's six edges, in the order of their nodes.
EDGE_ENDS = np.array([[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]])

# Four points of equal weight, exact for quadratic integrands (Keast 1986; from memory).
_NEAR, _FAR = (5 + 3 * np.sqrt(5)) / 20, (5 - np.sqrt(5)) / 20
QUADRATURE = np.full((4, 4), _FAR) + (_NEAR - _FAR) * np.eye(4)


def gradient_table(barycentric: Array) -> Array:
    """Gradients of the ten shape functions in terms of those of the barycentric coordinates.

    ``∇N_A = Σ_m c_Am ∇L_m`` with ``N_a = L_a (2 L_a − 1)`` at vertices and ``N_ab = 4 L_a L_b`` on
    edges.

    Parameters
    ----------
    barycentric
        Points (q, 4).

    Returns
    -------
    Array
        The coefficients c, (q, 10, 4).
    """
    table = np.zeros((len(barycentric), 10, 4))
    for vertex in range(4):
        table[:, vertex, vertex] = 4 * barycentric[:, vertex] - 1
    for edge, (a, b) in enumerate(EDGE_ENDS, start=4):
        table[:, edge, b] = 4 * barycentric[:, a]
        table[:, edge, a] = 4 * barycentric[:, b]
    return table


def node_dofs(nodes: Ints) -> Ints:
    """Degrees of freedom of some nodes, three each, in their order."""
    return np.asarray((3 * nodes[:, None] + np.arange(3)).ravel())


def dof_nodes(dofs: Ints) -> Ints:
    """Nodes of some degrees of freedom that `node_dofs` may have given.

    Raises
    ------
    ValueError
        If they are not all three of each node, one node after the other.
    """
    nodes = dofs[::3] // 3
    if not np.array_equal(dofs, node_dofs(nodes)):
        raise ValueError("degrees of freedom must be those of nodes in all directions or in none")
    return np.asarray(nodes)


def rigid_motions(places: Array, point: Array) -> Array:
    """The six unit rigid motions about a point at some places (n, 3), (n, 3, 6)."""
    arm = places - point
    # u = ω × r = −r× ω
    translation = np.broadcast_to(np.eye(3), (len(arm), 3, 3))
    return np.concatenate([translation, -skew(arm)], axis=2)


@dataclass(frozen=True)
class QuadraticSpace:
    """Vector-valued quadratic displacements on straight tetrahedra.

    Attributes
    ----------
    points
        Vertices (v, 3), mm.
    vertices
        Vertices of each element, rising, (m, 4).
    edges
        Edges by their two vertices, rising, (e, 2).
    elements
        The ten nodes of each element, rising, (m, 10).
    """

    points: Array
    vertices: Ints
    edges: Ints
    elements: Ints

    @classmethod
    def on(cls, points: Array, tets: Ints) -> QuadraticSpace:
        """Number the nodes of a mesh.

        Parameters
        ----------
        points
            Vertices (v, 3), mm.
        tets
            Vertex numbers (m, 4), in any order.
        """
        size = len(points)
        vertices = np.sort(np.asarray(tets, dtype=np.int64), axis=1)
        keys = vertices[:, EDGE_ENDS[:, 0]] * size + vertices[:, EDGE_ENDS[:, 1]]
        unique, inverse = np.unique(keys, return_inverse=True)
        edges = np.stack([unique // size, unique % size], axis=1)
        elements = np.concatenate([vertices, size + inverse.reshape(-1, 6)], axis=1)
        return cls(np.asarray(points, dtype=float), vertices, edges, elements)

    @property
    def node_count(self) -> int:
        """Number of nodes; a third of the degrees of freedom."""
        return len(self.points) + len(self.edges)

    @cached_property
    def nodes(self) -> Array:
        """Coordinates of all nodes, (n, 3), mm."""
        return np.concatenate([self.points, self.points[self.edges].mean(axis=1)])

    @cached_property
    def _geometry(self) -> tuple[Array, Array]:
        corners = self.points[self.vertices]
        sides = corners[:, 1:] - corners[:, :1]
        # Rows of the inverse transpose are the gradients of L_1, L_2, L_3.
        cross = np.stack(
            [np.cross(sides[:, (i + 1) % 3], sides[:, (i + 2) % 3]) for i in range(3)], axis=1
        )
        determinant = np.einsum("ei,ei->e", sides[:, 0], cross[:, 0])
        inner = cross / determinant[:, None, None]
        gradients = np.concatenate([-inner.sum(axis=1, keepdims=True), inner], axis=1)
        return np.abs(determinant) / 6, gradients

    @property
    def volumes(self) -> Array:
        """Volume of each element, (m,), mm³."""
        return self._geometry[0]

    @property
    def gradients(self) -> Array:
        """Gradients of the four barycentric coordinates, (m, 4, 3), 1/mm."""
        return self._geometry[1]

    def facet_nodes(self, triangles: Ints) -> Ints:
        """Nodes on a set of facets, rising.

        Parameters
        ----------
        triangles
            Vertex triples (k, 3); each must be a face of the mesh.

        Raises
        ------
        ValueError
            If a triangle is no face of the mesh.
        """
        return np.unique(self.facet_table(triangles))

    def facet_table(self, triangles: Ints) -> Ints:
        """The six nodes of each facet, (k, 6): vertices a < b < c, then the middles ab, ac, bc.

        Raises
        ------
        ValueError
            If a triangle is no face of the mesh.
        """
        corners = np.sort(np.asarray(triangles, dtype=np.int64).reshape(-1, 3), axis=1)
        known = self._face_keys(self.vertices[:, [[1, 2, 3], [0, 2, 3], [0, 1, 3], [0, 1, 2]]])
        missing = int(np.sum(~np.isin(self._face_keys(corners), known)))
        if missing:
            raise ValueError(f"{missing} of {len(corners)} boundary triangles are no faces of it")
        size = len(self.points)
        keys = corners[:, [0, 0, 1]] * size + corners[:, [1, 2, 2]]
        return np.concatenate(
            [corners, size + np.searchsorted(self.edges @ (size, 1), keys)], axis=1
        )

    def _face_keys(self, corners: Ints) -> Ints:
        size = len(self.points)
        return np.asarray(corners @ (size * size, size, 1))

    def rigid_motions(self, point: Array, nodes: Ints | None = None) -> Array:
        """The six unit rigid motions about a point at the nodes, (n, 3, 6).

        Columns follow (x, y, z, rx, ry, rz): unit translations in mm, unit rotations in rad.

        Parameters
        ----------
        point
            (3,), mm.
        nodes
            Which nodes; all without it.
        """
        return rigid_motions(self.nodes if nodes is None else self.nodes[nodes], point)

    def strains(self, displacements: Array, elements: slice = slice(None)) -> Array:
        """Small strain of several displacement fields at four points of each element.

        Parameters
        ----------
        displacements
            (n, 3, k), mm.
        elements
            Which elements; all without it.

        Returns
        -------
        Array
            Components xx yy zz yz xz xy (tensor shears) as (k, 6, elements, 4). Each point stands
            for a quarter of its element's volume.
        """
        nodes, gradients = self.elements[elements], self.gradients[elements]
        fields = displacements.shape[2]
        local = displacements.reshape(-1, 3 * fields)[nodes]
        table = gradient_table(QUADRATURE).transpose(0, 2, 1).reshape(16, 10)
        slopes = np.matmul(table, local).reshape(len(nodes), 4, 4, 3 * fields)
        # ∂u_i/∂x_j at each point: contract the barycentric index.
        jacobian = np.matmul(gradients.transpose(0, 2, 1)[:, None], slopes)
        jacobian = jacobian.reshape(len(nodes), 4, 3, 3, fields).transpose(4, 2, 3, 0, 1)
        strain = np.empty((fields, 6, len(nodes), 4))
        for component, (i, j) in enumerate(((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))):
            strain[:, component] = 0.5 * (jacobian[:, i, j] + jacobian[:, j, i])
        return strain

    @cached_property
    def strain_operator(self) -> Array:
        """Strain vectors at the four points from an element's 30 displacements, (m, 4, 6, 30).

        Rows xx yy zz 2yz 2xz 2xy; columns node by node.
        """
        shape = np.einsum("qam,emj->eqaj", gradient_table(QUADRATURE), self.gradients)
        operator = np.zeros((len(self.elements), 4, 6, 10, 3))
        for i in range(3):
            operator[:, :, i, :, i] = shape[..., i]
        for row, (i, j) in enumerate(((1, 2), (0, 2), (0, 1)), start=3):
            operator[:, :, row, :, i] = shape[..., j]
            operator[:, :, row, :, j] = shape[..., i]
        return operator.reshape(len(self.elements), 4, 6, 30)
