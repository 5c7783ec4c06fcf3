"""The support stage: one tooth's mesh to its 6×6, centre of resistance and stress basis."""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np

from fem.deformable import deformable_support
from fem.resistance import (
    axes_of_resistance,
    centre_of_resistance,
    rotation_parameter_mm2,
    textbook_depth_mm,
)
from fem.support import StressBasis, Support, rigid_body_support
from fem.thin_layer import thin_layer_support
from geometry.mesh import TetMesh, area_vectors
from geometry.quality import mesh_quality
from workflow.records import write_json
from workflow.specs import Spec
from workflow.tissues import elastic, materials

MESIAL, BUCCAL, OCCLUSAL = np.eye(3)


def compute_support(mesh: TetMesh, spec: Spec) -> Support:
    """Support of a tooth about the middle of its root, in tooth axes.

    Its displacements are those of the ligament's vertices, whatever else deforms.
    """
    middle = np.array([0.0, 0.0, -_root_length_mm(mesh) / 2])
    tooth, bone = spec["tooth_body"] is not None, spec["bone"] is not None
    if not tooth and not bone:
        return rigid_body_support(mesh.submesh(["ligament"]), elastic(spec), middle)
    support = deformable_support(
        mesh, materials(spec), middle, elastic_tooth=tooth, elastic_bone=bone
    )
    used = np.unique(mesh.region_tets("ligament"))
    return replace(support, displacements=support.displacements[:, used])


def _thin_layer(mesh: TetMesh, support: Support, spec: Spec) -> dict[str, Any]:
    """6×6 by thin-layer theory, and by how much its diagonal differs, percent."""
    layer = mesh.submesh(["ligament"])
    stiffness = thin_layer_support(layer, elastic(spec), support.point)
    ratio = np.diag(stiffness) / np.diag(support.stiffness)
    return {"stiffness": stiffness, "difference_percent": 100 * (ratio - 1)}


def _root_length_mm(mesh: TetMesh) -> float:
    """From the cervix, z = 0, to the deepest point of the root."""
    return -float(mesh.points[mesh.facets["root"], 2].min())


def _crest_depth_mm(mesh: TetMesh) -> float:
    """Mean depth of the ligament's rim below the cervix, by its area."""
    rim = mesh.facets["rim"]
    areas = np.linalg.norm(area_vectors(mesh.points, rim), axis=1)
    return -float(np.average(mesh.points[rim, 2].mean(axis=1), weights=areas))


def support_record(mesh: TetMesh, support: Support, spec: Spec, meshed: Spec) -> dict[str, Any]:
    """The content of ``support.json``; lengths in mm, in tooth axes (mesial, buccal, occlusal).

    Parameters
    ----------
    meshed
        Content of ``mesh.json``.
    """
    centre = centre_of_resistance(support.stiffness, support.point)
    crest_depth = _crest_depth_mm(mesh)
    embedded = _root_length_mm(mesh) - crest_depth
    below_crest = {
        name: textbook_depth_mm(support.stiffness, support.point, force, OCCLUSAL)
        - support.point[2]
        - crest_depth
        for name, force in (("mesiodistal", MESIAL), ("buccolingual", BUCCAL))
    }
    return {
        "spec": spec,
        "constrained_modulus_MPa": elastic(spec).constrained_modulus_MPa,
        "point_mm": support.point,
        "stiffness": support.stiffness,
        "stiffness_units": "N/mm, N/rad, N·mm/rad; order x y z rx ry rz",
        "asymmetry": support.asymmetry,
        "resistance": {
            "centre_mm": centre.point,
            "coupling_mm": centre.coupling_mm,
            "mean_crest_depth_mm": crest_depth,
            "root_length_mm": _root_length_mm(mesh),
            "depth_below_crest_mm": below_crest,
            "depth_fraction_of_embedded_root": {k: v / embedded for k, v in below_crest.items()},
            "sigma2_mm2": {
                name: rotation_parameter_mm2(support.stiffness, support.point, force, OCCLUSAL)
                for name, force in (("mesiodistal", MESIAL), ("buccolingual", BUCCAL))
            },
        },
        "axes_of_resistance": axes_of_resistance(centre),
        "thin_layer": _thin_layer(mesh, support, spec),
        "volumetric": support.volumetric,
        "meshed": meshed,
        "mesh": [asdict(region) for region in mesh_quality(mesh)],
        "unknowns": support.unknowns,
        "solver": {
            "method": support.solution.method,
            "relative_residual": support.solution.relative_residual,
            "residual_bound": support.solution.residual_bound,
            "seconds": support.solution.seconds,
            "peak_memory_MB": support.solution.peak_memory_MB,
        },
    }


def save_support(folder: Path, mesh: TetMesh, support: Support, spec: Spec, meshed: Spec) -> None:
    """Write ``support.json`` and ``stress_basis.npz``.

    The stress basis is kept in single precision: its seven digits are far inside the
    discretisation error.
    """
    write_json(folder / "support.json", support_record(mesh, support, spec, meshed))
    np.savez(
        folder / "stress_basis.npz",
        values=support.basis.values.astype(np.float32),
        volumes=support.basis.volumes,
        displacements=support.displacements,
    )


def load_stress_basis(path: str | Path) -> tuple[StressBasis, np.ndarray]:
    """Stress basis, and the displacements (6, n, 3) of the ligament's vertices."""
    with np.load(path) as data:
        basis = StressBasis(data["values"].astype(float), data["volumes"])
        return basis, data["displacements"]
