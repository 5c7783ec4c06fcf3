"""Figures of a search, from its table: couple against force, and which limit binds where."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from numpy.typing import NDArray

from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    PASSIVE_COLOUR,
    THIRD_COLOUR,
    WIRE_COLOUR,
    new_figure,
)
from workflow.figures_wire_study import alloy_text, section_text
from workflow.search import NOT_ENGAGED, Found
from workflow.search_limits import Limit

Array = NDArray[np.float64]

_ALLOY_COLOURS = (FORCE_COLOUR, "#9C6BB5", COUPLE_COLOUR, THIRD_COLOUR, "#B8860B", WIRE_COLOUR)
_FEASIBLE_COLOUR = "#CDE8D4"
_LIMIT_COLOURS = {
    "least couple": "#E7D3EE",
    "most couple": "#D3C2E6",
    "least force": "#C9DEF2",
    "most force": "#A9CBE8",
    "yield": "#F2B8A0",
    "ligament": "#F6DDA4",
    "action": "#D9D9D9",
    "room": "#B9B2A3",
    NOT_ENGAGED: "#F4F4F4",
}
_FORCE_ON = "#A9CBE8"
_LIMIT_LINE = "#B00020"


def trade_off_table(found: Found) -> pd.DataFrame:
    """Numbers of the map of couple against force: all designs that were engaged."""
    columns = ["alloy", "section", "hook", "run", "offset_mm", "force_gf", "couple_gfmm"]
    columns += ["yield_ratio", "feasible", "trade_off", "binding"]
    return found.table.loc[found.table["force_gf"].notna(), columns]


def trade_off_figure(table: pd.DataFrame, found: Found, title: str) -> Figure:
    """Couple and stress against force of all designs: pale out of limits, full within.

    Parameters
    ----------
    table
        From `trade_off_table`.
    """
    figure = new_figure(11.0, 6.0)
    panels = figure.subplots(1, 2, sharex=True)
    alloys = list(dict.fromkeys(found.table["alloy"]))
    colours = dict(zip(alloys, _cycled(len(alloys)), strict=True))
    for axes, column in zip(panels, ("couple_gfmm", "yield_ratio"), strict=True):
        _scatter(axes, table, column, colours)
        _draw_limits(axes, found.limits, column)
        if found.chosen is not None:
            row = found.table.loc[found.chosen]
            axes.plot(row["force_gf"], row[column], "*", color=WIRE_COLOUR, ms=15, mec="white")
        axes.set_xlabel("force on either unit (gf)")
        axes.set_ylim(*_range_of(column, table, found.limits))
    panels[0].set_xlim(*_range_of("force_gf", table, found.limits))
    panels[0].set_ylabel("couple on the two-point unit (gf·mm)")
    panels[1].set_ylabel("peak stress of the wire over its yield strength")
    marks = _marks(colours, table, found)
    figure.legend(handles=marks, frameon=False, fontsize=8, ncols=3, loc="outside lower center")
    figure.suptitle(f"{title}\n{_headline(found)}", fontsize=11, fontweight="bold")
    return figure


def _scatter(axes: Axes, table: pd.DataFrame, column: str, colours: dict[str, str]) -> None:
    """All designs by their alloy, those within limits in full colour; the best of them ringed."""
    shade, inside = table["alloy"].map(colours), table["feasible"]
    look: dict[str, Any] = {"s": 9, "linewidths": 0, "rasterized": True}
    for rows, alpha in ((~inside, 0.16), (inside, 1.0)):
        axes.scatter(
            table["force_gf"][rows], table[column][rows], c=shade[rows], alpha=alpha, **look
        )
    best = table[table["trade_off"]]
    axes.plot(best["force_gf"], best[column], "o", mfc="none", mec=WIRE_COLOUR, mew=0.6, ms=5)


def _cycled(n: int) -> list[str]:
    return [_ALLOY_COLOURS[k % len(_ALLOY_COLOURS)] for k in range(n)]


def _draw_limits(axes: Axes, limits: Sequence[Limit], column: str) -> None:
    for limit in limits:
        style = "-" if limit.column == "couple_gfmm" else "--"
        line: dict[str, Any] = {"color": _LIMIT_LINE, "lw": 1.0, "ls": style}
        if limit.column == column:
            axes.axhline(limit.bound, **line)
        elif limit.column == "force_gf":
            axes.axvline(limit.bound, **line)


def _range_of(column: str, table: pd.DataFrame, limits: Sequence[Limit]) -> tuple[float, float]:
    """Range of an axis that shows all limits and the designs near them."""
    bounds = [limit.bound for limit in limits if limit.column == column]
    values = table[column].to_numpy(dtype=float)
    low, high = np.quantile(values, [0.0, 1.0]) if len(values) else (0.0, 1.0)
    if bounds:
        low, high = min(low, *bounds, high), min(max(high, *bounds, low), 1.6 * max(bounds))
    room = 0.06 * (high - low)
    return max(float(low - room), 0.0), float(high + room)


def _marks(colours: dict[str, str], table: pd.DataFrame, found: Found) -> list[Line2D]:
    """Legend: each alloy with the number of its designs within limits."""
    marks = []
    for alloy, colour in colours.items():
        kept = int((table["feasible"] & (table["alloy"] == alloy)).sum())
        label = f"{alloy_text(alloy)} ({kept} within limits)"
        marks.append(Line2D([], [], color=colour, marker="o", ls="none", ms=5, label=label))
    pale = Line2D([], [], color=PASSIVE_COLOUR, marker="o", ls="none", ms=5, alpha=0.3)
    pale.set_label("pale: breaks a limit")
    ring = Line2D([], [], mfc="none", mec=WIRE_COLOUR, color=WIRE_COLOUR, marker="o", ls="none")
    ring.set_label("none better in force, couple and stress at once")
    wish = Line2D([], [], color=_LIMIT_LINE, label="couple wished for")
    other = Line2D([], [], color=_LIMIT_LINE, ls="--", label="other limits")
    marks += [pale, ring, wish, other]
    if found.chosen is not None:
        star = Line2D([], [], color=WIRE_COLOUR, marker="*", ls="none", ms=11, label="chosen")
        marks.append(star)
    return marks


def _headline(found: Found) -> str:
    kept, n = int(found.table["feasible"].sum()), len(found.table)
    if found.chosen is None:
        return f"None of {n:,} designs keeps all limits".replace(",", " ")
    row = found.table.loc[found.chosen]
    return (
        f"{kept:,} of {n:,} designs keep all limits; chosen: ".replace(",", " ")
        + f"{alloy_text(str(row['alloy']))} {section_text(str(row['section']))}, run {row['run']}, "
        f"span {row['span_mm']:.3g} mm, {row['force_gf']:.3g} gf"
    )


def binding_table(found: Found) -> pd.DataFrame:
    """One row a hook and section: designs within limits, and the worst limit of the nearest one."""
    rows = []
    for (section, hook), part in found.table.groupby(["section", "hook"], sort=False):
        best = part.iloc[int(part["violation"].to_numpy().argmin())]
        kept = int(part["feasible"].sum())
        rows.append(
            {
                "section": section,
                "hook": hook,
                "span_mm": float(best["span_mm"]),
                "designs": len(part),
                "feasible": kept,
                "binding": best["binding"],
                "violation_percent": 100 * best["violation"],
            }
        )
    return pd.DataFrame(rows)


def binding_figure(table: pd.DataFrame, title: str) -> Figure:
    """Map over span and section: within limits how many designs, else which limit binds.

    Parameters
    ----------
    table
        From `binding_table`.
    """
    hooks = table.drop_duplicates("hook").sort_values("span_mm")
    sections = list(dict.fromkeys(table["section"]))
    figure = new_figure(max(8.0, 0.62 * len(hooks) + 3.2), 0.42 * len(sections) + 2.6)
    axes = figure.subplots()
    column = {name: k for k, name in enumerate(hooks["hook"])}
    for row in table.to_dict("records"):
        x, y = column[row["hook"]], sections.index(row["section"])
        within = row["feasible"] > 0
        colour = _FEASIBLE_COLOUR if within else _limit_colour(row["binding"])
        axes.add_patch(Rectangle((x - 0.5, y - 0.5), 1, 1, fc=colour, ec="white"))
        percent = row["violation_percent"]
        text = f"{row['feasible']}" if within else f"+{percent:.0f} %" if percent < 1e4 else "–"
        weight = "bold" if within else "normal"
        axes.text(x, y, text, ha="center", va="center", fontsize=7.5, fontweight=weight)
    axes.set(xlim=(-0.5, len(hooks) - 0.5), ylim=(-0.5, len(sections) - 0.5))
    axes.set_xticks(range(len(hooks)), [f"{span:.3g}" for span in hooks["span_mm"]])
    axes.set_yticks(range(len(sections)), [section_text(name) for name in sections])
    axes.tick_params(length=0)
    axes.set_xlabel("span from the tube's mouth to the hook (mm)")
    broken = table.loc[table["feasible"] == 0, "binding"].drop_duplicates()
    marks = [Patch(fc=_FEASIBLE_COLOUR, label="within limits: number of designs")]
    marks += [Patch(fc=_limit_colour(name), label=_limit_label(name)) for name in broken]
    figure.legend(handles=marks, frameon=False, fontsize=8, ncols=4, loc="outside lower center")
    n = int((table["feasible"] > 0).sum())
    figure.suptitle(
        f"{title}\n{n} of {len(table)} pairs of span and section have designs within all limits",
        fontsize=11,
        fontweight="bold",
    )
    return figure


def _limit_colour(name: str) -> str:
    return _LIMIT_COLOURS.get(name, _FORCE_ON)


def _limit_label(name: str) -> str:
    if name == NOT_ENGAGED:
        return "–: no wire can be engaged as asked"
    return f"{name}: by how much the nearest breaks it"
