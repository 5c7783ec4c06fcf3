"""Config models of a factor: one key of a case, or several that go together, and their values."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Self

import numpy as np
from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from workflow.case_keys import Part, demand_one_key
from workflow.case_keys import key as entry
from workflow.values import Number, Whole

ColumnName = Annotated[str, Field(pattern=r"^[A-Za-z][A-Za-z0-9_]*$", max_length=60)]
WAYS = ("levels", "range", "uniform", "normal")
_LABELLED = {"label", "values"}
_LONGEST_LABEL, _MOST_LEVELS = 80, 1000


@dataclass(frozen=True)
class Choice:
    """One value of a factor: what its column shows, and what it sets, by dotted key."""

    shown: float | str
    values: Mapping[str, Any]


class Range(Part):
    """Equal steps from one value to another."""

    start: Number = entry("First value", alias="from")
    end: Number = entry("Last value", alias="to")
    steps: Whole = entry("How many values, both ends among them", unit="1", ge=2, le=1000)

    @model_validator(mode="after")
    def _rising(self) -> Self:
        if self.start >= self.end:
            text = f"must rise; found from {self.start:g} to {self.end:g}"
            raise PydanticCustomError("range_order", "{text}", {"text": text})
        return self


class Normal(Part):
    """A normal distribution, cut off at both sides."""

    mean: Number = entry("Mean before it is cut off")
    sd: Number = entry("Standard deviation before it is cut off", gt=0)
    low: Number = entry("Least value")
    high: Number = entry("Greatest value")

    @model_validator(mode="after")
    def _rising(self) -> Self:
        if not self.low < self.mean < self.high:
            text = f"mean must lie between low and high; found {self.low:g}, {self.mean:g}, "
            text += f"{self.high:g}"
            raise PydanticCustomError("range_order", "{text}", {"text": text})
        return self


class Factor(Part):
    """What a study varies; its values by exactly one of levels, range, uniform and normal."""

    name: ColumnName = entry("Name of its column, with the unit of its key at the end")
    key: str | None = entry("Dotted key of the case, as wire.span_mm", None)
    levels: tuple[Any, ...] | None = entry(
        "The values, or for keys that go together a list of {label, values: {key: value}}",
        None,
        min_length=1,
        max_length=_MOST_LEVELS,
    )
    range: Range | None = entry("Equal steps", None)
    uniform: tuple[Number, Number] | None = entry("Least and greatest, all alike likely", None)
    normal: Normal | None = entry("A normal distribution, cut off at both sides", None)

    @model_validator(mode="after")
    def _whole(self) -> Self:
        demand_one_key(self, WAYS)
        pair = self.uniform
        if pair is not None and pair[0] >= pair[1]:
            _refuse(f"uniform must rise from least to greatest; found {pair[0]:g}, {pair[1]:g}")
        if (self.key is None) != self.labelled:
            _refuse(
                "give key, or levels that are all {label, values}; one of both"
                if self.key is None
                else "levels with label and values name their keys themselves; drop key"
            )
        if self.labelled:
            self._check_labels()
        _check_levels(self.levels or ())
        shown = [choice.shown for choice in self.choices]
        if len(set(map(str, shown))) < len(shown):
            _refuse("a level is written twice; keep one")
        return self

    def _check_labels(self) -> None:
        for level in self.levels or ():
            if not (isinstance(level, Mapping) and set(level) == _LABELLED):
                _refuse("where one level has label and values, all must, and nothing else")
            if not (isinstance(level["values"], Mapping) and level["values"]):
                _refuse("values must hold keys of the case with values, as {wire.span_mm: 20}")
            label = level["label"]
            if not (isinstance(label, str | int | float) and 0 < len(str(label)) <= _LONGEST_LABEL):
                _refuse(f"a label must be a word or a number of at most {_LONGEST_LABEL} signs")
            if not str(label).isprintable():
                _refuse("a label holds a line break or a hidden sign; write it on one line")

    @property
    def labelled(self) -> bool:
        """Whether its levels set several keys each."""
        levels = self.levels or ()
        return any(isinstance(level, Mapping) and _LABELLED & set(level) for level in levels)

    @property
    def way(self) -> str:
        """Which of `WAYS` gives its values."""
        return next(name for name in WAYS if getattr(self, name) is not None)

    @property
    def keys(self) -> tuple[str, ...]:
        """Every key that it sets."""
        if self.key is not None:
            return (self.key,)
        return tuple(dict.fromkeys(str(k) for level in self.levels or () for k in level["values"]))

    @property
    def choices(self) -> tuple[Choice, ...]:
        """Its values where they are counted; empty for a distribution."""
        if self.range is not None:
            low, high, steps = self.range.start, self.range.end, self.range.steps
            # Nine digits: a step of 0.1 is 0.3, not 0.30000000000000004.
            return tuple(self.choice(round(float(v), 9)) for v in np.linspace(low, high, steps))
        return tuple(self.choice(level) for level in self.levels or ())

    @property
    def ends(self) -> tuple[Choice, ...]:
        """Values whose faults are those of the factor: all that are counted, or both ends."""
        if self.uniform is not None:
            return tuple(self.choice(value) for value in self.uniform)
        if self.normal is not None:
            return self.choice(self.normal.low), self.choice(self.normal.high)
        return self.choices

    def choice(self, value: Any) -> Choice:
        """One value as it is shown and set."""
        if self.key is None:
            return Choice(str(value["label"]), {str(k): v for k, v in value["values"].items()})
        return Choice(_shown(value), {self.key: value})


def _check_levels(levels: Sequence[Any]) -> None:
    for number, level in enumerate(levels):
        if isinstance(level, float) and not math.isfinite(level):
            _refuse(f"levels[{number}] is {level}; give a finite number")
        if level is None:
            _refuse(f"levels[{number}] is empty; give a value, or drop it")


def _shown(value: Any) -> float | str:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    return " ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)


def _refuse(text: str) -> None:
    raise PydanticCustomError("factor", "{text}", {"text": text})
