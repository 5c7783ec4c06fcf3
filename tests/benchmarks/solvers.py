"""Multigrid against the direct method on a tooth with elastic bone, at several sizes.

Run with ``.venv/bin/python tests/benchmarks/solvers.py [FDI]``. Each line is a process of its own,
so that its peak memory is its own: the growth from before the solve to the highest point. Never
part of the tests: times say something only beside others taken on the same quiet machine.
``OMP_NUM_THREADS`` sets the number of threads.
"""

from __future__ import annotations

import multiprocessing
import sys
import time
from typing import NamedTuple

import numpy as np

from fem.deformable import linear_system
from fem.elastic_model import HARD_TISSUE, elastic_model, ligament_projection, stiffness_parts
from fem.kernels import mkl, threads
from fem.material import Elastic
from fem.multigrid import Levels, solve_layered
from fem.solver import peak_memory_MB, solve_spd
from geometry.anatomy import tooth_dimensions
from geometry.bone import BoneSpec, bone_block
from geometry.tooth_mesh import ToothSpec, build_tooth

TOOTH = 37
LIGAMENT = Elastic(0.68, 0.49)


class Size(NamedTuple):
    """Edge lengths of a mesh, mm, and whether tooth and bone deform."""

    root_mm: float
    crown_mm: float
    far_mm: float
    elastic: bool = True


SIZES = (
    Size(1.0, 1.5, 2.5),
    Size(0.75, 1.2, 2.0),
    Size(0.55, 1.0, 1.5),
    Size(0.55, 1.0, 1.5, elastic=False),
)


def measured(fdi: int, size: Size, multigrid: bool) -> str:
    """One line of the table."""
    spec = ToothSpec(
        tooth_dimensions(fdi),
        root_size_mm=size.root_mm,
        crown_size_mm=size.crown_mm,
        loose_rim=False,
    )
    mesh = bone_block(build_tooth(spec).mesh, spec=BoneSpec(far_size_mm=size.far_mm))
    model = elastic_model(mesh, np.zeros(3), elastic_tooth=size.elastic, elastic_bone=size.elastic)
    materials = {**HARD_TISSUE, "ligament": LIGAMENT}
    projection = ligament_projection(model, materials, "auto")
    K = stiffness_parts(model, materials, projection).matrix(LIGAMENT)
    matrix, right = linear_system(model, K)
    mkl()
    before, processor, started = peak_memory_MB(), time.process_time(), time.perf_counter()

    if multigrid:
        levels = Levels.on(model.space, model.free, model.ligament)
        solution = solve_layered(matrix, right, levels, direct_below=0)
    else:
        solution = solve_spd(matrix, right)
    seconds, processor = time.perf_counter() - started, time.process_time() - processor
    body = "tooth, ligament, bone" if size.elastic else "ligament"
    peak = solution.peak_memory_MB
    return (
        f"{body:22s} {len(model.free):8d} {seconds:7.2f} {processor:7.2f} {peak - before:6.0f}"
        f" {peak:6.0f} {solution.iterations:4d} {solution.relative_residual:8.1e}"
        f"  {solution.method}"
    )


def main() -> None:
    """Print the table."""
    fdi = int(sys.argv[1]) if len(sys.argv) > 1 else TOOTH
    print(f"tooth {fdi}, six right-hand sides, {threads()} threads")
    heads = f"{'unknowns':>8s} {'wall s':>7s} {'CPU s':>7s} {'+MB':>6s} {'MB':>6s}   it residual"
    print(f"{'':22s} {heads}")
    for size in SIZES:
        for multigrid in (True, False):
            with multiprocessing.get_context("spawn").Pool(1) as pool:
                print(pool.apply(measured, (fdi, size, multigrid)), flush=True)


if __name__ == "__main__":
    main()
