"""The passive wire of a case as it is bent: its parts in numbers, and views of it in true size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geometry.arch import is_lower
from geometry.wire import WirePath, cantilever_path
from workflow.plan import frames
from workflow.specs import Spec

Array = NDArray[np.float64]

TUBE_RUN, BEND, FREE_RUN = "run in the tube", "bend", "free run"
_ARC_PIECES = 24
_LENGTH_TOLERANCE_MM = 1e-6


@dataclass(frozen=True)
class WireView:
    """The wire seen at right angles to the page, the tube lying level, one mouth at the origin.

    Attributes
    ----------
    title
        From where it is seen.
    axis
        Axis of the wire on the page (n, 2), mm, from the tube's end to the hook's.
    sides
        Its two outlines, (2, n, 2), mm.
    mouth
        Node at the second mouth of the tube, where the bend begins.
    bend_deg
        Angle between tube and free run as seen here, positive if the run goes up.
    bend_text
        The same in words.
    """

    title: str
    axis: Array
    sides: Array
    mouth: int
    bend_deg: float
    bend_text: str


def wire_as_bent(case: Spec, solved: Spec) -> WirePath:
    """Path of the passive wire, its bend cut finely enough to be drawn.

    Raises
    ------
    ValueError
        If case and equilibrium record do not belong together.
    """
    tube, wire = solved["tube"], solved["wire"]
    first, second = np.asarray(tube["mouths_mm"], dtype=float)
    path = cantilever_path(
        (first, second),
        np.asarray(tube["axes"], dtype=float),
        np.asarray(wire["passive_mm"][-1], dtype=float),
        bend_radius_mm=case["wire"]["bend_radius_mm"],
        pieces=(1, _ARC_PIECES, 1),
    )
    length, recorded = float(path.lengths_mm.sum()), wire["arc_mm"][-1]
    if abs(length - recorded) > _LENGTH_TOLERANCE_MM:
        raise ValueError(
            f"the wire is {length:.6f} mm long as bent by the case and {recorded:.6f} mm in "
            "equilibrium.json: they do not belong together; run the equilibrium again"
        )
    return path


def parts_table(path: WirePath, bend_radius_mm: float) -> pd.DataFrame:
    """Runs and bend in order, with where they begin and end along the axis of the wire.

    A bend of no angle is left out.
    """
    mouth = path.mouths[1]
    arc = np.concatenate([[0.0], np.cumsum(path.lengths_mm)])
    bounds = [(TUBE_RUN, arc[0], arc[mouth]), (BEND, arc[mouth], arc[-2])]
    bounds += [(FREE_RUN, arc[-2], arc[-1])]
    rows = [
        {
            "part": name,
            "from_mm": start,
            "to_mm": end,
            "length_mm": end - start,
            "angle_deg": np.degrees(path.bend_rad) if name == BEND else np.nan,
            "radius_mm": bend_radius_mm if name == BEND else np.nan,
        }
        for name, start, end in bounds
        if end > start
    ]
    return pd.DataFrame(rows)


def wire_views(case: Spec, path: WirePath) -> tuple[WireView, WireView, WireView]:
    """The wire in the plane of its bend, from buccal and from occlusal.

    All three show the tube level and its hook end on the same side. Seen from buccal, up is
    superior, so that upper teeth hang down as in the mouth; nothing is mirrored.
    """
    tooth = case["two_point"]["tooth"]
    along, width, height = path.axes[0].T
    up = height * (1.0 if height[2] > 0 else -1.0)
    buccal = width * (1.0 if frames(case)[tooth].axes[:, 1] @ width > 0 else -1.0)
    right = np.cross(up, buccal)
    occlusal = up if is_lower(tooth) else -up
    plane_up = _up_in_bend_plane(path, along, up)
    turn = _turned_from(plane_up, up)
    flat = f"Plane of the bend: lay the wire flat here ({turn} the wire's height)"
    away = ("occlusal", "gingival") if is_lower(tooth) else ("gingival", "occlusal")
    across = np.cross(occlusal, right)
    sides = ("lingual", "buccal") if across @ buccal < 0 else ("buccal", "lingual")
    return (
        _view(case, path, flat, right, plane_up, ("", "")),
        _view(case, path, "From buccal, square to the tube", right, up, away),
        _view(case, path, "From occlusal, square to the tube", right, across, sides),
    )


def _up_in_bend_plane(path: WirePath, along: Array, up: Array) -> Array:
    """Direction square to the tube in which the bend leaves it, turned to the upper half."""
    run = path.axes[-1, :, 0]
    sideways = run - (run @ along) * along
    size = float(np.linalg.norm(sideways))
    if size < 1e-9:
        return up
    return sideways / size * (1.0 if sideways @ up >= 0 else -1.0)


def _turned_from(plane_up: Array, up: Array) -> str:
    turned = float(np.degrees(np.arccos(np.clip(plane_up @ up, -1.0, 1.0))))
    return "in the plane of" if turned < 0.05 else f"turned {turned:.1f}° about the tube from"


def _view(
    case: Spec, path: WirePath, title: str, right: Array, up: Array, ways: tuple[str, str]
) -> WireView:
    page = np.column_stack([right, up])
    mouth = path.mouths[1]
    axis = (path.points - path.points[mouth]) @ page
    tangents = path.axes[:, :, 0] @ page
    tangents /= np.linalg.norm(tangents, axis=1)[:, None]
    normals = np.column_stack([-tangents[:, 1], tangents[:, 0]])
    half = _half_thickness(case["wire"]["section"], path, normals @ page.T)[:, None] * normals
    rise, ahead = tangents[-1, 1], tangents[-1, 0] * np.sign(tangents[0, 0])
    bend = float(np.degrees(np.arctan2(rise, ahead)))
    towards = ways[0] if bend > 0 else ways[1]
    text = f"{abs(bend):.1f}°" + (f" towards {towards}" if towards else "")
    return WireView(title, axis, np.stack([axis + half, axis - half]), mouth, bend, text)


def _half_thickness(section: Spec, path: WirePath, normals: Array) -> Array:
    """Half the silhouette of the section, (n,), mm, across a line of sight.

    A rectangle of width w and height h shows (w |n·e_w| + h |n·e_h|) / 2 along n.
    """
    if section["shape"] == "round":
        return np.full(len(normals), 0.5 * section["height_mm"])
    across = np.abs(np.einsum("ni,nij->nj", normals, path.axes[:, :, 1:]))
    return np.asarray(across @ [0.5 * section["width_mm"], 0.5 * section["height_mm"]])
