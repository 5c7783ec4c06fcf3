"""An appliance: a wire, the units it touches and the contacts between them, and its equilibrium."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.attachment import Contact, DeadForce, FollowerForce
from fem.rigid import shift_wrench
from fem.rod import Rod, RodState

Array = NDArray[np.float64]


class EquilibriumError(RuntimeError):
    """No equilibrium found; says how far the activation came."""


@dataclass(frozen=True)
class Unit:
    """A body the wire touches: one tooth or several joined.

    Attributes
    ----------
    name
        Name used in messages.
    point
        Point the support is stated about, (3,), mm.
    stiffness
        6×6 support about `point` (N/mm, N, N·mm), or None for an immovable unit.
    """

    name: str
    point: Array
    stiffness: Array | None


@dataclass(frozen=True)
class Appliance:
    """A wire in its passive shape, the units, and the contacts between them.

    Attributes
    ----------
    rod
        Elements and section law.
    passive
        Frames of the nodes in the passive shape.
    units
        The units, in the order contacts refer to them.
    contacts
        At least enough to hold the wire.
    forces
        Dead and follower forces on nodes; scaled by τ like the activation.
    """

    rod: Rod
    passive: RodState
    units: tuple[Unit, ...]
    contacts: tuple[Contact, ...]
    forces: tuple[DeadForce | FollowerForce, ...] = ()


@dataclass(frozen=True)
class ContactLoad:
    """What one contact gives its unit.

    Attributes
    ----------
    unit
        Index of the unit.
    point
        Where the wire touches, (3,), mm.
    wrench
        Force (N) and moment (N·mm) on the unit about `point`, (6,).
    """

    unit: int
    point: Array
    wrench: Array


@dataclass(frozen=True)
class Equilibrium:
    """A solved appliance.

    Attributes
    ----------
    state
        Frames of the nodes.
    motions
        Motion of each unit at its point, (n_units, 6), mm and rad.
    loads
        One entry a contact, in the order of the contacts.
    multipliers
        Contact multipliers, one array a contact.
    residual_N
        Largest out-of-balance force at any node or unit (moments over 1 mm), N.
    iterations
        Newton iterations in all steps.
    """

    state: RodState
    motions: Array
    loads: tuple[ContactLoad, ...]
    multipliers: tuple[Array, ...]
    residual_N: float
    iterations: int

    def wrench_on(self, unit: int, point: Array) -> Array:
        """Sum of the contact loads on a unit about a fixed point, (6,)."""
        loads = [shift_wrench(c.wrench, c.point, point) for c in self.loads if c.unit == unit]
        return np.sum(loads, axis=0) if loads else np.zeros(6)
