"""Displacement fields that elasticity knows exactly, their loads, and how far a solution is off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.material import Elastic
from fem.solver import solve_spd
from workflow.verification.continuum_elements import Body, Samples

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Field:
    """A displacement field and the body force that it asks for.

    Attributes
    ----------
    u
        Displacements (..., 3) at places (..., 3), mm.
    gradient
        ∂u_i/∂x_j there, (..., 3, 3).
    force
        Body force there, (..., 3), N/mm³.
    """

    u: Callable[[Array], Array]
    gradient: Callable[[Array], Array]
    force: Callable[[Array], Array]


def _nothing(x: Array) -> Array:
    return np.zeros_like(x)


def linear_field() -> Field:
    """A general linear field, rotation included."""
    slope = np.array([[0.1, 0.2, -0.3], [0.0, 0.4, 0.1], [0.5, -0.2, 0.3]])

    def gradient(x: Array) -> Array:
        return np.broadcast_to(slope, (*x.shape, 3))

    return Field(lambda x: x @ slope.T + [0.2, -0.1, 0.3], gradient, _nothing)


def quadratic_field(coefficients: Array, force: Array) -> Field:
    """``u_i = x·C_i·x / 2`` with symmetric C_i, (3, 3, 3), and a constant body force (3,)."""
    C = 0.5 * (coefficients + coefficients.transpose(0, 2, 1))
    return Field(
        lambda x: 0.5 * np.einsum("ijk,...j,...k->...i", C, x, x),
        lambda x: np.einsum("ijk,...k->...ij", C, x),
        lambda x: np.broadcast_to(force, x.shape),
    )


def _coefficients(**terms: float) -> Array:
    """Tensor C of terms such as ``z_xy=2``: twice the factor of xy in u_z, as in ½ x·C·x."""
    C = np.zeros((3, 3, 3))
    for name, value in terms.items():
        i, j, k = ("xyz".index(name[place]) for place in (0, 2, 3))
        C[i, j, k] = value
    return C


def pure_bending(nu: float) -> Field:
    """``u = ((z² + ν(x² − y²))/2, ν x y, −x z)``: curvature 1, σ_zz = −E x alone."""
    C = _coefficients(x_zz=1, x_xx=nu, x_yy=-nu, y_xy=2 * nu, z_xz=-2)
    return quadratic_field(C, np.zeros(3))


def elliptic_torsion(a: float = 2.0, b: float = 1.0) -> Field:
    """``u = (−y z, x z, −(a² − b²)/(a² + b²) x y)``: twist 1, without dilatation."""
    warp = (a**2 - b**2) / (a**2 + b**2)
    return quadratic_field(_coefficients(x_yz=-2, y_xz=2, z_xy=-2 * warp), np.zeros(3))


def hanging_column(material: Elastic) -> Field:
    """``u = (−ν x z, −ν y z, (z² + ν(x² + y²))/2) / E`` under a weight of 1 N/mm³ along −z."""
    nu = material.poisson_ratio
    C = _coefficients(x_xz=-2 * nu, y_yz=-2 * nu, z_zz=1, z_xx=nu, z_yy=nu)
    return quadratic_field(C / material.youngs_modulus_MPa, np.array([0.0, 0.0, -1.0]))


_PHASE = np.array([0.2, 0.1, -0.15])


def cosine_field(amplitudes: Array, material: Elastic) -> Field:
    """``u_i = a_i s_i c_j c_k`` with ``s_i = sin π(x_i + δ_i)``, c the cosines.

    ``Δu = −3π² u``, ``div u = π Σa ccc`` and ``grad div u = −π² Σa (s_i c_j c_k)``, hence
    ``f = 3π² μ u + (λ + μ) π² Σa (s_i c_j c_k)``.
    """
    lame, shear = material.lame_MPa, material.shear_modulus_MPa
    force = 3 * np.pi**2 * shear * amplitudes + (lame + shear) * np.pi**2 * amplitudes.sum()

    def waves(x: Array) -> tuple[Array, Array]:
        angle = np.pi * (x + _PHASE)
        return np.sin(angle), np.cos(angle)

    def products(s: Array, c: Array) -> Array:
        return np.stack([s[..., i] * c[..., i - 1] * c[..., i - 2] for i in range(3)], axis=-1)

    def gradient(x: Array) -> Array:
        s, c = waves(x)
        slopes = np.empty((*x.shape, 3))
        for i in range(3):
            for j in range(3):
                other = 3 - i - j
                slopes[..., i, j] = (
                    np.prod(c, axis=-1) if i == j else -s[..., i] * s[..., j] * c[..., other]
                )
        return np.pi * amplitudes[:, None] * slopes

    return Field(
        lambda x: amplitudes * products(*waves(x)),
        gradient,
        lambda x: force * products(*waves(x)),
    )


def manufactured(material: Elastic) -> Field:
    """Cosines whose dilatation falls as 1/λ, so that stress and force stay bounded at ν → 1/2."""
    ratio = material.shear_modulus_MPa / material.lame_MPa
    return cosine_field(np.array([1.0, 1.0, -2.0]) + ratio, material)


def sines(material: Elastic) -> Field:
    """``u_i = sin πx sin πy sin πz`` for all i: zero on the unit cube's faces."""
    lame, shear = material.lame_MPa, material.shear_modulus_MPa

    def parts(x: Array) -> tuple[Array, Array]:
        return np.sin(np.pi * x), np.cos(np.pi * x)

    def slope(x: Array, *along: int) -> Array:
        """Derivative of sss along some axes."""
        s, c = parts(x)
        value = np.ones(x.shape[:-1])
        for axis in range(3):
            times = along.count(axis)
            value = value * np.pi**times * (c if times == 1 else s)[..., axis]
            value = -value if times == 2 else value
        return value

    def force(x: Array) -> Array:
        product = -3 * np.pi**2 * slope(x)
        mixed = [sum(slope(x, i, j) for j in range(3)) for i in range(3)]
        return np.stack([-shear * product - (lame + shear) * m for m in mixed], axis=-1)

    return Field(
        lambda x: np.repeat(slope(x)[..., None], 3, axis=-1),
        lambda x: np.stack(3 * [np.stack([slope(x, j) for j in range(3)], axis=-1)], axis=-2),
        force,
    )


