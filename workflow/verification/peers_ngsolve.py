"""The same tooth and the same wire by NGSolve, a finite-element library for general use.

NGSolve gets the vertices and elements of the very mesh and does all else in its own way: its
hierarchical shape functions of order 2, its quadrature, its sparse Cholesky factorisation, and the
load as the traction itself, integrated there. On a tooth's crown that is

    ``t(x) = R(x) G⁻¹ w``,  ``R(x) = [1, −(x − O)×]``,  ``G = ∫ Rᵀ R dA``;

mean motions are ``q = G⁻¹ ∫ Rᵀ u dA``. No nodal force, matrix or number of a node comes from this
project. The ligament's dilatation is taken as it is, not projected.

A bent wire's elements are curved: NGSolve's mesh has their corners, and a deformation field of
order 2 carries each element to its 27 nodes.
"""

from __future__ import annotations

import importlib
import importlib.util
import platform
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from skfem import ElementHex2

from fem.elastic_model import ElasticModel
from fem.kernels import threads
from fem.material import Elastic
from fem.sweep_solid import WireSolid
from geometry.wire_path import SweptWire
from workflow.verification.peers_models import Answer

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

LOADED, HELD = "loaded", "held"
METHOD = "sparsecholesky"
MISSING = "NGSolve is not installed; `./workflow/test` installs it with all that the checks need"

# Corners of the unit cube in NGSolve's order.
_CUBE = np.array(
    [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]]
)


@dataclass(frozen=True)
class PeerAnswer(Answer):
    """What NGSolve gives for six unit wrenches.

    Attributes
    ----------
    unknowns
        Degrees of freedom that are not held.
    seconds
        Wall time from the handing over of the mesh to the displacements.
    """

    unknowns: int
    seconds: float


def available() -> bool:
    """Whether NGSolve is installed."""
    return importlib.util.find_spec("ngsolve") is not None


def has_wheel() -> bool:
    """Whether NGSolve is offered for this Python and machine, as `pyproject.toml` has it."""
    known = platform.machine() in ("x86_64", "AMD64") or sys.platform == "darwin"
    return known and sys.version_info < (3, 15)


def solve_tooth(
    model: ElasticModel, materials: Mapping[str, Elastic], loaded: str, held: str
) -> PeerAnswer:
    """Displacements and mean motions of six unit wrenches on an elastic tooth.

    Parameters
    ----------
    model
    materials
        By region.
    loaded, held
        Facet sets of the model's mesh.

    Raises
    ------
    ModuleNotFoundError
        If NGSolve is not installed.
    ValueError
        If the mesh lacks a facet set.
    """
    ngs = _library("ngsolve")
    part = model.mesh
    for name in (loaded, held):
        if name not in part.facets:
            raise ValueError(f"the mesh has no facet set {name!r}; tooth and bone must be elastic")
    cells = {name: part.region_tets(name) for name in part.region_names}
    ngs.SetNumThreads(threads())
    with ngs.TaskManager():
        started = time.perf_counter()
        mesh = ngs.Mesh(_mesh(part.points, cells, part.facets[loaded], part.facets[held]))
        motions = _rigid_motions(ngs, model.point)
        weights = np.asarray(np.linalg.inv(_moments(ngs, mesh, motions, motions)))
        return _answer(ngs, mesh, materials, _combined(ngs, motions, weights), started)


