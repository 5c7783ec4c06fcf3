"""Small multiples of a comparison: each case in its plane, all at one scale of length and load.

Behind each arrow lies a pale band as long as the same arrow of the first case, so that more and
less are seen without reading a number.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import FancyArrowPatch
from matplotlib.path import Path
from numpy.typing import NDArray

from workflow.comparison_records import ComparedCase
from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    PASSIVE_COLOUR,
    THICK,
    THIN,
    TUBE_COLOUR,
    WIRE_COLOUR,
    new_figure,
    put_text,
)
from workflow.figures_free_body import (
    WIRE,
    draw_tooth,
    free_body_table,
    table_scale,
    with_lengths,
)
from workflow.figures_loads import ArrowScale, arc_points, loads_on_units
from workflow.figures_marks import direction_marks, scale_bars
from workflow.figures_view import (
    Directions,
    LoadPlane,
    PlacedTooth,
    View,
    directions,
    label_side,
    load_plane,
)

Array = NDArray[np.float64]

_WIDTH_IN = 4.2
_MARGIN_MM = 3.0
_FOOT_MM = 8.0  # room for the bars of the scale
_BARS_MM = 33.0  # bars of the scale with their texts
_WIDER = 1.25  # panels set on their tubes may be so much wider than set on their middles
_LEAST_MM = 46.0  # width that bars and directions need
_END_ON = 0.5  # share of a tooth's length that is seen
_NUMBER_MM = 1.8
_NOTHING = 1e-6
_KINDS = {FORCE_COLOUR: "force", COUPLE_COLOUR: "couple"}
_HOLD: Any = {"color": TUBE_COLOUR, "lw": 6, "solid_capstyle": "butt", "zorder": 3}


@dataclass(frozen=True)
class Panel:
    """One case and the frame in which it is drawn.

    Attributes
    ----------
    compared
        The case.
    words, plane
        Its directions, and the plane in which it is seen.
    loads
        Its rows of the table of the panels.
    low_mm, size_mm
        Lower left corner and size of the frame, (2,) each; the size is the same in all panels.
    """

    compared: ComparedCase
    words: Directions
    plane: LoadPlane
    loads: pd.DataFrame
    low_mm: Array
    size_mm: Array


def panels_table(cases: Sequence[ComparedCase]) -> tuple[pd.DataFrame, ArrowScale]:
    """Loads on the units of all cases in the plane of each, and the scale that serves all."""
    tables = []
    for compared in cases:
        loads = loads_on_units(compared.summary, compared.solved)
        table = free_body_table(loads, _plane(compared).view)
        tables.append(table[table["body"] != WIRE].assign(case=compared.name))
    table = pd.concat(tables, ignore_index=True)
    scale = table_scale(table)
    return with_lengths(table, scale), scale


def panels(cases: Sequence[ComparedCase], table: pd.DataFrame, scale: ArrowScale) -> list[Panel]:
    """Frames of all cases: of one size, set on the tube where that costs little room."""
    planes = [_plane(compared) for compared in cases]
    rows = [table[table["case"] == compared.name] for compared in cases]
    spans = [
        _span(compared, plane.view, loads, scale)
        for compared, plane, loads in zip(cases, planes, rows, strict=True)
    ]
    tubes = [
        plane.view.flat(c.solved["tube"]["middle_mm"])
        for c, plane in zip(cases, planes, strict=True)
    ]
    lows, size = _frames(spans, tubes)
    return [
        Panel(compared, _words(compared), plane, loads, low, size)
        for compared, plane, loads, low in zip(cases, planes, rows, lows, strict=True)
    ]


def panel_figure(panel: Panel, first: Panel, scale: ArrowScale) -> Figure:
    """One case, alone in its frame; `first` is what its arrows are held against."""
    across, up = panel.size_mm
    figure = new_figure(_WIDTH_IN, _WIDTH_IN * up / across)
    figure.set_layout_engine("none")
    draw_panel(figure.add_axes((0.0, 0.0, 1.0, 1.0)), panel, first, scale)
    return figure


def panels_figure(found: Sequence[Panel], scale: ArrowScale) -> Figure:
    """All cases in one picture, at most three in a row."""
    columns = min(len(found), 3)
    rows = -(-len(found) // columns)
    across, up = found[0].size_mm
    figure = new_figure(_WIDTH_IN * columns, (_WIDTH_IN * up / across + 0.3) * rows)
    axes = np.atleast_1d(figure.subplots(rows, columns)).ravel()
    for place, panel in zip(axes, found, strict=False):
        draw_panel(place, panel, found[0], scale)
        place.set_title(panel.compared.label)
    for place in axes[len(found) :]:
        place.set_axis_off()
    return figure


def draw_panel(axes: Axes, panel: Panel, first: Panel, scale: ArrowScale) -> None:
    """Teeth, wire and loads of a case in its frame."""
    view, solved = panel.plane.view, panel.compared.solved
    axes.set_aspect("equal")
    axes.set_axis_off()
    for tooth in panel.compared.teeth:
        draw_tooth(axes, view, tooth)
        place = _beyond_apex(tooth, view)
        put_text(axes, place, str(tooth.number), ha="center", va="center", weight="bold")
    _draw_wire(axes, view, solved)
    for row in panel.loads.to_dict("records"):
        _draw_load(axes, row, _matching(row, first, panel), scale, view)
    axes.set_xlim(panel.low_mm[0], panel.low_mm[0] + panel.size_mm[0])
    axes.set_ylim(panel.low_mm[1], panel.low_mm[1] + panel.size_mm[1])
    side = label_side(solved, view)
    left = _MARGIN_MM if side > 0 else panel.size_mm[0] - _BARS_MM
    corner = np.array([left, _FOOT_MM - 1.0]) / panel.size_mm
    scale_bars(axes, scale.bars, (float(corner[0]), float(corner[1])), apart_mm=2.7)
    aside = (0.5 + 0.43 * side, float(corner[1]))
    direction_marks(axes, view, panel.words, length_mm=3.0, corner=aside)


def _beyond_apex(tooth: PlacedTooth, view: View) -> Array:
    """Where the number of a tooth stands: below its root, or on it where it is seen end on."""
    axis = view.flat(tooth.frame.axes[:, 2])
    middle = view.flat(tooth.points).mean(axis=0)
    if np.linalg.norm(axis) < _END_ON:
        return np.asarray(middle)
    apex = view.flat(tooth.points[tooth.frame.to_tooth(tooth.points)[:, 2].argmin()])
    return np.asarray(apex + _NUMBER_MM * (apex - middle) / np.linalg.norm(apex - middle))


def _plane(compared: ComparedCase) -> LoadPlane:
    return load_plane(compared.case, _words(compared))


def _words(compared: ComparedCase) -> Directions:
    return directions(compared.case, compared.solved)


def _span(
    compared: ComparedCase, view: View, loads: pd.DataFrame, scale: ArrowScale
) -> tuple[Array, Array]:
    """Lower left and upper right corner of all that is drawn of a case, mm."""
    wire = compared.solved["wire"]
    drawn = [view.flat(tooth.points) for tooth in compared.teeth]
    drawn += [view.flat(np.asarray(wire[name])) for name in ("engaged_mm", "passive_mm")]
    for row in loads.to_dict("records"):
        drawn += [path for _, path in _paths(row, scale, view)]
    points = np.concatenate(drawn)
    return points.min(axis=0), points.max(axis=0)


def _frames(
    spans: Sequence[tuple[Array, Array]], tubes: Sequence[Array]
) -> tuple[list[Array], Array]:
    """Lower left corners, and the size that holds every case."""
    padding = np.array([_MARGIN_MM, _MARGIN_MM + _FOOT_MM])
    below = np.array([tube - low for (low, _), tube in zip(spans, tubes, strict=True)])
    above = np.array([high - tube for (_, high), tube in zip(spans, tubes, strict=True)])
    own = (below + above).max(axis=0)
    on_tube = below.max(axis=0) + above.max(axis=0)
    tight = on_tube <= _WIDER * own
    size = np.where(tight, on_tube, own)
    spare = np.maximum(np.array([_LEAST_MM, 0.0]) - size, 0.0)
    lows = [
        np.where(tight, tube - below.max(axis=0), (low + high - own) / 2) - padding - spare / 2
        for (low, high), tube in zip(spans, tubes, strict=True)
    ]
    return lows, size + spare + padding + _MARGIN_MM


def _draw_wire(axes: Axes, view: View, solved: Mapping[str, Any]) -> None:
    passive, engaged = (
        view.flat(np.asarray(solved["wire"][f"{n}_mm"])) for n in ("passive", "engaged")
    )
    axes.plot(*passive.T, color=PASSIVE_COLOUR, lw=THIN, ls=(0, (4, 3)), zorder=2.5)
    axes.plot(*engaged.T, color=WIRE_COLOUR, lw=THICK, solid_capstyle="round", zorder=4)
    axes.plot(*view.flat(np.asarray(solved["tube"]["mouths_mm"])).T, **_HOLD)
    bracket = solved["hook"]["bracket_mm"]
    if bracket is not None:
        axes.plot(*view.flat(np.asarray(bracket)).T, **_HOLD)
    else:
        touch = view.flat(np.asarray(solved["hook"]["touch_mm"]))
        axes.plot(*touch, "o", color=WIRE_COLOUR, ms=4.5, zorder=5)


def _matching(
    row: Mapping[Hashable, Any], first: Panel, panel: Panel
) -> Mapping[Hashable, Any] | None:
    """The load of the first case at the same end of the wire; none for the first case itself."""
    if first is panel:
        return None
    at_tube = row["contact"] == "two-point"
    same_end = (first.loads["contact"] == "two-point") == at_tube
    found = first.loads[same_end & (first.loads["contact"] != "further")]
    return None if row["contact"] == "further" or found.empty else found.iloc[0].to_dict()


def _paths(
    row: Mapping[Hashable, Any], scale: ArrowScale, view: View, like: Any = None
) -> list[tuple[str, Array]]:
    """Colour and path (n, 2) of the arrows of a load, as long as those of `like` if given."""
    like = row if like is None else like
    place = np.array([row["right_mm"], row["up_mm"]])
    force = np.array([row["force_right_N"], row["force_up_N"]])
    size, paths = float(np.linalg.norm(force)), []
    length = scale.force_mm(float(np.hypot(like["force_right_N"], like["force_up_N"])))
    if size > _NOTHING * scale.bar_N:
        paths.append((FORCE_COLOUR, np.array([place, place + length * force / size])))
    couple, same = row["couple_Nmm"], abs(like["couple_Nmm"])
    if min(abs(couple), same) > _NOTHING * scale.bar_Nmm:
        middle = place[0] * view.right + place[1] * view.up
        axis = np.sign(couple) * view.towards
        arc = arc_points(middle, axis, scale.radius_mm, scale.couple_rad(same))
        paths.append((COUPLE_COLOUR, view.flat(arc)))
    return paths


def _draw_load(
    axes: Axes, row: Mapping[Hashable, Any], like: Any, scale: ArrowScale, view: View
) -> None:
    if like is not None:
        for colour, path in _paths(row, scale, view, like):
            named = f"{_KINDS[colour]} of the first case"
            look: Any = {
                "gid": named,
                "color": colour,
                "alpha": 0.28,
                "lw": 8,
                "solid_capstyle": "butt",
            }
            axes.plot(*path.T, zorder=5.5, **look)
    for colour, path in _paths(row, scale, view):
        arrow = FancyArrowPatch(
            path=Path(path),
            arrowstyle="-|>,head_length=4.5,head_width=2.4",
            mutation_scale=2.0,
            color=colour,
            gid=_KINDS[colour],
            linewidth=THICK,
            capstyle="butt",
            joinstyle="miter",
            zorder=6,
        )
        axes.add_patch(arrow)
