"""Stiffness of straight quadratic tetrahedra, assembled as upper 3×3 blocks.

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
class BlockMatrix:
    """A symmetric matrix of 3×3 blocks, of which those on and above the diagonal are stored.

    Attributes
    ----------
    indptr, indices
        Rows of blocks as in compressed sparse rows; columns rise within a row, the diagonal block
        comes first.
    blocks
        (stored blocks, 3, 3); diagonal blocks are whole.
    """

    indptr: NDArray[np.int32]
    indices: NDArray[np.int32]
    blocks: Array

    @property
    def size(self) -> int:
        """Number of rows of blocks."""
        return len(self.indptr) - 1

    @property
    def unknowns(self) -> int:
        """Number of rows of numbers."""
        return 3 * self.size

    def upper(self) -> sp.bsr_matrix:
        """The stored part, as a scipy matrix that shares the memory."""
        shape = (self.unknowns, self.unknowns)
        return sp.bsr_matrix((self.blocks, self.indices, self.indptr), shape=shape)

    def full(self) -> sp.bsr_matrix:
        """Both triangles, columns sorted within rows."""
        order, indices, indptr, mirrored = mirror_pattern(self.indptr, self.indices)
        blocks = self.blocks[order]
        blocks[mirrored] = blocks[mirrored].transpose(0, 2, 1)
        shape = (self.unknowns, self.unknowns)
        return sp.bsr_matrix((blocks, indices, indptr), shape=shape)

    def __matmul__(self, columns: Array) -> Array:
        """Product with (unknowns, k)."""
        upper = self.upper()
        diagonal = self.blocks[self.indptr[:-1]]
        shaped = columns.reshape(self.size, 3, -1)
        own = np.matmul(diagonal, shaped).reshape(columns.shape)
        return np.asarray(upper @ columns + upper.T @ columns - own)


def mirror_pattern(
    indptr: NDArray[np.int32], indices: NDArray[np.int32]
) -> tuple[Ints, NDArray[np.int32], NDArray[np.int32], NDArray[np.bool_]]:
    """Pattern of both triangles from the upper one.

    Returns
    -------
    tuple
        Stored block behind each block of the full pattern, its columns, the row pointers, and
        where a block is the transpose of the stored one.
    """
    size, stored = len(indptr) - 1, len(indices)
    # Columns of a matrix in rows are the rows of its transpose: scipy's bucket sort is stable.
    numbers = sp.csr_matrix((np.arange(stored), indices, indptr), shape=(size, size))
    below = numbers.tocsc()
    rows = np.repeat(np.arange(size), np.diff(indptr))
    lower_rows = np.repeat(np.arange(size), np.diff(below.indptr))
    strict = lower_rows != below.indices
    counts = np.diff(indptr) + np.bincount(lower_rows[strict], minlength=size)
    full_indptr = np.concatenate([[0], np.cumsum(counts)])
    # Within a row the mirrored blocks (columns below the diagonal) come before the stored ones.
    lower_place = _places(lower_rows[strict], full_indptr[:-1], size)
    upper_place = _places(rows, full_indptr[1:] - np.diff(indptr), size)
    order = np.empty(full_indptr[-1], dtype=np.int64)
    columns = np.empty(full_indptr[-1], dtype=np.int32)
    mirrored = np.zeros(full_indptr[-1], dtype=bool)
    order[lower_place], columns[lower_place] = below.data[strict], below.indices[strict]
    order[upper_place], columns[upper_place] = np.arange(stored), indices
    mirrored[lower_place] = True
    return order, columns, full_indptr.astype(np.int32), mirrored


def _places(rows: Ints, starts: Ints, size: int) -> Ints:
    """Positions of entries sorted by row, each row beginning at its start."""
    counts = np.bincount(rows, minlength=size)
    first = np.cumsum(counts) - counts
    return np.asarray(starts[rows] + np.arange(len(rows)) - first[rows])


@dataclass(frozen=True)
class Assembler:
    """Assembly on one mesh for any materials.

    Attributes
    ----------
    space
    indptr, indices
        Pattern of the upper blocks.
    gather
        (stored blocks, 55 m): which element blocks add up to each stored one.
    """

    space: QuadraticSpace
    indptr: NDArray[np.int32]
    indices: NDArray[np.int32]
    gather: sp.csr_matrix

    @classmethod
    def on(cls, space: QuadraticSpace) -> Assembler:
        """Find the pattern of a space's matrix."""
        size = space.node_count
        keys = (space.elements[:, _UPPER[0]] * size + space.elements[:, _UPPER[1]]).ravel()
        order = np.argsort(keys, kind="stable")
        keys = keys[order]
        first = np.flatnonzero(np.concatenate([[True], keys[1:] != keys[:-1]]))
        indptr = np.searchsorted(keys[first], np.arange(size + 1) * size)
        starts = np.concatenate([first, [len(keys)]]).astype(np.int32)
        ones = np.ones(len(keys))
        shape = (len(first), len(keys))
        gather = sp.csr_matrix((ones, order.astype(np.int32), starts), shape=shape)
        columns = (keys[first] % size).astype(np.int32)
        return cls(space, indptr.astype(np.int32), columns, gather)

    def stiffness(self, lame_MPa: float | Array, shear_MPa: float | Array) -> BlockMatrix:
        """Stiffness of ``∫ λ tr ε(u) tr ε(v) + 2μ ε(u):ε(v)``, N/mm.

        Parameters
        ----------
        lame_MPa, shear_MPa
            Lamé constants λ and μ: one number, or one for each element, (m,).
        """
        volume, g = self.space.volumes, self.space.gradients
        lame, shear = lame_MPa * volume, shear_MPa * volume
        products = np.einsum("emi,enj->mneij", g, g)
        dots = np.trace(products, axis1=3, axis2=4)
        blocks = np.empty((len(self.indices), 3, 3))
        for i in range(3):
            parts = lame[:, None] * products[:, :, :, i, :]
            parts += shear[:, None] * products[:, :, :, :, i]
            parts[..., i] += shear * dots
            element = MEAN_PRODUCTS.T @ parts.reshape(16, -1)
            element = element.reshape(55, len(volume), 3).transpose(1, 0, 2)
            blocks[:, i] = self.gather @ np.ascontiguousarray(element).reshape(-1, 3)
        return BlockMatrix(self.indptr, self.indices, blocks)


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
    operator: sp.csr_matrix

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
        columns = 3 * space.elements[rows].reshape(-1, 1, 3, 10, 1) + np.arange(3)
        columns = np.broadcast_to(columns, values.shape)
        starts = np.arange(3 * len(prisms) + 1) * 90
        size = (3 * len(prisms), 3 * space.node_count)
        operator = sp.csr_matrix((values.ravel(), columns.ravel(), starts), shape=size)
        operator.sum_duplicates()
        return cls(rows, modes, operator)

    def stiffness(self, lame_MPa: float | Array) -> sp.csr_matrix:
        """Matrix of ``∫ λ Πθ(u) Πθ(v)``, N/mm; λ one number, or one for each prism, (p,)."""
        prisms = len(self.modes)
        lame = np.repeat(np.broadcast_to(np.asarray(lame_MPa, dtype=float), (prisms,)), 3)
        return sp.csr_matrix(self.operator.T @ sp.diags(lame) @ self.operator)

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
