"""A page to hold a bent wire against: the passive wire in true size, 1 mm of wire on 1 mm of paper.

The axes span the page and count its millimetres, and the page is saved as it is: a tight bounding
box would shift and crop it.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from workflow.bench_wire import BEND, FREE_RUN, TUBE_RUN, WireView
from workflow.cautions import CAUTION
from workflow.figures import PASSIVE_COLOUR, WIRE_COLOUR, beside, new_figure
from workflow.specs import Spec

Array = NDArray[np.float64]

MM_PER_INCH = 25.4
SCALE_BAR_MM = 50.0
_MARGIN_MM = 15.0
_LABEL_MM = 38.0  # room for the name of an end
_TITLE_MM, _BELOW_MM = 20.0, 16.0  # room above a view and below it for title and dimensions
_LARGEST_GAP_MM = 16.0
_HEAD_MM, _FOOT_MM = 68.0, 58.0
_LINE_MM = 4.2
_TUBE_LINE_MM = 13.0  # of the tube's line, drawn on beyond the bend
_HAIRLINE = 0.5  # pt
_NO_DATES: dict[str, Any] = {".pdf": {"CreationDate": None}, ".svg": {"Date": None}}


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


def page_for(views: Sequence[WireView]) -> Page:
    """Smallest page that holds all views in true size.

    Raises
    ------
    ValueError
        If not even A3 does.
    """
    width = max(float(np.ptp(view.axis[:, 0])) for view in views) + 2 * (_LABEL_MM + _MARGIN_MM)
    height = sum(_panel_height(view) for view in views) + _HEAD_MM + _FOOT_MM
    for page in PAGES:
        if page.width_mm >= width and page.height_mm >= height:
            return page
    raise ValueError(f"the template needs {width:.0f} × {height:.0f} mm of paper, more than A3")


def template_figure(case: Spec, views: Sequence[WireView], parts: pd.DataFrame) -> Figure:
    """Draw the page: head with scale bar, the views below each other, parts and caution."""
    page = page_for(views)
    figure = new_figure(page.width_mm / MM_PER_INCH, page.height_mm / MM_PER_INCH)
    figure.set_layout_engine("none")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, page.width_mm), ylim=(0.0, page.height_mm))
    axes.axis("off")
    _draw_head(axes, case, page)
    places = _places(views, page)
    for index, (view, place) in enumerate(zip(views, places, strict=True)):
        title_y = place[1] + view.axis[:, 1].max() + _TITLE_MM
        axes.text(_MARGIN_MM, title_y, view.title, fontsize=9, weight="bold", va="top")
        _draw_view(axes, case, view, place, f"view-{index}")
        _draw_bend(axes, view, place, parts if index == 0 else None)
    _draw_lengths(axes, views[0], places[0], parts)
    _draw_foot(axes, parts, page)
    return figure


def save_template(figure: Figure, *paths: str) -> None:
    """Write the page in its own size to each path, in the format of its suffix, without a date."""
    for path in paths:
        figure.savefig(path, metadata=_NO_DATES[Path(path).suffix])


def _panel_height(view: WireView) -> float:
    return float(np.ptp(view.axis[:, 1])) + _TITLE_MM + _BELOW_MM


def _places(views: Sequence[WireView], page: Page) -> list[Array]:
    """Where the second mouth of each view comes to lie, (2,) each, mm on the page."""
    spare = page.height_mm - _HEAD_MM - _FOOT_MM - sum(_panel_height(view) for view in views)
    gap = min(spare / len(views), _LARGEST_GAP_MM)
    places, top = [], page.height_mm - _HEAD_MM
    for view in views:
        low, high = view.axis.min(axis=0), view.axis.max(axis=0)
        middle = 0.5 * (page.width_mm - low[0] - high[0])
        places.append(np.array([middle, top - _TITLE_MM - high[1]]))
        top -= _panel_height(view) + gap
    return places


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
    y = top - 38
    ends = np.array([_MARGIN_MM, _MARGIN_MM + SCALE_BAR_MM])
    _line(axes, np.column_stack([ends, [y, y]]), "scale-bar", lw=1.2)
    for tick in np.linspace(ends[0], ends[1], 6):
        _line(axes, np.array([[tick, y], [tick, y + 2.5]]), lw=_HAIRLINE)
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


def _draw_view(axes: Axes, case: Spec, view: WireView, place: Array, name: str) -> None:
    """Outline of the wire, the tube's mouths across it, and which end is which."""
    upper, lower = view.sides + place
    closed = np.concatenate([upper, lower[::-1], upper[:1]])
    axes.fill(*closed.T, color="#E4E7E9", lw=0)
    _line(axes, closed, f"{name}-outline", lw=_HAIRLINE)
    _line(axes, view.axis + place, f"{name}-axis", lw=0.35, ls=(0, (12, 4, 2, 4)))
    for node in (0, view.mouth):
        x, y = view.axis[node] + place
        _line(axes, np.array([[x, y - 2.2], [x, y + 2.2]]), lw=0.8)
    side = np.sign(view.axis[-1, 0] - view.axis[0, 0])
    two = case["two_point"]
    ends = ((0, -side, f"tube end\n(tube on {two['tooth']})"), (-1, side, _hook_text(case)))
    away = -2.0 if view.bend_deg >= 0 else 2.0  # from the length of a steep, short run
    for node, way, text in ends:
        x, y = view.axis[node] + place
        axes.text(
            x + 4 * way,
            y + (away if node == 0 else 0.0),
            text,
            fontsize=8,
            ha=beside(way),
            va="center",
        )


