"""Load history of a wire with fibre sections: activated, let back, its permanent set measured.

Some motions of some nodes are held, and one lead (`fem.lead`) is taken along by its displacement
or by its force. Each step is implicit: equilibrium is found by Newton's method from the last
state, and only then does the wire's memory move on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from fem.fibre_rod import FibreRod, FibreRodState, element_forces
from fem.lead import Lead, Reading
from fem.rigid import skew
from fem.rod import RodState, assemble

Array = NDArray[np.float64]

_TOLERANCE = 1e-9
_TOLERANCE_MM = 1e-10
_MAX_ITERATIONS = 40
_MAX_CUTS = 8
_LARGEST_TURN_RAD = 0.3


class LoadHistoryError(RuntimeError):
    """No equilibrium at a step."""


@dataclass(frozen=True)
class Bench:
    """How the wire is held and what leads it.

    Attributes
    ----------
    wire
        The rod.
    fixed
        (n + 1, 6) flags: body-frame motions (translation, rotation) of nodes that are held.
    lead
        What activates the wire.
    """

    wire: FibreRod
    fixed: NDArray[np.bool_]
    lead: Lead


@dataclass(frozen=True)
class LoadHistory:
    """Points of a load history, the passive wire first.

    Attributes
    ----------
    displacement_mm
        Of the lead, from the passive wire, (m,).
    force_N
        Of the lead on the wire, (m,).
    state
        Frames and memory at the last point.
    start_mm
        Reading of the lead on the passive wire.
    iterations
        Newton iterations over the whole history.
    """

    displacement_mm: Array
    force_N: Array
    state: FibreRodState
    start_mm: float
    iterations: int = 0


def clamped_at(n_nodes: int, node: int) -> NDArray[np.bool_]:
    """Flags (n_nodes, 6) of a wire clamped at one node."""
    fixed = np.zeros((n_nodes, 6), dtype=bool)
    fixed[node] = True
    return fixed


def begin(bench: Bench, state: FibreRodState) -> LoadHistory:
    """History of one point: nothing displaced, no force."""
    start = bench.lead.read(state.frames).distance_mm
    return LoadHistory(np.zeros(1), np.zeros(1), state, start)


def displace_to(bench: Bench, history: LoadHistory, to_mm: float, steps: int) -> LoadHistory:
    """Take the lead to a displacement in equal steps.

    Raises
    ------
    LoadHistoryError
        If a step finds no equilibrium, though cut into smaller ones.
    """
    for target in np.linspace(history.displacement_mm[-1], to_mm, steps + 1)[1:]:
        history = _advance(bench, history, float(target), by_force=False)
    return history


def load_to(bench: Bench, history: LoadHistory, to_N: float, steps: int) -> LoadHistory:
    """Bring the lead's force to a value in equal steps; zero releases the wire.

    Raises
    ------
    LoadHistoryError
        If a step finds no equilibrium, though cut into smaller ones.
    """
    for target in np.linspace(history.force_N[-1], to_N, steps + 1)[1:]:
        history = _advance(bench, history, float(target), by_force=True)
    return history


def _advance(
    bench: Bench, history: LoadHistory, target: float, *, by_force: bool, cuts: int = 0
) -> LoadHistory:
    """One point more; a step that fails is cut in two and its middle is not recorded."""
    try:
        return _step(bench, history, target, by_force)
    except LoadHistoryError:
        if cuts == _MAX_CUTS:
            raise
    last = (history.force_N if by_force else history.displacement_mm)[-1]
    middle = _advance(bench, history, 0.5 * (last + target), by_force=by_force, cuts=cuts + 1)
    end = _advance(bench, middle, target, by_force=by_force, cuts=cuts + 1)
    keep = len(history.force_N)
    return replace(
        end,
        displacement_mm=np.append(end.displacement_mm[:keep], end.displacement_mm[-1]),
        force_N=np.append(end.force_N[:keep], end.force_N[-1]),
    )


def _step(bench: Bench, history: LoadHistory, target: float, by_force: bool) -> LoadHistory:
    frames, memory = history.state.frames, history.state.memory
    force = target if by_force else float(history.force_N[-1])
    free = np.flatnonzero(~bench.fixed.ravel())
    tolerance = _tolerance_N(bench)
    for iteration in range(1, _MAX_ITERATIONS + 1):
        elements = element_forces(bench.wire, frames, memory)
        internal, K = assemble(elements.forces, elements.tangent)
        try:
            reading = bench.lead.read(frames)
        except ValueError as error:
            raise LoadHistoryError(str(error)) from error
        column, stiffening = _push(reading, frames, force, len(internal))
        residual = (internal - force * column)[free]
        moved = reading.distance_mm - history.start_mm
        gap = 0.0 if by_force else moved - target
        if np.abs(residual).max() <= tolerance and abs(gap) <= _TOLERANCE_MM:
            return LoadHistory(
                np.append(history.displacement_mm, moved),
                np.append(history.force_N, force),
                replace(history.state, frames=frames, memory=elements.memory),
                history.start_mm,
                history.iterations + iteration,
            )
        tangent = (K - stiffening)[free][:, free]
        part, more = _solve(tangent, column[free], residual, gap, by_force)
        twists = np.zeros(len(internal))
        twists[free] = part
        largest = np.abs(twists.reshape(-1, 6)[:, 3:]).max()
        if not np.isfinite(largest):
            break
        share = min(1.0, _LARGEST_TURN_RAD / max(largest, 1e-30))
        frames, force = frames.moved(share * twists.reshape(-1, 6)), force + share * more
    raise LoadHistoryError(
        f"no equilibrium at {'force' if by_force else 'displacement'} {target:.6g} "
        f"{'N' if by_force else 'mm'}: take more steps, or the wire cannot carry it"
    )


def _tolerance_N(bench: Bench) -> float:
    """Residual that counts as none.

    A share of the force that bends the whole wire to about one radian, or what the round-off of
    the positions makes of the stiffest direction, if that is more.
    """
    rod = bench.wire.rod
    length = rod.lengths_mm.sum()
    bending = rod.direct_stiffness[:, 4:].min() / length**2
    stiffest = rod.direct_stiffness[:, :3].max()
    roundoff = np.finfo(float).eps * stiffest * length / rod.lengths_mm.min()
    return float(max(_TOLERANCE * bending, 4 * roundoff))


def _push(
    reading: Reading, frames: RodState, force: float, size: int
) -> tuple[Array, sp.csc_matrix]:
    """Unit push of the lead in the body frames, (size,), and its change with the twists."""
    k, axes = len(reading.nodes), frames.axes[reading.nodes]
    body = np.einsum("kji,kj->ki", axes, reading.gradient)
    dofs = 6 * reading.nodes[:, None] + np.arange(6)
    column = np.zeros(size)
    column[dofs[:, :3]] = body
    change = np.zeros((k, 6, k, 6))
    hessian = reading.hessian.reshape(k, 3, k, 3)
    change[:, :3, :, :3] = np.einsum("kai,kalb,lbj->kilj", axes, hessian, axes)
    for i in range(k):
        change[i, :3, i, 3:] += skew(body[i])
    rows, columns = np.repeat(dofs.ravel(), 6 * k), np.tile(dofs.ravel(), 6 * k)
    matrix = sp.csc_matrix((force * change.ravel(), (rows, columns)), shape=(size, size))
    return column, matrix


def _solve(
    K: sp.csc_matrix, column: Array, residual: Array, gap: float, by_force: bool
) -> tuple[Array, float]:
    """Twists and change of the lead's force; by displacement the two are solved together."""
    try:
        factor = splu(sp.csc_matrix(K))
    except RuntimeError as error:
        raise LoadHistoryError(f"singular tangent: {error}") from error
    twist = -factor.solve(residual)
    if by_force:
        return twist, 0.0
    response = factor.solve(column)
    more = -(gap + column @ twist) / (column @ response)
    return twist + more * response, float(more)
