"""The solid of finite rotation: objectivity, forces and tangent by finite differences."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.material import Elastic
from fem.sweep_solid import WireSolid
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.continuum_elements import bent_wire, solid_of

Array = NDArray[np.float64]

MATERIAL = Elastic(2.6, 0.3)
_CODE = "fem.sweep_solid.WireSolid.internal"


@cache
def _bent() -> WireSolid:
    return solid_of(bent_wire(2))


def finite_turn() -> Array:
    """A turn of 1.4 rad about a skew axis by Rodrigues' formula."""
    vector = np.array([0.7, -1.1, 0.4])
    angle = float(np.linalg.norm(vector))
    cross = np.cross(np.eye(3), vector / angle).T
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross)


def _turned(solid: WireSolid, u: Array) -> Array:
    """Displacements (3 n,) followed by the finite turn and a shift."""
    x = solid.swept.mesh.doflocs.T
    return ((x + u.reshape(-1, 3)) @ finite_turn().T - x + [1.0, 2.0, 3.0]).ravel()


def _deformation() -> Array:
    """Displacements of a few percent of the wire's size, (3 n,)."""
    return np.random.default_rng(1).normal(scale=0.01, size=_bent().unknowns)


def green_strain(slope: Array) -> Array:
    """``E = (∇u + ∇uᵀ + ∇uᵀ ∇u)/2``."""
    transposed = np.swapaxes(slope, -1, -2)
    return np.asarray(0.5 * (slope + transposed + transposed @ slope))


def _energy(solid: WireSolid, u: Array) -> float:
    """``∫ λ/2 (tr E)² + μ E:E`` by the elements' own quadrature."""
    lame, shear = solid.material.lame_MPa, solid.material.shear_modulus_MPa
    local = u.reshape(-1, 3)[solid.nodes]
    E = green_strain(np.einsum("eai,eqaj->eqij", local, solid.gradients, optimize=True))
    density = 0.5 * lame * np.trace(E, axis1=2, axis2=3) ** 2 + shear * np.sum(E**2, axis=(2, 3))
    return float(np.sum(solid.volumes * density))


def _turn_strains_nothing() -> Compared:
    solid = _bent()
    u = _turned(solid, np.zeros(solid.unknowns))
    forces, K = solid.internal(u)
    volume = solid.volumes.sum()
    return Compared(
        [np.abs(forces).max() / abs(K).max(), _energy(solid, u) / volume],
        0.0,
        1.0,
        ["nodal forces over the matrix, mm", "energy over volume, MPa"],
    )


def _answer_turns() -> Compared:
    solid, u, turn = _bent(), _deformation(), finite_turn()
    forces, K = solid.internal(u)
    turned_forces, turned_K = solid.internal(_turned(solid, u))
    T = sp.kron(sp.eye(solid.unknowns // 3), turn)
    return Compared(
        [
            np.abs(turned_forces - T @ forces).max() / np.abs(forces).max(),
            abs(turned_K - sp.csr_matrix(T @ K @ T.T)).max() / abs(K).max(),
            _energy(solid, _turned(solid, u)) / _energy(solid, u) - 1,
        ],
        0.0,
        1.0,
        ["nodal forces", "tangent", "energy"],
    )


def _slope(function: Callable[[float], Array], step: float = 1e-2) -> Array:
    """Five-point difference at zero: exact for polynomials up to the fourth degree."""
    near = function(step) - function(-step)
    far = function(2 * step) - function(-2 * step)
    return (8 * near - far) / (12 * step)


def _forces_from_energy() -> Compared:
    solid, u = _bent(), _deformation()
    forces, _ = solid.internal(u)
    directions = np.random.default_rng(2).normal(size=(8, solid.unknowns))

    def energies(step: float) -> Array:
        return np.array([_energy(solid, u + step * d) for d in directions])

    slopes = _slope(energies)
    return Compared(directions @ forces, slopes, float(np.abs(slopes).max()))


def _tangent_from_forces() -> Compared:
    solid, u = _bent(), _deformation()
    _, K = solid.internal(u)
    direction = np.random.default_rng(3).normal(size=solid.unknowns)
    slope = _slope(lambda s: solid.internal(u + s * direction)[0])
    return Compared(K @ direction, slope, float(np.abs(slope).max()))


def _tangent_symmetry() -> Compared:
    solid = _bent()
    K = solid.internal(_turned(solid, _deformation()))[1].tocsr()
    return Compared(abs(K - K.T).max() / abs(K).max(), 0.0, 1.0)


ROTATION_CHECKS = (
    Check(
        id="finite_turn_strains_nothing",
        what="forces and energy of a bent wire turned by 1.4 rad",
        code=_CODE,
        kind=Kind.CODE,
        source="objectivity",
        place="a rigid turn leaves Green's strain zero",
        tolerance=1e-12,
        reason="a thousand products in double precision",
        compute=_turn_strains_nothing,
    ),
    Check(
        id="answer_turns_with_the_body",
        what="forces, tangent and energy of a deformed wire before and after a turn",
        code=_CODE,
        kind=Kind.CODE,
        source="objectivity",
        place="f(R(x + u) − x) = R f(u)",
        tolerance=1e-10,
        reason="strains of a percent are differences of a turn of order one: two digits are lost",
        compute=_answer_turns,
    ),
    Check(
        id="forces_from_energy",
        what="internal forces against finite differences of the strain energy",
        code=_CODE,
        kind=Kind.CODE,
        source="calculus",
        place="five-point differences in eight directions, exact for the energy's fourth degree",
        tolerance=1e-10,
        reason="rounding of the energy over the step",
        compute=_forces_from_energy,
    ),
    Check(
        id="tangent_from_forces",
        what="tangent against finite differences of the internal forces",
        code=_CODE,
        kind=Kind.CODE,
        source="calculus",
        place="five-point differences in one direction, exact for the forces' third degree",
        tolerance=1e-10,
        reason="rounding of the forces over the step",
        compute=_tangent_from_forces,
    ),
    Check(
        id="tangent_symmetry",
        what="asymmetry of the tangent of a deformed and turned wire over its largest entry",
        code=_CODE,
        kind=Kind.CODE,
        source="betti",
        place="second derivative of an energy",
        tolerance=1e-13,
        reason="a hundred products in double precision per entry",
        compute=_tangent_symmetry,
    ),
)
