"""Figure of where beam theory holds, drawn from its tables."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FixedLocator, LogLocator, NullLocator

from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    HAIR,
    HEAD_PT,
    LINE,
    NOTE_PT,
    PASSIVE_COLOUR,
    TEXT_PT,
    THICK,
    THIN,
    UNSURE_COLOUR,
    WIRE_COLOUR,
    FigureText,
    new_figure,
)
from workflow.figures_wire_study import section_text

_METHODS = {"formula": COUPLE_COLOUR, "rod": FORCE_COLOUR}
_SECTION_LOOKS = (("o", "-"), ("s", "--"), ("^", "-."), ("D", ":"))
_SHAPES = {
    "straight": ("Straight wire", "span over wire height", "span"),
    "u_loop": ("U loop", "loop radius over wire height", "radius"),
    "helix": ("Helix, one turn", "loop radius over wire height", "radius"),
}
_GUIDES = (1.0, 5.0)
_NOTES = {
    "u_loop": "A bend stiffens the wire; no straight-beam law knows it.\n"
    "The formula leaves out shear too: two errors in part cancel.",
    "helix": "Loops stand alone, clamped at one end and loaded\n"
    "at the other; legs dilute the error.",
}
_SURE_PERCENT = 0.03  # the disc's second moment is 2e-4 short, the curve costs 1e-4
_FLOOR_PERCENT = 0.01


def reach(sizes: pd.Series, errors: pd.Series, percent: float) -> float:
    """Where the size of an error last crosses a value, between points on straight log–log lines.

    Returns
    -------
    float
        The first point if the error never exceeds the value.
    """
    x, y = np.log(sizes.to_numpy()), np.log(np.abs(errors.to_numpy()) / percent)
    above = np.flatnonzero(y > 0)
    if not len(above):
        return float(sizes.iloc[0])
    i = int(above[-1])
    if i + 1 == len(x):
        return float("inf")
    return float(np.exp(x[i] - y[i] * (x[i + 1] - x[i]) / (y[i + 1] - y[i])))


def beam_theory_figure(small: pd.DataFrame, far: pd.DataFrame) -> Figure:
    """Errors of formula and rod against the solid: slenderness, deflection, tight loops.

    Parameters
    ----------
    small
        Tables of `workflow.beam_theory.beam_theory_table` with a column ``section``.
    far
        Tables of `workflow.beam_theory.large_bending_table` with a column ``section``.
    """
    figure = new_figure(9.5, 8.6)
    grid = figure.subplots(2, 2, sharey=True)
    flat = small[small["direction"] == "in_plane"]
    for axes, shape in zip((grid[0, 0], grid[1, 0], grid[1, 1]), _SHAPES, strict=True):
        _stiffness_panel(axes, flat[flat["shape"] == shape], shape)
    _deflection_panel(grid[0, 1], far)
    largest = max(float(t[f"{m}_error_percent"].abs().max()) for t in (flat, far) for m in _METHODS)
    grid[0, 0].set_ylim(_FLOOR_PERCENT, 1.5 * largest)
    for axes in grid[:, 0]:
        axes.set_ylabel("error against the 3D solid (%)")
    figure.suptitle(_finding(flat, far), fontsize=HEAD_PT)
    figure.legend(handles=_handles(list(dict.fromkeys(small["section"]))), ncols=4,
                  loc="outside lower center", frameon=False)  # fmt: skip
    return figure


def _stiffness_panel(axes: Axes, table: pd.DataFrame, shape: str) -> None:
    name, label, said = _SHAPES[shape]
    reaches = {method: dict.fromkeys(_GUIDES, 0.0) for method in _METHODS}
    for (_, rows), look in zip(table.groupby("section", sort=False), _SECTION_LOOKS, strict=False):
        sizes = rows["size_over_height"]
        for method in _METHODS:
            errors = rows[f"{method}_error_percent"]
            _curve(axes, sizes, errors, method, look)
            for limit in _GUIDES:
                found = reach(sizes, errors, limit)
                reaches[method][limit] = max(reaches[method][limit], found)
        if shape != "straight":
            axes.plot(
                sizes, rows["winkler_percent"].abs(), color=PASSIVE_COLOUR, lw=THIN, ls=look[1]
            )
    _guides(axes, table["size_over_height"])
    height = float(table["height_mm"].iloc[0])
    _in_mm(axes, height, f"{said}, wire {height:.3g} mm high (mm)")
    axes.set_xlabel(label)
    least = float(table["size_over_height"].min())
    words = [f"{method} {_from(said, limits[1.0], least)}" for method, limits in reaches.items()]
    axes.set_title(f"{name}\nwithin 1 %: {words[0]},\n{words[1]}", fontsize=TEXT_PT)
    if shape in _NOTES:
        axes.text(
            0.03,
            0.16,
            _NOTES[shape],
            transform=axes.transAxes,
            fontsize=NOTE_PT,
            color=PASSIVE_COLOUR,
        )


def _from(what: str, found: float, least: float) -> str:
    return f"from a {what} of {found:.2g} heights" if found > least else "always"


def _deflection_panel(axes: Axes, table: pd.DataFrame) -> None:
    for (_, rows), look in zip(table.groupby("section", sort=False), _SECTION_LOOKS, strict=False):
        for method in _METHODS:
            shares = 100 * rows["deflection_over_span"]
            _curve(axes, shares, rows[f"{method}_error_percent"], method, look)
    shares = 100 * table["deflection_over_span"]
    _guides(axes, shares)
    span = float(table["span_mm"].iloc[0])
    _in_mm(axes, span / 100, f"deflection of a span of {span:.3g} mm (mm)")
    axes.set_xlabel("deflection over span (%)")
    last = table[table["deflection_over_span"] == table["deflection_over_span"].max()]
    off, rod = (float(last[f"{m}_error_percent"].abs().max()) for m in _METHODS)
    axes.set_title(
        f"Straight wire bent far, span {table['span_over_height'].iloc[0]:g} heights\n"
        f"at {shares.max():g} % of the span: formula {off:.0f} % off, rod {rod:.1g} %",
        fontsize=TEXT_PT,
    )


def _in_mm(axes: Axes, mm_per_unit: float, label: str) -> None:
    """Second scale above a panel, in mm."""
    top = axes.secondary_xaxis(
        "top",
        functions=(lambda x: np.multiply(x, mm_per_unit), lambda x: np.divide(x, mm_per_unit)),
    )
    top.set_xlabel(label, fontsize=NOTE_PT)
    top.xaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
    top.xaxis.set_major_formatter("{x:g}")
    top.xaxis.set_minor_locator(NullLocator())


def _curve(
    axes: Axes, sizes: pd.Series, errors: pd.Series, method: str, look: tuple[str, str]
) -> None:
    """Size of an error; full marks where the method is too stiff, empty ones where too soft."""
    colour, (mark, line) = _METHODS[method], look
    size = errors.abs()
    axes.plot(sizes, size, color=colour, ls=line, lw=LINE)
    for chosen, face in ((errors >= 0, colour), (errors < 0, "white")):
        axes.plot(
            sizes[chosen], size[chosen], mark, ms=5, color=colour, mfc=face, ls="none", zorder=3
        )


def _guides(axes: Axes, sizes: pd.Series) -> None:
    axes.set(xscale="log", yscale="log")
    ticks = sorted(set(sizes))
    axes.xaxis.set_major_locator(FixedLocator(ticks))
    axes.xaxis.set_major_formatter("{x:g}")
    axes.xaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_major_formatter("{x:g}")
    axes.axhspan(_FLOOR_PERCENT, _SURE_PERCENT, color=UNSURE_COLOUR, zorder=0)
    for limit in _GUIDES:
        axes.axhline(limit, color=PASSIVE_COLOUR, lw=HAIR)
        axes.annotate(
            f"{limit:g} %", (1, limit), (-2, 2), xycoords=("axes fraction", "data"),
            textcoords="offset points", ha="right", fontsize=NOTE_PT, color=PASSIVE_COLOUR,
        )  # fmt: skip


def _finding(small: pd.DataFrame, far: pd.DataFrame) -> str:
    straight = small[small["shape"] == "straight"]
    loops = small[small["shape"] != "straight"]
    worst = max(float(t["rod_error_percent"].abs().max()) for t in (straight, far))
    tight = max(
        reach(rows["size_over_height"], rows["rod_error_percent"], 1.0)
        for _, rows in loops.groupby(["shape", "section"])
    )
    least = loops[loops["size_over_height"] == loops["size_over_height"].min()]
    return (
        f"The rod follows the solid within {worst:.1g} % on straight wire, short or bent far.\n"
        f"In loops it is within 1 % from a radius of {tight:.2g} heights on, and "
        f"{least['rod_error_percent'].abs().max():.0f} % too soft at "
        f"{least['size_over_height'].iloc[0]:g}."
    )


def _handles(sections: list[str]) -> list[Artist]:
    labels = {
        "formula": "formula: thin wire, small deflection",
        "rod": "rod with shear and finite rotation",
    }
    methods = [Line2D([], [], color=_METHODS[m], lw=THICK, label=labels[m]) for m in _METHODS]
    winkler = Line2D(
        [], [], color=PASSIVE_COLOUR, lw=THIN, label="rod's error as Winkler's theory has it"
    )
    looks = [
        Line2D([], [], color=WIRE_COLOUR, marker=mark, ls=line, label=section_text(name))
        for name, (mark, line) in zip(sections, _SECTION_LOOKS, strict=False)
    ]
    signs = [
        Line2D([], [], color=WIRE_COLOUR, marker="o", mfc=face, ls="none", label=label)
        for face, label in ((WIRE_COLOUR, "too stiff"), ("white", "too soft"))
    ]
    unsure = Patch(color=UNSURE_COLOUR, label="the solid itself is no surer")
    return [*methods, winkler, unsure, *looks, *signs]


def beam_theory_text(small: pd.DataFrame, far: pd.DataFrame) -> FigureText:
    """What is said of the figure."""
    flat = small[small["direction"] == "in_plane"]
    sections = ", ".join(section_text(str(name)) for name in dict.fromkeys(small["section"]))
    return FigureText(
        "Where beam theory holds",
        "Errors of the formula and of the rod against a 3D solid, for a straight wire over its "
        f"span and over its deflection, a U loop and a helix over their radius; wires {sections}.",
        _finding(flat, far).replace("\n", " "),
    )
