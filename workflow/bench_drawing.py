"""One view of a bent wire in true size: the wire, its tube, its ends and what is said of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from numpy.typing import NDArray

from workflow.bench_labels import CALLOUT_MM, Ground
from workflow.bench_views import Mark, WireView
from workflow.figures import PASSIVE_COLOUR, WIRE_COLOUR, beside
from workflow.specs import Spec

Array = NDArray[np.float64]

HAIRLINE = 0.5  # pt
_FILL = "#E4E7E9"
_STRAND_MM = 1.0
_TUBE_LINE_MM = 13.0  # of the tube's line, drawn on beyond a single bend
_PAST_MM = 4.0  # of the same, past a wire of several bends


def draw_view(
    axes: Axes,
    case: Spec,
    view: WireView,
    place: Array,
    name: str,
    parts: pd.DataFrame,
    room: Array,
) -> None:
    """Draw a view with its second mouth at a place (2,) of the page.

    Parameters
    ----------
    axes
        Axes that span the page and count its millimetres.
    name
        Of the view, by which its lines are found in the SVG.
    room
        Lower left and upper right corner of what the view may use, (2, 2), mm.
    """
    ground = Ground(axes, *room)
    _draw_wire(axes, view, place, name, ground)
    if view.one_bend:
        _draw_bend(ground, view, place, parts if name == "view-0" else None)
        if name == "view-0":
            _draw_lengths(ground, view, place, parts)
        _name_ends(ground, case, view, place)
        return
    side = _side(view)
    start, end = view.axis[view.mouth], np.ptp(view.axis[view.mouth :, 0])
    on = place + start + np.array([[0.0, 0.0], [(end + _PAST_MM) * side, 0.0]])
    line(axes, on, f"{name}-tube-line", lw=HAIRLINE, ls="--", color=PASSIVE_COLOUR)
    ground.take(on, thin=True)
    _name_ends(ground, case, view, place)
    for mark in _numbered(view, parts, runs=name == "view-0"):
        spot = view.axis[mark.node]
        ground.callout(
            spot + place, mark.number, _outward(view, mark.node), f"{name}-{mark.number}"
        )


def _numbered(view: WireView, parts: pd.DataFrame, *, runs: bool) -> list[Mark]:
    """Parts to number on the drawing, bends and loops first; of the runs those with room for it."""
    lengths = parts.set_index("number")["length_mm"]
    bent = [mark for mark in view.marks if not mark.run]
    long = [mark for mark in view.marks if mark.run and lengths[mark.number] > 0.5 * CALLOUT_MM]
    return bent + long if runs else bent


def line(axes: Axes, points: Array, name: str | None = None, **look: Any) -> None:
    """Thin line through points (n, 2); a name makes it findable in the SVG."""
    look = {"color": WIRE_COLOUR if name else PASSIVE_COLOUR, "zorder": 5, **look}
    (drawn,) = axes.plot(*points.T, solid_capstyle="butt", **look)
    if name:
        drawn.set_gid(name)


def _side(view: WireView) -> float:
    """Where the wire leaves the tube to, right (1) or left (−1)."""
    return float(np.sign(view.axis[view.mouth, 0] - view.axis[0, 0]))


def _outward(view: WireView, node: int) -> Array:
    """Direction from the middle of the wire's neighbourhood to a node, upwards if there is none."""
    reach = np.linalg.norm(view.axis - view.axis[node], axis=1)
    away = view.axis[node] - view.axis[reach < 8.0].mean(axis=0)
    size = float(np.linalg.norm(away))
    return away / size if size > 0.05 else np.array([0.0, 1.0])


# The wire


def _draw_wire(axes: Axes, view: WireView, place: Array, name: str, ground: Ground) -> None:
    """Outline of the wire, near strands over far ones, its axis and the tube's mouths."""
    for layer, (own, cover) in enumerate(_strands(view)):
        edge: dict[str, Any] = {"fill": False, "ec": WIRE_COLOUR, "lw": 1.6 * HAIRLINE}
        for kind, pieces, look in (("edge", own, edge), ("wire", cover, {"fc": _FILL, "lw": 0})):
            outline = _outline([view.silhouettes[piece] + place for piece in pieces])
            patch = PathPatch(
                outline, joinstyle="round", snap=False, zorder=2 + 1e-3 * layer, **look
            )
            patch.set_gid(f"{name}-{kind}-{layer}")
            axes.add_patch(patch)
    dashes = (0, (12, 4, 2, 4))
    line(axes, view.axis + place, f"{name}-axis", lw=0.35, ls=dashes)
    ground.take(view.axis + place)
    for node in (0, view.mouth):
        bar = view.axis[node] + place + np.array([[0.0, -2.2], [0.0, 2.2]])
        line(axes, bar, lw=0.8)
        ground.take(bar)