def nodal_load(body: Body, samples: Samples, force: Array) -> Array:
    """``∫ N f`` of a body force (m, q, 3), (n, 3)."""
    weighted = np.einsum("eq,eqi->eqi", samples.weights, force)
    shapes = np.broadcast_to(samples.shapes, (*samples.weights.shape, samples.shapes.shape[2]))
    return _added(body, np.einsum("eqa,eqi->eai", shapes, weighted, optimize=True))


def stress_load(body: Body, samples: Samples, stress: Array) -> Array:
    """``∫ P ∇N`` of a stress (m, q, 3, 3), (n, 3)."""
    weighted = samples.weights[..., None, None] * stress
    return _added(body, np.einsum("eqaj,eqij->eai", samples.gradients, weighted, optimize=True))


def _added(body: Body, local: Array) -> Array:
    total = np.zeros((len(body.nodes), 3))
    np.add.at(total, body.elements, local)
    return total


def solved(body: Body, K: sp.spmatrix, load: Array, held: Array) -> Array:
    """Displacements (n, 3) under a load (n, 3) with the boundary's displacements as given."""
    free = np.flatnonzero(np.repeat(~body.boundary, 3))
    K = sp.csr_matrix(K)
    u = np.where(body.boundary[:, None], held, 0.0).ravel()
    inner = K[free][:, free].tobsr((3, 3))
    inner.sort_indices()
    u[free] = solve_spd(inner, (load.ravel() - K @ u)[free, None]).x[:, 0]
    return u.reshape(-1, 3)


def stress_MPa(gradient: Array, material: Elastic) -> Array:
    """Linear stress of displacement gradients (..., 3, 3)."""
    strain = 0.5 * (gradient + np.swapaxes(gradient, -1, -2))
    volume = np.trace(strain, axis1=-2, axis2=-1)[..., None, None]
    return np.asarray(
        material.lame_MPa * volume * np.eye(3) + 2 * material.shear_modulus_MPa * strain
    )


def errors(
    body: Body, samples: Samples, u: Array, field: Field, material: Elastic
) -> tuple[float, float]:
    """Relative errors of displacements (n, 3) in the L2 and in the energy norm."""
    local = u[body.elements]
    shapes = np.broadcast_to(samples.shapes, (*samples.weights.shape, samples.shapes.shape[2]))
    exact = field.u(samples.places)
    off = np.einsum("eqa,eai->eqi", shapes, local, optimize=True) - exact
    slope = field.gradient(samples.places)
    slope_off = np.einsum("eqaj,eai->eqij", samples.gradients, local, optimize=True) - slope
    return (
        _norm(samples.weights, off, off) / _norm(samples.weights, exact, exact),
        _norm(samples.weights, stress_MPa(slope_off, material), slope_off)
        / _norm(samples.weights, stress_MPa(slope, material), slope),
    )


def _norm(weights: Array, a: Array, b: Array) -> float:
    product = (a * b).reshape(*weights.shape, -1).sum(axis=2)
    return float(np.sqrt(np.sum(weights * product)))
