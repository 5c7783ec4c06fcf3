"""Tables as text, so that what is compared is what was written; digests of large ones."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pandas as pd

DIGEST = "digest_of"
REFERENCE_DIGITS = 9
_SAMPLED_ROWS = 40
_QUANTILES = {"5 %": 0.05, "25 %": 0.25, "median": 0.5, "75 %": 0.75, "95 %": 0.95}


def read_cells(path: str | Path) -> pd.DataFrame:
    """Read a table with every cell as the text in the file; a missing one is empty."""
    table = pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8")
    return table.replace({"nan": "", "NaN": ""})


def numbers(cells: pd.Series[str]) -> pd.Series[float]:
    """Numbers of a column; NaN where a cell is empty or words."""
    return pd.to_numeric(cells, errors="coerce").astype(float)


def are_words(cells: pd.Series[str]) -> bool:
    """Whether a column holds anything but numbers and empty cells."""
    return bool((numbers(cells).isna() & (cells != "")).any())


def rounded(table: pd.DataFrame) -> pd.DataFrame:
    """Cells with at most nine significant digits; words and whole numbers as they are."""
    return table.apply(lambda cells: cells.map(_rounded_cell))


def _rounded_cell(cell: str) -> str:
    if cell.lstrip("-").isdigit():
        return cell
    try:
        return f"{float(cell):.{REFERENCE_DIGITS}g}" if len(cell) > REFERENCE_DIGITS else cell
    except ValueError:
        return cell


def digest(table: pd.DataFrame) -> pd.DataFrame:
    """Digest of a large table: statistics of every column and a sample of its rows.

    Parameters
    ----------
    table
        From `read_cells`.

    Returns
    -------
    DataFrame
        Columns of the table behind the column ``digest_of``, which says what a row is: how many
        cells are filled; for words the SHA-256 of the column, for numbers mean, standard deviation,
        least, quantiles, greatest; and 40 rows in full, those whose numbers have the smallest
        SHA-256, so that the sample depends on nothing but the length of the table.
    """
    columns = {name: _statistics(table[name]) for name in table}
    statistics = pd.DataFrame(columns)
    statistics.insert(0, DIGEST, statistics.index.to_numpy())
    chosen = sampled_rows(len(table))
    sample = table.iloc[chosen].copy()
    sample.insert(0, DIGEST, [f"row {k + 1}" for k in chosen])
    return pd.concat([statistics, sample], ignore_index=True)


def sampled_rows(count: int) -> list[int]:
    """Rows of a table of `count` rows that its digest keeps, in order."""
    ranked = sorted(range(count), key=lambda k: hashlib.sha256(f"row {k}".encode()).digest())
    return sorted(ranked[:_SAMPLED_ROWS])


def _statistics(cells: pd.Series[str]) -> dict[str, str]:
    filled = f"{int((cells != '').sum())} of {len(cells)}"
    if are_words(cells):
        text = "\n".join(cells)
        found = {"filled": filled, "SHA-256": f"sha256:{hashlib.sha256(text.encode()).hexdigest()}"}
        return found | dict.fromkeys(_NUMERIC, "")
    values = numbers(cells).dropna().to_numpy()
    found = {"filled": filled, "SHA-256": ""}
    if not len(values):
        return found | dict.fromkeys(_NUMERIC, "")
    quantiles = np.quantile(values, list(_QUANTILES.values()))
    statistics = (values.mean(), values.std(), values.min(), *quantiles, values.max())
    return found | dict(zip(_NUMERIC, (repr(float(v)) for v in statistics), strict=True))


_NUMERIC = ("mean", "standard deviation", "least", *_QUANTILES, "greatest")
