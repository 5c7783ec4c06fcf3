"""Teeth in their bone for the benchmarks, and a process of its own for each measurement."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from fem.deformable import LinearSystem, linear_system
from fem.elastic_model import (
    HARD_TISSUE,
    LIGAMENT,
    ElasticModel,
    elastic_model,
    ligament_projection,
    stiffness_parts,
)
from fem.material import Elastic
from geometry.anatomy import tooth_dimensions
from geometry.bone import BoneSpec, bone_block
from geometry.crest import crest_plane
from geometry.mesh import TetMesh
from geometry.scan.frame import scan_frame
from geometry.scan.mend import read_scan
from geometry.tooth_mesh import ToothSpec, build_from_surface, build_tooth

CREST_MM = 1.5
POINT = np.array([0.0, 0.0, -CREST_MM])
SOFT = Elastic(0.68, 0.49)


def tooth_in_bone(
    tooth: int,
    root_size_mm: float,
    *,
    thickness_mm: float = 0.2,
    layers: int = 2,
    far_size_mm: float | None = None,
) -> TetMesh:
    """Tooth, ligament and bone; sizes of hard tissue in proportion to the root's unless given."""
    spec = ToothSpec(
        tooth_dimensions(tooth),
        crest_depth_mm=CREST_MM,
        ligament_thickness_mm=thickness_mm,
        ligament_layers=layers,
        root_size_mm=root_size_mm,
        crown_size_mm=1.8 * root_size_mm,
        loose_rim=False,
    )
    block = BoneSpec(far_size_mm=far_size_mm or 2.7 * root_size_mm)
    return bone_block(build_tooth(spec).mesh, spec.crest_surface, block)


def scan_in_bone(path: Path, tooth: int, root_size_mm: float) -> TetMesh:
    """The same of a scanned tooth."""
    scan = read_scan(path)
    surface = scan_frame(scan, tooth).local_surface(scan.surface)
    crest = crest_plane(CREST_MM)
    built = build_from_surface(surface, crest, root_size_mm=root_size_mm, loose_rim=False)
    crest = crest_plane(CREST_MM - built.crest_shift_mm)
    return bone_block(built.mesh, crest, BoneSpec(far_size_mm=2.7 * root_size_mm))


def whole_model(mesh: TetMesh, *, elastic: bool = True) -> ElasticModel:
    """Tooth and bone both elastic, or both rigid."""
    return elastic_model(mesh, POINT, elastic_tooth=elastic, elastic_bone=elastic)


def assembled(
    model: ElasticModel, ligament: Elastic = SOFT, volumetric: str = "auto"
) -> LinearSystem:
    """Linear system of a model with the usual hard tissue."""
    materials = {**HARD_TISSUE, LIGAMENT: ligament}
    projection = ligament_projection(model, materials, volumetric)
    parts = stiffness_parts(model, materials, projection)
    return linear_system(model, parts.matrix(ligament))


def in_own_process(work: Callable[..., Any], *arguments: Any) -> Any:
    """Result of some work whose memory and loading of libraries are to be its own."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(work, arguments)
