"""Where a wire touches a unit: held points, held twist, and forces applied from outside.

A contact is an equation between one node of the wire and the unit it touches. Its multipliers
are the contact forces; because each equation depends on their relative position only, what the
wire gives the unit is exactly what the unit gives the wire.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.sites import Tube

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
    rub
        Friction on a sliding wire, per newton of the force that holds it: unit-fixed vector (3,),
        as long as the coefficient of friction and pointing against the wire's slip. None:
        frictionless.
    """

    node: int
    unit: int
    place: Array
    directions: Array
    gap: Array
    rub: Array | None = None


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
        Unit-fixed unit vector, (3,), square to that axis once engaged.
    gap
        Cosine between the two in the passive state: a turn to be closed in steps.
    """

    node: int
    unit: int
    axis: int
    direction: Array
    gap: float = 0.0


@dataclass(frozen=True)
class LimitedContact:
    """A contact with play: free between two walls, held at one when it reaches it.

    Attributes
    ----------
    contact
        What is limited: a point contact of one direction, or a turn contact.
    most
        How far it may go to either side: half the play, mm, or the sine of the turn.
    spring
        Weak spring that centres it while it is loose, N/mm or N·mm (per unit of the sine).
    side
        Wall it lies at: −1, +1, or 0 while loose.

    Raises
    ------
    ValueError
        If the play or the spring is not positive, or the contact limits several directions.
    """

    contact: PointContact | TurnContact
    most: float
    spring: float
    side: int = 0

    def __post_init__(self) -> None:
        if not (self.most > 0 and self.spring > 0):
            raise ValueError(
                f"contact at node {self.node}: play {self.most} and centring spring {self.spring} "
                "must both be positive; without play give the contact itself"
            )
        if isinstance(self.contact, PointContact) and len(self.contact.gap) != 1:
            raise ValueError(
                f"contact at node {self.node} holds {len(self.contact.gap)} directions; give one "
                "contact with play for each"
            )

    @property
    def node(self) -> int:
        """Node of the rod."""
        return self.contact.node

    @property
    def unit(self) -> int:
        """Index of the unit."""
        return self.contact.unit

    def excess(self, value: float, multiplier: float) -> float:
        """How far a solved state breaks the rules of contact; positive: broken.

        Loose: how far it went through a wall, mm or rad. At a wall: how hard the wall pulls,
        N or N·mm, the centring spring not counted.
        """
        if self.side == 0:
            return abs(value) - self.most
        return self.side * multiplier + self.spring * self.most


Contact = PointContact | TurnContact | LimitedContact


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


@dataclass(frozen=True)
class FollowerForce:
    """A force of fixed size on a node that turns with the wire.

    Attributes
    ----------
    node
        Node of the rod.
    force_N
        Force (3,) in the section's axes (along, width, height), N.
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


def bracket_contact(
    unit: int, nodes: tuple[int, int], bracket: Tube, points: Array, axes: Array
) -> tuple[Contact, ...]:
    """Contacts of a bracket that takes a wire which is passive elsewhere: two points, no clamp.

    The wire is held across the bracket at both mouths, slides along it without friction, and is
    kept from rolling at the first. A bracket without play is assumed.

    Parameters
    ----------
    unit
        Index of the unit.
    nodes
        Nodes that come to the first and the second mouth.
    bracket
        Its mouths and axes.
    points, axes
        Nodes (n + 1, 3), mm, and section axes (n + 1, 3, 3) of the passive wire.

    Returns
    -------
    tuple of contacts
        The second mouth, the roll, and last the first mouth.
    """
    across, height = bracket.axes.T[1:], bracket.axes[:, 2]
    first, second = (
        PointContact(node, unit, place, across, across @ (points[node] - place))
        for node, place in zip(nodes, bracket.mouths, strict=True)
    )
    roll = float(axes[nodes[0]][:, 1] @ height)
    return second, TurnContact(nodes[0], unit, 1, height, roll), first


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


def pull_contact(
    unit: int, node: int, place: Array, direction: Array, passive_point: Array
) -> PointContact:
    """One-point contact that transmits a force in one direction only.

    The force keeps its direction in the unit: that of a weight, or of a thread long enough.

    Parameters
    ----------
    direction
        Of the force, (3,).
    """
    along = (np.asarray(direction, dtype=float) / np.linalg.norm(direction))[None]
    return PointContact(node, unit, place, along, along @ (passive_point - place))


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
