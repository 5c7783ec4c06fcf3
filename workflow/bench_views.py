"""Views of a bent wire in true size: in the plane it is bent in, from buccal and from occlusal."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from geometry.arch import is_lower
from geometry.wire_path import SweptWire
from workflow.plan import frames
from workflow.specs import Spec

Array = NDArray[np.float64]

FLAT_MM = 0.05  # less than a printed line is wide
_LEAST_BEND_RAD = 1e-9
_NO_ANGLE_DEG = 0.05  # printed as 0.0°
_ROUND_CORNERS = 24


@dataclass(frozen=True)
class Mark:
    """Where on the wire one of its parts lies.

    Attributes
    ----------
    number, part
        Of the part in the table.
    first, last
        Nodes of the swept wire where it starts and ends.
    node
        The one that is pointed at.
    run, bend
        Whether the part is straight, and whether it is an arc of a circle.
    """

    number: int
    part: str
    first: int
    last: int
    node: int
    run: bool
    bend: bool


@dataclass(frozen=True)
class WireView:
    """The wire seen at right angles to the page, the tube lying level, its second mouth at 0.

    Attributes
    ----------
    title
        From where it is seen.
    remark
        What the view shows of the wire, in words.
    axis
        Axis of the wire on the page (n, 2), mm, from the tube's end to the hook's.
    depth_mm
        Height of the axis above the page, (n,), towards the reader.
    silhouettes
        Outline of each piece between two nodes, (k, 2) each, convex, mm.
    mouth
        Node at the second mouth of the tube.
    marks
        Parts of the wire, in order.
    last_deg
        Angle between the tube's line and the wire's end as seen here, positive if that goes up.
    last_text
        The same in words.
    size_mm
        Largest width of the wire across its axis.
    """

    title: str
    remark: str
    axis: Array
    depth_mm: Array
    silhouettes: tuple[Array, ...]
    mouth: int
    marks: tuple[Mark, ...]
    last_deg: float
    last_text: str
    size_mm: float

    @property
    def one_bend(self) -> bool:
        """Whether the wire is straight but for one bend at the tube's mouth, or throughout."""
        *before, last = self.marks
        return last.run and len(before) <= 2 and all(mark.bend for mark in before[1:])


def wire_views(
    case: Spec, path: SweptWire, parts: pd.DataFrame
) -> tuple[WireView, WireView, WireView]:
    """The wire in the plane it is bent in, or bent in most, from buccal and from occlusal.

    All three show the tube level and its mesial end on the same side. Seen from buccal, up is
    superior, so that upper teeth hang down as in the mouth; nothing is mirrored.
    """
    tooth = case["two_point"]["tooth"]
    width, height = path.axes[0, :, 1:].T
    up = height * (1.0 if height[2] > 0 else -1.0)
    buccal = width * (1.0 if frames(case)[tooth].axes[:, 1] @ width > 0 else -1.0)
    right = np.cross(up, buccal)
    occlusal = up if is_lower(tooth) else -up
    across = np.cross(occlusal, right)
    away = ("occlusal", "gingival") if is_lower(tooth) else ("gingival", "occlusal")
    sides = ("lingual", "buccal") if across @ buccal < 0 else ("buccal", "lingual")
    marks = _marks(path, parts)

    def view(name: str, upwards: Array, ways: tuple[str, str]) -> WireView:
        return _view(case["wire"]["section"], path, marks, name, (right, upwards), ways)

    aside = _aside_where_it_bends(path, up)
    turned = np.degrees(np.arccos(np.clip(abs(aside @ up), 0.0, 1.0)))
    name, nearest = ("buccal", up) if turned <= 45 else ("occlusal", across)
    plane = view(f"from {name}", aside * np.sign(aside @ nearest), ("", ""))
    return (
        _told_how_flat(plane, float(turned)),
        view("From buccal, square to the tube", up, away),
        view("From occlusal, square to the tube", across, sides),
    )


def _marks(path: SweptWire, parts: pd.DataFrame) -> tuple[Mark, ...]:
    """Middle of a part, or the farthest place of one that turns back, such as a loop."""
    marks = []
    for index, row in zip(parts.index, parts.to_dict("records"), strict=True):
        first, last = map(int, path.feature_nodes[index])
        bending = np.linalg.norm(path.curvature_per_mm[first:last, 1:], axis=1)
        turned = float(bending @ path.lengths_mm[first:last])
        arc = path.arc_mm[first : last + 1]
        node = first + int(np.argmin(np.abs(arc - arc[[0, -1]].mean())))
        if turned > np.pi:
            middle = path.points[[first, last]].mean(axis=0)
            reach = np.linalg.norm(path.points[first : last + 1] - middle, axis=1)
            node = first + int(np.argmax(np.round(reach, 6)))
        bend = 0 < turned <= np.pi and bool(np.isfinite(row["radius_mm"]))
        marks.append(Mark(row["number"], row["part"], first, last, node, turned == 0, bend))
    return tuple(marks)


