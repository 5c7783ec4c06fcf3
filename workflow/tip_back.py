"""A followed molar beside a clinical trial of tip-back springs: in proportion, not in time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from fem.cantilever_design import TWO_POINT
from workflow.course import CROWN, CaseCourse, tooth_marks, unit_movement, way_of

Array = NDArray[np.float64]

TRIAL, AT_CROWN, AT_CENTRE = (
    "trial, 16 patients",
    "followed, middle of the crown",
    "followed, centre of resistance",
)


@dataclass(frozen=True)
class TipBack:
    """Movement of an upper first molar: distal and extrusive, mm, and distal crown tip, degrees."""

    distal_mm: float
    extrusion_mm: float
    tip_deg: float


# Janakiraman et al., Angle Orthodontist: prospective trial of a one-couple tip-back spring.
PUBLISHED = TipBack(distal_mm=1.53, extrusion_mm=0.86, tip_deg=6.65)

REASONS = (
    "The trial gives means of 16 patients from films over months in which jaws grow and teeth "
    "erupt; the course has neither, nor a bite.",
    "A linear ligament bonded to root and socket is stiffest along the tooth, and sockets are "
    "taken to follow the initial movement in one proportion in all directions. Extruded, a tooth "
    "needs no bone absorbed before it: it may well go sooner than it tips.",
    "Which point of the molar the trial's millimetres belong to is not known here. The course "
    "gives them at mid-crown, which the tip takes apically a little, and at the centre of "
    "resistance.",
    "Force extrudes and couple tips: a shorter wire, or what else acts on the molar, changes the "
    "one beside the other.",
)


def tip_back_table(followed: CaseCourse) -> pd.DataFrame:
    """Trial and course where they have tipped alike, or at the end of a course that tips less.

    Columns: distal and extrusive movement, mm, distal crown tip, degrees, and both per degree.
    """
    name = followed.units.two_point
    unit = followed.units.supports[name]
    tooth = next(t for t in unit.teeth if t.number == followed.case["two_point"]["tooth"])
    crown = tooth_marks(followed.case, tooth)[CROWN]
    at_crown, at_centre = [], []
    for point in followed.found.points:
        pose = point.poses[TWO_POINT]
        moved, way = unit_movement(unit, pose), way_of(tooth, crown, pose)
        tip = -moved["mesial_tip_deg"]
        at_crown.append([-way["mesial_mm"], way["extrusion_mm"], tip])
        at_centre.append([-moved["mesial_mm"], moved["extrusion_mm"], tip])
    rows = {
        TRIAL: PUBLISHED,
        AT_CROWN: _alike(np.array(at_crown)),
        AT_CENTRE: _alike(np.array(at_centre)),
    }
    return pd.DataFrame(
        [
            {
                "molar": name,
                "distal_mm": row.distal_mm,
                "extrusion_mm": row.extrusion_mm,
                "tip_deg": row.tip_deg,
                "distal_mm_per_deg": row.distal_mm / row.tip_deg,
                "extrusion_mm_per_deg": row.extrusion_mm / row.tip_deg,
            }
            for name, row in rows.items()
        ]
    )


def _alike(way: Array) -> TipBack:
    """Row of a way (n, 3) where it has tipped as the trial has, linear between steps."""
    tips = np.maximum.accumulate(way[:, 2])
    tip = min(PUBLISHED.tip_deg, float(tips[-1]))
    distal, extrusion = (float(np.interp(tip, tips, way[:, i])) for i in (0, 1))
    return TipBack(distal, extrusion, tip)
