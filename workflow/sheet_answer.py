"""The answer of a sheet: what each unit gets, how it starts to move, and the five numbers."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from workflow.figures import three_digits
from workflow.figures_view import directions
from workflow.sheet_amounts import amount
from workflow.specs import Spec
from workflow.words import leading, load_words, movement_words

Array = NDArray[np.float64]

NO_COUPLE = 1e-6  # share of the moment about the centre of resistance
NO_SET_MM = 5e-4


def answer(summary: Spec) -> list[str]:
    """One sentence a unit: how it starts to move."""
    return [_sentence(name, unit) for name, unit in summary["units"].items()]


def full_answer(case: Spec, summary: Spec, solved: Spec) -> list[str]:
    """One paragraph a unit, its movement and its loads, and one of the wire."""
    words = directions(case, solved)
    axes = np.column_stack([words.mesial, words.buccal, words.occlusal])
    units = zip(answer(summary), summary["units"].values(), strict=True)
    return [*(f"{moves} {_loads(unit, axes)}" for moves, unit in units), _wire(summary["wire"])]


def _loads(unit: Spec, axes: Array) -> str:
    force, couple, moment = (
        np.asarray(unit[key], dtype=float)
        for key in ("force_N", "moment_at_attachment_Nmm", "moment_at_resistance_Nmm")
    )
    words, size = load_words(force, couple, axes), float(np.linalg.norm(couple))
    text = f"a force of {amount(float(np.linalg.norm(force)), 'N')}, mostly towards {{}}"
    pushed = text.format(leading(words, "N").word)
    if size <= NO_COUPLE * np.linalg.norm(moment):
        return f"The wire gives it {pushed}, and no couple."
    return (
        f"The wire gives it a couple of {amount(size, 'N·mm')}, mostly towards "
        f"{leading(words, 'N·mm').word}, and {pushed}."
    )


def _wire(wire: Spec) -> str:
    share, left = 100 * wire["yield_ratio"], wire["permanent_set_mm"]
    end = "springs back in full"
    if left is None:
        end = "is computed as if it sprang back"
    elif left >= NO_SET_MM:
        end = f"keeps a set of {left:.2g} mm"
    return f"The wire comes to {share:.0f} % of its elastic limit and {end}."


def key_numbers(summary: Spec, mirror_image: bool = False) -> list[tuple[str, str]]:
    """The five numbers a reader looks for first, each with its meaning."""
    wire = summary["wire"]
    moved = [
        (f"initial movement of {name} ({unit['role']})", _motion(unit))
        for name, unit in summary["units"].items()
    ]
    force, couple = (float(np.linalg.norm(wire[key])) for key in ("force_N", "couple_Nmm"))
    who = "of each of the two wires" if mirror_image else "on each unit"
    tube, other, *_ = summary["units"]
    hook = "bracket" if summary["units"][other]["contact"] == "bracket" else "hook"
    return [
        (f"force {who}, at the {hook} on {other}", amount(force, "N")),
        (f"couple on {tube} at its tube", amount(couple, "N·mm")),
        ("peak wire stress as a share of yield", f"{100 * wire['yield_ratio']:.0f} %"),
        *moved,
    ]


def _sentence(name: str, unit: Spec) -> str:
    words = movement_words(unit["anatomical"])
    shift, tip = leading(words, "µm"), leading(words, "mrad")
    teeth = ", ".join(map(str, unit["teeth"]))
    several = len(unit["teeth"]) > 1
    noun = "teeth" if several else "tooth"
    who = f"Unit {name} ({unit['role']}, {noun} {teeth})"
    if shift.size == tip.size == 0:
        return f"{who} is held fixed."
    return (
        f"{who} {shift.verb(several)} by "
        f"{three_digits(shift.size)} µm at its centre of resistance, and {tip.verb(several)} by "
        f"{three_digits(tip.size)} mrad "
        f"({np.degrees(tip.size * 1e-3):.2g}°)."
    )


def _motion(unit: Spec) -> str:
    words = movement_words(unit["anatomical"])
    turn = leading(words, "mrad")
    return f"{leading(words, 'µm').text}, {turn.text} ({np.degrees(turn.size * 1e-3):.2g}°)"
