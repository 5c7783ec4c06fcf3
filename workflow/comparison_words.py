"""Words of the page of a comparison: headlines, what is said in full, what each case gives.

All are made of the statements of `workflow.comparison` and of the cases' own records; amounts are
written in N with gf in brackets, so that the page can show either.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from workflow.comparison import Change, Quantity, Statement, amount_text
from workflow.comparison_records import ComparedCase
from workflow.figures import three_digits
from workflow.sheet_amounts import amount
from workflow.sheet_bars import percent_text
from workflow.specs import Spec
from workflow.words import leading, movement_words

# What a headline tells, in its order, and what it calls it.
_HEADLINE = {
    "couple_gfmm": "couple at the tube",
    "force_gf": "force on each unit",
    "yield_percent": "stress of the wire",
    "target_mrad": "turn of the target",
    "anchor_um": "movement of the anchor",
}
_WITH_AMOUNTS = ("force_gf", "couple_gfmm")
_TIMES = 2.0  # from here on more is told in times, not in percent
_NO_COUPLE = 1e-6  # share of the couple at the tube


@dataclass(frozen=True)
class Headline:
    """What a case does differently, in one line.

    Attributes
    ----------
    label
        What the case is called.
    points
        Its differences from the first case.
    """

    label: str
    points: tuple[str, ...]


@dataclass(frozen=True)
class InFull:
    """All that is said of a case against the first: differences, what stays, statics, warnings."""

    heading: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Given:
    """One thing that a case gives.

    Attributes
    ----------
    name
        What.
    values
        How much, and how much less or more than in the first case; empty for the first itself.
    """

    name: str
    values: tuple[tuple[str, str], ...]


def change_text(change: Change) -> str:
    """How much less or more than in the first case."""
    if change.same:
        return "the same"
    if change.ratio >= _TIMES:
        return f"{three_digits(change.ratio)} times"
    more = "more" if change.ratio > 1 else "less"
    return f"{100 * abs(change.ratio - 1):.0f}\u00a0% {more}"


def headlines(statements: Sequence[Statement], first_warnings: str) -> list[Headline]:
    """One line for each case but the first.

    Parameters
    ----------
    first_warnings
        Names of the warnings of the first case, which are not repeated.
    """
    known = set(_names(first_warnings))
    return [
        Headline(s.label, (*_points(s), *_own_warnings(_names(s.warnings), known)))
        for s in statements
    ]


def in_full(statement: Statement) -> InFull:
    """The statement of a case, its amounts in both units."""
    changed = [
        f"{c.quantity.words} {amount_text(c.quantity, c.now)} ({c.ratio:.2f} times)"
        for c in statement.changes
        if not c.same
    ]
    same = [c.quantity.words for c in statement.changes if c.same]
    lines = [f"Differs: {'; '.join(changed)}." if changed else "No difference."]
    if same:
        lines.append(f"The same within 1 %: {', '.join(same)}.")
    lines.append(statement.statics)
    if statement.warnings:
        lines.append(f"Warnings: {'; '.join(dict.fromkeys(_names(statement.warnings)))}.")
    return InFull(f"{statement.label} against {statement.first}", tuple(lines))


def given(compared: ComparedCase, statement: Statement | None) -> list[Given]:
    """Force, couples, use of the wire and movement of every unit of a case.

    Parameters
    ----------
    statement
        The case against the first; None for the first itself.
    """
    wire = compared.summary["wire"]
    force, couple = (_size(wire[key]) for key in ("force_N", "couple_Nmm"))
    told = _told(statement)
    two_wires = ", of each of the two wires" if compared.case["mirror_image"] else ""
    share = f"{three_digits(100 * wire['yield_ratio'])} % of its elastic limit"
    return [
        _one(f"Force on each unit{two_wires}", amount(force, "N"), told.get("force_gf")),
        _one("Couple at the tube", amount(couple, "N·mm"), told.get("couple_gfmm")),
        *(
            _one(f"Couple on {name}, at its bracket", amount(size, "N·mm"))
            for name, size in other_couples(compared.summary).items()
        ),
        _one("Wire stressed to", share, told.get("yield_percent")),
        *_movements(compared.summary, told),
    ]


def other_couples(summary: Spec) -> dict[str, float]:
    """Couples on units other than that of the tube, N·mm, by name of the unit."""
    least = _NO_COUPLE * _size(summary["wire"]["couple_Nmm"])
    return {
        name: size
        for name, unit in summary["units"].items()
        if unit["contact"] != "two-point"
        and (size := _size(unit["moment_at_attachment_Nmm"])) > least
    }


def unit_text(name: str, unit: Spec) -> str:
    """A unit with its role and teeth."""
    teeth = ", ".join(map(str, unit["teeth"]))
    return f"{name} ({unit['role']}, {'teeth' if len(unit['teeth']) > 1 else 'tooth'} {teeth})"


def moved_text(unit: Spec) -> tuple[str, str]:
    """Displacement of the centre of resistance and rotation of a unit, with their mesh errors."""
    bars = unit["mesh_error"]
    return (
        f"{three_digits(_size(unit['displacement_at_resistance_um']))} µm"
        f"{percent_text(bars['displacement_percent'])}",
        f"{three_digits(_size(unit['rotation_mrad']))} mrad"
        f"{percent_text(bars['rotation_percent'])}",
    )


def panel_text(compared: ComparedCase, seen: str) -> str:
    """What the panel of a case shows, with its numbers."""
    values = "; ".join(
        f"{g.name}: {', '.join(value for value, _ in g.values)}" for g in given(compared, None)
    )
    units = "; ".join(unit_text(name, unit) for name, unit in compared.summary["units"].items())
    return (
        f"{compared.label}, seen from {seen}: outlines of {units}, the wire hooked and before it "
        f"is hooked, and the loads on the units as arrows. {values}."
    )


def bars_text(quantity: Quantity, labels: Sequence[str], values: Sequence[float]) -> str:
    """What the bars of a quantity show."""
    told = (
        f"{label} {quantity.unknown if np.isnan(value) else amount_text(quantity, value)}"
        for label, value in zip(labels, values, strict=True)
    )
    return f"Bars of {quantity.words}: {'; '.join(told)}."


def _points(statement: Statement) -> Iterator[str]:
    found = {change.quantity.column: change for change in statement.changes}
    for column, name in _HEADLINE.items():
        if column not in found:
            continue
        change = found[column]
        text = f"{name} {change_text(change)}"
        if column in _WITH_AMOUNTS and not change.same:
            now, before = (amount_text(change.quantity, v) for v in (change.now, change.before))
            text += f", {now} for {before}"
        yield text


def _own_warnings(names: Sequence[str], known: set[str]) -> Iterator[str]:
    own = [name for name in dict.fromkeys(names) if name not in known]
    if own:
        yield f"warned: {', '.join(own)}"


def _names(warnings: str) -> list[str]:
    return [name for name in warnings.split("; ") if name]


def _told(statement: Statement | None) -> dict[str, str]:
    """How much less or more, by column."""
    changes = () if statement is None else statement.changes
    return {change.quantity.column: change_text(change) for change in changes}


def _one(name: str, value: str, against: str | None = None) -> Given:
    return Given(name, ((value, against or ""),))


def _movements(summary: Spec, told: Mapping[str, str]) -> Iterator[Given]:
    """Movement of every unit; the first of each role is held against that of the first case."""
    roles: set[str] = set()
    for name, unit in summary["units"].items():
        role, words = unit["role"], movement_words(unit["anatomical"])
        shift, turn = moved_text(unit)
        against = {} if role in roles else told
        yield Given(
            f"Movement of {unit_text(name, unit)}",
            (
                (f"{shift}, mostly {leading(words, 'µm').word}", against.get(f"{role}_um", "")),
                (f"{turn}, mostly {leading(words, 'mrad').word}", against.get(f"{role}_mrad", "")),
            ),
        )
        roles.add(role)


def _size(vector: Sequence[float]) -> float:
    return float(np.linalg.norm(vector))
