"""The passive wire of a case as it is bent: swept from its record, and its parts in numbers."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geometry.wire_path import Arc, Course, SweptWire, sweep
from workflow.specs import Spec

Array = NDArray[np.float64]

_PIECE_MM, _TURN_RAD = 0.5, 0.1  # an arc of 1 mm leaves its chord by 1 µm
_AGREED_MM = 1e-6


def wire_as_bent(case: Spec, solved: Spec) -> SweptWire:
    """The passive wire of an equilibrium record, cut finely enough to be drawn.

    Raises
    ------
    ValueError
        If the parts do not add up to the wire whose equilibrium was found.
    """
    wire = solved["wire"]
    record = wire["as_bent"]
    path = sweep(
        [Course(arcs_of(part)) for part in record["parts"]],
        np.asarray(record["start_mm"], dtype=float),
        np.asarray(record["axes"], dtype=float),
        piece_mm=_PIECE_MM,
        largest_turn_rad=_TURN_RAD,
    )
    longer = path.length_mm - wire["arc_mm"][-1]
    off = float(np.linalg.norm(path.tip - np.asarray(wire["passive_mm"][-1], dtype=float)))
    if abs(longer) > _AGREED_MM or off > _AGREED_MM:
        raise ValueError(
            f"equilibrium.json of case {case['case']}: the wire of wire.as_bent is "
            f"{path.length_mm:.6f} mm long, that of wire.arc_mm {wire['arc_mm'][-1]:.6f} mm, and "
            f"its tip lies {off:.6f} mm from the last point of wire.passive_mm; they do not belong "
            "together: run the equilibrium again"
        )
    return path


def arcs_of(part: Spec) -> tuple[Arc, ...]:
    """Arcs of a part of the record."""
    return tuple(
        Arc(float(arc["length_mm"]), np.asarray(arc["curvature_per_mm"], dtype=float))
        for arc in part["arcs"]
    )


def parts_table(solved: Spec) -> pd.DataFrame:
    """Parts of the wire in order, with where they begin and end along its axis.

    Angle and radius are given for arcs of a circle. Parts of no length are left out; the index
    is that of the record's parts.
    """
    rows: dict[int, Spec] = {}
    start = 0.0
    for index, part in enumerate(solved["wire"]["as_bent"]["parts"]):
        arcs = arcs_of(part)
        length = sum(arc.length_mm for arc in arcs)
        if not length > 0:
            continue
        angle, radius = _circle(arcs)
        rows[index] = {
            "number": len(rows) + 1,
            "part": part["part"],
            "from_mm": start,
            "to_mm": start + length,
            "length_mm": length,
            "angle_deg": angle,
            "radius_mm": radius,
            "words": part["words"],
        }
        start += length
    return pd.DataFrame(list(rows.values()), index=list(rows))


def _circle(arcs: tuple[Arc, ...]) -> tuple[float, float]:
    """Angle (degrees) and radius (mm) of a single arc of a circle, or twice not a number."""
    twist, *bending = arcs[0].curvature_per_mm
    curvature = float(np.linalg.norm(bending))
    if len(arcs) > 1 or curvature == 0 or abs(twist) > 1e-9 * curvature:
        return float("nan"), float("nan")
    return float(np.degrees(arcs[0].turn_rad)), 1 / curvature
