"""Pure bending of a wire's section, no axial force: loading, unloading, reloading, release.

The curvature (or the moment) is led along a path; at every point of it the axial strain is found
at which the axial force vanishes. A law that differs in tension and compression shifts the neutral
axis, which this finds; so does a residual stress after yielding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.fibre import FibreResponse, FibreSection

Array = NDArray[np.float64]

_TOLERANCE = 1e-10
_MAX_ITERATIONS = 60
_SMALLEST_SHARE = 1e-3


class BendingError(RuntimeError):
    """No strain carries the wanted moment."""


@dataclass(frozen=True)
class BendingHistory:
    """Points of a bending history, the virgin section first.

    Attributes
    ----------
    axial_strain
        ε₀ at each point, (m,).
    curvature_per_mm
        κ₂, κ₃, (m, 2).
    moment_Nmm
        M₂, M₃, (m, 2).
    state
        Memory of the fibres at the last point, (f, k).
    """

    axial_strain: Array
    curvature_per_mm: Array
    moment_Nmm: Array
    state: Array


def virgin(section: FibreSection) -> BendingHistory:
    """History of a section that was never bent: one point, all zero."""
    return BendingHistory(np.zeros(1), np.zeros((1, 2)), np.zeros((1, 2)), section.initial_state())


def bend_to(
    section: FibreSection, curvature_per_mm: Array, history: BendingHistory, *, steps: int = 20
) -> BendingHistory:
    """Go on to a curvature (2,) in equal steps with no axial force.

    Raises
    ------
    BendingError
        If no axial strain frees the section of axial force.
    """
    path = _path(history.curvature_per_mm[-1], curvature_per_mm, steps)
    for curvature in path:
        start = np.array([history.axial_strain[-1], *curvature])
        history = _extended(section, history, start, np.zeros(1))
    return history


def load_to(
    section: FibreSection, moment_Nmm: Array, history: BendingHistory, *, steps: int = 20
) -> BendingHistory:
    """Go on to a moment (2,) in equal steps with no axial force.

    Raises
    ------
    BendingError
        If the section cannot carry the moment.
    """
    path = _path(history.moment_Nmm[-1], moment_Nmm, steps)
    for moment in path:
        start = np.array([history.axial_strain[-1], *history.curvature_per_mm[-1]])
        history = _extended(section, history, start, np.array([0.0, *moment]))
    return history


def residual_curvature_per_mm(
    section: FibreSection, history: BendingHistory, *, steps: int = 20
) -> Array:
    """Curvature (2,) left after the moment is taken away."""
    return load_to(section, np.zeros(2), history, steps=steps).curvature_per_mm[-1]


def _path(start: Array, end: Array, steps: int) -> Array:
    if steps < 1:
        raise ValueError(f"steps = {steps}: must be at least 1")
    share = np.arange(1, steps + 1)[:, None] / steps
    return start + share * (np.asarray(end, dtype=float) - start)


def _extended(
    section: FibreSection, history: BendingHistory, strain: Array, wanted: Array
) -> BendingHistory:
    """One more point, at which the first ``len(wanted)`` resultants are as wanted."""
    strain, answer = _solve(section, history.state, strain, wanted)
    return BendingHistory(
        np.append(history.axial_strain, strain[0]),
        np.vstack([history.curvature_per_mm, strain[1:]]),
        np.vstack([history.moment_Nmm, answer.resultants[1:]]),
        answer.state,
    )


def _solve(
    section: FibreSection, state: Array, strain: Array, wanted: Array
) -> tuple[Array, FibreResponse]:
    """Newton's method for the first strains, halving a step that does not come nearer.

    A law whose stress rises with strain makes the residual the gradient of a convex energy, so
    the slope along a step always passes zero and the halving ends.
    """
    free = len(wanted)
    tolerance = _TOLERANCE * _resultants_at_reference_strain(section)[:free]
    answer = section.response(strain[0], strain[1:], state)
    for _ in range(_MAX_ITERATIONS):
        residual = answer.resultants[:free] - wanted
        if np.all(np.abs(residual) <= tolerance):
            return strain, answer
        step = np.zeros(3)
        try:
            step[:free] = -np.linalg.solve(answer.tangent[:free, :free], residual)
        except np.linalg.LinAlgError:
            break
        steepness, share = abs(step[:free] @ residual), 1.0
        while share > _SMALLEST_SHARE:
            trial = strain + share * step
            answer = section.response(trial[0], trial[1:], state)
            if abs(step[:free] @ (answer.resultants[:free] - wanted)) <= 0.9 * steepness:
                break
            share /= 2
        strain = trial
    raise BendingError(
        f"no strain gives the resultants {wanted} (N, N·mm): the moment may exceed what the "
        "section carries"
    )


def _resultants_at_reference_strain(section: FibreSection) -> Array:
    """Size of N, M₂, M₃ when the outermost fibre is strained by 0.001."""
    lever = np.abs(section.fibres.lever)
    stress = 1e-3 * section.law.initial_modulus_MPa
    return stress * (section.fibres.area_mm2 @ lever**2) / lever.max(axis=0)
