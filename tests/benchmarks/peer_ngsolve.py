"""The same tooth, ligament and bone by NGSolve, a finite-element library for general use.

Run with ``python -m tests.benchmarks.peer_ngsolve [ROOT_SIZE_MM] [--tooth NUMBER]``. How NGSolve
is handed the mesh and the load stands in `workflow.verification.peers_ngsolve`; here both programs
are timed, on a mesh of useful size and with bone. Displacements vanish on the far faces of the
bone.

Printed are the largest differences of displacement at the vertices over the largest displacement,
and the same for the 6×6, against this project's own tolerance and against its direct solution.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Mapping

import numpy as np

from fem.deformable import linear_system, solve_model
from fem.elastic_model import LIGAMENT, stiffness_parts
from fem.kernels import threads
from fem.material import Elastic
from fem.solver import solve_spd
from geometry.mesh import TetMesh
from tests.benchmarks.models import tooth_in_bone, whole_model
from tests.benchmarks.peers import MATERIALS, TOOTH
from workflow.memory import keep_freed_memory
from workflow.verification.peers_models import Answer, largest_difference, stiffness
from workflow.verification.peers_ngsolve import METHOD, MISSING, available, solve_tooth


def ours(
    mesh: TetMesh, materials: Mapping[str, Elastic], *, direct: bool
) -> tuple[Answer, str, float]:
    """Answer to unit wrenches, method, seconds from mesh."""
    started = time.perf_counter()
    model = whole_model(mesh)
    system = linear_system(
        model, stiffness_parts(model, materials, None).matrix(materials[LIGAMENT])
    )
    if direct:
        solution = solve_spd(system.matrix, system.right)
        fields = np.zeros((len(model.loads), 6))
        fields[model.free] = solution.x
        compliance, method = model.loads.T @ fields, solution.method
    else:
        response = solve_model(model, system)
        compliance = np.asarray(np.linalg.inv(response.stiffness))
        fields, method = response.fields @ compliance, response.solution.method
    seconds = time.perf_counter() - started
    answer = Answer(fields.reshape(-1, 3, 6)[: len(model.mesh.points)], compliance)
    return answer, method, seconds


def compare(tooth: int, size: float, materials: Mapping[str, Elastic]) -> None:
    """Print times and differences for one mesh."""
    mesh = tooth_in_bone(tooth, size)
    model = whole_model(mesh)
    print(f"tooth {tooth}, root size {size:g} mm, {len(model.free)} unknowns, 6 loads")
    peer = solve_tooth(model, materials, "crown", "bone_far")
    if peer.unknowns != len(model.free):
        raise RuntimeError(f"NGSolve has {peer.unknowns} unknowns; it solves another model")
    print(f"  NGSolve      {peer.seconds:8.2f} s   ({METHOD})", flush=True)
    expected = stiffness(peer, mesh.points)
    ours(mesh, materials, direct=False)  # warm: libraries loaded
    for direct in (False, True):
        answer, method, seconds = ours(mesh, materials, direct=direct)
        apart = np.abs(stiffness(answer, mesh.points) - expected).max()
        print(f"  this project {seconds:8.2f} s   ({method}), ratio {peer.seconds / seconds:.1f}")
        print(
            f"    largest difference {largest_difference(answer, peer).max():.1e} of the "
            f"largest displacement, {apart / np.abs(expected).max():.1e} of the 6×6",
            flush=True,
        )


def main(arguments: list[str]) -> None:
    """Print the comparison."""
    parser = argparse.ArgumentParser(description=__doc__, prog="peer_ngsolve.py")
    parser.add_argument("size", nargs="?", type=float, default=1.1, metavar="ROOT_SIZE_MM")
    parser.add_argument("--tooth", type=int, default=TOOTH, help="ISO 3950 number")
    options = parser.parse_args(arguments)
    if not available():
        parser.error(MISSING)
    keep_freed_memory()
    print(f"{threads()} threads; ligament {MATERIALS[LIGAMENT]}")
    compare(options.tooth, options.size, MATERIALS)


if __name__ == "__main__":
    main(sys.argv[1:])
