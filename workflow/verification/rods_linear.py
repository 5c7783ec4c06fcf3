"""A clamped wire under small loads: its stiffness matrix and the compliance of its tip."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import scipy.sparse as sp
from numpy.typing import ArrayLike, NDArray
from scipy.sparse.linalg import splu

from fem.rod import Rod, RodState, internal_forces, passive_rod
from geometry.wire_path import Feature, SweptWire, sweep

Array = NDArray[np.float64]

STIFF = 1e3  # axial and shear stiffness where a thin wire is meant: their share is taken off
GJ, EI_OUT, EI_IN = 0.8, 1.3, 1.0  # twist; bending about the width axis; about the height axis
LAW = np.array([STIFF, STIFF, STIFF, GJ, EI_OUT, EI_IN])
ROUND_LAW = np.array([STIFF, STIFF, STIFF, GJ, 1.0, 1.0])


def swept(
    features: Iterable[Feature],
    *,
    start: Array | None = None,
    axes: Array | None = None,
    piece_mm: float | Sequence[float] = 0.5,
    turn: float = 0.1,
) -> SweptWire:
    """Wire from the origin along x, width along y and height along z unless said otherwise."""
    return sweep(
        tuple(features),
        np.zeros(3) if start is None else start,
        np.eye(3) if axes is None else axes,
        piece_mm=piece_mm,
        largest_turn_rad=turn,
    )


def assembled(rod: Rod, state: RodState) -> tuple[Array, sp.csc_matrix]:
    """Residual (6 n,) and tangent (6 n, 6 n), in the axes of the nodes."""
    forces, blocks = internal_forces(rod, state)
    nodes = 6 * np.arange(rod.n_elements)[:, None] + np.arange(12)
    size = 6 * (rod.n_elements + 1)
    residual = np.zeros(size)
    np.add.at(residual, nodes, forces)
    rows, columns = np.repeat(nodes, 12, axis=1).ravel(), np.tile(nodes, (1, 12)).ravel()
    return residual, sp.coo_matrix((blocks.ravel(), (rows, columns)), shape=(size, size)).tocsc()


def held_solve(K: sp.csc_matrix, loads: Array) -> Array:
    """Motions under loads (6 n, ...), the first node clamped."""
    moved: Array = splu(K[6:, 6:]).solve(loads[6:])
    return np.concatenate([np.zeros((6, *loads.shape[1:])), moved])


def tip_compliance(wire: SweptWire, law: ArrayLike) -> Array:
    """Motion of the tip per unit force and moment there, first node clamped, (6, 6), about it.

    Parameters
    ----------
    wire
        Path.
    law
        (EA, V₂, V₃, GJ, EI₂, EI₃).
    """
    rod = passive_rod(wire.points, wire.axes, wire.lengths_mm, np.asarray(law, dtype=float))
    _, K = assembled(rod, RodState(wire.points, wire.axes))
    turn = np.kron(np.eye(2), wire.axes[-1])
    loads = np.zeros((K.shape[0], 6))
    loads[-6:] = turn.T
    return np.asarray(turn @ held_solve(K, loads)[-6:])


def thin_compliance(wire: SweptWire, law: ArrayLike = LAW) -> Array:
    """The same of a wire that neither stretches nor shears, where EA = V₂ = V₃ = S.

    A force strains every piece by itself over S, along itself, whichever way the piece runs:
    length/S is taken off. Stiffer wires would need no correction but lose digits.
    """
    C = tip_compliance(wire, law)
    C[:3, :3] -= wire.length_mm / np.asarray(law)[0] * np.eye(3)
    return C
