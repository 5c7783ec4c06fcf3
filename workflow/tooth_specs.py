"""What the support of one tooth depends on, and the objects made from it."""

from __future__ import annotations

from geometry.anatomy import ToothDimensions, left_twin, tooth_dimensions
from geometry.arch import ToothPlacement
from geometry.measures import ToothMeasures
from geometry.tooth_mesh import ToothSpec
from workflow.specs import Spec

_PLACEMENT = tuple(ToothPlacement.__dataclass_fields__)
_SIDES = ("mesial_mm", "distal_mm", "buccal_mm", "lingual_mm")


def support_spec(case: Spec, tooth: int) -> Spec:
    """What the support of a tooth depends on: its shape, its tissues, the mesh; not its place."""
    own, ligament = case["teeth"][str(tooth)], case["ligament"]
    return {
        **_shape(case, tooth),
        "crest_depth_mm": own["crest_depth_mm"],
        "crest_by_side_mm": own["crest_by_side_mm"],
        "thickness_mm": ligament["profile_mm"] or ligament["thickness_mm"],
        "layers": ligament["layers"],
        "youngs_modulus_MPa": ligament["youngs_modulus_MPa"],
        "poisson_ratio": ligament["poisson_ratio"],
        "root_size_mm": case["mesh"]["root_size_mm"],
    }


def _shape(case: Spec, tooth: int) -> Spec:
    own = case["teeth"][str(tooth)]
    return {
        "tooth": left_twin(tooth),
        "dimensions": own["dimensions"],
        "roots": own["roots"],
    }


def dimensions_of(spec: Spec) -> ToothDimensions:
    """Dimensions of the tooth of a support spec."""
    return tooth_dimensions(spec["tooth"], spec["dimensions"], spec["roots"])


def measures_of(case: Spec, tooth: int) -> ToothMeasures:
    """Measures of a tooth of a case."""
    return ToothMeasures.of(dimensions_of(_shape(case, tooth)))


def placement_of(case: Spec, tooth: int) -> ToothPlacement:
    """How a tooth of a case departs from its regular place."""
    own = case["teeth"][str(tooth)]
    return ToothPlacement(**{key: own[key] for key in _PLACEMENT})


def mean_crest_depth_mm(spec: Spec) -> float:
    """Depth of the crest below the cervix, the mean of four sides where they differ."""
    sides = spec["crest_by_side_mm"]
    depth = spec["crest_depth_mm"] if sides is None else sum(sides[s] for s in _SIDES) / 4
    return float(depth)


def tooth_mesh_spec(spec: Spec) -> ToothSpec:
    """Tooth mesh of a support spec."""
    sides, thickness = spec["crest_by_side_mm"], spec["thickness_mm"]
    return ToothSpec(
        dimensions=dimensions_of(spec),
        crest_depth_mm=mean_crest_depth_mm(spec),
        crest_sides_mm=None if sides is None else tuple(sides[s] for s in _SIDES),
        ligament_thickness_mm=tuple(thickness) if isinstance(thickness, list) else thickness,
        ligament_layers=spec["layers"],
        root_size_mm=spec["root_size_mm"],
    )
