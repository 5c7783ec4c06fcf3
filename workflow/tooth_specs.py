"""What the support of one tooth depends on, and the objects made from it."""

from __future__ import annotations

from geometry.anatomy import left_twin, tooth_dimensions
from geometry.tooth_mesh import ToothSpec
from workflow.specs import Spec


def support_spec(case: Spec, tooth: int) -> Spec:
    """What the support of a tooth depends on: its shape, its ligament, the mesh; not its place."""
    ligament = case["ligament"]
    return {
        "tooth": left_twin(tooth),
        "crest_depth_mm": case["bone"]["crest_depth_mm"],
        "thickness_mm": ligament["thickness_mm"],
        "layers": ligament["layers"],
        "youngs_modulus_MPa": ligament["youngs_modulus_MPa"],
        "poisson_ratio": ligament["poisson_ratio"],
        "root_size_mm": case["mesh"]["root_size_mm"],
    }


def tooth_mesh_spec(spec: Spec) -> ToothSpec:
    """Tooth mesh of a support spec."""
    return ToothSpec(
        dimensions=tooth_dimensions(spec["tooth"]),
        crest_depth_mm=spec["crest_depth_mm"],
        ligament_thickness_mm=spec["thickness_mm"],
        ligament_layers=spec["layers"],
        root_size_mm=spec["root_size_mm"],
    )
