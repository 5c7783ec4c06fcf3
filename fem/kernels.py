"""Sparse products and factors for many columns at once: MKL where pypardiso brings it, else scipy.

Products take (n, k) arrays stored row by row, so that one pass through the matrix serves all
columns. A matrix by 3×3 blocks is multiplied by blocks in double precision and by single rows in
single precision: MKL is a third faster that way round in both. Factors take blocks, which makes
their analysis three times as fast and small.
"""

from __future__ import annotations

import ctypes
import os
import sys
import weakref
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from fem.blocks import upper_part

_ZERO_BASED, _ROW_MAJOR, _AS_IT_IS, _GENERAL = 0, 101, 10, 20
_ANALYSE_AND_FACTORISE, _SOLVE, _RELEASE = 12, 33, -1
_POSITIVE_DEFINITE = 2
_REFUSALS = {-2: "out of memory", -4: "not positive definite"}


_BLOCK = 3


class _Description(ctypes.Structure):
    _fields_ = (("type", ctypes.c_int), ("mode", ctypes.c_int), ("diagonal", ctypes.c_int))


def threads() -> int:
    """Threads of the sparse kernels: ``OMP_NUM_THREADS`` where it is set, else all usable cores."""
    # It may be a list, one number for each level of nesting.
    stated = os.environ.get("OMP_NUM_THREADS", "").split(",")[0]
    return int(stated or len(os.sched_getaffinity(0)))


@cache
def mkl() -> Any | None:
    """The library that pypardiso ships, or None without it."""
    if find_spec("pypardiso") is None:
        return None
    beside_python = sorted(Path(sys.prefix, "lib").glob("libmkl_rt.*"))
    if beside_python:
        # Without it pypardiso looks through every folder of the environment.
        os.environ.setdefault("PYPARDISO_MKL_RT", str(beside_python[0]))
    try:
        from pypardiso import PyPardisoSolver
    except ImportError:  # installed, but not where it finds MKL
        return None
    library = PyPardisoSolver().libmkl
    if not hasattr(library, "mkl_sparse_s_mm"):
        return None
    # A mesher in the same process may have set OpenMP to one thread; MKL's own number comes first.
    library.MKL_Set_Num_Threads(threads())
    return library


