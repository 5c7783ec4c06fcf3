"""Whether the figures of a run have the numbers of the tracked references, and their renewal.

``python -m workflow.reproduction --renew`` copies the tables of the last run into the references
and says what changed. It is meant for a deliberate change of results; the workflow never does it.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pandas as pd

from workflow.case_errors import CaseError
from workflow.digest import ROOT
from workflow.reproduction_compare import ROWS, ColumnAgreement, Difference, Rules, compare
from workflow.reproduction_config import (
    REFERENCES,
    Closeness,
    Figure,
    Reproduction,
    load_reproduction,
)
from workflow.reproduction_tables import DIGEST, digest, numbers, read_cells, rounded

RENEW = "python -m workflow.reproduction --renew"
MOST_BYTES = 1_500_000
_MOST_COLUMNS = 6


def rules_of(figure: Figure, closeness: Closeness, reference: pd.DataFrame) -> Rules:
    """How the table of a figure is compared.

    A digest is compared on the scale of each column's largest size: a mean or a quantile may lie
    near zero where the column does not.
    """
    relative = closeness.relative if figure.relative is None else figure.relative
    digits = None if figure.full_precision else closeness.digits
    left_out = set(figure.left_out)
    # The figure's own first, for the first that fits counts.
    floors = figure.floors | {k: v for k, v in closeness.floors.items() if k not in figure.floors}
    if figure.compared == "every_value":
        return Rules(relative, digits, closeness.noise, floors, figure.keys, left_out)
    ends = reference[reference[DIGEST].isin(["least", "greatest"])]
    sizes = {str(name): numbers(ends[name]).abs().max() for name in ends if name != DIGEST}
    of_sizes = {name: relative * float(size) for name, size in sizes.items() if size > 0}
    return Rules(relative, digits, 0.0, of_sizes, (DIGEST,), left_out)


def agreement_of(figure: Figure, closeness: Closeness, root: Path = ROOT) -> list[ColumnAgreement]:
    """Every column of a figure's table beside its reference."""
    if not (root / figure.reference).is_file():
        absent = Difference("(table)", "(all)", "none kept", f"make one: {RENEW}")
        return [ColumnAgreement("(table)", 0, None, 0.0, (absent,))]
    reference = read_cells(root / figure.reference)
    computed = _table(figure, root)
    return compare(reference, computed, rules_of(figure, closeness, reference))


def _table(figure: Figure, root: Path) -> pd.DataFrame:
    table = read_cells(root / figure.table)
    return digest(table) if figure.compared == "digest" else table


def agreement(
    figures: Iterable[Figure], closeness: Closeness, root: Path = ROOT
) -> list[dict[str, Any]]:
    """One record a figure: what it is, and its columns as in `ColumnAgreement`."""
    return [
        {
            "number": figure.number,
            "name": figure.name,
            "title": figure.title,
            "figure": figure.figure,
            "table": figure.table,
            "compared": figure.compared,
            "left_out": dict(figure.left_out),
            "because": figure.because or "",
            "columns": [
                asdict(column) | {"agrees": column.agrees}
                for column in agreement_of(figure, closeness, root)
            ],
        }
        for figure in figures
    ]


