"""The study of supports: all teeth at default settings, and what simpler assumptions cost.

Every table is one data frame with units in its column names; figures are drawn from them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from fem.bilinear import BilinearLaw
from fem.elastic_model import HARD_TISSUE
from fem.material import Elastic
from fem.nonlinear_support import BilinearLayer, unit_at_rest
from fem.resistance import rotation_centre_depth_mm, rotation_parameter_mm2, textbook_depth_mm
from fem.rigid import shift_stiffness
from fem.rigidity_study import rigidity_study
from fem.support import rigid_body_support
from fem.thin_layer import thin_layer_support
from geometry.anatomy import ToothDimensions, tooth_dimensions
from geometry.bone import bone_block
from geometry.mesh import TetMesh, area_vectors
from geometry.surface import crest_plane, split_surface
from geometry.tooth import tooth_surface
from geometry.tooth_mesh import ToothSpec, build_tooth, build_tooth_mesh
from workflow.catalogue import load_catalogue
from workflow.records import read_json
from workflow.specs import Spec
from workflow.tooth_specs import dimensions_of

Array = NDArray[np.float64]

MESIAL, BUCCAL, OCCLUSAL = np.eye(3)
DIRECTIONS = {"mesiodistal": MESIAL, "buccolingual": BUCCAL}


def teeth_table(
    supports: Mapping[int, str | Path], meshes: Mapping[int, str | Path]
) -> pd.DataFrame:
    """One row a tooth: areas beside the published ones, mesh, 6×6 and centre of resistance.

    Parameters
    ----------
    supports, meshes
        ``support.json`` and ``mesh.vtu`` of each tooth, by number.
    """
    rows = []
    for tooth, path in supports.items():
        record, mesh = read_json(path), TetMesh.read_vtu(Path(meshes[tooth]))
        dimensions = dimensions_of(record["spec"])
        rows.append(
            {
                "tooth": tooth,
                "name": dimensions.name,
                "roots": dimensions.root_count,
                **_areas(dimensions),
                **_ligament_volume(mesh, record["spec"]["thickness_mm"]),
                **_quality(record),
                **_resistance(record),
            }
        )
    return pd.DataFrame(rows)


def _areas(dimensions: ToothDimensions) -> dict[str, Any]:
    """Area of the whole root and its difference from each source."""
    surface = tooth_surface(dimensions)
    area = split_surface(surface, crest_plane(0.0)).area_mm2("root")
    row: dict[str, Any] = {"root_area_mm2": area}
    for source, key in (("Jepsen", "jepsen_1963"), ("Mowry", "mowry_2002")):
        published = [a for name, a in dimensions.root_area_mm2 if name.startswith(source)]
        value = published[0] if published else np.nan
        row |= {f"{key}_mm2": value, f"{key}_difference_percent": 100 * (area / value - 1)}
    return row


def _ligament_volume(mesh: TetMesh, thickness_mm: float) -> dict[str, float]:
    """Volume of the ligament beside that of an offset layer, thickness by Simpson's mean area."""
    inner, outer = (mesh.points[mesh.facets[name]] for name in ("root", "socket"))
    levels = (inner, 0.5 * (inner + outer), outer)
    areas = [
        float(np.linalg.norm(area_vectors(p.reshape(-1, 3), _own_corners(len(p))), axis=1).sum())
        for p in levels
    ]
    return {
        "ligament_mm3": mesh.region_volume_mm3("ligament"),
        "area_times_thickness_mm3": thickness_mm * (areas[0] + 4 * areas[1] + areas[2]) / 6,
    }


def _own_corners(count: int) -> NDArray[np.int64]:
    return np.arange(3 * count).reshape(-1, 3)


def _quality(record: Spec) -> dict[str, Any]:
    row: dict[str, Any] = {}
    for region in record["mesh"]:
        name = region["region"]
        row |= {
            f"{name}_elements": region["elements"],
            f"{name}_gamma_min": region["gamma_min"],
            f"{name}_gamma_p01": region["gamma_p01"],
            f"{name}_gamma_median": region["gamma_median"],
        }
    return row | {"unknowns": record["unknowns"], "gave_way": record["meshed"]["note"]}


def _resistance(record: Spec) -> dict[str, float]:
    stiffness, found = np.array(record["stiffness"]), record["resistance"]
    fractions = found["depth_fraction_of_embedded_root"]
    names = ("mesial_N_per_mm", "buccal_N_per_mm", "occlusal_N_per_mm")
    return {
        **dict(zip(names, np.diag(stiffness)[:3].tolist(), strict=True)),
        "coupling_mm": found["coupling_mm"],
        **{f"centre_{name}": fractions[name] for name in DIRECTIONS},
    }


def thin_layer_table(
    tooth: int, poisson_ratios: Sequence[float], thicknesses_mm: Sequence[float]
) -> pd.DataFrame:
    """Thin-layer theory over finite elements for one tooth; Young's modulus cancels.

    Returns
    -------
    DataFrame
        One row a thickness and Poisson's ratio: percent by which thin-layer theory is stiffer in
        translation (all rotation prevented) and in free tipping, and its shift of the textbook
        centre towards the apex, percent of the embedded root.
    """
    dimensions, rows = tooth_dimensions(tooth), []
    for thickness in thicknesses_mm:
        spec = ToothSpec(dimensions, ligament_thickness_mm=thickness)
        layer = build_tooth_mesh(spec).submesh(["ligament"])
        crest = np.array([0.0, 0.0, -spec.crest_depth_mm])
        for nu in poisson_ratios:
            material = Elastic(1.0, nu)
            solid = rigid_body_support(layer, material, crest).stiffness
            thin = thin_layer_support(layer, material, crest)
            embedded = dimensions.root_length_mm - spec.crest_depth_mm
            rows.append(
                {"tooth": tooth, "poisson_ratio": nu, "thickness_mm": thickness}
                | _differences(thin, solid, crest, embedded)
            )
    return pd.DataFrame(rows)


