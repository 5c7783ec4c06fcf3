"""One tooth in any linear ligament: few ligaments solved in full, all others from their span.

A model's matrix is affine in the ligament's Lamé constants, ``A = A₀ + λ A_λ + μ A_μ``, with A₀ the
hard tissue. Fields of a few ligaments span those of all others in a range; Galerkin's projection
onto them gives the 6×6, whose error is of second order in that of the fields. Ligaments are solved
in full one by one, each where the residual is largest, until the 6×6 foretold there is right to a
stated share.

The error of the energy of any motion is bounded from true residuals r of the projected fields: with
``θ = min(1, λ/λ_s, μ/μ_s)`` against a ligament s solved in full, ``A ≥ θ A_s`` and

    ``eᵀ A e = rᵀ A⁻¹ r ≤ rᵀ A_s⁻¹ r / θ``.

Sources: Prud'homme et al. 2002, J. Fluids Eng. 124:70–80; the bound by the smallest ratio of
coefficients is the "min-θ" one of Rozza, Huynh & Patera 2008, Arch. Comput. Methods Eng. 15:229–275
(both from memory). Not valid outside the range of ligaments it was made from, or for a ligament
that is not linear.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from fem.deformable import linear_system, solve_model
from fem.elastic_model import ElasticModel, StiffnessParts
from fem.material import Elastic
from fem.solver import solve_spd
from fem.support import dimensionless

Array = NDArray[np.float64]


@dataclass(frozen=True)
class LigamentFamily:
    """The 6×6 of one model for any linear ligament in a range.

    Attributes
    ----------
    basis
        Orthonormal fields of the free degrees of freedom, (free, k).
    hard, volumetric, shear
        Projections of A₀, A_λ and A_μ onto the driven motions (if any) and the basis, (n, n).
    loads
        Projection of the loads, (n, 6).
    driven
        How many of the n are driven motions: 6 or 0.
    solved
        Ligaments solved in full.
    """

    basis: Array
    hard: Array
    volumetric: Array
    shear: Array
    loads: Array
    driven: int
    solved: tuple[Elastic, ...]

    def stiffness(self, ligament: Elastic) -> Array:
        """6×6 for a ligament, symmetric, (6, 6)."""
        A, n = self._matrix(ligament), self.driven
        if n:
            return np.asarray(A[:n, :n] - A[:n, n:] @ np.linalg.solve(A[n:, n:], A[n:, :n]))
        return np.asarray(np.linalg.inv(self.loads.T @ np.linalg.solve(A, self.loads)))

    def coefficients(self, ligament: Elastic) -> Array:
        """What the columns of motions and basis are multiplied by for six unit motions or loads.

        Returns
        -------
        (n, 6) array
        """
        A, n = self._matrix(ligament), self.driven
        if n:
            return np.vstack([np.eye(n), -np.linalg.solve(A[n:, n:], A[n:, :n])])
        return np.asarray(np.linalg.solve(A, self.loads))

    def _matrix(self, ligament: Elastic) -> Array:
        lame, shear = ligament.lame_MPa, ligament.shear_modulus_MPa
        A = self.hard + lame * self.volumetric + shear * self.shear
        return np.asarray(0.5 * (A + A.T))


def ligament_family(
    model: ElasticModel,
    parts: StiffnessParts,
    ligaments: Sequence[Elastic],
    tolerance: float = 1e-6,
) -> LigamentFamily:
    """Solve as many of some ligaments in full as it takes to know all of them.

    Parameters
    ----------
    model, parts
        See `fem.deformable.elastic_model` and `fem.deformable.stiffness_parts`.
    ligaments
        The range: each once, the extremes among them.
    tolerance
        Largest error of the 6×6 foretold for the last ligament solved, over its largest entry
        (rotations measured at the mesh's own size).

    Raises
    ------
    ValueError
        If there are no ligaments or one is given twice.
    fem.solver.SolverError
        If a system cannot be solved.
    """
    if not ligaments or len(set(ligaments)) < len(ligaments):
        raise ValueError(f"{len(ligaments)} ligaments: give at least one, and each once")
    place = int(np.argmin([ligament.constrained_modulus_MPa for ligament in ligaments]))
    family = None
    while True:
        response = solve_model(model, linear_system(model, parts.matrix(ligaments[place])))
        known = family.solved if family is not None else ()
        miss = np.inf
        if family is not None:
            miss = _difference(family.stiffness(ligaments[place]), response.stiffness, model)
        family, images = _widened(family, model, parts, ligaments[place], response.fields)
        if miss <= tolerance or len(known) + 1 == len(ligaments):
            return family
        suspicion = [_suspicion(model, parts, family, images, each) for each in ligaments]
        place = int(np.argmax(suspicion))


def error_bounds(
    model: ElasticModel, parts: StiffnessParts, family: LigamentFamily, ligaments: Sequence[Elastic]
) -> Array:
    """Bound of the relative error of the energy of any motion (or load), for each ligament, (n,).

    Costs one factorisation. For a rigid tooth the 6×6 is too stiff by at most this share, for an
    elastic one its inverse is too small by at most it.
    """
    reference = family.solved[0]
    A = linear_system(model, parts.matrix(reference)).matrix
    fields = [_fields(model, family, ligament) for ligament in ligaments]
    residuals = [
        (model.loads - parts.matrix(ligament) @ u)[model.free]
        for ligament, u in zip(ligaments, fields, strict=True)
    ]
    lifted = solve_spd(A, np.hstack(residuals)).x
    bounds = []
    for k, (ligament, r) in enumerate(zip(ligaments, residuals, strict=True)):
        excess = r.T @ lifted[:, 6 * k : 6 * k + 6] / _theta(ligament, reference, parts)
        energy = _energy(family, ligament)
        bounds.append(scipy.linalg.eigh(0.5 * (excess + excess.T), energy, eigvals_only=True)[-1])
    return np.array(bounds)


def _theta(ligament: Elastic, reference: Elastic, parts: StiffnessParts) -> float:
    ratios = [
        ligament.lame_MPa / reference.lame_MPa if reference.lame_MPa else 1.0,
        ligament.shear_modulus_MPa / reference.shear_modulus_MPa,
    ]
    return min([*ratios, 1.0]) if parts.hard.nnz else min(ratios)


def _fields(model: ElasticModel, family: LigamentFamily, ligament: Elastic) -> Array:
    """Projected fields of six unit motions (rigid tooth) or unit wrenches, (all, 6)."""
    coefficients = family.coefficients(ligament)
    fields = np.zeros((len(model.loads), 6))
    if family.driven:
        fields[model.driven] = model.motions @ coefficients[: family.driven]
    fields[model.free] = family.basis @ coefficients[family.driven :]
    return fields


def _widened(
    family: LigamentFamily | None,
    model: ElasticModel,
    parts: StiffnessParts,
    ligament: Elastic,
    fields: Array,
) -> tuple[LigamentFamily, tuple[Array, Array, Array]]:
    """Add the fields of one more ligament; also returns what the parts make of all columns."""
    fresh = fields[model.free]
    basis = fresh if family is None else np.hstack([family.basis, fresh])
    basis = np.linalg.qr(basis / np.linalg.norm(basis, axis=0))[0]
    driven = 6 if len(model.driven) else 0
    columns = np.zeros((len(model.loads), driven + basis.shape[1]))
    columns[model.driven, :driven] = model.motions if driven else 0.0
    columns[model.free, driven:] = basis
    images = (parts.hard @ columns, parts.volumetric @ columns, parts.shear @ columns)
    hard, volumetric, shear = (np.asarray(columns.T @ image) for image in images)
    solved = (ligament,) if family is None else (*family.solved, ligament)
    loads = columns.T @ model.loads
    return LigamentFamily(basis, hard, volumetric, shear, loads, driven, solved), images


def _suspicion(
    model: ElasticModel,
    parts: StiffnessParts,
    family: LigamentFamily,
    images: tuple[Array, Array, Array],
    ligament: Elastic,
) -> float:
    """Residual in the norm of the matrix's diagonal over the energy: where to solve next."""
    lame, shear = ligament.lame_MPa, ligament.shear_modulus_MPa
    A_U = images[0] + lame * images[1] + shear * images[2]
    residual = (model.loads - A_U @ family.coefficients(ligament))[model.free]
    diagonals = (parts.hard.diagonal(), parts.volumetric.diagonal(), parts.shear.diagonal())
    diagonal = diagonals[0] + lame * diagonals[1] + shear * diagonals[2]
    weighted = residual.T @ (residual / diagonal[model.free, None])
    return float(np.trace(np.linalg.solve(_energy(family, ligament), weighted)))


def _energy(family: LigamentFamily, ligament: Elastic) -> Array:
    """Twice the energy of six unit motions of a rigid tooth, or loads on an elastic one."""
    stiffness = family.stiffness(ligament)
    return stiffness if family.driven else np.asarray(np.linalg.inv(stiffness))


def _difference(new: Array, old: Array, model: ElasticModel) -> float:
    scaled = dimensionless(new, model.mesh.points)
    apart = np.abs(scaled - dimensionless(old, model.mesh.points)).max()
    return float(apart / np.abs(scaled).max())