class Product:
    """``A @ X`` for a sparse matrix and columns of the same precision.

    Parameters
    ----------
    A
        Matrix (m, n) in any sparse form, float32 or float64.
    use_mkl
        Whether MKL may be used where it is there.
    """

    def __init__(self, A: sp.spmatrix, *, use_mkl: bool = True) -> None:
        by_blocks = _block(A) == _BLOCK and A.dtype == np.float64
        self._matrix = A if by_blocks else sp.csr_matrix(A)
        self._library = mkl() if use_mkl and A.nnz else None
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
        self._indptr = A.indptr.astype(np.int32)
        self._indices = A.indices.astype(np.int32, copy=False)
        block = _block(A)
        form = "csr" if block == 1 else "bsr"
        layout = [_ROW_MAJOR] if block > 1 else []
        sizes = [length // block for length in A.shape] + ([block] if block > 1 else [])
        handle = ctypes.c_void_p()
        status = getattr(library, f"mkl_sparse_{self._prefix}_create_{form}")(
            ctypes.byref(handle),
            *(ctypes.c_int(number) for number in (_ZERO_BASED, *layout, *sizes)),
            _address(self._indptr),
            _address(self._indptr[1:]),
            _address(self._indices),
            _address(A.data),
        )
        _check(status)
        weakref.finalize(self, library.mkl_sparse_destroy, handle)  # type: ignore[union-attr]
        return handle

    def __matmul__(self, columns: NDArray[Any]) -> NDArray[Any]:
        """Product with (n, k), as (m, k)."""
        if self._library is None:
            return np.asarray(self._matrix @ columns)
        result = np.empty((self.shape[0], columns.shape[1]), dtype=self._matrix.dtype)
        self._multiply(1.0, columns, 0.0, result)
        return result

    def add_to(
        self, result: NDArray[Any], columns: NDArray[Any], factor: float, kept: float = 1.0
    ) -> None:
        """Replace result (m, k) by ``kept × result + factor × A @ columns``, in one pass.

        Both of the matrix's precision; the result stored row by row.
        """
        if self._library is None:
            result *= kept
            result += factor * (self._matrix @ columns)
        else:
            self._multiply(factor, columns, kept, result)

    def _multiply(
        self, factor: float, columns: NDArray[Any], kept: float, result: NDArray[Any]
    ) -> None:
        columns = np.ascontiguousarray(columns, dtype=self._matrix.dtype)
        width = ctypes.c_int(columns.shape[1])
        status = getattr(self._library, f"mkl_sparse_{self._prefix}_mm")(
            ctypes.c_int(_AS_IT_IS),
            self._number(factor),
            self._handle,
            _Description(_GENERAL, 0, 0),
            ctypes.c_int(_ROW_MAJOR),
            _address(columns),
            width,
            width,
            self._number(kept),
            _address(result),
            width,
        )
        _check(status)


class Factor:
    """Factor of a symmetric positive-definite matrix, in the precision of the matrix.

    Parameters
    ----------
    A
        Matrix (n, n), both triangles stored, float32 or float64; quickest by 3×3 blocks.
    use_mkl
        Whether PARDISO may be used where it is there; else SuperLU.

    Raises
    ------
    RuntimeError
        If the matrix is not positive definite to its precision, or memory does not suffice.
    """

    def __init__(self, A: sp.spmatrix, *, use_mkl: bool = True) -> None:
        self._library = mkl() if use_mkl and A.shape[0] else None
        if self._library is None:
            symmetric = {"SymmetricMode": True}
            self._superlu = splu(
                sp.csc_matrix(A),
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                options=symmetric,
            )
            return
        by_blocks = _block(A) == _BLOCK
        upper = upper_part(A) if by_blocks else sp.triu(A, format="csr")
        upper.sort_indices()
        # Own options, nested dissection, precision, rows counted from 0, size of blocks
        # (iparm 1, 2, 28, 35, 37)
        options = np.zeros(64, dtype=np.int32)
        options[[0, 1, 27, 34, 36]] = 1, 2, A.dtype == np.float32, 1, _BLOCK * by_blocks
        memory = np.zeros(64, dtype=np.int64)
        indices = (upper.indptr.astype(np.int32), upper.indices.astype(np.int32, copy=False))
        self._arrays = (memory, options, *indices, upper.data)
        nothing = np.zeros((1, A.shape[0]), dtype=A.dtype)
        weakref.finalize(
            self, _call_pardiso, self._library, _RELEASE, self._arrays, nothing, nothing
        )
        _check(_call_pardiso(self._library, _ANALYSE_AND_FACTORISE, self._arrays, nothing, nothing))

    def solve(self, columns: NDArray[Any]) -> NDArray[Any]:
        """Solution for (n, k), of the matrix's precision."""
        if self._library is None:
            return np.asarray(self._superlu.solve(columns))
        right = np.ascontiguousarray(columns.T, dtype=self._arrays[-1].dtype)
        result = np.empty_like(right)
        _check(_call_pardiso(self._library, _SOLVE, self._arrays, right, result))
        return np.ascontiguousarray(result.T)


def _call_pardiso(
    library: Any,
    phase: int,
    arrays: tuple[NDArray[Any], ...],
    right: NDArray[Any],
    result: NDArray[Any],
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
        ctypes.byref(ctypes.c_int(len(indptr) - 1)),
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


def _block(A: sp.spmatrix) -> int:
    return int(A.blocksize[0]) if A.format == "bsr" else 1


def _address(array: NDArray[Any]) -> ctypes.c_void_p:
    return ctypes.c_void_p(array.ctypes.data)


def _check(status: int) -> None:
    if status:
        reason = _REFUSALS.get(status, f"code {status}")
        raise RuntimeError(f"the sparse library refused: {reason}")
