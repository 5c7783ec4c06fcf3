"""The straight wire three ways: rod with finite rotations, beam theory, linear 3D solid."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from fem.closed_form import two_point_deflection
from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    LINE,
    PASSIVE_COLOUR,
    THICK,
    THIN,
    THIRD_COLOUR,
    TUBE_COLOUR,
    WIRE_COLOUR,
    new_figure,
    second_scale,
)
from workflow.figures_case_texts import like_straight
from workflow.specs import Spec

Array = NDArray[np.float64]

ROD, BEAM, SOLID, CASE = "rod", "linear beam theory", "linear 3D solid", "this case"
PASSIVE = "passive wire"
_STRAIGHT = "the straight wire of the same span"
_SOLID_POINTS = 6
_TUBE_PT = 9.0


def deflection_table(rod: Spec, solid: Spec, path: pd.DataFrame, summary: Spec) -> pd.DataFrame:
    """All points of the figure: panel, series, abscissa and ordinate with their meaning.

    Panel ``force`` holds force (N) against offset (mm); panel ``shape`` height (mm) against
    distance along the tube (mm). There the end is brought up to the tube's level; linear
    deflections are scaled to the same offset and added to the passive wire. The case itself is a
    point of panel ``force`` unless it is bent to something much stiffer or softer.
    """
    curve, span, base = rod["curve"], rod["spec"]["span_mm"], rod["spec"]["base_mm"]
    offsets = np.asarray(curve["offset_mm"])
    tip = float(path["engaged_z_mm"].iloc[-1] - path["passive_z_mm"].iloc[-1])
    wire = summary["wire"]
    along = np.linspace(0.0, base + span, 60)

    def bent_up(positions: Array, deflection: Array) -> Array:
        passive = np.interp(positions, path["passive_x_mm"], path["passive_z_mm"])
        return np.asarray(passive + tip * deflection)

    parts = [
        _series("force", ROD, offsets, curve["force_N"]),
        _series("force", BEAM, offsets, rod["closed_form"]["euler_bernoulli_N_per_mm"] * offsets),
        _series("shape", PASSIVE, path["passive_x_mm"], path["passive_z_mm"]),
        _series("shape", ROD, path["engaged_x_mm"], path["engaged_z_mm"]),
        _series("shape", BEAM, along, bent_up(along, two_point_deflection(along, base, span))),
    ]
    if like_straight(wire):
        activation, force = (np.linalg.norm(wire[key]) for key in ("activation_mm", "force_N"))
        parts.append(_series("force", CASE, [activation], [force]))
    if solid["stiffness_N_per_mm"] is not None:
        some = np.linspace(0.0, offsets[-1], _SOLID_POINTS)
        parts.append(_series("force", SOLID, some, solid["stiffness_N_per_mm"] * some))
        at = np.asarray(solid["positions_mm"])
        line = np.asarray(solid["deflection_mm_per_N"]) * solid["stiffness_N_per_mm"]
        parts.append(_series("shape", SOLID, at, bent_up(at, line)))
    return pd.concat(parts, ignore_index=True)


def linear_excess(table: pd.DataFrame, offset_mm: float) -> float:
    """By what share linear theory is above the rod in force at an offset."""
    rod, beam = (_points(table, "force", name) for name in (ROD, BEAM))
    exact = float(CubicSpline(*rod.T)(offset_mm))
    return float(np.interp(offset_mm, *beam.T)) / exact - 1.0


def deflection_figure(table: pd.DataFrame, span_mm: float, ranges: Spec | None = None) -> Figure:
    """Draw the table: force against offset, and deflected shapes at one offset.

    Parameters
    ----------
    ranges
        ``activation_mm`` and ``force_N`` at which the axes of the force end; None of either: the
        data's end.
    """
    figure = new_figure(9.6, 5.0)
    left, right = figure.subplots(1, 2)
    passive_end, rod_end = (_points(table, "shape", name)[-1, 1] for name in (PASSIVE, ROD))
    share = float(rod_end - passive_end) / span_mm
    _draw_force(left, table, span_mm, share)
    if ranges is not None:
        left.set_xlim(0, ranges["activation_mm"])
        left.set_ylim(0, ranges["force_N"])
    second_scale(left, "gf")
    _draw_shape(right, table, span_mm)
    right.set_title(f"Shapes when activated by {100 * share:.0f} % of the span")
    handles, labels = left.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=4, frameon=False)
    return figure


def _draw_force(axes: Axes, table: pd.DataFrame, span_mm: float, share: float) -> None:
    axes.plot(
        *_points(table, "force", ROD).T,
        color=FORCE_COLOUR,
        lw=THICK,
        label=f"{ROD} (finite rotations)",
    )
    axes.plot(*_points(table, "force", BEAM).T, "--", color=COUPLE_COLOUR, lw=LINE, label=BEAM)
    solid = _points(table, "force", SOLID)
    if len(solid):
        axes.plot(*solid.T, "s", color=THIRD_COLOUR, mfc="none", label=SOLID)
    case = _points(table, "force", CASE)
    for offset, force in case:
        axes.plot(
            offset, force, "*", color=WIRE_COLOUR, ms=13, label="this case (in space, on its teeth)"
        )
        axes.annotate(
            f"{force:.3g} N at {offset:.3g} mm",
            (offset, force),
            xytext=(8, -14),
            textcoords="offset points",
        )
    rod = CubicSpline(*_points(table, "force", ROD).T)
    for part in (share / 2, share):
        at = part * span_mm
        low, excess = float(rod(at)), linear_excess(table, at)
        axes.plot([at, at], [low, low * (1 + excess)], color=PASSIVE_COLOUR, lw=THIN)
        axes.annotate(
            f"{_percent(excess)} at\n{100 * part:.0f} % of span",
            (at, low * (1 + excess)),
            xytext=(-8, 2),
            textcoords="offset points",
            ha="right",
        )
    axes.set(xlabel="activation: offset of the end (mm)", ylabel="force at the end (N)")
    axes.set_xlim(0, None)
    axes.set_ylim(0, None)
    whose = "linear theory against finite rotations" if len(case) else _STRAIGHT
    axes.set_title(f"Force: {whose}")


def _draw_shape(axes: Axes, table: pd.DataFrame, span_mm: float) -> None:
    axes.plot(*_points(table, "shape", PASSIVE).T, ":", color=PASSIVE_COLOUR, lw=THICK)
    axes.plot(*_points(table, "shape", ROD).T, color=FORCE_COLOUR, lw=THICK)
    axes.plot(*_points(table, "shape", BEAM).T, "--", color=COUPLE_COLOUR, lw=LINE)
    axes.plot(*_points(table, "shape", SOLID).T, "s", color=THIRD_COLOUR, mfc="none", ms=4)
    rod, beam = _points(table, "shape", ROD), _points(table, "shape", BEAM)
    passive = _points(table, "shape", PASSIVE)
    base = beam[-1, 0] - span_mm
    axes.plot([0, base], [0, 0], color=TUBE_COLOUR, lw=_TUBE_PT, solid_capstyle="butt", zorder=0)
    axes.annotate("tube", (base / 2, 0), xytext=(0, 9), textcoords="offset points", ha="center")
    axes.annotate(
        "passive",
        passive[len(passive) * 2 // 3],
        xytext=(-6, -10),
        textcoords="offset points",
        ha="right",
        color=PASSIVE_COLOUR,
    )
    axes.annotate(
        f"the rod's end slides {rod[-1, 0] - beam[-1, 0]:.2g} mm along the bar,\n"
        "which linear theory does not see",
        rod[-1],
        xytext=(0, 34),
        textcoords="offset points",
        ha="right",
        arrowprops={"arrowstyle": "-", "color": PASSIVE_COLOUR},
    )
    axes.set(xlabel="distance along the tube (mm)", ylabel="height above the tube (mm)")
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + 0.35 * (high - low))


def _percent(share: float) -> str:
    return f"{abs(100 * share):.1f} % {'more' if share > 0 else 'less'}"


def _series(panel: str, name: str, x: object, y: object) -> pd.DataFrame:
    return pd.DataFrame({"panel": panel, "series": name, "x_mm": x, "y": y})


def _points(table: pd.DataFrame, panel: str, name: str) -> Array:
    chosen = table[(table["panel"] == panel) & (table["series"] == name)]
    return chosen[["x_mm", "y"]].to_numpy(dtype=float)
