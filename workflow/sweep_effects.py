"""Numbers of a study's figures: each response against each factor, and against pairs of them.

All medians and percentiles are over the runs that were solved, whatever the other factors are at.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from workflow.sweep_config import ParameterStudy
from workflow.sweep_factor import Factor
from workflow.sweep_table import failures

LOW, HIGH = 0.1, 0.9  # of the runs at a level: what the band leaves out at either side
_BINS = 10  # as many runs in each, of a factor without levels
_FEW = 24  # levels shown one by one


def main_effects(rows: pd.DataFrame, study: ParameterStudy) -> pd.DataFrame:
    """Response over the runs at each level of a factor: median and middle 80 %.

    Columns response, factor, level, low, median, high, runs; a factor without levels is cut into
    parts of as many runs each, named by their middle.
    """
    solved = rows[~failures(rows)]
    records = []
    for factor in study.factors:
        levels = levels_of(factor, solved[factor.name])
        for response in study.responses:
            for level, part in _parts(solved[response], levels, factor):
                values = np.quantile(part, [LOW, 0.5, HIGH]) if len(part) else [np.nan] * 3
                numbers = dict(zip(("low", "median", "high"), map(float, values), strict=True))
                record = {"response": response, "factor": factor.name, "level": level}
                records.append(record | numbers | {"runs": len(part)})
    return pd.DataFrame(records)


def interactions(rows: pd.DataFrame, study: ParameterStudy) -> pd.DataFrame:
    """Median response at each pair of levels of two factors.

    Columns response, across, across_level, up, up_level, median, runs.
    """
    solved = rows[~failures(rows)]
    levels = {f.name: levels_of(f, solved[f.name]) for f in study.factors}
    records = []
    for number, up in enumerate(study.factors):
        for across in study.factors[:number]:
            pair = [levels[across.name], levels[up.name]]
            for response in study.responses:
                grouped = solved[response].groupby(pair, sort=False)
                for (first, second), part in grouped:
                    known = part.dropna()
                    records.append(
                        {
                            "response": response,
                            "across": across.name,
                            "across_level": first,
                            "up": up.name,
                            "up_level": second,
                            "median": float(known.median()) if len(known) else np.nan,
                            "runs": len(known),
                        }
                    )
    return pd.DataFrame(records)


def levels_of(factor: Factor, values: pd.Series) -> pd.Series:
    """Level of each run, or the middle of the part of the range that it is in."""
    numeric = pd.api.types.is_numeric_dtype(values)
    if factor.choices and (not numeric or len(factor.choices) <= _FEW):
        return values
    parts = pd.qcut(values, min(_BINS, max(1, values.nunique())), duplicates="drop")
    return values.groupby(parts, observed=True).transform("median")


def ordered_levels(factor: Factor, levels: pd.Series) -> list[float | str]:
    """Levels in the order of the factor, or rising."""
    present = set(levels)
    if all(isinstance(level, float) for level in present):
        return sorted(present)
    return [str(c.shown) for c in factor.choices if c.shown in present]


def _parts(
    values: pd.Series, levels: pd.Series, factor: Factor
) -> Iterator[tuple[float | str, pd.Series]]:
    for level in ordered_levels(factor, levels):
        yield level, values[levels == level].dropna()
