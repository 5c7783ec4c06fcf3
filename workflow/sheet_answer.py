"""The answer of a sheet: how each unit starts to move, and the five numbers looked for first."""

from __future__ import annotations

import numpy as np

from workflow.figures import couple_text, force_text, three_digits
from workflow.specs import Spec
from workflow.words import leading, movement_words


def answer(summary: Spec) -> list[str]:
    """One sentence a unit: how it starts to move."""
    return [_sentence(name, unit) for name, unit in summary["units"].items()]


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
        (f"force {who}, at the {hook} on {other}", force_text(force, " ")),
        (f"couple on {tube} at its tube", couple_text(couple, " ")),
        ("peak wire stress as a share of yield", f"{100 * wire['yield_ratio']:.0f} %"),
        *moved,
    ]


def _sentence(name: str, unit: Spec) -> str:
    words = movement_words(unit["anatomical"])
    shift, tip = leading(words, "µm"), leading(words, "mrad")
    teeth = ", ".join(map(str, unit["teeth"]))
    several = len(unit["teeth"]) > 1
    noun = "teeth" if several else "tooth"
    return (
        f"Unit {name} ({unit['role']}, {noun} {teeth}) {shift.verb(several)} by "
        f"{three_digits(shift.size)} µm at its centre of resistance, and {tip.verb(several)} by "
        f"{three_digits(tip.size)} mrad "
        f"({np.degrees(tip.size * 1e-3):.2g}°)."
    )


def _motion(unit: Spec) -> str:
    words = movement_words(unit["anatomical"])
    return f"{leading(words, 'µm').text}, {leading(words, 'mrad').text}"
