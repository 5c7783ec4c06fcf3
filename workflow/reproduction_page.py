"""The page that says which figures agree with their references, and what differs where not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from workflow.pages import page
from workflow.reproduction import RENEW, touched, verdict
from workflow.reproduction_compare import ROWS

_MOST_SHOWN = 40


def agreement_html(
    records: Sequence[Mapping[str, Any]],
    of_all: int,
    closeness: Mapping[str, Any],
    made: Mapping[str, Any],
) -> str:
    """The page.

    Parameters
    ----------
    records
        From `workflow.reproduction.agreement`.
    of_all
        How many figures the list has in all.
    closeness
        Tolerances of the list, and why these.
    made
        Version, commit and platform, from `workflow.provenance.made_by`.
    """
    figures = [_figure(record) for record in records]
    return page(
        "reproduction.html.j2",
        verdict=verdict(records),
        touched=touched(records),
        differing=[f for f in figures if not f["agrees"]],
        figures=figures,
        left_out=[(f["number"], *pair) for f in figures for pair in f["left_out"].items()],
        own=[(f["number"], f["title"], f["because"]) for f in figures if f["because"]],
        skipped=of_all - len(figures),
        floors=list(closeness["floors"].items()),
        closeness=closeness,
        renew=RENEW,
        made=made,
    )


def _figure(record: Mapping[str, Any]) -> dict[str, Any]:
    columns = [_column(column) for column in record["columns"]]
    every = [_difference(d) for column in record["columns"] for d in column["differences"]]
    return {
        **{name: record[name] for name in ("number", "title", "figure", "table", "left_out")},
        "because": record["because"],
        "compared": "digest" if record["compared"] == "digest" else "every value",
        "columns": columns,
        "agrees": all(column["agrees"] for column in columns),
        "shown": every[:_MOST_SHOWN],
        "more": max(0, len(every) - _MOST_SHOWN),
    }


def _column(column: Mapping[str, Any]) -> dict[str, Any]:
    words = column["largest_relative_difference"] is None
    return {
        "column": "names of the rows" if column["column"] == ROWS else column["column"],
        "values": column["values"],
        "largest": "–" if words else _share(column["largest_relative_difference"]),
        "tolerance": "the same" if words else _share(column["tolerance"]),
        "differing": len(column["differences"]),
        "agrees": column["agrees"],
    }


def _difference(d: Mapping[str, Any]) -> dict[str, str]:
    relative = d["relative"]
    return {
        "column": d["column"],
        "row": d["row"],
        "reference": d["reference"] or "(empty)",
        "computed": d["computed"] or "(empty)",
        "relative": "–" if relative is None else _share(relative),
    }


def _share(value: float) -> str:
    return "0" if value == 0 else f"{value:.1e}" if value < 1e-3 else f"{value:.3g}"
