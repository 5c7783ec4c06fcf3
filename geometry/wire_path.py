"""Centre line of a passive wire, put together from arcs that are swept one after another.

Every arc has a constant curvature vector ``k`` in the section frame (twist, then bending about
the width and about the height axis, rad/mm), so that it is carried by a screw motion about an
axis fixed in space, in closed form:

    ``R(s) = R₀ exp(s k×)``,
    ``p(s) = p₀ + R₀ [s (n·e) n + sin(κs)/κ (e − (n·e) n) + (1 − cos κs)/κ n × e]``

with ``κ = |k|``, ``n = k/κ`` and ``e`` the direction along the wire. A straight run (κ = 0), an arc
of a circle (``n·e = 0``) and a helix are the same formula. The section turns with the arc it lies
on: the path adds no twist to a bend, and what a helix adds is stated there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Direction = str | Sequence[float]

SHARPEST_RADIUS_MM = 1e-3
LARGEST_TURN_RAD = 0.25
_SNAP = 0.01  # of a piece
_ALONG = np.array([1.0, 0.0, 0.0])
_NAMED = {"width": (1.0, 0.0), "height": (0.0, 1.0), "-width": (-1.0, 0.0), "-height": (0.0, -1.0)}


@dataclass(frozen=True)
class Arc:
    """Stretch of wire of constant curvature and twist.

    Attributes
    ----------
    length_mm
        Length along the wire.
    curvature_per_mm
        Twist and bending about the section's width and height axes, (3,), rad/mm.
    """

    length_mm: float
    curvature_per_mm: Array

    @property
    def turn_rad(self) -> float:
        """Angle the section turns through from end to end."""
        return self.length_mm * float(np.linalg.norm(self.curvature_per_mm))


class Feature(Protocol):
    """Something a wire is bent to: a chain of arcs in the section frame it starts with."""

    def arcs(self) -> tuple[Arc, ...]:
        """Arcs of the feature, from its start to its end."""
        ...


@dataclass(frozen=True)
class Straight:
    """Straight run of a length in mm, above zero."""

    length_mm: float

    def arcs(self) -> tuple[Arc, ...]:
        """One arc without curvature."""
        if not self.length_mm > 0:
            raise ValueError(
                f"straight run of {self.length_mm:g} mm: give a length above 0, or leave it out"
            )
        return (Arc(self.length_mm, np.zeros(3)),)


@dataclass(frozen=True)
class Bend:
    """Bend in a plane, as a plier makes it; what an appliance is bent to before activation too.

    Attributes
    ----------
    angle_rad
        Angle, right-handed about `axis`; below zero the other way.
    radius_mm
        Radius of the wire's axis. 0 is a sharp corner: bent at 0.001 mm, for comparison with
        formulas of thin polylines; real wire is bent at about its own size or more.
    axis
        What the wire turns about, in the section's plane: ``"width"``, ``"height"``, either with
        a minus sign, or components along (width, height).
    """

    angle_rad: float
    radius_mm: float
    axis: Direction = "height"

    def arcs(self) -> tuple[Arc, ...]:
        """One arc of a circle, or none for no angle."""
        about = np.array([0.0, *in_plane(self.axis)])
        return () if self.angle_rad == 0 else (bent(self.angle_rad, self.radius_mm, about),)


@dataclass(frozen=True)
class Twist:
    """Straight run twisted about its own axis, evenly, right-handed.

    Attributes
    ----------
    angle_rad
        Angle between the sections at its ends.
    length_mm
        Length it is spread over.
    """

    angle_rad: float
    length_mm: float

    def arcs(self) -> tuple[Arc, ...]:
        """One arc with twist only."""
        (run,) = Straight(self.length_mm).arcs()
        return (Arc(run.length_mm, self.angle_rad / run.length_mm * _ALONG),)


@dataclass(frozen=True)
class Course:
    """Feature given by its arcs."""

    chain: tuple[Arc, ...]

    def arcs(self) -> tuple[Arc, ...]:
        """The arcs it was given."""
        return self.chain


@dataclass(frozen=True)
class SweptWire:
    """A passive wire cut into pieces of constant curvature.

    Attributes
    ----------
    points
        Nodes (n + 1, 3), mm.
    axes
        Section axes at the nodes, columns along, width, height, (n + 1, 3, 3).
    lengths_mm
        Length of each piece along the wire, (n,): of the arc, not of its chord.
    curvature_per_mm
        Twist and bending about the width and height axes of each piece, (n, 3), rad/mm.
    feature_nodes
        Node where each feature starts and where it ends, (n_features, 2).
    """

    points: Array
    axes: Array
    lengths_mm: Array
    curvature_per_mm: Array
    feature_nodes: Ints

    @property
    def length_mm(self) -> float:
        """Length of the wire."""
        return float(self.lengths_mm.sum())

    @property
    def arc_mm(self) -> Array:
        """Length along the wire from its start to each node, (n + 1,), mm."""
        return np.concatenate([[0.0], np.cumsum(self.lengths_mm)])

    @property
    def tip(self) -> Array:
        """Last node, (3,), mm."""
        return np.asarray(self.points[-1])


def sweep(
    features: Sequence[Feature],
    start: Array,
    axes: Array,
    *,
    piece_mm: float | Sequence[float] = 0.5,
    largest_turn_rad: float = LARGEST_TURN_RAD,
) -> SweptWire:
    """Nodes and section axes of a wire bent to a chain of features.

    Parameters
    ----------
    features
        From the start of the wire to its end.
    start
        First node, (3,), mm.
    axes
        Section axes there, right-handed columns along, width, height, (3, 3).
    piece_mm
        Longest piece, for the whole wire or for each feature.
    largest_turn_rad
        Most that one piece may turn.

    Raises
    ------
    ValueError
        If the axes are not a right-handed triad, a feature cannot be bent (the message names it),
        there is nothing to sweep, or the pieces asked for do not fit the features.
    """
    p, R = np.asarray(start, dtype=float), right_handed(axes)
    longest = _longest_pieces(piece_mm, len(features))
    points, frames, lengths, curvatures, ends = [p[None]], [R[None]], [], [], [0]
    for number, feature in enumerate(features):
        for arc in _named_arcs(feature, number):
            n = _pieces(arc, longest[number], largest_turn_rad)
            moved, turned = along_arc(arc, np.linspace(0.0, arc.length_mm, n + 1)[1:])
            points.append(p + moved @ R.T)
            frames.append(R @ turned)
            p, R = points[-1][-1], frames[-1][-1]
            lengths.append(np.full(n, arc.length_mm / n))
            curvatures.append(np.tile(arc.curvature_per_mm, (n, 1)))
        ends.append(sum(map(len, lengths)))
    if not lengths:
        raise ValueError("a wire without length: give at least one straight run or bend")
    return SweptWire(
        points=np.concatenate(points),
        axes=np.concatenate(frames),
        lengths_mm=np.concatenate(lengths),
        curvature_per_mm=np.concatenate(curvatures),
        feature_nodes=np.column_stack([ends[:-1], ends[1:]]),
    )


def with_nodes(wire: SweptWire, arcs_mm: Sequence[float]) -> tuple[SweptWire, list[int]]:
    """The same wire with a node at each of some lengths along it, and the numbers of those nodes.

    Where a node lies nearer than a hundredth of its piece, it serves.
    """
    for arc_mm in arcs_mm:
        wire = _with_node(wire, arc_mm)
    return wire, [int(np.abs(wire.arc_mm - arc_mm).argmin()) for arc_mm in arcs_mm]


def _with_node(wire: SweptWire, arc_mm: float) -> SweptWire:
    ends = wire.arc_mm
    piece = int(np.clip(np.searchsorted(ends, arc_mm, side="right") - 1, 0, len(ends) - 2))
    length = float(wire.lengths_mm[piece])
    first = arc_mm - float(ends[piece])
    if not _SNAP * length < first < (1 - _SNAP) * length:
        return wire
    arc, R = Arc(length, wire.curvature_per_mm[piece]), wire.axes[piece]
    moved, turned = along_arc(arc, np.array([first]))
    after = piece + 1
    lengths = np.insert(wire.lengths_mm, after, length - first)
    lengths[piece] = first
    nodes = wire.feature_nodes
    return SweptWire(
        points=np.insert(wire.points, after, wire.points[piece] + R @ moved[0], axis=0),
        axes=np.insert(wire.axes, after, R @ turned[0], axis=0),
        lengths_mm=lengths,
        curvature_per_mm=np.insert(wire.curvature_per_mm, after, arc.curvature_per_mm, axis=0),
        feature_nodes=nodes + (nodes > piece),
    )


def along_arc(arc: Arc, s: Array) -> tuple[Array, Array]:
    """Places (k, 3) and turns (k, 3, 3) at lengths s along an arc, in the frame it starts with."""
    k = arc.curvature_per_mm
    kappa = float(np.linalg.norm(k))
    n = k / kappa if kappa > 0 else _ALONG
    angle, s = kappa * s[:, None], s[:, None]
    straight = (n @ _ALONG) * n
    forward = s * np.sinc(angle / np.pi)
    inward = 0.5 * s * angle * np.sinc(angle / (2 * np.pi)) ** 2
    moved = s * straight + forward * (_ALONG - straight) + inward * np.cross(n, _ALONG)
    return moved, Rotation.from_rotvec(angle * n).as_matrix()


def bent(angle_rad: float, radius_mm: float, about: Array) -> Arc:
    """Arc of a circle about a unit vector in section components, (3,); sharp at radius 0."""
    radius = bend_radius(radius_mm)
    return Arc(radius * abs(angle_rad), np.sign(angle_rad) / radius * about)


def bend_radius(radius_mm: float) -> float:
    """Radius a corner is bent at: the one given, or the sharpest for 0."""
    if not radius_mm >= 0:
        raise ValueError(f"bend of radius {radius_mm:g} mm: give 0 (sharp) or more")
    return max(radius_mm, SHARPEST_RADIUS_MM)


def in_plane(direction: Direction) -> Array:
    """Unit vector (width, height) of a direction in the section's plane."""
    if isinstance(direction, str):
        if direction not in _NAMED:
            raise ValueError(f"direction {direction!r}: give one of {', '.join(_NAMED)}")
        return np.array(_NAMED[direction])
    vector = np.asarray(direction, dtype=float)
    length = float(np.linalg.norm(vector))
    if vector.shape != (2,) or not length > 0:
        raise ValueError(
            f"direction {direction}: give components along (width, height), not both 0"
        )
    return vector / length


