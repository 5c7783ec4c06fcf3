"""The response stage: how units start to move and what their ligaments feel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import meshio
import numpy as np
from numpy.typing import NDArray

from fem.material import Elastic
from fem.movement import movement
from fem.resistance import centre_of_resistance
from fem.rigid import shift_motion
from fem.stress import hydrostatic, principal, von_mises
from fem.support import StressBasis
from fem.unit import ToothSupport, UnitSupport, motion_in_patient, tooth_motion
from geometry.clearance import inside
from geometry.mesh import TetMesh, TriSurface
from workflow.case_units import case_units
from workflow.scanned import measures_of
from workflow.specs import Spec
from workflow.supports import load_stress_basis
from workflow.tissues import elastic
from workflow.tooth_specs import shape_spec
from workflow.unit_records import ligament_record, movement_record
from workflow.units import KPA_PER_MPA

Array = NDArray[np.float64]

# The order in which VTK keeps and labels a symmetric tensor: XX YY ZZ XY YZ XZ.
_VTK_COMPONENTS = ((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (0, 2))


@dataclass(frozen=True)
class LigamentField:
    """The ligament of one tooth under the case's load.

    Attributes
    ----------
    stress
        Tensors at the quadrature points in tooth axes, (elements, points, 3, 3), MPa.
    volumes
        Volume of each point, mm³.
    displacements
        Of the ligament's vertices in tooth axes, (n, 3), mm.
    """

    stress: Array
    volumes: Array
    displacements: Array


def ligament_field(basis: StressBasis, displacements: Array, motion: Array) -> LigamentField:
    """Combine the six unit motions of a tooth; `motion` is about the support's point and axes."""
    moved = np.tensordot(motion, displacements, axes=1)
    return LigamentField(basis.combine(motion), basis.volumes, moved)


def ligament_field_of(
    unit: UnitSupport, motion: Array, tooth: ToothSupport, basis_file: str
) -> LigamentField:
    """Field of one tooth from its unit's motion at the centre of resistance."""
    basis, displacements = load_stress_basis(basis_file)
    return ligament_field(basis, displacements, tooth_motion(unit, motion, tooth))


def peak_strain(field: LigamentField, material: Elastic) -> float:
    """Largest principal strain in size at any quadrature point, ``ε = ((1+ν)σ − ν tr σ 1)/E``."""
    nu = material.poisson_ratio
    trace = np.trace(field.stress, axis1=-2, axis2=-1)[..., None, None] * np.eye(3)
    strain = ((1 + nu) * field.stress - nu * trace) / material.youngs_modulus_MPa
    return float(np.abs(np.linalg.eigvalsh(strain)).max())


def unit_record(case: Spec, name: str, unit: UnitSupport, solved: Spec) -> dict[str, Any]:
    """One entry of ``units`` in the summary, without the ligament."""
    record = solved["units"][name]
    wrench = np.array(record["wrench_at_centre"])
    centre = np.array(record["centre_mm"])
    contact = _contact_kind(case, name)
    place = _place(case, name, solved)
    moved = movement(np.array(record["motion_at_centre"]), centre, centre, unit.axes)
    force, moment = wrench[:3], wrench[3:]
    motion = np.array(record["motion_at_centre"])
    return {
        "teeth": [tooth.number for tooth in unit.teeth],
        "role": case["units"][name]["role"],
        "contact": contact,
        "force_N": force,
        "moment_at_attachment_Nmm": moment + np.cross(centre - place, force),
        "resistance_centre_mm": centre,
        "moment_at_resistance_Nmm": moment,
        "moment_to_force_mm": np.linalg.norm(moment) / np.linalg.norm(force),
        **movement_record(moved),
        "movement_by_tooth": {
            str(tooth.number): _tooth_movement(case, unit, motion, tooth) for tooth in unit.teeth
        },
    }


def _contact_kind(case: Spec, name: str) -> str:
    one = case["one_point"]
    hook = "bracket" if one["contact"] == "bracket" else "one-point"
    kinds = {case["two_point"]["unit"]: "two-point", one["unit"]: hook}
    further = {held["unit"]: held for held in case["further"]}
    if name in further:
        return "bracket" if further[name]["contact"] == "bracket" else "further"
    return kinds[name]


def _place(case: Spec, name: str, solved: Spec) -> Array:
    """Where a unit's attachment is, about which its moment there is stated."""
    own = np.array(solved["units"][name]["attachment_mm"])
    if case["mirror_image"] and name == case["one_point"]["unit"]:
        return own * [0.0, 1.0, 1.0]  # between the hooks of the two wires
    return own


