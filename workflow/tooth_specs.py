"""What the support of one tooth depends on, and the objects made from it."""

from __future__ import annotations

from geometry.anatomy import ToothDimensions, left_twin, tooth_dimensions
from workflow.specs import Spec

BLOCK = (
    "mesial_margin_mm",
    "distal_margin_mm",
    "buccal_plate_mm",
    "lingual_plate_mm",
    "apical_depth_mm",
    "cortical_mm",
)


_NOT_OF_SHAPE = ("placed", "crest_plane", "crest_line")


def support_spec(case: Spec, tooth: int) -> Spec:
    """What the support of a tooth depends on: its shape, its tissues, the mesh; not its place."""
    own, ligament = case["teeth"][str(tooth)], case["ligament"]
    scan = own["scan"] or {"crest_plane": None, "crest_line": None}
    return {
        **shape_spec(case, tooth),
        "crest_depth_mm": own["crest_depth_mm"],
        "crest_by_side_mm": own["crest_by_side_mm"],
        "crest_plane": scan["crest_plane"],
        "crest_line": scan["crest_line"],
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
    scan = own["scan"]
    return {
        # A scan is of one side; parametric teeth share their shape with their twin.
        "tooth": left_twin(tooth) if scan is None else tooth,
        "dimensions": own["dimensions"],
        "roots": own["roots"],
        "scan": scan and {key: value for key, value in scan.items() if key not in _NOT_OF_SHAPE},
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
    return tissues | {name: part[name] for name in BLOCK}


def _constants(row: Spec) -> Spec:
    return {key: row[key] for key in ("youngs_modulus_MPa", "poisson_ratio")}


def elastic_regions(spec: Spec) -> Spec:
    """Constants of every region that deforms, by the region's name in the mesh."""
    found: Spec = {"ligament": _constants(spec)}
    for part in ("tooth_body", "bone"):
        rows = (spec[part] or {}).items()
        found |= {name: row for name, row in rows if isinstance(row, dict)}
    if "dentine" in found and "enamel" not in found:
        found["tooth"] = found.pop("dentine")
    return found


def dimensions_of(spec: Spec) -> ToothDimensions:
    """Dimensions of the parametric tooth of a support or shape spec."""
    return tooth_dimensions(spec["tooth"], spec["dimensions"], spec["roots"])
