"""Figures of a parameter study: small multiples of responses against factors, and pairs of them."""

from __future__ import annotations

import numpy as np
import pandas as pd
from cmcrameri import cm
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from workflow.columns import column_text
from workflow.figures import (
    FORCE_COLOUR,
    HAIR,
    LEAST_PT,
    MISSING_COLOUR,
    NOTE_PT,
    PASSIVE_COLOUR,
    THIN,
    TITLE_PT,
    FigureText,
    new_figure,
    nice_ends,
)
from workflow.sweep_config import ParameterStudy
from workflow.sweep_effects import ordered_levels
from workflow.sweep_factor import Factor
from workflow.sweep_words import level_text

_PANEL_IN = (2.5, 2.1)
_LEAST_IN = 8.0
_BAND_PT = 4.0
_MOST_TICKS = 7


def main_effects_figure(table: pd.DataFrame, study: ParameterStudy, runs: str) -> Figure:
    """Every response (rows) against every factor (columns): median and middle 80 % of the runs.

    Parameters
    ----------
    table
        From `workflow.sweep_effects.main_effects`.
    runs
        What is said of the runs below the title.
    """
    factors, responses = study.factors, study.responses
    size = (_PANEL_IN[0] * len(factors) + 0.8, _PANEL_IN[1] * len(responses) + 1.6)
    figure = new_figure(max(_LEAST_IN, size[0]), size[1])
    panels = figure.subplots(
        len(responses), len(factors), squeeze=False, sharex="col", sharey="row"
    )
    for i, response in enumerate(responses):
        for k, factor in enumerate(factors):
            chosen = (table["response"] == response) & (table["factor"] == factor.name)
            _effect(panels[i, k], table[chosen], factor)
        panels[i, 0].set_ylabel(_wrapped(column_text(response)), fontsize=NOTE_PT)
    for k, factor in enumerate(factors):
        panels[-1, k].set_xlabel(column_text(factor.name))
    figure.suptitle(
        f"{study.title}\nMedian (line) and middle 80 % (band) of the runs at each level; {runs}",
        fontsize=TITLE_PT,
    )
    return figure


def _effect(axes: Axes, part: pd.DataFrame, factor: Factor) -> None:
    numeric = all(isinstance(level, float) for level in part["level"])
    at = part["level"].astype(float).to_numpy() if numeric else np.arange(len(part), dtype=float)
    if numeric:
        axes.fill_between(at, part["low"], part["high"], color=FORCE_COLOUR, alpha=0.2, lw=0)
        axes.plot(at, part["median"], "o-", color=FORCE_COLOUR, ms=3, lw=THIN)
    else:
        below, above = part["median"] - part["low"], part["high"] - part["median"]
        bars = np.array([below, above])
        axes.errorbar(
            at, part["median"], bars, fmt="o", color=FORCE_COLOUR, ms=4, lw=_BAND_PT, alpha=0.45
        )
        axes.plot(at, part["median"], "o", color=FORCE_COLOUR, ms=4)
        axes.set_xlim(-0.5, len(at) - 0.5)
        labels = [level_text(factor, level) for level in part["level"]]
        axes.set_xticks(
            at, labels, rotation=60, ha="right", fontsize=LEAST_PT, rotation_mode="anchor"
        )
    axes.tick_params(labelsize=LEAST_PT)
    axes.grid(alpha=0.25, lw=HAIR)


def interaction_figure(table: pd.DataFrame, study: ParameterStudy, response: str) -> Figure:
    """Median of one response at every pair of levels of every two factors, on one colour scale.

    Parameters
    ----------
    table
        From `workflow.sweep_effects.interactions`.
    """
    own = table[table["response"] == response]
    factors = study.factors
    n = len(factors) - 1
    figure = new_figure(max(_LEAST_IN, 2.3 * n + 2.0), 2.1 * n + 1.4)
    panels = figure.subplots(n, n, squeeze=False, sharex="col", sharey="row")
    limits = _limits(own["median"])
    drawn = None
    for i, up in enumerate(factors[1:]):
        for k, across in enumerate(factors[:-1]):
            axes = panels[i, k]
            if k > i:
                axes.set_axis_off()
                continue
            part = own[(own["across"] == across.name) & (own["up"] == up.name)]
            drawn = _map(axes, part, across, up, limits)
            axes.set_xlabel(column_text(across.name), fontsize=NOTE_PT)
            axes.set_ylabel(column_text(up.name), fontsize=NOTE_PT)
            axes.label_outer()
    if drawn is not None:
        figure.colorbar(drawn, ax=panels, label=column_text(response), shrink=0.8)
    figure.suptitle(
        f"{study.title}\nMedian of the runs at each pair of levels; hatched: none solved",
        fontsize=TITLE_PT,
    )
    return figure


