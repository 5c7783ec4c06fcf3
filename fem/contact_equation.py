"""Equation of one contact, its derivatives, and the wrench its multipliers give the unit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.attachment import Contact, LimitedContact, PointContact, TurnContact
from fem.rigid import skew

Array = NDArray[np.float64]

_SMOOTHING_N = 1e-6  # friction of a contact that bears less has no direction of its own


@dataclass(frozen=True)
class Touch:
    """Where the node and the unit of a contact are.

    Attributes
    ----------
    point, axes
        Frame of the node, (3,) and (3, 3).
    unit_point
        Point the unit's motion is stated about, (3,).
    unit_shift, unit_turn
        Motion of the unit: shift of that point, (3,), and rotation, (3, 3).
    """

    point: Array
    axes: Array
    unit_point: Array
    unit_shift: Array
    unit_turn: Array


@dataclass(frozen=True)
class ContactEquation:
    """Value of a contact's equation, (k,), and its derivatives.

    Attributes
    ----------
    value
        Zero when met.
    by_node
        By the body-frame twist of the node, (k, 6).
    by_unit
        By the motion of the unit, (k, 6).
    by_multiplier
        By the multipliers, (k, k): zero unless the contact is loose.
    """

    value: Array
    by_node: Array
    by_unit: Array
    by_multiplier: Array


def contact_equation(
    contact: Contact, touch: Touch, tau: float, multiplier: Array
) -> ContactEquation:
    """Equation of a contact at one activation.

    A contact with play meets ``g = side · most`` at a wall; loose, its multiplier is that of the
    centring spring, ``k g + λ = 0``.
    """
    if not isinstance(contact, LimitedContact):
        value, by_node, by_unit = _relative(contact, touch, tau)
        return ContactEquation(value, by_node, by_unit, np.zeros((len(value), len(value))))
    value, by_node, by_unit = _relative(contact.contact, touch, tau)
    if contact.side:
        walled = value - contact.side * contact.most
        return ContactEquation(walled, by_node, by_unit, np.zeros((1, 1)))
    k = contact.spring
    return ContactEquation(k * value + multiplier, k * by_node, k * by_unit, np.eye(1))


def limited_value(contact: LimitedContact, touch: Touch) -> float:
    """How far the wire is from the middle of its play, mm or sine of the turn, engaged."""
    return float(_relative(contact.contact, touch, 1.0)[0][0])


def contact_wrench(contact: Contact, touch: Touch, multiplier: Array) -> tuple[Array, Array]:
    """Wrench on the unit at the touching node, (6,), and its derivative by multipliers, (6, k)."""
    held = contact.contact if isinstance(contact, LimitedContact) else contact
    R_unit = touch.unit_turn
    if isinstance(held, TurnContact):
        normal = skew(touch.axes[:, held.axis]) @ (R_unit @ held.direction)
        basis = np.concatenate([np.zeros(3), -normal])[:, None]
        return basis @ multiplier, basis
    across = R_unit @ held.directions.T
    basis = np.concatenate([-across, np.zeros_like(across)])
    wrench = basis @ multiplier
    if held.rub is not None:
        size = np.sqrt(float(multiplier @ multiplier) + _SMOOTHING_N**2)
        wrench[:3] -= R_unit @ held.rub * size
        basis[:3] -= np.outer(R_unit @ held.rub, multiplier / size)
    return wrench, basis


def _relative(
    contact: PointContact | TurnContact, touch: Touch, tau: float
) -> tuple[Array, Array, Array]:
    """Node relative to the unit along what is held, and its derivatives."""
    R, R_unit = touch.axes, touch.unit_turn
    if isinstance(contact, TurnContact):
        held_axis, direction = R[:, contact.axis], R_unit @ contact.direction
        normal = skew(held_axis) @ direction
        by_node = np.concatenate([np.zeros(3), R.T @ normal])[None]
        by_unit = np.concatenate([np.zeros(3), -normal])[None]
        value = held_axis @ direction - (1 - tau) * contact.gap
        return np.array([value]), by_node, by_unit
    held = contact.directions @ R_unit.T
    arm = touch.point - touch.unit_point - touch.unit_shift
    relative = R_unit.T @ arm - (contact.place - touch.unit_point)
    value = contact.directions @ relative - (1 - tau) * contact.gap
    by_node = np.concatenate([held @ R, np.zeros_like(held)], axis=1)
    by_unit = np.concatenate([-held, held @ skew(arm)], axis=1)
    return value, by_node, by_unit
