"""The explorer of a parameter study: one page that holds all runs, to plot and filter offline."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from cmcrameri import cm
from markupsafe import Markup
from matplotlib.colors import to_hex
from plotly.offline import get_plotlyjs

from workflow.cautions import CAUTION
from workflow.columns import column_text
from workflow.pages import page

# Endings of column names and the unit they stand for; a longer ending is looked for first.
_MOST_STOPS = 201  # of a slider
# The palest end of the map would be lost on white paper.
_PALEST = 0.85
_COLOURS = 64


def explorer_html(
    table: pd.DataFrame,
    factors: Sequence[str],
    responses: Sequence[str],
    title: str,
    words: Mapping[str, str],
) -> str:
    """The page as text; it asks the network for nothing.

    A run has failed if its `note` says why, or if it has none of the responses.

    Parameters
    ----------
    table
        One row a run: `run` (its name, no two alike), factors, responses, `note` (why a run
        failed; empty otherwise) and any further columns. Missing values are NaN or None.
    factors, responses
        Columns that were set and that were found. Numbers are filtered by range, all else by value.
    title
        Heading of the page.
    words
        Quantity in words for a column, without its unit: ``{"span_mm": "span of the wire"}``. The
        unit is read from the end of the column's name. A column that is not listed is named so too.

    Raises
    ------
    ValueError
        If the table has no rows, lacks a column, or names two runs alike.
    """
    _check(table, factors, responses)
    columns = [_column(table, name, factors, responses, words) for name in _order(table, factors)]
    lost = table[list(responses)].isna().all(axis=1)
    data = {
        "columns": columns,
        "failed": (_has_text(table["note"]) | lost).tolist(),
        "colours": [to_hex(c) for c in cm.batlow(np.linspace(0, _PALEST, _COLOURS))],
    }
    return page(
        "explorer.html.j2",
        title=title,
        columns=columns,
        axes=_choices(columns),
        data=data,
        caution=CAUTION,
        plotly=Markup(get_plotlyjs()),
    )


def _check(table: pd.DataFrame, factors: Sequence[str], responses: Sequence[str]) -> None:
    missing = [name for name in ("run", "note", *factors, *responses) if name not in table]
    if missing:
        raise ValueError(f"the table of runs lacks the columns {', '.join(missing)}")
    if not factors or not responses:
        raise ValueError("the explorer needs at least one factor and one response")
    if table.empty:
        raise ValueError("the table holds no runs; nothing can be explored")
    twice = table["run"][table["run"].duplicated()]
    if len(twice):
        raise ValueError(f"two runs are named {twice.iloc[0]}; each needs a name of its own")


def _order(table: pd.DataFrame, factors: Sequence[str]) -> list[str]:
    """Run first, note last, factors before all that was found."""
    found = [name for name in map(str, table.columns) if name not in {"run", "note", *factors}]
    return ["run", *factors, *found, "note"]


def _column(
    table: pd.DataFrame,
    name: str,
    factors: Sequence[str],
    responses: Sequence[str],
    words: Mapping[str, str],
) -> dict[str, Any]:
    """One column as the page holds it."""
    values = table[name].infer_objects()
    named = {"name": name, "label": column_text(name, words)}
    if name in ("run", "note"):
        texts = values.astype(object).where(values.notna(), "")
        return named | {"role": name, "kind": "free", "values": [str(text) for text in texts]}
    role = "factor" if name in factors else "response" if name in responses else "other"
    return named | {"role": role} | (_numbers(values) if _is_number(values) else _levels(values))


def _is_number(values: pd.Series) -> bool:
    kinds = pd.api.types
    return bool(kinds.is_numeric_dtype(values) and not kinds.is_bool_dtype(values))


def _numbers(values: pd.Series) -> dict[str, Any]:
    """Numbers at full precision, and the values that a slider stops at."""
    numbers = [None if pd.isna(value) else value for value in values.tolist()]
    finite = sorted({n for n in numbers if n is not None and math.isfinite(n)})
    picks = np.linspace(0, len(finite) - 1, min(len(finite), _MOST_STOPS)).round().astype(int)
    return {
        "kind": "number",
        "values": [_portable(number) for number in numbers],
        "stops": [finite[i] for i in picks],
    }


def _portable(number: float | None) -> float | str | None:
    """JSON has no infinite numbers; they travel as words that both languages read."""
    return number if number is None or math.isfinite(number) else str(number)


def _levels(values: pd.Series) -> dict[str, Any]:
    """Texts as numbers into a list of the different ones; a missing text is -1."""
    if isinstance(values.dtype, pd.CategoricalDtype):
        coded = values.cat
    else:
        coded = pd.Series(pd.Categorical(values.astype(object).map(str, na_action="ignore"))).cat
    levels = [str(level) for level in coded.categories]
    return {"kind": "text", "values": coded.codes.tolist(), "levels": levels}


def _has_text(notes: pd.Series) -> pd.Series:
    return notes.notna() & (notes.astype(str).str.strip() != "")


def _choices(columns: Sequence[Mapping[str, Any]]) -> list[tuple[str, list[tuple[int, str]]]]:
    """What a chart can show, by role: place and label of each column."""
    roles = {"factor": "Factors", "response": "Responses", "other": "Further columns"}
    return [
        (heading, found)
        for role, heading in roles.items()
        if (found := [(i, c["label"]) for i, c in enumerate(columns) if c["role"] == role])
    ]
