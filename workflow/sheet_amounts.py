"""Amounts of the sheet in both of the trade's units: the number in N, in brackets that in gf.

All have the one form of `workflow.figures.force_text`, ``1.20 N (122 gf)``. Pages find that form
and can show either half alone (`workflow.pages`).
"""

from __future__ import annotations

from collections.abc import Callable

from workflow.figures import three_digits
from workflow.units import GF_PER_N

_KPA_IN_N_PER_CM2 = 0.1

# Unit of a value: what is read beside it, and how many of that make one.
BESIDE = {
    "N": ("gf", GF_PER_N),
    "N·mm": ("gf·mm", GF_PER_N),
    "N/mm": ("gf/mm", GF_PER_N),
    "kPa": ("gf/cm²", _KPA_IN_N_PER_CM2 * GF_PER_N),
}


def amount(value: float, unit: str, digits: Callable[[float], str] = three_digits) -> str:
    """A load, a rate or a stress in both units, each computed from the value.

    Parameters
    ----------
    value, unit
        The number in one of the units of `BESIDE`.
    digits
        How a number is written.
    """
    other, factor = BESIDE[unit]
    return f"{_signed(digits(value))} {unit} ({_signed(digits(value * factor))} {other})"


def four_digits(value: float) -> str:
    """Four significant digits, as the checks are shown."""
    return f"{value:.4g}"


def _signed(number: str) -> str:
    """A number with a minus sign for its hyphen."""
    return "−" + number[1:] if number.startswith("-") else number