def _aside_where_it_bends(path: SweptWire, up: Array) -> Array:
    """Direction square to the tube that spans with it the plane of most bending.

    The plane's normal is the principal direction of the axes that the pieces are bent about,
    each counted by the angle it is bent through; for a wire that lies in one plane, that plane.
    """
    along = path.axes[0, :, 0]
    bends = path.curvature_per_mm * [0.0, 1.0, 1.0] * path.lengths_mm[:, None]
    about = np.einsum("nij,nj->ni", path.axes[:-1], bends)
    angles = np.linalg.norm(about, axis=1)
    about -= np.outer(about @ along, along)
    counted = about[angles > 0] / np.sqrt(angles[angles > 0])[:, None]
    sizes, directions = np.linalg.eigh(counted.T @ counted)
    if sizes[-1] < _LEAST_BEND_RAD:
        return up
    return np.cross(directions[:, -1], along)


def _told_how_flat(view: WireView, turned_deg: float) -> WireView:
    """First view, with the plane of the page and how far the wire leaves it."""
    near, far = max(0.0, float(view.depth_mm.max())), max(0.0, -float(view.depth_mm.min()))
    turn = f"turned {turned_deg:.1f}° about the tube from the wire's height"
    if turned_deg < _NO_ANGLE_DEG:
        turn = "in the plane of the wire's height"
    if max(near, far) >= FLAT_MM:
        title = f"Not flat: seen square to most of its bending, {view.title}"
        leaves = f"leaves this plane by {near:.2f} mm towards you and {far:.2f} mm away from you"
        remark = f"{turn.capitalize()}. The wire's axis {leaves}. {view.remark}"
    elif view.one_bend:
        name = "Plane of the bend" if len(view.marks) == 3 else "Straight wire"
        title, remark = f"{name}: lay the wire flat here ({turn})", view.remark
    else:
        title = f"Plane of the wire: lay the wire flat here, seen {view.title}"
        remark = f"{turn.capitalize()}. {view.remark}"
    return replace(view, title=title, remark=remark)


def _view(
    section: Spec,
    path: SweptWire,
    marks: tuple[Mark, ...],
    title: str,
    page_axes: tuple[Array, Array],
    ways: tuple[str, str],
) -> WireView:
    """View on a page whose axes to the right and up are given."""
    page = np.column_stack(page_axes)
    mouth = int(path.feature_nodes[0, 1])
    places = path.points - path.points[mouth]
    axis = places @ page
    first, last = path.axes[0, :, 0] @ page, path.axes[-1, :, 0] @ page
    angle = float(np.degrees(np.arctan2(last[1], last[0] * np.sign(first[0]))))
    towards = ways[0] if angle > 0 else ways[1]
    words = f"{abs(angle):.1f}°"
    if towards and abs(angle) >= _NO_ANGLE_DEG:
        words += f" towards {towards}"
    return WireView(
        title=title,
        remark=f"Wire's end to the tube's line, as seen here: {words}.",
        axis=axis,
        depth_mm=places @ np.cross(page[:, 0], page[:, 1]),
        silhouettes=_silhouettes(section, path, axis, page),
        mouth=mouth,
        marks=marks,
        last_deg=angle,
        last_text=words,
        size_mm=2 * float(np.linalg.norm(_rim(section), axis=1).max()),
    )


def _silhouettes(section: Spec, path: SweptWire, axis: Array, page: Array) -> tuple[Array, ...]:
    """Outline on the page of every piece: the convex hull of the sections at its two ends."""
    rims = axis[:, None] + (path.axes[:, :, 1:] @ _rim(section).T).transpose(0, 2, 1) @ page
    both = np.concatenate([rims[:-1], rims[1:]], axis=1)
    return tuple(corners[ConvexHull(corners).vertices] for corners in both)


def _rim(section: Spec) -> Array:
    """Corners of the section (k, 2), mm, along width and height; of a round one, a polygon's."""
    if section["shape"] == "round":
        angles = 2 * np.pi * np.arange(_ROUND_CORNERS) / _ROUND_CORNERS
        return 0.5 * section["height_mm"] * np.column_stack([np.cos(angles), np.sin(angles)])
    signs = np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]])
    return 0.5 * signs * [section["width_mm"], section["height_mm"]]
