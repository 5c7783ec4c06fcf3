"""Marks that let a drawing in millimetres be measured: directions, and bars of its scales."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from workflow.figures import HAIR, LINE, NOTE_PT, WIRE_COLOUR
from workflow.figures_view import Directions, View

Array = NDArray[np.float64]

_NAMES = ("mesial", "buccal", "occlusal")
_LOW = 0.3  # share of the axes below which marks stand near the bottom
_SLANTED = 0.15  # share of an arrow across the page from which its label goes to that side
BAR_NAME = "scale bar: "  # its words follow in the name of its line


@dataclass(frozen=True)
class ScaleBar:
    """A bar of a drawing.

    Attributes
    ----------
    length_mm
        How long it is drawn, in the millimetres of the drawing.
    words
        What that length stands for.
    colour
        That of the arrows it belongs to.
    """

    length_mm: float
    words: str
    colour: str = WIRE_COLOUR


def scale_bars(
    axes: Axes, bars: Sequence[ScaleBar], corner: tuple[float, float], apart_mm: float = 1.8
) -> None:
    """Draw bars below each other, the first at a corner given in shares of the axes."""
    limits = np.array([axes.get_xlim(), axes.get_ylim()])
    start = limits[:, 0] + np.array(corner) * (limits[:, 1] - limits[:, 0])
    tick = 0.2 * apart_mm
    for row, bar in enumerate(bars):
        left, y = start[0], start[1] - row * apart_mm
        right = left + bar.length_mm
        look: dict[str, Any] = {
            "color": bar.colour,
            "solid_capstyle": "butt",
            "clip_on": False,
            "zorder": 9,
        }
        (line,) = axes.plot([left, right], [y, y], lw=LINE, **look)
        line.set_gid(f"{BAR_NAME}{bar.words}")
        for x in (left, right):
            axes.plot([x, x], [y - tick, y + tick], lw=HAIR, **look)
        text: dict[str, Any] = {
            "color": bar.colour,
            "va": "center",
            "fontsize": NOTE_PT,
            "zorder": 9,
        }
        axes.text(right + 0.5 * apart_mm, y, bar.words, **text)
    axes.set(xlim=limits[0], ylim=limits[1])


def label_way(reach: Array, usual: float) -> float:
    """Side of an arrow's tip, right (1) or left (−1), that the arrow itself leaves free."""
    slant = float(reach[0] / np.linalg.norm(reach)) if np.any(reach) else 0.0
    return float(np.sign(slant)) if abs(slant) > _SLANTED else usual


def direction_marks(
    axes: Axes,
    view: View,
    words: Directions,
    length_mm: float = 4.5,
    corner: tuple[float, float] = (0.84, 0.08),
) -> None:
    """Small arrows that say where mesial, buccal and occlusal are; `corner` in shares of axes.

    Near the bottom they are lifted where one of them points down.
    """
    limits = np.array([axes.get_xlim(), axes.get_ylim()])
    start = limits[:, 0] + np.array(corner) * (limits[:, 1] - limits[:, 0])
    ways = {name: length_mm * view.flat(getattr(words, name)) for name in _NAMES}
    if corner[1] < _LOW:
        start[1] -= min(0.0, *(1.3 * reach[1] for reach in ways.values()))
    for name, reach in ways.items():
        if np.linalg.norm(reach) < 0.25 * length_mm:
            continue
        axes.annotate(
            "",
            xy=start + reach,
            xytext=start,
            annotation_clip=False,
            arrowprops={"arrowstyle": "->", "color": WIRE_COLOUR, "shrinkA": 0, "shrinkB": 0},
        )
        end = start + reach + 0.2 * length_mm * reach / np.linalg.norm(reach)
        across = {-1.0: "right", 0.0: "center", 1.0: "left"}[_side(reach[0], length_mm)]
        along = {-1.0: "top", 0.0: "center", 1.0: "bottom"}[_side(reach[1], length_mm)]
        axes.text(float(end[0]), float(end[1]), name, ha=across, va=along, fontsize=NOTE_PT)


def _side(part: float, length_mm: float) -> float:
    return float(np.sign(part)) if abs(part) > 0.35 * length_mm else 0.0
