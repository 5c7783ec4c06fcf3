"""Free-body diagram in the plane of the appliance: the units and the wire drawn apart."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from numpy.typing import NDArray

from workflow.figures import (
    COUPLE_COLOUR,
    CROWN_COLOUR,
    FORCE_COLOUR,
    HAIR,
    HEAD_PT,
    OUTLINE_COLOUR,
    PASSIVE_COLOUR,
    ROOT_COLOUR,
    THICK,
    TUBE_COLOUR,
    WIRE_COLOUR,
    beside,
    couple_text,
    force_text,
    new_figure,
    put_text,
)
from workflow.figures_loads import ArrowScale, Load, arc_points, arrow_scale
from workflow.figures_marks import direction_marks, label_way, scale_bars
from workflow.figures_view import (
    Directions,
    LoadPlane,
    PlacedTooth,
    View,
    label_side,
    outline,
)
from workflow.specs import Spec

Array = NDArray[np.float64]

WIRE = "wire"
ARROW = "arrow: "  # its kind, body and contact follow in the names of its line and head
GAP_MM = 6.0  # clear space between the arrows of the wire and those of its units
_BAR_MM = 2.4  # from bar to bar
_BELOW_MM = 5.5 * _BAR_MM
_WIRE_PT, _TUBE_PT = 3.0, 7.0
_NOTHING = 1e-6


def free_body_table(loads: Sequence[Load], view: View) -> pd.DataFrame:
    """Loads in the plane of the view on each unit, and their opposites on the wire.

    One row a body and contact: the place, the force to the right and up, and the couple about the
    line of sight (anticlockwise positive) at that place; beside them the parts out of the plane.
    """
    rows = []
    for load in loads:
        for body, sign in ((load.unit, 1.0), (WIRE, -1.0)):
            place = view.flat(load.point_mm)
            right, up = sign * view.flat(load.force_N)
            couple = sign * load.couple_Nmm
            about_sight = view.turning(couple)
            rows.append(
                {
                    "body": body,
                    "contact": load.contact,
                    "right_mm": place[0],
                    "up_mm": place[1],
                    "force_right_N": right,
                    "force_up_N": up,
                    "couple_Nmm": about_sight,
                    "force_towards_eye_N": sign * float(load.force_N @ view.towards),
                    "couple_in_plane_axes_Nmm": float(
                        np.linalg.norm(couple - about_sight * view.towards)
                    ),
                }
            )
    return pd.DataFrame(rows)


def sums_on(table: pd.DataFrame, body: str) -> tuple[float, float, float]:
    """Sum of forces to the right and up, N, and of moments about the origin, N·mm, on a body."""
    rows = table[table["body"] == body]
    moment = (
        rows["couple_Nmm"]
        + rows["right_mm"] * rows["force_up_N"]
        - rows["up_mm"] * rows["force_right_N"]
    )
    return (
        float(rows["force_right_N"].sum()),
        float(rows["force_up_N"].sum()),
        float(moment.sum()),
    )


def table_scale(table: pd.DataFrame, fixed: Spec | None = None) -> ArrowScale:
    """Scale for the loads in the plane; `fixed` as in `workflow.figures_loads.arrow_scale`."""
    forces = np.hypot(table["force_right_N"], table["force_up_N"])
    return arrow_scale(list(forces), list(table["couple_Nmm"].abs()), 14.0, 25.0, fixed=fixed)


def with_lengths(table: pd.DataFrame, scale: ArrowScale) -> pd.DataFrame:
    """The table with the lengths the arrows are drawn."""
    forces = np.hypot(table["force_right_N"], table["force_up_N"])
    return table.assign(
        force_drawn_mm=[scale.force_mm(f) for f in forces],
        couple_drawn_mm=[scale.couple_mm(abs(c)) for c in table["couple_Nmm"]],
    )


def free_body_figure(
    table: pd.DataFrame,
    scale: ArrowScale,
    teeth: Sequence[PlacedTooth],
    solved: Spec,
    words: Directions,
    plane: LoadPlane,
) -> Figure:
    """Draw the bodies of the table, the wire beside its units."""
    view = plane.view
    longest = scale.force_mm(float(np.hypot(table["force_right_N"], table["force_up_N"]).max()))
    shift = (2 * longest + GAP_MM) * view.flat(plane.apart)
    figure = new_figure(8.0, 7.6)  # the less wide, the larger its text where it is shown
    axes = figure.subplots()
    axes.set_aspect("equal")
    axes.set_axis_off()
    for tooth in teeth:
        draw_tooth(axes, view, tooth)
    _draw_wire(axes, view, solved, shift)
    side = label_side(solved, view)
    for row in table.to_dict("records"):
        moved = np.array([row["right_mm"], row["up_mm"]]) + (row["body"] == WIRE) * shift
        _draw_load(axes, row, moved, scale, view, side)
    for row in table[table["body"] == WIRE].to_dict("records"):
        point = np.array([row["right_mm"], row["up_mm"]])
        axes.plot(*np.array([point, point + shift]).T, ":", color=PASSIVE_COLOUR, lw=HAIR, zorder=1)
    _name_bodies(axes, table, view, teeth, shift, solved)
    axes.margins(0.12, 0.06)
    axes.autoscale_view()
    low, high = axes.get_xlim()
    axes.set_xlim(low - (6.0 - 2.0 * side), high + (6.0 + 2.0 * side))
    lowest, highest = axes.get_ylim()
    axes.set_ylim(lowest - _BELOW_MM, highest)
    direction_marks(axes, view, words, corner=(0.5 + 0.43 * side, 0.9))
    level = (_BELOW_MM - 2.5 * _BAR_MM) / (highest - lowest + _BELOW_MM)
    scale_bars(axes, scale.bars, (0.03, level), apart_mm=_BAR_MM)
    figure.supxlabel(_caption(table, scale, plane))
    return figure


def draw_tooth(axes: Axes, view: View, tooth: PlacedTooth) -> None:
    """Outline of a tooth, crown and root tinted apart."""
    flat = view.flat(tooth.points)
    for triangles, colour in ((tooth.root, ROOT_COLOUR), (tooth.crown, CROWN_COLOUR)):
        for line in outline(flat, triangles):
            axes.add_patch(
                Polygon(line, facecolor=colour, edgecolor=OUTLINE_COLOUR, linewidth=HAIR, zorder=2)
            )
            axes.update_datalim(line)


def _draw_wire(axes: Axes, view: View, solved: Spec, shift: Array) -> None:
    engaged = view.flat(solved["wire"]["engaged_mm"]) + shift
    axes.plot(*engaged.T, color=WIRE_COLOUR, lw=_WIRE_PT, solid_capstyle="round", zorder=3)
    tube = view.flat(solved["tube"]["mouths_mm"])
    axes.plot(*tube.T, color=TUBE_COLOUR, lw=_TUBE_PT, solid_capstyle="butt", zorder=3)
    bracket = solved["hook"]["bracket_mm"]
    if bracket is not None:
        axes.plot(
            *view.flat(bracket).T, color=TUBE_COLOUR, lw=_TUBE_PT, solid_capstyle="butt", zorder=3
        )
        return
    axes.plot(*view.flat(solved["hook"]["touch_mm"]), "o", color=WIRE_COLOUR, ms=5, zorder=4)


def _draw_load(
    axes: Axes,
    row: Mapping[Hashable, Any],
    place: Array,
    scale: ArrowScale,
    view: View,
    side: float,
) -> None:
    force = np.array([row["force_right_N"], row["force_up_N"]])
    size = float(np.linalg.norm(force))
    named = f"{row['body']} {row['contact']}"
    look: dict[str, Any] = {"va": "center", "zorder": 8}
    if size > _NOTHING * scale.bar_N:
        reach = scale.force_mm(size) * force / size
        _arrow(axes, np.array([place, place + reach]), FORCE_COLOUR, f"{ARROW}force {named}")
        way = label_way(reach, side)
        beside_tip = place + reach + np.array([1.6 * way, -0.6 * np.sign(reach[1])])
        put_text(
            axes,
            beside_tip,
            force_text(size),
            color=FORCE_COLOUR,
            ha=beside(way),
            fontsize=HEAD_PT,
            **look,
        )
    couple = row["couple_Nmm"]
    if abs(couple) > _NOTHING * scale.bar_Nmm:
        middle = place[0] * view.right + place[1] * view.up
        axis = np.sign(couple) * view.towards
        angle = scale.couple_rad(abs(couple))
        arc = view.flat(arc_points(middle, axis, scale.radius_mm, angle))
        _arrow(axes, arc, COUPLE_COLOUR, f"{ARROW}couple {named}")
        way = side if row["contact"] == "two-point" else -side  # away from the wire
        aside = place + np.array([(scale.radius_mm + 1.0) * way, 0.5])
        text = couple_text(abs(couple))
        put_text(axes, aside, text, color=COUPLE_COLOUR, ha=beside(way), fontsize=HEAD_PT, **look)


def _arrow(axes: Axes, path: Array, colour: str, name: str, head_mm: float = 2.2) -> None:
    """Arrow along a path (n, 2) in millimetres, its tip exactly at the end."""
    fine = np.linspace(0, 1, 200)
    arc = np.concatenate([[0], np.linalg.norm(np.diff(path, axis=0), axis=1).cumsum()])
    head_mm = min(head_mm, 0.6 * arc[-1])  # a short arrow keeps some of its shaft
    dense = np.column_stack([np.interp(fine * arc[-1], arc, column) for column in path.T])
    neck = dense[fine * arc[-1] <= arc[-1] - head_mm]
    along = (dense[-1] - neck[-1]) / np.linalg.norm(dense[-1] - neck[-1])
    across = 0.38 * head_mm * np.array([-along[1], along[0]])
    look: dict[str, Any] = {"color": colour, "zorder": 6, "gid": name}
    axes.plot(*neck.T, lw=THICK, solid_capstyle="butt", **look)
    head = np.array([dense[-1], neck[-1] + across, neck[-1] - across])
    axes.add_patch(Polygon(head, **look))
    axes.update_datalim(dense)


def _name_bodies(
    axes: Axes,
    table: pd.DataFrame,
    view: View,
    teeth: Sequence[PlacedTooth],
    shift: Array,
    solved: Spec,
) -> None:
    for tooth in teeth:
        apex = view.flat(tooth.points[tooth.frame.to_tooth(tooth.points)[:, 2].argmin()])
        away = view.flat(-tooth.frame.axes[:, 2])
        place = apex + 1.6 * away / max(float(np.linalg.norm(away)), 0.5)
        put_text(
            axes,
            place,
            str(tooth.number),
            ha="center",
            va="center",
            weight="bold",
            fontsize=HEAD_PT,
        )
    for unit in dict.fromkeys(tooth.unit for tooth in teeth):
        flat = view.flat(np.concatenate([t.points for t in teeth if t.unit == unit]))
        outer = -np.sign(shift[1])
        edge = flat[:, 1].min() if outer < 0 else flat[:, 1].max()
        axes.text(
            flat[:, 0].mean(),
            edge + outer * 4.2,
            f"unit: {unit}",
            ha="center",
            va="center",
            fontsize=HEAD_PT,
        )
    wire = view.flat(solved["wire"]["engaged_mm"]) + shift
    way = (wire - wire[0]) @ (wire[-1] - wire[0])
    middle = wire[
        int(np.abs(way - 0.6 * way[-1]).argmin())
    ]  # clear of loops, which lie at the tube
    put_text(
        axes,
        middle - np.sign(shift[1]) * np.array([0, 1.8]),
        "wire, engaged",
        ha="center",
        va="center",
        fontsize=HEAD_PT,
    )


def _caption(table: pd.DataFrame, scale: ArrowScale, plane: LoadPlane) -> str:
    right, up, moment = sums_on(table, WIRE)
    aside = table["force_towards_eye_N"].abs().max()
    turn = table["couple_in_plane_axes_Nmm"].max()
    return (
        "Blue: forces. Orange: couples, the bar counts along the arc. "
        f"Sum on the wire: forces {_zero(right, scale.bar_N)} N {plane.ways[0]} and "
        f"{_zero(up, scale.bar_N)} N {plane.ways[1]},\nmoments "
        f"{_zero(moment, scale.bar_Nmm)} N·mm. "
        "Each load on a unit has its equal and opposite on the wire. The reaction of what\nholds "
        "each unit is not drawn. Parts in this plane; out of it the contacts also carry "
        f"{aside:.2g} N and {turn:.2g} N·mm."
    )


def _zero(value: float, scale: float) -> str:
    """A sum that is nothing at the scale of the loads as 0, any other as it is."""
    return "0" if abs(value) < 1e-8 * scale else f"{value:.2g}"
