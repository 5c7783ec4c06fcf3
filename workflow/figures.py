"""What all figures share: colours, sizes, number formats, nice scales and how they are saved."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from workflow.units import GF_PER_N

Array = NDArray[np.float64]

# Colour-blind-safe set of Okabe & Ito (2002, Color Universal Design), from memory.
FORCE_COLOUR = "#0072B2"
COUPLE_COLOUR = "#C14B00"
WIRE_COLOUR = "#222222"
PASSIVE_COLOUR = "#7A7A7A"
CROWN_COLOUR = "#F3EDDC"
ROOT_COLOUR = "#DCC3A1"
OUTLINE_COLOUR = "#5F5141"
THIRD_COLOUR = "#00785A"

PIXELS_PER_INCH = 200
SIGNIFICANT_DIGITS = 6
_RIM = [withStroke(linewidth=3, foreground="white")]
_STEPS = (1.0, 2.0, 5.0)

_STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": 9,
    "axes.titlesize": 10,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "svg.fonttype": "path",
    "svg.hashsalt": "figure",
}


def new_figure(width_in: float, height_in: float) -> Figure:
    """Empty figure in the common style; at least 8 inches wide to reach 1600 pixels."""
    matplotlib.rcParams.update(_STYLE)
    return Figure(figsize=(width_in, height_in), facecolor="white", layout="constrained")


def save_figure(figure: Figure, *paths: str) -> None:
    """Write a figure to each path, in the format of its suffix, without a date."""
    for path in paths:
        metadata = {"Date": None} if Path(path).suffix == ".svg" else {"Software": None}
        figure.savefig(path, dpi=PIXELS_PER_INCH, metadata=metadata)


def write_table(table: pd.DataFrame, path: str) -> None:
    """Write the numbers a figure is drawn from, floats with six significant digits."""
    table.to_csv(path, index=False, float_format=f"%.{SIGNIFICANT_DIGITS}g")


def nice_at_least(value: float) -> float:
    """Smallest of 1, 2 or 5 times a power of ten that is not below `value`.

    Raises
    ------
    ValueError
        If `value` is not positive.
    """
    if not value > 0:
        raise ValueError(f"a scale needs a positive number, got {value}")
    power = 10.0 ** np.floor(np.log10(value))
    steps = [step * power for step in (*_STEPS, 10.0)]
    return float(next(step for step in steps if step >= value * (1 - 1e-12)))


def beside(side: float) -> str:
    """Alignment of a text to the right (1) or left (−1) of its place."""
    return "left" if side > 0 else "right"


def put_text(axes: Axes, place: Array, text: str, **look: Any) -> None:
    """Write a text at a place (2,) with a white rim, so that it stays legible on a picture."""
    axes.text(float(place[0]), float(place[1]), text, path_effects=_RIM, **look)


def three_digits(value: float) -> str:
    """Three significant digits, zeros kept; whole numbers from 1000 on."""
    return f"{value:.0f}" if abs(value) >= 999.5 else f"{value:#.3g}".rstrip(".")


def force_text(force_N: float, separator: str = "\n") -> str:
    """Size of a force in N and gf."""
    return f"{three_digits(force_N)} N{separator}({three_digits(force_N * GF_PER_N)} gf)"


def couple_text(couple_Nmm: float, separator: str = "\n") -> str:
    """Size of a couple in N·mm and gf·mm."""
    return f"{three_digits(couple_Nmm)} N·mm{separator}({couple_Nmm * GF_PER_N:.0f} gf·mm)"
