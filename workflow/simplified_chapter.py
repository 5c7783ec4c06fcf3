"""What a chapter on a simple formula holds, and how its limits are put into words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Limit:
    """One row of the table of limits.

    Attributes
    ----------
    formula
        What is simplified.
    when
        You may use it when …; computed.
    beyond
        What is lost on the rest of the map.
    """

    formula: str
    when: str
    beyond: str


@dataclass(frozen=True)
class Chapter:
    """One simple formula against its full model.

    Attributes
    ----------
    name
        Name of its figure and table.
    title, formula
        Heading, and the formula in one line.
    said
        Sentences, all numbers computed.
    limits
        Its rows in the table of limits.
    alt
        What the figure shows, for those who cannot see it.
    """

    name: str
    title: str
    formula: str
    said: tuple[str, ...]
    limits: tuple[Limit, ...]
    alt: str


def rounded(value: float, *, up: bool = False, digits: int = 2) -> str:
    """Few digits, rounded towards zero, or away from it: a limit is never made wider by it."""
    if value == 0:
        return "0"
    step = 10.0 ** (np.floor(np.log10(abs(value))) - digits + 1)
    count = abs(value) / step
    whole = np.ceil(count - 1e-9) if up else np.floor(count + 1e-9)
    return f"{np.copysign(whole * step, value):.10g}"


def percent(value: float) -> str:
    """Size of an error, percent: one decimal below ten, whole numbers above."""
    size = abs(value)
    return f"{size:.0f} %" if size >= 9.95 else f"{size:.1f} %"


def signed(value: float) -> str:
    """Error with its sign, percent; a true minus sign."""
    return ("+" if value >= 0 else "−") + percent(value)


def and_list(parts: Sequence[str]) -> str:
    """Words joined as in a sentence."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def up_to(what: str, found: float, largest: float, unit: str) -> str:
    """``what up to found unit``, or that it holds over the whole map, or nowhere."""
    if np.isnan(found):
        return f"at no {what.removeprefix('a ').removeprefix('an ')} of the map"
    if found >= largest:
        return f"{what} up to {with_unit(f'{largest:g}', unit)} (all of the map)"
    return f"{what} up to {with_unit(rounded(found), unit)}"


def from_on(what: str, found: float, least: float, unit: str) -> str:
    """``what of found unit or more``, or that it holds over the whole map, or nowhere."""
    if np.isnan(found):
        return f"at no {what.removeprefix('a ').removeprefix('an ')} of the map"
    if found <= least:
        return f"{what} of {with_unit(f'{least:g}', unit)} or more (all of the map)"
    return f"{what} of {with_unit(rounded(found, up=True), unit)} or more"


def with_unit(number: str, unit: str) -> str:
    """A number and its unit, with a space but before degrees; a pure number has none."""
    return f"{number} {unit}" if unit and unit != "°" else number + unit
