"""Stiffness of straight quadratic tetrahedra, assembled by 3×3 blocks.

With barycentric gradients g of an element of volume V, and i, j the directions at nodes A, B,

    ``K[AB, ij] = Σ_mn M[AB, mn] V (λ g_mi g_nj + μ g_mj g_ni + μ δ_ij g_m·g_n)``,

where ``M[AB, mn]`` is a constant table: the mean over the element of ``c_Am c_Bn`` (see
`fem.space.gradient_table`). Exact for straight edges and constants that are uniform in each
element; not valid for curved elements or graded materials, which need a quadrature of their own.
The pattern depends on the mesh alone and is kept when only materials change.

Nearly incompressible layers need `LayerDilatation` besides: the volumetric term λ of the tetrahedra
themselves asks more of the displacements than they have freedom for, and the layer comes out stiff.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.space import QUADRATURE, QuadraticSpace, gradient_table

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_UPPER = np.triu_indices(10)


@dataclass(frozen=True)
class Assembler:
    """Assembly of some elements of a mesh for any materials.

    Attributes
    ----------
    space
        Numbering of the whole mesh, and of the matrix.
    rows
        Which elements, (m,).
    gather
        (upper blocks, 55 m): which element blocks add up to each block of the upper triangle.
    pattern
        Both triangles; its numbers are the places of the blocks, below the diagonal those of their
        transposes, counted from 1 and negative.
    """

    space: QuadraticSpace
    rows: Ints
    gather: sp.csr_matrix
    pattern: sp.csr_matrix

    @classmethod
    def on(cls, space: QuadraticSpace, rows: Ints | None = None) -> Assembler:
        """Find the pattern of some elements' matrix; of all of them without `rows`."""
        size = space.node_count
        rows = np.arange(len(space.elements)) if rows is None else np.asarray(rows)
        elements = space.elements[rows]
        # Pair by pair of local nodes, as the element blocks below come out of their product.
        keys = (elements.T[_UPPER[0]] * size + elements.T[_UPPER[1]]).ravel()
        order = np.argsort(keys, kind="stable")
        keys = keys[order]
        first = np.flatnonzero(np.diff(keys, prepend=-1))
        starts = np.concatenate([first, [len(keys)]]).astype(np.int32)
        shape = (len(first), len(keys))
        gather = sp.csr_matrix((np.ones(len(keys)), order.astype(np.int32), starts), shape=shape)
        return cls(space, rows, gather, _both_triangles(keys[first], size))

    def stiffness(self, lame_MPa: float | Array, shear_MPa: float | Array) -> sp.bsr_matrix:
        """Stiffness of ``∫ λ tr ε(u) tr ε(v) + 2μ ε(u):ε(v)``, N/mm.

        Parameters
        ----------
        lame_MPa, shear_MPa
            Lamé constants λ and μ: one number, or one for each of the elements, (m,).

        Returns
        -------
        sparse matrix
            (3 nodes, 3 nodes), see `fem.blocks`.
        """
        volume, g = self.space.volumes[self.rows], self.space.gradients[self.rows]
        lame, shear = lame_MPa * volume, shear_MPa * volume
        products = np.einsum("emi,enj->mneij", g, g)
        dots = np.trace(products, axis1=3, axis2=4)
        upper = np.empty((self.gather.shape[0], 3, 3))
        for i in range(3):
            parts = lame[:, None] * products[:, :, :, i, :]
            parts += shear[:, None] * products[:, :, :, :, i]
            parts[..., i] += shear * dots
            element = MEAN_PRODUCTS.T @ parts.reshape(16, -1)
            upper[:, i] = self.gather @ element.reshape(-1, 3)
        places, indices, indptr = self.pattern.data, self.pattern.indices, self.pattern.indptr
        blocks = upper[np.abs(places) - 1]
        mirrored = np.flatnonzero(places < 0)
        blocks[mirrored] = blocks[mirrored].transpose(0, 2, 1)
        whole = (3 * self.space.node_count,) * 2
        return sp.bsr_matrix((blocks, indices, indptr), shape=whole)


def _both_triangles(keys: Ints, size: int) -> sp.csr_matrix:
    """Pattern of both triangles from the keys (row × size + column) of the upper one, rising."""
    places = np.arange(1, len(keys) + 1, dtype=np.int32)
    indptr = np.searchsorted(keys, np.arange(size + 1) * size)
    upper = sp.csr_matrix((places, (keys % size).astype(np.int32), indptr), shape=(size, size))
    lower = sp.csr_matrix(-sp.triu(upper, k=1).T)
    pattern = sp.csr_matrix(upper + lower)
    pattern.sort_indices()
    return pattern


