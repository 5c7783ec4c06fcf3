"""The equations that hold many cantilevers, with their derivatives.

The unknowns of a design are few, because `fem.march` finds the wire between its contacts: place
and turn of the free end, force on the hook, force across the tube at its second mouth, and the
length the wire gained by sliding. The units follow from the forces, ``q = K⁻¹ W``. Twelve
equations stand for the contacts of `fem.appliance`: the hook (3), the second mouth (2), the first
mouth (3, and two moments that no contact takes) and its roll (1), and the slide (1). Where a hold
is missing, along the bar or along the tube of a tied wire, its force is zero instead.

Arrays are (components, designs) and derivatives (components, 12, designs). Forces are weighed
by the wire's compliance, so that all equations read in mm. The derivatives take the units' turns
as small.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.cantilever_arrays import Bodies, Designs, Unknowns
from fem.march import Chain, Marched, apply, cross, march, small_rotation, to_body, turned_load

Array = NDArray[np.float64]

_SIZE = 12


@dataclass(frozen=True)
class Engaged:
    """Wire and units at one iterate.

    Attributes
    ----------
    chains
        The free wire and the wire in the tube, as cut.
    free, tube
        The same, under load.
    motions
        Of the two units, (6, n) each.
    wrenches
        Carried by the free wire and in the tube, about the second mouth, (6, n) each.
    """

    chains: tuple[Chain, Chain]
    free: Marched
    tube: Marched
    motions: tuple[Array, Array]
    wrenches: tuple[Array, Array]

    @property
    def twists(self) -> Array:
        """Of all elements from the free end inward."""
        return np.concatenate([self.free.twists, self.tube.twists])

    @property
    def change(self) -> Array:
        """Largest change of a twist from the iterate before, (n,)."""
        return np.maximum(self.free.change, self.tube.change)


def engage(designs: Designs, at: Unknowns) -> Engaged:
    """Wire and units that go with the unknowns."""
    chains = designs.chains(at.extra_mm)
    outside = len(chains[0].passive)
    wrench = np.concatenate([-at.force_N, -cross(at.tip, at.force_N)])
    free = march(chains[0], at.twists[:outside], (at.tip, at.axes), wrench)
    two_point, one_point = designs.units
    motions = (_moved(two_point, at.tip, -at.force_N), _moved(one_point, at.tip, at.force_N))
    mouth, push = free.points[-1], _push(designs, motions[0], at.across_N)
    inside = wrench + np.concatenate([push, cross(mouth, push)])
    tube = march(chains[1], at.twists[outside:], (mouth, free.axes[-1]), inside)
    return Engaged(chains, free, tube, motions, (wrench, inside))


def equations(designs: Designs, at: Unknowns, wire: Engaged, tau: Array) -> tuple[Array, Array]:
    """Values (12, n), mm, and derivatives (12, 12, n) at an activation (n,)."""
    change = _Changes.of(designs, at, wire)
    parts = (
        _hook(designs, at, wire, change, tau),
        _second_mouth(designs, wire, change),
        _first_mouth(designs, wire, change),
        _free_turns(designs, wire, change),
        _slide(designs, at, wire, change),
    )
    values, rows = zip(*parts, strict=True)
    return np.concatenate(values), np.concatenate(rows)


@dataclass(frozen=True)
class _Changes:
    """Derivatives by the unknowns, (components, 12, n)."""

    tip: Array
    force: Array
    motions: tuple[Array, Array]
    mouth: Array
    end: Array
    end_turn: Array
    inside: Array
    extra: Array

    @classmethod
    def of(cls, designs: Designs, at: Unknowns, wire: Engaged) -> _Changes:
        """All that follows from the twelve unknowns."""
        units = np.eye(_SIZE)[:, :, None] * np.ones(at.tip.shape[-1])
        tip, turn, force, across, extra = np.split(units, [3, 6, 9, 11])
        x, F = at.tip[:, None], at.force_N[:, None]
        moment = cross(x, force) + cross(tip, F)
        load = np.concatenate([-force, -moment])
        outer = np.concatenate([tip + cross(x, turn), turn])
        middle = _carried(outer, load, wire.free, wire.wrenches[0])
        middle += wire.free.response[:, 6:] * extra
        motions = tuple(
            apply(unit.compliance, sign * _about(unit, force, moment))
            for sign, unit in zip((-1, 1), designs.units, strict=True)
        )
        mouth = _node(middle, wire.free.points[-1])
        push = _push(designs, wire.motions[0], at.across_N)[:, None]
        spread = cross(motions[0][3:], push) + _push(designs, wire.motions[0], across)
        about = cross(wire.free.points[-1][:, None], spread) + cross(mouth, push)
        inside = load + np.concatenate([spread, about])
        inner = _carried(middle, inside, wire.tube, wire.wrenches[1])
        end = _node(inner, wire.tube.points[-1])
        return cls(tip, force, (motions[0], motions[1]), mouth, end, inner[3:], inside, extra)


def _carried(start: Array, load: Array, chain: Marched, wrench: Array) -> Array:
    """Twist of a chain's end."""
    felt = load + turned_load(start, wrench)
    return start + np.einsum("ijn,jkn->ikn", chain.response[:, :6], felt)


def _node(twist: Array, x: Array) -> Array:
    """Displacement of the node at x."""
    return twist[:3] + cross(twist[3:], x[:, None])


def _moved(unit: Bodies, x: Array, force: Array) -> Array:
    """Motion of a unit under a force at x."""
    return apply(unit.compliance, np.concatenate([force, cross(x - unit.point, force)]))


