"""What the wire of a case is bent to between its bend at the tube and its last leg."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.cantilever_design import CantileverSites
from geometry.frame import ToothFrame
from geometry.wire import CantileverWire, MouthBend, cantilever_wire
from geometry.wire_course import along_curve, curve_tangents, polyline, shortened
from geometry.wire_features import BoxLoop, Helix, LLoop, Step, TLoop, ULoop
from geometry.wire_path import Arc, Bend, Feature, Straight, along_arc, sweep
from workflow.specs import Spec

Array = NDArray[np.float64]
Side = tuple[float, float]

TUBE_RUN, BEND, FREE_RUN, LAST_RUN = "run in the tube", "bend at the tube", "free run", "last run"
BRACKET_RUN = "run in the bracket"
_PITCH = 1.1  # of the wire's size along the axis of a helix, so that its turns pass each other
_LAST_LEG_MM, _LAST_LEG_SHARE = 3.0, 0.3  # of a course: what its last leg takes
_MOST_AIMS, _MISSED_MM = 30, 1e-6


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
        places[0], axes = _after_bend(sites, start, wire["bend_radius_mm"])
        return (RunPart(_landing(places, axes), "along the arch"),)
    if wire["through"] is not None:
        places = np.array([sites.mouths[1], *wire["through"]["points_mm"], sites.hook])
        places[0], axes = _bent_towards(sites, places[1], wire["bend_radius_mm"])
        course = polyline(places, wire["through"]["radius_mm"], axes)
        radius = f"corners of radius {wire['through']['radius_mm']:g} mm"
        course = shortened(course, _last_leg_mm(places))
        return (RunPart(course, "through given places", radius),)
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
    if len(path.features) > len(names):
        names.append((BRACKET_RUN, ""))
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


def _last_leg_mm(places: Array) -> float:
    """What the wire's last leg, which is straight, takes of a course through places."""
    return min(_LAST_LEG_MM, _LAST_LEG_SHARE * float(np.linalg.norm(places[-1] - places[-2])))


def _landing(places: Array, axes: Array) -> Feature:
    """Curve through all places but the last, which the straight leg after it leads to."""
    aim, leg = places.copy(), _last_leg_mm(places)
    for _ in range(_MOST_AIMS):
        course = shortened(along_curve(aim, axes), leg)
        missed = places[-1] - sweep((course, Straight(leg)), places[0], axes).tip
        if float(np.linalg.norm(missed)) < _MISSED_MM:
            break
        aim[-1] += missed
    return course


def _after_bend(sites: CantileverSites, direction: Array, radius_mm: float) -> tuple[Array, Array]:
    """Where the bend at the tube ends, and the section axes there, for a wire that leaves it so."""
    axes, unit = sites.tube_axes, direction / np.linalg.norm(direction)
    along = axes[:, 0]
    turn = np.cross(along, unit)
    angle = float(np.arctan2(np.linalg.norm(turn), along @ unit))
    about = axes.T @ turn / max(float(np.linalg.norm(turn)), 1e-12)
    arc = MouthBend(angle * about[1:], radius_mm).arc
    moved, turned = along_arc(arc, np.array([arc.length_mm]))
    return sites.mouths[1] + axes @ moved[0], np.asarray(axes @ turned[0])


def _bent_towards(sites: CantileverSites, place: Array, radius_mm: float) -> tuple[Array, Array]:
    """The same for a wire that then runs straight to a place."""
    leg = cantilever_wire(sites.mouths, sites.tube_axes, place, bend_radius_mm=radius_mm)
    end = int(leg.swept.feature_nodes[1, 1])
    return leg.points[end], leg.axes[end]


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
    ends = f"radius {values['radius_mm']:g} mm, towards {values['towards']}"
    if kind == "helix":
        return _helix(values, sides, section, ends)
    feature, name, size = _BUILT[kind](values, sides[values["towards"]])
    return RunPart(feature, name, f"{size}, {ends}")


def _bend(v: Spec, side: Side) -> tuple[Feature, str, str]:
    about = (-side[1], side[0])
    bend = Bend(np.radians(v["angle_deg"]), v["radius_mm"], about)
    return bend, "bend", f"{v['angle_deg']:g}°"


def _step(v: Spec, side: Side) -> tuple[Feature, str, str]:
    step = Step(v["offset_mm"], v["radius_mm"], side, v["length_mm"])
    return step, "step", f"{v['offset_mm']:g} mm"


def _u_loop(v: Spec, side: Side) -> tuple[Feature, str, str]:
    loop = ULoop(v["height_mm"], v["width_mm"], v["radius_mm"], side)
    return loop, "U loop", _high_and_wide(v)


def _box_loop(v: Spec, side: Side) -> tuple[Feature, str, str]:
    loop = BoxLoop(v["height_mm"], v["width_mm"], v["radius_mm"], side)
    return loop, "box loop", _high_and_wide(v)


def _l_loop(v: Spec, side: Side) -> tuple[Feature, str, str]:
    head = v["head_length_mm"], v["head_height_mm"]
    loop = LLoop(v["height_mm"], *head, v["gap_mm"], v["radius_mm"], side)
    return loop, "L loop", _with_head(v, *head)


def _t_loop(v: Spec, side: Side) -> tuple[Feature, str, str]:
    head = v["head_width_mm"], v["head_height_mm"]
    loop = TLoop(v["height_mm"], *head, v["gap_mm"], v["radius_mm"], side)
    return loop, "T loop", _with_head(v, *head)


_BUILT: dict[str, Callable[[Spec, Side], tuple[Feature, str, str]]] = {
    "bend": _bend,
    "step": _step,
    "u_loop": _u_loop,
    "box_loop": _box_loop,
    "l_loop": _l_loop,
    "t_loop": _t_loop,
}


def _high_and_wide(v: Spec) -> str:
    return f"{v['height_mm']:g} mm high, {v['width_mm']:g} wide"


def _with_head(v: Spec, long: float, high: float) -> str:
    return f"{v['height_mm']:g} mm high, head {long:g} × {high:g} mm, gap {v['gap_mm']:g}"


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
