"""What the scenes of a case are drawn from: bodies, loads, initial movement, ligament stress."""

from __future__ import annotations

import json
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.colors import to_hex
from numpy.typing import NDArray

from workflow.figures import nice_at_least
from workflow.figures_appliance import WIRE_RADIUS_MM
from workflow.figures_ligament import COLOURS, LigamentStress
from workflow.figures_loads import ArrowScale, arc_points, arrow_table, loads_on_units, scale_of
from workflow.figures_movement import LEAST_DRAWN_MM, unit_motions
from workflow.figures_view import Directions, PlacedTooth, directions, label_side, load_plane
from workflow.scene import dashes
from workflow.scenes_bodies import (
    Surface,
    ball,
    bar,
    couple_arrow,
    force_arrow,
    section,
    thinned,
    whole,
)
from workflow.scenes_ligament import StressedSurface
from workflow.specs import Spec

Array = NDArray[np.float64]

ATTACHMENT_RADIUS_MM = 0.75
HOOK_RADIUS_MM = 0.55
DASH_MM = 0.8
LABEL_MM = 1.4  # from the apex
_SHADES = 65  # of the colour map, the middle one at no stress
_MIRROR = np.array([-1.0, 1.0, 1.0])


@dataclass(frozen=True)
class ToothScene:
    """One tooth of a scene.

    Attributes
    ----------
    tooth
        Its surfaces in the patient.
    stress
        Field on the elements of its ligament.
    ligament
        Outside of the ligament with that field.
    """

    tooth: PlacedTooth
    stress: LigamentStress
    ligament: StressedSurface


def scenes_record(
    case: Spec, summary: Spec, solved: Spec, teeth: Sequence[ToothScene]
) -> dict[str, Any]:
    """Content of ``scenes.json``, for a page to draw and a reader to inspect.

    Points are whole numbers of 10 µm in patient coordinates, triangles whole numbers, both one
    after the other. A motion is a point, its displacement and the rotation vector about it, of the
    initial movement; the page enlarges displacement and rotation vector by up to
    ``movement.factor`` and turns by the latter, so that teeth stay as they are.

    Parameters
    ----------
    case, summary, solved
        Contents of ``case.resolved.yaml``, ``summary.json`` and ``equilibrium.json``.
    teeth
        All teeth of the case.
    """
    words = directions(case, solved)
    plane = load_plane(case, words)
    side = label_side(solved, plane.view)
    motions = _motions(summary, teeth)
    return {
        "case": summary["case"],
        "view": plane.seen,
        "label_side": int(side),
        "directions": _directions(words),
        "movement": _enlargement(teeth, motions),
        **_loads(summary, solved, side * plane.view.right),
        "units": [_unit(name, unit) for name, unit in summary["units"].items()],
        "teeth": [_tooth(entry, motions[entry.tooth.number]) for entry in teeth],
        "parts": _parts(case, solved, motions),
        "passive_wire_10um": [
            whole(dash) for dash in dashes(np.asarray(solved["wire"]["passive_mm"]), DASH_MM)
        ],
        "stress": _colours(teeth),
    }


