"""The course of movement: the target's teeth from the side, and its loads over the way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from workflow.course import APEX, CROWN, CaseCourse, tooth_marks
from workflow.course_words import course_texts
from workflow.figures import (
    COUPLE_COLOUR,
    CROWN_COLOUR,
    FORCE_COLOUR,
    LINE,
    NOTE_PT,
    OUTLINE_COLOUR,
    PASSIVE_COLOUR,
    THICK,
    THIN,
    THIRD_COLOUR,
    WIRE_COLOUR,
    FigureText,
    force_text,
    new_figure,
    second_scale,
    three_digits,
)
from workflow.figures_marks import ScaleBar, direction_marks, scale_bars
from workflow.figures_view import Directions, PlacedTooth, outline
from workflow.specs import Spec
from workflow.units import N_PER_GF

Array = NDArray[np.float64]

OUTLINE = "outline"
_BAR_MM = 5.0
_BETWEEN = (1 / 3, 2 / 3)  # of the way: outlines between the first and the last
_MARKERS = {CROWN: "o", APEX: "s"}


def drawing_table(
    followed: CaseCourse, teeth: Sequence[PlacedTooth], words: Directions
) -> pd.DataFrame:
    """Outlines of the target's teeth on the way, and paths of their crowns and apices.

    One row a point seen from buccal, mm: ``item`` is one line, ``moved_mm`` where on the way.
    """
    return pd.concat(list(_lines(followed, teeth, words)), ignore_index=True)


def _lines(
    followed: CaseCourse, teeth: Sequence[PlacedTooth], words: Directions
) -> Iterator[pd.DataFrame]:
    view, points = words.buccal_view, followed.found.points
    placed = {tooth.number: tooth for tooth in teeth}
    for index, name, unit in followed.supports():
        if followed.case["units"][name]["role"] != "target":
            continue
        for tooth in unit.teeth:
            body = placed[tooth.number]
            triangles = np.concatenate([body.crown, body.root])
            for point in (points[i] for i in _shown([p.moved_mm for p in points])):
                moved = view.flat(point.poses[index].points(body.points))
                for number, line in enumerate(outline(moved, triangles)):
                    item = f"{tooth.number} at {point.moved_mm:.3g} mm, {number}"
                    yield _table(item, OUTLINE, np.full(len(line), point.moved_mm), line)
            for mark, place in tooth_marks(followed.case, tooth).items():
                path = np.array([point.poses[index].points(place) for point in points])
                on_way = np.array([point.moved_mm for point in points])
                yield _table(f"{tooth.number} {mark}", mark, on_way, view.flat(path))


def _shown(moved_mm: Sequence[float]) -> list[int]:
    """First and last step and those nearest to the shares between."""
    wanted = [0.0, *(share * moved_mm[-1] for share in _BETWEEN), moved_mm[-1]]
    return sorted({int(np.abs(np.subtract(moved_mm, value)).argmin()) for value in wanted})


def _table(item: str, kind: str, moved_mm: Array, points: Array) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "item": item,
            "kind": kind,
            "moved_mm": moved_mm,
            "right_mm": points[:, 0],
            "up_mm": points[:, 1],
        }
    )


def course_figure(
    drawing: pd.DataFrame, steps: pd.DataFrame, record: Spec, words: Directions
) -> Figure:
    """Draw both tables: the side view on the left, three curves over the way on the right."""
    figure = new_figure(10.0, 6.6)
    grid = figure.add_gridspec(3, 2, width_ratios=[1.0, 1.1])
    _draw_side(figure.add_subplot(grid[:, 0]), drawing, words)
    force = figure.add_subplot(grid[0, 1])
    couple, ratio = (figure.add_subplot(grid[row, 1], sharex=force) for row in (1, 2))
    way = steps["moved_mm"]
    force.plot(way, steps["force_N"], color=FORCE_COLOUR, lw=THICK)
    force.set(ylabel="force of the wire\non each unit (N)")
    second_scale(force, "gf")
    couple.plot(way, steps["couple_Nmm"], color=COUPLE_COLOUR, lw=THICK)
    couple.set(ylabel="couple at the tube\n(N·mm)")
    second_scale(couple, "gf·mm")
    ratio.plot(way, steps["couple_to_force_mm"], color=WIRE_COLOUR, lw=THICK, label="at the tube")
    ratio.plot(
        way,
        steps["moment_to_force_at_resistance_mm"],
        "--",
        color=THIRD_COLOUR,
        lw=THICK,
        label="about the centre of resistance",
    )
    ratio.set(ylabel="moment to force (mm)", xlabel="path of the point that moves most (mm)")
    ratio.legend(frameon=False, loc="best")
    for axes in (force, couple, ratio):
        axes.set_ylim(0, None)
        axes.set_xlim(0, None)
        if record["reactivate"] is not None:
            axes.axvline(record["reactivate"]["moved_mm"], color=PASSIVE_COLOUR, lw=THIN, ls="--")
    _mark_levels(force, record)
    return figure


def _draw_side(axes: Axes, drawing: pd.DataFrame, words: Directions) -> None:
    axes.set_aspect("equal")
    axes.set_axis_off()
    outlines = drawing[drawing["kind"] == OUTLINE]
    last = outlines["moved_mm"].max()
    for _, line in outlines.groupby("item", sort=False):
        at = line["moved_mm"].iloc[0]
        first, end = at == 0.0, at == last
        colour = OUTLINE_COLOUR if first else FORCE_COLOUR
        if first:
            axes.fill(line["right_mm"], line["up_mm"], facecolor=CROWN_COLOUR, edgecolor="none")
        width = 1.8 if end else 1.0
        axes.plot(line["right_mm"], line["up_mm"], color=colour, lw=width, alpha=1 if end else 0.7)
    for kind, marker in _MARKERS.items():
        for _, path in drawing[drawing["kind"] == kind].groupby("item"):
            axes.plot(path["right_mm"], path["up_mm"], color=COUPLE_COLOUR, lw=LINE)
            ends = path.iloc[[0, -1]]
            axes.scatter(
                ends["right_mm"],
                ends["up_mm"],
                marker=marker,
                s=26,
                facecolors=["white", COUPLE_COLOUR],
                edgecolors=COUPLE_COLOUR,
                zorder=3,
            )
    axes.set_title("The target from buccal, movement not enlarged")
    low, high = axes.get_ylim()
    axes.set_ylim(low - 3.5, high)
    scale_bars(axes, (ScaleBar(_BAR_MM, f"{_BAR_MM:g} mm"),), (0.0, 0.04), apart_mm=1.0)
    direction_marks(axes, words.buccal_view, words, length_mm=2.0, corner=(0.8, 0.04))
    axes.legend(handles=_side_legend(), loc="upper left", bbox_to_anchor=(0, 0), frameon=False)


def _side_legend() -> list[Line2D]:
    path: dict[str, Any] = {"color": COUPLE_COLOUR, "lw": LINE}
    return [
        Line2D([], [], color=OUTLINE_COLOUR, label="at first"),
        Line2D([], [], color=FORCE_COLOUR, lw=LINE, label="on the way and at the end"),
        Line2D([], [], marker=_MARKERS[CROWN], label="path of the middle of the crown", **path),
        Line2D(
            [],
            [],
            marker=_MARKERS[APEX],
            label="path of the end of the root, on the long axis",
            **path,
        ),
    ]


def _mark_levels(axes: Axes, record: Spec) -> None:
    """The floor, and where to reactivate."""
    floor = record["force_floor_gf"] * N_PER_GF
    axes.axhline(floor, color=PASSIVE_COLOUR, lw=THIN, ls=":")
    axes.annotate(
        f"floor {record['force_floor_gf']:g} gf",
        (0.02, floor),
        xycoords=("axes fraction", "data"),
        va="bottom",
        fontsize=NOTE_PT,
        color=PASSIVE_COLOUR,
    )
    again = record["reactivate"]
    if again is None:
        return
    place = again["moved_mm"], again["force_N"]
    axes.plot(*place, "D", color=THIRD_COLOUR, ms=7)
    axes.annotate(
        f"reactivate: {100 * record['reactivate_share']:.0f} % left\n"
        f"at {three_digits(place[0])} mm\n{force_text(place[1], ' ')}",
        place,
        xytext=(8, 6),
        textcoords="offset points",
        color=THIRD_COLOUR,
    )


def course_text(case: Spec, record: Spec) -> FigureText:
    """What is said of the figure."""
    roles = {name: unit["role"] for name, unit in case["units"].items()}
    return FigureText(f"Course of movement: {case['title']}", *course_texts(record, roles))
