"""Iterations of the multigrid over ligaments, thicknesses, layers, teeth and poor meshes.

Run with ``.venv/bin/python -m tests.benchmarks.iterations [--scans FOLDER]``: half an hour on two
cores. One line a mesh and one column a ligament, as counts of iterations to a residual of 1e-8 of
the load; ``d`` marks those that the direct method had to finish. Scans are files
``tooth_<ISO 3950 number>.stl``.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from fem.material import Elastic
from fem.multigrid import NAME, Levels, solve_layered
from geometry.mesh import TetMesh
from geometry.quality import radius_ratio
from tests.benchmarks.models import assembled, scan_in_bone, tooth_in_bone, whole_model

LIGAMENTS = [Elastic(E, nu) for E in (0.01, 0.68, 50.0) for nu in (0.30, 0.45, 0.49, 0.499, 0.4999)]


def meshes(scans: Path | None) -> Iterator[tuple[str, Callable[[], TetMesh]]]:
    """Names of the meshes and how each is made."""
    for tooth in (21, 33, 37, 16, 24):
        yield f"tooth {tooth}", partial(tooth_in_bone, tooth, 0.8)
    for thickness in (0.10, 0.40):
        for layers in (1, 2, 3):
            name = f"tooth 33, {thickness} mm, {layers} layers"
            yield name, partial(tooth_in_bone, 33, 0.8, thickness_mm=thickness, layers=layers)
    yield "tooth 37, root 1.4 mm, bone 4 mm", partial(tooth_in_bone, 37, 1.4, far_size_mm=4.0)
    yield "tooth 33, 0.10 mm, root 1.6 mm", partial(tooth_in_bone, 33, 1.6, thickness_mm=0.10)
    yield "tooth 37, root 0.55 mm", partial(tooth_in_bone, 37, 0.55)
    for path in sorted(scans.glob("tooth_*.stl")) if scans else ():
        yield f"scan {path.stem}", partial(scan_in_bone, path, int(path.stem.split("_")[1]), 0.8)


def main(arguments: list[str]) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, prog="iterations.py")
    parser.add_argument("--scans", type=Path)
    options = parser.parse_args(arguments)
    heads = " ".join(f"{ligament.youngs_modulus_MPa:>6g}" for ligament in LIGAMENTS)
    print(f"{'E, MPa':36s}{'unknowns':>9s} {'gamma':>6s} {heads}")
    ratios = " ".join(f"{ligament.poisson_ratio:>6g}" for ligament in LIGAMENTS)
    print(f"{'Poisson ratio':52s} {ratios}")
    for name, made in meshes(options.scans):
        try:
            mesh = made()
        except ValueError as error:
            print(f"{name}: {error}")
            continue
        model = whole_model(mesh)
        levels = Levels.on(model.space, model.free, model.ligament)
        quality = radius_ratio(mesh.points, mesh.tets).min()
        print(f"{name:36s}{len(model.free):9d} {quality:6.2f}", end="", flush=True)
        for ligament in LIGAMENTS:
            system = assembled(model, ligament)
            solution = solve_layered(system.matrix, system.right, levels, direct_below=0)
            mark = "" if solution.method == NAME else "d"
            print(f" {solution.iterations:5d}{mark:1s}", end="", flush=True)
        print()


if __name__ == "__main__":
    main(sys.argv[1:])
