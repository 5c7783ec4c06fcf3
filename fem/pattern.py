"""Sparse matrix added up again and again from blocks whose places stay the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Pattern:
    """Where each entry of the blocks goes in a square matrix; entries at one place are added.

    Attributes
    ----------
    size
        Number of rows.
    slots
        Place in the matrix's values of each entry of the blocks, in their order.
    rows, starts
        Row indices and column starts of the compressed columns.
    """

    size: int
    slots: Ints
    rows: Ints
    starts: Ints

    def matrix(self, values: Array) -> sp.csc_matrix:
        """The matrix, from the entries of all blocks in the order they were placed in."""
        added = np.bincount(self.slots, weights=values, minlength=len(self.rows))
        return sp.csc_matrix((added, self.rows, self.starts), shape=(self.size, self.size))


def place_blocks(size: int, corners: Sequence[tuple[int, int, tuple[int, ...]]]) -> Pattern:
    """Pattern of dense blocks.

    Parameters
    ----------
    size
        Number of rows of the square matrix.
    corners
        First row, first column and shape of each block.
    """
    keys = [
        ((column + np.arange(shape[1])) * size + row + np.arange(shape[0])[:, None]).ravel()
        for row, column, shape in corners
    ]
    places, slots = np.unique(np.concatenate(keys), return_inverse=True)
    starts = np.searchsorted(places, size * np.arange(size + 1))
    return Pattern(size, slots, (places % size).astype(np.int32), starts.astype(np.int32))