def _about(unit: Bodies, force: Array, moment: Array) -> Array:
    """Wrench about the unit's point instead of the origin."""
    return np.concatenate([force, moment - cross(unit.point[:, None], force)])


def _push(designs: Designs, motion: Array, across: Array) -> Array:
    """Force of the second mouth on the wire; columns allowed."""
    return apply(small_rotation(motion[3:]), apply(designs.tube_axes[:, 1:], across))


def _arm(unit: Bodies, motion: Array, x: Array) -> Array:
    return x - unit.point - motion[:3]


def _arm_change(change: Array, motion: Array, arm: Array) -> Array:
    """Change of an arm as seen by the moving unit, in axes of space."""
    return change - motion[:3] + cross(arm[:, None], motion[3:])


def _dot(a: Array, b: Array) -> Array:
    """Scalar products as one row: vector by vector, or vector by columns."""
    return np.einsum("in,in->n" if b.ndim == 2 else "in,ikn->kn", a, b)[None]


def _hook(
    designs: Designs, at: Unknowns, wire: Engaged, change: _Changes, tau: Array
) -> tuple[Array, Array]:
    unit, motion, turned = designs.units[1], wire.motions[1], change.motions[1]
    R = small_rotation(motion[3:])
    arm = _arm(unit, motion, at.tip)
    place = to_body(R, arm) - (designs.hook - unit.point)
    values = apply(designs.held, place) - (1 - tau) * designs.gap
    rows = apply(designs.held, to_body(R, _arm_change(change.tip, turned, arm)))
    bar = apply(R, designs.held[2])
    along = _dot(bar, change.force) + _dot(cross(bar, at.force_N), turned[3:])
    soft = designs.softness_mm_per_N
    values[2] = np.where(designs.tied, values[2], (soft * _dot(bar, at.force_N))[0])
    rows[2] = np.where(designs.tied, rows[2], (soft * along)[0])
    return values, rows


def _second_mouth(designs: Designs, wire: Engaged, change: _Changes) -> tuple[Array, Array]:
    unit, motion = designs.units[0], wire.motions[0]
    R = small_rotation(motion[3:])
    arm = _arm(unit, motion, wire.free.points[-1])
    across = designs.tube_axes[:, 1:]
    values = to_body(across, to_body(R, arm) + unit.point)
    moved = _arm_change(change.mouth, change.motions[0], arm)
    return values, to_body(across, to_body(R, moved))


def _first_mouth(designs: Designs, wire: Engaged, change: _Changes) -> tuple[Array, Array]:
    unit, motion, turned = designs.units[0], wire.motions[0], change.motions[0]
    R = small_rotation(motion[3:])
    arm = _arm(unit, motion, wire.tube.points[-1])
    values = to_body(designs.tube_axes, to_body(R, arm) - (designs.mouth - unit.point))
    moved = _arm_change(change.end, turned, arm)
    rows = to_body(designs.tube_axes, to_body(R, moved))
    along, force = apply(R, designs.tube_axes[:, 0]), wire.wrenches[1][:3]
    drag = _dot(along, change.inside[:3]) + _dot(cross(along, force), turned[3:])
    soft = designs.softness_mm_per_N
    values[0] = np.where(designs.tied, (soft * _dot(along, force))[0], values[0])
    rows[0] = np.where(designs.tied, (soft * drag)[0], rows[0])
    return values, rows


def _free_turns(designs: Designs, wire: Engaged, change: _Changes) -> tuple[Array, Array]:
    """Roll held by the tube; no moment about the two other axes."""
    turned = change.motions[0][3:]
    height = apply(small_rotation(wire.motions[0][3:]), designs.tube_axes[:, 2])
    width, x = wire.tube.axes[-1][:, 1], wire.tube.points[-1]
    force, moment = wire.wrenches[1][:3], moment_at(wire.wrenches[1], x)
    dM = (
        change.inside[3:] - cross(x[:, None], change.inside[:3]) - cross(change.end, force[:, None])
    )
    reach, soft = designs.run_mm, designs.softness_mm_per_N / designs.run_mm
    normal = cross(width, height)
    values = (
        reach * _dot(width, height),
        soft * _dot(moment, width),
        soft * _dot(moment, height),
    )
    rows = (
        reach * _dot(normal, change.end_turn - turned),
        soft * (_dot(width, dM) + _dot(cross(width, moment), change.end_turn)),
        soft * (_dot(height, dM) + _dot(cross(height, moment), turned)),
    )
    return np.concatenate(values), np.concatenate(rows)


def _slide(designs: Designs, at: Unknowns, wire: Engaged, change: _Changes) -> tuple[Array, Array]:
    """The wire's first node stays where it was cut in the tube; a cinched wire gains no length."""
    along, arm = designs.tube_axes[:, 0], designs.mouth - designs.units[0].point
    motion, turned = wire.motions[0], change.motions[0]
    moved = motion[:3] + cross(motion[3:], arm)
    slip = _dot(along, wire.tube.points[-1] - designs.mouth - moved)
    row = _dot(along, change.end - turned[:3] - cross(turned[3:], arm[:, None]))
    return (
        np.where(designs.tied, slip, at.extra_mm[None]),
        np.where(designs.tied, row, change.extra),
    )


def moment_at(wrench: Array, x: Array) -> Array:
    """Moment about x of wrenches (6, n) stated about the origin."""
    return wrench[3:] - cross(x, wrench[:3])
