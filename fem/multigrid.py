"""Conjugate gradients with two exact parts: vertices and the soft layer.

Quadratic elements of stiff bodies joined by a thin soft layer. All right-hand sides are carried
together; the preconditioner is one symmetric cycle in single precision,

    smoothing on all nodes → layer → vertices → layer → smoothing on all nodes,

where "layer" solves exactly for the nodes inside the layer with all others held, and "vertices" for
displacements linear in each element, with the matrix ``Pᵀ K P`` (Galerkin; P is 1 at vertices and
½, ½ at the middles of edges). The layer's own part is needed since linear elements lock there when
it is nearly incompressible. Faces that the layer shares with stiff bodies are left to "vertices",
which knows them well enough unless the layer's bulk stiffness nears that of the bodies. Then both
parts become one: linear displacements, but quadratic in the layer up to its faces. Its factor
takes twice as long, so it is kept for layers that need it, which the largest eigenvalue of
``D⁻¹ K`` shows. Smoothing is a Chebyshev iteration of degree three on the upper eleven
twelfths of the spectrum of ``D⁻¹ K``, D the 3×3 diagonal blocks. The answer is proved by the true
residual, in double precision.

Sources: Chebyshev smoothing Adams et al. 2003, J. Comput. Phys. 188:593–610; multigrid between
orders of the elements Heys et al. 2005, J. Comput. Phys. 204:520–532; the update of the direction
for a preconditioner that is symmetric only to rounding, Golub & Ye 1999, SIAM J. Sci. Comput.
21:1305–1320 (all from memory). Not meant for bodies that are themselves nearly incompressible: the
vertices' part locks there and the count of iterations grows until the direct method takes over.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.linalg import eigvalsh_tridiagonal

from fem.blocks import diagonal_blocks, part
from fem.kernels import Factor, Product
from fem.solver import Solution, peak_memory_MB, relative_residual, residual_bound, solve_spd
from fem.space import QuadraticSpace, dof_nodes, node_dofs

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Ints = NDArray[np.int64]

NAME = "conjugate gradients with p-multigrid"

# Of the tolerance, for the residual by recursion: keeps compliances within 1e-8 of the exact ones.
_RECURSION = 0.5
DIRECT_BELOW = 20_000
MOST_ITERATIONS = 60
_STALLED_AFTER = 15

_DEGREE = 3
_SPAN = 12.0
_LANCZOS_STEPS = 20
_MARGIN = 1.1

# Largest eigenvalue of D⁻¹ K: some 3 while every element is compressible, 3 to 5 where the layer
# has Poisson's ratio 0.499, 5 to 8 at 0.4999 (measured).
_LOCKED_ABOVE = 4.0


@dataclass(frozen=True)
class Levels:
    """What the preconditioner knows of the mesh, for the unknowns alone.

    Attributes
    ----------
    space
    nodes
        The free nodes, rising.
    soft, stiff
        Marks of the nodes of the layer's elements and of those of all others.
    """

    space: QuadraticSpace
    nodes: Ints
    soft: NDArray[np.bool_]
    stiff: NDArray[np.bool_]

    @classmethod
    def on(cls, space: QuadraticSpace, free: Ints, layer: NDArray[np.bool_]) -> Levels:
        """Find the levels of a model.

        Parameters
        ----------
        space
        free
            Degrees of freedom that are unknown, rising; all three of a node or none.
        layer
            Which elements make up the thin layer, (m,).

        Raises
        ------
        ValueError
            If some but not all directions of a node are free.
        """
        soft = _marked(space.elements[layer], space.node_count)
        stiff = _marked(space.elements[~layer], space.node_count)
        return cls(space, dof_nodes(free), soft, stiff)

    @property
    def inside(self) -> Ints:
        """Places among the free nodes of those that belong to the layer's elements only, rising."""
        return np.flatnonzero((self.soft & ~self.stiff)[self.nodes])

    def from_vertices(self, *, layer: bool) -> sp.csr_matrix:
        """Displacements of the free nodes from those of the free vertices, (nodes, kept).

        Parameters
        ----------
        layer
            Whether all nodes of the layer, its faces included, are kept besides the vertices.
        """
        kept = np.arange(self.space.node_count) < len(self.space.points)
        return _prolongation(self.space, self.nodes, kept | self.soft if layer else kept)


