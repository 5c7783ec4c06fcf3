"""Shape of a cantilever wire as bent: through the tube, one bend at its mouth, a straight run."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

Array = NDArray[np.float64]

_SHORTEST_BEND_MM = 1e-3


@dataclass(frozen=True)
class WirePath:
    """A wire cut into pieces, each an arc or straight.

    Attributes
    ----------
    points
        Nodes (n + 1, 3), mm, from the cinched end to the free end.
    axes
        Section axes at the nodes, columns along, width, height, (n + 1, 3, 3).
    lengths_mm
        Arc length of each piece, (n,).
    mouths
        Nodes at the first and the second mouth of the tube.
    bend_rad
        Angle of the bend at the second mouth.
    """

    points: Array
    axes: Array
    lengths_mm: Array
    mouths: tuple[int, int]
    bend_rad: float

    @property
    def tip(self) -> Array:
        """Free end, (3,), mm."""
        return self.points[-1]


def cantilever_path(
    mouths: tuple[Array, Array],
    axes: Array,
    target: Array,
    *,
    bend_radius_mm: float = 1.0,
    extra_length_mm: float = 0.0,
    pieces: tuple[int, int, int] = (4, 6, 80),
) -> WirePath:
    """Wire through a tube, bent at its second mouth so that it runs straight at a target.

    Parameters
    ----------
    mouths
        First and second mouth of the tube, (3,) each, mm.
    axes
        Section axes in the tube (3, 3), columns along (first to second mouth), width, height.
    target
        Point the free run aims at and ends at, (3,), mm.
    bend_radius_mm
        Radius of the wire's axis in the bend.
    extra_length_mm
        Wire beyond the target (negative: short of it).
    pieces
        Number of pieces in the tube, the bend and the free run.

    Raises
    ------
    ValueError
        If the target lies so near the mouth, or so far back, that no such bend reaches it.
    """
    start, along = np.asarray(mouths[1], dtype=float), axes[:, 0]
    reach = np.asarray(target, dtype=float) - start
    x = float(reach @ along)
    sideways = reach - x * along
    y = float(np.linalg.norm(sideways))
    angle, run = _bend(x, y, bend_radius_mm)
    axis = np.cross(along, sideways / y) if y > 0 else axes[:, 1]
    if run + extra_length_mm <= 0:
        raise ValueError(f"the wire's free run is {run + extra_length_mm:.3g} mm long")

    n_tube, n_bend, n_run = pieces
    tube = np.linspace(mouths[0], start, n_tube + 1)
    turns, arc = _arc(axes, angle, axis, bend_radius_mm, n_bend)
    bent = turns[-1] @ axes
    corner = start + arc[-1]
    steps = np.linspace(0, run + extra_length_mm, n_run + 1)[1:, None]
    points = np.concatenate([tube, start + arc[1:], corner + steps * bent[:, 0]])
    frames = np.concatenate(
        [np.repeat(axes[None], n_tube + 1, 0), turns[1:] @ axes, np.repeat(bent[None], n_run, 0)]
    )
    chords = np.linalg.norm(np.diff(points, axis=0), axis=1)
    bend = slice(n_tube, n_tube + len(arc) - 1)
    chords[bend] = bend_radius_mm * angle / max(len(arc) - 1, 1)
    return WirePath(points, frames, chords, (0, n_tube), angle)


def _bend(x: float, y: float, radius: float) -> tuple[float, float]:
    """Angle of the bend and length of the run that reach a target ahead by x and aside by y.

    The arc leaves along x and the run leaves the arc on its tangent:
    ``x sin α + (r − y) cos α = r``.
    """
    distance = np.hypot(x, y - radius)
    if x <= 0 or distance <= radius:
        raise ValueError(
            f"the wire's end is {x:.2f} mm ahead and {y:.2f} mm aside of the tube's mouth: "
            f"out of reach of one bend of radius {radius:g} mm; use a smaller radius or offset"
        )
    angle = float(np.arctan2(x, radius - y) - np.arccos(radius / distance))
    return max(angle, 0.0), float(np.sqrt(distance**2 - radius**2))


def _arc(axes: Array, angle: float, axis: Array, radius: float, n: int) -> tuple[Array, Array]:
    """Turns (k + 1, 3, 3) and points (k + 1, 3) along the bend.

    A bend too short to cut into pieces is left to the first piece of the run, as a kink.
    """
    if radius * angle < _SHORTEST_BEND_MM:
        turn = Rotation.from_rotvec(angle * axis).as_matrix()
        return turn[None], np.zeros((1, 3))
    angles = np.linspace(0, angle, n + 1)
    turns = Rotation.from_rotvec(angles[:, None] * axis).as_matrix()
    along, inward = axes[:, 0], np.cross(axis, axes[:, 0])
    points = radius * (np.sin(angles)[:, None] * along + (1 - np.cos(angles))[:, None] * inward)
    return turns, points
