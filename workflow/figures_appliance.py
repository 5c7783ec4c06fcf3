"""The appliance in space: teeth, passive and engaged wire, loads on the units."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from workflow.figures import (
    COUPLE_COLOUR,
    CROWN_COLOUR,
    FORCE_COLOUR,
    NOTE_PT,
    PASSIVE_COLOUR,
    ROOT_COLOUR,
    TEXT_PT,
    TUBE_COLOUR,
    WIRE_COLOUR,
    beside,
    couple_text,
    force_text,
    new_figure,
    put_text,
)
from workflow.figures_loads import ArrowScale, arc_points
from workflow.figures_marks import direction_marks, label_way, scale_bars
from workflow.figures_view import Directions, LoadPlane, PlacedTooth, View, label_side
from workflow.scene import Scene
from workflow.specs import Spec

Array = NDArray[np.float64]

PIXELS_PER_MM = 20.0
WIRE_RADIUS_MM = 0.3
_BELOW_MM = 9.0  # room for bars and directions


def appliance_scene(
    teeth: Sequence[PlacedTooth], solved: Spec, arrows: pd.DataFrame, scale: ArrowScale
) -> Scene:
    """Bodies of the figure."""
    scene = Scene()
    for tooth in teeth:
        for triangles, colour in ((tooth.crown, CROWN_COLOUR), (tooth.root, ROOT_COLOUR)):
            scene.add_surface(
                tooth.points, triangles, color=colour, smooth_shading=True, ambient=0.25
            )
    wire = solved["wire"]
    scene.add_line(wire["engaged_mm"], WIRE_RADIUS_MM, color=WIRE_COLOUR, ghost=True)
    scene.add_dashes(wire["passive_mm"], 0.22, 0.7, color=PASSIVE_COLOUR, ghost=True)
    scene.add_line(solved["tube"]["mouths_mm"], 0.75, color=TUBE_COLOUR, ghost=True)
    if solved["hook"]["bracket_mm"] is not None:
        scene.add_line(solved["hook"]["bracket_mm"], 0.75, color=TUBE_COLOUR, ghost=True)
    scene.add_ball(solved["hook"]["touch_mm"], 0.55, color=WIRE_COLOUR, ghost=True)
    for row in arrows.to_dict("records"):
        point, vector = _point(row), _vector(row)
        if row["kind"] == "force":
            scene.add_force(point, vector, row["length_drawn_mm"], color=FORCE_COLOUR, ambient=0.4)
        else:
            angle = row["length_drawn_mm"] / scale.radius_mm
            scene.add_couple(
                point, vector, scale.radius_mm, angle, color=COUPLE_COLOUR, ambient=0.4
            )
    return scene


def appliance_figure(
    teeth: Sequence[PlacedTooth],
    solved: Spec,
    arrows: pd.DataFrame,
    scale: ArrowScale,
    words: Directions,
    plane: LoadPlane,
) -> Figure:
    """Two views of the appliance, forces and couples to the printed scale."""
    scene = appliance_scene(teeth, solved, arrows, scale)
    end = "ball: hook" if solved["hook"]["bracket_mm"] is None else "ball: middle of the bracket"
    figure = new_figure(10.0, 5.6)
    panels = figure.subplots(1, 2)
    views = {
        f"From {plane.seen}": plane.view,
        "From buccal, mesial and occlusal": words.oblique_view,
    }
    for axes, (title, view) in zip(panels, views.items(), strict=True):
        scene.render(view, PIXELS_PER_MM, margin_mm=4.0).show(axes)
        axes.set_ylim(axes.get_ylim()[0] - _BELOW_MM, axes.get_ylim()[1])
        axes.set_anchor("N")
        axes.set_title(title)
        _label_teeth(axes, view, teeth)
        side = label_side(solved, view)
        _label_arrows(axes, view, arrows, scale, side)
        _label_wire(axes, view, solved, side)
        direction_marks(axes, view, words, corner=(0.5 + 0.36 * side, 0.05))
        scale_bars(axes, scale.bars, (0.02 if side > 0 else 0.34, 0.12))
    figure.supxlabel(
        "Arrows: loads the appliance exerts on the teeth; blue force, orange couple by the "
        "right-hand rule, its bar counts along the arc.\nBars hold square to the line of sight: "
        "what points towards you or away looks shorter. Wire: dark engaged, dashed passive\n"
        f"(before it is hooked), pale where a tooth hides it. Grey: tube. Dark {end}."
    )
    return figure


def _label_teeth(axes: Axes, view: View, teeth: Sequence[PlacedTooth]) -> None:
    for tooth in teeth:
        local = tooth.frame.to_tooth(tooth.points)
        apex = view.flat(tooth.points[local[:, 2].argmin()])
        away = view.flat(-tooth.frame.axes[:, 2])
        place = apex + 1.5 * away / max(float(np.linalg.norm(away)), 0.5)
        put_text(
            axes,
            place,
            str(tooth.number),
            ha="center",
            va="center",
            fontsize=TEXT_PT,
            weight="bold",
        )


def _label_arrows(
    axes: Axes, view: View, arrows: pd.DataFrame, scale: ArrowScale, side: float
) -> None:
    for row in arrows.to_dict("records"):
        point, vector = _point(row), _vector(row)
        size = float(np.linalg.norm(vector))
        if row["kind"] == "force":
            text, colour = force_text(size), FORCE_COLOUR
            reach = row["length_drawn_mm"] * view.flat(vector / size)
            way = label_way(reach, side)
            place = view.flat(point) + reach + np.array([0.9 * way, 0.0])
        else:
            text, colour, way = couple_text(size), COUPLE_COLOUR, side
            angle = row["length_drawn_mm"] / scale.radius_mm
            arc = view.flat(arc_points(point, vector, scale.radius_mm, angle))
            place = arc[(side * arc[:, 0]).argmax()] + np.array([1.0 * side, -1.5])
        put_text(axes, place, text, color=colour, ha=beside(way), va="center", fontsize=NOTE_PT)


def _label_wire(axes: Axes, view: View, solved: Spec, side: float) -> None:
    end = view.flat(np.asarray(solved["wire"]["passive_mm"][-1]))
    place = end - np.array([0.8 * side, 0.0])
    put_text(axes, place, "passive", color=PASSIVE_COLOUR, ha=beside(-side), fontsize=NOTE_PT)


def _point(row: Mapping[Hashable, Any]) -> Array:
    return np.array([row["x_mm"], row["y_mm"], row["z_mm"]])


def _vector(row: Mapping[Hashable, Any]) -> Array:
    return np.array([row["vector_x"], row["vector_y"], row["vector_z"]])