def _limits(values: pd.Series) -> tuple[float, float]:
    known = values.to_numpy()[np.isfinite(values.to_numpy())]
    return nice_ends(float(known.min()), float(known.max())) if len(known) else (0.0, 1.0)


def _map(  # type: ignore[no-untyped-def]
    axes: Axes, part: pd.DataFrame, across: Factor, up: Factor, limits: tuple[float, float]
):
    columns = ordered_levels(across, part["across_level"])
    rows = ordered_levels(up, part["up_level"])
    values = part.pivot_table(index="up_level", columns="across_level", values="median")
    grid = values.reindex(index=rows, columns=columns).to_numpy(dtype=float)
    axes.patch.set(facecolor=MISSING_COLOUR, edgecolor=PASSIVE_COLOUR, hatch="////")
    drawn = axes.imshow(
        np.ma.masked_invalid(grid),
        origin="lower",
        aspect="auto",
        cmap=cm.batlow,
        vmin=limits[0],
        vmax=limits[1],
    )
    _ticks(axes, "x", [level_text(across, level) for level in columns])
    _ticks(axes, "y", [level_text(up, level) for level in rows])
    return drawn


def _ticks(axes: Axes, side: str, labels: list[str]) -> None:
    """Names of the levels, of many numbers only some."""
    every = 1 + (len(labels) - 1) // _MOST_TICKS if _numbers(labels) else 1
    at = list(range(0, len(labels), every))
    shown = [labels[k] for k in at]
    if side == "x":
        axes.set_xticks(
            at, shown, rotation=60, ha="right", fontsize=LEAST_PT, rotation_mode="anchor"
        )
    else:
        axes.set_yticks(at, shown, fontsize=LEAST_PT)


def _numbers(labels: list[str]) -> bool:
    return all(label.lstrip("-")[:1].isdigit() and " " not in label for label in labels)


def _wrapped(text: str) -> str:
    """Long names on two lines."""
    words = text.split(" ")
    half = (len(words) + 1) // 2
    return text if len(text) < 18 else " ".join(words[:half]) + "\n" + " ".join(words[half:])


def main_effects_text(table: pd.DataFrame, study: ParameterStudy, runs: str) -> FigureText:
    """What is said of the main effects."""
    ranges = "; ".join(
        f"{column_text(str(name))} {part['median'].min():.3g} to {part['median'].max():.3g}"
        for name, part in table.groupby("response", sort=False)
    )
    return FigureText(
        f"{study.title}: main effects",
        f"Medians and middle 80 % of the runs of {len(study.responses)} responses at each level of "
        f"{len(study.factors)} factors; {runs}.",
        f"Medians: {ranges}.",
    )


def interaction_text(table: pd.DataFrame, study: ParameterStudy, response: str) -> FigureText:
    """What is said of the maps of one response."""
    low, high = _limits(table.loc[table["response"] == response, "median"])
    return FigureText(
        f"{study.title}: {column_text(response)} over pairs of factors",
        f"Median of {column_text(response)} at each pair of levels of "
        f"{', '.join(column_text(factor.name) for factor in study.factors)}.",
        f"Colours from {low:.4g} to {high:.4g}.",
    )


def chapter_text(study: ParameterStudy, heading: str, table: pd.DataFrame) -> FigureText:
    """What is said of a figure that only some studies have."""
    number = table.select_dtypes("number")
    columns = "; ".join(
        f"{column_text(str(name))} {number[name].min():.3g} to {number[name].max():.3g}"
        for name in number
        if number[name].notna().any()
    )
    return FigureText(f"{study.title}: {heading}", f"{heading} of the responses. {columns}.")
