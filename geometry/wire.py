"""Shape of a cantilever wire as bent: through the tube, a bend at its mouth, a run to its end.

The run is a chain of features (`geometry.wire_features`, `geometry.wire_course`), none of them for
a plain cantilever, and a last straight leg. How far the wire is bent at the mouth, about the width
and the height of the tube, and how long the last leg is, follow from where the wire is to end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root

from geometry.wire_path import (
    LARGEST_TURN_RAD,
    Arc,
    Feature,
    Straight,
    SweptWire,
    along_arc,
    sweep,
)

Array = NDArray[np.float64]

SHORTEST_BEND_MM = 0.1  # a smaller bend is made gentler than its radius
_LARGEST_TURN_RAD = 1.0  # of a piece of a wire without loops
_TOLERANCE_MM = 1e-11
_SHORTEST_LEG_MM = 1e-3


@dataclass(frozen=True)
class MouthBend:
    """Bend of a wire where it leaves its tube: the pre-activation bend.

    Attributes
    ----------
    turn_rad
        Turn about the width and the height of the tube, right-handed, (2,).
    radius_mm
        Radius of the wire's axis; larger where the bend would take less than 0.1 mm of wire.
    """

    turn_rad: Array
    radius_mm: float

    @property
    def angle_rad(self) -> float:
        """Angle of the bend."""
        return float(np.hypot(*self.turn_rad))

    @property
    def arc(self) -> Arc:
        """The one arc it is made of."""
        length = max(self.radius_mm * self.angle_rad, SHORTEST_BEND_MM)
        return Arc(length, np.array([0.0, *self.turn_rad]) / length)

    def arcs(self) -> tuple[Arc, ...]:
        """One arc, straight where there is nothing to bend."""
        return (self.arc,)


@dataclass(frozen=True)
class CantileverWire:
    """Passive wire of a cantilever.

    Attributes
    ----------
    features
        What it is bent to, in order: the run in the tube, the bend at the mouth, the features of
        the free run, the last leg, and what goes on straight beyond it, if anything.
    swept
        Nodes and section axes.
    leg
        Which of the features is the last leg.
    """

    features: tuple[Feature, ...]
    swept: SweptWire
    leg: int

    @property
    def points(self) -> Array:
        """Nodes (n + 1, 3), mm, from the cinched end to the free end."""
        return self.swept.points

    @property
    def axes(self) -> Array:
        """Section axes at the nodes, columns along, width, height, (n + 1, 3, 3)."""
        return self.swept.axes

    @property
    def lengths_mm(self) -> Array:
        """Length along the wire of each piece, (n,)."""
        return self.swept.lengths_mm

    @property
    def tip(self) -> Array:
        """Free end, (3,), mm."""
        return self.swept.tip

    @property
    def mouths(self) -> tuple[int, int]:
        """Nodes at the first and the second mouth of the tube."""
        return 0, int(self.swept.feature_nodes[0, 1])

    @property
    def bend(self) -> MouthBend:
        """The bend at the second mouth."""
        bend = self.features[1]
        assert isinstance(bend, MouthBend)
        return bend

    @property
    def last_pieces(self) -> int:
        """Number of pieces of the last leg."""
        first, last = self.swept.feature_nodes[self.leg]
        return int(last - first)

    @property
    def target_node(self) -> int:
        """Node at the end of the last leg."""
        return int(self.swept.feature_nodes[self.leg, 1])


def cantilever_wire(
    mouths: tuple[Array, Array],
    axes: Array,
    target: Array,
    *,
    run: Sequence[Feature] = (),
    bend_radius_mm: float = 1.0,
    extra_length_mm: float = 0.0,
    beyond_mm: float = 0.0,
    pieces: tuple[int, int, int] = (4, 4, 40),
) -> CantileverWire:
    """Wire through a tube, bent at its second mouth so that its run ends at a target.

    Parameters
    ----------
    mouths
        First and second mouth of the tube, (3,) each, mm.
    axes
        Section axes in the tube (3, 3), columns along (first to second mouth), width, height.
    target
        Point the run ends at, (3,), mm.
    run
        Features between the bend and the last leg; none for a straight run.
    bend_radius_mm
        Radius of the wire's axis in the bend.
    extra_length_mm
        Wire beyond the target (negative: short of it).
    beyond_mm
        Straight wire that goes on beyond the last leg, as through a second bracket, cut into as
        many pieces as the tube.
    pieces
        Number of pieces in the tube, the bend and the free run; loops get more where they turn.

    Raises
    ------
    ValueError
        If the target lies so near the mouth, or so far back, that no such bend reaches it, or the
        features of the run leave no length for its last leg.
    """
    start = np.asarray(mouths[1], dtype=float)
    goal = (np.asarray(target, dtype=float) - start) @ axes
    moved, turned = _end_of(run)
    turn, last = _fitted(goal, moved, turned, bend_radius_mm)
    if not last + extra_length_mm > 0:
        raise ValueError(f"the wire's free run is {last + extra_length_mm:.3g} mm long at its end")

    bend = MouthBend(turn, bend_radius_mm)
    base = float(np.linalg.norm(start - mouths[0]))
    leg = Straight(last + extra_length_mm)
    through = (Straight(beyond_mm),) if beyond_mm > 0 else ()
    features: tuple[Feature, ...] = (Straight(base), bend, *run, leg, *through)
    n_tube, n_bend, n_run = pieces
    free = [*run, leg]
    piece = sum(arc.length_mm for feature in free for arc in feature.arcs()) / n_run
    longest = [base / n_tube, bend.arc.length_mm / n_bend, *[piece] * len(free)]
    swept = sweep(
        features,
        np.asarray(mouths[0], dtype=float),
        axes,
        piece_mm=[*longest, beyond_mm / n_tube] if through else longest,
        largest_turn_rad=LARGEST_TURN_RAD if run else _LARGEST_TURN_RAD,
    )
    return CantileverWire(features, swept, 2 + len(run))


def _end_of(run: Sequence[Feature]) -> tuple[Array, Array]:
    """Where a chain of features ends and how it is turned, in the frame it starts with."""
    p, R = np.zeros(3), np.eye(3)
    for feature in run:
        for arc in feature.arcs():
            moved, turned = along_arc(arc, np.array([arc.length_mm]))
            p, R = p + R @ moved[0], R @ turned[0]
    return p, R


def _fitted(goal: Array, moved: Array, turned: Array, radius: float) -> tuple[Array, float]:
    """Turn of the bend (2,) and length of the last leg, for a goal in the tube's axes."""
    along = turned[:, 0]

    def miss(unknown: Array) -> Array:
        arc = MouthBend(unknown[:2], radius).arc
        place, R = along_arc(arc, np.array([arc.length_mm]))
        return np.asarray(place[0] + R[0] @ (moved + unknown[2] * along) - goal)

    if not moved.any() and (plain := _one_bend(goal, radius)) is not None:
        return plain
    solution = root(miss, _guess(goal, moved, along, radius), tol=1e-13)
    if np.abs(miss(solution.x)).max() > _TOLERANCE_MM or not solution.x[2] > _SHORTEST_LEG_MM:
        forward = float(np.linalg.norm(moved))
        raise ValueError(
            f"no bend of radius {radius:g} mm at the tube's mouth brings the wire's end to "
            f"({goal[0]:.2f}, {goal[1]:.2f}, {goal[2]:.2f}) mm along, in width and in height: its "
            f"run takes {forward:.2f} mm before the last leg; shorten the run, or use a smaller "
            "radius or offset"
        )
    return solution.x[:2], float(solution.x[2])


