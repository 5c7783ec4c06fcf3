"""Teeth of a unit joined by a wire that runs straight from bracket to bracket.

The brackets hold the wire in all six directions (no play, no sliding) and move with their teeth;
between them it bends, twists and stretches as a straight beam with shear, for small motions. The
unit is taken hold of at one bracket or at a place on the wire between two. Not valid where the
wire slides or plays in its slots, which lets teeth move more on their own.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fem.material import Elastic
from fem.rod import RodState, internal_forces, passive_rod
from fem.section import Section
from fem.unit import ToothSupport, UnitSupport, held_at

Array = NDArray[np.float64]


@dataclass(frozen=True)
class JoiningWire:
    """A wire through the brackets of a unit.

    Attributes
    ----------
    brackets
        Where it is held, one place a tooth in the order along the arch, (n, 3), mm.
    upright
        Direction of the section's height, (3,); need not be square to the wire.
    section, material
        Section and alloy.
    """

    brackets: Array
    upright: Array
    section: Section
    material: Elastic


def join_by_wire(teeth: tuple[ToothSupport, ...], wire: JoiningWire, hook: Array) -> UnitSupport:
    """Support of teeth that a wire joins, as felt at a bracket or on the wire.

    Parameters
    ----------
    teeth
        In the order of the brackets.
    wire
        The wire.
    hook
        Where the appliance takes hold, (3,), mm: at a bracket, or on the wire between two.

    Raises
    ------
    ValueError
        If there are not as many brackets as teeth, or the hook lies off the wire.
    """
    if len(teeth) != len(wire.brackets):
        raise ValueError(f"{len(teeth)} teeth but {len(wire.brackets)} brackets: give one each")
    points, place = _with_hook(wire.brackets, hook)
    size = 6 * len(points)
    joint = np.zeros((size, size))
    for first in range(len(points) - 1):
        ends = slice(6 * first, 6 * first + 12)
        joint[ends, ends] += _span(points[first], points[first + 1], wire)
    held = [k for k in range(len(points)) if k != place or len(points) == len(teeth)]
    motions = np.eye(size).reshape(len(points), 6, size)
    maps = tuple(
        tooth.motion_from(points[k]) @ motions[k] for tooth, k in zip(teeth, held, strict=True)
    )
    return held_at(teeth, maps, joint, motions[place], points[place])


def _with_hook(brackets: Array, hook: Array, tolerance_mm: float = 1e-6) -> tuple[Array, int]:
    """Brackets with the hook among them where it is none of them, and the hook's number."""
    apart = np.linalg.norm(brackets - hook, axis=1)
    if apart.min() < tolerance_mm:
        return brackets, int(apart.argmin())
    for k, (first, second) in enumerate(pairwise(brackets)):
        along = (second - first) / np.linalg.norm(second - first)
        reach = (hook - first) @ along
        off = np.linalg.norm(hook - first - reach * along)
        if off < tolerance_mm and 0 < reach < np.linalg.norm(second - first):
            return np.insert(brackets, k + 1, hook, axis=0), k + 1
    raise ValueError(
        f"the hook at {np.round(hook, 2)} mm lies on no span of the joining wire; put it at a "
        "bracket or between two neighbouring ones"
    )


def _span(start: Array, end: Array, wire: JoiningWire) -> Array:
    """Stiffness (12, 12) of one straight span for motions of its ends in patient axes."""
    length = float(np.linalg.norm(end - start))
    along = (end - start) / length
    width = np.cross(wire.upright, along)
    width /= np.linalg.norm(width)
    axes = np.column_stack([along, width, np.cross(along, width)])
    frames = np.stack([axes, axes])
    ends = np.stack([start, end])
    rod = passive_rod(ends, frames, np.array([length]), wire.section.stiffness(wire.material))
    _, tangent = internal_forces(rod, RodState(ends, frames))
    turn = np.kron(np.eye(4), axes)
    return np.asarray(turn @ tangent[0] @ turn.T)