def solve_layered(
    K: sp.bsr_matrix,
    F: Array,
    levels: Levels,
    *,
    tolerance: float = 1e-8,
    most_iterations: int = MOST_ITERATIONS,
    direct_below: int = DIRECT_BELOW,
    use_mkl: bool = True,
) -> Solution:
    """Solve ``K X = F`` by multigrid, directly where that is faster or multigrid fails.

    Parameters
    ----------
    K
        Matrix of the unknowns (n, n) by 3×3 blocks, both triangles stored.
    F
        Right-hand sides (n, k).
    levels
        See `Levels`.
    tolerance
        Largest ‖K x − f‖ / ‖f‖, or what rounding lets it be (see `fem.solver.solve_spd`).
    most_iterations
        After so many the direct method takes over.
    direct_below
        Systems smaller than this are solved directly at once.
    use_mkl
        Whether MKL may be used where it is there.

    Returns
    -------
    Solution
        `method` names what gave the answer and, if multigrid was given up, why.

    Raises
    ------
    fem.solver.SolverError
        If the direct methods fail as well.
    """
    if K.shape[0] < direct_below:
        return solve_spd(K, F, tolerance=tolerance)
    started = time.perf_counter()
    iterations = 0
    try:
        cycle, product = Cycle(K, levels, use_mkl=use_mkl), Product(K, use_mkl=use_mkl)
        asked = _RECURSION * tolerance
        x, iterations = conjugate_gradients(product, cycle, F, asked, most_iterations)
        residual = relative_residual(product, x, F)
        reason = f"relative residual {residual:.1e} after {iterations} iterations"
        bound = residual_bound(K, x, F, residual, tolerance)
        if residual <= bound:
            seconds = time.perf_counter() - started
            return Solution(x, NAME, residual, bound, seconds, peak_memory_MB(), iterations)
    except (RuntimeError, ValueError, MemoryError, np.linalg.LinAlgError) as error:
        reason = str(error)
    direct = solve_spd(K, F, tolerance=tolerance)
    return replace(
        direct,
        method=f"{direct.method}, since multigrid failed ({reason})",
        seconds=time.perf_counter() - started,
        iterations=iterations,
    )


class Cycle:
    """The preconditioner: an approximate inverse, symmetric and positive definite.

    Parameters
    ----------
    K, levels, use_mkl
        As for `solve_layered`.

    Raises
    ------
    RuntimeError
        If a part cannot be factorised.
    numpy.linalg.LinAlgError
        If a diagonal block is singular.
    """

    def __init__(self, K: sp.bsr_matrix, levels: Levels, *, use_mkl: bool = True) -> None:
        self._matrix = Product(K.astype(np.float32), use_mkl=use_mkl)
        self._inverse_blocks = Product(_inverse_diagonal(K), use_mkl=use_mkl)
        largest = self._largest_eigenvalue()
        self._upper = _MARGIN * largest
        locked = largest > _LOCKED_ABOVE

        nodal = levels.from_vertices(layer=locked)
        prolongation = _by_blocks(nodal)
        coarse = sp.bsr_matrix(prolongation.T @ (K @ prolongation)).astype(np.float32)
        self._coarse = Factor(coarse, use_mkl=use_mkl)
        self._prolong = Product(nodal.astype(np.float32), use_mkl=use_mkl)
        self._restrict = Product(nodal.T.astype(np.float32), use_mkl=use_mkl)

        inside = levels.inside
        self._inside = node_dofs(inside)
        self._columns: Product | None = None
        if len(inside) and not locked:
            columns = part(K, None, inside).astype(np.float32)
            self._layer = Factor(part(columns, inside, None), use_mkl=use_mkl)
            self._columns = Product(columns, use_mkl=use_mkl)

    def __call__(self, residual: Array) -> Single:
        """Approximate solution for residuals (n, k)."""
        left = residual.astype(np.float32)
        x = self._smoothed(left)
        self._matrix.add_to(left, x, -1.0)
        self._solve_layer(x, left)
        forces = _each_direction(self._restrict, left)
        step = _each_direction(self._prolong, self._coarse.solve(forces))
        x += step
        self._matrix.add_to(left, step, -1.0)
        self._solve_layer(x, left)
        x += self._smoothed(left)
        return x

    def _solve_layer(self, x: Single, left: Single) -> None:
        """Add the layer's exact answer to x and take its forces from what is left."""
        if self._columns is None:
            return
        step = self._layer.solve(left[self._inside])
        x[self._inside] += step
        self._columns.add_to(left, step, -1.0)

    def _smoothed(self, right: Single) -> Single:
        """Chebyshev iteration from zero; a fixed polynomial in D⁻¹ K, hence symmetric."""
        lower = self._upper / _SPAN
        middle, half = (self._upper + lower) / 2, (self._upper - lower) / 2
        ratio = half / middle
        left = right.copy()
        step = self._inverse_blocks @ left
        step *= np.float32(1 / middle)
        x = step.copy()
        for _ in range(_DEGREE - 1):
            self._matrix.add_to(left, step, -1.0)
            following = 1 / (2 * middle / half - ratio)
            self._inverse_blocks.add_to(step, left, 2 * following / half, kept=following * ratio)
            ratio = following
            x += step
        return x

    def _largest_eigenvalue(self) -> float:
        """Of D⁻¹ K, from below, by Lanczos' method from a fixed random start."""
        start = np.random.default_rng(0).standard_normal((self._matrix.shape[0], 1))
        left, before, size = start.astype(np.float32), np.float32(0), 0.0
        diagonal, beside = [], []
        for _ in range(_LANCZOS_STEPS):
            image = self._inverse_blocks @ left
            size = np.sqrt(np.vdot(left, image))
            beside.append(size)
            current, image = left / size, image / size
            left = self._matrix @ image - size * before
            diagonal.append(np.vdot(image, left))
            left -= diagonal[-1] * current
            before = current
        return float(eigvalsh_tridiagonal(diagonal, beside[1:])[-1])


