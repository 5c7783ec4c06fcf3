"""Simple models of a tooth's support: the parabola's centre of resistance, and normal springs.

A flat root of parabolic outline on springs that only push square to it has its centre of
resistance at 2/5 of the embedded root below the crest, and there ``a·b = σ² = (12/175) h²``
(h: crest to apex; Christiansen & Burstone 1969 and Burstone & Pryputniewicz 1980 print 0.40 and
0.068 h², from memory; both derived here, `planar_root`).
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from fem.material import Elastic
from fem.resistance import rotation_parameter_mm2, textbook_depth_mm
from fem.rigid import skew
from fem.support import rigid_body_support
from fem.thin_layer import SurfacePoints, middle_surface, thin_layer_support
from geometry.anatomy import tooth_dimensions
from geometry.mesh import TetMesh
from geometry.tooth_mesh import ToothSpec, build_tooth_mesh
from workflow.records import read_json
from workflow.support_study import BUCCAL, DIRECTIONS
from workflow.supports import OCCLUSAL
from workflow.tooth_specs import dimensions_of

Array = NDArray[np.float64]


def planar_root(power: float) -> tuple[float, float]:
    """Centre of resistance below the crest over h, and σ²/h², of a flat root on equal springs.

    Its half-width is as zᵖ, z from the apex: ``1 − (p+1)/(p+2)`` and
    ``(p+1)/(p+3) − ((p+1)/(p+2))²`` (first and second moments of the outline).
    """
    mean = (power + 1) / (power + 2)
    return 1 - mean, (power + 1) / (power + 3) - mean**2


PARABOLA_CENTRE, PARABOLA_SIGMA2 = planar_root(0.5)


def _parabola_row(
    crest_mm: float, embedded_mm: float, bracket_mm: float, depth_mm: float, sigma2_mm2: float
) -> dict[str, float]:
    """The parabola beside a centre found `depth_mm` below the crest, σ² = `sigma2_mm2`.

    The bracket stands `bracket_mm` above the cervix; translation needs a couple of the force times
    the distance from bracket to centre.
    """
    from_bracket = bracket_mm + crest_mm
    ratio, simple = from_bracket + depth_mm, from_bracket + PARABOLA_CENTRE * embedded_mm
    sigma2 = sigma2_mm2 / embedded_mm**2
    return {
        "crest_depth_mm": crest_mm,
        "embedded_root_mm": embedded_mm,
        "centre_fraction": depth_mm / embedded_mm,
        "centre_error_percent_of_root": 100 * (PARABOLA_CENTRE - depth_mm / embedded_mm),
        "sigma2_over_h2": sigma2,
        "sigma2_error_percent": 100 * (PARABOLA_SIGMA2 / sigma2 - 1),
        "moment_to_force_mm": ratio,
        "parabola_moment_to_force_mm": simple,
        "moment_to_force_error_percent": 100 * (simple / ratio - 1),
    }


def all_teeth_table(supports: Mapping[int, str | Path]) -> pd.DataFrame:
    """The parabola against the support of every tooth as the cases use it; bracket at mid-crown.

    Parameters
    ----------
    supports
        ``support.json`` of each tooth, by number.
    """
    rows = []
    for tooth, path in supports.items():
        record = read_json(path)
        found, dimensions = record["resistance"], dimensions_of(record["spec"])
        crest = found["mean_crest_depth_mm"]
        for direction in DIRECTIONS:
            rows.append(
                {"tooth": tooth, "roots": dimensions.root_count, "direction": direction}
                | _parabola_row(
                    crest,
                    found["root_length_mm"] - crest,
                    dimensions.crown_length_mm / 2,
                    found["depth_below_crest_mm"][direction],
                    found["sigma2_mm2"][direction],
                )
            )
    return pd.DataFrame(rows)


def centre_map(
    tooth: int, poisson_ratios: Sequence[float], crest_depths_mm: Sequence[float]
) -> pd.DataFrame:
    """The parabola against finite elements over Poisson's ratio and the depth of the crest.

    Rigid tooth and bone; Young's modulus cancels.
    """
    dimensions, rows = tooth_dimensions(tooth), []
    for depth in crest_depths_mm:
        layer = build_tooth_mesh(ToothSpec(dimensions, depth)).submesh(["ligament"])
        crest = -depth * OCCLUSAL
        for nu in poisson_ratios:
            stiffness = rigid_body_support(layer, Elastic(1.0, nu), crest).stiffness
            for direction, force in DIRECTIONS.items():
                rows.append(
                    {
                        "tooth": tooth,
                        "roots": dimensions.root_count,
                        "direction": direction,
                        "poisson_ratio": nu,
                    }
                    | _parabola_row(
                        depth,
                        dimensions.root_length_mm - depth,
                        dimensions.crown_length_mm / 2,
                        textbook_depth_mm(stiffness, crest, force, OCCLUSAL),
                        rotation_parameter_mm2(stiffness, crest, force, OCCLUSAL),
                    )
                )
    return pd.DataFrame(rows)


def normal_springs(
    surface: SurfacePoints, modulus_MPa: float, thickness_mm: float | Array, point: Array
) -> Array:
    """6×6 of a rigid body on springs that act square to its surface alone, about a point.

    ``K = ∫ Sᵀ (M/t) n⊗n S dA`` with ``S = [1, −(x − O)×]``: `fem.thin_layer` without its shear.

    Parameters
    ----------
    surface, thickness_mm, point
        As for `fem.thin_layer.thin_layer_stiffness`.
    modulus_MPa
        Modulus M of a spring a unit of area and thickness.
    """
    arms = surface.positions - np.asarray(point, dtype=float)
    pushed = np.concatenate(
        [surface.normals, np.einsum("nij,nj->ni", skew(arms), surface.normals)], axis=1
    )
    return np.asarray((pushed.T * (modulus_MPa * surface.areas / thickness_mm)) @ pushed)


def winkler_table(tooth: int, thin_layer: pd.DataFrame) -> pd.DataFrame:
    """Normal springs of stiffness M/t against finite elements.

    Parameters
    ----------
    tooth
        The tooth.
    thin_layer
        Its rows of `workflow.support_study.thin_layer_table`: thin-layer theory over finite
        elements. Springs are compared with thin-layer theory on the same mesh.

    Returns
    -------
    DataFrame
        One row a thickness and Poisson's ratio, columns as in `thin_layer`.
    """
    dimensions, rows = tooth_dimensions(tooth), []
    for thickness, of_thickness in thin_layer.groupby("thickness_mm"):
        spec = ToothSpec(dimensions, ligament_thickness_mm=float(str(thickness)))
        layer = build_tooth_mesh(spec).submesh(["ligament"])
        crest = -spec.crest_depth_mm * OCCLUSAL
        embedded = dimensions.root_length_mm - spec.crest_depth_mm
        for row in of_thickness.to_dict("records"):
            material = Elastic(1.0, row["poisson_ratio"])
            thin = thin_layer_support(layer, material, crest)
            found = {"tooth": tooth} | {
                name: row[name] for name in ("poisson_ratio", "thickness_mm")
            }
            springs = _springs(layer, material, crest)
            rows.append(found | _against_solid(springs, thin, row, crest, embedded))
    return pd.DataFrame(rows)


def _springs(layer: TetMesh, material: Elastic, point: Array) -> Array:
    surface, thickness = middle_surface(layer)
    return normal_springs(surface, material.constrained_modulus_MPa, thickness, point)


def _against_solid(
    springs: Array, thin: Array, over_solid: Mapping[Hashable, Any], crest: Array, embedded: float
) -> dict[str, float]:
    """Springs over thin layer times thin layer over finite elements, percent beyond 1."""
    ratios = {
        "mesial_percent": springs[0, 0] / thin[0, 0],
        "buccal_percent": springs[1, 1] / thin[1, 1],
        "occlusal_percent": springs[2, 2] / thin[2, 2],
        "buccal_tipping_percent": _tipping_stiffness(springs) / _tipping_stiffness(thin),
    }
    depths = [textbook_depth_mm(K, crest, BUCCAL, OCCLUSAL) for K in (springs, thin)]
    shift = 100 * (depths[0] - depths[1]) / embedded
    found = {name: 100 * (r * (1 + over_solid[name] / 100) - 1) for name, r in ratios.items()}
    return found | {"centre_shift_percent": shift + over_solid["centre_shift_percent"]}


def _tipping_stiffness(stiffness: Array) -> float:
    """Couple over angle of a free tooth that tips buccally."""
    return 1 / float(np.linalg.inv(stiffness)[3, 3])