def _draw_bend(axes: Axes, view: WireView, place: Array, parts: pd.DataFrame | None) -> None:
    """Line of the tube drawn on beyond the bend, with the angle between it and the run."""
    corner = view.axis[view.mouth] + place
    side = np.sign(view.axis[-1, 0] - view.axis[0, 0])
    away = -1.0 if view.bend_deg >= 0 else 1.0
    reach = min(_TUBE_LINE_MM, abs(float(view.axis[-1, 0])))
    _line(axes, corner + np.array([[0.0, 0.0], [reach * side, 0.0]]), lw=_HAIRLINE, ls="--")
    text = view.bend_text
    if parts is not None and BEND in set(parts["part"]):
        radius = float(parts.set_index("part")["radius_mm"][BEND])
        text = f"bend {text}, radius {radius:g} mm to the wire's axis"
    angles = np.radians(np.linspace(0, view.bend_deg, 20))
    arc = corner + 0.75 * reach * np.column_stack([side * np.cos(angles), np.sin(angles)])
    _line(axes, arc, lw=_HAIRLINE)
    axes.text(
        corner[0] + 6 * side,
        corner[1] + 2.0 * away,
        text,
        fontsize=8,
        ha=beside(side),
        va="top" if away < 0 else "bottom",
    )


def _draw_lengths(axes: Axes, view: WireView, place: Array, parts: pd.DataFrame) -> None:
    """Dimension lines of the two runs in the plane of the bend, on opposite sides of the wire."""
    lengths = parts.set_index("part")["length_mm"]
    side = 1.0 if view.bend_deg >= 0 else -1.0
    runs = ((TUBE_RUN, view.axis[[0, view.mouth]], -side), (FREE_RUN, view.axis[-2:], side))
    for name, ends, way in runs:
        words = "mouth to mouth" if name == TUBE_RUN else name
        _dimension(axes, ends + place, way, f"{words} {lengths[name]:.2f} mm", name)


def _dimension(axes: Axes, ends: Array, way: float, text: str, name: str) -> None:
    """Line beside a run, above it (1) or below it (−1), as long as the run."""
    start, end = ends[np.argsort(ends[:, 0])]
    along = (end - start) / np.linalg.norm(end - start)
    normal = way * np.array([-along[1], along[0]])
    offset = 5.0 if way > 0 else 8.0
    line = ends + offset * normal
    _line(axes, line, name.replace(" ", "-"), lw=_HAIRLINE)
    for foot in ends:
        _line(axes, np.array([foot + 1.2 * normal, foot + (offset + 1) * normal]), lw=0.35)
    x, y = line.mean(axis=0) + 1.5 * normal
    axes.text(
        x,
        y,
        text,
        fontsize=8,
        rotation=float(np.degrees(np.arctan2(along[1], along[0]))),
        rotation_mode="anchor",
        ha="center",
        va="bottom" if way > 0 else "top",
    )


def _draw_foot(axes: Axes, parts: pd.DataFrame, page: Page) -> None:
    y = _FOOT_MM - 4
    axes.text(
        _MARGIN_MM,
        y,
        "Along the wire's axis, from the tube end",
        fontsize=9,
        weight="bold",
        va="top",
    )
    for row in parts.to_dict("records"):
        y -= _LINE_MM + 0.4
        text = f"{row['from_mm']:.2f} to {row['to_mm']:.2f} mm"
        if row["part"] == BEND:
            text += f"   ({row['angle_deg']:.1f}°, radius {row['radius_mm']:g} mm)"
        axes.text(_MARGIN_MM, y, row["part"], fontsize=8.5, va="top")
        axes.text(_MARGIN_MM + 32, y, text, fontsize=8.5, va="top")
    width = round((page.width_mm - 2 * _MARGIN_MM) / 1.5)
    notes = (
        "Leave wire beyond both ends for cinching behind the tube and for the hook; neither is "
        "drawn. Outlines are the nominal section with sharp corners. Long dashes: axis of the "
        "wire; short dashes: the tube's line drawn on; bars across the wire: mouths of the tube. "
        "Angles in the views from buccal and from occlusal are the bend as seen from there."
    )
    y -= _LINE_MM + 3
    for text, look in ((notes, "normal"), (f"Caution. {CAUTION}", "italic")):
        filled = textwrap.fill(text, width)
        axes.text(_MARGIN_MM, y, filled, fontsize=7.5, style=look, va="top", linespacing=1.25)
        y -= 3.6 * (filled.count("\n") + 1) + 1.5


def _section_text(section: Spec) -> str:
    if section["shape"] == "round":
        return f"round {section['height_mm']:.4g} mm ({_name(section)})"
    size = f"{section['height_mm']:.4g} × {section['width_mm']:.4g} mm"
    return f"rectangular {size} ({_name(section)})"


def _name(section: Spec) -> str:
    return str(section["name"]).replace("rectangular_", "").replace("round_", "").replace("_", " ")


def _hook_text(case: Spec) -> str:
    one = case["one_point"]
    if one["tooth"]:
        return f"hook end\n(at {one['tooth']})"
    if one["between"]:
        return f"hook end\n(between {one['between'][0]} and {one['between'][1]})"
    return f"hook end\n(on {one['unit']})"


def _line(axes: Axes, points: Array, name: str | None = None, **look: Any) -> None:
    """Thin line through points (n, 2); a name makes it findable in the SVG."""
    colour = WIRE_COLOUR if name else PASSIVE_COLOUR
    (line,) = axes.plot(*points.T, color=colour, solid_capstyle="butt", **look)
    if name:
        line.set_gid(name)
