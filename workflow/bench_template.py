"""A page to hold a bent wire against: the passive wire in true size, 1 mm of wire on 1 mm of paper.

The axes span the page and count its millimetres, and the page is saved as it is: a tight bounding
box would shift and crop it.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from geometry.wire_path import SHARPEST_RADIUS_MM
from workflow.bench_drawing import HAIRLINE, draw_view, line
from workflow.bench_labels import number_in_circle
from workflow.bench_views import WireView
from workflow.cautions import CAUTION
from workflow.figures import PASSIVE_COLOUR, new_figure, save_figure
from workflow.specs import Spec
from workflow.units import MM_PER_INCH

Array = NDArray[np.float64]

SCALE_BAR_MM = 50.0
_MARGIN_MM = 15.0
_LABEL_MM = 38.0  # room for the name of an end
_TITLE_MM, _BELOW_MM = 20.0, 16.0  # room above one bend and below it for title and dimensions
_ABOVE_NUMBERS_MM, _BELOW_NUMBERS_MM = 16.0, 11.0  # the same for a wire with numbered parts
_REMARK_MM = 4.0  # of a line under the title
_LARGEST_GAP_MM = 16.0
_HEAD_MM, _BOTTOM_MM = 60.0, 8.0
_LINE_MM, _ROW_MM, _WORDS_LINE_MM, _NOTE_LINE_MM = 4.2, 5.0, 3.7, 3.6
# where the columns of the table stand from the margin, mm, and to which side they are flush
_COLUMNS = (
    (6.0, "left"),
    (45.0, "right"),
    (57.0, "right"),
    (75.0, "right"),
    (88.0, "right"),
    (107.0, "right"),
    (111.0, "left"),
)
_NOTES = (
    "Leave wire beyond both ends for cinching behind the tube and for the hook; neither is "
    "drawn. Outlines are the nominal section with sharp corners; where the wire passes over "
    "itself, the strand on top is the one nearer to you. Long dashes: axis of the wire; short "
    "dashes: the tube's line drawn on; bars across the wire: mouths of the tube. Radii are to the "
    "wire's axis. Runs too short for a number lie between their neighbours. A view shows an angle "
    "or a length true only where the wire lies in its plane."
)


@dataclass(frozen=True)
class Page:
    """A sheet of paper (ISO 216)."""

    name: str
    width_mm: float
    height_mm: float


PAGES = (
    Page("A4", 210.0, 297.0),
    Page("A3", 297.0, 420.0),
    Page("A3, turned", 420.0, 297.0),
)


def page_for(views: Sequence[WireView], parts: pd.DataFrame) -> Page:
    """Smallest page that holds all views in true size, and the table of parts.

    Raises
    ------
    ValueError
        If not even A3 does.
    """
    width = max(float(np.ptp(view.axis[:, 0])) for view in views) + 2 * (_LABEL_MM + _MARGIN_MM)
    for page in PAGES:
        if page.width_mm >= width and _spare_height(views, parts, page) >= 0:
            return page
    height = PAGES[-1].height_mm - _spare_height(views, parts, PAGES[-1])
    raise ValueError(f"the template needs {width:.0f} × {height:.0f} mm of paper, more than A3")


def template_figure(case: Spec, views: Sequence[WireView], parts: pd.DataFrame) -> Figure:
    """Draw the page: head with scale bar, the views below each other, parts and caution."""
    page = page_for(views, parts)
    figure = new_figure(page.width_mm / MM_PER_INCH, page.height_mm / MM_PER_INCH)
    figure.set_layout_engine("none")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, page.width_mm), ylim=(0.0, page.height_mm))
    axes.axis("off")
    _draw_head(axes, case, page)
    gap = min(_spare_height(views, parts, page) / len(views), _LARGEST_GAP_MM)
    top = page.height_mm - _HEAD_MM
    for index, view in enumerate(views):
        _write_title(axes, view, page, top)
        lowest = top - _panel_height(view, page) - 0.5 * gap
        room = np.array([[_MARGIN_MM, lowest], [page.width_mm - _MARGIN_MM, 0.0]])
        room[1, 1] = top - _LINE_MM - _REMARK_MM * len(_remark(view, page))
        draw_view(axes, case, view, _place(view, page, top), f"view-{index}", parts, room)
        top -= _panel_height(view, page) + gap
    _draw_foot(axes, parts, page)
    return figure


def save_template(figure: Figure, *paths: str, title: str, description: str) -> None:
    """Write the page in its own size to each path: PDF, or as `save_figure` does; without a date.

    Parameters
    ----------
    title, description
        Kept in the files, as `workflow.figures.save_figure` does.
    """
    words: dict[str, Any] = {"Title": title, "Subject": description, "CreationDate": None}
    for path in paths:
        if path.endswith(".pdf"):
            figure.savefig(path, metadata=words)
        else:
            save_figure(figure, path, title=title, description=description)


def _spare_height(views: Sequence[WireView], parts: pd.DataFrame, page: Page) -> float:
    panels = sum(_panel_height(view, page) for view in views)
    return page.height_mm - _HEAD_MM - panels - _foot_height(parts, page)


def _panel_height(view: WireView, page: Page) -> float:
    below = _BELOW_MM if view.one_bend else _BELOW_NUMBERS_MM
    return _above(view, page) + float(np.ptp(view.axis[:, 1])) + below


def _above(view: WireView, page: Page) -> float:
    """Room for the title, the remark and what is written above the wire."""
    return _TITLE_MM if view.one_bend else _ABOVE_NUMBERS_MM + _REMARK_MM * len(_remark(view, page))


def _place(view: WireView, page: Page, top: float) -> Array:
    """Where the second mouth of a view comes to lie, (2,), mm on the page."""
    low, high = view.axis.min(axis=0), view.axis.max(axis=0)
    across = 0.5 * (page.width_mm - low[0] - high[0])
    return np.array([across, top - _above(view, page) - high[1]])


def _remark(view: WireView, page: Page) -> list[str]:
    """What is said under the title, in lines; of a single bend it stands at the bend."""
    width = int((page.width_mm - 2 * _MARGIN_MM) / 1.5)
    return [] if view.one_bend else textwrap.wrap(view.remark, width)


def _write_title(axes: Axes, view: WireView, page: Page, top: float) -> None:
    axes.text(_MARGIN_MM, top, view.title, fontsize=9, weight="bold", va="top")
    for index, text in enumerate(_remark(view, page)):
        y = top - _LINE_MM - _REMARK_MM * index
        axes.text(_MARGIN_MM, y, text, fontsize=8, va="top")


def _draw_head(axes: Axes, case: Spec, page: Page) -> None:
    wire, top = case["wire"], page.height_mm - _MARGIN_MM
    title = textwrap.fill(case["title"], 60 if page.width_mm < 250 else 90, max_lines=2)
    axes.text(_MARGIN_MM, top, title, fontsize=13, weight="bold", va="top")
    lines = (
        f"Bench template, true size. Case {case['case']}. Paper {page.name}, "
        f"{page.width_mm:g} × {page.height_mm:g} mm.",
        f"Wire: {wire['alloy']['name'].replace('_', ' ')}, {_section_text(wire['section'])}.",
        "The passive wire: as bent, before it is engaged.",
    )
    axes.text(_MARGIN_MM, top - 13, "\n".join(lines), fontsize=9, va="top", linespacing=1.4)
    y = top - 34
    ends = np.array([_MARGIN_MM, _MARGIN_MM + SCALE_BAR_MM])
    line(axes, np.column_stack([ends, [y, y]]), "scale-bar", lw=1.2)
    for tick in np.linspace(ends[0], ends[1], 6):
        line(axes, np.array([[tick, y], [tick, y + 2.5]]), lw=HAIRLINE)
    axes.text(
        ends[1] + 9,
        y + 1,
        "This bar must measure 50 mm. If it does not, the printer has scaled\n"
        "the page: print again at 100 % (“actual size”, not “fit to page”).",
        fontsize=9,
        va="center",
    )
    for tick, text in zip(ends, ("0", "50 mm"), strict=True):
        axes.text(tick, y - 1.2, text, fontsize=7, ha="center", va="top")


def _draw_foot(axes: Axes, parts: pd.DataFrame, page: Page) -> None:
    y = _foot_height(parts, page) - 4
    head = "Along the wire's axis, from the tube end: true lengths and angles"
    axes.text(_MARGIN_MM, y, head, fontsize=9, weight="bold", va="top")
    y -= _LINE_MM + 4
    names = ("part", "from", "to", "length mm", "angle", "radius mm", "")
    _write_row(axes, y, names, color=PASSIVE_COLOUR)
    for row in parts.to_dict("records"):
        y -= _ROW_MM
        number_in_circle(axes, np.array([_MARGIN_MM + 2.2, y + 1.0]), row["number"])
        words = _wrapped(row["words"], page)
        cells = (
            row["part"],
            *(f"{row[key]:.2f}" for key in ("from_mm", "to_mm", "length_mm")),
            "" if np.isnan(row["angle_deg"]) else f"{row['angle_deg']:.1f}°",
            _radius_text(row["radius_mm"]),
            words[0],
        )
        _write_row(axes, y, cells)
        for further in words[1:]:
            y -= _WORDS_LINE_MM
            _write_row(axes, y, ("",) * 6 + (further,))
    y -= _ROW_MM - 1
    for lines, look in _notes(page):
        text = "\n".join(lines)
        axes.text(_MARGIN_MM, y, text, fontsize=7.5, style=look, va="top", linespacing=1.25)
        y -= _NOTE_LINE_MM * len(lines) + 1.5


def _radius_text(radius_mm: float) -> str:
    if np.isnan(radius_mm):
        return ""
    return "sharp" if radius_mm <= SHARPEST_RADIUS_MM * (1 + 1e-9) else f"{radius_mm:.2f}"


def _write_row(axes: Axes, y: float, cells: Sequence[str], **look: Any) -> None:
    for (x, ha), text in zip(_COLUMNS, cells, strict=True):
        if text:
            axes.text(_MARGIN_MM + x, y, text, fontsize=8, ha=ha, **look)


def _foot_height(parts: pd.DataFrame, page: Page) -> float:
    further = sum(len(_wrapped(words, page)) - 1 for words in parts["words"])
    table = _ROW_MM * (len(parts) + 1) + _WORDS_LINE_MM * further
    notes = sum(_NOTE_LINE_MM * len(lines) + 1.5 for lines, _ in _notes(page))
    return 8 + _LINE_MM + table + 2 + notes + _BOTTOM_MM


def _wrapped(words: str, page: Page) -> list[str]:
    """Words of a part in lines that fit the last column."""
    room = page.width_mm - 2 * _MARGIN_MM - _COLUMNS[-1][0]
    return textwrap.wrap(words.replace(" mm", "\N{NO-BREAK SPACE}mm"), int(room / 1.5)) or [""]


def _notes(page: Page) -> tuple[tuple[list[str], str], ...]:
    """Notes and caution in lines, with their styles."""
    width = round((page.width_mm - 2 * _MARGIN_MM) / 1.5)
    return (
        (textwrap.wrap(_NOTES, width), "normal"),
        (textwrap.wrap(f"Caution. {CAUTION}", width), "italic"),
    )


def _section_text(section: Spec) -> str:
    if section["shape"] == "round":
        return f"round {section['height_mm']:.4g} mm ({_name(section)})"
    size = f"{section['height_mm']:.4g} × {section['width_mm']:.4g} mm"
    return f"rectangular {size} ({_name(section)})"


def _name(section: Spec) -> str:
    return str(section["name"]).replace("rectangular_", "").replace("round_", "").replace("_", " ")
