"""The equilibrium stage: a resolved case and its supports to the engaged appliance."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from fem.appliance import Unit
from fem.cantilever import (
    ONE_POINT,
    TWO_POINT,
    Cantilever,
    SolvedCantilever,
    solve_for_couple,
    solve_for_offset,
)
from fem.closed_form import TwoPointCantilever
from fem.rod import section_resultants
from workflow.case_units import CaseUnits
from workflow.plan import cantilever_sites, wire_design
from workflow.specs import Spec


def case_cantilever(case: Spec, units: CaseUnits) -> Cantilever:
    """The cantilever of a case on its units."""
    bodies = tuple(
        Unit(name, units.supports[name].centre.point, units.supports[name].centre.stiffness)
        for name in units.in_order
    )
    return Cantilever(cantilever_sites(case), wire_design(case), (bodies[0], bodies[1]))


def engage(case: Spec, units: CaseUnits) -> SolvedCantilever:
    """Solve the appliance of a case for its offset, or for the offset of its wanted couple."""
    cantilever = case_cantilever(case, units)
    activation = case["wire"]["activation"]
    if activation["offset_mm"] is not None:
        return solve_for_offset(cantilever, activation["offset_mm"])
    return solve_for_couple(cantilever, activation["couple_Nmm"])


def equilibrium_record(case: Spec, units: CaseUnits, solved: SolvedCantilever) -> dict[str, Any]:
    """The content of ``equilibrium.json``: wire, contacts, and load and motion of each unit."""
    sites, equilibrium = cantilever_sites(case), solved.equilibrium
    indices = {units.two_point: TWO_POINT, units.one_point: ONE_POINT}
    return {
        "offset_mm": solved.offset_mm,
        "span_mm": sites.span_mm,
        "bend_deg": np.degrees(solved.path.bend.angle_rad),
        "tube": {
            "mouths_mm": sites.mouths,
            "middle_mm": sites.tube_middle,
            "axes": sites.tube_axes,
        },
        "hook": {"point_mm": sites.hook, "bar": sites.bar, "touch_mm": solved.touch_mm},
        "activation_mm": solved.offset_mm * sites.activation,
        "wire": _wire_record(case, solved),
        "contacts": [
            {"unit": units.in_order[load.unit], "point_mm": load.point, "wrench": load.wrench}
            for load in equilibrium.loads
        ],
        "units": {
            name: {
                "centre_mm": units.supports[name].centre.point,
                "wrench_at_centre": equilibrium.wrench_on(index, units.supports[name].centre.point),
                "motion_at_centre": equilibrium.motions[index],
            }
            for name, index in indices.items()
        },
        "residual_N": equilibrium.residual_N,
        "iterations": equilibrium.iterations,
    }


def _wire_record(case: Spec, solved: SolvedCantilever) -> dict[str, Any]:
    design, sites = wire_design(case), cantilever_sites(case)
    state = solved.equilibrium.state
    resultants = section_resultants(solved.appliance.rod, state)
    stress = design.section.peak_stress_MPa(resultants)
    yield_strength = case["wire"]["alloy"]["yield_strength_MPa"]
    linear = TwoPointCantilever(design.section, design.material, sites.span_mm, sites.base_mm)
    linear_force = linear.stiffness_N_per_mm * solved.offset_mm
    return {
        "arc_mm": np.concatenate([[0.0], np.cumsum(solved.path.lengths_mm)]),
        "passive_mm": solved.path.points,
        "engaged_mm": state.points,
        "element_stress_MPa": stress.max(axis=1),
        "peak_stress_MPa": stress.max(),
        "yield_ratio": stress.max() / yield_strength,
        "linear_theory": {
            "force_N": linear_force,
            "couple_Nmm": linear.couple_Nmm(linear_force),
        },
    }


def wire_table(record: dict[str, Any]) -> pd.DataFrame:
    """Nodes of the wire, passive and engaged, in the patient frame."""
    wire = record["wire"]
    columns: dict[str, Any] = {"arc_mm": wire["arc_mm"]}
    for name in ("passive", "engaged"):
        points = np.asarray(wire[f"{name}_mm"])
        columns |= {f"{name}_{axis}_mm": points[:, i] for i, axis in enumerate("xyz")}
    return pd.DataFrame(columns)