def write_scenes(path: str | Path, record: Mapping[str, Any]) -> None:
    """Write the record without a blank: most of it is long lists of whole numbers."""
    text = json.dumps(record, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    Path(path).write_text(text + "\n", encoding="utf-8")


def _directions(words: Directions) -> dict[str, list[float]]:
    names = ("mesial", "buccal", "occlusal")
    return {name: np.round(getattr(words, name), 6).tolist() for name in names}


def _motions(summary: Spec, teeth: Sequence[ToothScene]) -> dict[int, tuple[Array, Array, Array]]:
    """Of each tooth: a point, its displacement (mm) and its rotation (rad), (3,) each."""
    found = unit_motions(summary, [entry.tooth for entry in teeth])
    return {number: small for motion in found for number, small in motion.moved.items()}


def _motion(small: tuple[Array, Array, Array]) -> dict[str, list[float]]:
    point, shift, turn = (np.asarray(part, dtype=float).tolist() for part in small)
    return {"point_mm": point, "displacement_mm": shift, "rotation_rad": turn}


def _enlargement(
    teeth: Sequence[ToothScene], motions: Mapping[int, tuple[Array, Array, Array]]
) -> dict[str, float]:
    """Largest displacement of all teeth, and the round factor that makes it visible."""
    largest = 0.0
    for entry in teeth:
        point, shift, turn = motions[entry.tooth.number]
        moved = shift + np.cross(turn, entry.tooth.points - point)
        largest = max(largest, float(np.linalg.norm(moved, axis=1).max()))
    factor = nice_at_least(LEAST_DRAWN_MM / largest) if largest > 0 else 0.0
    return {"factor": factor, "largest_mm": largest}


def _loads(summary: Spec, solved: Spec, beside: Array) -> dict[str, Any]:
    """Arrows to scale, their labels in the direction `beside` (3,) of them."""
    loads = loads_on_units(summary, solved)
    scale = scale_of(loads)
    return {
        "scale": {
            "force_mm_per_N": scale.force_mm(1.0),
            "couple_mm_per_Nmm": scale.couple_mm(1.0),
            "bar_N": scale.bar_N,
            "bar_Nmm": scale.bar_Nmm,
        },
        "loads": [
            _load(row, scale, beside) for row in arrow_table(loads, scale).to_dict("records")
        ],
    }


def _load(row: Mapping[Hashable, Any], scale: ArrowScale, beside: Array) -> dict[str, Any]:
    point = np.array([row[f"{axis}_mm"] for axis in "xyz"])
    vector = np.array([row[f"vector_{axis}"] for axis in "xyz"])
    size, length_mm = float(np.linalg.norm(vector)), float(row["length_drawn_mm"])
    if row["kind"] == "force":
        body, label = force_arrow(point, vector, length_mm), point + length_mm * vector / size
    else:
        angle = length_mm / scale.radius_mm
        body = couple_arrow(point, vector, scale.radius_mm, angle)
        arc = arc_points(point, vector, scale.radius_mm, angle)
        label = arc[(arc @ beside).argmax()]
    return {
        "unit": row["unit"],
        "kind": row["kind"],
        "size": size,
        "vector": vector.tolist(),
        "point_mm": point.tolist(),
        "length_mm": length_mm,
        "label_10um": whole(label),
        "surface": body.record(),
    }


def _unit(name: str, unit: Spec) -> dict[str, Any]:
    return {"name": name, "teeth": unit["teeth"], "anatomical": unit["anatomical"]}


def _tooth(entry: ToothScene, small: tuple[Array, Array, Array]) -> dict[str, Any]:
    tooth, field = entry.tooth, entry.stress.hydrostatic_kPa
    axes = dict(zip(("mesial", "buccal", "occlusal"), tooth.frame.axes.T, strict=True))
    return {
        "number": tooth.number,
        "unit": tooth.unit,
        "directions": {name: np.round(axis, 6).tolist() for name, axis in axes.items()},
        "label_10um": whole(_below_apex(tooth)),
        "crown": thinned(tooth.points, tooth.crown).record(),
        "root": thinned(tooth.points, tooth.root).record(),
        "sections_10um": _sections(tooth),
        "motion": _motion(small),
        "ligament": entry.ligament.surface.record()
        | {"hydrostatic_kPa": np.round(entry.ligament.hydrostatic_kPa, 2).tolist()},
        "hydrostatic_kPa": {
            "min": float(field.min()),
            "max": float(field.max()),
            "limit_kPa": entry.stress.limit_kPa,
        },
    }


def _sections(tooth: PlacedTooth) -> list[list[int]]:
    """Outlines of a tooth in its mesiodistal and its buccolingual plane, in straight pieces."""
    triangles = np.concatenate([tooth.crown, tooth.root])
    origin, (mesial, buccal, _) = tooth.frame.origin, tooth.frame.axes.T
    pieces = (section(tooth.points, triangles, origin, normal) for normal in (buccal, mesial))
    return [whole(piece) for cut in pieces for piece in cut]


def _below_apex(tooth: PlacedTooth) -> Array:
    """Where a tooth's number stands."""
    apex = tooth.points[tooth.frame.to_tooth(tooth.points)[:, 2].argmin()]
    return np.asarray(apex - LABEL_MM * tooth.frame.axes[:, 2])


def _parts(
    case: Spec, solved: Spec, motions: Mapping[int, tuple[Array, Array, Array]]
) -> list[dict[str, Any]]:
    """Wire and attachments; an attachment moves with its tooth, the wire is drawn as engaged."""
    tube, hook = solved["tube"], solved["hook"]
    touch = np.asarray(hook["touch_mm"])
    engaged = np.asarray(solved["wire"]["engaged_mm"])
    molar, other = motions[case["two_point"]["tooth"]], _of_hook(case, solved, motions)
    parts = [
        _part("wire", bar(engaged, WIRE_RADIUS_MM)),
        _part("tube", bar(np.asarray(tube["mouths_mm"]), ATTACHMENT_RADIUS_MM), molar),
        _part("hook", ball(touch, HOOK_RADIUS_MM), other),
    ]
    if hook["bracket_mm"] is not None:
        bracket = bar(np.asarray(hook["bracket_mm"]), ATTACHMENT_RADIUS_MM)
        parts[-1] = _part("bracket", bracket, other)
    for held in case["further"]:
        place = np.asarray(solved["units"][held["unit"]]["attachment_mm"])
        parts.append(_part("hook", ball(place, HOOK_RADIUS_MM), motions[held["tooth"]]))
    if case["mirror_image"]:
        parts += [
            _part("mirrored wire", bar(engaged * _MIRROR, WIRE_RADIUS_MM)),
            _part("hook", ball(touch * _MIRROR, HOOK_RADIUS_MM), other),
        ]
    return parts


def _of_hook(
    case: Spec, solved: Spec, motions: Mapping[int, tuple[Array, Array, Array]]
) -> tuple[Array, Array, Array]:
    """Motion of the hook: of its tooth, or of the unit where it lies between two teeth."""
    tooth = case["one_point"]["tooth"]
    if tooth is not None:
        return motions[tooth]
    unit = solved["units"][case["one_point"]["unit"]]
    moved = np.asarray(unit["motion_at_centre"])
    return np.asarray(unit["centre_mm"]), moved[:3], moved[3:]


def _part(
    what: str, body: Surface, small: tuple[Array, Array, Array] | None = None
) -> dict[str, Any]:
    motion = None if small is None else _motion(small)
    return {"what": what, "surface": body.record(), "motion": motion}


def _colours(teeth: Sequence[ToothScene]) -> dict[str, Any]:
    """One range for all teeth of the case, symmetric about no stress."""
    return {
        "limit_kPa": max(entry.stress.limit_kPa for entry in teeth),
        "colours": [to_hex(shade) for shade in COLOURS(np.linspace(0, 1, _SHADES))],
    }