def solve_wire(solid: WireSolid, path: SweptWire) -> PeerAnswer:
    """Displacements at vertices and mean motions of six unit wrenches on a wire's last section.

    The tractions are those whose work gives the mean displacement and rotation of
    `fem.sweep_solid`: F/A, and for a moment along the section's axes e₁, e₂, e₃

        ``(e₁ × r)/(I₂ + I₃)``,  ``(r·e₃) e₁/I₂``,  ``−(r·e₂) e₁/I₃``.
    """
    ngs = _library("ngsolve")
    swept = solid.swept
    corners = np.array([_reference_node(corner) for corner in _CUBE])
    skmesh, places = swept.mesh, np.asarray(swept.mesh.doflocs.T)
    vertices = places[: skmesh.nvertices]
    ends = [_rings(vertices, skmesh.facets[:, facets].T) for facets in (swept.last, swept.first)]
    with ngs.TaskManager():
        started = time.perf_counter()
        mesh = ngs.Mesh(_mesh(vertices, {"wire": solid.nodes[:, corners]}, *ends))
        mesh.SetDeformation(_curved(ngs, mesh, solid.nodes, places))
        tractions = _end_tractions(ngs, mesh, np.asarray(path.points[-1]), path.axes[-1])
        return _answer(ngs, mesh, {"wire": solid.material}, tractions, started)


def _answer(
    ngs: Any, mesh: Any, materials: Mapping[str, Elastic], tractions: list[Any], started: float
) -> PeerAnswer:
    space = ngs.VectorH1(mesh, order=2, dirichlet=HELD)
    inverse = _stiffness(ngs, mesh, space, materials).mat.Inverse(space.FreeDofs(), METHOD)
    fields = [_field(ngs, space, inverse, load) for load in tractions]
    displacements = np.stack([_at_vertices(field, mesh.nv) for field in fields], axis=2)
    seconds = time.perf_counter() - started
    compliance = _moments(ngs, mesh, tractions, fields)
    return PeerAnswer(displacements, compliance, sum(space.FreeDofs()), seconds)


def _library(name: str) -> Any:
    if not available():
        raise ModuleNotFoundError(MISSING)
    return importlib.import_module(name)


def _mesh(points: Array, cells: Mapping[str, Ints], loaded: Ints, held: Ints) -> Any:
    """Netgen's mesh of the vertices, the elements by region, and the two facet sets that matter."""
    meshing = _library("netgen.meshing")
    mesh = meshing.Mesh(dim=3)
    mesh.AddPoints(np.ascontiguousarray(points))
    for index, (name, elements) in enumerate(cells.items(), start=1):
        data = np.ascontiguousarray(elements, dtype=np.int32)
        mesh.AddElements(dim=3, index=index, data=data, base=0)
        mesh.SetMaterial(index, name)
    for index, (name, facets) in enumerate(((LOADED, loaded), (HELD, held)), start=1):
        mesh.Add(meshing.FaceDescriptor(surfnr=index, domin=1, domout=0, bc=index))
        mesh.SetBCName(index - 1, name)
        data = np.ascontiguousarray(facets, dtype=np.int32)
        mesh.AddElements(dim=2, index=index, data=data, base=0)
    return mesh


def _stiffness(ngs: Any, mesh: Any, space: Any, materials: Mapping[str, Elastic]) -> Any:
    """``∫ λ div u div v + 2 μ ε(u) : ε(v) dV``."""
    constants = {name: _lame(materials[name]) for name in mesh.GetMaterials()}
    lame = mesh.MaterialCF({name: first for name, (first, _) in constants.items()})
    shear = mesh.MaterialCF({name: second for name, (_, second) in constants.items()})
    u, v = space.TnT()
    strains = ngs.InnerProduct(ngs.Sym(ngs.Grad(u)), ngs.Sym(ngs.Grad(v)))
    form = ngs.BilinearForm(space, symmetric=True)
    form += (lame * ngs.div(u) * ngs.div(v) + 2 * shear * strains) * ngs.dx
    return form.Assemble()


def _lame(material: Elastic) -> tuple[float, float]:
    """λ and μ, worked out here again so that nothing but E and ν is taken over."""
    E, nu = material.youngs_modulus_MPa, material.poisson_ratio
    return nu * E / (1 - nu - 2 * nu**2), 0.5 * E / (1 + nu)


