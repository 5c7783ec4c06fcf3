"""The same tooth, ligament and bone by this project, by CalculiX and by scikit-fem's own way.

Run with ``.venv/bin/python -m tests.benchmarks.peers [ROOT_SIZE_MM ...] [--with PROGRAM ...]``.
Exports the very mesh and the very nodal loads to CalculiX (program ``ccx``, Debian package
``calculix-ccx``), six steps with SPOOLES, and prints times, ratios and the largest difference of
displacements at nodes. CalculiX also parses text, writes files and factorises in every step; its
time is that of the whole program. ``scikit-fem`` takes minutes and gigabytes. Our time runs from
the mesh to the answers. Never part of the tests; NGSolve has ``peer_ngsolve.py``.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.linalg import spsolve
from skfem import Basis, ElementTetP2, ElementVector, MeshTet, asm, condense
from skfem.models.elasticity import lame_parameters, linear_elasticity

from fem.deformable import linear_system, solve_model
from fem.elastic_model import HARD_TISSUE, LIGAMENT, ElasticModel, elastic_model, stiffness_parts
from fem.kernels import threads
from fem.material import Elastic
from geometry.mesh import TetMesh
from tests.benchmarks.models import POINT, tooth_in_bone
from workflow.memory import keep_freed_memory

Array = NDArray[np.float64]

MATERIALS = {**HARD_TISSUE, LIGAMENT: Elastic(0.68, 0.45)}
PROGRAMS = ("calculix", "scikit-fem")
TOOTH = 37
RUNS = 3
SHOWN = 200  # nodes whose displacements are compared


def ours(mesh: TetMesh) -> tuple[ElasticModel, Array, float, str]:
    """The model, displacements (nodes, 3, 6) of six unit wrenches, seconds from mesh, method."""
    started = time.perf_counter()
    model = elastic_model(mesh, POINT, elastic_tooth=True, elastic_bone=True)
    system = linear_system(
        model, stiffness_parts(model, MATERIALS, None).matrix(MATERIALS[LIGAMENT])
    )
    response = solve_model(model, system)
    seconds = time.perf_counter() - started
    # Fields belong to unit mean motions; those of unit wrenches follow by the compliance.
    fields = response.fields @ np.linalg.inv(response.stiffness)
    return model, fields.reshape(-1, 3, 6), seconds, response.solution.method


def shown_nodes(model: ElasticModel) -> NDArray[np.int64]:
    """Nodes spread evenly over the numbering, none of them held."""
    free = np.unique(model.free // 3)
    return free[np.linspace(0, len(free) - 1, SHOWN).astype(int)]


def by_calculix(model: ElasticModel, folder: Path) -> tuple[Array, float]:
    """Displacements (shown nodes, 3, 6) and seconds of the whole program."""
    (folder / "tooth.inp").write_text("\n".join(_deck(model)) + "\n", encoding="ascii")
    count = str(threads())
    limits = {"OMP_NUM_THREADS": count, "CCX_NPROC_EQUATION_SOLVER": count}
    started = time.perf_counter()
    done = subprocess.run(
        ["ccx", "tooth"], cwd=folder, env=os.environ | limits, capture_output=True, text=True
    )
    seconds = time.perf_counter() - started
    if done.returncode or not (folder / "tooth.dat").is_file():
        raise RuntimeError(f"ccx failed:\n{done.stdout[-2000:]}")
    return _printed(folder / "tooth.dat"), seconds


def _deck(model: ElasticModel) -> Iterable[str]:
    space, mesh = model.space, model.mesh
    yield "*NODE"
    for number, place in enumerate(space.nodes, start=1):
        # CalculiX reads fields of twenty characters.
        yield f"{number}, " + ", ".join(f"{x:.12e}" for x in place)
    elements = _calculix_order(space.elements, space.points)
    for index, name in enumerate(mesh.region_names):
        yield f"*ELEMENT, TYPE=C3D10, ELSET={name.upper()}"
        for number in np.flatnonzero(mesh.region == index):
            yield f"{number + 1}, " + ", ".join(str(node + 1) for node in elements[number])
        material = MATERIALS[name]
        yield f"*MATERIAL, NAME={name.upper()}"
        yield "*ELASTIC"
        yield f"{material.youngs_modulus_MPa:.12e}, {material.poisson_ratio:.12e}"
        yield f"*SOLID SECTION, ELSET={name.upper()}, MATERIAL={name.upper()}"
    yield "*NSET, NSET=SHOWN"
    yield from (f"{node + 1}," for node in shown_nodes(model))
    yield "*BOUNDARY"
    yield from (f"{node + 1}, 1, 3" for node in np.unique(model.held // 3))
    for column in range(6):
        yield "*STEP"
        yield "*STATIC, SOLVER=SPOOLES"
        yield "*CLOAD, OP=NEW"
        for dof in np.flatnonzero(model.loads[:, column]):
            yield f"{dof // 3 + 1}, {dof % 3 + 1}, {model.loads[dof, column]:.12e}"
        yield "*NODE PRINT, NSET=SHOWN"
        yield "U"
        yield "*END STEP"


def _calculix_order(elements: NDArray[np.int64], points: Array) -> NDArray[np.int64]:
    """Corners of positive volume, then the middles of 12, 23, 13, 14, 24, 34."""
    middles = {(0, 1): 4, (0, 2): 5, (0, 3): 6, (1, 2): 7, (1, 3): 8, (2, 3): 9}
    corners = points[elements[:, :4]]
    negative = np.linalg.det(corners[:, 1:] - corners[:, :1]) < 0
    ordered = np.empty_like(elements)
    for where, order in ((~negative, (0, 1, 2, 3)), (negative, (0, 1, 3, 2))):
        a, b, c, d = order
        pairs = [(a, b), (b, c), (a, c), (a, d), (b, d), (c, d)]
        columns = [*order, *(middles[min(p), max(p)] for p in pairs)]
        ordered[where] = elements[where][:, columns]
    return ordered


def _printed(path: Path) -> Array:
    """Displacements that CalculiX printed, (shown nodes, 3, steps), nodes in rising order."""
    steps: list[list[list[float]]] = []
    for line in path.read_text(encoding="ascii").splitlines():
        if line.strip().startswith("displacements"):
            steps.append([])
        elif line.strip() and steps:
            steps[-1].append([float(x) for x in line.split()])
    return np.stack([np.array(sorted(rows))[:, 1:] for rows in steps], axis=2)


def by_scikit_fem(model: ElasticModel) -> float:
    """Seconds of its documented way: default quadrature, condense, scipy's direct solver."""
    started = time.perf_counter()
    mesh = MeshTet(model.mesh.points.T.copy(), model.mesh.tets.T.copy())
    parts = []
    for index, name in enumerate(model.mesh.region_names):
        cells = np.flatnonzero(model.mesh.region == index)
        basis = Basis(mesh, ElementVector(ElementTetP2()), elements=cells)
        E, nu = MATERIALS[name].youngs_modulus_MPa, MATERIALS[name].poisson_ratio
        parts.append(asm(linear_elasticity(*lame_parameters(E, nu)), basis))
    K = sum(parts[1:], parts[0])
    held = set(map(tuple, np.round(model.space.nodes[np.unique(model.held // 3)], 9)))
    whole = Basis(mesh, ElementVector(ElementTetP2()))
    fixed = [dof for dof, place in enumerate(np.round(whole.doflocs.T, 9)) if tuple(place) in held]
    K_free, *_ = condense(K, D=np.array(fixed))
    spsolve(K_free, np.random.default_rng(0).standard_normal((K_free.shape[0], 6)))
    return time.perf_counter() - started


def compare(size: float, programs: Sequence[str]) -> None:
    """Print times and differences for one mesh."""
    keep_freed_memory()
    mesh = tooth_in_bone(TOOTH, size)
    passes = [ours(mesh) for _ in range(RUNS + 1)]
    model, fields, _, method = passes[0]
    seconds = statistics.median(run[2] for run in passes[1:])
    print(f"tooth {TOOTH}, root size {size:g} mm, {len(model.free)} unknowns, 6 loads")
    print(f"  this project {seconds:8.2f} s   ({method})", flush=True)
    if "calculix" in programs:
        with tempfile.TemporaryDirectory() as folder:
            peer, peer_seconds = by_calculix(model, Path(folder))
        apart = np.abs(fields[shown_nodes(model)] - peer).max(axis=(0, 1))
        worst = (apart / np.abs(fields).max(axis=(0, 1))).max()
        print(
            f"  CalculiX     {peer_seconds:8.2f} s   ratio {peer_seconds / seconds:.0f}; "
            f"largest difference {worst:.1e} of the largest displacement",
            flush=True,
        )
    if "scikit-fem" in programs:
        peer_seconds = by_scikit_fem(model)
        ratio = peer_seconds / seconds
        print(f"  scikit-fem   {peer_seconds:8.2f} s   ratio {ratio:.0f}", flush=True)


def main(arguments: list[str]) -> None:
    """Print the comparison."""
    parser = argparse.ArgumentParser(description=__doc__, prog="peers.py")
    parser.add_argument("sizes", nargs="*", type=float, default=[1.1], metavar="ROOT_SIZE_MM")
    parser.add_argument(
        "--with", dest="programs", nargs="+", choices=PROGRAMS, default=["calculix"]
    )
    options = parser.parse_args(arguments)
    if "calculix" in options.programs and not shutil.which("ccx"):
        parser.error("the program ccx is not here; on Debian: apt install calculix-ccx")
    print(f"{threads()} threads; ligament {MATERIALS[LIGAMENT]}; ours the median of {RUNS}")
    for size in options.sizes:
        compare(size, options.programs)


if __name__ == "__main__":
    main(sys.argv[1:])
