"""Whole bodies: energy, reciprocity, balance of reactions and loads, change of point."""

from __future__ import annotations

from functools import cache

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.assembly import LayerDilatation
from fem.deformable import linear_system, solve_model
from fem.elastic_model import elastic_model, ligament_projection, stiffness_parts, unit_wrenches
from fem.material import Elastic
from fem.space import QuadraticSpace
from fem.support import Support, rigid_body_support
from fem.sweep_solid import tip_response
from geometry.ligament import ligament_layer
from geometry.mesh import TetMesh
from geometry.surface import sphere_surface
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.continuum_bars import bar, two_shells
from workflow.verification.continuum_elements import bent_wire, solid_of

Array = NDArray[np.float64]

_POINT = np.array([0.2, -0.1, 0.4])
_AWAY = np.array([-1.3, 2.2, 3.1])
_MOTION = np.array([0.01, -0.02, 0.015, 0.004, 0.003, -0.006])
_FORMS = {"exact dilatation, ν = 0.3": 0.3, "projected dilatation, ν = 0.49": 0.49}
_SIZE = np.array([1, 1, 1, 3.0, 3.0, 3.0])  # of the sphere, mm: makes a 6×6 comparable
_SOLVER = "the solver proves a residual below 1e-8; refined, it ends near rounding"


@cache
def _shell() -> TetMesh:
    return ligament_layer(sphere_surface(3.0, 2), 0.3, layers=2)


@cache
def _support(nu: float, away: bool = False) -> Support:
    return rigid_body_support(_shell(), Elastic(0.5, nu), _AWAY if away else _POINT)


def _reciprocity() -> Compared:
    found = {name: _support(nu).asymmetry for name, nu in _FORMS.items()}
    solid = solid_of(bent_wire(2))
    C, _ = tip_response(solid)
    found["bent wire, compliance of its tip"] = np.abs(C - C.T).max() / np.abs(C).max()
    return Compared(list(found.values()), 0.0, 1.0, list(found))


def _change_of_point() -> Compared:
    """With a motion of B from that of A, u_B = u_A + ω × (B − A), ``K_A = Sᵀ K_B S``."""
    rx, ry, rz = _AWAY - _POINT
    S = np.eye(6)
    S[:3, 3:] = -np.array([[0, -rz, ry], [rz, 0, -rx], [-ry, rx, 0]])
    scale = np.outer(_SIZE, _SIZE)
    found = [S.T @ _support(nu, away=True).stiffness @ S / scale for nu in _FORMS.values()]
    expected = [_support(nu).stiffness / scale for nu in _FORMS.values()]
    return Compared(found, expected, float(np.abs(expected).max()))


def _work_of_the_stress() -> Compared:
    computed, expected = [], []
    layer = _shell()
    space = QuadraticSpace.on(layer.points, layer.tets)
    root = space.facet_nodes(layer.facets["root"])
    virtual = np.zeros((space.node_count, 3, 6))
    virtual[root] = space.rigid_motions(_POINT, root)
    strains = space.strains(virtual) * np.array([1, 1, 1, 2, 2, 2])[:, None, None]
    for nu in _FORMS.values():
        support = _support(nu)
        values, volumes = support.basis.values, support.basis.volumes
        work = np.einsum("jceq,kceq,eq->jk", values, strains, volumes, optimize=True)
        size = np.abs(support.stiffness).max()
        computed.append(work / size)
        expected.append(support.stiffness / size)
    return Compared(computed, expected, 1.0)


def _energy_of_the_stress() -> Compared:
    """``∫ ((1 + ν) σ:σ − ν (tr σ)²) / 2E`` of a motion against ``½ qᵀ K q``."""
    support, E, nu = _support(0.3), 0.5, 0.3
    stress = support.basis.combine(_MOTION)
    trace = np.trace(stress, axis1=-2, axis2=-1)
    density = ((1 + nu) * np.sum(stress**2, axis=(-2, -1)) - nu * trace**2) / (2 * E)
    return Compared(
        np.sum(density * support.basis.volumes), 0.5 * _MOTION @ support.stiffness @ _MOTION
    )


