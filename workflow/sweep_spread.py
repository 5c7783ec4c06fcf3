"""How the responses of a random sample spread: what a population of teeth or wires looks like."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from workflow.columns import column_text
from workflow.figures import COUPLE_COLOUR, FORCE_COLOUR, new_figure
from workflow.sweep_config import ParameterStudy
from workflow.sweep_table import failures

PERCENTS = (5, 50, 95)
_NUMBERS = ("mean", "standard_error", "sd", *(f"p{percent:02d}" for percent in PERCENTS))
_PANEL_IN, _ACROSS = (2.5, 2.0), 4


def spread(rows: pd.DataFrame, study: ParameterStudy) -> pd.DataFrame:
    """Mean with its standard error, standard deviation and percentiles of drawn values.

    Columns column, runs, mean, standard_error, sd, p05, p50, p95, over the runs that were solved;
    of factors with numbers too, so that what was drawn stands beside what was asked for.
    """
    solved = rows[~failures(rows)]
    factors = [f.name for f in study.factors if pd.api.types.is_numeric_dtype(solved[f.name])]
    records = []
    for name in (*factors, *study.responses):
        values = solved[name].dropna().to_numpy(dtype=float)
        numbers = _numbers(values) if len(values) > 1 else [np.nan] * len(_NUMBERS)
        record = {"column": name, "runs": len(values)}
        records.append(record | dict(zip(_NUMBERS, map(float, numbers), strict=True)))
    return pd.DataFrame(records)


def _numbers(values: np.ndarray) -> list[float]:
    sd = values.std(ddof=1)
    return [values.mean(), sd / np.sqrt(len(values)), sd, *np.percentile(values, PERCENTS)]


def spread_text(table: pd.DataFrame) -> str:
    """The table for a report."""
    lines = [
        "| column | runs | mean ± standard error | standard deviation | 5 % | median | 95 % |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for row in table.to_dict("records"):
        shown = [f"{row[name]:.4g}" for name in ("sd", "p05", "p50", "p95")]
        mean = f"{row['mean']:.4g} ± {row['standard_error']:.1g}"
        lines.append(f"| {row['column']} | {row['runs']} | {mean} | {' | '.join(shown)} |")
    return "Drawn values of the runs that were solved.\n\n" + "\n".join(lines)


def spread_figure(rows: pd.DataFrame, study: ParameterStudy, runs: str) -> Figure:
    """Histogram of each response, with 5 %, median and 95 %.

    Parameters
    ----------
    runs
        What is said of the runs below the title.
    """
    solved = rows[~failures(rows)]
    across = min(_ACROSS, len(study.responses))
    down = -(-len(study.responses) // across)
    figure = new_figure(max(8.0, _PANEL_IN[0] * across), _PANEL_IN[1] * down + 1.0)
    panels = figure.subplots(down, across, squeeze=False)
    for axes in panels.ravel()[len(study.responses) :]:
        axes.set_axis_off()
    for axes, name in zip(panels.ravel(), study.responses, strict=False):
        values = solved[name].dropna().to_numpy(dtype=float)
        axes.set_xlabel(column_text(name), fontsize=7)
        axes.tick_params(labelsize=7)
        if len(values) > 1:
            axes.hist(values, bins="auto", color=FORCE_COLOUR, alpha=0.6)
            for value in np.percentile(values, PERCENTS):
                axes.axvline(value, color=COUPLE_COLOUR, lw=1)
    for axes in panels[:, 0]:
        axes.set_ylabel("runs")
    figure.suptitle(f"{study.title}\nLines: 5 %, median and 95 %; {runs}", fontsize=10)
    return figure
