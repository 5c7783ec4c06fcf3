"""What the case files of a comparison hold in common and where they differ, found from them.

A part of the resolved cases is named by its key, ``wire.section``. Parts that are alike in all
cases are named by the outermost key that is alike as a whole; a row of the catalogue, which has a
name and a source, counts as one value, its name.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from workflow.sheet_amounts import amount
from workflow.specs import Spec

_OWN = ("case", "title")  # names of the file itself
_GRAIN = 1e-9  # a number that is written otherwise is not another number
_DIGITS = 5
_LONGEST = 120
_LOADS = {"_Nmm": "N·mm", "_N": "N"}
_Values = tuple[Any, ...]


@dataclass(frozen=True)
class Part:
    """A part of the case files.

    Attributes
    ----------
    key
        Its name, keys joined by dots.
    values
        What stands there in each case, as text; one for all where all are alike.
    """

    key: str
    values: tuple[str, ...]


def differing(cases: Sequence[Spec]) -> list[Part]:
    """Parts that are not the same in all cases, the value of each."""
    return [
        Part(key, tuple(value_text(value, key) for value in values))
        for key, values, alike in _parts(cases)
        if not alike
    ]


def alike(cases: Sequence[Spec]) -> list[Part]:
    """Parts that are the same in all cases, the value that they share."""
    return [Part(key, (value_text(values[0], key),)) for key, values, same in _parts(cases) if same]


def value_text(value: Any, key: str = "") -> str:
    """A value of a case file in words: names for rows of the catalogue, loads in both units."""
    if value is None or value in ({}, []):
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    unit = next((unit for ending, unit in _LOADS.items() if key.endswith(ending)), None)
    if isinstance(value, float) and unit is not None:
        return amount(value, unit)
    if isinstance(value, float):
        return f"{value:.{_DIGITS}g}"
    if _is_row(value):
        return str(value["name"])
    if isinstance(value, Mapping):
        return _short("; ".join(f"{name}: {value_text(v, name)}" for name, v in value.items()))
    if isinstance(value, Sequence) and not isinstance(value, str):
        return _short(", ".join(value_text(item) for item in value))
    return str(value)


def _parts(cases: Sequence[Spec]) -> Iterator[tuple[str, _Values, bool]]:
    bare = [{key: value for key, value in case.items() if key not in _OWN} for case in cases]
    yield from _split("", tuple(bare))


def _split(prefix: str, values: _Values) -> Iterator[tuple[str, _Values, bool]]:
    """Parts below a key: those alike as a whole, and those that differ as small as they come."""
    for key in dict.fromkeys(key for value in values for key in value):
        below = tuple(value.get(key) for value in values)
        name = f"{prefix}{key}"
        if _same(below):
            yield name, below, True
        elif all(isinstance(value, Mapping) and not _is_row(value) for value in below):
            yield from _split(f"{name}.", below)
        else:
            yield name, below, False


def _same(values: _Values) -> bool:
    return all(_equal(values[0], value) for value in values[1:])


def _equal(one: Any, other: Any) -> bool:
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_equal(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_equal, one, other))
    if isinstance(one, float) and isinstance(other, int | float) and not isinstance(other, bool):
        return abs(one - other) <= _GRAIN * max(abs(one), abs(other))
    return bool(one == other)


def _is_row(value: Any) -> bool:
    return isinstance(value, Mapping) and "name" in value and "source" in value


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1].rstrip() + "…"
