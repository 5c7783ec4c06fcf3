"""Sparse symmetric positive-definite systems, many right-hand sides, with proof of the answer."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.kernels import Factor, Product, mkl

Array = NDArray[np.float64]

_REFINED_ABOVE = 1e-10
_ROUNDING = 2 * np.finfo(float).eps
# Where rounding alone leaves more than this, a part hangs loose and the answer is noise.
_MOST_ROUNDING = 1e-6


class SolverError(RuntimeError):
    """No method solved the system to the stated residual."""


@dataclass(frozen=True)
class Solution:
    """A solved system and what proves it.

    Attributes
    ----------
    x
        Solution (n, k).
    method
        Name of the method that gave it.
    relative_residual
        Largest ‖K x − f‖ / ‖f‖ over the right-hand sides.
    residual_bound
        What that had to stay below: the tolerance asked, or `rounding` where that is larger.
    seconds
        Wall time of factorisation and solves.
    peak_memory_MB
        Most that the process had used by the end of the solution, whatever for.
    iterations
        Of an iterative method; 0 for a direct one.
    """

    x: Array
    method: str
    relative_residual: float
    residual_bound: float
    seconds: float
    peak_memory_MB: float
    iterations: int = 0


def solve_spd(K: sp.spmatrix, F: Array, *, tolerance: float = 1e-8) -> Solution:
    """Solve ``K X = F`` for a symmetric positive-definite K; one factorisation for all columns.

    Methods are tried in the order of `METHODS`; the first whose true residual stays below
    `tolerance` is taken, refined once where rounding shows in it. On a very soft ligament a stiff
    tooth moves so far that its rigid motion alone, rounded, leaves a larger residual than that;
    then the residual must be one of rounding (see `rounding`).

    Parameters
    ----------
    K
        Matrix (n, n), both triangles stored; quickest by 3×3 blocks.
    F
        Right-hand sides (n, k).

    Raises
    ------
    SolverError
        If every method fails; the message lists each with its reason.
    """
    failures = []
    for name, method in METHODS.items():
        started = time.perf_counter()
        try:
            factor = method(K)
            x = factor.solve(F)
            residual = relative_residual(K, x, F)
            if _REFINED_ABOVE < residual < np.inf:
                x += factor.solve(F - K @ x)
                residual = relative_residual(K, x, F)
        except (ImportError, RuntimeError, ValueError, MemoryError) as error:
            failures.append(f"{name}: {error}")
            continue
        seconds = time.perf_counter() - started
        bound = residual_bound(K, x, F, residual, tolerance)
        if residual <= bound:
            return Solution(x, name, residual, bound, seconds, peak_memory_MB())
        failures.append(f"{name}: relative residual {residual:.1e} above {bound:.0e}")
    raise SolverError("the linear system could not be solved: " + "; ".join(failures))


def peak_memory_MB() -> float:
    """Largest resident set of this process so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def relative_residual(K: sp.spmatrix | Product, x: Array, F: Array) -> float:
    """Largest ‖K x − f‖ / ‖f‖ over the columns; infinite if x is not finite."""
    if not np.isfinite(x).all():
        return np.inf
    scale = np.linalg.norm(F, axis=0)
    scale[scale == 0] = 1.0
    return float(np.max(np.linalg.norm(K @ x - F, axis=0) / scale))


def residual_bound(K: sp.spmatrix, x: Array, F: Array, residual: float, tolerance: float) -> float:
    """What a residual must stay below; `rounding` is worked out only where it matters."""
    if residual <= tolerance or not np.isfinite(residual):
        return tolerance
    return max(tolerance, min(rounding(K, x, F), _MOST_ROUNDING))


def rounding(K: sp.spmatrix, x: Array, F: Array) -> float:
    """Relative residual that the best x in double precision may still have.

    Twice the largest ε ‖|K| |x|‖ / ‖f‖ over the columns, with the unit ε of double precision: the
    size of the residual of an x that is right to the last digit (Oettli & Prager 1964, Numer. Math.
    6:405–409, from memory). A direct solution, refined, is found at a quarter of it.
    """
    size = K.copy()
    size.data = np.abs(size.data)
    scale = np.linalg.norm(F, axis=0)
    scale[scale == 0] = np.inf
    return float(_ROUNDING * np.max(np.linalg.norm(size @ np.abs(x), axis=0) / scale))


def _pardiso_cholesky(K: sp.spmatrix) -> Factor:
    if mkl() is None:
        raise ImportError("pypardiso is not installed")
    return Factor(K)


def _superlu(K: sp.spmatrix) -> Factor:
    return Factor(K, use_mkl=False)


METHODS: dict[str, Callable[[sp.spmatrix], Factor]] = {
    "PARDISO Cholesky": _pardiso_cholesky,
    "SuperLU": _superlu,
}
