"""Steps, helices and open loops of a wire, each as a chain of straight runs and bends.

A loop leaves the line of the wire towards its side, a direction in the section's plane there, and
the wire goes on along the same line after it. Lengths are those of the wire's axis between
corners; a corner's radius takes its share from both legs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.wire_path import Arc, Direction, Straight, bend_radius, bent, in_plane

Array = NDArray[np.float64]

_QUARTER = np.pi / 2


@dataclass(frozen=True)
class Step:
    """Two equal and opposite bends that set the wire off to a parallel line.

    Attributes
    ----------
    offset_mm
        Distance between the two lines, above 0.
    radius_mm
        Radius of both bends.
    side
        Where the wire is set off to.
    length_mm
        Length the step takes along the wire; without it the shortest that bends at most square.
    """

    offset_mm: float
    radius_mm: float
    side: Direction = "height"
    length_mm: float | None = None

    def arcs(self) -> tuple[Arc, ...]:
        """Bend, straight run (if any is left), bend back."""
        angle, run = self._bends()
        axis = _turn_axis(self.side)
        between = Straight(run).arcs() if run > 1e-9 * self.offset_mm else ()
        there = bent(angle, self.radius_mm, axis)
        return (there, *between, bent(-angle, self.radius_mm, axis))

    def _bends(self) -> tuple[float, float]:
        """Angle α and straight run m between the bends, from ``2r sin α + m cos α = length``.

        The second condition is ``2r (1 − cos α) + m sin α = offset``.
        """
        h, r = self.offset_mm, bend_radius(self.radius_mm)
        if not h > 0:
            raise ValueError(f"step of {h:g} mm: give an offset above 0 and the side it goes to")
        if self.length_mm is None:
            return float(np.arccos(max(0.0, 1 - h / (2 * r)))), max(0.0, h - 2 * r)
        length = self.length_mm
        straight = length**2 + h**2 - 4 * r * h  # square of the run between the bends
        if length < 0 or straight < -1e-12 * h**2:
            largest = (length**2 + h**2) / (4 * h)
            raise ValueError(
                f"radius {r:g} mm does not fit a step of {h:g} mm over {length:g} mm: "
                f"the largest that fits is {largest:.3g} mm"
            )
        distance = np.hypot(length, 2 * r - h)
        angle = np.arctan2(length, 2 * r - h) - np.arccos(min(1.0, 2 * r / distance))
        return float(angle), float(np.sqrt(max(straight, 0.0)))


@dataclass(frozen=True)
class Helix:
    """Closed loop: the wire wound round an axis any number of times.

    With ``tan α = pitch/(2π radius)`` the wire lies on the cylinder from the first point, so the
    helix axis leans by α from the section's plane towards the wire; after whole turns the wire
    goes on in its first direction, displaced by turns × pitch along the helix axis, without a
    kink. The section keeps the same face towards the axis, as when wound on a mandrel: against
    a frame carried without any twist it turns by ``2π sin α`` a turn. Pitch 0 is a plane loop
    that runs through itself, the idealisation of beam formulas.

    Attributes
    ----------
    turns
        Number of turns, above 0; need not be whole.
    radius_mm
        Radius of the wire's axis about the helix axis.
    pitch_mm
        Advance a turn along the helix axis; right-handed above 0, left-handed below.
    side
        Where the helix axis lies, in the section's plane at its start.
    """

    turns: float
    radius_mm: float
    pitch_mm: float = 0.0
    side: Direction = "height"

    def arcs(self) -> tuple[Arc, ...]:
        """One arc of curvature ``cos² α/radius`` and twist ``sin α cos α/radius``."""
        if not (self.turns > 0 and self.radius_mm > 0):
            raise ValueError(
                f"{self.turns:g} turns at a radius of {self.radius_mm:g} mm: give both above 0"
            )
        lead = np.arctan2(self.pitch_mm, 2 * np.pi * self.radius_mm)
        axis = np.cos(lead) * _turn_axis(self.side) + np.sin(lead) * np.array([1.0, 0.0, 0.0])
        length = 2 * np.pi * self.radius_mm * self.turns / np.cos(lead)
        return (Arc(float(length), np.cos(lead) / self.radius_mm * axis),)


@dataclass(frozen=True)
class ULoop:
    """Open loop with two legs and a crown; takes width + 2 radius of the wire's line.

    Attributes
    ----------
    height_mm, width_mm
        Height of the legs and width of the crown, between corners.
    radius_mm
        Radius of the four corners, 0 for sharp ones; half the width makes a round crown.
    side
        Where the loop rises to.
    """

    height_mm: float
    width_mm: float
    radius_mm: float
    side: Direction = "height"

    def arcs(self) -> tuple[Arc, ...]:
        """Up, across, down."""
        legs = (self.height_mm, self.width_mm, self.height_mm)
        return _square_loop(legs, (1, -1, -1, 1), self.radius_mm, self.side)


@dataclass(frozen=True)
class LLoop:
    """Open loop whose head points ahead; takes gap + 2 radius of the wire's line.

    Attributes
    ----------
    height_mm
        Height of the loop.
    head_length_mm, head_height_mm
        Length of the head from the first leg, and its height.
    gap_mm
        Distance between the two legs.
    radius_mm
        Radius of the six corners, 0 for sharp ones.
    side
        Where the loop rises to.
    """

    height_mm: float
    head_length_mm: float
    head_height_mm: float
    gap_mm: float
    radius_mm: float
    side: Direction = "height"

    def arcs(self) -> tuple[Arc, ...]:
        """Up, ahead, down, back to the gap, down."""
        legs = (
            self.height_mm,
            self.head_length_mm,
            self.head_height_mm,
            self.head_length_mm - self.gap_mm,
            self.height_mm - self.head_height_mm,
        )
        return _square_loop(legs, (1, -1, -1, -1, 1, 1), self.radius_mm, self.side)


@dataclass(frozen=True)
class TLoop:
    """Open loop with a head to both sides; takes gap + 2 radius of the wire's line.

    Attributes
    ----------
    height_mm
        Height of the loop.
    head_width_mm, head_height_mm
        Width and height of the head.
    gap_mm
        Distance between the two legs.
    radius_mm
        Radius of the eight corners, 0 for sharp ones.
    side
        Where the loop rises to.
    """

    height_mm: float
    head_width_mm: float
    head_height_mm: float
    gap_mm: float
    radius_mm: float
    side: Direction = "height"

    def arcs(self) -> tuple[Arc, ...]:
        """Up, back, up, across, down, back to the gap, down."""
        leg, shoulder = self.height_mm - self.head_height_mm, (self.head_width_mm - self.gap_mm) / 2
        head = (shoulder, self.head_height_mm, self.head_width_mm, self.head_height_mm, shoulder)
        turns = (1, 1, -1, -1, -1, -1, 1, 1)
        return _square_loop((leg, *head, leg), turns, self.radius_mm, self.side)


@dataclass(frozen=True)
class BoxLoop:
    """Closed rectangle: one turn like a helix, with four corners; ends where it starts.

    The plane idealisation runs along its own base twice; real wire passes beside itself.

    Attributes
    ----------
    height_mm, width_mm
        Of the rectangle, whose base is centred on the start.
    radius_mm
        Radius of the four corners, 0 for sharp ones.
    side
        Where the loop rises to.
    """

    height_mm: float
    width_mm: float
    radius_mm: float
    side: Direction = "height"

    def arcs(self) -> tuple[Arc, ...]:
        """Ahead, up, back, down, ahead."""
        reach = bend_radius(self.radius_mm)
        half = Straight(self.width_mm / 2 - reach).arcs() if self.width_mm > 2 * reach else ()
        legs = (self.height_mm, self.width_mm, self.height_mm)
        return (*half, *_square_loop(legs, (1, 1, 1, 1), self.radius_mm, self.side), *half)


def _turn_axis(side: Direction) -> Array:
    """Axis (3,), in section components, about which the wire turns towards a side."""
    width, height = in_plane(side)
    return np.array([0.0, -height, width])


def _square_loop(
    legs: tuple[float, ...], turns: tuple[int, ...], radius: float, side: Direction
) -> tuple[Arc, ...]:
    """Square corners (+1 towards the side the wire then faces) with straight legs between them."""
    radius = bend_radius(radius)
    if min(legs) <= 0:
        raise ValueError(f"loop with legs of {_listed(legs)} mm: give lengths that leave each some")
    if 2 * radius > min(legs) * (1 + 1e-12):
        raise ValueError(
            f"corners of radius {radius:g} mm do not fit leg {int(np.argmin(legs)) + 1} of "
            f"{_listed(legs)} mm: the largest radius that fits is {min(legs) / 2:.3g} mm"
        )
    axis = _turn_axis(side)
    chain = [bent(turns[0] * _QUARTER, radius, axis)]
    for leg, turn in zip(legs, turns[1:], strict=True):
        if leg - 2 * radius > 1e-9 * leg:
            chain += Straight(leg - 2 * radius).arcs()
        chain.append(bent(turn * _QUARTER, radius, axis))
    return tuple(chain)


def _listed(lengths: tuple[float, ...]) -> str:
    return ", ".join(f"{length:g}" for length in lengths)
