"""Sparse matrices of 3×3 blocks, one block row and column for each node.

They are scipy's, in the form BSR, with both triangles stored and rising columns in each row.
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

Ints = NDArray[np.int64]


def part(K: sp.bsr_matrix, rows: Ints | None, columns: Ints | None) -> sp.bsr_matrix:
    """Blocks of some nodes' rows and some nodes' columns.

    Parameters
    ----------
    K
        Need not be square.
    rows, columns
        Nodes to keep, rising; all without it.
    """
    height, width = (length // 3 for length in K.shape)
    block_rows = _block_rows(K)
    row_places, height = _places(height, rows)
    column_places, width = _places(width, columns)
    at_rows, at_columns = row_places[block_rows], column_places[K.indices]
    kept = (at_rows >= 0) & (at_columns >= 0)
    return _from_blocks(K.data[kept], at_rows[kept], at_columns[kept], (height, width))


def upper_part(K: sp.bsr_matrix) -> sp.bsr_matrix:
    """Blocks on and above the diagonal; those on it whole."""
    size = K.shape[0] // 3
    block_rows = _block_rows(K)
    kept = K.indices >= block_rows
    return _from_blocks(K.data[kept], block_rows[kept], K.indices[kept], (size, size))


def diagonal_blocks(K: sp.bsr_matrix) -> NDArray[np.float64]:
    """Blocks on the diagonal, (n, 3, 3); zero where none is stored."""
    size = K.shape[0] // 3
    block_rows = _block_rows(K)
    own = block_rows == K.indices
    diagonal = np.zeros((size, 3, 3))
    diagonal[block_rows[own]] = K.data[own]
    return diagonal


def _from_blocks(
    blocks: NDArray[np.floating], rows: Ints, columns: Ints, shape: tuple[int, int]
) -> sp.bsr_matrix:
    """Matrix of blocks that lie row by row, their columns rising in each.

    Parameters
    ----------
    blocks
        (b, 3, 3).
    rows, columns
        Block row and block column of each, (b,).
    shape
        Numbers of block rows and block columns.
    """
    indptr = np.zeros(shape[0] + 1, dtype=np.int32)
    np.cumsum(np.bincount(rows, minlength=shape[0]), out=indptr[1:])
    whole = (3 * shape[0], 3 * shape[1])
    return sp.bsr_matrix((blocks, columns.astype(np.int32, copy=False), indptr), shape=whole)


def _block_rows(K: sp.bsr_matrix) -> NDArray[np.int32]:
    """Block row of each stored block."""
    return np.repeat(np.arange(K.shape[0] // 3, dtype=np.int32), np.diff(K.indptr))


def _places(size: int, kept: Ints | None) -> tuple[NDArray[np.int32], int]:
    """New number of each node, −1 for those left out, and how many are kept."""
    if kept is None:
        return np.arange(size, dtype=np.int32), size
    places = np.full(size, -1, dtype=np.int32)
    places[kept] = np.arange(len(kept))
    return places, len(kept)
