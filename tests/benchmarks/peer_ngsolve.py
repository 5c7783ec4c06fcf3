"""The same tooth, ligament and bone by NGSolve, a finite-element library for general use.

Run with ``python -m tests.benchmarks.peer_ngsolve [ROOT_SIZE_MM] [--tooth NUMBER]``. NGSolve gets
the vertices and tetrahedra of the very mesh and does all else in its own way: its hierarchical
shape functions of order 2, its quadrature, and the load as the traction itself,

    ``t(x) = R(x) G⁻¹ w`` on the crown,  ``R(x) = [1, −(x − O)×]``,  ``G = ∫ Rᵀ R dA``,

integrated there; no nodal force, matrix or number of a node comes from this project. The system
is factorised by NGSolve's own sparse Cholesky factorisation. Displacements vanish on the far
faces of the bone. The ligament's dilatation is taken as it is, not projected.

Printed are the largest differences of displacement at the vertices over the largest displacement,
and the same for the 6×6 from the mean motions ``q = G⁻¹ ∫ Rᵀ u dA``, against this project's own
tolerance and against its direct solution. NGSolve is no dependency of the project, and this is
never part of the tests.
"""

from __future__ import annotations

import argparse
import importlib
import importlib.util
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.deformable import linear_system, solve_model
from fem.elastic_model import LIGAMENT, ElasticModel, stiffness_parts
from fem.kernels import threads
from fem.material import Elastic
from fem.solver import solve_spd
from fem.support import dimensionless
from geometry.mesh import TetMesh
from tests.benchmarks.models import tooth_in_bone, whole_model
from workflow.memory import keep_freed_memory

Array = NDArray[np.float64]

LOADED, HELD = "crown", "bone_far"
METHOD = "sparsecholesky"
MISSING = (
    "NGSolve is not installed; it is no dependency of this project. Put it beside: "
    "`python -m venv ngsolve-env`, `ngsolve-env/bin/pip install ngsolve`, then run with "
    f"PYTHONPATH=ngsolve-env/lib/python3.{sys.version_info.minor}/site-packages"
)


@dataclass(frozen=True)
class PeerAnswer:
    """What NGSolve gives for six unit wrenches.

    Attributes
    ----------
    displacements
        At the vertices of the model's mesh, (vertices, 3, 6).
    compliance
        Mean motions of the crown, one column a wrench, (6, 6).
    unknowns
        Degrees of freedom that are not held.
    seconds
        Wall time from the handing over of the mesh to the displacements.
    """

    displacements: Array
    compliance: Array
    unknowns: int
    seconds: float


def available() -> bool:
    """Whether NGSolve is installed."""
    return importlib.util.find_spec("ngsolve") is not None


def by_ngsolve(model: ElasticModel, materials: Mapping[str, Elastic]) -> tuple[Array, float]:
    """Displacements (vertices, 3, 6) of six unit wrenches, seconds from mesh to answer.

    Raises
    ------
    ModuleNotFoundError
        If NGSolve is not installed.
    ValueError
        If the model's tooth or bone is rigid.
    """
    answer = solve(model, materials)
    return answer.displacements, answer.seconds


def solve(model: ElasticModel, materials: Mapping[str, Elastic]) -> PeerAnswer:
    """As `by_ngsolve`, with the 6×6 that goes with it."""
    ngs, meshing = _library("ngsolve"), _library("netgen.meshing")
    for name in (LOADED, HELD):
        if name not in model.mesh.facets:
            raise ValueError(f"the mesh has no facet set {name!r}; tooth and bone must be elastic")
    ngs.SetNumThreads(threads())
    with ngs.TaskManager():
        started = time.perf_counter()
        mesh = ngs.Mesh(_netgen_mesh(model, meshing))
        space = ngs.VectorH1(mesh, order=2, dirichlet=HELD)
        inverse = _stiffness(ngs, mesh, space, materials).mat.Inverse(space.FreeDofs(), METHOD)
        motions = _rigid_motions(ngs, model.point)
        fields = [_field(ngs, space, inverse, load) for load in _tractions(ngs, mesh, motions)]
        displacements = np.stack([_at_vertices(field, mesh.nv) for field in fields], axis=2)
        seconds = time.perf_counter() - started
        compliance = _mean_motions(ngs, mesh, motions, fields)
    return PeerAnswer(displacements, compliance, sum(space.FreeDofs()), seconds)


def _library(name: str) -> Any:
    if not available():
        raise ModuleNotFoundError(MISSING)
    return importlib.import_module(name)


def _netgen_mesh(model: ElasticModel, meshing: Any) -> Any:
    """Vertices, tetrahedra by region, triangles of the two facet sets that matter."""
    part = model.mesh
    mesh = meshing.Mesh(dim=3)
    mesh.AddPoints(np.ascontiguousarray(part.points))
    for index, name in enumerate(part.region_names, start=1):
        tets = part.region_tets(name).astype(np.int32)
        mesh.AddElements(dim=3, index=index, data=tets, base=0)
        mesh.SetMaterial(index, name)
    for index, name in enumerate((LOADED, HELD), start=1):
        mesh.Add(meshing.FaceDescriptor(surfnr=index, domin=1, domout=0, bc=index))
        mesh.SetBCName(index - 1, name)
        triangles = np.ascontiguousarray(part.facets[name], dtype=np.int32)
        mesh.AddElements(dim=2, index=index, data=triangles, base=0)
    return mesh


