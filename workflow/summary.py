"""The summary of a case: the contract that other programs read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from workflow.cautions import warnings
from workflow.checks import case_checks, free_body_residual, twin_units
from workflow.mesh_summary import with_mesh_error
from workflow.plan import teeth_of
from workflow.specs import Spec
from workflow.units import GF_PER_N

SCHEMA = 1


def summarise(
    case: Spec,
    code: dict[str, str],
    solved: Spec,
    response: Spec,
    supports: Sequence[Any],
    rod: Any,
    solid: Any,
    curve: Any,
) -> dict[str, Any]:
    """Assemble ``summary.json`` from the records of the stages.

    Parameters
    ----------
    case
        The resolved case.
    code
        Version and commit of this project.
    solved, response, rod, solid, curve
        Contents of ``equilibrium.json``, ``response.json``, ``rod.json``, ``solid.json`` and
        ``force_activation.json``.
    supports
        Contents of ``support.json`` of every tooth.
    """
    units = response["units"]
    force, moment = free_body_residual(units, twin_units(case))
    summary = {
        "case": case["case"],
        "schema": SCHEMA,
        "code": code,
        "warnings": warnings(case, solved, response, rod, supports),
        "wire": _wire(case, solved, units),
        "units": {
            name: {key: value for key, value in unit.items() if key != "peak_strain"}
            for name, unit in units.items()
        },
        "equilibrium": {"force_residual_N": force, "moment_residual_Nmm": moment},
        "checks": [
            check.record()
            for check in case_checks(case, solved, units, supports, rod, solid, curve)
        ],
    }
    return with_mesh_error(summary, case, solved, dict(zip(teeth_of(case), supports, strict=True)))


def _wire(case: Spec, solved: Spec, units: Spec) -> dict[str, Any]:
    wire = solved["wire"]
    force = np.asarray(solved["hook"]["force_N"])
    couple = np.asarray(units[case["two_point"]["unit"]]["moment_at_attachment_Nmm"])
    return {
        "alloy": case["wire"]["alloy"]["name"],
        "section": case["wire"]["section"]["name"],
        "span_mm": solved["span_mm"],
        "length_mm": wire["arc_mm"][-1],
        "activation_mm": solved["activation_mm"],
        "force_N": force,
        "force_gf": float(np.linalg.norm(force)) * GF_PER_N,
        "couple_Nmm": couple,
        "couple_gfmm": float(np.linalg.norm(couple)) * GF_PER_N,
        "lever_arm_mm": _lever_arm_mm(solved),
        "contact_forces_N": _tube_contact_forces(case, solved),
        "peak_stress_MPa": wire["peak_stress_MPa"],
        "yield_ratio": wire["yield_ratio"],
        "permanent_set_mm": wire["permanent_set_mm"],
        "linear_theory": wire["linear_theory"],
        "linear_as_bent": wire["linear_as_bent"],
        "play": solved["play"],
        "friction": solved["friction"],
    }


def _lever_arm_mm(solved: Spec) -> float:
    """Distance from the middle of the tube to the line of the force at the hook."""
    force = np.asarray(solved["hook"]["force_N"])
    arm = np.subtract(solved["hook"]["touch_mm"], solved["tube"]["middle_mm"])
    return float(np.linalg.norm(np.cross(arm, force)) / np.linalg.norm(force))


def _tube_contact_forces(case: Spec, solved: Spec) -> list[float]:
    """Sizes of the forces across the tube at its two mouths, first the one away from the hook."""
    along = np.asarray(solved["tube"]["axes"])[:, 0]
    forces = [
        np.asarray(contact["wrench"][:3])
        for contact in solved["contacts"]
        if contact["unit"] == case["two_point"]["unit"] and any(contact["wrench"][:3])
    ]
    return [float(np.linalg.norm(force - along * (along @ force))) for force in forces]


def units_table(summary: dict[str, Any]) -> pd.DataFrame:
    """One row a unit: loads and movement, units in the column names."""
    rows = []
    for name, unit in summary["units"].items():
        row: dict[str, Any] = {"unit": name, "teeth": " ".join(map(str, unit["teeth"]))}
        row |= {"role": unit["role"], "contact": unit["contact"]}
        row |= _xyz("force", unit["force_N"], "N")
        row |= _xyz("moment_at_attachment", unit["moment_at_attachment_Nmm"], "Nmm")
        row |= _xyz("moment_at_resistance", unit["moment_at_resistance_Nmm"], "Nmm")
        row |= _xyz("resistance_centre", unit["resistance_centre_mm"], "mm")
        row["moment_to_force_mm"] = unit["moment_to_force_mm"]
        rows.append(row | unit["anatomical"])
    return pd.DataFrame(rows)


def ligament_table(summary: dict[str, Any]) -> pd.DataFrame:
    """One row a tooth and kind of stress."""
    rows = []
    for name, unit in summary["units"].items():
        for tooth, stress in unit["ligament"].items():
            kinds = {
                "hydrostatic": stress["hydrostatic_kPa"],
                "von Mises": stress["von_mises_kPa"],
                "first principal": stress["principal_kPa"]["first"],
                "third principal": stress["principal_kPa"]["third"],
            }
            for kind, values in kinds.items():
                numbers = {f"{key}_kPa": value for key, value in values.items()}
                rows.append({"unit": name, "tooth": tooth, "stress": kind} | numbers)
    return pd.DataFrame(rows)


def _xyz(name: str, vector: Any, unit: str) -> dict[str, float]:
    return {f"{name}_{axis}_{unit}": float(v) for axis, v in zip("xyz", vector, strict=True)}
