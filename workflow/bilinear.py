"""The bilinear stage: the loads of a case on ligaments that stiffen with strain.

The loads are those of the equilibrium with linear supports. A one-couple appliance is statically
determinate, so another ligament changes them only by what the units move, a part in a thousand.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from fem.bilinear import BilinearLaw
from fem.movement import movement
from fem.nonlinear_support import BilinearLayer, unit_at_rest
from fem.unit import UnitSupport
from geometry.mesh import TetMesh
from workflow.case_units import case_units
from workflow.specs import Spec
from workflow.unit_records import ligament_record, movement_record


def bilinear_law(case: Spec) -> BilinearLaw:
    """Bilinear ligament of a resolved case."""
    row = case["ligament"]["bilinear_law"]
    return BilinearLaw(
        row["initial_MPa"], row["stiff_MPa"], row["knee_strain"], row["poisson_ratio"]
    )


def bilinear_record(
    case: Spec, solved: Spec, support_files: Mapping[int, str], mesh_files: Mapping[int, str]
) -> dict[str, Any]:
    """The content of ``bilinear.json``: movement and ligament stress of every unit."""
    units, law = case_units(case, support_files), bilinear_law(case)
    return {
        "law": case["ligament"]["bilinear_law"],
        "units": {
            name: _unit(
                units.supports[name], law, solved["units"][name]["wrench_at_centre"], mesh_files
            )
            for name in units.in_order
        },
    }


def _unit(
    unit: UnitSupport, law: BilinearLaw, load: list[float], mesh_files: Mapping[int, str]
) -> dict[str, Any]:
    layers = [
        BilinearLayer(_ligament(mesh_files[tooth.number]), law, tooth.point) for tooth in unit.teeth
    ]
    rest = unit_at_rest(layers, unit.maps, unit.handle.T @ np.array(load), unit.joint)
    moved = movement(unit.handle @ rest.motion, unit.centre.point, unit.centre.point, unit.axes)
    teeth = list(zip(unit.teeth, rest.teeth, strict=True))
    return {
        **movement_record(moved),
        "largest_strain": max(ligament.largest_strain for _, ligament in teeth),
        "ligament": {
            str(tooth.number): ligament_record(ligament.stress, ligament.volumes)
            for tooth, ligament in teeth
        },
        "iterations": rest.iterations,
        "relative_residual": rest.relative_residual,
    }


def _ligament(mesh_file: str) -> TetMesh:
    return TetMesh.read_vtu(Path(mesh_file)).submesh(["ligament"])


def bilinear_table(record: Spec) -> pd.DataFrame:
    """One row a unit: movement and largest strain."""
    rows = [
        {"unit": name, **unit["anatomical"], "largest_strain": unit["largest_strain"]}
        for name, unit in record["units"].items()
    ]
    return pd.DataFrame(rows)
