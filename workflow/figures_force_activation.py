"""Force on the hook and couple at the tube over the activation of a case's wire."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    LINE,
    PASSIVE_COLOUR,
    THICK,
    THIN,
    THIRD_COLOUR,
    WIRE_COLOUR,
    FigureText,
    couple_text,
    force_text,
    new_figure,
    second_scale,
    three_digits,
)
from workflow.specs import Spec

Array = NDArray[np.float64]

ROD, LINEAR, SOLID = "rod", "linear beam theory", "3D solid"
ACTIVATING, LETTING_BACK = "activating", "letting back"
RUB_UP, RUB_DOWN = "activating, with friction", "letting back, with friction"
WORKING, FIRST_YIELD, BAND_END = "working point", "first yield", "end of the band"
FIRST_SLIP, CLOSING = "first slip", "wall of the tube reached"
_SMOOTH_POINTS = 200
_NOTHING = 1e-3


def curve_figure(table: pd.DataFrame, record: Spec, ranges: Spec | None = None) -> Figure:
    """Draw the table: force and couple, each over the activation, with a second scale in gf.

    Parameters
    ----------
    ranges
        ``activation_mm``, ``force_N`` and ``couple_Nmm`` at which the axes end; None of any: the
        data's end.
    """
    ends = ranges or dict.fromkeys(("activation_mm", "force_N", "couple_Nmm"))
    figure = new_figure(9.6, 5.4)
    left, right = figure.subplots(1, 2)
    limit = "plateau begins" if record["superelastic"] else FIRST_YIELD
    _draw(left, table, "force_N", FORCE_COLOUR, limit)
    working = record["working_point"]
    at = f"at {three_digits(working['activation_mm'])} mm"
    left.set(ylabel="force on the hook (N)")
    left.set_title(f"Force on the hook: {force_text(working['force_N'], ' ')} {at}")
    _mark_band(left, table, record)
    _draw(right, table, "couple_Nmm", COUPLE_COLOUR, limit)
    right.set(ylabel="couple at the tube, about its middle (N·mm)")
    right.set_title(f"Couple at the tube: {couple_text(working['couple_Nmm'], ' ')} {at}")
    for axes, unit, end in ((left, "gf", "force_N"), (right, "gf·mm", "couple_Nmm")):
        axes.set_xlabel("activation: distance from the wire's end to the hook (mm)")
        axes.set_xlim(0, ends["activation_mm"])
        axes.set_ylim(0, ends[end])
        second_scale(axes, unit)
    handles, labels = left.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=5, frameon=False)
    return figure


def curve_texts(record: Spec) -> tuple[str, str]:
    """Alternative text and caption: rate, range and first yield as the record has them."""
    rate, linear = map(_rate_text, (record, record["linear_theory"]))
    working = record["working_point"]
    at = f"{force_text(working['force_N'], ' ')} at {three_digits(working['activation_mm'])} mm"
    share = f"{100 * record['band']['share']:.0f} %"
    return (
        f"Force on the hook and couple at the tube over the activation, by finite rotations on "
        f"the teeth and by linear theory; working point {at}.",
        f"The force stays within ±{share} of the working force {range_text(record)}; it changes "
        f"by {rate} at the working point (by linear theory {linear}). "
        f"{_capital(yield_text(record))}.",
    )


def _rate_text(record: Spec) -> str:
    """A load-deflection rate in N/mm and gf/mm."""
    in_N, in_gf = (three_digits(record[f"rate_{unit}_per_mm"]) for unit in ("N", "gf"))
    return f"{in_N} N/mm ({in_gf} gf/mm)"


def range_text(record: Spec) -> str:
    """Range of activation in words."""
    lower, upper = record["band"]["lower"], record["band"]["upper"]
    low = three_digits(lower["activation_mm"])
    if upper is None:
        end = three_digits(record["curve_end_mm"])
        return f"from {low} mm of activation to at least {end} mm"
    width = three_digits(upper["activation_mm"] - lower["activation_mm"])
    high = three_digits(upper["activation_mm"])
    return f"over {width} mm of activation, from {low} to {high} mm"


def yield_text(record: Spec) -> str:
    """Where the wire comes to its elastic limit, and what follows, in words."""
    first, end = record["first_yield"], three_digits(record["curve_end_mm"])
    if first is None:
        limit = "come to its plateau" if record["superelastic"] else "yield"
        return f"the wire does not {limit} up to {end} mm"
    at = f"{three_digits(first['activation_mm'])} mm"
    begins = "the wire's plateau begins" if record["superelastic"] else "the wire first yields"
    text = f"{begins} at {at}"
    upper, history = record["band"]["upper"], record["history"]
    if history is not None:
        left = history["no_force_left_mm"]
        if left is not None and left < _NOTHING * record["working_point"]["activation_mm"]:
            text += "; let back, it returns in full"
        elif left is not None:
            text += f"; let back, it has no force left at {three_digits(left)} mm"
    elif upper is None or first["activation_mm"] < upper["activation_mm"]:
        text += ", within that range: beyond it a real wire gives less than this elastic one"
    return text


def _draw(axes: Axes, table: pd.DataFrame, column: str, colour: str, limit: str) -> None:
    """The curves, dotted where a real wire leaves the elastic one, and the marks."""
    rod, linear = _points(table, ROD, column), _points(table, LINEAR, column)
    first, loading = _points(table, FIRST_YIELD, column), _points(table, ACTIVATING, column)
    fine = np.linspace(0.0, rod[-1, 0], _SMOOTH_POINTS)
    smooth = PchipInterpolator(*rod.T)
    end = first[0, 0] if len(first) else fine[-1]
    below = np.append(fine[fine < end], end)
    axes.plot(below, smooth(below), color=colour, lw=THICK, label=f"{ROD} (finite rotations)")
    if len(first):
        beyond = np.insert(fine[fine > end], 0, end)
        dots = PASSIVE_COLOUR if len(loading) else colour
        axes.plot(beyond, smooth(beyond), ":", color=dots, lw=LINE, label="if it stayed elastic")
    if len(loading):
        past = loading[loading[:, 0] >= end]
        axes.plot(*past.T, color=colour, lw=THICK, alpha=0.6, label=ACTIVATING)
    back = _points(table, LETTING_BACK, column)
    if len(back):
        axes.plot(*back.T, color=colour, lw=THICK, dashes=(6, 1.5), label=LETTING_BACK)
    for name, look in ((RUB_UP, "-"), (RUB_DOWN, "-.")):
        rubbing = _points(table, name, column)
        if len(rubbing):
            axes.plot(*rubbing.T, look, color=THIRD_COLOUR, lw=THIN, label=name)
    axes.plot(*linear.T, "--", color=PASSIVE_COLOUR, lw=THIN, label=LINEAR)
    for name, marker, size in ((FIRST_YIELD, "X", 9), (FIRST_SLIP, "D", 7), (CLOSING, "^", 7)):
        marks = _points(table, name, column)
        if len(marks):
            text = f"{limit} ({three_digits(marks[0, 0])} mm)" if name == FIRST_YIELD else name
            axes.plot(*marks.T, marker, color=THIRD_COLOUR, ms=size, label=text)
    solid = _points(table, SOLID, column)
    if len(solid):
        axes.plot(*solid.T, "s", color=WIRE_COLOUR, mfc="none", ms=7, label=SOLID)
    axes.plot(*_points(table, WORKING, column).T, "*", color=WIRE_COLOUR, ms=13, label=WORKING)


def _mark_band(axes: Axes, table: pd.DataFrame, record: Spec) -> None:
    """Shade the forces near the working force, and say over which activations they hold."""
    share, force = record["band"]["share"], record["working_point"]["force_N"]
    axes.axhspan((1 - share) * force, (1 + share) * force, color=FORCE_COLOUR, alpha=0.10, lw=0)
    ends = _points(table, BAND_END, "force_N")
    for activation, value in ends:
        axes.plot([activation, activation], [0, value], color=FORCE_COLOUR, lw=THIN)
    axes.plot(*ends.T, "o", color=FORCE_COLOUR, mfc="white", ms=6, zorder=3)
    last = ends[-1, 0] if len(ends) > 1 else record["curve_end_mm"]
    height = 0.12 * force
    arrow = {"arrowstyle": "<->", "color": FORCE_COLOUR}
    axes.annotate("", (ends[0, 0], height), xytext=(last, height), arrowprops=arrow)
    lines = range_text(record).replace("of activation, ", "of activation,\n")
    axes.annotate(
        f"force within ±{100 * share:.0f} %\n{lines}",
        (0.5 * (ends[0, 0] + last), height),
        xytext=(0, 9),
        textcoords="offset points",
        ha="center",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
    )


def _points(table: pd.DataFrame, series: str, column: str) -> Array:
    return table.loc[table["series"] == series, ["activation_mm", column]].to_numpy(dtype=float)


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def curve_text(case: Spec, record: Spec) -> FigureText:
    """What is said of the figure."""
    return FigureText(
        f"Force and couple over the activation: {case['title']}", *curve_texts(record)
    )
