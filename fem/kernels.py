"""Sparse products and factors for many columns at once: MKL where pypardiso brings it, else scipy.

Products take (n, k) arrays stored row by row, so that one pass through the matrix serves all
columns. Factors are single precision: they serve as parts of a preconditioner, where seven digits
are more than enough and memory and time are halved.
"""

from __future__ import annotations

import ctypes
import weakref
from functools import cache
from typing import Any

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from fem.solver import pardiso

_ZERO_BASED, _ROW_MAJOR, _AS_IT_IS, _GENERAL = 0, 101, 10, 20
_ANALYSE_AND_FACTORISE, _SOLVE, _RELEASE = 12, 33, -1
_POSITIVE_DEFINITE = 2


class _Description(ctypes.Structure):
    _fields_ = (("type", ctypes.c_int), ("mode", ctypes.c_int), ("diagonal", ctypes.c_int))


@cache
def _mkl() -> Any | None:
    """The library that pypardiso ships, or None without it."""
    try:
        library = pardiso().libmkl
    except ImportError:
        return None
    return library if hasattr(library, "mkl_sparse_s_mm") else None


class Product:
    """``A @ X`` for a sparse matrix and columns of the same precision.

    Parameters
    ----------
    A
        Matrix (m, n), float32 or float64.
    use_mkl
        Whether MKL may be used where it is there.
    """

    def __init__(self, A: sp.csr_matrix, *, use_mkl: bool = True) -> None:
        self._matrix = sp.csr_matrix(A)
        self._library = _mkl() if use_mkl and A.nnz else None
        if self._library is not None:
            self._number = ctypes.c_float if A.dtype == np.float32 else ctypes.c_double
            self._prefix = "s" if A.dtype == np.float32 else "d"
            self._handle = self._create()

    @property
    def shape(self) -> tuple[int, int]:
        """Of the matrix."""
        return (self._matrix.shape[0], self._matrix.shape[1])

    def _create(self) -> ctypes.c_void_p:
        A, library = self._matrix, self._library
        # The library keeps these addresses: the arrays must be int32 and live as long as it does.
        A.indptr, A.indices = A.indptr.astype(np.int32), A.indices.astype(np.int32, copy=False)
        handle = ctypes.c_void_p()
        status = getattr(library, f"mkl_sparse_{self._prefix}_create_csr")(
            ctypes.byref(handle),
            ctypes.c_int(_ZERO_BASED),
            ctypes.c_int(A.shape[0]),
            ctypes.c_int(A.shape[1]),
            _address(A.indptr),
            _address(A.indptr[1:]),
            _address(A.indices),
            _address(A.data),
        )
        _check(status)
        weakref.finalize(self, library.mkl_sparse_destroy, handle)  # type: ignore[union-attr]
        return handle

    def __matmul__(self, columns: NDArray[Any]) -> NDArray[Any]:
        """Product with (n, k), as (m, k)."""
        if self._library is None:
            return np.asarray(self._matrix @ columns)
        columns = np.ascontiguousarray(columns, dtype=self._matrix.dtype)
        result = np.empty((self.shape[0], columns.shape[1]), dtype=columns.dtype)
        width = ctypes.c_int(columns.shape[1])
        status = getattr(self._library, f"mkl_sparse_{self._prefix}_mm")(
            ctypes.c_int(_AS_IT_IS),
            self._number(1.0),
            self._handle,
            _Description(_GENERAL, 0, 0),
            ctypes.c_int(_ROW_MAJOR),
            _address(columns),
            width,
            width,
            self._number(0.0),
            _address(result),
            width,
        )
        _check(status)
        return result


class Factor:
    """Factor of a symmetric positive-definite matrix in single precision.

    Parameters
    ----------
    A
        Matrix (n, n), both triangles stored.
    use_mkl
        Whether PARDISO may be used where it is there; else SuperLU.

    Raises
    ------
    RuntimeError
        If the matrix is not positive definite to single precision, or memory does not suffice.
    """

    def __init__(self, A: sp.csr_matrix, *, use_mkl: bool = True) -> None:
        self._library = _mkl() if use_mkl and A.shape[0] else None
        if self._library is None:
            symmetric = {"SymmetricMode": True}
            self._superlu = splu(
                A.astype(np.float32).tocsc(),
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                options=symmetric,
            )
            return
        upper = sp.triu(A, format="csr").astype(np.float32)
        upper.sort_indices()
        self._upper = upper
        self._memory, self._options = np.zeros(64, dtype=np.int64), np.zeros(64, dtype=np.int32)
        # Own options, nested dissection, single precision, rows counted from 0 (iparm 1, 2, 28, 35)
        self._options[[0, 1, 27, 34]] = 1, 2, 1, 1
        nothing = np.zeros((1, A.shape[0]), dtype=np.float32)
        arrays = (self._memory, self._options, upper.indptr, upper.indices, upper.data)
        weakref.finalize(self, _call_pardiso, self._library, _RELEASE, arrays, nothing, nothing)
        self._arrays = arrays
        _check(_call_pardiso(self._library, _ANALYSE_AND_FACTORISE, arrays, nothing, nothing))

    def solve(self, columns: NDArray[np.float32]) -> NDArray[np.float32]:
        """Solution for (n, k)."""
        if self._library is None:
            return np.asarray(self._superlu.solve(columns))
        right = np.ascontiguousarray(columns.T)
        result = np.empty_like(right)
        _check(_call_pardiso(self._library, _SOLVE, self._arrays, right, result))
        return np.ascontiguousarray(result.T)


def _call_pardiso(
    library: Any,
    phase: int,
    arrays: tuple[NDArray[Any], ...],
    right: NDArray[np.float32],
    result: NDArray[np.float32],
) -> int:
    """One call; right-hand sides and results as rows, (k, n)."""
    memory, options, indptr, indices, values = arrays
    one, silent, error = ctypes.c_int(1), ctypes.c_int(0), ctypes.c_int(0)
    integer, address = ctypes.POINTER(ctypes.c_int), ctypes.POINTER(None)
    library.pardiso(
        memory.ctypes.data_as(ctypes.POINTER(ctypes.c_int64)),
        ctypes.byref(one),
        ctypes.byref(one),
        ctypes.byref(ctypes.c_int(_POSITIVE_DEFINITE)),
        ctypes.byref(ctypes.c_int(phase)),
        ctypes.byref(ctypes.c_int(right.shape[1])),
        values.ctypes.data_as(address),
        indptr.ctypes.data_as(integer),
        indices.ctypes.data_as(integer),
        ctypes.byref(ctypes.c_int(0)),
        ctypes.byref(ctypes.c_int(right.shape[0])),
        options.ctypes.data_as(integer),
        ctypes.byref(silent),
        right.ctypes.data_as(address),
        result.ctypes.data_as(address),
        ctypes.byref(error),
    )
    return int(error.value)


def _address(array: NDArray[Any]) -> ctypes.c_void_p:
    return ctypes.c_void_p(array.ctypes.data)


def _check(status: int) -> None:
    if status:
        raise RuntimeError(f"the sparse library refused with code {status}")
