"""Numbers of a tooth on three meshes, and what they say of the error of the default one.

A mesh of a tooth is refined as a whole: triangles on the root, layers through the ligament and the
grid on which the root is contoured all by the same factor, 1 (the default), 1.5 and 2. Each number
then gets the error bar of `fem.grid_convergence` on the default mesh, the coarsest of the three.
Facets of a curved root make up most of the error; it falls with the second order or faster, as
facets that straddle the root (`geometry.surface.straddling_nodes`) have little of the second left.

Young's modulus scales all stiffnesses alike and drops out of every share, so it is 1 MPa here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fem.grid_convergence import grid_convergence
from fem.material import Elastic
from fem.resistance import centre_of_resistance
from fem.stress import VolumeStatistics, hydrostatic, volume_statistics, von_mises
from fem.support import Support, rigid_body_support
from geometry.anatomy import tooth_dimensions
from geometry.mesh import TetMesh
from geometry.tooth_mesh import ToothSpec, build_tooth
from workflow.mesh_bars import largest_stress
from workflow.study import default_specs
from workflow.tooth_meshes import tooth_mesh_spec

Array = NDArray[np.float64]

REFINEMENTS = (1.0, 1.5, 2.0)
ORDER = 2.0  # of the distance between a smooth surface and its facets
PERCENTILES = ("p01", "p50", "p99")
_PERCENT = 100.0


@dataclass(frozen=True)
class ToothValues:
    """What is quoted of a tooth, on one mesh.

    Attributes
    ----------
    stiffness
        6×6 about `point`, for a ligament of 1 MPa.
    point
        The same on every mesh of a tooth, (3,), mm.
    stress
        By load and kind: ``"hydrostatic"`` or ``"von_mises"``, by share of volume, MPa.
    """

    stiffness: Array
    point: Array
    stress: Mapping[tuple[str, str], VolumeStatistics]

    @property
    def centre(self) -> Array:
        """Centre of resistance, (3,), mm."""
        return centre_of_resistance(self.stiffness, self.point).point


@dataclass(frozen=True)
class ToothBars:
    """Error bars of the default mesh of one tooth; percent, but for the centre.

    Attributes
    ----------
    stiffness_percent
        Largest of the 6×6's entries about the centre of resistance; entry ij is measured by
        ``√(K_ii K_jj)``, which no unit enters.
    translation_percent, rotation_percent
        Displacement by a force through the centre, rotation by a couple: largest of three axes.
    resistance_centre_mm
        Distance of the centre of resistance.
    coupling_mm
        Moment left at that point by a force that only translates, ``Bᵀ A⁻¹`` of the 6×6's blocks,
        mm of lever; it decides how a tooth turns whose force passes near the centre.
    stress_percent
        By kind and percentile, largest over the loads. Measured by the von Mises stress at 99 %,
        hydrostatic stress by its own 1 or 99 % if that is larger: medians and least values may be
        near zero.
    """

    stiffness_percent: float
    translation_percent: float
    rotation_percent: float
    resistance_centre_mm: float
    coupling_mm: float
    stress_percent: Mapping[tuple[str, str], float]


def loads_at(point: Array, crown_length_mm: float) -> dict[str, Array]:
    """Loads of 1 N and 1 N·mm that teeth get, as wrenches about a point, (6,).

    Forces through the point, couples, and forces across the middle of the crown, which tip.
    """
    arm = np.array([0.0, 0.0, crown_length_mm / 2]) - point
    loads = {}
    for name, axis in zip(("mesial", "buccal", "occlusal"), np.eye(3), strict=True):
        loads[f"{name} force"] = np.concatenate([axis, np.zeros(3)])
        loads[f"couple about the {name} axis"] = np.concatenate([np.zeros(3), axis])
        if name != "occlusal":
            loads[f"{name} force on the crown"] = np.concatenate([axis, np.cross(arm, axis)])
    return loads


def refined_spec(tooth: int, refinement: float) -> ToothSpec:
    """Default mesh of a tooth, or one finer by a factor in every direction."""
    spec = tooth_mesh_spec(default_specs()[tooth])
    return ToothSpec(
        dimensions=spec.dimensions,
        crest_depth_mm=spec.crest_depth_mm,
        ligament_thickness_mm=spec.ligament_thickness_mm,
        ligament_layers=round(refinement * spec.ligament_layers),
        root_size_mm=spec.root_size_mm / refinement,
        crown_size_mm=spec.crown_size_mm,
        contour_spacing_mm=spec.contour_spacing_mm / refinement,
    )


@cache
def ligament(tooth: int, refinement: float) -> TetMesh:
    """Ligament of a tooth.

    Raises
    ------
    ValueError
        If a finer mesh cannot be had as asked: a study of refinement needs its sizes to be true.
    """
    spec = refined_spec(tooth, refinement)
    built = build_tooth(spec)
    if refinement > 1.0 and built.note:
        raise ValueError(f"tooth {tooth}, refined {refinement:g} times: {built.note}")
    return built.mesh.submesh(["ligament"])


@cache
def reference_point(tooth: int) -> tuple[float, ...]:
    """Centre of resistance on the default mesh at ν = 0.3; the same for all that is compared."""
    middle = np.array([0.0, 0.0, -tooth_dimensions(tooth).root_length_mm / 2])
    support = rigid_body_support(ligament(tooth, 1.0), Elastic(1.0, 0.3), middle)
    return tuple(centre_of_resistance(support.stiffness, middle).point.tolist())


@cache
def tooth_values(tooth: int, poisson_ratio: float, refinement: float) -> ToothValues:
    """Numbers of a tooth on one mesh."""
    point = np.array(reference_point(tooth))
    support = rigid_body_support(ligament(tooth, refinement), Elastic(1.0, poisson_ratio), point)
    return values_of(support, tooth_dimensions(tooth).crown_length_mm)


def values_of(support: Support, crown_length_mm: float) -> ToothValues:
    """Numbers of a solved support."""
    stress = {}
    for load, wrench in loads_at(support.point, crown_length_mm).items():
        motion = np.asarray(np.linalg.solve(support.stiffness, wrench), dtype=np.float64)
        field = support.basis.combine(motion)
        for kind, scalar in (("hydrostatic", hydrostatic), ("von_mises", von_mises)):
            stress[load, kind] = volume_statistics(scalar(field), support.basis.volumes)
    return ToothValues(support.stiffness, support.point, stress)


def tooth_bars(meshes: Mapping[float, ToothValues]) -> ToothBars:
    """Error bars of the coarsest of several meshes, given by their refinement."""
    factors = sorted(meshes, reverse=True)
    finest = meshes[factors[0]]
    sizes = [1.0 / factor for factor in factors]

    def bar(values: list[float], scale: float = 1.0) -> float:
        return float(grid_convergence(values, sizes, ORDER, scale).bounds[-1]) / scale

    stiffness = [meshes[factor].stiffness for factor in factors]
    compliance = [np.diag(np.linalg.inv(matrix)) for matrix in stiffness]
    centres = [meshes[factor].centre for factor in factors]
    levers = [np.linalg.solve(matrix[:3, :3], matrix[:3, 3:]).T for matrix in stiffness]
    size = np.sqrt(np.diag(finest.stiffness))
    entries = [
        bar([matrix[i, j] for matrix in stiffness], size[i] * size[j])
        for i, j in zip(*np.triu_indices(6), strict=True)
    ]
    motions = [bar([row[i] for row in compliance], compliance[0][i]) for i in range(6)]
    return ToothBars(
        stiffness_percent=_PERCENT * max(entries),
        translation_percent=_PERCENT * max(motions[:3]),
        rotation_percent=_PERCENT * max(motions[3:]),
        resistance_centre_mm=float(
            np.linalg.norm([bar([centre[i] for centre in centres]) for i in range(3)])
        ),
        coupling_mm=float(
            np.linalg.norm([bar([float(lever[at]) for lever in levers]) for at in np.ndindex(3, 3)])
        ),
        stress_percent={
            (kind, share): _PERCENT
            * max(
                bar(
                    [getattr(meshes[factor].stress[load, kind], share) for factor in factors],
                    stress_scale(finest.stress, load, kind),
                )
                for load in {load for load, _ in finest.stress}
            )
            for kind in ("hydrostatic", "von_mises")
            for share in PERCENTILES
        },
    )


def stress_scale(stress: Mapping[tuple[str, str], VolumeStatistics], load: str, kind: str) -> float:
    """What errors of the percentiles of a load are measured by (see `ToothBars`)."""
    mean, shear = stress[load, "hydrostatic"], stress[load, "von_mises"]
    return largest_stress(mean.p01, mean.p99, shear.p99, kind)
