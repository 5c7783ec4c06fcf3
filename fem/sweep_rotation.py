"""A wire as a 3D solid far from its passive shape, by Newton's method.

In steps of the load, or at once from a start that is near enough, such as the shape of the rod.

Finite rotation, small strain: see `fem.sweep_solid` for the law and where it ends. Meant for
showing that the rod's large deflections are right, on a few cases; the rod is many times
quicker. No instability is looked for: past a limit load prescribe the displacement.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.solver import SolverError
from fem.sweep_solid import (
    Hold,
    WireSolid,
    displacement_gradient,
    held_solve,
    restricted,
    support,
)

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
# Displacements, forces of the constraints, residual, iterations
_Found = tuple[Array, Array, float, int]

_TOLERANCE = 1e-8
_MAX_NEWTON = 15
_SMALLEST_STEP = 1e-3


@dataclass(frozen=True)
class LargeBending:
    """A solid wire in equilibrium.

    Attributes
    ----------
    displacements
        Of the nodes, (3 n,), mm.
    tip_mm
        Mean displacement of the last section, (3,).
    force_N
        Force on it, (3,).
    residual
        Largest out-of-balance force at a node over the largest force of a load or support at one.
    largest_strain
        Largest component of Green's strain: to be judged against the few percent of the law.
    iterations
        Newton iterations in all steps.
    """

    displacements: Array
    tip_mm: Array
    force_N: Array
    residual: float
    largest_strain: float
    iterations: int


def bend_by_force(
    solid: WireSolid, force_N: Array, *, hold: Hold = "mean", steps: int = 5
) -> LargeBending:
    """Load the last section with a force of fixed direction, spread evenly over it.

    Parameters
    ----------
    solid
        The wire.
    force_N
        Force (3,).
    hold
        As for `fem.sweep_solid.tip_response`.
    steps
        Equal steps of the load; one that fails is halved.

    Raises
    ------
    RuntimeError
        If there is no equilibrium with steps down to 1/1000; says how far it came.
    """
    load = solid.last[:3].T @ np.asarray(force_N, dtype=float)
    return _follow(solid, hold, load, np.zeros((0, solid.unknowns)), np.zeros(0), steps)


def bend_to(
    solid: WireSolid,
    displacement_mm: float,
    direction: Array,
    *,
    hold: Hold = "mean",
    steps: int = 5,
) -> LargeBending:
    """Move the last section, in the mean, by a distance along a unit vector; across it is free.

    Raises
    ------
    RuntimeError
        As `bend_by_force`.
    """
    along = np.asarray(direction, dtype=float)
    return bend_across(solid, displacement_mm * along, along[None], hold=hold, steps=steps)


def bend_across(
    solid: WireSolid,
    displacement_mm: Array,
    directions: Array,
    *,
    hold: Hold = "mean",
    steps: int = 5,
    start: Array | None = None,
) -> LargeBending:
    """Move the last section, in the mean, by a vector along some directions; free in the others.

    Parameters
    ----------
    displacement_mm
        (3,); only its components along the directions count.
    directions
        Orthonormal rows (k, 3).
    start
        Displacements (3 n,) near the equilibrium wanted, from where it is sought at once; the
        steps from rest are taken where that fails.

    Raises
    ------
    RuntimeError
        As `bend_by_force`.
    """
    moved, by = directions @ solid.last[:3], directions @ np.asarray(displacement_mm, dtype=float)
    return _follow(solid, hold, np.zeros(solid.unknowns), moved, by, steps, start)


def _follow(
    solid: WireSolid,
    hold: Hold,
    load: Array,
    moved: Array,
    by: Array,
    steps: int,
    start: Array | None = None,
) -> LargeBending:
    free, held = support(solid, hold)
    C = np.concatenate([held, moved[:, free]])
    target = np.concatenate([np.zeros(len(held)), by])

    def newton(u: Array, share: float) -> _Found | None:
        return _newton(solid, u, free, C, share * load[free], share * target)

    found = None
    if start is not None:
        u = np.zeros(solid.unknowns)
        u[free] = start[free]
        found = newton(u, 1.0)
    u, forces, residual, iterations = found or _in_steps(newton, solid.unknowns, steps)
    strain = _largest_strain(solid, u)
    pull = load + moved.T @ forces[len(held) :]
    force = pull.reshape(-1, 3).sum(axis=0)
    return LargeBending(u, solid.last[:3] @ u, force, residual, strain, iterations)


def _in_steps(newton: Callable[[Array, float], _Found | None], unknowns: int, steps: int) -> _Found:
    """From rest to the whole load, by equilibria at shares of it."""
    found: _Found = np.zeros(unknowns), np.zeros(0), 0.0, 0
    reached, step = 0.0, 1.0 / steps
    while reached < 1.0:
        share = min(1.0, reached + step)
        ahead = newton(found[0], share)
        if ahead is None:
            step /= 2
            if step < _SMALLEST_STEP:
                raise RuntimeError(
                    f"the solid wire found no equilibrium beyond {100 * reached:.1f} % of its "
                    "load; reduce it, or use more layers along the wire"
                )
            continue
        reached, found = share, (*ahead[:3], found[3] + ahead[3])
    return found


def _newton(
    solid: WireSolid, u: Array, free: Ints, C: Array, load: Array, target: Array
) -> _Found | None:
    """The equilibrium next to displacements u; None if it is not found."""
    u, forces = u.copy(), np.zeros(len(C))
    for count in range(_MAX_NEWTON + 1):
        inner = solid.forces(u)
        outer = load + C.T @ forces
        supports = np.delete(inner, free)  # of a fully held section
        scale = np.abs(np.concatenate([outer, supports])).max()
        residual = float(np.abs(inner[free] - outer).max() / scale) if scale > 0 else np.inf
        if not np.isfinite(inner).all():
            return None
        missed = target - C @ u[free]
        if residual < _TOLERANCE and np.abs(missed).max(initial=0.0) < _TOLERANCE:
            return u, forces, residual, count
        try:
            right = (load - inner[free])[:, None]
            K = restricted(solid.tangent(u), free)
            du, new = held_solve(K, C, right, missed[:, None])
        except (SolverError, np.linalg.LinAlgError):
            return None
        u[free] += du[:, 0]
        forces = new[:, 0]
    return None


def _largest_strain(solid: WireSolid, u: Array) -> float:
    H = displacement_gradient(u, solid.nodes, solid.gradients)
    transposed = np.swapaxes(H, -1, -2)
    return float(np.abs(0.5 * (H + transposed + transposed @ H)).max())
