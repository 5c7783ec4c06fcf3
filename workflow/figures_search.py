"""Figures of a search, from its table: couple against force, and which limit binds where."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import cycle
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from numpy.typing import NDArray

from workflow.figures import (
    CELL_LOOKS,
    COUPLE_COLOUR,
    FIFTH_COLOUR,
    FORCE_COLOUR,
    FOURTH_COLOUR,
    HAIR,
    HEAD_PT,
    LEAST_PT,
    LINE_MARKS,
    NOTE_PT,
    PAPER,
    PASSIVE_COLOUR,
    THIN,
    THIRD_COLOUR,
    WIRE_COLOUR,
    WITHIN_COLOUR,
    FigureText,
    force_text,
    new_figure,
)
from workflow.figures_wire_study import alloy_text, section_text
from workflow.search import NOT_ENGAGED, Found
from workflow.search_limits import Limit
from workflow.units import GF_PER_N, N_PER_GF

Array = NDArray[np.float64]
Look = tuple[str, str]  # colour and mark of an alloy

_ALLOY_COLOURS = (
    FORCE_COLOUR,
    FOURTH_COLOUR,
    COUPLE_COLOUR,
    THIRD_COLOUR,
    FIFTH_COLOUR,
    WIRE_COLOUR,
)
_IN_N = (lambda gf: gf * N_PER_GF, lambda newton: newton * GF_PER_N)
_LIMITS = (
    "yield",
    "most force",
    "least couple",
    "most couple",
    "ligament",
    "least force",
    "action",
    "room",
)
_LIMIT_LOOKS = dict(zip(_LIMITS, CELL_LOOKS, strict=True)) | {NOT_ENGAGED: (PAPER, "")}
_WITHIN_LOOK: dict[str, Any] = {"facecolor": WITHIN_COLOUR, "hatch": "", "linewidth": 0}
_LIMIT_LINE = WIRE_COLOUR


def trade_off_table(found: Found) -> pd.DataFrame:
    """Numbers of the map of couple against force: all designs that were engaged."""
    columns = ["alloy", "section", "hook", "run", "offset_mm", "force_gf", "couple_gfmm"]
    columns += ["yield_ratio", "feasible", "trade_off", "binding"]
    return found.table.loc[found.table["force_gf"].notna(), columns]


def trade_off_figure(table: pd.DataFrame, found: Found, title: str) -> Figure:
    """Couple and stress against force of all designs: crosses out of limits, full marks within.

    Parameters
    ----------
    table
        From `trade_off_table`.
    """
    figure = new_figure(11.0, 6.0)
    panels = figure.subplots(1, 2, sharex=True)
    alloys = list(dict.fromkeys(found.table["alloy"]))
    looks = dict(zip(alloys, cycle(zip(_ALLOY_COLOURS, LINE_MARKS, strict=True)), strict=False))
    for axes, column in zip(panels, ("couple_gfmm", "yield_ratio"), strict=True):
        _scatter(axes, table, column, looks)
        _draw_limits(axes, found.limits, column)
        if found.chosen is not None:
            row = found.table.loc[found.chosen]
            axes.plot(row["force_gf"], row[column], "*", color=WIRE_COLOUR, ms=15, mec="white")
        axes.set_xlabel("force on either unit (gf)")
        axes.secondary_xaxis("top", functions=_IN_N).set_xlabel("(N)", fontsize=NOTE_PT)
        axes.set_ylim(*_range_of(column, table, found.limits))
    panels[0].set_xlim(*_range_of("force_gf", table, found.limits))
    panels[0].set_ylabel("couple on the two-point unit (gf·mm)")
    panels[0].secondary_yaxis("right", functions=_IN_N).set_ylabel("(N·mm)", fontsize=NOTE_PT)
    panels[1].set_ylabel("peak stress of the wire over its yield strength")
    marks = _marks(looks, table, found)
    figure.legend(
        handles=marks, frameon=False, fontsize=NOTE_PT, ncols=3, loc="outside lower center"
    )
    figure.suptitle(f"{title}\n{_headline(found)}", fontsize=HEAD_PT)
    return figure


def _scatter(axes: Axes, table: pd.DataFrame, column: str, looks: dict[str, Look]) -> None:
    """All designs by alloy: pale crosses out of limits, full marks within, the best ringed."""
    for within in (False, True):
        for alloy, (colour, mark) in looks.items():
            rows = table[(table["alloy"] == alloy) & (table["feasible"] == within)]
            own: dict[str, Any] = {"marker": mark, "s": 11, "linewidths": 0}
            if not within:
                own = {"marker": "x", "s": 7, "linewidths": HAIR, "alpha": 0.25}
            axes.scatter(rows["force_gf"], rows[column], color=colour, rasterized=True, **own)
    best = table[table["trade_off"]]
    axes.plot(best["force_gf"], best[column], "o", mfc="none", mec=WIRE_COLOUR, mew=0.6, ms=5)


def _draw_limits(axes: Axes, limits: Sequence[Limit], column: str) -> None:
    for limit in limits:
        style = "-" if limit.column == "couple_gfmm" else "--"
        line: dict[str, Any] = {"color": _LIMIT_LINE, "lw": THIN, "ls": style}
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


def _marks(looks: dict[str, Look], table: pd.DataFrame, found: Found) -> list[Line2D]:
    """Legend: each alloy with the number of its designs within limits."""
    marks = []
    for alloy, (colour, mark) in looks.items():
        kept = int((table["feasible"] & (table["alloy"] == alloy)).sum())
        label = f"{alloy_text(alloy)} ({kept} within limits)"
        marks.append(Line2D([], [], color=colour, marker=mark, ls="none", ms=5, label=label))
    pale = Line2D([], [], color=PASSIVE_COLOUR, marker="x", ls="none", ms=4, mew=HAIR)
    pale.set_label("cross: breaks a limit")
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
        look = _WITHIN_LOOK if within else _limit_look(row["binding"])
        axes.add_patch(Rectangle((x - 0.48, y - 0.48), 0.96, 0.96, **look))
        percent = row["violation_percent"]
        text = f"{row['feasible']}" if within else f"+{percent:.0f} %" if percent < 1e4 else "–"
        weight = "bold" if within else "normal"
        box = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.8} if look["hatch"] else None
        axes.text(
            x, y, text, ha="center", va="center", fontsize=LEAST_PT, fontweight=weight, bbox=box
        )
    axes.set(xlim=(-0.5, len(hooks) - 0.5), ylim=(-0.5, len(sections) - 0.5))
    axes.set_xticks(range(len(hooks)), [f"{span:.3g}" for span in hooks["span_mm"]])
    axes.set_yticks(range(len(sections)), [section_text(name) for name in sections])
    axes.tick_params(length=0)
    axes.set_xlabel("span from the tube's mouth to the hook (mm)")
    broken = table.loc[table["feasible"] == 0, "binding"].drop_duplicates()
    marks = [Patch(label="within limits: number of designs", **_WITHIN_LOOK)]
    marks += [Patch(label=_limit_label(name), **_limit_look(name)) for name in broken]
    figure.legend(
        handles=marks, frameon=False, fontsize=NOTE_PT, ncols=4, loc="outside lower center"
    )
    n = int((table["feasible"] > 0).sum())
    figure.suptitle(
        f"{title}\n{n} of {len(table)} pairs of span and section have designs within all limits",
        fontsize=HEAD_PT,
        fontweight="bold",
    )
    return figure


def _limit_look(name: str) -> dict[str, Any]:
    """Fill and hatch of a limit; a limit on the force of one unit looks like the most force."""
    fill, hatch = _LIMIT_LOOKS.get(name, _LIMIT_LOOKS["most force"])
    return {"facecolor": fill, "hatch": hatch, "edgecolor": PASSIVE_COLOUR, "linewidth": 0}


def _limit_label(name: str) -> str:
    if name == NOT_ENGAGED:
        return "–: no wire can be engaged as asked"
    return f"{name}: by how much the nearest breaks it"


def trade_off_text(found: Found, title: str) -> FigureText:
    """What is said of the map of couple against force."""
    table = found.table
    forces = force_range(table["force_gf"])
    return FigureText(
        f"{title}: couple against force",
        f"Couple, and stress over yield, against the force of {len(table)} designs, {forces}.",
        f"{_headline(found)}.",
    )


def binding_text(table: pd.DataFrame, title: str) -> FigureText:
    """What is said of the map of binding limits."""
    within = int((table["feasible"] > 0).sum())
    broken = ", ".join(map(str, dict.fromkeys(table.loc[table["feasible"] == 0, "binding"])))
    return FigureText(
        f"{title}: which limit binds",
        f"Map over span ({table['span_mm'].min():.1f} to {table['span_mm'].max():.1f} mm) and "
        f"{table['section'].nunique()} sections: designs within limits, or the limit that binds.",
        f"{within} of {len(table)} pairs have designs within all limits; elsewhere binds: "
        f"{broken or 'nothing'}.",
    )


def force_range(force_gf: pd.Series) -> str:
    """Least and most of some forces in words."""
    low, high = (float(value) * N_PER_GF for value in (force_gf.min(), force_gf.max()))
    return f"from {force_text(low, ' ')} to {force_text(high, ' ')}"
