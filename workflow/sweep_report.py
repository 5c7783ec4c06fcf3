"""What a parameter study says of itself: how it was made, from what, and what failed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd
import yaml

from workflow.provenance import made_by
from workflow.sweep_config import LoadedStudy, ParameterStudy
from workflow.sweep_design import design_points
from workflow.sweep_factor import Factor
from workflow.sweep_responses import responses
from workflow.sweep_runs import make_run
from workflow.sweep_solve import REMARKS
from workflow.sweep_store import NOTE, RUN
from workflow.sweep_table import Table, failures

_NUMBER = re.compile(r"-?\d+(\.\d+)?(e[-+]?\d+)?")
_MOST_REASONS = 12
_DESIGNS = {
    "grid": "every combination of levels (full factorial)",
    "one_at_a_time": "all factors at their first level, then each other level alone",
    "latin_hypercube": "Latin hypercube sample (scipy.stats.qmc.LatinHypercube)",
    "random": "independent random points",
    "sobol": "Saltelli's blocks of factors + 2 runs around a scrambled Sobol sequence (SALib)",
}


def resolved_study(loaded: LoadedStudy, table: Table) -> dict[str, Any]:
    """The content of ``study.resolved.yaml``: study, base case in full, counts, versions."""
    return {
        "study": loaded.study.model_dump(mode="json", by_alias=True, exclude_none=True),
        "base_case": make_run(loaded, ()).case or loaded.content,
        "runs": {
            "rows": len(table.rows),
            "different": int(table.rows[RUN].nunique()),
            "kept": table.kept,
            "computed": table.computed,
            "failed": table.failed,
            "seconds": round(table.seconds, 1),
        },
        "made_by": made_by(),
    }


def write_yaml(path: str | Path, record: Any) -> None:
    """Write a record as YAML in its own order."""
    text = yaml.safe_dump(record, sort_keys=False, allow_unicode=True)
    Path(path).write_text(text, encoding="utf-8")


def read_runs(path: str | Path) -> pd.DataFrame:
    """Read ``runs.parquet``."""
    return pd.read_parquet(path)


def runs_text(rows: pd.DataFrame) -> str:
    """How many runs figures are drawn from, and how many they leave out."""
    failed = int(failures(rows).sum())
    past = int(rows[NOTE].isin(REMARKS).sum())
    text = f"{len(rows) - failed} of {len(rows)} runs solved"
    return f"{text}, {past} of them past the elastic limit" if past else text


def report_text(
    loaded: LoadedStudy,
    rows: pd.DataFrame,
    figures: list[str],
    chapters: Mapping[str, str] | None = None,
) -> str:
    """The content of ``report.md``.

    Parameters
    ----------
    rows
        The table of runs.
    figures
        Paths of the figures, from the folder of the report.
    chapters
        What only some studies say, by heading.
    """
    study = loaded.study
    parts = [
        f"# {study.title}",
        f"Parameter study `{study.study}`: {runs_text(rows)}.",
        "## Methods",
        "\n".join(_methods(loaded, rows)),
        "## Factors",
        _table(("column", "key", "values"), [_factor_row(f) for f in study.factors]),
        "## Responses",
        _table(("column", "meaning", "least", "median", "greatest"), _response_rows(study, rows)),
        "## Runs that were not solved, and remarks",
        _reasons(rows),
        *(f"## {heading}\n\n{text}" for heading, text in (chapters or {}).items()),
        "## Figures",
        "\n".join(f"![{Path(path).stem}]({path})" for path in figures),
        "## Versions",
        "\n".join(_versions()),
    ]
    return "\n\n".join(parts) + "\n"


def _methods(loaded: LoadedStudy, rows: pd.DataFrame) -> Iterator[str]:
    study = loaded.study
    sampled = getattr(study.design, study.design.name).model_dump()
    numbers = ", ".join(f"{name} {value}" for name, value in sampled.items())
    yield f"- Base case: `{study.case}`" + (" with" if study.fixed else "")
    for path, value in study.fixed.items():
        yield f"  - `{path}` = {value}"
    yield f"- Design: {_DESIGNS.get(study.design.name, study.design.name)}" + (
        f"; {numbers}" if numbers else ""
    )
    yield f"- Runs: {len(design_points(study))}, of which {rows[RUN].nunique()} differ"
    yield (
        "- Every run is the base case with the values of its row, checked as a case is and named "
        "by the hash of what it resolves to."
    )
    yield (
        "- Wires over a bar or tied, without play or friction, are solved in batches as elastic "
        "rods with finite rotation on the 6×6 supports of the units; past their elastic limit the "
        f"note says “{REMARKS[0]}” and the numbers are those of an elastic wire, or left out where "
        "a superelastic wire is past its plateau. Other wires are engaged one by one, as cases."
    )
    yield (
        "- Values of the ligament are assumptions that vary by orders of magnitude; a research and "
        "teaching tool, not a medical device."
    )


def _factor_row(factor: Factor) -> tuple[str, ...]:
    if factor.uniform is not None:
        values = f"uniform from {factor.uniform[0]:g} to {factor.uniform[1]:g}"
    elif factor.normal is not None:
        n = factor.normal
        values = (
            f"normal, mean {n.mean:g}, standard deviation {n.sd:g}, cut at {n.low:g}, {n.high:g}"
        )
    else:
        shown = [c.shown for c in factor.choices]
        values = ", ".join(f"{s:g}" if isinstance(s, float) else s for s in shown)
    return factor.name, ", ".join(f"`{key}`" for key in factor.keys), values


def _response_rows(study: ParameterStudy, rows: pd.DataFrame) -> list[tuple[str, ...]]:
    found = []
    for response in responses(study.responses):
        values = rows[response.name].dropna()
        numbers = (values.min(), values.median(), values.max()) if len(values) else ()
        shown = [f"{value:.4g}" for value in numbers] or ["–"] * 3
        found.append((response.name, response.meaning, *shown))
    return found


def _reasons(rows: pd.DataFrame) -> str:
    """Notes with their counts, those that differ in numbers alone together."""
    notes = rows.loc[rows[NOTE] != "", NOTE]
    if notes.empty:
        return "None."
    alike = notes.map(lambda note: _NUMBER.sub("#", str(note)))
    counts = alike.value_counts()
    example = {kind: str(notes[alike == kind].iloc[0]) for kind in counts.index}
    lines = [(str(n), example[str(kind)]) for kind, n in counts.head(_MOST_REASONS).items()]
    left = int(counts.iloc[_MOST_REASONS:].sum())
    if left:
        lines.append((str(left), "other reasons, see the column note"))
    return _table(("rows", "note, of the first of its kind"), lines)


def _versions() -> Iterator[str]:
    made = made_by()
    yield f"- onecouple {made['code']['version']}, commit {made['code']['commit']}"
    yield f"- Python {made['python']} on {made['platform']}"
    yield "- " + ", ".join(f"{name} {number}" for name, number in made["libraries"].items())


def _table(head: tuple[str, ...], lines: Sequence[tuple[str, ...]]) -> str:
    ruled = [head, tuple("---" for _ in head), *lines]
    cells = [[cell.replace("|", "/").replace("\n", " ") for cell in line] for line in ruled]
    return "\n".join("| " + " | ".join(line) + " |" for line in cells)
