"""The page of a comparison: the answer in words, then every case at one scale, then all numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd
from matplotlib.figure import Figure

from workflow.cautions import CAUTION, CAUTION_SHORT, named, names_of
from workflow.comparison import (
    Quantity,
    Statement,
    comparison_table,
    mesh_errors,
    statements,
)
from workflow.comparison_panels import Panel, panel_figure, panels, panels_table
from workflow.comparison_records import ComparedCase
from workflow.comparison_tables import all_cases, differences, origins, shared
from workflow.comparison_words import Given, bars_text, given, headlines, in_full, panel_text
from workflow.figures import save_figure
from workflow.figures_comparison import known_quantities, quantity_figure
from workflow.figures_loads import ArrowScale
from workflow.figures_view import directions, load_plane
from workflow.pages import data_uri, page
from workflow.sheet_amounts import amount
from workflow.sheet_bars import NOTE, unmeasured

CONTENTS = {
    "answer": "Answer",
    "panels": "Side by side",
    "bars": "Quantity by quantity",
    "table": "All cases",
    "words": "In full",
    "setup": "What differs, what is equal",
    "warnings": "Warnings",
    "caution": "Caution",
    "provenance": "Provenance",
}


@dataclass(frozen=True)
class Shown:
    """A case among the panels.

    Attributes
    ----------
    label, case
        What it is called, and its name, under which its sheet lies.
    source, alt
        Its picture, and what it shows.
    given
        What it gives.
    warnings
        Names of its warnings.
    """

    label: str
    case: str
    source: str
    alt: str
    given: Sequence[Given]
    warnings: Sequence[str]


@dataclass(frozen=True)
class Bars:
    """Bars of one quantity: picture, and what it shows."""

    source: str
    alt: str


def comparison_html(name: str, question: str, cases: Sequence[ComparedCase]) -> str:
    """The page as text; everything from cases and question is escaped.

    Parameters
    ----------
    name
        Of the comparison.
    question
        What the cases are compared for.
    cases
        The first is what the others are held against.
    """
    table = comparison_table(
        [c.label for c in cases], [c.summary for c in cases], [c.curve for c in cases]
    )
    said = statements(table)
    loads, scale = panels_table(cases)
    heads, rows = all_cases(cases, table)
    return page(
        "comparison.html.j2",
        name=name,
        question=question,
        contents=CONTENTS,
        count=len(cases),
        first=cases[0].label,
        headlines=headlines(said, table["warnings"].iloc[0]),
        panels=_shown(panels(cases, loads, scale), said, scale),
        scale=scale_words(scale),
        bars=_bars(cases, table),
        mesh_note=[NOTE, *_unmeasured(cases)],
        heads=heads,
        rows=rows,
        in_full=[in_full(statement) for statement in said],
        differences=differences(cases),
        shared=shared(cases),
        warnings={c.label: [named(text) for text in c.summary["warnings"]] for c in cases},
        caution_short=CAUTION_SHORT,
        caution=CAUTION,
        origins=origins(cases),
        version=cases[0].provenance["code"]["version"],
    )


def scale_words(scale: ArrowScale) -> str:
    """What the bars of ten millimetres in every panel stand for."""
    return (
        "All panels have one scale of length and one of loads: an arrow as long as 10 mm of the "
        f"teeth is a force of {amount(scale.bar_N, 'N')}, 10 mm along an arc a couple of "
        f"{amount(scale.bar_Nmm, 'N·mm')}. Arrows are the parts of the loads in the plane of the "
        "picture; the numbers below are whole."
    )


def panels_words(cases: Sequence[ComparedCase], scale: ArrowScale) -> str:
    """What the picture of all panels shows."""
    told = [panel_text(c, load_plane(c.case, directions(c.case, c.solved)).seen) for c in cases]
    return " ".join([*told, scale_words(scale)])


def _shown(found: Sequence[Panel], said: Sequence[Statement], scale: ArrowScale) -> list[Shown]:
    shown = []
    for panel, statement in zip(found, (None, *said), strict=True):
        compared = panel.compared
        alt = panel_text(compared, panel.plane.seen)
        shown.append(
            Shown(
                label=compared.label,
                case=compared.name,
                source=_picture(panel_figure(panel, found[0], scale), compared.label, alt),
                alt=alt,
                given=given(compared, statement),
                warnings=names_of(compared.summary["warnings"]),
            )
        )
    return shown


def _bars(cases: Sequence[ComparedCase], table: pd.DataFrame) -> list[Bars]:
    errors = mesh_errors([compared.summary for compared in cases])
    return [_bar(table, errors, quantity) for quantity in known_quantities(table)]


def _bar(table: pd.DataFrame, errors: pd.DataFrame, quantity: Quantity) -> Bars:
    alt = bars_text(quantity, list(table["label"]), list(table[quantity.column].astype(float)))
    figure = quantity_figure(table, errors, quantity)
    return Bars(_picture(figure, quantity.words, alt), alt)


def _picture(figure: Figure, title: str, shows: str) -> str:
    """A figure as an address that holds it."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "picture.svg"
        save_figure(figure, str(path), title=title, description=shows)
        return data_uri(path)


def _unmeasured(cases: Sequence[ComparedCase]) -> list[str]:
    lines: Mapping[str, list[str]] = {c.label: unmeasured(c.summary) for c in cases}
    return [f"“{label}”: {' '.join(found)}" for label, found in lines.items() if found]
