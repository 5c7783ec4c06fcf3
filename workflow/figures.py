"""What all figures share: colours, sizes, number formats, nice scales and how they are saved."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from workflow.figure_files import write_png, write_svg
from workflow.units import GF_PER_N, N_PER_GF

Array = NDArray[np.float64]

# Hues of the set of Okabe & Ito (2002, revised 2008), "Color Universal Design: how to make figures
# and presentations that are friendly to colorblind people", https://jfly.uni-koeln.de/color; values
# as matplotlib keeps them ("okabe_ito"). The blue is theirs; vermilion, bluish green, reddish
# purple and orange are darkened, hue kept, until text in them stands out from white by 4.5 to 1
# (WCAG 2). How well the darker ones are told apart was not measured, so marks and dashes help.
FORCE_COLOUR = "#0072B2"
COUPLE_COLOUR = "#C14B00"
THIRD_COLOUR = "#00785A"
FOURTH_COLOUR = "#9A4A78"
FIFTH_COLOUR = "#8A5F00"
WIRE_COLOUR = "#222222"
PASSIVE_COLOUR = "#6B6B6B"
OUTLINE_COLOUR = "#5F5141"
TUBE_COLOUR = "#6F7B82"
LINE_COLOURS = (FORCE_COLOUR, COUPLE_COLOUR, THIRD_COLOUR, WIRE_COLOUR, FOURTH_COLOUR, FIFTH_COLOUR)
LINE_MARKS = ("o", "s", "^", "D", "v", "P")

# Fills: pale, always with an outline, a label or a pattern on them.
PAPER = "#FFFFFF"
CROWN_COLOUR = "#F3EDDC"
ROOT_COLOUR = "#DCC3A1"
TISSUE_COLOURS = {
    "enamel": "#FBF7EC",
    "ligament": "#7FB6D9",
    "cortical": "#B9B2A6",
    "cancellous": "#DDD8CF",
}
BAND_COLOUR = "#DCE8F1"
UNSURE_COLOUR = "#EFEFEF"
MISSING_COLOUR = "#DDDDDD"
GRID_COLOUR = "#E0E0E0"

# Cells of a map that name a kind: the hatch tells them apart, the fill only helps.
WITHIN_COLOUR = "#CDE8D4"
CELL_LOOKS = (
    ("#F2B8A0", "xxx"),
    ("#A9CBE8", "|||"),
    ("#E7D3EE", "////"),
    ("#D3C2E6", "\\\\\\\\"),
    ("#F6DDA4", "..."),
    ("#C9DEF2", "---"),
    ("#D9D9D9", "+++"),
    ("#B9B2A3", "oo"),
)

# Sizes of text and widths of lines, points.
LEAST_PT, NOTE_PT, TEXT_PT, TITLE_PT, HEAD_PT = 7.0, 8.0, 9.0, 10.0, 11.0
HAIR, THIN, LINE, THICK = 0.8, 1.2, 1.6, 2.2
MARK_PT = 6.0

SIGNIFICANT_DIGITS = 6
_RIM = [withStroke(linewidth=3, foreground=PAPER)]
_STEPS = (1.0, 2.0, 5.0)
_FINE_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)

_STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": TEXT_PT,
    "axes.titlesize": TITLE_PT,
    "axes.labelsize": TEXT_PT,
    "axes.labelcolor": WIRE_COLOUR,
    "axes.linewidth": HAIR,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "figure.labelsize": NOTE_PT,
    "figure.titlesize": HEAD_PT,
    "figure.titleweight": "bold",
    "grid.color": GRID_COLOUR,
    "grid.linewidth": HAIR,
    "hatch.linewidth": HAIR,
    "legend.fontsize": NOTE_PT,
    "legend.frameon": False,
    "lines.linewidth": LINE,
    "lines.markersize": MARK_PT,
    "text.color": WIRE_COLOUR,
    "xtick.labelsize": NOTE_PT,
    "ytick.labelsize": NOTE_PT,
    "svg.fonttype": "path",
    "svg.hashsalt": "figure",
}


@dataclass(frozen=True)
class FigureText:
    """What is said of a figure, with the numbers of its run.

    Attributes
    ----------
    title
        What it is, in a few words.
    shows
        What is drawn, for those who cannot see it.
    caption
        What to read from it and what it rests on; the line under it.
    """

    title: str
    shows: str
    caption: str = ""

    def in_file(self) -> dict[str, str]:
        """Title and description that travel with its files."""
        return {"title": self.title, "description": f"{self.shows} {self.caption}".strip()}


def new_figure(width_in: float, height_in: float) -> Figure:
    """Empty figure in the common style; at least 8 inches wide to reach 1600 pixels."""
    matplotlib.rcParams.update(_STYLE)
    return Figure(figsize=(width_in, height_in), facecolor=PAPER, layout="constrained")


def save_figure(figure: Figure, *paths: str, title: str, description: str) -> None:
    """Write a figure to each path, in the format of its suffix, without a date.

    Parameters
    ----------
    title, description
        Kept in the file, where screen readers and search find them: with the run's own numbers.

    Raises
    ------
    ValueError
        If a text is empty, or a path is neither SVG nor PNG.
    """
    if not (title.strip() and description.strip()):
        raise ValueError(f"{', '.join(paths)}: a figure needs a title and a description")
    writers = {".svg": write_svg, ".png": write_png}
    for path in paths:
        write = writers.get(Path(path).suffix)
        if write is None:
            raise ValueError(f"{path}: figures are written as {' and '.join(writers)}")
        write(figure, path, title, description)


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
    return _step_at_least(value, _STEPS)


def nice_limit(value: float) -> float:
    """Round end of a scale that holds `value` (at least 0): in finer steps, so little is wasted."""
    return _step_at_least(value, _FINE_STEPS) if value > 0 else 1.0


def nice_ends(low: float, high: float) -> tuple[float, float]:
    """Round ends of a scale that hold both values, a tenth of their distance apart at most."""
    if not high > low:
        return low - 0.5, high + 0.5
    step = nice_at_least((high - low) / 20)
    return float(np.floor(low / step) * step), float(np.ceil(high / step) * step)


def _step_at_least(value: float, steps: tuple[float, ...]) -> float:
    if not value > 0:
        raise ValueError(f"a scale needs a positive number, got {value}")
    power = 10.0 ** np.floor(np.log10(value))
    ladder = [step * power for step in (*steps, 10.0)]
    return float(next(step for step in ladder if step >= value * (1 - 1e-12)))


def beside(side: float) -> str:
    """Alignment of a text to the right (1) or left (−1) of its place."""
    return "left" if side > 0 else "right"


def put_text(axes: Axes, place: Array, text: str, **look: Any) -> None:
    """Write a text at a place (2,) with a white rim, so that it stays legible on a picture."""
    axes.text(float(place[0]), float(place[1]), text, path_effects=_RIM, **look)


def second_scale(axes: Axes, unit: str, *, across: bool = False) -> None:
    """Scale in gf (or gf·mm) on the far side of axes that count N (or N·mm)."""
    scales = (lambda value: value * GF_PER_N, lambda value: value * N_PER_GF)
    if across:
        axes.secondary_xaxis("top", functions=scales).set_xlabel(f"({unit})", fontsize=NOTE_PT)
    else:
        axes.secondary_yaxis("right", functions=scales).set_ylabel(f"({unit})", fontsize=NOTE_PT)


def three_digits(value: float) -> str:
    """Three significant digits, zeros kept; whole numbers from 1000 on."""
    return f"{value:.0f}" if abs(value) >= 999.5 else f"{value:#.3g}".rstrip(".")


def force_text(force_N: float, separator: str = "\n") -> str:
    """Size of a force in N and gf."""
    return f"{three_digits(force_N)} N{separator}({three_digits(force_N * GF_PER_N)} gf)"


def couple_text(couple_Nmm: float, separator: str = "\n") -> str:
    """Size of a couple in N·mm and gf·mm."""
    return f"{three_digits(couple_Nmm)} N·mm{separator}({couple_Nmm * GF_PER_N:.0f} gf·mm)"
