"""Coulomb friction of a wire on a bar: the force lies between two values, by the way it slips.

A wire that rests on a bar is held across it by the force N and rubbed along it by T. It slips with
``|T| = μ N`` against the slip, and sticks with ``|T| ≤ μ N``. While the appliance is activated the
wire slips one way, while it works and lets back it slips the other way: the force at one and the
same activation lies between the two. Dry friction with one coefficient; no wear, no vibration by
chewing, which frees the wire at least in part (common experience, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Equilibrium, solve_equilibrium
from fem.attachment import Contact, PointContact
from fem.rigid import rotation

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FrictionBracket:
    """Equilibria of a wire on a bar at one activation.

    Attributes
    ----------
    activating
        Reached by activating: friction against the slip of the activation.
    deactivating
        Reached from beyond, letting back: friction the other way. The same as `activating` where
        the wire sticks.
    frictionless
        Between the two.
    slip_mm
        Slip along the bar since the passive state, in the order above.
    sticks
        Whether friction keeps the wire where it first touched.
    """

    activating: Equilibrium
    deactivating: Equilibrium
    frictionless: Equilibrium
    slip_mm: tuple[float, float, float]
    sticks: bool


def friction_bracket(
    appliance: Appliance, contact: int, bar: Array, coefficient: float, *, steps: int = 4
) -> FrictionBracket:
    """Solve a wire on a bar with friction while activating and while letting back.

    Parameters
    ----------
    appliance
        Wire, units and contacts, without friction.
    contact
        Index of the contact with the bar, held across it (`fem.attachment.bar_contact`).
    bar
        Direction of the bar, (3,).
    coefficient
        Coefficient of friction μ.

    Raises
    ------
    ValueError
        If the coefficient is negative or the contact is none with a bar.
    fem.appliance.EquilibriumError
        If no equilibrium is found.
    """
    along = np.asarray(bar, dtype=float) / np.linalg.norm(bar)
    held = appliance.contacts[contact]
    if coefficient < 0:
        raise ValueError(f"coefficient of friction {coefficient}: must not be negative")
    if not isinstance(held, PointContact) or np.abs(held.directions @ along).max() > 1e-9:
        raise ValueError(
            f"contact {contact} holds the wire along the bar or is no point contact: friction acts "
            "where it slides; use bar_contact with the same bar"
        )

    def solve(replaced: Contact) -> tuple[Equilibrium, float]:
        contacts = list(appliance.contacts)
        contacts[contact] = replaced
        found = solve_equilibrium(replace(appliance, contacts=tuple(contacts)), steps=steps)
        return found, _slip(appliance, found, held, along)

    free, slip = solve(held)
    way = float(np.sign(slip)) or 1.0
    drag = -way * coefficient * along
    activating, slip_in = solve(replace(held, rub=drag))
    if way * slip_in <= 0 < coefficient:
        stuck, _ = solve(_stuck(appliance, held, along))
        return FrictionBracket(stuck, stuck, free, (0.0, 0.0, slip), True)
    deactivating, slip_back = solve(replace(held, rub=-drag))
    return FrictionBracket(activating, deactivating, free, (slip_in, slip_back, slip), False)


def _stuck(appliance: Appliance, contact: PointContact, along: Array) -> PointContact:
    """The contact, held along the bar as well where the passive wire lies."""
    shift = (appliance.passive.points[contact.node] - contact.place) @ along
    return replace(
        contact,
        place=contact.place + shift * along,
        directions=np.concatenate([contact.directions, along[None]]),
        gap=np.append(contact.gap, 0.0),
    )


def _slip(appliance: Appliance, found: Equilibrium, contact: PointContact, along: Array) -> float:
    """Slip of the wire along the bar, against the unit, since the passive state, mm."""
    unit, motion = appliance.units[contact.unit], found.motions[contact.unit]
    arm = found.state.points[contact.node] - unit.point - motion[:3]
    now = rotation(motion[3:]).T @ arm
    before = appliance.passive.points[contact.node] - unit.point
    return float((now - before) @ along)