def _one_bend(goal: Array, radius: float) -> tuple[Array, float] | None:
    """Turn and straight run of a plain wire in closed form; None if its bend is made gentler.

    The arc leaves along x and the run leaves the arc on its tangent, so for a goal ahead by x and
    aside by y ``x sin α + (r − y) cos α = r``.
    """
    x, y = goal[0], float(np.hypot(*goal[1:]))
    distance = np.hypot(x, y - radius)
    if x <= 0 or distance <= radius:
        raise ValueError(
            f"the wire's end is {x:.2f} mm ahead and {y:.2f} mm aside of the tube's mouth: "
            f"out of reach of one bend of radius {radius:g} mm; use a smaller radius or offset"
        )
    angle = float(np.arctan2(x, radius - y) - np.arccos(radius / distance))
    if radius * angle < SHORTEST_BEND_MM:
        return None
    return angle / y * np.array([-goal[2], goal[1]]), float(np.sqrt(distance**2 - radius**2))


def _guess(goal: Array, moved: Array, along: Array, radius: float) -> Array:
    """Bend and last leg of a wire whose run is as long and leads as straight to the goal."""
    ahead = float(moved @ along)
    left = ahead**2 - float(moved @ moved) + float(goal @ goal)
    last = max(float(np.sqrt(max(left, 0.0))) - ahead, _SHORTEST_LEG_MM)
    chord = moved + last * along
    size = float(np.linalg.norm(chord) * np.linalg.norm(goal))
    turn = np.cross(chord, goal) / max(size, 1e-12)
    return np.array([*turn[1:], last])
