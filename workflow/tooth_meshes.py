"""The mesh stage: a support spec to the mesh of its tooth, and what had to give way for it."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from geometry.bone import BoneSpec, bone_block
from geometry.crest import Crest
from geometry.hard_tissue import with_enamel
from geometry.mesh import TetMesh
from geometry.tooth_mesh import BuiltTooth, ToothSpec, build_from_surface, build_tooth
from workflow.records import write_json
from workflow.scan_files import load_scan
from workflow.specs import Spec
from workflow.tooth_specs import BLOCK, dimensions_of, elastic_regions

_SIDES = ("mesial_mm", "distal_mm", "buccal_mm", "lingual_mm")


def build_mesh(spec: Spec) -> tuple[TetMesh, BuiltTooth]:
    """Mesh of tooth and ligament, with enamel and bone where the spec has them.

    Raises
    ------
    ValueError
        If the tooth, its ligament or its bone cannot be meshed well.
    """
    built, crest = _built(spec)
    mesh, block = built.mesh, bone_spec(spec)
    if spec["tooth_body"] and "enamel_mm" in spec["tooth_body"]:
        mesh = with_enamel(mesh, spec["tooth_body"]["enamel_mm"])
    if block is not None:
        mesh = bone_block(mesh, crest.moved(built.crest_shift_mm), block)
    return mesh, built


def _built(spec: Spec) -> tuple[BuiltTooth, Crest]:
    """Tooth and ligament, drawn or scanned, and the crest asked for."""
    if spec["scan"] is None:
        drawn = tooth_mesh_spec(spec)
        return build_tooth(drawn), drawn.crest_surface
    scan = load_scan(spec)
    crest = scan.crest(spec)
    built = build_from_surface(
        scan.surface,
        crest,
        thickness_of(spec),
        spec["layers"],
        spec["root_size_mm"],
        loose_rim=spec["bone"] is None,
        name=f"scanned tooth {spec['tooth']}",
    )
    return built, crest


def bone_spec(spec: Spec) -> BoneSpec | None:
    """Bone block of a support spec; none where bone is rigid."""
    return spec["bone"] and BoneSpec(**{name: spec["bone"][name] for name in BLOCK})


def thickness_of(spec: Spec) -> float | tuple[float, float, float]:
    """Thickness of the ligament, one value or three, mm."""
    value = spec["thickness_mm"]
    return tuple(value) if isinstance(value, list) else value


def tooth_mesh_spec(spec: Spec) -> ToothSpec:
    """Mesh of the parametric tooth of a support spec."""
    sides = spec["crest_by_side_mm"]
    return ToothSpec(
        dimensions=dimensions_of(spec),
        crest_depth_mm=0.0 if spec["crest_depth_mm"] is None else spec["crest_depth_mm"],
        crest_sides_mm=None if sides is None else tuple(sides[s] for s in _SIDES),
        ligament_thickness_mm=thickness_of(spec),
        ligament_layers=spec["layers"],
        root_size_mm=spec["root_size_mm"],
        loose_rim=spec["bone"] is None,  # a block of bone begins at the crest itself
    )


def quadratic_nodes(mesh: TetMesh, spec: Spec) -> int:
    """Vertices and edges of the regions that deform: what the support's cost goes by."""
    part = mesh.submesh(name for name in mesh.region_names if name in elastic_regions(spec))
    return len(part.points) + part.edge_count()


def save_mesh(
    mesh_path: Path, record_path: Path, spec: Spec, mesh: TetMesh, built: BuiltTooth
) -> None:
    """Write ``mesh.vtu`` and ``mesh.json``."""
    mesh.write_vtu(mesh_path)
    scan = None if spec["scan"] is None else load_scan(spec)
    record = {
        "scan": scan
        and {
            "file": spec["scan"]["file"],
            "crown_length_mm": scan.frame.crown_length_mm,
            "root_length_mm": scan.frame.root_length_mm,
            "long_axis_by": scan.frame.long_axis_by,
            "buccal_by": scan.frame.buccal_by,
            "cervix_by": scan.frame.cervix_by,
            "fidelity": asdict(scan.frame.fidelity),
            "notes": scan.notes,
        },
        "crest_shift_mm": built.crest_shift_mm,
        "root_size_mm": built.root_size_mm,
        "note": built.note,
        "quadratic_nodes": quadratic_nodes(mesh, spec),
    }
    write_json(record_path, record)
