"""What it costs to take tooth or bone as rigid, over the range of ligament moduli."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.elastic_model import LIGAMENT, elastic_model, ligament_projection, stiffness_parts
from fem.material import Elastic
from fem.reduced_basis import ligament_family
from fem.resistance import textbook_depth_mm
from geometry.mesh import TetMesh

Array = NDArray[np.float64]

MODULI_MPA = (0.05, 0.1, 0.2, 0.4, 0.7, 1.0)
COMBINATIONS = ((False, False), (False, True), (True, False), (True, True))
MEASURES = (
    "mesial_N_per_mm",
    "buccal_N_per_mm",
    "occlusal_N_per_mm",
    "mesial_tipping_Nmm_per_rad",
    "buccal_tipping_Nmm_per_rad",
    "mesial_depth_mm",
    "buccal_depth_mm",
)


@dataclass(frozen=True)
class RigidityRow:
    """One ligament modulus with one choice of what is rigid; tooth axes mesial, buccal, occlusal.

    Attributes
    ----------
    youngs_modulus_MPa, poisson_ratio
        Of the ligament.
    elastic_tooth, elastic_bone
        What deforms besides the ligament.
    mesial_N_per_mm, buccal_N_per_mm, occlusal_N_per_mm
        Force for bodily translation: diagonal of the 6×6, all rotation prevented. It does not
        depend on the point. For an elastic tooth it is the crown that does not turn, which its
        bending then makes much softer.
    mesial_tipping_Nmm_per_rad, buccal_tipping_Nmm_per_rad
        Couple over rotation of a tooth free to move, in the mesiodistal and the buccolingual
        plane: the inverse of the compliance's diagonal. It does not depend on the point.
    mesial_depth_mm, buccal_depth_mm
        Textbook depth of the centre of resistance below the point for a force that way (see
        `fem.resistance.textbook_depth_mm`); for an elastic tooth where a force leaves the crown
        unturned.
    difference_percent
        Of each of these measures from that of the same modulus with all elastic.
    """

    youngs_modulus_MPa: float
    poisson_ratio: float
    elastic_tooth: bool
    elastic_bone: bool
    mesial_N_per_mm: float
    buccal_N_per_mm: float
    occlusal_N_per_mm: float
    mesial_tipping_Nmm_per_rad: float
    buccal_tipping_Nmm_per_rad: float
    mesial_depth_mm: float
    buccal_depth_mm: float
    difference_percent: Mapping[str, float]


@dataclass(frozen=True)
class RigidityStudy:
    """The table and what it took.

    Attributes
    ----------
    rows
        By combination, all elastic last, and by modulus within it.
    full_solutions
        How many moduli were solved in full, by (elastic tooth, elastic bone).
    unknowns
        Size of the linear system, by the same.
    """

    rows: tuple[RigidityRow, ...]
    full_solutions: Mapping[tuple[bool, bool], int]
    unknowns: Mapping[tuple[bool, bool], int]


def rigidity_study(
    mesh: TetMesh,
    hard_tissue: Mapping[str, Elastic],
    ligament_poisson_ratio: float,
    point: Array,
    moduli_MPa: Sequence[float] = MODULI_MPA,
) -> RigidityStudy:
    """Supports of one tooth for all ligament moduli, tooth and bone each rigid and elastic.

    Parameters
    ----------
    mesh
        Tooth, ligament and bone (see `geometry.bone.bone_block`).
    hard_tissue
        Elastic constants of every region but the ligament, such as
        `fem.elastic_model.HARD_TISSUE`.
    ligament_poisson_ratio
    point
        On the long axis, (3,), mm; depths count from it. The crest is a good one.
    moduli_MPa
        Young's moduli of the ligament.

    Raises
    ------
    ValueError, fem.solver.SolverError
        As `fem.deformable.deformable_support`.
    """
    ligaments = [Elastic(modulus, ligament_poisson_ratio) for modulus in moduli_MPa]
    families, unknowns = {}, {}
    for key in COMBINATIONS:
        model = elastic_model(mesh, point, elastic_tooth=key[0], elastic_bone=key[1])
        projection = ligament_projection(model, {LIGAMENT: ligaments[0]}, volumetric="auto")
        parts = stiffness_parts(model, hard_tissue, projection)
        families[key] = ligament_family(model, parts, ligaments)
        unknowns[key] = len(model.free)
    measures = {
        key: [_measures(family.stiffness(ligament), np.asarray(point)) for ligament in ligaments]
        for key, family in families.items()
    }
    rows = tuple(
        RigidityRow(
            modulus,
            ligament_poisson_ratio,
            elastic_tooth=key[0],
            elastic_bone=key[1],
            **dict(zip(MEASURES, measures[key][i], strict=True)),
            difference_percent={
                name: 100 * (value / reference - 1)
                for name, value, reference in zip(
                    MEASURES, measures[key][i], measures[True, True][i], strict=True
                )
            },
        )
        for key in COMBINATIONS
        for i, modulus in enumerate(moduli_MPa)
    )
    return RigidityStudy(
        rows,
        {key: len(family.solved) for key, family in families.items()},
        unknowns,
    )


def _measures(stiffness: Array, point: Array) -> tuple[float, ...]:
    """The `MEASURES` of a 6×6 in tooth axes."""
    mesial, buccal, occlusal = np.eye(3)
    compliance = np.linalg.inv(stiffness)
    values = (
        *np.diag(stiffness)[:3],
        1 / compliance[4, 4],
        1 / compliance[3, 3],
        textbook_depth_mm(stiffness, point, mesial, occlusal),
        textbook_depth_mm(stiffness, point, buccal, occlusal),
    )
    return tuple(float(value) for value in values)
