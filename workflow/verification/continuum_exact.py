"""What the elements have to meet to rounding: exact fields, symmetry, free motions, objectivity."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from skfem import Basis, ElementTetP2, ElementVector, MeshTet

from fem.assembly import Assembler
from fem.elasticity import elastic_energy
from fem.material import Elastic
from fem.rod import RodState, assemble, internal_forces, passive_rod
from fem.space import QuadraticSpace
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.continuum_elements import (
    FORMULATIONS,
    HEXAHEDRA,
    PROJECTED,
    TETRAHEDRA,
    WIRE,
    Body,
    cube,
    moved_along_the_layers,
    randomly_moved,
)
from workflow.verification.continuum_fields import (
    Field,
    elliptic_torsion,
    hanging_column,
    linear_field,
    nodal_load,
    pure_bending,
    solved,
    stress_load,
    stress_MPa,
)

Array = NDArray[np.float64]

_RATIOS = (0.3, 0.499)
_CODE = (
    "fem.assembly.Assembler.stiffness, fem.assembly.LayerDilatation.stiffness, "
    "fem.elasticity.elastic_energy, fem.sweep_solid.WireSolid.internal"
)
_ROUNDING = "a few thousand operations in double precision, times the matrix's condition"


def _unit_shear(nu: float) -> Elastic:
    return Elastic(2 * (1 + nu), nu)


@cache
def _cube(formulation: str, *, along: bool = False) -> Body:
    return cube(formulation, 3, moved_along_the_layers if along else randomly_moved)


def _miss(body: Body, field: Field, material: Elastic) -> float:
    """Largest miss of the inner displacements, their boundary values given, over the field."""
    samples = body.sampled(4)
    load = nodal_load(body, samples, field.force(samples.places))
    exact = field.u(body.nodes)
    u = solved(body, body.stiffness(material), load, exact)
    return float(np.abs(u - exact).max() / np.abs(exact).max())


def _fields_met(cases: dict[str, tuple[Body, Callable[[Elastic], Field]]]) -> Compared:
    found = {
        f"{name}, ν = {nu}": _miss(body, field(_unit_shear(nu)), _unit_shear(nu))
        for name, (body, field) in cases.items()
        for nu in _RATIOS
    }
    return Compared(list(found.values()), 0.0, 1.0, list(found))


def _patch_test() -> Compared:
    return _fields_met({name: (_cube(name), lambda _: linear_field()) for name in FORMULATIONS})


def _bending(material: Elastic) -> Field:
    return pure_bending(material.poisson_ratio)


def _torsion(_: Elastic) -> Field:
    return elliptic_torsion()


def _quadratic_fields() -> Compared:
    return _fields_met(
        {
            f"{what}, {name}": (_cube(name), field)
            for name in (TETRAHEDRA, HEXAHEDRA, WIRE)
            for what, field in (
                ("pure bending", _bending),
                ("elliptic torsion", _torsion),
                ("hanging column", hanging_column),
            )
        }
    )


def _quadratic_fields_along_layers() -> Compared:
    layers = _cube(PROJECTED, along=True)
    return _fields_met(
        {
            "pure bending": (layers, _bending),
            "elliptic torsion": (layers, _torsion),
            "elliptic torsion, layers distorted too": (_cube(PROJECTED), _torsion),
            "hanging column": (layers, hanging_column),
        }
    )


def _nodal_forces() -> Compared:
    """``K u`` against ``∫ σ ∇N`` at all nodes, those of the surface too."""
    found = {}
    for name in FORMULATIONS:
        fields = {"linear field": lambda _: linear_field()}
        if name != PROJECTED:
            fields |= {"pure bending": _bending, "elliptic torsion": _torsion}
        for what, field in fields.items():
            found[f"{what}, {name}"] = _forces_missed(_cube(name), field(_unit_shear(0.45)))
    return Compared(list(found.values()), 0.0, 1.0, list(found))


def _forces_missed(body: Body, field: Field) -> float:
    material, samples = _unit_shear(0.45), body.sampled(6)
    expected = stress_load(body, samples, stress_MPa(field.gradient(samples.places), material))
    forces = (body.stiffness(material) @ field.u(body.nodes).ravel()).reshape(-1, 3)
    return float(np.abs(forces - expected).max() / np.abs(expected).max())


def _symmetry() -> Compared:
    found = []
    for name in FORMULATIONS:
        K = sp.csr_matrix(_cube(name).stiffness(_unit_shear(0.45)))
        found.append(float(abs(K - K.T).max() / abs(K).max()))
    return Compared(found, 0.0, 1.0, FORMULATIONS)


def _rod_tangent() -> Array:
    """Tangent of an arc of five elements, free in space."""
    turns = np.linspace(0, 1.2, 6)
    points = np.stack([np.sin(turns), 1 - np.cos(turns), 0 * turns], axis=1)
    cos, sin, zero = np.cos(turns), np.sin(turns), 0 * turns
    rows = [[cos, -sin, zero], [sin, cos, zero], [zero, zero, zero + 1]]
    axes = np.array(rows).transpose(2, 0, 1)
    rod = passive_rod(points, axes, np.full(5, 0.24), np.array([90.0, 40, 40, 3, 5, 9]))
    return np.asarray(assemble(*internal_forces(rod, RodState(points, axes)))[1].toarray())


def _zero_modes() -> Compared:
    found = {}
    for name in FORMULATIONS:
        body = cube(name, 2, randomly_moved)
        for nu in _RATIOS:
            found[f"{name}, ν = {nu}"] = _soft_modes(body.stiffness(_unit_shear(nu)).toarray())
    found["rod"] = _soft_modes(_rod_tangent())
    return Compared(list(found.values()), 6, 1.0, list(found))


def _soft_modes(K: Array) -> int:
    values = np.linalg.eigvalsh(0.5 * (K + K.T))
    return int(np.sum(values < 1e-10 * values.max()))


def _free_motions() -> Compared:
    found = []
    for name in FORMULATIONS:
        body = _cube(name)
        K = sp.csr_matrix(body.stiffness(_unit_shear(0.499)))
        motions = _rigid_motions(body.nodes)
        found.append(float(np.abs(K @ motions).max() / abs(K).max()))
    return Compared(found, 0.0, 1.0, FORMULATIONS)


def _rigid_motions(nodes: Array) -> Array:
    """Three translations and ``e × x`` for three axes, (3 n, 6)."""
    unit = np.eye(3)
    columns = [np.broadcast_to(e, nodes.shape) for e in unit] + [np.cross(e, nodes) for e in unit]
    return np.stack([c.ravel() for c in columns], axis=1)


def _turned_matrix() -> Compared:
    """Turn the mesh and compare with ``T K Tᵀ``."""
    axis = np.array([0.48, -0.6, 0.64])
    cross = np.cross(np.eye(3), axis).T
    turn = np.eye(3) + np.sin(1.1) * cross + (1 - np.cos(1.1)) * cross @ cross
    found = []
    for name in FORMULATIONS:
        plain = cube(name, 2, randomly_moved)
        turned = cube(name, 2, lambda x: randomly_moved(x) @ turn.T)
        T = sp.kron(sp.eye(len(plain.nodes)), turn)
        material = _unit_shear(0.45)
        expected = sp.csr_matrix(T @ plain.stiffness(material) @ T.T)
        difference = abs(sp.csr_matrix(turned.stiffness(material)) - expected).max()
        found.append(float(difference / abs(expected).max()))
    return Compared(found, 0.0, 1.0, FORMULATIONS)


def _matrix_of_another_library() -> Compared:
    mesh = MeshTet.init_tensor(*(np.linspace(0, 1, n) for n in (4, 5, 3)))
    points, material = randomly_moved(mesh.p.T), Elastic(2.0, 0.3)
    space = QuadraticSpace.on(points, mesh.t.T)
    basis = Basis(MeshTet(points.T.copy(), mesh.t), ElementVector(ElementTetP2()), intorder=4)
    K = elastic_energy.assemble(basis, lame=material.lame_MPa, shear=material.shear_modulus_MPa)
    order = np.empty(basis.N, dtype=int)
    for dofs in (basis.nodal_dofs, basis.edge_dofs):
        _, node = cKDTree(space.nodes).query(basis.doflocs[:, dofs[0]].T)
        for axis in range(3):
            order[3 * node + axis] = dofs[axis]
    expected = K.tocsr()[order][:, order].toarray()
    own = Assembler.on(space).stiffness(material.lame_MPa, material.shear_modulus_MPa).toarray()
    return Compared(own, expected, float(np.abs(expected).max()))


EXACT_CHECKS = (
    Check(
        id="patch_test",
        what="inner displacements under a linear field, miss over the largest displacement",
        code=_CODE,
        kind=Kind.CODE,
        source="irons",
        place="patch test on distorted meshes; check values 0.1",
        tolerance=1e-12,
        reason=_ROUNDING,
        compute=_patch_test,
    ),
    Check(
        id="quadratic_fields",
        what="inner displacements in bending, torsion and hanging, miss over the largest",
        code=_CODE,
        kind=Kind.CODE,
        source="exact",
        place="pure bending, torsion of an ellipse, hanging column; distorted meshes",
        tolerance=1e-12,
        reason=_ROUNDING,
        compute=_quadratic_fields,
    ),
    Check(
        id="quadratic_fields_along_layers",
        what="the same where the dilatation varies along the layers only or not at all",
        code="fem.assembly.LayerDilatation.stiffness",
        kind=Kind.CODE,
        source="exact",
        place="pure bending, torsion of an ellipse, hanging column; layers of prisms",
        tolerance=1e-12,
        reason=_ROUNDING,
        compute=_quadratic_fields_along_layers,
    ),
    Check(
        id="nodal_forces",
        what="nodal forces of exact fields, those of the surface too, miss over the largest",
        code=_CODE,
        kind=Kind.CODE,
        source="exact",
        place="∫ σ ∇N of linear fields, bending and torsion; distorted meshes, ν = 0.45",
        tolerance=1e-12,
        reason=_ROUNDING,
        compute=_nodal_forces,
    ),
    Check(
        id="matrix_symmetry",
        what="asymmetry of the stiffness matrix over its largest entry",
        code=_CODE,
        kind=Kind.CODE,
        source="betti",
        place="reciprocity of a hyperelastic body",
        tolerance=1e-14,
        reason="a few dozen products in double precision per entry",
        compute=_symmetry,
    ),
    Check(
        id="zero_modes",
        what="number of motions of an unsupported body that store no energy",
        code=_CODE + ", fem.rod.internal_forces",
        kind=Kind.CODE,
        source="exact",
        place="three translations and three rotations; eigenvalues of the whole matrix",
        tolerance=0.0,
        reason="a whole number",
        compute=_zero_modes,
    ),
    Check(
        id="free_motions",
        what="nodal forces of the six rigid motions over the largest entry of the matrix, mm",
        code=_CODE,
        kind=Kind.CODE,
        source="objectivity",
        place="infinitesimal rotations",
        tolerance=1e-13,
        reason="a hundred products in double precision per entry",
        compute=_free_motions,
    ),
    Check(
        id="turned_matrix",
        what="stiffness matrix of a turned body against the turned matrix",
        code=_CODE,
        kind=Kind.CODE,
        source="objectivity",
        place="isotropy: K(R x) = R K(x) Rᵀ",
        tolerance=1e-12,
        reason="the turned places carry rounding, enlarged by the elements' inverse size",
        compute=_turned_matrix,
    ),
    Check(
        id="tetrahedra_by_scikit_fem",
        what="stiffness matrix of distorted quadratic tetrahedra, entry by entry",
        code="fem.assembly.Assembler.stiffness",
        kind=Kind.PEER,
        source="scikit_fem",
        place="ElementTetP2 with a quadrature of order 4",
        tolerance=1e-13,
        reason="two sums of the same terms in double precision",
        compute=_matrix_of_another_library,
    ),
)
