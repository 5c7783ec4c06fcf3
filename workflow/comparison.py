"""Cases beside each other: one question, one table, one sentence a case.

The first case of a question is what the others are held against. Sentences are made of what was
computed, and of what statics asks of it: the force at the hook is the couple over its distance.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from pydantic import ValidationError

from workflow.case_errors import CaseError, translate
from workflow.case_keys import Part, key
from workflow.figures import three_digits
from workflow.specs import Spec
from workflow.units import GF_PER_N
from workflow.values import Name
from workflow.yaml_files import read_mapping

_NOT_STATICS = ", for the wire is held elsewhere too: not statically determinate."
_ALIKE = 0.01  # numbers that differ by less are called the same
_NOTHING = 1e-9


class Comparison(Part):
    """A question and the cases that answer it."""

    question: str = key("What the cases are compared for", min_length=5, max_length=200)
    cases: tuple[Name, ...] = key(
        "Names of cases; the first is what the others are held against",
        min_length=2,
        max_length=8,
    )
    labels: tuple[str, ...] = key("What to call each case in the figure", min_length=2)


@dataclass(frozen=True)
class Quantity:
    """A column of the table.

    Attributes
    ----------
    column
        Name in the table, with its unit.
    words, unit
        What it is called, and its unit, in sentences and figures.
    """

    column: str
    words: str
    unit: str


QUANTITIES = (
    Quantity("force_gf", "force at the hook", "gf"),
    Quantity("couple_gfmm", "couple at the tube", "gf·mm"),
    Quantity("distance_mm", "distance of the force from the tube", "mm"),
    Quantity("rate_gf_per_mm", "load-deflection rate", "gf/mm"),
    Quantity("range_mm", "activation over which the force stays within ±25 %", "mm"),
    Quantity("yield_percent", "peak stress, share of the elastic limit", "%"),
    Quantity("target_um", "movement of the target's centre of resistance", "µm"),
    Quantity("target_mrad", "turn of the target", "mrad"),
    Quantity("anchor_um", "movement of the anchor's centre of resistance", "µm"),
    Quantity("anchor_mrad", "turn of the anchor", "mrad"),
)


def load_comparison(path: str | Path) -> Comparison:
    """Read the file of a question.

    Raises
    ------
    CaseError
        If anything in it is wrong; all problems at once, one line each.
    """
    try:
        comparison = Comparison.model_validate(read_mapping(Path(path)))
    except ValidationError as error:
        raise CaseError(translate(error, Comparison, str(path))) from None
    if len(comparison.labels) != len(comparison.cases):
        raise ValueError(
            f"{path}: labels: {len(comparison.labels)} for {len(comparison.cases)} cases; give "
            "one for each"
        )
    return comparison


def comparison_table(
    labels: Sequence[str], summaries: Sequence[Spec], curves: Sequence[Spec]
) -> pd.DataFrame:
    """One row a case.

    Parameters
    ----------
    labels
        What each case is called.
    summaries, curves
        Contents of ``summary.json`` and ``force_activation.json`` of each case.
    """
    rows = [
        _row(label, summary, curve)
        for label, summary, curve in zip(labels, summaries, curves, strict=True)
    ]
    table = pd.DataFrame(rows)
    return table.assign(words=["", *sentences(table)])


def sentences(table: pd.DataFrame) -> list[str]:
    """What each case but the first does differently, in words."""
    first = table.iloc[0]
    return [" ".join(_sentence(first, row)) for _, row in table.iloc[1:].iterrows()]


def _row(label: str, summary: Spec, curve: Spec) -> dict[str, Any]:
    wire, band = summary["wire"], curve["band"]
    force, couple = (np.linalg.norm(wire[name]) for name in ("force_N", "couple_Nmm"))
    upper = None if band["upper"] is None else band["upper"]["activation_mm"]
    row: dict[str, Any] = {
        "label": label,
        "case": summary["case"],
        "alloy": wire["alloy"],
        "section": wire["section"],
        "span_mm": wire["span_mm"],
        "activation_mm": float(np.linalg.norm(wire["activation_mm"])),
        "force_gf": float(force) * GF_PER_N,
        "couple_gfmm": float(couple) * GF_PER_N,
        "distance_mm": wire["lever_arm_mm"],
        "rate_gf_per_mm": curve["rate_gf_per_mm"],
        "range_mm": None if upper is None else upper - band["lower"]["activation_mm"],
        "yield_percent": 100 * wire["yield_ratio"],
        "permanent_set_mm": wire["permanent_set_mm"],
    }
    for role in ("target", "anchor"):
        unit = next((u for u in summary["units"].values() if u["role"] == role), None)
        row |= _moved(role, unit)
    row["warnings"] = "; ".join(text.partition(":")[0] for text in summary["warnings"])
    return row


def _moved(role: str, unit: Mapping[str, Any] | None) -> dict[str, Any]:
    if unit is None:
        return {f"{role}_um": None, f"{role}_mrad": None, f"{role}_p99_kPa": None}
    stress = [tooth["hydrostatic_kPa"] for tooth in unit["ligament"].values()]
    return {
        f"{role}_um": float(np.linalg.norm(unit["displacement_at_resistance_um"])),
        f"{role}_mrad": float(np.linalg.norm(unit["rotation_mrad"])),
        f"{role}_p99_kPa": max(max(abs(s["p01"]), abs(s["p99"])) for s in stress),
    }


def _sentence(first: pd.Series[Any], row: pd.Series[Any]) -> Iterator[str]:
    """Quantities that differ, with their ratio, then statics, then warnings."""
    same, changed = [], []
    for quantity in QUANTITIES:
        before, now = first[quantity.column], row[quantity.column]
        if pd.isna(before) or pd.isna(now) or abs(before) < _NOTHING:
            continue
        ratio = now / before
        if abs(ratio - 1) < _ALIKE:
            same.append(quantity.words)
        else:
            changed.append(
                f"{quantity.words} {three_digits(now)} {quantity.unit} ({ratio:.2f} times)"
            )
    yield f"{row['label']} against {first['label']}: {'; '.join(changed) or 'no difference'}."
    if same:
        yield f"The same within 1 %: {', '.join(same)}."
    force, distance = row["force_gf"] / first["force_gf"], row["distance_mm"] / first["distance_mm"]
    couple = row["couple_gfmm"] / first["couple_gfmm"]
    yield (
        f"Statics: force = couple / distance, {couple:.3f} / {distance:.3f} = "
        f"{couple / distance:.3f}; computed {force:.3f}"
        + ("." if abs(couple / distance / force - 1) < _ALIKE else _NOT_STATICS)
    )
    if row["warnings"]:
        yield f"Warnings: {row['warnings']}."
