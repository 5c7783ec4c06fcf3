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

from fem.appliance import Appliance, Equilibrium, EquilibriumError
from fem.appliance_system import settled, solve_equilibrium
from fem.attachment import PointContact
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
    appliance: Appliance,
    contact: int,
    bar: Array,
    coefficient: float,
    *,
    steps: int = 4,
    free: Equilibrium | None = None,
) -> FrictionBracket:
    """Solve a wire on a bar with friction while activating and while letting back.

    The wire sticks if, held along the bar where it first touched, it pulls less than friction can
    hold. Which way it slips otherwise is taken from the frictionless wire; it is assumed to slip
    one way all along the activation.

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
    steps
        Equal steps from passive to engaged where the wire is engaged anew.
    free
        The frictionless equilibrium, if it is known: with friction it is sought from there first.

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

    frictionless = free or solve_equilibrium(appliance, steps=steps)
    slip = _slip(appliance, frictionless, held, along)
    way = float(np.sign(slip)) or 1.0
    drag = -way * coefficient * along
    if coefficient > 0 and (stuck := _stuck(appliance, contact, along, coefficient, steps)):
        return FrictionBracket(stuck, stuck, frictionless, (0.0, 0.0, slip), True)

    def rubbing(rub: Array) -> tuple[Equilibrium, float]:
        contacts = list(appliance.contacts)
        contacts[contact] = replace(held, rub=rub)
        changed = replace(appliance, contacts=tuple(contacts))
        found = settled(changed, frictionless) or solve_equilibrium(changed, steps=steps)
        return found, _slip(appliance, found, held, along)

    (activating, slip_in), (deactivating, slip_back) = rubbing(drag), rubbing(-drag)
    slips = slip_in, slip_back, slip
    return FrictionBracket(activating, deactivating, frictionless, slips, False)


def _stuck(
    appliance: Appliance, index: int, along: Array, coefficient: float, steps: int
) -> Equilibrium | None:
    """The wire held along the bar where it first touched, if friction can hold it there."""
    contact = appliance.contacts[index]
    assert isinstance(contact, PointContact)
    shift = (appliance.passive.points[contact.node] - contact.place) @ along
    tied = replace(
        contact,
        place=contact.place + shift * along,
        directions=np.concatenate([contact.directions, along[None]]),
        gap=np.append(contact.gap, 0.0),
    )
    contacts = (*appliance.contacts[:index], tied, *appliance.contacts[index + 1 :])
    try:
        found = solve_equilibrium(replace(appliance, contacts=contacts), steps=steps)
    except EquilibriumError:
        return None
    *across, pull = found.multipliers[index]
    return found if abs(pull) <= coefficient * np.linalg.norm(across) else None


def _slip(appliance: Appliance, found: Equilibrium, contact: PointContact, along: Array) -> float:
    """Slip of the wire along the bar, against the unit, since the passive state, mm."""
    unit, motion = appliance.units[contact.unit], found.motions[contact.unit]
    arm = found.state.points[contact.node] - unit.point - motion[:3]
    now = rotation(motion[3:]).T @ arm
    before = appliance.passive.points[contact.node] - unit.point
    return float((now - before) @ along)