def _marked(nodes: Ints, size: int) -> NDArray[np.bool_]:
    marks = np.zeros(size, dtype=bool)
    marks[nodes] = True
    return marks


def _prolongation(space: QuadraticSpace, free: Ints, kept: NDArray[np.bool_]) -> sp.csr_matrix:
    """Displacements of free nodes from those of the kept ones; others lie amid an edge's ends."""
    amid = np.flatnonzero(~kept)
    rows = np.concatenate([np.flatnonzero(kept), np.repeat(amid, 2)])
    ends = space.edges[amid - len(space.points)].ravel()
    columns = np.concatenate([np.flatnonzero(kept), ends])
    weights = np.concatenate([np.ones(kept.sum()), np.full(len(ends), 0.5)])
    whole = sp.csr_matrix((weights, (rows, columns)), shape=(len(kept), len(kept)))
    return sp.csr_matrix(whole[free][:, free[kept[free]]])


def _by_blocks(nodal: sp.csr_matrix) -> sp.bsr_matrix:
    """The same numbers for all three directions of the nodes."""
    blocks = nodal.data[:, None, None] * np.eye(3)
    rows, columns = nodal.shape
    return sp.bsr_matrix((blocks, nodal.indices, nodal.indptr), shape=(3 * rows, 3 * columns))


def _each_direction(nodal: Product, columns: Single) -> Single:
    """Product of a matrix of nodes with displacements or forces, (3n, k) to (3m, k)."""
    k = columns.shape[1]
    return (nodal @ columns.reshape(-1, 3 * k)).reshape(-1, k)


def _inverse_diagonal(K: sp.bsr_matrix) -> sp.csr_matrix:
    inverse = np.linalg.inv(diagonal_blocks(K)).astype(np.float32)
    nodes = np.arange(len(inverse) + 1)
    return sp.bsr_matrix((inverse, nodes[:-1], nodes), shape=K.shape).tocsr()


def conjugate_gradients(
    K: Product, precondition: Cycle, F: Array, tolerance: float, most_iterations: int
) -> tuple[Array, int]:
    """Preconditioned conjugate gradients on all columns at once, from zero.

    Parameters
    ----------
    K
        In double precision.
    precondition
    F
        Right-hand sides (n, k).
    tolerance
        Largest ‖r‖ / ‖f‖ of any column, by the recursion.
    most_iterations

    Returns
    -------
    tuple
        Solutions (n, k) and the number of iterations.

    Raises
    ------
    RuntimeError
        If the residual stalls, the limit of iterations is passed or the matrix shows itself to
        be not positive definite.
    """
    scale = np.linalg.norm(F, axis=0)
    scale[scale == 0] = 1.0
    x, r = np.zeros_like(F), np.array(F, dtype=np.float64, order="C") / scale
    z = precondition(r).astype(np.float64)
    p, rz = z.copy(), _dots(r, z)
    best, best_at = np.inf, 0
    for iteration in range(1, most_iterations + 1):
        image = K @ p
        curvature = _dots(p, image)
        if not (np.isfinite(curvature).all() and (curvature >= 0).all()):
            raise RuntimeError(f"matrix not positive definite, seen in iteration {iteration}")
        alpha = _share(rz, curvature)
        x += alpha * p
        image *= alpha
        r -= image
        residual = float(np.sqrt(_dots(r, r).max()))
        if residual <= tolerance:
            return x * scale, iteration
        if residual < 0.5 * best:
            best, best_at = residual, iteration
        elif iteration - best_at >= _STALLED_AFTER:
            raise RuntimeError(
                f"residual stalled at {residual:.1e} of the load, iteration {iteration}"
            )
        z = precondition(r).astype(np.float64)
        # z · (r − r_old): exact symmetry of the preconditioner is then not needed.
        beta = _share(-_dots(z, image), rz)
        rz = _dots(r, z)
        p *= beta
        p += z
    raise RuntimeError(
        f"relative residual {residual:.1e} above {tolerance:.0e} after {most_iterations} iterations"
    )


def _dots(a: Array, b: Array) -> Array:
    return np.asarray(np.einsum("ik,ik->k", a, b))


def _share(part: Array, whole: Array) -> Array:
    """Quotient, zero for a column that is solved already."""
    return np.divide(part, whole, out=np.zeros_like(part), where=whole > 0)
