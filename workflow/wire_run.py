"""What the wire of a case is bent to between its bend at the tube and its last leg."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from fem.cantilever import CantileverSites
from geometry.frame import ToothFrame
from geometry.wire import CantileverWire
from geometry.wire_course import along_curve, curve_tangents, polyline, shortened
from geometry.wire_features import BoxLoop, Helix, LLoop, Step, TLoop, ULoop
from geometry.wire_path import Arc, Bend, Feature, Straight
from workflow.specs import Spec

Array = NDArray[np.float64]
Side = tuple[float, float]

TUBE_RUN, BEND, FREE_RUN, LAST_RUN = "run in the tube", "bend at the tube", "free run", "last run"
_PITCH = 1.1  # of the wire's size along the axis of a helix, so that its turns pass each other
_LAST_LEG_MM, _LAST_LEG_SHARE = 3.0, 0.2  # of a course: what its last leg takes


@dataclass(frozen=True)
class RunPart:
    """A feature of the run with what it is called.

    Attributes
    ----------
    feature
        What the wire is bent to.
    name, words
        Its name and its sizes in words.
    """

    feature: Feature
    name: str
    words: str = ""


def run_parts(
    wire: Spec, sites: CantileverSites, tube: ToothFrame, passed: Callable[[], list[Array]]
) -> tuple[RunPart, ...]:
    """Parts of the run in order; none for a straight one.

    Parameters
    ----------
    wire
        ``wire`` of the resolved case.
    sites
        Where the wire is held.
    tube
        Frame of the tooth that carries the tube.
    passed
        Gives the places of the wire on the teeth it passes, from tube to hook, if it follows them.

    Raises
    ------
    ValueError
        If a course through given places cannot be bent.
    """
    if wire["along_arch"]:
        places = np.array([sites.mouths[1], *passed(), sites.hook])
        start = curve_tangents(places)[0] if len(places) > 2 else places[1] - places[0]
        course = along_curve(places, _turned_to(sites.tube_axes, start))
        return (_course(course, "along the arch", ""),)
    if wire["through"] is not None:
        places = np.array([sites.mouths[1], *wire["through"]["points_mm"], sites.hook])
        axes = _turned_to(sites.tube_axes, places[1] - places[0])
        course = polyline(places, wire["through"]["radius_mm"], axes)
        radius = f"corners of radius {wire['through']['radius_mm']:g} mm"
        return (_course(course, "through given places", radius),)
    sides = _sides(sites, tube)
    return tuple(_part(part, sides, wire["section"]) for part in wire["run"])


def as_bent(path: CantileverWire, parts: tuple[RunPart, ...]) -> Spec:
    """A passive wire by its parts, each by its arcs, as ``equilibrium.json`` keeps it."""
    names = [
        (TUBE_RUN, ""),
        (BEND, ""),
        *((part.name, part.words) for part in parts),
        (LAST_RUN if parts else FREE_RUN, ""),
    ]
    return {
        "start_mm": path.points[0],
        "axes": path.axes[0],
        "parts": [
            {"part": name, "words": words, "arcs": [_arc(arc) for arc in feature.arcs()]}
            for (name, words), feature in zip(names, path.features, strict=True)
        ],
    }


def _arc(arc: Arc) -> Spec:
    return {"length_mm": arc.length_mm, "curvature_per_mm": arc.curvature_per_mm}


def _course(course: Feature, name: str, words: str) -> RunPart:
    """A course less what the wire's last leg takes of it."""
    length = sum(arc.length_mm for arc in course.arcs())
    return RunPart(shortened(course, min(_LAST_LEG_MM, _LAST_LEG_SHARE * length)), name, words)


def _turned_to(axes: Array, direction: Array) -> Array:
    """Section axes turned, without twist, so that the wire leaves in a direction."""
    along, unit = axes[:, 0], direction / np.linalg.norm(direction)
    turn = np.cross(along, unit)
    size = float(np.linalg.norm(turn))
    if size == 0:
        return axes
    angle = np.arctan2(size, along @ unit)
    return np.asarray(Rotation.from_rotvec(angle / size * turn).as_matrix() @ axes)


def part_fault(part: Spec, section: Spec) -> str | None:
    """Why a part of a run cannot be bent, whichever way its sides lie; None if it can."""
    try:
        _part(part, _named_sides(1.0), section).feature.arcs()
    except ValueError as error:
        return str(error)
    return None


def _sides(sites: CantileverSites, tube: ToothFrame) -> dict[str, Side]:
    """Directions in the section's plane, (width, height), by their name on the tooth."""
    return _named_sides(1.0 if sites.tube_axes[:, 1] @ tube.axes[:, 1] > 0 else -1.0)


def _named_sides(buccal: float) -> dict[str, Side]:
    return {
        "occlusal": (0.0, 1.0),
        "gingival": (0.0, -1.0),
        "buccal": (buccal, 0.0),
        "lingual": (-buccal, 0.0),
    }


def _part(part: Spec, sides: dict[str, Side], section: Spec) -> RunPart:
    ((kind, values),) = ((name, value) for name, value in part.items() if value is not None)
    if kind == "straight_mm":
        return RunPart(Straight(values), "straight run")
    side, radius, where = sides[values["towards"]], values["radius_mm"], values["towards"]
    ends = f"radius {radius:g} mm, towards {where}"
    if kind == "bend":
        about = (-side[1], side[0])
        bend = Bend(np.radians(values["angle_deg"]), radius, about)
        return RunPart(bend, "bend", f"{values['angle_deg']:g}°, {ends}")
    if kind == "step":
        step = Step(values["offset_mm"], radius, side, values["length_mm"])
        return RunPart(step, "step", f"{values['offset_mm']:g} mm, {ends}")
    if kind == "helix":
        return _helix(values, sides, section, ends)
    height = values["height_mm"]
    if kind == "u_loop":
        loop: Feature = ULoop(height, values["width_mm"], radius, side)
        return RunPart(loop, "U loop", f"{height:g} mm high, {values['width_mm']:g} wide, {ends}")
    if kind == "box_loop":
        loop = BoxLoop(height, values["width_mm"], radius, side)
        return RunPart(loop, "box loop", f"{height:g} mm high, {values['width_mm']:g} wide, {ends}")
    head, gap = values["head_height_mm"], values["gap_mm"]
    if kind == "l_loop":
        long = values["head_length_mm"]
        loop = LLoop(height, long, head, gap, radius, side)
        name = "L loop"
    else:
        long = values["head_width_mm"]
        loop = TLoop(height, long, head, gap, radius, side)
        name = "T loop"
    return RunPart(
        loop, name, f"{height:g} mm high, head {long:g} × {head:g} mm, gap {gap:g}, {ends}"
    )


def _helix(values: Spec, sides: dict[str, Side], section: Spec, ends: str) -> RunPart:
    """Helix whose turns advance away from the teeth: to buccal, or occlusally if it lies flat."""
    side = sides[values["towards"]]
    upright = side[0] == 0.0
    pitch = values["pitch_mm"] or _PITCH * section["width_mm" if upright else "height_mm"]
    axis = (-side[1], side[0])
    away = sides["buccal" if upright else "occlusal"]
    way = 1.0 if axis[0] * away[0] + axis[1] * away[1] > 0 else -1.0
    turns = values["turns"]
    feature = Helix(turns, values["radius_mm"], way * pitch, side)
    words = f"{turns:g} turn{'s' if turns != 1 else ''}, pitch {pitch:.2g} mm, {ends}"
    return RunPart(feature, "helix", words)