def _differences(thin: Array, solid: Array, crest: Array, embedded: float) -> dict[str, float]:
    soft, hard = np.linalg.inv(solid), np.linalg.inv(thin)
    depths = [textbook_depth_mm(K, crest, BUCCAL, OCCLUSAL) for K in (thin, solid)]
    return {
        "mesial_percent": 100 * (thin[0, 0] / solid[0, 0] - 1),
        "buccal_percent": 100 * (thin[1, 1] / solid[1, 1] - 1),
        "occlusal_percent": 100 * (thin[2, 2] / solid[2, 2] - 1),
        "buccal_tipping_percent": 100 * (soft[3, 3] / hard[3, 3] - 1),
        "centre_shift_percent": 100 * (depths[0] - depths[1]) / embedded,
    }


def rigidity_table(
    tooth: int, poisson_ratio: float, youngs_moduli_MPa: Sequence[float]
) -> pd.DataFrame:
    """What a rigid tooth and a rigid bone cost, over ligament moduli.

    Returns
    -------
    DataFrame
        One row a modulus and combination; ``…_percent`` is the difference from all elastic.
    """
    spec = ToothSpec(tooth_dimensions(tooth), loose_rim=False)
    built = build_tooth(spec)
    mesh = bone_block(built.mesh, spec.crest_surface.moved(built.crest_shift_mm))
    crest = np.array([0.0, 0.0, -spec.crest_depth_mm])
    study = rigidity_study(mesh, HARD_TISSUE, poisson_ratio, crest, youngs_moduli_MPa)
    rows = []
    for row in study.rows:
        values = dict(vars(row))
        differences = values.pop("difference_percent")
        percent = {f"{name}_percent": value for name, value in differences.items()}
        rows.append({"tooth": tooth} | values | percent)
    return pd.DataFrame(rows)


def mobility_table(tooth: int, force_N: float, measured_um: tuple[float, float]) -> pd.DataFrame:
    """Movement of the middle of a crown under a buccal force there, by every ligament law.

    Rigid tooth and bone. Where on the crown the mouth's measurement was made was not seen.
    """
    dimensions = tooth_dimensions(tooth)
    place = np.array([0.0, 0.0, dimensions.crown_length_mm / 2])
    load = np.concatenate([force_N * BUCCAL, np.zeros(3)])
    layer = build_tooth_mesh(ToothSpec(dimensions)).submesh(["ligament"])
    low, high = measured_um
    rows = [
        {"law": name, "kind": kind, "moved_um": moved, "largest_strain": strain}
        for name, kind, moved, strain in [
            *_linear_mobility(layer, place, load),
            *_bilinear_mobility(layer, place, load),
        ]
    ]
    table = pd.DataFrame(rows)
    table["measured_low_um"], table["measured_high_um"] = low, high
    table["inside"] = (table["moved_um"] >= low) & (table["moved_um"] <= high)
    return table


def _linear_mobility(
    layer: TetMesh, place: Array, load: Array
) -> Iterator[tuple[str, str, float, float]]:
    for name, row in load_catalogue().ligaments.items():
        material = Elastic(row.youngs_modulus_MPa, row.poisson_ratio)
        support = rigid_body_support(layer, material, place)
        yield name, "linear", 1e3 * float(np.linalg.solve(support.stiffness, load)[1]), np.nan


def _bilinear_mobility(
    layer: TetMesh, place: Array, load: Array
) -> Iterator[tuple[str, str, float, float]]:
    for name, row in load_catalogue().bilinear_ligaments.items():
        law = BilinearLaw(row.initial_MPa, row.stiff_MPa, row.knee_strain, row.poisson_ratio)
        rest = unit_at_rest([BilinearLayer(layer, law, place)], [np.eye(6)], load)
        yield name, "bilinear", 1e3 * float(rest.motion[1]), rest.teeth[0].largest_strain


def rotation_table(
    supports: Mapping[int, str | Path], moment_to_force_mm: Iterable[float]
) -> pd.DataFrame:
    """Centre of rotation against the moment-to-force ratio at mid-crown, and a·b beside σ²."""
    ratio = np.array(list(moment_to_force_mm), dtype=float)
    tables = []
    for tooth, path in supports.items():
        record = read_json(path)
        point, stiffness = np.array(record["point_mm"]), np.array(record["stiffness"])
        bracket = np.array([0.0, 0.0, dimensions_of(record["spec"]).crown_length_mm / 2])
        at_bracket = shift_stiffness(stiffness, point, bracket)
        crest = bracket[2] + record["resistance"]["mean_crest_depth_mm"]
        embedded = record["resistance"]["root_length_mm"] - (crest - bracket[2])
        for direction, force in DIRECTIONS.items():
            centre = textbook_depth_mm(at_bracket, bracket, force, OCCLUSAL)
            depth = rotation_centre_depth_mm(at_bracket, bracket, force, OCCLUSAL, ratio)
            tables.append(
                pd.DataFrame(
                    {
                        "tooth": tooth,
                        "direction": direction,
                        "moment_to_force_mm": ratio,
                        "centre_of_rotation_fraction": (depth - crest) / embedded,
                        "centre_of_resistance_fraction": (centre - crest) / embedded,
                        "a_mm": centre - ratio,
                        "b_mm": depth - centre,
                        "a_times_b_mm2": (centre - ratio) * (depth - centre),
                        "sigma2_mm2": rotation_parameter_mm2(at_bracket, bracket, force, OCCLUSAL),
                    }
                )
            )
    return pd.concat(tables, ignore_index=True)
