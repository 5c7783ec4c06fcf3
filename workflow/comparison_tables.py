"""Tables of the page of a comparison: all cases with all quantities, and how they are set up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from workflow.cautions import names_of
from workflow.comparison import QUANTITIES, ROLES, amount_text
from workflow.comparison_records import ComparedCase
from workflow.comparison_setup import Part, alike, differing
from workflow.comparison_words import moved_text, other_couples
from workflow.figures import three_digits
from workflow.schema import default_rows
from workflow.sheet_amounts import amount
from workflow.sheet_tables import Table

_BY_COLUMN = {quantity.column: quantity for quantity in QUANTITIES}
_NONE = "none"
_HIDDEN = ("schema_version",)
_LONGEST = 60


@dataclass(frozen=True)
class Row:
    """One case in the table of all.

    Attributes
    ----------
    label, case
        What it is called, and its name, under which its sheet lies.
    cells
        Its values.
    """

    label: str
    case: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Shared:
    """A part of the case files that is alike in all: its key, and its value if it is short."""

    key: str
    value: str


def all_cases(
    cases: Sequence[ComparedCase], table: pd.DataFrame
) -> tuple[tuple[str, ...], list[Row]]:
    """Names of the columns and one row a case; a column that no case fills is left out.

    Parameters
    ----------
    table
        What `workflow.comparison.comparison_table` says of the cases.
    """
    records = table.to_dict("records")
    cells = [_cells(c, record) for c, record in zip(cases, records, strict=True)]
    shown = [name for name in cells[0] if any(row[name] != _NONE for row in cells)]
    rows = [
        Row(compared.label, compared.name, tuple(row[name] for name in shown))
        for compared, row in zip(cases, cells, strict=True)
    ]
    return tuple(shown), rows


def differences(cases: Sequence[ComparedCase]) -> Table:
    """Keys of the case files that are not the same in all, with what stands there."""
    parts = differing([compared.case for compared in cases])
    meaning = _meanings()
    rows = tuple((_named(part, meaning), *part.values) for part in parts)
    heads = ("Key of the case file", *(compared.label for compared in cases))
    return Table("What differs between the case files", heads, rows)


def shared(cases: Sequence[ComparedCase]) -> list[Shared]:
    """Keys of the case files that are the same in all and say something."""
    return [
        Shared(part.key, part.values[0] if len(part.values[0]) <= _LONGEST else "")
        for part in alike([compared.case for compared in cases])
        if part.key not in _HIDDEN and part.values[0] != _NONE
    ]


def origins(cases: Sequence[ComparedCase]) -> Table:
    """Code and stages that each case comes from."""
    rows = tuple((compared.label, *_origin(compared)) for compared in cases)
    heads = ("Case", "Name", "Version", "Commit", "Supports", "Wire", "Python", "Libraries")
    return Table("Where the numbers of each case come from", heads, rows)


def _cells(compared: ComparedCase, row: dict[Any, Any]) -> dict[str, str]:
    summary = compared.summary
    others = other_couples(summary)
    left = row["permanent_set_mm"]
    return {
        "Alloy": row["alloy"].replace("_", " "),
        "Section": row["section"].replace("_", " "),
        "Span": f"{three_digits(row['span_mm'])} mm",
        "Activation": f"{three_digits(row['activation_mm'])} mm",
        **{_title(column): _number(row, column) for column in ("force_gf", "couple_gfmm")},
        "Couple at another unit": "; ".join(
            f"{amount(size, 'N·mm')} on {name}" for name, size in others.items()
        )
        or _NONE,
        **{
            _title(column): _number(row, column)
            for column in ("distance_mm", "rate_gf_per_mm", "range_mm", "yield_percent")
        },
        "Set that stays": "not known" if pd.isna(left) else f"{left:.2g} mm",
        **{name: cell for role in ROLES for name, cell in _of_role(summary, role, row).items()},
        "Warnings": "; ".join(names_of(summary["warnings"])) or _NONE,
    }


def _title(column: str) -> str:
    words = _BY_COLUMN[column].words
    return words[0].upper() + words[1:]


def _number(row: dict[Any, Any], column: str) -> str:
    quantity, value = _BY_COLUMN[column], row[column]
    return quantity.unknown if pd.isna(value) else amount_text(quantity, value)


def _of_role(summary: dict[str, Any], role: str, row: dict[Any, Any]) -> dict[str, str]:
    """Movement and stress of the units of a role; several are told apart by their names."""
    units = {name: unit for name, unit in summary["units"].items() if unit["role"] == role}
    texts = {name: moved_text(unit) for name, unit in units.items()}
    stress = row[f"{role}_p99_kPa"]
    which = next(iter(units), "")
    return {
        f"Movement of the {role}": _joined({name: text[0] for name, text in texts.items()}),
        f"Turn of the {role}": _joined({name: text[1] for name, text in texts.items()}),
        f"Hydrostatic stress, {role}": _NONE
        if pd.isna(stress)
        else amount(stress, "kPa") + (f" {which}" if len(units) > 1 else ""),
    }


def _joined(texts: dict[str, str]) -> str:
    if len(texts) < 2:
        return next(iter(texts.values()), _NONE)
    return "; ".join(f"{name} {text}" for name, text in texts.items())


def _named(part: Part, meanings: dict[str, str]) -> str:
    meaning = meanings.get(part.key, "")
    return f"{part.key}: {meaning}" if meaning else part.key


def _meanings() -> dict[str, str]:
    return {row[0].strip("`"): row[5] for row in default_rows()}


def _origin(compared: ComparedCase) -> tuple[str, ...]:
    made, stages = compared.provenance, compared.provenance["stages"]
    return (
        compared.name,
        made["code"]["version"],
        made["code"]["commit"],
        ", ".join(f"{tooth}: {name}" for tooth, name in stages["supports"].items()),
        stages["wire"],
        made["python"],
        ", ".join(f"{name} {number}" for name, number in made["libraries"].items()),
    )
