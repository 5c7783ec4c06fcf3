"""What a wire is activated with: a tie that leads one node, or a smooth peg it slides over.

A lead measures one distance g of the wire and pushes with a force f against it; the nodes feel
``f ∂g/∂p``, so the force does exactly the work of the distance and a smooth peg pushes across the
wire, never along it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from fem.rod import RodState

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Reading:
    """A lead's distance and its derivatives by the positions of the nodes it touches.

    Attributes
    ----------
    distance_mm
        g.
    nodes
        Nodes touched, (k,).
    gradient
        ∂g/∂p, (k, 3).
    hessian
        ∂²g/∂p∂p, (3k, 3k), 1/mm.
    """

    distance_mm: float
    nodes: NDArray[np.int64]
    gradient: Array
    hessian: Array


class Lead(Protocol):
    """Anything that reads one distance of the wire."""

    def read(self, frames: RodState) -> Reading:
        """Distance and derivatives for the frames of the nodes."""
        ...


@dataclass(frozen=True)
class NodeLead:
    """A tie: one node is led in one direction, free across it and free to turn.

    Attributes
    ----------
    node
        The node.
    direction
        Unit vector, global, (3,).
    """

    node: int
    direction: Array

    def read(self, frames: RodState) -> Reading:
        """Position of the node along the direction."""
        along = np.asarray(self.direction, dtype=float)
        distance = float(frames.points[self.node] @ along)
        return Reading(distance, np.array([self.node]), along[None], np.zeros((3, 3)))


@dataclass(frozen=True)
class PegLead:
    """A smooth peg on a straight rail, over which the wire slides without friction.

    The peg stays at a distance along `reach` and moves along `direction`; the chord of the element
    above it is where it touches. The force read is the component along `direction`; that along
    `reach` follows from the slope. Good to second order in the element length; the wire must
    advance along `reach` over its whole length.

    Attributes
    ----------
    position_mm
        Where the peg is along `reach`.
    reach, direction
        Orthogonal unit vectors, global, (3,).
    """

    position_mm: float
    reach: Array
    direction: Array

    def read(self, frames: RodState) -> Reading:
        """Height of the wire at the peg.

        Raises
        ------
        ValueError
            If the wire ends short of the peg.
        """
        x, z = frames.points @ self.reach, frames.points @ self.direction
        if not x[0] <= self.position_mm <= x.max():
            raise ValueError(
                f"the wire reaches from {x[0]:.4g} to {x.max():.4g} mm and misses the peg at "
                f"{self.position_mm:.4g} mm: give it more length beyond the peg"
            )
        first = min(int(np.argmax(x >= self.position_mm)) or 1, len(x) - 1) - 1
        run, rise = x[first + 1] - x[first], z[first + 1] - z[first]
        t, slope = (self.position_mm - x[first]) / run, rise / run
        share = np.array([1 - t, t])
        across = self.direction - slope * np.asarray(self.reach)
        return Reading(
            float(z[first] + t * rise),
            np.array([first, first + 1]),
            share[:, None] * across,
            self._hessian(share, slope, run),
        )

    def _hessian(self, share: Array, slope: float, run: float) -> Array:
        """Second derivative of ``z_A + (X − x_A)(z_B − z_A)/(x_B − x_A)``.

        With s the shares, ``∂²g/∂x_i∂z_j = −s_i e_j/ℓ`` and ``∂²g/∂x_i∂x_j`` its slope part, where
        ``e = (−1, 1)`` and ℓ is the run.
        """
        ends = np.array([-1.0, 1.0])
        mixed = -np.outer(share, ends) / run
        straight = slope * (np.outer(share, ends) + np.outer(ends, share)) / run
        r, d = np.asarray(self.reach), np.asarray(self.direction)
        return (
            np.kron(straight, np.outer(r, r))
            + np.kron(mixed, np.outer(r, d))
            + np.kron(mixed.T, np.outer(d, r))
        )
