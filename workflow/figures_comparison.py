"""Cases beside each other as bars, one panel a quantity."""

from __future__ import annotations

import textwrap

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from workflow.comparison import QUANTITIES, Quantity
from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    PASSIVE_COLOUR,
    THIRD_COLOUR,
    new_figure,
    three_digits,
)

_COLUMNS = 5
_COLOURS = (FORCE_COLOUR, COUPLE_COLOUR, THIRD_COLOUR)


def comparison_figure(table: pd.DataFrame, question: str) -> Figure:
    """Draw the table: bars of all cases for every quantity that is known of one at least."""
    shown = [q for q in QUANTITIES if table[q.column].notna().any()]
    rows = -(-len(shown) // _COLUMNS)
    figure = new_figure(13.0, 0.9 + rows * (1.1 + 0.34 * len(table)))
    panels = np.atleast_2d(figure.subplots(rows, _COLUMNS, sharey=True))
    for axes, quantity in zip(panels.ravel(), shown, strict=False):
        _draw(axes, table, quantity)
    for axes in panels.ravel()[len(shown) :]:
        axes.set_axis_off()
    figure.suptitle(question, fontsize=12)
    return figure


def _draw(axes: Axes, table: pd.DataFrame, quantity: Quantity) -> None:
    values = table[quantity.column].astype(float)
    places = np.arange(len(table))[::-1]
    colours = [_colour(quantity)] * len(table)
    axes.barh(places, values.fillna(0.0), color=colours, height=0.62, alpha=0.85)
    largest = float(values.max())
    for place, value in zip(places, values, strict=True):
        text = "beyond the curve" if np.isnan(value) else three_digits(value)
        axes.text(0.02 * largest + (0.0 if np.isnan(value) else value), place, text, va="center")
    if not np.isnan(values.iloc[0]):
        axes.axvline(values.iloc[0], color=PASSIVE_COLOUR, lw=0.8, ls=":")
    axes.set_xlim(0, 1.28 * largest if largest > 0 else 1.0)
    axes.set_yticks(places, [textwrap.fill(label, 24) for label in table["label"]])
    axes.set_title(textwrap.fill(f"{quantity.words} ({quantity.unit})", 27), fontsize=9)
    axes.tick_params(axis="x", labelsize=7)


def _colour(quantity: Quantity) -> str:
    name = quantity.column
    if name.startswith(("target", "anchor")):
        return _COLOURS[2]
    return _COLOURS[1] if name.startswith(("couple", "distance")) else _COLOURS[0]
