"""What the support of one tooth depends on, and the objects made from it."""

from __future__ import annotations

from fem.material import Elastic
from geometry.anatomy import ToothDimensions, left_twin, tooth_dimensions
from geometry.bone import BoneSpec
from geometry.tooth_mesh import ToothSpec
from workflow.specs import Spec

_SIDES = ("mesial_mm", "distal_mm", "buccal_mm", "lingual_mm")
_BLOCK = (
    "mesial_margin_mm",
    "distal_margin_mm",
    "buccal_plate_mm",
    "lingual_plate_mm",
    "apical_depth_mm",
    "cortical_mm",
)


def support_spec(case: Spec, tooth: int) -> Spec:
    """What the support of a tooth depends on: its shape, its tissues, the mesh; not its place."""
    own, ligament = case["teeth"][str(tooth)], case["ligament"]
    return {
        **shape_spec(case, tooth),
        "crest_depth_mm": own["crest_depth_mm"],
        "crest_by_side_mm": own["crest_by_side_mm"],
        "thickness_mm": ligament["profile_mm"] or ligament["thickness_mm"],
        "layers": ligament["layers"],
        "youngs_modulus_MPa": ligament["youngs_modulus_MPa"],
        "poisson_ratio": ligament["poisson_ratio"],
        "root_size_mm": case["mesh"]["root_size_mm"],
        "tooth_body": _tooth_body(case["tooth_body"]),
        "bone": _bone(case["bone"]),
    }


def shape_spec(case: Spec, tooth: int) -> Spec:
    """What the shape of a tooth depends on."""
    own = case["teeth"][str(tooth)]
    return {
        "tooth": left_twin(tooth),
        "dimensions": own["dimensions"],
        "roots": own["roots"],
    }


def _tooth_body(part: Spec) -> Spec | None:
    """Constants of an elastic tooth; nothing of a rigid one, so that they change no other run."""
    if not part["elastic"]:
        return None
    cap = part["enamel_mm"]
    enamel = {} if cap is None else {"enamel_mm": cap, "enamel": _constants(part["enamel"])}
    return {"dentine": _constants(part["dentine"])} | enamel


def _bone(part: Spec) -> Spec | None:
    if not part["elastic"]:
        return None
    tissues = {name: _constants(part[name]) for name in ("cortical", "cancellous")}
    return tissues | {name: part[name] for name in _BLOCK}


def _constants(row: Spec) -> Spec:
    return {key: row[key] for key in ("youngs_modulus_MPa", "poisson_ratio")}


def elastic(constants: Spec) -> Elastic:
    """Material of a row or of anything else that holds its two constants."""
    return Elastic(constants["youngs_modulus_MPa"], constants["poisson_ratio"])


def materials(spec: Spec) -> dict[str, Elastic]:
    """Material of every elastic region of a support spec."""
    found = {"ligament": elastic(spec)}
    for part in ("tooth_body", "bone"):
        rows = (spec[part] or {}).items()
        found |= {name: elastic(row) for name, row in rows if isinstance(row, dict)}
    if "dentine" in found and "enamel" not in found:
        found["tooth"] = found.pop("dentine")
    return found


def bone_spec(spec: Spec) -> BoneSpec | None:
    """Bone block of a support spec; none where bone is rigid."""
    return spec["bone"] and BoneSpec(**{name: spec["bone"][name] for name in _BLOCK})


def dimensions_of(spec: Spec) -> ToothDimensions:
    """Dimensions of the tooth of a support or shape spec."""
    return tooth_dimensions(spec["tooth"], spec["dimensions"], spec["roots"])


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
