"""Labels of the bench template: each goes to the nearest place where nothing else is drawn."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.text import Text
from numpy.typing import NDArray

from workflow.figures import PASSIVE_COLOUR, WIRE_COLOUR

Array = NDArray[np.float64]

CALLOUT_MM = 4.4  # diameter of a number's circle
_APART_MM = 1.0  # least distance of a label from the wire's axis and from other labels
_GRID_MM = 0.6  # of the points that stand for what is drawn
_WAYS = 24
_REACHES_MM = np.arange(3.5, 22.0, 1.5)
_FORBIDDEN = 1e6  # cost of a place that is taken, in mm of way to it


class Ground:
    """What part of a view's panel is taken, as points; all in mm on the page.

    Parameters
    ----------
    axes
        Axes that span the page and count its millimetres.
    low, high
        Corners of the panel, (2,) each.
    """

    def __init__(self, axes: Axes, low: Array, high: Array) -> None:
        self.axes = axes
        self._panel = (low, high)
        self._solid = np.empty((0, 2))
        self._thin = np.empty((0, 2))

    def take(self, points: Array, *, thin: bool = False) -> None:
        """Mark the line through points (n, 2) as taken; pointers may cross a thin one."""
        steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
        arc = np.concatenate([[0.0], np.cumsum(steps)])
        s = np.linspace(0.0, arc[-1], int(arc[-1] / _GRID_MM) + 2)
        line = np.column_stack([np.interp(s, arc, points[:, i]) for i in range(2)])
        if thin:
            self._thin = np.concatenate([self._thin, line])
        else:
            self._solid = np.concatenate([self._solid, line])

    def take_text(self, text: Text) -> None:
        """Mark the box of a text, turned or not, as taken."""
        turned = np.radians(text.get_rotation())
        anchor = np.asarray(text.get_position(), dtype=float)
        low, high = _box(text)
        cosine, sine = np.cos(turned), np.sin(turned)
        for y in np.linspace(low[1], high[1], int((high[1] - low[1]) / _GRID_MM) + 2):
            level = np.array([[low[0], y], [high[0], y]]) - anchor
            self.take(anchor + level @ np.array([[cosine, sine], [-sine, cosine]]))

    def beside(self, place: Array, words: str, first: Array, **look: Any) -> Text:
        """Write words beside a place (2,), as near as can be, best in the direction `first`."""
        text = self.axes.text(place[0], place[1], words, ha="center", va="center", **look)
        low, high = _box(text)
        half = 0.5 * (high - low)
        centre, _ = self._best(place, half, first, 6.0, lambda reach, way: 0.0)
        text.set_position((float(centre[0]), float(centre[1])))
        self.take_text(text)
        return text

    def callout(self, place: Array, number: int, first: Array, name: str) -> None:
        """Number in a circle, with a pointer to a place (2,) of the wire."""
        half = np.full(2, 0.5 * CALLOUT_MM)
        centre, way = self._best(
            place, half, first, 2.0, lambda reach, way: self._crossing(place, way, reach)
        )
        pointer = np.array([place, centre - 0.5 * CALLOUT_MM * way])
        self.axes.plot(*pointer.T, color=PASSIVE_COLOUR, lw=0.4, zorder=6, gid=f"{name}-pointer")
        self.axes.plot(*place, "o", ms=1.3, mew=0, color=WIRE_COLOUR, zorder=6)
        number_in_circle(self.axes, centre, number, f"{name}-callout")
        self.take(pointer)
        self._take_disc(centre)

    def _best(
        self,
        place: Array,
        half: Array,
        first: Array,
        turning: float,
        cost_of: Callable[[float, Array], float],
    ) -> tuple[Array, Array]:
        """Centre of the cheapest place for a box near a place, and the way to it.

        Places are tried from near to far, `turning` mm dearer a unit off the first way.
        """
        tries = [
            (reach + turning * (1 - float(way @ first)), reach, way)
            for reach in _REACHES_MM
            for way in _ways(first)
        ]
        lowest, centre, best_way = np.inf, place, first
        for least, reach, way in sorted(tries, key=lambda one: one[0]):
            if least >= lowest:
                break
            there = place + (reach + half) * way
            cost = least + self._crowding(there, half) + cost_of(reach, way)
            if cost < lowest:
                lowest, centre, best_way = cost, there, way
        return centre, best_way

    def _take_disc(self, centre: Array) -> None:
        for y in np.linspace(-0.5, 0.5, 8) * CALLOUT_MM:
            self.take(centre + np.array([[-0.5 * CALLOUT_MM, y], [0.5 * CALLOUT_MM, y]]))

    def _crowding(self, centre: Array, half: Array) -> float:
        """Cost of a box: what lies in it and whether it leaves the panel."""
        margin = half + _APART_MM
        low, high = self._panel
        outside = np.any(centre - half < low) or np.any(centre + half > high)
        taken = np.concatenate([self._solid, self._thin])
        inside = np.count_nonzero(np.all(np.abs(taken - centre) < margin, axis=1))
        return _FORBIDDEN * (inside + 1000.0 * bool(outside))

    def _crossing(self, place: Array, way: Array, reach: float) -> float:
        """Cost of a pointer: what it runs across beyond the strand that it starts on."""
        s = np.arange(1.0, reach, 0.5)
        line = place + s[:, None] * way
        near = np.linalg.norm(self._solid[:, None] - line, axis=2) < 0.5
        return 15.0 * float(np.any(near, axis=0).sum())


def number_in_circle(axes: Axes, centre: Array, number: int, name: str | None = None) -> None:
    """Number of a part, as in the drawing so in the table."""
    angle = np.linspace(0, 2 * np.pi, 49)
    ring = centre + 0.5 * CALLOUT_MM * np.column_stack([np.cos(angle), np.sin(angle)])
    axes.fill(*ring.T, facecolor="white", edgecolor=WIRE_COLOUR, lw=0.5, zorder=7, gid=name)
    look: dict[str, Any] = {"fontsize": 7, "ha": "center", "va": "center_baseline", "zorder": 8}
    axes.text(centre[0], centre[1], str(number), **look)


def _ways(first: Array) -> Array:
    """Unit directions to try (k, 2), starting from one."""
    start = np.arctan2(first[1], first[0])
    angles = start + 2 * np.pi * np.arange(_WAYS) / _WAYS
    return np.column_stack([np.cos(angles), np.sin(angles)])


def _box(text: Text) -> tuple[Array, Array]:
    """Lower left and upper right corner of a text before it is turned, mm on the page."""
    turned = text.get_rotation()
    text.set_rotation(0.0)
    corners = text.get_window_extent().get_points()
    text.set_rotation(turned)
    axes = text.axes
    assert axes is not None
    low, high = axes.transData.inverted().transform(corners)
    return low, high
