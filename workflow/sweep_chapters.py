"""Chapters that only some parameter studies have: each a text, and perhaps a table and a figure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import pandas as pd
from matplotlib.figure import Figure

from workflow.figures_sensitivity import sensitivity_figure
from workflow.sweep_chunks import read_chunks, teeth_text
from workflow.sweep_config import ParameterStudy
from workflow.sweep_report import runs_text
from workflow.sweep_sensitivity import sensitivity, sensitivity_text
from workflow.sweep_spread import spread, spread_figure, spread_text


@dataclass(frozen=True)
class Chapter:
    """One chapter of a report.

    Attributes
    ----------
    heading, text
        As they stand in the report.
    name
        Of the files of its table and its figure.
    table, figure
        Both, or neither.
    """

    heading: str
    text: str
    name: str = ""
    table: pd.DataFrame | None = None
    figure: Figure | None = None


def chapters_of(
    study: ParameterStudy, rows: pd.DataFrame, chunks: Sequence[str]
) -> Iterator[Chapter]:
    """What a study has to say beyond what all say.

    Parameters
    ----------
    rows
        The table of runs.
    chunks
        Records of its teeth, where they were made in chunks.
    """
    if study.design.sobol is not None:
        table = sensitivity(rows, study)
        figure = sensitivity_figure(table, study.title, runs_text(rows))
        text = sensitivity_text(table)
        yield Chapter("Global sensitivity", text, "sensitivity", table, figure)
    if study.design.random is not None:
        table = spread(rows, study)
        figure = spread_figure(rows, study, runs_text(rows))
        yield Chapter("Spread", spread_text(table), "spread", table, figure)
    if chunks:
        yield Chapter("Teeth", teeth_text(read_chunks(chunks)))
