"""Wall time of each stage of the demonstration case, in one process; medians of several runs.

Run with ``.venv/bin/python tests/benchmarks/stages.py [RUNS]``. Never part of the tests: times say
something only beside others taken on the same quiet machine.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from skfem import Basis, ElementTetP2, ElementVector, MeshTet

from fem.assembly import Assembler
from fem.bilinear import BilinearLaw
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever
from fem.elasticity import elastic_energy
from fem.engage import Setup, engage_for_couple
from fem.nonlinear_support import BilinearLayer, unit_at_rest
from fem.solver import peak_memory_MB
from fem.space import QuadraticSpace
from fem.wire_solid import solid_two_point_cantilever
from geometry.tooth_mesh import build_tooth_mesh
from workflow.case import load_case, resolved
from workflow.plan import cantilever_sites, wire_design, wire_spec
from workflow.supports import compute_support
from workflow.tissues import elastic
from workflow.tooth_meshes import tooth_mesh_spec
from workflow.tooth_specs import support_spec
from workflow.wire_rods import straight_cantilever

CASE = "configs/cases/lower_molar_uprighting.yaml"
TOOTH = 37


def median_seconds(work: Callable[[], Any], runs: int) -> float:
    """Median wall time after one warm-up."""
    work()
    times = []
    for _ in range(runs):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return statistics.median(times)


def stages() -> dict[str, Callable[[], Any]]:
    """The stages by name."""
    case = resolved(load_case(CASE))
    spec = support_spec(case, TOOTH)
    mesh = build_tooth_mesh(tooth_mesh_spec(spec))
    layer, material = mesh.submesh(["ligament"]), elastic(spec)
    lame, shear = material.lame_MPa, material.shear_modulus_MPa
    space = QuadraticSpace.on(layer.points, layer.tets)
    assembler = Assembler.on(space)
    basis = Basis(
        MeshTet(layer.points.T.copy(), layer.tets.T.copy()),
        ElementVector(ElementTetP2()),
        intorder=2,
    )
    fixed = straight_cantilever(wire_spec(case))
    design = Cantilever(cantilever_sites(case), wire_design(case), fixed.units)
    bilinear = BilinearLayer(layer, BilinearLaw(0.05, 0.28, 0.075, 0.3), np.zeros(3))
    load = np.array([0.0, 0, 0.5, 5, -12, -2])
    unknowns = 3 * space.node_count
    return {
        f"mesh of {TOOTH}": lambda: build_tooth_mesh(tooth_mesh_spec(spec)),
        f"pattern, {unknowns} unknowns": lambda: Assembler.on(space),
        "assembly, pattern known": lambda: assembler.stiffness(lame, shear),
        "assembly by scikit-fem (oracle)": lambda: elastic_energy.assemble(
            basis, lame=lame, shear=shear
        ),
        "support: six motions and their stress": lambda: compute_support(mesh, spec),
        "bilinear ligament under load": lambda: unit_at_rest([bilinear], [np.eye(6)], load),
        "rod at one offset": lambda: solve_for_offset(design, 6.0),
        "rod at a wanted couple": lambda: engage_for_couple(Setup(design), 11.77),
        "wire as a 3D solid": lambda: solid_two_point_cantilever(
            design.wire.section, design.wire.material, 19.0, 4.0
        ),
    }


def main() -> None:
    """Print one line a stage."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    for name, work in stages().items():
        print(f"{name:45s} {median_seconds(work, runs):8.3f} s")
    print(f"{'peak memory of the whole':45s} {peak_memory_MB():8.0f} MB")


if __name__ == "__main__":
    main()