def _rigid_motions(ngs: Any, point: Array) -> list[Any]:
    """Columns of R: unit translations, then unit rotations about the point."""
    axes = [ngs.CF(tuple(row)) for row in np.eye(3).tolist()]
    arm = ngs.CF((ngs.x, ngs.y, ngs.z)) - ngs.CF(tuple(point.tolist()))
    return [*axes, *(ngs.Cross(axis, arm) for axis in axes)]


def _combined(ngs: Any, fields: list[Any], weights: Array) -> list[Any]:
    """Sums of some vector fields, one for each column of weights."""
    zero = ngs.CF((0, 0, 0))
    return [
        sum((w * field for w, field in zip(column, fields, strict=True)), start=zero)
        for column in weights.T.tolist()
    ]


def _end_tractions(ngs: Any, mesh: Any, centre: Array, axes: Array) -> list[Any]:
    """Tractions of unit forces and moments along the global axes on the last section."""
    along, width, height = (ngs.CF(tuple(axis)) for axis in axes.T.tolist())
    arm = ngs.CF((ngs.x, ngs.y, ngs.z)) - ngs.CF(tuple(centre.tolist()))
    y, z, end = ngs.InnerProduct(arm, width), ngs.InnerProduct(arm, height), ngs.ds(LOADED)
    area, I_2, I_3 = (float(ngs.Integrate(f * end, mesh)) for f in (ngs.CF(1), z * z, y * y))
    own = [ngs.Cross(along, arm) / (I_2 + I_3), z * along / I_2, -y * along / I_3]
    forces = [ngs.CF(tuple(row)) / area for row in np.eye(3).tolist()]
    return [*forces, *_combined(ngs, own, axes.T)]


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


def _moments(ngs: Any, mesh: Any, weights: list[Any], fields: list[Any]) -> Array:
    """∫ w · u dA over the loaded facets, a row for each weight and a column for each field."""
    area = ngs.ds(LOADED)
    products = [
        [ngs.Integrate(ngs.InnerProduct(weight, field) * area, mesh) for field in fields]
        for weight in weights
    ]
    return np.array(products)


def _reference_node(place: Array) -> int:
    """Which of the 27 nodes lies at a place of the unit cube."""
    return int(np.linalg.norm(ElementHex2.doflocs - place, axis=1).argmin())


def _rings(points: Array, facets: Ints) -> Ints:
    """The corners (k, 4) of plane quadrilaterals, in order around each."""
    corners = points[facets]
    arms = corners - corners.mean(axis=1, keepdims=True)
    first = arms[:, 0] / np.linalg.norm(arms[:, 0], axis=1, keepdims=True)
    normal = np.cross(first, arms[:, 1] + 0.1 * arms[:, 2])
    second = np.cross(normal / np.linalg.norm(normal, axis=1, keepdims=True), first)
    angle = np.arctan2(np.einsum("fki,fi->fk", arms, second), np.einsum("fki,fi->fk", arms, first))
    return np.take_along_axis(facets, np.argsort(angle, axis=1), axis=1)


def _curved(ngs: Any, mesh: Any, nodes: Ints, places: Array) -> Any:
    """Deformation of order 2 that carries straight hexahedra to their 27 nodes."""
    shift = ngs.GridFunction(ngs.VectorH1(mesh, order=2))
    scalar = ngs.H1(mesh, order=2)
    reference = ElementHex2.doflocs
    corners = [_reference_node(corner) for corner in _CUBE]
    weights = np.prod(
        np.where(_CUBE[None] == 1, reference[:, None], 1 - reference[:, None]), axis=2
    )
    for number, element in enumerate(mesh.Elements(ngs.VOL)):
        finite = scalar.GetFE(ngs.ElementId(element))
        shapes = np.array([finite.CalcShape(*point.tolist()).NumPy() for point in reference])
        own = places[nodes[number]]
        values = np.linalg.solve(shapes, own - weights @ own[corners])
        dofs = list(scalar.GetDofNrs(ngs.ElementId(element)))
        for part, column in zip(shift.components, values.T, strict=True):
            part.vec.FV().NumPy()[dofs] = column
    return shift
