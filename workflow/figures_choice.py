"""Figure of a choice: how much of each set-up's movement is wanted, from its table of parts."""

from __future__ import annotations

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from workflow.figures import (
    COUPLE_COLOUR,
    HAIR,
    HEAD_PT,
    LEAST_PT,
    NOTE_PT,
    PASSIVE_COLOUR,
    THIRD_COLOUR,
    WIRE_COLOUR,
    FigureText,
    new_figure,
)

MOST_SHOWN = 16
_SHARE_PER_LETTER = 0.0125  # of all movement: room for a label in a bar


def choice_figure(title: str, parts: pd.DataFrame) -> Figure:
    """One bar a set-up: wanted movement to the right, unwanted and opposite movement to the left.

    Parameters
    ----------
    parts
        Table of parts; set-ups in the order of the ranking.
    """
    names = list(dict.fromkeys(parts["set_up"]))[:MOST_SHOWN]
    figure = new_figure(10.0, 1.9 + 0.36 * len(names))
    axes = figure.subplots()
    for row, name in enumerate(names):
        _bar(axes, row, parts[parts["set_up"] == name])
    axes.axvline(0, color=WIRE_COLOUR, lw=HAIR)
    axes.set(xlim=(-1.02, 1.22), ylim=(len(names) - 0.4, -0.9))
    axes.set_yticks(range(len(names)), names)
    axes.set_xticks([-1, -0.5, 0, 0.5, 1], ["100 %", "50 %", "0", "50 %", "100 %"])
    axes.set_xlabel("share of all movement that counts")
    axes.text(1.04, -0.6, "agreement", fontsize=NOTE_PT, va="center")
    figure.legend(
        handles=[
            Patch(facecolor=THIRD_COLOUR, edgecolor="white", label="as wanted"),
            Patch(facecolor=COUPLE_COLOUR, edgecolor="white", label="unwanted or opposite"),
            Patch(facecolor="white", edgecolor=PASSIVE_COLOUR, hatch="////", label="disqualified"),
        ],
        loc="outside lower center",
        ncols=3,
        frameon=False,
        fontsize=NOTE_PT,
    )
    figure.suptitle(title, fontsize=HEAD_PT)
    return figure


def _bar(axes: Axes, row: int, parts: pd.DataFrame) -> None:
    """Stacked parts of one set-up, and its agreement."""
    ends = {True: 0.0, False: 0.0}
    out = bool(parts["disqualified"].iloc[0])
    for part in parts.to_dict("records"):
        share = float(part["share"])
        if share == 0.0:
            continue
        right = share > 0
        colour = THIRD_COLOUR if right else COUPLE_COLOUR
        axes.barh(
            row,
            share,
            left=ends[right],
            height=0.68,
            facecolor="white" if out else colour,
            edgecolor=colour if out else "white",
            hatch="////" if out else None,
        )
        opposite = part["wish"] == "wanted" and not right
        text = f"{part['unit']}\n{'against ' if opposite else ''}{part['movement']}"
        if abs(share) >= _SHARE_PER_LETTER * max(map(len, text.splitlines())):
            at = ends[right] + share / 2
            box = {"facecolor": "white", "edgecolor": "none", "pad": 0.6} if out else None
            colour = "black" if out else "white"
            axes.text(
                at, row, text, ha="center", va="center", fontsize=LEAST_PT, color=colour, bbox=box
            )
        ends[right] += share
    agreement = f"{float(parts['agreement'].iloc[0]):.2f}".replace("-", "−")
    axes.text(1.04, row, agreement, fontsize=NOTE_PT, va="center")


def choice_text(title: str, parts: pd.DataFrame) -> FigureText:
    """What is said of the figure."""
    ranked = parts.drop_duplicates("set_up")
    first = ranked.iloc[0]
    out = int(ranked["disqualified"].sum())
    return FigureText(
        title,
        f"Wanted and unwanted movement of {len(ranked)} set-ups, the best "
        f"{min(len(ranked), MOST_SHOWN)} drawn; {out} of all are disqualified.",
        f"First: {first['set_up']}, with an agreement of {first['agreement']:.2f}.",
    )