def energies_with_the_projection(nu: float) -> tuple[float, float, float]:
    """Strain energy of a motion with Πθ, with θ instead, and ``½ qᵀ K q``, N·mm.

    ``∫ μ e:e + μ θ²/3 + λ (Πθ)²/2`` with e, θ and Πθ read from the stress alone: the mean stress is
    p = λ Πθ + 2μθ/3, and as Π is a projection, Πp = (λ + 2μ/3) Πθ.
    """
    material, support, layer = Elastic(0.5, nu), _support(nu), _shell()
    modes = LayerDilatation.on(QuadraticSpace.on(layer.points, layer.tets)).modes
    lame, shear = material.lame_MPa, material.shear_modulus_MPa
    stress, volumes = support.basis.combine(_MOTION), support.basis.volumes
    mean = np.trace(stress, axis1=-2, axis2=-1) / 3
    shares = np.einsum("pqm,pq->pm", modes, (mean * volumes).reshape(-1, 12))
    projected = np.einsum("pqm,pm->pq", modes, shares).reshape(mean.shape)
    projected /= lame + 2 * shear / 3
    dilatation = (mean - lame * projected) * 3 / (2 * shear)
    deviator = (stress - mean[..., None, None] * np.eye(3)) / (2 * shear)
    density = shear * (np.sum(deviator**2, axis=(-2, -1)) + dilatation**2 / 3)
    return (
        float(np.sum((density + 0.5 * lame * projected**2) * volumes)),
        float(np.sum((density + 0.5 * lame * dilatation**2) * volumes)),
        float(0.5 * _MOTION @ support.stiffness @ _MOTION),
    )


def _energy_with_the_projection() -> Compared:
    ratios = (0.45, 0.499)
    found = [energies_with_the_projection(nu) for nu in ratios]
    computed, _, expected = zip(*found, strict=True)
    return Compared(computed, expected, labels=[f"ν = {nu}" for nu in ratios])


