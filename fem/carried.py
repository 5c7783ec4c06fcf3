"""An appliance whose units have moved: everything fixed to a unit carried along with it.

The wire is the same wire. Its passive shape goes with the unit that holds it at two points, so its
contacts with the other unit are as far from closed as the units have left them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Unit
from fem.attachment import Contact, LimitedContact, TurnContact
from fem.rigid import rotate_stiffness, se3_exp
from fem.rod import RodState

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Pose:
    """Where a rigid body has come to: a point x of it at first is at ``R x + p`` now.

    Attributes
    ----------
    turn
        Rotation R, (3, 3).
    shift
        Translation p, (3,), mm.
    """

    turn: Array
    shift: Array

    @classmethod
    def start(cls) -> Pose:
        """Where it was at first."""
        return cls(np.eye(3), np.zeros(3))

    def points(self, points: Array) -> Array:
        """Where points (..., 3) of the body are now, mm."""
        return np.asarray(points @ self.turn.T + self.shift)

    def vectors(self, vectors: Array) -> Array:
        """Where directions (..., 3) of the body point now."""
        return np.asarray(vectors @ self.turn.T)

    def moved(self, twist: Array) -> Pose:
        """Pose after a finite motion along a twist (6,) about the origin: a screw motion."""
        R, p = se3_exp(twist)
        return Pose(R @ self.turn, R @ self.shift + p)


def carried(appliance: Appliance, poses: Sequence[Pose], wire_with: int) -> Appliance:
    """The appliance with its units at new poses, each unloaded there.

    Dead and follower forces stay on their nodes.

    Parameters
    ----------
    appliance
        As it was at first.
    poses
        Of each unit.
    wire_with
        Index of the unit that carries the passive wire.

    Raises
    ------
    ValueError
        If the wire has play or friction: where it then lies depends on the way it came.
    """
    wire = poses[wire_with]
    passive = RodState(
        wire.points(appliance.passive.points), np.asarray(wire.turn @ appliance.passive.axes)
    )
    return replace(
        appliance,
        passive=passive,
        units=tuple(map(_unit, appliance.units, poses)),
        contacts=tuple(
            _contact(contact, poses[contact.unit], passive) for contact in appliance.contacts
        ),
    )


def _unit(unit: Unit, pose: Pose) -> Unit:
    K = None if unit.stiffness is None else rotate_stiffness(unit.stiffness, pose.turn)
    return replace(unit, point=pose.points(unit.point), stiffness=K)


def _contact(contact: Contact, pose: Pose, passive: RodState) -> Contact:
    if isinstance(contact, LimitedContact) or getattr(contact, "rub", None) is not None:
        raise ValueError("a contact with play or friction cannot be carried along with its unit")
    if isinstance(contact, TurnContact):
        direction = pose.vectors(contact.direction)
        gap = float(passive.axes[contact.node][:, contact.axis] @ direction)
        return replace(contact, direction=direction, gap=gap)
    place, directions = pose.points(contact.place), pose.vectors(contact.directions)
    gap = directions @ (passive.points[contact.node] - place)
    return replace(contact, place=place, directions=directions, gap=gap)
