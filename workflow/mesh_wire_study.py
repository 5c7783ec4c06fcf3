"""How far the default cut of a wire is off: rod elements, and the swept solid beside the rod.

Wires of the project's cases, straight, looped and along the arch, between immovable units, engaged
by small and by large shares of their span; force at the hook and couple at the tube.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from fem.appliance import Unit
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever
from fem.grid_convergence import GridConvergence, grid_convergence
from fem.section import rectangular_section
from fem.wire_solid import solid_two_point_cantilever
from workflow.case import load_case, resolved
from workflow.mesh_study import REFINEMENTS
from workflow.plan import cantilever_sites, wire_design, wire_spec
from workflow.wire_specs import wire_material

CASES = Path(__file__).resolve().parents[1] / "configs" / "cases"
WIRES = (
    "lower_molar_uprighting",
    "lower_molar_long_wire",
    "lower_molar_helix",
    "lower_molar_u_loop",
    "upper_canine_high",
    "upper_molar_rotation",
)
SHARES = (1e-3, 0.15, 0.3)  # of the span, offset of the passive end
ROD_ORDER = 2.0  # one point of integration a rod element
SOLID_ORDER = 4.0  # energy of quadratic elements
SECTIONS_MM = ((0.635, 0.4318), (0.5588, 0.4064))  # 0.025 × 0.017 and 0.022 × 0.016 inch


def rod_convergence(name: str, share: float) -> tuple[GridConvergence, GridConvergence]:
    """Force and couple of the wire of a case by rod elements."""
    case = resolved(load_case(CASES / f"{name}.yaml"))
    sites, design = cantilever_sites(case), wire_design(case)
    held = (Unit("tube", np.zeros(3), None), Unit("hook", sites.hook, None))
    forces, couples = [], []
    for factor in sorted(REFINEMENTS, reverse=True):
        wire = replace(design, elements=round(factor * design.elements))
        solved = solve_for_offset(Cantilever(sites, wire, held), share * sites.span_mm)
        forces.append(float(np.linalg.norm(solved.force_on_hook_N())))
        couples.append(float(np.linalg.norm(solved.couple_on_tube_Nmm(sites.tube_middle))))
    return _converged(forces, ROD_ORDER), _converged(couples, ROD_ORDER)


def solid_convergence(section_mm: tuple[float, float]) -> GridConvergence:
    """Tip stiffness of the straight wire of the first case as a swept solid."""
    spec = wire_spec(resolved(load_case(CASES / f"{WIRES[0]}.yaml")))
    stiffness = [
        solid_two_point_cantilever(
            rectangular_section(*section_mm),
            wire_material(spec),
            spec["span_mm"],
            spec["base_mm"],
            across=(round(2 * factor), round(2 * factor)),
            along_per_height=0.5 * factor,
        ).stiffness_N_per_mm
        for factor in sorted(REFINEMENTS, reverse=True)
    ]
    return _converged(stiffness, SOLID_ORDER)


def _converged(values: list[float], order: float) -> GridConvergence:
    return grid_convergence(values, [1 / f for f in sorted(REFINEMENTS, reverse=True)], order)


def rod_percent() -> float:
    """Largest bar of force and couple over all wires and offsets, percent."""
    return max(
        percent_of(found)
        for name in WIRES
        for share in SHARES
        for found in rod_convergence(name, share)
    )


def solid_percent() -> float:
    """Largest bar of the swept solid, percent."""
    return max(percent_of(solid_convergence(section)) for section in SECTIONS_MM)


def percent_of(found: GridConvergence) -> float:
    """Bar of the coarsest grid, percent of the value on the finest."""
    return float(100 * found.bounds[-1] / abs(found.values[0]))
