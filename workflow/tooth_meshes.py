"""The mesh stage: a support spec to the mesh of its tooth, and what had to give way for it."""

from __future__ import annotations

from pathlib import Path

from geometry.bone import bone_block
from geometry.hard_tissue import with_enamel
from geometry.mesh import TetMesh
from geometry.tooth_mesh import BuiltTooth, build_tooth
from workflow.records import write_json
from workflow.specs import Spec
from workflow.tooth_specs import bone_spec, tooth_mesh_spec


def build_mesh(spec: Spec) -> tuple[TetMesh, BuiltTooth]:
    """Mesh of tooth and ligament, with enamel and bone where the spec has them.

    Raises
    ------
    ValueError
        If the tooth, its ligament or its bone cannot be meshed well.
    """
    tooth = tooth_mesh_spec(spec)
    built = build_tooth(tooth)
    mesh, block = built.mesh, bone_spec(spec)
    if spec["tooth_body"] and "enamel_mm" in spec["tooth_body"]:
        mesh = with_enamel(mesh, spec["tooth_body"]["enamel_mm"])
    if block is not None:
        mesh = bone_block(mesh, tooth.crest_surface.moved(built.crest_shift_mm), block)
    return mesh, built


def save_mesh(mesh_path: Path, record_path: Path, mesh: TetMesh, built: BuiltTooth) -> None:
    """Write ``mesh.vtu`` and ``mesh.json``."""
    mesh.write_vtu(mesh_path)
    record = {
        "crest_shift_mm": built.crest_shift_mm,
        "root_size_mm": built.root_size_mm,
        "note": built.note,
    }
    write_json(record_path, record)
