"""Comparing two tables cell by cell, with a tolerance."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from fnmatch import fnmatchcase

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from workflow.reproduction_tables import numbers

Array = NDArray[np.float64]

_ROUNDING = 1 + 1e-6  # a tolerance and a step are met where they are reached exactly
ROWS = "(rows)"


@dataclass(frozen=True)
class Rules:
    """How two tables are compared.

    Attributes
    ----------
    relative
        Largest relative difference that agrees.
    digits
        Significant digits of the table, of which one step of the last agrees; none: all digits.
    noise
        Floor of a column as a share of its largest size, where `floors` has none.
    floors
        Absolute difference that agrees, by column or pattern; the first that fits counts.
    keys
        Columns that name a row; none: rows by their order.
    left_out
        Columns that are not compared.
    """

    relative: float
    digits: int | None = None
    noise: float = 0.0
    floors: Mapping[str, float] = field(default_factory=dict)
    keys: Sequence[str] = ()
    left_out: Collection[str] = ()

    def floor(self, column: str, largest: float) -> float:
        """Floor of a column whose largest size is `largest`."""
        for pattern, value in self.floors.items():
            if fnmatchcase(column, pattern):
                return value
        return self.noise * largest


@dataclass(frozen=True)
class Difference:
    """One cell, row or column that does not agree.

    Attributes
    ----------
    column, row
        Where; the row by its keys or its number.
    reference, computed
        Both values as they are written.
    relative
        Relative difference; none if there is no number to say it.
    """

    column: str
    row: str
    reference: str
    computed: str
    relative: float | None = None


@dataclass(frozen=True)
class ColumnAgreement:
    """Outcome of one column.

    Attributes
    ----------
    column
        Its name.
    values
        How many cells were compared.
    largest_relative_difference
        Largest difference over the size of the reference, or over the floor's equivalent where
        that is larger; none for a column without numbers.
    tolerance
        What may be reached without a step of the last digit.
    differences
        Cells that do not agree.
    """

    column: str
    values: int
    largest_relative_difference: float | None
    tolerance: float
    differences: tuple[Difference, ...] = ()

    @property
    def agrees(self) -> bool:
        """Whether nothing differs."""
        return not self.differences


def compare(reference: pd.DataFrame, computed: pd.DataFrame, rules: Rules) -> list[ColumnAgreement]:
    """Compare a table with its reference, both from `read_cells`.

    Numbers agree where they differ by at most ``relative`` times the size of the reference, by at
    most the floor of their column, or by at most one step of the last printed digit. Words and
    empty cells (NaN) agree with the same alone. Missing and extra rows and columns differ.

    Returns
    -------
    list of ColumnAgreement
        One a column, and one for the rows as such.
    """
    keys = [key for key in rules.keys if key in reference and key in computed]
    old, new = (_by_row(table, keys) for table in (reference, computed))
    shared = old.index.intersection(new.index, sort=False)
    found = [_rows(old, new, shared)]
    columns = [*reference.columns, *(c for c in computed.columns if c not in reference.columns)]
    for name in columns:
        if name in rules.left_out or name in keys:
            continue
        if name not in old or name not in new:
            where = ("there", "no such column") if name in old else ("no such column", "there")
            lacking = Difference(name, "(all)", *where)
            found.append(ColumnAgreement(name, 0, None, rules.relative, (lacking,)))
        else:
            found.append(_column(name, old.loc[shared, name], new.loc[shared, name], rules))
    return found


def _by_row(table: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    """The table with the name of each row as index; rows of one name are counted."""
    if not keys:
        names = pd.Series([f"row {k + 1}" for k in range(len(table))], dtype=str)
    else:
        parts = table[keys].apply(lambda cells: cells.map(_key_text))
        names = parts.agg(", ".join, axis=1) if len(table) else pd.Series([], dtype=str)
        again = names.groupby(names).cumcount()
        several = names.map(names.value_counts()) > 1 if len(names) else again > 0
        names = names.where(~several, names + again.map(lambda k: f", no. {k + 1}"))
    return table.set_axis(pd.Index(names.to_list()), axis=0)


def _key_text(cell: str) -> str:
    """One text for one number, however many digits it has."""
    try:
        return f"{float(cell):.6g}"
    except ValueError:
        return cell


def _rows(old: pd.DataFrame, new: pd.DataFrame, shared: pd.Index) -> ColumnAgreement:
    missing = [Difference(ROWS, str(n), "there", "missing") for n in old.index.difference(shared)]
    extra = [Difference(ROWS, str(n), "missing", "there") for n in new.index.difference(shared)]
    return ColumnAgreement(ROWS, len(old), None, 0.0, (*missing, *extra))


def _column(name: str, old: pd.Series[str], new: pd.Series[str], rules: Rules) -> ColumnAgreement:
    a, b = _floats(old), _floats(new)
    agrees = np.array(old == new, dtype=bool)
    relative = np.where(agrees, 0.0, np.inf)
    apart = ~agrees & np.isfinite(a) & np.isfinite(b)
    size, gap = np.abs(a[apart]), np.abs(a[apart] - b[apart])
    floor = rules.floor(name, _largest(a))
    allowed = np.maximum(rules.relative * size, floor)
    allowed = np.maximum(allowed, _step(a[apart], b[apart], rules.digits))
    agrees[apart] = gap <= _ROUNDING * allowed
    least = floor / rules.relative if rules.relative > 0 else 0.0
    with np.errstate(divide="ignore"):
        relative[apart] = gap / np.maximum(size, least)
    differences = tuple(
        Difference(name, str(old.index[k]), old.iloc[k], new.iloc[k], _finite(relative[k]))
        for k in map(int, np.flatnonzero(~agrees))
    )
    sized = relative[np.isfinite(a) & np.isfinite(relative)]
    largest = float(sized.max()) if len(sized) else None
    return ColumnAgreement(name, len(old), largest, rules.relative, differences)


def _floats(cells: pd.Series[str]) -> Array:
    return np.asarray(numbers(cells), dtype=np.float64)


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _largest(values: Array) -> float:
    sizes = np.abs(values[np.isfinite(values)])
    return float(sizes.max()) if len(sizes) else 0.0


def _step(a: Array, b: Array, digits: int | None) -> Array:
    """One step of the last printed digit of the larger of two numbers."""
    if digits is None:
        return np.zeros_like(a)
    size = np.maximum(np.abs(a), np.abs(b))
    with np.errstate(divide="ignore"):
        return np.where(size > 0, 10.0 ** (np.floor(np.log10(size)) - digits + 1), 0.0)