def _strands(view: WireView) -> list[tuple[list[int], list[int]]]:
    """Pieces to draw together, from far to near: those outlined, and those then filled.

    A wire that nowhere passes over itself is one strand. Else it is cut into short ones, and
    each is filled a little beyond its ends, so that no edge is left across the wire.
    """
    solid = np.column_stack([view.axis, view.depth_mm])
    lengths = np.linalg.norm(np.diff(solid, axis=0), axis=1)
    arc = np.cumsum(lengths) - 0.5 * lengths
    every = list(range(len(arc)))
    if not _passes_over_itself(view, arc):
        return [(every, every)]
    number = (arc / _STRAND_MM).astype(int)
    depth = 0.5 * (view.depth_mm[1:] + view.depth_mm[:-1])
    strands = []
    for strand in np.unique(number):
        own = np.flatnonzero(number == strand)
        cover = (arc > arc[own[0]] - view.size_mm) & (arc < arc[own[-1]] + view.size_mm)
        strands.append((float(depth[own].mean()), own.tolist(), np.flatnonzero(cover).tolist()))
    return [(own, cover) for _, own, cover in sorted(strands, key=lambda strand: strand[0])]


def _passes_over_itself(view: WireView, arc: Array) -> bool:
    middles = 0.5 * (view.axis[1:] + view.axis[:-1])
    apart = np.linalg.norm(middles[:, None] - middles, axis=2)
    along = np.abs(arc[:, None] - arc)
    return bool(np.any((apart < view.size_mm) & (along > 3 * view.size_mm)))


def _outline(polygons: list[Array]) -> Path:
    closed = [Path(np.concatenate([polygon, polygon[:1]]), closed=True) for polygon in polygons]
    return Path.make_compound_path(*closed)


# Its ends


def _name_ends(ground: Ground, case: Spec, view: WireView, place: Array) -> None:
    side, two = _side(view), case["two_point"]
    tube_text = f"tube end\n(tube on {two['tooth']})"
    level = np.array([side, 0.0])
    ground.beside(view.axis[0] + place, tube_text, -level, fontsize=8)
    last = view.axis[-1] - view.axis[-2]
    size = float(np.linalg.norm(last))
    on = last / size if size > 1e-6 else level
    ground.beside(view.axis[-1] + place, _hook_text(case), on, fontsize=8)


def _hook_text(case: Spec) -> str:
    one = case["one_point"]
    if one["contact"] == "bracket":
        return f"bracket end\n(bracket of {one['tooth']})"
    if one["tooth"]:
        return f"hook end\n(at {one['tooth']})"
    if one["between"]:
        return f"hook end\n(between {one['between'][0]} and {one['between'][1]})"
    return f"hook end\n(on {one['unit']})"


# A single bend: dimensions on the drawing


def _draw_bend(ground: Ground, view: WireView, place: Array, parts: pd.DataFrame | None) -> None:
    """Line of the tube drawn on beyond the bend, with the angle between it and the run."""
    axes, side = ground.axes, _side(view)
    corner = view.axis[view.mouth] + place
    away = -1.0 if view.last_deg >= 0 else 1.0
    reach = min(_TUBE_LINE_MM, abs(float(view.axis[-1, 0])))
    on = corner + np.array([[0.0, 0.0], [reach * side, 0.0]])
    line(axes, on, lw=HAIRLINE, ls="--")
    text = view.last_text
    if parts is not None and len(parts) == 3:
        radius = float(parts["radius_mm"].iloc[1])
        text = f"bend {text}, radius {radius:g} mm to the wire's axis"
    angles = np.radians(np.linspace(0, view.last_deg, 20))
    arc = corner + 0.75 * reach * np.column_stack([side * np.cos(angles), np.sin(angles)])
    line(axes, arc, lw=HAIRLINE)
    drawn = axes.text(
        corner[0] + 6 * side,
        corner[1] + 2.0 * away,
        text,
        fontsize=8,
        ha=beside(side),
        va="top" if away < 0 else "bottom",
    )
    ground.take(on)
    ground.take(arc)
    ground.take_text(drawn)


def _draw_lengths(ground: Ground, view: WireView, place: Array, parts: pd.DataFrame) -> None:
    """Dimension lines of the two runs in the plane of the bend, on opposite sides of the wire."""
    lengths = parts.set_index("number")["length_mm"]
    side = 1.0 if view.last_deg >= 0 else -1.0
    ways = {view.marks[-1].number: side, view.marks[0].number: -side}
    for mark in (mark for mark in view.marks if mark.run):
        words = "mouth to mouth" if mark is view.marks[0] else mark.part
        text = f"{words} {lengths[mark.number]:.2f} mm"
        ends = view.axis[[mark.first, mark.last]] + place
        _dimension(ground, ends, ways[mark.number], text, mark.part)


def _dimension(ground: Ground, ends: Array, way: float, text: str, name: str) -> None:
    """Line beside a run, above it (1) or below it (−1), as long as the run."""
    axes = ground.axes
    start, end = ends[np.argsort(ends[:, 0])]
    along = (end - start) / np.linalg.norm(end - start)
    normal = way * np.array([-along[1], along[0]])
    offset = 5.0 if way > 0 else 8.0
    dimension = ends + offset * normal
    line(axes, dimension, name.replace(" ", "-"), lw=HAIRLINE)
    for foot in ends:
        line(axes, np.array([foot + 1.2 * normal, foot + (offset + 1) * normal]), lw=0.35)
    x, y = dimension.mean(axis=0) + 1.5 * normal
    drawn = axes.text(
        x,
        y,
        text,
        fontsize=8,
        rotation=float(np.degrees(np.arctan2(along[1], along[0]))),
        rotation_mode="anchor",
        ha="center",
        va="bottom" if way > 0 else "top",
    )
    ground.take(dimension)
    ground.take_text(drawn)
