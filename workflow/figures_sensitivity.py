"""Figure of global sensitivity: first-order and total index of each factor, by response."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from workflow.columns import column_text
from workflow.figures import (
    FORCE_COLOUR,
    HAIR,
    LEAST_PT,
    NOTE_PT,
    PASSIVE_COLOUR,
    TEXT_PT,
    TITLE_PT,
    WIRE_COLOUR,
    new_figure,
)
from workflow.sweep_sensitivity import LEVEL, NUMBER, WHY_NOT

_BAR = 0.36
_PANEL_IN, _FACTOR_IN = 3.0, 0.42


def sensitivity_figure(table: pd.DataFrame, title: str, runs: str) -> Figure:
    """Horizontal bars of S1 and ST with their intervals, one panel a response.

    Parameters
    ----------
    table
        From `workflow.sweep_sensitivity.sensitivity`.
    title
        Title of the study.
    runs
        What is said of the runs below it.
    """
    responses = list(dict.fromkeys(table["response"]))
    factors = list(dict.fromkeys(table["factor"]))
    width = max(8.0, _PANEL_IN * len(responses) + 1.6)
    figure = new_figure(width, _FACTOR_IN * len(factors) + 2.0)
    panels = figure.subplots(1, len(responses), squeeze=False, sharex=True, sharey=True)[0]
    for axes, response in zip(panels, responses, strict=True):
        _panel(axes, table[table["response"] == response].reset_index(drop=True))
        axes.set_title(column_text(response), fontsize=TEXT_PT)
        axes.set_xlabel("share of the variance")
    panels[0].set_yticks(np.arange(len(factors)), [column_text(name) for name in factors])
    panels[0].invert_yaxis()
    with_bars = [axes for axes in panels if axes.containers]
    if with_bars:
        with_bars[0].legend(fontsize=LEAST_PT, loc="lower right", frameon=False)
    number = table[NUMBER].iloc[0]
    figure.suptitle(
        f"{title}\nSobol indices, N = {number}, lines: {100 * LEVEL:.0f} % intervals; {runs}",
        fontsize=TITLE_PT,
    )
    return figure


def _panel(axes: Axes, part: pd.DataFrame) -> None:
    at = np.arange(len(part), dtype=float)
    if part[WHY_NOT].iloc[0]:
        text = "no index:\n" + part[WHY_NOT].iloc[0]
        axes.text(
            0.5, 0.5, text, transform=axes.transAxes, ha="center", va="center", fontsize=NOTE_PT
        )
        axes.set_ylim(-0.6, len(part) - 0.4)
        return
    for shift, index, label, colour in (
        (-_BAR / 2, "ST", "total, with others", PASSIVE_COLOUR),
        (_BAR / 2, "S1", "first order, alone", FORCE_COLOUR),
    ):
        axes.barh(
            at + shift,
            part[index],
            _BAR,
            xerr=part[f"{index}_conf"],
            color=colour,
            label=label,
            error_kw={"lw": HAIR, "capsize": 2},
        )
    axes.axvline(0, color=WIRE_COLOUR, lw=HAIR)
    axes.grid(axis="x", alpha=0.25, lw=HAIR)
