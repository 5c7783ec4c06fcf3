"""Times and memory of the elasticity: whole, by stage, growth, and against other programs.

Run with ``.venv/bin/python -m tests.benchmarks.elasticity [--peers]`` on a quiet machine; some
three minutes, with ``--peers`` half an hour more and 5 GB. Each line is measured in a process of
its own; "cold" is the first pass there, libraries loaded, and the time the median of the next ones.
Foretold numbers come from `fem.cost`. Never part of the tests.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from dataclasses import dataclass

import numpy as np

from fem.cost import predicted_cost
from fem.deformable import check_balance, linear_system, solve_model
from fem.elastic_model import (
    HARD_TISSUE,
    LIGAMENT,
    elastic_model,
    ligament_projection,
    stiffness_parts,
)
from fem.kernels import mkl, threads
from fem.material import Elastic
from fem.reduced_basis import ligament_family
from fem.solver import peak_memory_MB
from geometry.mesh import TetMesh
from tests.benchmarks import peers
from tests.benchmarks.models import POINT, SOFT, in_own_process, tooth_in_bone, whole_model
from workflow.memory import keep_freed_memory

RUNS = 3
WHOLE = ((21, 1.2), (37, 1.4), (33, 0.8), (37, 0.8), (37, 0.57), (37, 0.36))
LAYERS = ((21, 0.55), (37, 0.58), (37, 0.35))


@dataclass(frozen=True)
class Measured:
    """One line of the table: medians, s and MB."""

    unknowns: int
    numbering_s: float
    assembly_s: float
    solve_s: float
    whole_s: float
    cold_s: float
    peak_MB: float
    foretold_s: float
    foretold_MB: float
    iterations: int
    method: str


def measured(mesh: TetMesh, elastic: bool, runs: int) -> Measured:
    """Six answers from a mesh, several times; the peak is that of the first."""
    keep_freed_memory()
    materials = {**HARD_TISSUE, LIGAMENT: SOFT}
    mkl()
    passes = []
    for _ in range(runs + 1):
        times = [time.perf_counter()]
        model = elastic_model(mesh, POINT, elastic_tooth=elastic, elastic_bone=elastic)
        times.append(time.perf_counter())
        parts = stiffness_parts(model, materials, ligament_projection(model, materials, "auto"))
        system = linear_system(model, parts.matrix(SOFT))
        del parts
        times.append(time.perf_counter())
        response = solve_model(model, system)
        check_balance(model, response)
        del system
        times.append(time.perf_counter())
        passes.append([*np.diff(times), times[-1] - times[0], peak_memory_MB()])
    medians = [statistics.median(column) for column in zip(*passes[1:], strict=True)][:-1]
    foretold = predicted_cost(len(model.loads), hard_tissue=elastic)
    solution = response.solution
    return Measured(
        len(model.free),
        *medians,
        *passes[0][-2:],
        foretold.seconds,
        foretold.memory_MB,
        solution.iterations,
        solution.method,
    )


def print_sizes() -> None:
    """All elastic, then the ligament alone; and the growth of the time."""
    print(
        f"{'':22s}{'unknowns':>9s}{'number':>7s}{'assem.':>7s}{'solve':>7s}{'whole':>7s}{'cold':>7s}"
        f"{'told':>7s}{'MB':>6s}{'told':>6s}{'it':>4s}  method"
    )
    times = []
    for name, elastic, sizes in (("all elastic", True, WHOLE), ("ligament", False, LAYERS)):
        for tooth, size in sizes:
            mesh = in_own_process(tooth_in_bone, tooth, size)
            line = in_own_process(measured, mesh, elastic, RUNS)
            label = f"{tooth}, {size} mm, {name}"
            print(
                f"{label:22s}{line.unknowns:9d}{line.numbering_s:7.2f}{line.assembly_s:7.2f}"
                f"{line.solve_s:7.2f}{line.whole_s:7.2f}{line.cold_s:7.2f}{line.foretold_s:7.2f}"
                f"{line.peak_MB:6.0f}{line.foretold_MB:6.0f}{line.iterations:4d}  {line.method}",
                flush=True,
            )
            if elastic:
                times.append((line.unknowns, line.whole_s))
    sizes, seconds = np.log(np.array(times)).T
    power = np.polyfit(sizes, seconds, 1)[0]
    print(f"time of all elastic grows with unknowns to the power {power:.2f}")


def cold_tooth() -> tuple[float, float, int]:
    """Seconds of mesh and support of the default case's molar in a fresh process, and unknowns."""
    from workflow.case import load_case, resolved
    from workflow.supports import compute_support
    from workflow.tooth_meshes import build_mesh
    from workflow.tooth_specs import support_spec

    spec = support_spec(resolved(load_case("configs/cases/lower_molar_uprighting.yaml")), 37)
    started = time.perf_counter()
    mesh, _ = build_mesh(spec)
    meshed = time.perf_counter()
    support = compute_support(mesh, spec)
    return meshed - started, time.perf_counter() - meshed, support.unknowns


def reduced_basis() -> tuple[float, float, int]:
    """Milliseconds of a new ligament, largest relative error of the 6×6, ligaments solved."""
    model = whole_model(tooth_in_bone(21, 1.2))
    known = [Elastic(E, nu) for E in (0.05, 0.2, 0.7) for nu in (0.45, 0.47, 0.49)]
    materials = {**HARD_TISSUE, LIGAMENT: known[0]}
    parts = stiffness_parts(model, materials, ligament_projection(model, materials, "projected"))
    family = ligament_family(model, parts, known, tolerance=1e-6)
    fresh = [Elastic(E, nu) for E in (0.07, 0.33, 0.6) for nu in (0.455, 0.483)]
    started = time.perf_counter()
    foretold = [family.stiffness(ligament) for ligament in fresh]
    seconds = (time.perf_counter() - started) / len(fresh)
    exact = [
        solve_model(model, linear_system(model, parts.matrix(ligament))).stiffness
        for ligament in fresh
    ]
    errors = [np.abs(a - b).max() / np.abs(b).max() for a, b in zip(foretold, exact, strict=True)]
    return 1e3 * seconds, max(errors), len(family.solved)


def main(arguments: list[str]) -> None:
    """Print everything."""
    parser = argparse.ArgumentParser(description=__doc__, prog="elasticity.py")
    parser.add_argument("--peers", action="store_true", help="other programs on the same meshes")
    options = parser.parse_args(arguments)
    print(f"{threads()} threads, six loads, ligament {SOFT}; seconds are medians of {RUNS}")
    print_sizes()
    mesh_s, support_s, unknowns = in_own_process(cold_tooth)
    print(
        f"default molar, {unknowns} unknowns, fresh process: mesh {mesh_s:.2f} s, "
        f"support with stress basis {support_s:.2f} s"
    )
    milliseconds, error, solved = in_own_process(reduced_basis)
    print(
        f"reduced basis from {solved} ligaments: {milliseconds:.3f} ms a ligament, "
        f"largest error {error:.1e}"
    )
    if options.peers:
        peers.main(["0.55", "--with", "calculix"])
        peers.main(["0.8", "--with", "scikit-fem"])


if __name__ == "__main__":
    main(sys.argv[1:])
