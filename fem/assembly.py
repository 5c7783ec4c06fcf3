"""Stiffness of straight quadratic tetrahedra, assembled as upper 3×3 blocks.

With barycentric gradients g of an element of volume V, and i, j the directions at nodes A, B,

    ``K[AB, ij] = Σ_mn M[AB, mn] V (λ g_mi g_nj + μ g_mj g_ni + μ δ_ij g_m·g_n)``,

where ``M[AB, mn]`` is a constant table: the mean over the element of ``c_Am c_Bn`` (see
`fem.space.gradient_table`). Exact for straight edges and constants that are uniform in each
element; not valid for curved elements or graded materials, which need a quadrature of their own.
The pattern depends on the mesh alone and is kept when only materials change.
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


def _mean_products() -> Array:
    """Mean of ``c_Am c_Bn`` over an element for the 55 pairs A ≤ B, (16, 55)."""
    table = gradient_table(QUADRATURE)
    means = np.einsum("qam,qbn->mnab", table, table) / len(QUADRATURE)
    return np.asarray(means[:, :, _UPPER[0], _UPPER[1]].reshape(16, 55))


MEAN_PRODUCTS = _mean_products()