def _stiffness(ngs: Any, mesh: Any, space: Any, materials: Mapping[str, Elastic]) -> Any:
    """``∫ λ div u div v + 2 μ ε(u) : ε(v) dV``."""
    names = mesh.GetMaterials()
    lame = mesh.MaterialCF({name: materials[name].lame_MPa for name in names})
    shear = mesh.MaterialCF({name: materials[name].shear_modulus_MPa for name in names})
    u, v = space.TnT()
    strains = ngs.InnerProduct(ngs.Sym(ngs.Grad(u)), ngs.Sym(ngs.Grad(v)))
    form = ngs.BilinearForm(space, symmetric=True)
    form += (lame * ngs.div(u) * ngs.div(v) + 2 * shear * strains) * ngs.dx
    return form.Assemble()


def _rigid_motions(ngs: Any, point: Array) -> list[Any]:
    """Columns of R: unit translations, then unit rotations about the point."""
    axes = [ngs.CF(tuple(row)) for row in np.eye(3).tolist()]
    arm = ngs.CF((ngs.x, ngs.y, ngs.z)) - ngs.CF(tuple(point.tolist()))
    return [*axes, *(ngs.Cross(axis, arm) for axis in axes)]


def _gram(ngs: Any, mesh: Any, motions: list[Any]) -> Array:
    area = ngs.ds(LOADED)
    rows = [[ngs.Integrate(ngs.InnerProduct(a, b) * area, mesh) for b in motions] for a in motions]
    return np.array(rows)


def _tractions(ngs: Any, mesh: Any, motions: list[Any]) -> list[Any]:
    """R G⁻¹ w for the six unit wrenches."""
    weights = np.linalg.inv(_gram(ngs, mesh, motions))
    return [
        sum(
            (w * motion for w, motion in zip(column, motions, strict=True)), start=ngs.CF((0, 0, 0))
        )
        for column in weights.T.tolist()
    ]


def _field(ngs: Any, space: Any, inverse: Any, traction: Any) -> Any:
    load = ngs.LinearForm(space)
    load += traction * space.TestFunction() * ngs.ds(LOADED)
    load.Assemble()
    field = ngs.GridFunction(space)
    field.vec.data = inverse * load.vec
    return field


def _at_vertices(field: Any, count: int) -> Array:
    """Values (vertices, 3); the first shape functions are those of the vertices, as numbered."""
    return np.stack([part.vec.FV().NumPy()[:count] for part in field.components], axis=1)


def _mean_motions(ngs: Any, mesh: Any, motions: list[Any], fields: list[Any]) -> Array:
    """q = G⁻¹ ∫ Rᵀ u dA, one column a field."""
    area = ngs.ds(LOADED)
    moments = [
        [ngs.Integrate(ngs.InnerProduct(motion, field) * area, mesh) for field in fields]
        for motion in motions
    ]
    return np.asarray(np.linalg.solve(_gram(ngs, mesh, motions), np.array(moments)))


def ours(
    mesh: TetMesh, materials: Mapping[str, Elastic], *, direct: bool
) -> tuple[Array, Array, str, float]:
    """Displacements (vertices, 3, 6) of unit wrenches, compliance, method, seconds from mesh."""
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
    return fields.reshape(-1, 3, 6)[: len(model.mesh.points)], compliance, method, seconds


def largest_difference(fields: Array, peer: Array) -> float:
    """Over the largest displacement of each load, the worst of the loads."""
    apart = np.abs(fields - peer).max(axis=(0, 1))
    return float((apart / np.abs(fields).max(axis=(0, 1))).max())


def _dimensionless_inverse(compliance: Array, points: Array) -> Array:
    return dimensionless(np.asarray(np.linalg.inv(compliance)), points)


def compare(tooth: int, size: float, materials: Mapping[str, Elastic]) -> None:
    """Print times and differences for one mesh."""
    mesh = tooth_in_bone(tooth, size)
    model = whole_model(mesh)
    print(f"tooth {tooth}, root size {size:g} mm, {len(model.free)} unknowns, 6 loads")
    peer = solve(model, materials)
    if peer.unknowns != len(model.free):
        raise RuntimeError(f"NGSolve has {peer.unknowns} unknowns; it solves another model")
    print(f"  NGSolve      {peer.seconds:8.2f} s   ({METHOD})", flush=True)
    stiffness = _dimensionless_inverse(peer.compliance, mesh.points)
    ours(mesh, materials, direct=False)  # warm: libraries loaded
    for direct in (False, True):
        fields, compliance, method, seconds = ours(mesh, materials, direct=direct)
        apart = np.abs(_dimensionless_inverse(compliance, mesh.points) - stiffness).max()
        print(f"  this project {seconds:8.2f} s   ({method}), ratio {peer.seconds / seconds:.1f}")
        print(
            f"    largest difference {largest_difference(fields, peer.displacements):.1e} of the "
            f"largest displacement, {apart / np.abs(stiffness).max():.1e} of the 6×6",
            flush=True,
        )


def main(arguments: list[str]) -> None:
    """Print the comparison."""
    # Not above, so that `peers` may import this module.
    from tests.benchmarks.peers import MATERIALS, TOOTH

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