def agreement_table(records: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """One row a figure and column."""
    return pd.DataFrame(
        [
            {
                "figure": record["number"],
                "name": record["name"],
                "title": record["title"],
                "compared": record["compared"],
                "column": column["column"],
                "values": column["values"],
                "largest_relative_difference": column["largest_relative_difference"],
                "tolerance": column["tolerance"],
                "differing": len(column["differences"]),
                "agrees": column["agrees"],
            }
            for record in records
            for column in record["columns"]
        ]
    )


def differences_table(records: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """One row a cell, row or column that differs."""
    names = ["figure", "title", "column", "row", "reference", "computed", "relative_difference"]
    rows = [
        {
            "figure": record["number"],
            "title": record["title"],
            "column": d["column"],
            "row": d["row"],
            "reference": d["reference"],
            "computed": d["computed"],
            "relative_difference": d["relative"],
        }
        for record in records
        for column in record["columns"]
        for d in column["differences"]
    ]
    return pd.DataFrame(rows, columns=names)


def touched(records: Sequence[Mapping[str, Any]]) -> list[str]:
    """One line a figure that differs: number, title, columns, and the largest difference."""
    lines = []
    for record in records:
        differing = [c for c in record["columns"] if not c["agrees"]]
        if differing:
            names = [c["column"] for c in differing]
            more = f" and {len(names) - _MOST_COLUMNS} more" if len(names) > _MOST_COLUMNS else ""
            lines.append(
                f"figure {record['number']} ({record['title'].rstrip('.')}): "
                f"{', '.join(names[:_MOST_COLUMNS])}{more}; {_example(differing)}"
            )
    return lines


def _example(columns: Sequence[Mapping[str, Any]]) -> str:
    """The difference of largest relative size, or the first that has none."""
    every = [d for column in columns for d in column["differences"]]
    sized = [d for d in every if d["relative"] is not None]
    d = max(sized, key=lambda one: one["relative"]) if sized else every[0]
    share = "" if d["relative"] is None else f" ({d['relative']:.2g})"
    return (
        f"{d['column']}, {d['row']}: reference {d['reference'] or 'empty'}, computed "
        f"{d['computed'] or 'empty'}{share}"
    )


def verdict(records: Sequence[Mapping[str, Any]]) -> str:
    """The outcome in a sentence or two."""
    columns = [column for record in records for column in record["columns"]]
    values = sum(c["values"] for c in columns if c["column"] != ROWS)
    wrong = sum(any(not c["agrees"] for c in record["columns"]) for record in records)
    sizes = [c["largest_relative_difference"] for c in columns]
    largest = max((size for size in sizes if size is not None), default=0.0)
    return (
        f"{len(records) - wrong} of {len(records)} figures agree with their references; "
        f"{values} values compared, largest relative difference {largest:.2g}."
    )


def renew(reproduction: Reproduction, figures: Iterable[Figure], root: Path = ROOT) -> None:
    """Copy the tables of the last run into the references and print what changed."""
    (root / REFERENCES).mkdir(parents=True, exist_ok=True)
    for figure in figures:
        print(f"figure {figure.number}, {figure.name}: {_renewed(figure, reproduction, root)}")
    for line in _remarks(reproduction, root):
        print(line)


def _renewed(figure: Figure, reproduction: Reproduction, root: Path) -> str:
    path = root / figure.reference
    if not (root / figure.table).is_file():
        kept = "its reference stays" if path.is_file() else "it has no reference"
        return f"no {figure.table} was made, {kept}"
    known = path.is_file()
    before = agreement_of(figure, reproduction.closeness, root) if known else []
    text = rounded(_table(figure, root)).to_csv(index=False, lineterminator="\n")
    if known and path.read_text(encoding="utf-8") == text:
        return "unchanged"
    path.write_text(text, encoding="utf-8")
    if not known:
        return f"new, {len(text.encode())} bytes"
    said = [_changed(column) for column in before if not column.agrees]
    return "; ".join(said) if said else "changed within its tolerance"


def _changed(column: ColumnAgreement) -> str:
    sizes = [d.relative for d in column.differences if d.relative is not None]
    largest = f", by up to {max(sizes):.2g} of the old" if sizes else ""
    return f"{column.column}: {len(column.differences)} changed{largest}"


def _remarks(reproduction: Reproduction, root: Path) -> Iterator[str]:
    listed = {(root / figure.reference).name for figure in reproduction.figures}
    kept = sorted((root / REFERENCES).glob("*.csv"))
    for path in kept:
        if path.name not in listed:
            yield f"{REFERENCES / path.name}: no figure of the list has it; delete it by hand"
    size = sum(path.stat().st_size for path in kept)
    yield f"{len(kept)} references, {size} bytes of at most {MOST_BYTES}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Renew references on the command line."""
    parser = argparse.ArgumentParser(
        prog="python -m workflow.reproduction",
        description="Copy the tables of the last run into the references and say what changed.",
    )
    parser.add_argument(
        "--renew", action="store_true", required=True, help="write the references anew"
    )
    parser.add_argument("--figures", help="numbers or names, separated by commas; default all")
    asked = parser.parse_args(arguments)
    try:
        reproduction = load_reproduction()
        renew(reproduction, reproduction.chosen(asked.figures))
    except CaseError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
