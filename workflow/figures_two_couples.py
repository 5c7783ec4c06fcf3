"""One couple beside two: over the angle of the second bracket and the ligament's modulus."""

from __future__ import annotations

import pandas as pd
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    HEAD_PT,
    THIRD_COLOUR,
    FigureText,
    new_figure,
    second_scale,
    three_digits,
)
from workflow.two_couples import BRACKET, BY_MODULUS, BY_TIP, HOOK

_KEY_EM = 4.0  # long enough for dashes beside a mark
_LINES = (
    ("couple_tube_Nmm", "couple at the tube", COUPLE_COLOUR, "s"),
    ("couple_bracket_Nmm", "couple at the bracket", THIRD_COLOUR, "^"),
)


def two_couples_figure(table: pd.DataFrame) -> Figure:
    """Draw the table: full lines one couple, dashed lines two."""
    figure = new_figure(11.0, 6.4)
    panels = figure.subplots(2, 2, sharex="col", sharey="row")
    for column, (over, label) in enumerate(
        (
            (BY_TIP, "turn of the second bracket, far end up (°)"),
            (BY_MODULUS, "ligament modulus over that of the case"),
        )
    ):
        chosen = table[table["over"] == over]
        _draw(panels[0, column], chosen, (("force_N", "force", FORCE_COLOUR, "o"),))
        _draw(panels[1, column], chosen, _LINES)
        panels[1, column].set_xlabel(label)
        if over == BY_MODULUS:
            panels[1, column].set_xscale("log")
    panels[0, 0].set(ylabel="force on the other unit (N)", ylim=(0, None))
    panels[1, 0].set(ylabel="size of the couple (N·mm)", ylim=(0, None))
    second_scale(panels[0, 1], "gf")
    second_scale(panels[1, 1], "gf·mm")
    figure.suptitle(_finding(table), fontsize=HEAD_PT)
    handles: list[Artist] = []
    labels: list[str] = []
    for axes in panels[:, 0]:
        own, names = axes.get_legend_handles_labels()
        handles, labels = [*handles, *own], [*labels, *names]
    figure.legend(
        handles, labels, loc="outside lower center", ncols=3, frameon=False, handlelength=_KEY_EM
    )
    return figure


def _draw(axes: Axes, table: pd.DataFrame, lines: tuple[tuple[str, str, str, str], ...]) -> None:
    for held, look in ((HOOK, "-"), (BRACKET, "--")):
        chosen = table[table["held"] == held]
        for column, name, colour, mark in lines:
            if held == HOOK and column == "couple_bracket_Nmm":
                continue
            axes.plot(
                chosen["value"],
                chosen[column].abs(),
                look,
                color=colour,
                marker=mark,
                markevery=0.2,
                label=f"{name}, {held}",
            )
    axes.grid(alpha=0.25)


def _finding(table: pd.DataFrame) -> str:
    by_tip = table[(table["over"] == BY_TIP) & (table["held"] == BRACKET)]
    plain = table[(table["over"] == BY_TIP) & (table["held"] == HOOK)]
    low, high = by_tip["force_N"].min(), by_tip["force_N"].max()
    upright = by_tip.iloc[by_tip["value"].abs().argmin()]
    hook = plain.iloc[plain["value"].abs().argmin()]
    reach = by_tip["value"].abs().max()
    return (
        "The same wire on a hook and in a bracket, activated alike.\n"
        f"Hook: {three_digits(hook['force_N'])} N, whatever the bracket's angle. Bracket: "
        f"{three_digits(upright['force_N'])} N upright, {three_digits(low)} to "
        f"{three_digits(high)} N within ±{reach:g}°."
    )


def two_couples_text(table: pd.DataFrame) -> FigureText:
    """What is said of the figure."""
    return FigureText(
        "One couple beside two",
        "Force on the other unit, and size of the couples at tube and bracket, over the turn of "
        "the second bracket and over the ligament's modulus; full lines on a hook, dashed in a "
        "bracket.",
        _finding(table).replace("\n", " "),
    )
