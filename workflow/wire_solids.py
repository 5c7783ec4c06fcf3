"""The same straight wire as a linear 3D solid."""

from __future__ import annotations

from typing import Any

from fem.wire_solid import solid_two_point_cantilever
from workflow.specs import Spec
from workflow.wire_specs import wire_material, wire_section


def solid_record(spec: Spec) -> dict[str, Any]:
    """Linear solid: stiffness and deflection line; a round wire is not swept and says so."""
    if spec["shape"] != "rectangular" or spec["corner_radius_mm"] > 0:
        shape = "round" if spec["shape"] == "round" else "rounded"
        return {"spec": spec, "stiffness_N_per_mm": None, "reason": f"{shape} section: not swept"}
    solid = solid_two_point_cantilever(
        wire_section(spec), wire_material(spec), spec["span_mm"], spec["base_mm"]
    )
    return {
        "spec": spec,
        "stiffness_N_per_mm": solid.stiffness_N_per_mm,
        "positions_mm": solid.positions_mm,
        "deflection_mm_per_N": solid.deflection_mm_per_N,
        "unknowns": solid.unknowns,
        "energy_imbalance": solid.energy_imbalance,
    }
