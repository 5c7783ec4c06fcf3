"""Cases beside each other as bars, one panel a quantity, with the error bars of the mesh."""

from __future__ import annotations

import textwrap

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from workflow.comparison import QUANTITIES, Quantity, amount_text, si_unit
from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    HAIR,
    NOTE_PT,
    PASSIVE_COLOUR,
    THIN,
    THIRD_COLOUR,
    WIRE_COLOUR,
    new_figure,
    put_text,
)

_COLUMNS = 4
_WIDTH_IN = 4.0
_HEAD_IN, _CASE_IN = 0.95, 0.42
_COLOURS = (FORCE_COLOUR, COUPLE_COLOUR, THIRD_COLOUR)
_WRAPPED, _TITLE = 46, 44  # letters in a line


def known_quantities(table: pd.DataFrame) -> list[Quantity]:
    """Quantities that are known of one case at least."""
    return [q for q in QUANTITIES if table[q.column].notna().any()]


def comparison_figure(table: pd.DataFrame, errors: pd.DataFrame, question: str) -> Figure:
    """Draw the table: bars of all cases for every quantity that is known of one at least.

    Parameters
    ----------
    table
        One row a case, as `workflow.comparison.comparison_table` gives it.
    errors
        Mesh errors in percent, one row a case, a column for each quantity that has any.
    question
        Title.
    """
    shown = known_quantities(table)
    rows = -(-len(shown) // _COLUMNS)
    figure = new_figure(_WIDTH_IN * _COLUMNS, 0.5 + rows * (_HEAD_IN + _CASE_IN * len(table)))
    panels = np.atleast_2d(figure.subplots(rows, _COLUMNS))
    for axes, quantity in zip(panels.ravel(), shown, strict=False):
        draw_quantity(axes, table, errors, quantity)
    for axes in panels.ravel()[len(shown) :]:
        axes.set_axis_off()
    figure.suptitle(question)
    return figure


def quantity_figure(table: pd.DataFrame, errors: pd.DataFrame, quantity: Quantity) -> Figure:
    """One quantity of all cases, alone."""
    figure = new_figure(_WIDTH_IN, _HEAD_IN + _CASE_IN * len(table))
    draw_quantity(figure.subplots(), table, errors, quantity)
    return figure


def draw_quantity(
    axes: Axes, table: pd.DataFrame, errors: pd.DataFrame, quantity: Quantity
) -> None:
    """A bar for each case, its name above it, its number behind it; dotted, the first case."""
    known = table[quantity.column].astype(float)
    unit, factor = si_unit(quantity)
    values = known * factor
    places = np.arange(len(table))[::-1]
    largest = float(values.max())
    bars = _half_lengths(values, errors, quantity)
    axes.barh(
        places, values.fillna(0.0), color=_colour(quantity), height=0.36, align="edge", alpha=0.85
    )
    axes.errorbar(
        values, places + 0.18, xerr=bars, fmt="none", ecolor=WIRE_COLOUR, elinewidth=THIN, capsize=3
    )
    ends = values.add(bars, fill_value=0.0).fillna(0.0) + 0.02 * largest
    for place, label, value, end in zip(places, table["label"], known, ends, strict=True):
        text = quantity.unknown if np.isnan(value) else amount_text(quantity, value)
        put_text(axes, np.array([end, place + 0.17]), text, va="center")
        name = textwrap.shorten(label, _WRAPPED, placeholder=" …")
        put_text(axes, np.array([0.0, place + 0.41]), name, va="bottom", fontsize=NOTE_PT)
    if not np.isnan(values.iloc[0]):
        axes.axvline(values.iloc[0], color=PASSIVE_COLOUR, lw=HAIR, ls=":")
    axes.set_xlim(0, 1.62 * largest if largest > 0 else 1.0)
    axes.set_ylim(-0.15, len(table) - 0.15)
    axes.set_yticks([])
    axes.set_title(textwrap.fill(quantity.words, _TITLE), loc="left", weight="bold")
    axes.set_xlabel(unit, fontsize=NOTE_PT)


def _half_lengths(
    values: pd.Series[float], errors: pd.DataFrame, quantity: Quantity
) -> pd.Series[float]:
    """Length of the error bar to one side; NaN where the mesh error is not known."""
    if quantity.column not in errors:
        return pd.Series(np.nan, index=values.index)
    return values * errors[quantity.column].astype(float) / 100.0


def _colour(quantity: Quantity) -> str:
    name = quantity.column
    if name.startswith(("target", "anchor")):
        return _COLOURS[2]
    return _COLOURS[1] if name.startswith(("couple", "distance")) else _COLOURS[0]
