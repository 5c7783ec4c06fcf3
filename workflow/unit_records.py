"""Entries of the records of a unit that more than one stage writes."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.movement import Movement
from fem.stress import hydrostatic, principal, volume_statistics, von_mises
from workflow.units import KPA_PER_MPA

Array = NDArray[np.float64]


def ligament_record(stress: Array, volumes: Array) -> dict[str, Any]:
    """Stress by share of volume and extremes at quadrature points, kPa; tension positive."""
    principals = principal(stress)
    scalars = {
        "hydrostatic_kPa": hydrostatic(stress),
        "von_mises_kPa": von_mises(stress),
        "first": principals[..., 0],
        "third": principals[..., 2],
    }
    record: dict[str, Any] = {
        name: volume_statistics(values, volumes).scaled(KPA_PER_MPA)
        for name, values in scalars.items()
    }
    record["principal_kPa"] = {"first": record.pop("first"), "third": record.pop("third")}
    return record


def movement_record(moved: Movement) -> dict[str, Any]:
    """Motion, screw axis and anatomical components, in µm and mrad."""
    anatomical = moved.anatomical
    screw = moved.screw
    return {
        "displacement_at_resistance_um": 1e3 * moved.motion[:3],
        "rotation_mrad": 1e3 * moved.motion[3:],
        "screw_axis": None
        if screw is None
        else {"point_mm": screw.point, "direction": screw.direction, "pitch_mm": screw.pitch},
        "centre_of_rotation_mm": moved.centre_of_rotation,
        "anatomical": {
            "extrusion_um": 1e3 * anatomical.extrusion_mm,
            "mesial_um": 1e3 * anatomical.mesial_mm,
            "buccal_um": 1e3 * anatomical.buccal_mm,
            "mesial_tip_mrad": 1e3 * anatomical.mesial_tip_rad,
            "buccal_tip_mrad": 1e3 * anatomical.buccal_tip_rad,
            "mesial_in_mrad": 1e3 * anatomical.mesial_in_rad,
        },
    }
