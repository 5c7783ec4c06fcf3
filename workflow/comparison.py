"""Cases beside each other: one question, one table, one sentence a case.

The first case of a question is what the others are held against. Sentences are made of what was
computed, and of what statics asks of it: the force at the hook is the couple over its distance.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from workflow.case_keys import Part, key
from workflow.figures import three_digits
from workflow.sheet_amounts import amount
from workflow.specs import Spec
from workflow.units import GF_PER_N, N_PER_GF
from workflow.values import Name

ROLES = ("target", "anchor")
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
    unknown
        What is said where there is no number.
    """

    column: str
    words: str
    unit: str
    unknown: str = "none in this case"


QUANTITIES = (
    Quantity("force_gf", "force at the hook", "gf"),
    Quantity("couple_gfmm", "couple at the tube", "gf·mm"),
    Quantity("distance_mm", "distance of the force from the tube", "mm"),
    Quantity("rate_gf_per_mm", "load-deflection rate", "gf/mm"),
    Quantity(
        "range_mm",
        "activation over which the force stays within ±25 %",
        "mm",
        "beyond the computed curve",
    ),
    Quantity("yield_percent", "peak stress, share of the elastic limit", "%"),
    Quantity("target_um", "movement of the target's centre of resistance", "µm"),
    Quantity("target_mrad", "turn of the target", "mrad"),
    Quantity("anchor_um", "movement of the anchor's centre of resistance", "µm"),
    Quantity("anchor_mrad", "turn of the anchor", "mrad"),
)


def si_unit(quantity: Quantity) -> tuple[str, float]:
    """Unit with N for gf, and how many of it make one of the table's."""
    unit = quantity.unit.replace("gf", "N")
    return unit, 1.0 if unit == quantity.unit else N_PER_GF


def amount_text(quantity: Quantity, value: float) -> str:
    """A number of the table with its unit; loads and rates in N first, in gf in brackets."""
    unit, factor = si_unit(quantity)
    if unit == quantity.unit:
        return f"{three_digits(value)} {unit}"
    return amount(value * factor, unit)


def mesh_errors(summaries: Sequence[Spec]) -> pd.DataFrame:
    """Mesh errors in percent of the numbers in the table, one row a case; NaN where unmeasured.

    The rate has that of the wire's stiffness, movements those of the units.
    """
    rows = []
    for summary in summaries:
        row = {"rate_gf_per_mm": summary["wire"]["mesh_error"]["stiffness_percent"]}
        for role in ROLES:
            unit = first_of_role(summary, role)
            bars = {} if unit is None else unit["mesh_error"]
            row[f"{role}_um"] = bars.get("displacement_percent")
            row[f"{role}_mrad"] = bars.get("rotation_percent")
        rows.append(row)
    return pd.DataFrame(rows).astype(float)


def first_of_role(summary: Spec, role: str) -> Mapping[str, Any] | None:
    """The first unit of a case that is target or anchor; None if it has none."""
    return next((unit for unit in summary["units"].values() if unit["role"] == role), None)


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
    return [" ".join(_sentences(statement)) for statement in statements(table)]


@dataclass(frozen=True)
class Change:
    """A quantity of a case and of the first.

    Attributes
    ----------
    quantity
        Which.
    before, now
        Of the first case and of this one, in the unit of the quantity.
    """

    quantity: Quantity
    before: float
    now: float

    @property
    def ratio(self) -> float:
        """How many times as much as in the first case."""
        return self.now / self.before

    @property
    def same(self) -> bool:
        """Whether the two differ by less than 1 %."""
        return abs(self.ratio - 1) < _ALIKE


@dataclass(frozen=True)
class Statement:
    """What a case does differently from the first.

    Attributes
    ----------
    label, first
        What the case is called, and the one it is held against.
    changes
        All quantities known of both.
    statics
        What statics asks of the force, and whether it is met.
    warnings
        Names of the case's warnings.
    """

    label: str
    first: str
    changes: tuple[Change, ...]
    statics: str
    warnings: str


def statements(table: pd.DataFrame) -> list[Statement]:
    """What is to be said of each case but the first."""
    first = table.iloc[0]
    return [
        Statement(
            label=row["label"],
            first=first["label"],
            changes=tuple(_changes(first, row)),
            statics=_statics(first, row),
            warnings=row["warnings"],
        )
        for _, row in table.iloc[1:].iterrows()
    ]


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
    for role in ROLES:
        row |= _moved(role, first_of_role(summary, role))
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


def _changes(first: pd.Series[Any], row: pd.Series[Any]) -> Iterator[Change]:
    for quantity in QUANTITIES:
        before, now = first[quantity.column], row[quantity.column]
        if not (pd.isna(before) or pd.isna(now) or abs(before) < _NOTHING):
            yield Change(quantity, float(before), float(now))


def _statics(first: pd.Series[Any], row: pd.Series[Any]) -> str:
    force, distance = row["force_gf"] / first["force_gf"], row["distance_mm"] / first["distance_mm"]
    couple = row["couple_gfmm"] / first["couple_gfmm"]
    return (
        f"Statics: force = couple / distance, {couple:.3f} / {distance:.3f} = "
        f"{couple / distance:.3f}; computed {force:.3f}"
        + ("." if abs(couple / distance / force - 1) < _ALIKE else _NOT_STATICS)
    )


def _sentences(statement: Statement) -> Iterator[str]:
    """Quantities that differ, with their ratio, then statics, then warnings."""
    changed = [
        f"{c.quantity.words} {three_digits(c.now)} {c.quantity.unit} ({c.ratio:.2f} times)"
        for c in statement.changes
        if not c.same
    ]
    same = [c.quantity.words for c in statement.changes if c.same]
    yield f"{statement.label} against {statement.first}: {'; '.join(changed) or 'no difference'}."
    if same:
        yield f"The same within 1 %: {', '.join(same)}."
    yield statement.statics
    if statement.warnings:
        yield f"Warnings: {statement.warnings}."