def _tooth_movement(
    case: Spec, unit: UnitSupport, motion: Array, tooth: ToothSupport
) -> dict[str, Any]:
    """Movement of a tooth at its own centre of resistance and at the middle of its crown."""
    own = motion_in_patient(unit, motion, tooth)
    local_centre = centre_of_resistance(tooth.stiffness, tooth.point).point
    centre = tooth.frame.to_patient(local_centre)
    height = measures_of(shape_spec(case, tooth.number)).crown_length_mm / 2
    crown = shift_motion(own, tooth.place, tooth.frame.to_patient(np.array([0.0, 0.0, height])))
    mesial, buccal, extrusion = 1e3 * (crown[:3] @ tooth.frame.axes)
    return {
        "resistance_centre_mm": centre,
        **movement_record(movement(own, tooth.place, centre, tooth.frame.axes)),
        "mid_crown": {"extrusion_um": extrusion, "mesial_um": mesial, "buccal_um": buccal},
    }


def tooth_outline(mesh: TetMesh) -> TriSurface:
    """Closed surface of crown and root."""
    triangles = np.concatenate([mesh.facets["crown"], mesh.facets["root"]])
    return TriSurface.one_patch(mesh.points, triangles, "tooth")


def write_ligament_vtu(
    path: Path, mesh: TetMesh, tooth: ToothSupport, field: LigamentField
) -> None:
    """Ligament in the patient frame, with cell means of the stress at quadrature points."""
    layer = mesh.submesh(["ligament"])
    weights = field.volumes / field.volumes.sum(axis=1, keepdims=True)
    axes = tooth.frame.axes

    def cell_mean(values: Array) -> Array:
        return KPA_PER_MPA * np.einsum("ep,ep->e", weights, values)

    in_patient = axes @ field.stress @ axes.T
    data = {
        "hydrostatic_kPa": cell_mean(hydrostatic(field.stress)),
        "von_mises_kPa": cell_mean(von_mises(field.stress)),
        "first_principal_kPa": cell_mean(principal(field.stress)[..., 0]),
        "third_principal_kPa": cell_mean(principal(field.stress)[..., 2]),
        "stress_kPa": np.stack(
            [cell_mean(in_patient[..., i, j]) for i, j in _VTK_COMPONENTS], axis=1
        ),
    }
    tets = layer.tets[:, [0, 2, 1, 3]] if tooth.frame.mirrored else layer.tets
    meshio.Mesh(
        tooth.frame.to_patient(layer.points),
        [("tetra", tets)],
        point_data={"displacement_um": 1e3 * field.displacements @ axes.T},
        cell_data={name: [values] for name, values in data.items()},
    ).write(path, file_format="vtu")


def respond(
    case: Spec,
    solved: Spec,
    support_files: Mapping[int, str],
    basis_files: Mapping[int, str],
    mesh_files: Mapping[int, str],
    field_folder: Path,
) -> dict[str, Any]:
    """Response of every unit; writes the ligament field of every tooth.

    Parameters
    ----------
    case, solved
        The resolved case and the content of ``equilibrium.json``.
    support_files, basis_files, mesh_files
        Of each tooth, by number.
    field_folder
        Where each tooth's ligament field goes, as ``ligament_<tooth>.vtu``.
    """
    field_folder.mkdir(parents=True, exist_ok=True)
    units, material = case_units(case, support_files), elastic(case["ligament"])
    record: dict[str, Any] = {"units": {}, "wire_inside_teeth": []}
    wire = np.array(solved["wire"]["engaged_mm"])
    for name in units.in_order:
        unit = units.supports[name]
        motion = np.array(solved["units"][name]["motion_at_centre"])
        entry = unit_record(case, name, unit, solved)
        entry["ligament"], entry["peak_strain"] = {}, {}
        for tooth in unit.teeth:
            field = ligament_field_of(unit, motion, tooth, basis_files[tooth.number])
            mesh = TetMesh.read_vtu(Path(mesh_files[tooth.number]))
            path = field_folder / f"ligament_{tooth.number}.vtu"
            write_ligament_vtu(path, mesh, tooth, field)
            if inside(tooth.frame.to_tooth(wire), tooth_outline(mesh)).any():
                record["wire_inside_teeth"].append(tooth.number)
            entry["ligament"][str(tooth.number)] = ligament_record(field.stress, field.volumes)
            entry["peak_strain"][str(tooth.number)] = peak_strain(field, material)
        record["units"][name] = entry
    return record