@dataclass(frozen=True)
class LayerDilatation:
    """Dilatation of a layer of prisms, projected prism by prism.

    A prism is the three tetrahedra that `geometry.ligament.ligament_layer` cuts it into. Of the
    dilatation θ = div u only the part Πθ is kept that is constant across the prism and linear
    along it (L2 projection onto three functions a prism), and the volumetric energy is

        ``½ ∫ λ (Πθ)²`` instead of ``½ ∫ λ θ²``.

    That is the pressure of a thin layer: it varies along the layer, hardly across it. Two layers
    between bonded faces have some three displacements for each such constraint; with θ itself they
    have fewer than one. The matrix stays symmetric and positive definite together with the full
    shear term ``2μ ε:ε``. Linear fields are exact. Converges with the second order where the
    solution is smooth; beside a free rim with that of the corner's singularity, from either side.

    Attributes
    ----------
    elements
        Rows of the space's elements, (3p,), prism by prism.
    modes
        Orthonormal functions at the quadrature points, (p, 12 points, 3), mm^−3/2.
    operator
        (3p, degrees of freedom): coefficients of Πθ in the modes.
    """

    elements: Ints
    modes: Array
    operator: sp.bsr_matrix

    @classmethod
    def on(cls, space: QuadraticSpace, elements: Ints | None = None) -> LayerDilatation:
        """Find the prisms of a layer.

        Parameters
        ----------
        space
        elements
            Rows of the layer's elements, in the order of the layer; all without it.

        Raises
        ------
        ValueError
            If the elements are no prisms of three tetrahedra each, one after the other, with lower
            node numbers on the inner side.
        """
        rows = np.arange(len(space.elements)) if elements is None else np.asarray(elements)
        prisms = _prism_corners(space.vertices[rows])
        weights = np.repeat(space.volumes[rows] / 4, 4).reshape(-1, 12)
        modes = _along_layer(space, rows, prisms, weights)
        shape = np.einsum("qam,emi->eqai", gradient_table(QUADRATURE), space.gradients[rows])
        shape = shape.reshape(len(prisms), 3, 4, 10, 3)
        weighted = (modes * weights[..., None]).reshape(len(prisms), 3, 4, 3)
        values = np.einsum("ptqk,ptqai->pktai", weighted, shape, optimize=True)
        # Of the thirty nodes of a prism's tetrahedra the same ones coincide in every prism.
        nodes = space.elements[rows].reshape(-1, 30)
        _, own, place = np.unique(nodes[0], return_index=True, return_inverse=True)
        merged = np.zeros((len(own), 30))
        merged[place, np.arange(30)] = 1.0
        blocks = merged @ values.transpose(0, 2, 3, 1, 4).reshape(-1, 30, 9)
        starts = np.arange(len(prisms) + 1) * len(own)
        size = (3 * len(prisms), 3 * space.node_count)
        data = (blocks.reshape(-1, 3, 3), nodes[:, own].ravel(), starts)
        operator = sp.bsr_matrix(data, shape=size)
        operator.sort_indices()
        return cls(rows, modes, operator)

    def stiffness(self, lame_MPa: float | Array) -> sp.bsr_matrix:
        """Matrix of ``∫ λ Πθ(u) Πθ(v)``, N/mm; λ one number, or one for each prism, (p,)."""
        prisms = len(self.modes)
        lame = np.broadcast_to(np.asarray(lame_MPa, dtype=float), (prisms,))
        weighted, operator = self.operator.copy(), self.operator
        weighted.data *= np.repeat(lame, np.diff(operator.indptr))[:, None, None]
        K = sp.bsr_matrix(operator.T @ weighted)
        K.sort_indices()
        return K

    def at_points(self, displacements: Array) -> Array:
        """Πθ of several displacement fields at four points of each element.

        Parameters
        ----------
        displacements
            (degrees of freedom, k), mm.

        Returns
        -------
        Array
            (k, elements, 4).
        """
        coefficients = (self.operator @ displacements).reshape(len(self.modes), 3, -1)
        return np.einsum("pqm,pmk->kpq", self.modes, coefficients).reshape(
            displacements.shape[1], -1, 4
        )


def _prism_corners(vertices: Ints) -> Ints:
    """The six vertices of each prism, inner triangle first, (p, 6)."""
    whole = len(vertices) % 3 == 0
    if whole:
        triples = vertices.reshape(-1, 3, 4)
        a, b, c = triples[:, 0, :3].T
        d, e, f = triples[:, 2, 1:].T
        cut = [(a, b, c, f), (a, b, e, f), (a, d, e, f)]
        whole = np.array_equal(np.stack([np.stack(tet, 1) for tet in cut], 1), triples)
    if not whole:
        raise ValueError(
            "the tetrahedra of the layer are no prisms cut in three, one after the other: grow it "
            "with geometry.ligament.ligament_layer and keep the order of its elements and nodes"
        )
    return np.stack([a, b, c, d, e, f], axis=1)


def _along_layer(space: QuadraticSpace, rows: Ints, prisms: Ints, weights: Array) -> Array:
    """Orthonormal 1, s, t of each prism at its points, (p, 12, 3); s and t do not vary across."""
    corners = space.points[prisms]
    inner, outer = corners[:, :3], corners[:, 3:]
    middle = 0.5 * (inner + outer)
    sides = np.stack(
        [middle[:, 1] - middle[:, 0], middle[:, 2] - middle[:, 0], (outer - inner).mean(axis=1)],
        axis=2,
    )
    at = np.einsum("qm,emi->eqi", QUADRATURE, space.points[space.vertices[rows]])
    at = at.reshape(-1, 12, 3) - middle.mean(axis=1, keepdims=True)
    local = np.einsum("pij,pqj->pqi", np.linalg.inv(sides), at)
    raw = np.concatenate([np.ones((*weights.shape, 1)), local[..., :2]], axis=2)
    gram = np.einsum("pq,pqk,pql->pkl", weights, raw, raw)
    triangular = np.linalg.inv(np.linalg.cholesky(gram))
    return np.asarray(np.einsum("pkl,pql->pqk", triangular, raw))


def _mean_products() -> Array:
    """Mean of ``c_Am c_Bn`` over an element for the 55 pairs A ≤ B, (16, 55)."""
    table = gradient_table(QUADRATURE)
    means = np.einsum("qam,qbn->mnab", table, table) / len(QUADRATURE)
    return np.asarray(means[:, :, _UPPER[0], _UPPER[1]].reshape(16, 55))


MEAN_PRODUCTS = _mean_products()
