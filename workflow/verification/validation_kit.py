"""What a measurement beside the model is: two ranges, their distance, a check and a figure."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from workflow.figures import COUPLE_COLOUR, FORCE_COLOUR, PASSIVE_COLOUR, new_figure, three_digits
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.sources import SOURCES

Range = tuple[float, float]

_LEFT, _RIGHT = 0.02, 45.0  # of the figure's axis
_COLUMN = 44  # characters of a label


@dataclass(frozen=True)
class Measurement:
    """A measured value or range, and the model's band under the uncertainty of its inputs.

    Attributes
    ----------
    id
        Short name of its check.
    what, unit
        The quantity.
    measured
        Least and greatest; a single published value as far as its last digit reaches.
    source, place
        Key of `SOURCES`, and where in it.
    model
        Computes the least and greatest value that the inputs allow.
    inputs
        What was varied and over which published range.
    says
        What agrees or not, and why.
    code
        Functions under test.
    """

    id: str
    what: str
    unit: str
    measured: Range
    source: str
    place: str
    model: Callable[[], Range]
    inputs: str
    says: str
    code: str

    def distance(self) -> float:
        """Distance between the two ranges over the measured middle; 0 where they overlap."""
        (low, high), (least, most) = self.measured, self.model()
        return max(0.0, least - high, low - most) / (0.5 * (low + high))

    def row(self) -> dict[str, str | float]:
        """Its line in the table of the figure."""
        low, high = self.model()
        return {
            "what": self.what,
            "unit": self.unit,
            "measured_low": self.measured[0],
            "measured_high": self.measured[1],
            "modelled_low": low,
            "modelled_high": high,
            "distance": self.distance(),
            "source": SOURCES[self.source].text,
            "certainty": SOURCES[self.source].certainty,
            "place": self.place,
            "inputs": self.inputs,
            "says": self.says,
        }

    def check(self, slow: bool = False) -> Check:
        """The check that the two ranges overlap."""
        return Check(
            id=self.id,
            what=f"{self.what}: distance of the model's band from the measured range, over it",
            code=self.code,
            kind=Kind.VALIDATION,
            source=self.source,
            place=self.place,
            tolerance=0.0,
            reason="the ranges overlap or they do not",
            compute=self.compared,
            slow=slow,
        )

    def compared(self) -> Compared:
        """Distance beside 0, and both ranges in words."""
        low, high = self.model()
        note = (
            f"Measured {interval(*self.measured)}, modelled {interval(low, high)} {self.unit}. "
            f"Varied: {self.inputs}. {self.says}"
        )
        return Compared(self.distance(), 0.0, 1.0, note=note)


def as_printed(value: float, last_digit: float) -> Range:
    """Range of a value that was rounded to a last digit."""
    return value - 0.5 * last_digit, value + 0.5 * last_digit


def spanned(values: Sequence[float]) -> Range:
    """Least and greatest."""
    return float(min(values)), float(max(values))


def interval(low: float, high: float) -> str:
    """A range in words; one number where it is one."""
    first, last = three_digits(low), three_digits(high)
    return first if first == last else f"{first} to {last}"


def measurement_table(measurements: Sequence[Measurement]) -> pd.DataFrame:
    """One row a measurement."""
    return pd.DataFrame([measurement.row() for measurement in measurements])


def interval_figure(table: pd.DataFrame) -> Figure:
    """One line a measurement: the measured range and the model's band, over the measured middle."""
    labels = [textwrap.fill(what, _COLUMN) for what in table["what"]]
    lines = sum(1 + label.count("\n") for label in labels)
    figure = new_figure(12.5, 1.0 + 0.13 * lines + 0.13 * len(table))
    axes = figure.subplots()
    for place, (_, row) in enumerate(table.iterrows()):
        _draw(axes, place, row)
    axes.set_yticks(range(len(table)), labels, fontsize=7.5)
    axes.set_ylim(len(table) - 0.4, -1.1)
    axes.set_xscale("log")
    axes.set_xlim(_LEFT, _RIGHT)
    axes.set_xticks([0.03, 0.1, 0.3, 1, 3], ["0.03", "0.1", "0.3", "1", "3"])
    axes.minorticks_off()
    axes.axvline(1, color=PASSIVE_COLOUR, lw=0.6, ls=":", zorder=0)
    axes.set_xlabel("over the middle of the measured range")
    for x, name, colour in ((4.5, "measured", FORCE_COLOUR), (13.0, "modelled", COUPLE_COLOUR)):
        axes.text(x, -0.75, name, color=colour, fontsize=8, ha="left")
    return figure


def _draw(axes: Axes, place: int, row: pd.Series) -> None:
    middle = 0.5 * (row["measured_low"] + row["measured_high"])
    pairs = (
        ("measured", FORCE_COLOUR, -0.14, 4.5),
        ("modelled", COUPLE_COLOUR, 0.14, 13.0),
    )
    for name, colour, off, column in pairs:
        low, high = float(row[f"{name}_low"]), float(row[f"{name}_high"])
        ends = np.clip([low / middle, high / middle], 1.05 * _LEFT, 4.0)
        axes.plot(ends, [place + off] * 2, color=colour, lw=3.2, solid_capstyle="butt")
        axes.plot(ends, [place + off] * 2, color=colour, lw=0, marker="|", ms=6)
        text = f"{interval(low, high)} {row['unit'] if row['unit'] != '1' else ''}"
        axes.text(column, place, text, color=colour, fontsize=7, va="center")
    if row["distance"] > 0:
        axes.axhspan(place - 0.45, place + 0.45, color="#F0F0F0", lw=0, zorder=-1)
