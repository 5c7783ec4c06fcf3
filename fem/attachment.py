"""Where a wire touches a unit: held points, held twist, and forces applied from outside.

A contact is an equation between one node of the wire and the unit it touches. Its multipliers
are the contact forces; because each equation depends on their relative position only, what the
wire gives the unit is exactly what the unit gives the wire.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class PointContact:
    """A node of the wire held at a point of a unit along some directions, free along the rest.

    Attributes
    ----------
    node
        Node of the rod.
    unit
        Index of the unit.
    place
        The point of the unit, before it moves, (3,), mm.
    directions
        Unit-fixed unit vectors along which the wire is held, (k, 3). Three: tied. Two, across a
        bar or a tube: the wire slides along it without friction.
    gap
        Position of the passive wire relative to `place` along `directions`, (k,), mm: the
        activation, closed in steps while the equilibrium is sought.
    """

    node: int
    unit: int
    place: Array
    directions: Array
    gap: Array


@dataclass(frozen=True)
class TurnContact:
    """One section axis of a node kept square to a direction of a unit.

    Attributes
    ----------
    node, unit
        As for `PointContact`.
    axis
        Section axis: 0 along the wire, 1 width, 2 height.
    direction
        Unit-fixed unit vector, (3,), square to that axis in the passive state.
    """

    node: int
    unit: int
    axis: int
    direction: Array


Contact = PointContact | TurnContact


@dataclass(frozen=True)
class DeadForce:
    """A force of fixed size and direction on a node, from outside the appliance.

    Attributes
    ----------
    node
        Node of the rod.
    force_N
        Force (3,), N.
    """

    node: int
    force_N: Array


def two_point_contact(
    unit: int,
    nodes: tuple[int, int],
    places: tuple[Array, Array],
    axes: Array,
    *,
    cinched: bool = True,
) -> tuple[Contact, ...]:
    """Contacts of a tube or bracket: two points a tube length apart, no clamp.

    The wire is held across the tube at both mouths, free to bend between them, and kept from
    rolling at the first. A tube without play is assumed.

    Parameters
    ----------
    unit
        Index of the unit.
    nodes
        Nodes at the first (cinched) and the second mouth.
    places
        The two mouths, (3,) each, mm.
    axes
        Tube axes (3, 3) as columns: along, width, height.
    cinched
        Whether the wire is also held along the tube, at the first mouth.
    """
    along, width, height = axes.T
    across = np.stack([width, height])
    first = np.stack([along, width, height]) if cinched else across
    return (
        PointContact(nodes[0], unit, places[0], first, np.zeros(len(first))),
        PointContact(nodes[1], unit, places[1], across, np.zeros(2)),
        TurnContact(nodes[0], unit, 1, height),
    )


def clamp_contact(unit: int, node: int, place: Array, axes: Array) -> tuple[Contact, ...]:
    """Node held in place and in all its turns: the clamp of textbook cantilevers, no real tube.

    Parameters
    ----------
    axes
        Section axes at the node, (3, 3), as columns.
    """
    along, width, height = axes.T
    return (
        PointContact(node, unit, place, np.stack([along, width, height]), np.zeros(3)),
        TurnContact(node, unit, 1, height),
        TurnContact(node, unit, 0, height),
        TurnContact(node, unit, 0, width),
    )


def tied_contact(unit: int, node: int, place: Array, passive_point: Array) -> PointContact:
    """One-point contact that transmits a force in any direction and no moment."""
    directions = np.eye(3)
    return PointContact(node, unit, place, directions, directions @ (passive_point - place))


def bar_contact(
    unit: int, node: int, place: Array, bar: Array, passive_point: Array
) -> PointContact:
    """One-point contact hooked over a bar: held across it, sliding along it without friction.

    Parameters
    ----------
    bar
        Direction of the bar, (3,).
    """
    along = np.asarray(bar, dtype=float) / np.linalg.norm(bar)
    trial = np.eye(3)[np.argmin(np.abs(along))]
    first = np.cross(along, trial)
    first /= np.linalg.norm(first)
    directions = np.stack([first, np.cross(along, first)])
    return PointContact(node, unit, place, directions, directions @ (passive_point - place))
