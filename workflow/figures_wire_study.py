"""Figures of the study of wires, from their tables: bending test, ladder of stiffness."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, NullLocator

from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    FOURTH_COLOUR,
    GRID_COLOUR,
    HAIR,
    HEAD_PT,
    NOTE_PT,
    PASSIVE_COLOUR,
    TEXT_PT,
    THIRD_COLOUR,
    WIRE_COLOUR,
    FigureText,
    force_text,
    new_figure,
)
from workflow.units import GF_PER_N

_ALLOY_COLOURS = (WIRE_COLOUR, FOURTH_COLOUR, COUPLE_COLOUR, THIRD_COLOUR, FORCE_COLOUR)
_LIKE_PERCENT = 10
_ALLOY_MARKS = ("o", "D", "s", "^", "v")
_ALLOYS = {
    "stainless_steel": "stainless steel",
    "cobalt_chromium": "cobalt–chromium",
    "beta_titanium": "β-titanium",
    "nickel_titanium_stabilised": "Ni-Ti, stabilised",
    "nickel_titanium_superelastic": "Ni-Ti, superelastic",
}


def alloy_text(name: str) -> str:
    """Name of an alloy as it is written in a figure."""
    return _ALLOYS.get(name, name.replace("_", " "))


def section_text(name: str) -> str:
    """Name of a section as it is written in a figure."""
    kind, size, unit, *rounded = name.split("_")
    words = [size.replace("x", " × "), unit, *(["round"] if kind == "round" else []), *rounded]
    return " ".join(words)


def bending_test_figure(curves: pd.DataFrame, summary: pd.DataFrame) -> Figure:
    """Load against deflection of all alloys, and of the softer half on a larger scale."""
    figure = new_figure(10.0, 5.2)
    panels = figure.subplots(1, 2)
    alloys = list(summary["alloy"])
    soft = [a for a in alloys if a.startswith("nickel_titanium")]
    for axes, shown in zip(panels, (alloys, soft), strict=True):
        chosen = summary[summary["alloy"].isin(shown)]
        top = 1.17 * float(chosen["largest_force_N"].max())
        for row in chosen.to_dict("records"):
            _load_deflection(axes, curves[curves["alloy"] == row["alloy"]], row)
        axes.set(xlim=(0, None), ylim=(0, top), xlabel="deflection of the middle (mm)")
        axes.set_ylabel("force of the indenter (N)")
        right = axes.secondary_yaxis(
            "right",
            functions=(lambda f: np.multiply(f, GF_PER_N), lambda f: np.divide(f, GF_PER_N)),
        )
        right.set_ylabel("(gf)")
    panels[0].set_title(_sets(summary), fontsize=TEXT_PT, loc="left")
    panels[1].set_title(
        _plateau(summary[summary["alloy"].isin(soft)]), fontsize=TEXT_PT, loc="left"
    )
    panels[0].legend(framealpha=1, edgecolor="none", fontsize=NOTE_PT, loc="upper right")
    figure.suptitle(_springs_back(curves, summary), fontsize=HEAD_PT)
    figure.supxlabel(
        "Full: loading. Dashed: unloading. Thin dotted: slope 48 EI/L³ of small deflection. "
        "●: permanent set. What yields is taken as perfectly plastic: the largest set.\n"
        "Stabilised Ni-Ti yields more gently than that and springs back further. "
        "Friction, radii of supports and indenter are left out.",
        fontsize=NOTE_PT,
    )
    return figure


def _load_deflection(axes: Axes, curve: pd.DataFrame, row: dict[Hashable, Any]) -> None:
    colour = dict(zip(_ALLOYS, _ALLOY_COLOURS, strict=True)).get(row["alloy"], WIRE_COLOUR)
    loading = curve["branch"] == "loading"
    label = alloy_text(row["alloy"])
    turn = curve[loading].tail(1)
    back = pd.concat([turn, curve[~loading]])
    axes.plot(curve["deflection_mm"][loading], curve["force_N"][loading], color=colour, label=label)
    axes.plot(back["deflection_mm"], back["force_N"], "--", color=colour)
    slope = row["slope_48EI_per_L3_N_per_mm"]
    high = 1.15 * row["largest_force_N"]
    axes.plot([0, high / slope], [0, high], ":", color=colour, lw=HAIR)
    axes.plot(row["permanent_set_mm"], 0, "o", color=colour, ms=6, clip_on=False, zorder=4)


def _springs_back(curves: pd.DataFrame, summary: pd.DataFrame) -> str:
    first, deepest = summary.iloc[0], curves["deflection_mm"].max()
    whole = summary[summary["permanent_set_mm"] < 0.01 * deepest]["alloy"]
    names = ", ".join(alloy_text(str(name)) for name in whole) or "none"
    return (
        f"Three-point bending to {deepest:g} mm, span {first['span_mm']:g} mm, wire of "
        f"{first['height_mm']:.3g} mm\nSprings back in full: {names}"
    )


def _sets(summary: pd.DataFrame) -> str:
    parts = [
        f"{alloy_text(str(row['alloy']))} {row['permanent_set_mm']:.2f}"
        for row in summary.to_dict("records")
    ]
    return "Permanent set (mm):\n" + ", ".join(parts[:2]) + ",\n" + ", ".join(parts[2:])


def _plateau(summary: pd.DataFrame) -> str:
    lines = ["Unloading force at 2, 1 and 0.5 mm:"]
    for row in summary.to_dict("records"):
        forces = ", ".join(f"{row[f'unloading_{d}_mm_gf']:.0f}" for d in ("2", "1", "0.5"))
        said = f"{forces} gf" if row["unloading_2_mm_gf"] > 0 else "none left"
        lines.append(f"{alloy_text(str(row['alloy']))}: {said}")
    return "\n".join(lines)


def stiffness_figure(ladder: pd.DataFrame, reference: tuple[str, str]) -> Figure:
    """Relative load at equal deflection: a ladder of marks, and the numbers beside it.

    Parameters
    ----------
    ladder
        One row a section from soft to stiff, one column an alloy; the reference wire is 1.
    reference
        Alloy and section of the wire that counts as 100 %.
    """
    percent = 100 * ladder
    alloys = [str(name) for name in percent]
    figure = new_figure(10.5, 0.44 * len(percent) + 2.2)
    left, right = figure.subplots(1, 2, sharey=True, width_ratios=(1.6, 1))
    place = np.arange(len(percent))
    dodge = np.linspace(0.2, -0.2, len(alloys))
    for alloy, colour, mark, by in zip(alloys, _ALLOY_COLOURS, _ALLOY_MARKS, dodge, strict=False):
        face = "white" if "superelastic" in alloy else colour
        look = {"color": colour, "mfc": face, "ms": 6, "ls": "none", "label": alloy_text(alloy)}
        left.plot(percent[alloy], place + by, mark, **look)
    left.axvline(100, color=PASSIVE_COLOUR, lw=HAIR)
    left.set(xscale="log", yticks=place, ylim=(-0.6, len(percent) - 0.4))
    left.set_yticklabels([section_text(str(name)) for name in percent.index])
    left.xaxis.set_major_locator(FixedLocator([2, 5, 10, 20, 50, 100, 200, 500, 1000]))
    left.xaxis.set_major_formatter("{x:g}")
    left.xaxis.set_minor_locator(NullLocator())
    left.grid(color=GRID_COLOUR, lw=HAIR)
    left.set_axisbelow(True)
    left.set_xlabel("load at equal deflection and length (% of the reference wire)")
    left.legend(frameon=False, fontsize=NOTE_PT, ncols=3, loc="lower left", bbox_to_anchor=(0, 1.0))
    _numbers(right, percent, reference)
    figure.suptitle(_twins(percent, reference), fontsize=HEAD_PT)
    figure.supxlabel(
        "Bent in the plane of the height. Load = material number M (Young's modulus over that of "
        f"{alloy_text(reference[0])}) × cross-section number; nominal sizes.\n"
        "Empty marks: only until superelastic wire transforms.",
        fontsize=NOTE_PT,
    )
    return figure


def _twins(percent: pd.DataFrame, reference: tuple[str, str]) -> str:
    """The section of every other alloy that comes nearest to the reference wire."""
    said = []
    for alloy in map(str, percent):
        if alloy != reference[0]:
            best = (np.log(percent[alloy]) - np.log(100)).abs().idxmin()
            value = percent.loc[best, alloy]
            twin = abs(value - 100) <= _LIKE_PERCENT
            found = f"{section_text(str(best))} ({value:.0f} %)" if twin else "none shown"
            said.append(f"{alloy_text(alloy)}: {found}")
    half = (len(said) + 1) // 2
    lines = [";  ".join(part) for part in (said[:half], said[half:]) if part]
    name = f"{alloy_text(reference[0])} {section_text(reference[1])}"
    return f"As stiff as {name}, within {_LIKE_PERCENT} %:\n" + ";\n".join(lines)


def _numbers(axes: Axes, percent: pd.DataFrame, reference: tuple[str, str]) -> None:
    axes.set_xlim(-0.5, percent.shape[1] - 0.5)
    heads = []
    for column, alloy in enumerate(map(str, percent)):
        for row, value in enumerate(percent[alloy]):
            text = f"{value:.0f}" if value >= 10 else f"{value:.1f}"
            axes.text(column, row, text, ha="center", va="center", fontsize=NOTE_PT)
        material = float(percent[alloy].iloc[0] / percent[reference[0]].iloc[0])
        name = alloy_text(alloy).replace(", ", ",\n").replace("–", "–\n").replace(" ", "\n")
        heads.append(f"{name}\nM {material:.2f}")
    axes.set_xticks(range(percent.shape[1]), heads, fontsize=NOTE_PT)
    axes.tick_params(length=0, labelleft=False)
    axes.tick_params(axis="x", top=False, labeltop=True, bottom=False, labelbottom=False)
    axes.spines[:].set_visible(False)


def bending_test_text(curves: pd.DataFrame, summary: pd.DataFrame) -> FigureText:
    """What is said of the figure of the bending test."""
    most = ", ".join(
        f"{alloy_text(str(row['alloy']))} {force_text(row['largest_force_N'], ' ')}"
        for row in summary.to_dict("records")
    )
    return FigureText(
        "Three-point bending of wires",
        f"Force of the indenter over the deflection, loading and unloading; largest force: {most}.",
        f"{_springs_back(curves, summary)}. {_sets(summary)}.".replace("\n", " "),
    )


def stiffness_text(ladder: pd.DataFrame, reference: tuple[str, str]) -> FigureText:
    """What is said of the figure of stiffness."""
    least, most = (100 * float(value) for value in (ladder.min().min(), ladder.max().max()))
    return FigureText(
        "Stiffness of sections in alloys",
        f"Load at equal deflection of {len(ladder)} sections in {ladder.shape[1]} alloys, from "
        f"{least:.2g} % to {most:.0f} % of the reference wire.",
        f"{_twins(100 * ladder, reference)}.".replace("\n", " "),
    )