def section_axes(along: Array, height: Array) -> Array:
    """Section axes (3, 3) of a wire that runs along a direction, height as near as can be to one.

    Raises
    ------
    ValueError
        If the two directions are parallel.
    """
    e = np.asarray(along, dtype=float) / np.linalg.norm(along)
    width = np.cross(np.asarray(height, dtype=float), e)
    size = float(np.linalg.norm(width))
    if not size > 1e-9 * float(np.linalg.norm(height)):
        raise ValueError("the section's height lies along the wire: give a direction across it")
    width /= size
    return np.column_stack([e, width, np.cross(e, width)])


def right_handed(axes: Array) -> Array:
    """Section axes (3, 3), checked to be a right-handed orthonormal triad."""
    R = np.asarray(axes, dtype=float)
    if R.shape != (3, 3) or np.abs(R.T @ R - np.eye(3)).max() > 1e-9 or np.linalg.det(R) < 0:
        raise ValueError(
            "section axes must be three orthonormal right-handed columns: along, width, height"
        )
    return R


def _named_arcs(feature: Feature, number: int) -> tuple[Arc, ...]:
    try:
        return feature.arcs()
    except ValueError as error:
        raise ValueError(f"feature {number} ({type(feature).__name__}): {error}") from error


def _longest_pieces(piece_mm: float | Sequence[float], n: int) -> Array:
    each = np.atleast_1d(np.asarray(piece_mm, dtype=float))
    if not np.all(each > 0) or len(each) not in (1, n):
        raise ValueError(f"piece_mm {piece_mm}: give one length above 0, or one for each feature")
    return np.broadcast_to(each, (n,)) if len(each) == 1 else each


def _pieces(arc: Arc, longest_mm: float, largest_turn_rad: float) -> int:
    """Fewest equal pieces within both limits; a hair over a limit makes no further piece."""
    needed = max(arc.length_mm / longest_mm, arc.turn_rad / largest_turn_rad)
    return max(1, int(np.ceil(needed * (1 - 1e-12))))