@cache
def _solved_models() -> dict[str, tuple[Array, Array, Array]]:
    """Strain energy, work of the load and reactions of unit wrenches or motions, (6, 6) each."""
    found = {}
    cases = {
        "elastic bar": (bar(2, 6.0, 4), np.array([0.0, 0, 6]), True, False),
        "rigid sphere in two shells": (two_shells(), _POINT, False, True),
    }
    for name, (mesh, point, tooth, bone) in cases.items():
        materials = {
            "tooth": Elastic(30.0, 0.3),
            "ligament": Elastic(1.0, 0.4),
            "cancellous": Elastic(5.0, 0.2),
        }
        model = elastic_model(mesh, point, elastic_tooth=tooth, elastic_bone=bone)
        parts = stiffness_parts(model, materials, ligament_projection(model, materials, "auto"))
        K = parts.matrix(materials["ligament"])
        response = solve_model(model, linear_system(model, K))
        u = response.fields
        forces = (K @ u)[model.held].reshape(-1, 3, 6)
        arms = model.space.nodes[model.held[::3] // 3] - point
        moments = np.cross(arms[:, :, None], forces, axis=1)
        reaction = np.concatenate([forces.sum(axis=0), moments.sum(axis=0)])
        size = np.abs(response.stiffness).max()
        found[name] = (u.T @ (K @ u) / size, response.stiffness / size, reaction / size)
    return found


def _energy_balance() -> Compared:
    pairs = [(energy, work) for energy, work, _ in _solved_models().values()]
    solid = solid_of(bent_wire(2))
    C, u = tip_response(solid)
    K = solid.internal(np.zeros(solid.unknowns))[1]
    pairs.append((u.T @ (K @ u) / np.abs(C).max(), C / np.abs(C).max()))
    computed, expected = zip(*pairs, strict=True)
    return Compared(computed, expected, 1.0, note="bar, shells and the tip of a bent wire")


def _reactions() -> Compared:
    found = list(_solved_models().values())
    computed, expected = [-r for _, _, r in found], [w for _, w, _ in found]
    solid = solid_of(bent_wire(2))
    _, u = tip_response(solid, "full")
    nodes = solid.swept.mesh.doflocs.T
    held = np.flatnonzero(solid.swept.arc_mm == 0)
    forces = (sp.csr_matrix(solid.internal(np.zeros(solid.unknowns))[1]) @ u).reshape(-1, 3, 6)
    arms = nodes[held] - _end_centre(nodes, solid.swept.arc_mm)
    moments = np.cross(arms[:, :, None], forces[held], axis=1)
    computed.append(-np.concatenate([forces[held].sum(axis=0), moments.sum(axis=0)]))
    expected.append(np.eye(6))
    return Compared(computed, expected, 1.0, note="bar, shells and the held end of a bent wire")


def _end_centre(nodes: Array, arc: Array) -> Array:
    last = nodes[np.isclose(arc, arc.max())]
    return np.asarray(0.5 * (last.min(axis=0) + last.max(axis=0)))


def _unit_wrenches() -> Compared:
    layer = _shell()
    space = QuadraticSpace.on(layer.points, layer.tets)
    forces = unit_wrenches(space, layer.facets["root"][:40], _POINT).reshape(-1, 3, 6)
    moments = np.cross((space.nodes - _POINT)[:, :, None], forces, axis=1)
    return Compared(np.concatenate([forces.sum(axis=0), moments.sum(axis=0)]), np.eye(6), 1.0)


BODY_CHECKS = (
    Check(
        id="reciprocity_6x6",
        what="asymmetry of the 6×6 of a layer, and of a wire's tip, over its largest entry",
        code="fem.support.rigid_body_support, fem.sweep_solid.tip_response",
        kind=Kind.CODE,
        source="betti",
        place="work of one load through the motion of another",
        tolerance=1e-10,
        reason=_SOLVER,
        compute=_reciprocity,
    ),
    Check(
        id="change_of_point_6x6",
        what="6×6 about one point from that about another, over its largest entry",
        code="fem.support.rigid_body_support",
        kind=Kind.CODE,
        source="statics",
        place="K_A = Sᵀ K_B S with u_B = u_A + ω × AB",
        tolerance=1e-10,
        reason=_SOLVER,
        compute=_change_of_point,
    ),
    Check(
        id="stress_does_the_reactions_work",
        what="∫ σ(q):ε(v) dV against q K r for a field v that no solution is",
        code="fem.support.stress_basis",
        kind=Kind.CODE,
        source="clapeyron",
        place="principle of virtual work",
        tolerance=1e-9,
        reason=_SOLVER,
        compute=_work_of_the_stress,
    ),
    Check(
        id="energy_of_the_stress",
        what="complementary energy of the ligament's stress, N·mm",
        code="fem.support.StressBasis.combine",
        kind=Kind.CODE,
        source="clapeyron",
        place="½ ∫ σ:ε = ½ qᵀ K q",
        tolerance=1e-9,
        reason=_SOLVER,
        compute=_energy_of_the_stress,
    ),
    Check(
        id="energy_with_the_projection",
        what="strain energy from the stress with projected dilatation, N·mm",
        code="fem.support.StressBasis.combine, fem.assembly.LayerDilatation",
        kind=Kind.CODE,
        source="clapeyron",
        place="∫ μ e:e + μ θ²/3 + λ (Πθ)²/2 = ½ qᵀ K q",
        tolerance=1e-9,
        reason=_SOLVER,
        compute=_energy_with_the_projection,
    ),
    Check(
        id="energy_balance",
        what="strain energy against the load's work, six loads and their pairs",
        code="fem.deformable.solve_model, fem.sweep_solid.tip_response",
        kind=Kind.CODE,
        source="clapeyron",
        place="uᵀ K u = f · u",
        tolerance=1e-8,
        reason="the solver's residual",
        compute=_energy_balance,
    ),
    Check(
        id="reactions_equal_loads",
        what="force and moment of the reactions against the load",
        code="fem.deformable.solve_model, fem.sweep_solid.tip_response",
        kind=Kind.CODE,
        source="statics",
        place="sums of forces and of moments about the point of the load",
        tolerance=1e-8,
        reason="the solver's residual",
        compute=_reactions,
    ),
    Check(
        id="unit_wrenches",
        what="force and moment of the nodal forces of six unit wrenches",
        code="fem.elastic_model.unit_wrenches",
        kind=Kind.CODE,
        source="statics",
        place="sums of forces and of moments",
        tolerance=1e-12,
        reason="sums of a hundred numbers in double precision",
        compute=_unit_wrenches,
    ),
)
