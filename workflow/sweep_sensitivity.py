"""Which factors a response hangs on, over their whole ranges at once: Sobol indices.

The variance of a response y over independent factors x falls into shares. The first-order index of
a factor is the share that goes with the factor alone, the total index that with everything the
factor takes part in,

    ``S1_i = Var(E(y | x_i)) / Var(y)``,  ``ST_i = E(Var(y | all but x_i)) / Var(y)``,

so ST − S1 is what it does together with others and ST = 0 means it can be left at any value.
Estimators and their 95 % half widths, 1.96 standard deviations of a bootstrap over the N base
points, are SALib's (Saltelli et al. 2010, Comput Phys Commun 181:259-270). An estimate may lie
outside 0 to 1 by about its half width.

The estimators need every run of the design. Runs that fail do so for some values of the factors and
not for others; without them the factors left would depend on each other and the shares of the
variance would no longer add up. So a response of which a run is missing has no index and says so.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from workflow.sweep_config import ParameterStudy
from workflow.sweep_design import sobol_problem
from workflow.sweep_table import failures

Array = NDArray[np.float64]

INDICES = ("S1", "S1_conf", "ST", "ST_conf")
NUMBER, WHY_NOT = "N", "no_index_because"
LEVEL = 0.95  # of the intervals
_RESAMPLES = 1000
_ACCURACY = 1e-6  # of a run's numbers: a response that varies less is constant


def sensitivity(rows: pd.DataFrame, study: ParameterStudy) -> pd.DataFrame:
    """First-order and total index of every response and factor, with half widths at 95 %.

    Columns response, factor, S1, S1_conf, ST, ST_conf, N, no_index_because; without an index the
    four numbers are NaN and the last column is not empty.

    Parameters
    ----------
    rows
        The table of runs, in the order of the design.
    """
    design = study.design.sobol
    assert design is not None
    failed = failures(rows)
    records = []
    for response in study.responses:
        values = rows[response].mask(failed).to_numpy(dtype=float)
        why_not = _why_not(values)
        found = {} if why_not else _indices(values, study, design.seed)
        for k, factor in enumerate(study.factors):
            numbers = {name: found[name][k] if found else np.nan for name in INDICES}
            record = {"response": response, "factor": factor.name} | numbers
            records.append(record | {NUMBER: design.base_runs, WHY_NOT: why_not})
    return pd.DataFrame(records)


def _why_not(values: Array) -> str:
    """Why a response has no index; empty if it has."""
    missing = int(np.isnan(values).sum())
    if missing:
        return f"{missing} of {len(values)} runs have no value"
    if np.ptp(values) <= _ACCURACY * np.abs(values).max():
        return "the response is constant"
    return ""


def _indices(values: Array, study: ParameterStudy, seed: int) -> dict[str, Array]:
    from SALib.analyze import sobol  # takes a second to load

    found = sobol.analyze(
        sobol_problem(study),
        values,
        calc_second_order=False,
        num_resamples=_RESAMPLES,
        conf_level=LEVEL,
        seed=seed + 1,  # SALib takes 0 for no seed
    )
    return {name: np.asarray(found[name]) for name in INDICES}


def sensitivity_text(table: pd.DataFrame) -> str:
    """The indices for a report, each with its half width, and N beside them."""
    lines = [
        "| response | factor | S1 (first order) | ST (total) | N |",
        "| --- | --- | --- | --- | --- |",
    ]
    for row in table.to_dict("records"):
        if row[WHY_NOT]:
            first = total = "no index"
        else:
            first = f"{row['S1']:.3f} ± {row['S1_conf']:.3f}"
            total = f"{row['ST']:.3f} ± {row['ST_conf']:.3f}"
        lines.append(f"| {row['response']} | {row['factor']} | {first} | {total} | {row[NUMBER]} |")
    without = table[table[WHY_NOT] != ""].drop_duplicates("response")
    reasons = [f"- No index of {r.response}: {getattr(r, WHY_NOT)}." for r in without.itertuples()]
    words = (
        "Shares of the variance of a response over the whole ranges of the factors: S1 of a factor "
        "alone, ST with all it takes part in (Saltelli et al. 2010, by SALib). Behind ± is half "
        f"the {100 * LEVEL:.0f} % interval of a bootstrap over the N base points. They hold for "
        "the ranges and distributions above and no others. Indices are given only where every run "
        "of the design has a value: runs fail at some values of the factors rather than others, "
        "and without them the factors would no longer be independent."
    )
    return "\n\n".join(part for part in (words, "\n".join(lines), "\n".join(reasons)) if part)
