"""The 6×6 of one model for many ligament moduli, few of them solved in full.

With the ligament's Poisson ratio kept, a model's matrix is ``A(E) = A₀ + E A₁``, where A₀ (hard
tissue) and A₁ (ligament of unit modulus) are assembled once. Solutions for a few moduli span
those of all others (a reduced basis): Galerkin's projection onto them gives the 6×6, whose error
is of second order in that of the fields. Moduli are solved in full, the ends of the range first
and then where the last one changed the answer most, until no 6×6 moves by more than a stated
share.

Source of the method: Prud'homme et al. 2002, J. Fluids Eng. 124:70–80 (from memory). Not valid
where the Poisson ratio varies along with the modulus, or for a ligament that is not linear.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.deformable import (
    LIGAMENT,
    ElasticModel,
    ligament_projection,
    solve_model,
    stiffness_parts,
)
from fem.material import Elastic
from fem.support import dimensionless

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ModulusFamily:
    """The 6×6 of one combination for several ligament moduli.

    Attributes
    ----------
    stiffness
        (moduli, 6, 6), symmetric.
    full_solutions
        How many moduli were solved in full.
    unknowns
    """

    stiffness: Array
    full_solutions: int
    unknowns: int


def modulus_family(
    model: ElasticModel,
    hard_tissue: Mapping[str, Elastic],
    ligament_poisson_ratio: float,
    moduli_MPa: Sequence[float],
    tolerance: float = 1e-5,
    volumetric: str = "auto",
) -> ModulusFamily:
    """The 6×6 of one model for several ligament moduli, few of them solved in full.

    Parameters
    ----------
    model
    hard_tissue
        Elastic constants of every region of the model but the ligament.
    ligament_poisson_ratio
    moduli_MPa
    tolerance
        Largest change of any 6×6 by the last full solution, over its largest entry (rotations
        measured at the mesh's own size).
    volumetric
        How the ligament's dilatation is taken, as in `fem.support.rigid_body_support`.

    Raises
    ------
    ValueError
        If a modulus is not positive or given twice, or a region has no material.
    fem.solver.SolverError
        If a system cannot be solved.
    """
    moduli = np.asarray(moduli_MPa, dtype=float)
    if not moduli.size or moduli.min() <= 0.0 or len(np.unique(moduli)) < len(moduli):
        raise ValueError(f"ligament moduli {list(moduli_MPa)} MPa: give positive ones, each once")
    materials = {**hard_tissue, LIGAMENT: Elastic(1.0, ligament_poisson_ratio)}
    projection = ligament_projection(model, materials, volumetric)
    hard, soft = stiffness_parts(model, materials, projection)
    reduced: _Reduced | None = None
    known: list[int] = []
    answers = np.zeros((len(moduli), 6, 6))
    change = np.full(len(moduli), np.inf)
    while len(known) < len(moduli) and (len(known) < 2 or change.max() > tolerance):
        place = _next(moduli, known, change)
        matrix = (hard + moduli[place] * soft).tocsr()
        solved = solve_model(model, matrix).fields
        known.append(place)
        reduced = _Reduced.spanned_by(model, hard, soft, solved, reduced)
        better = np.stack([reduced.stiffness(modulus) for modulus in moduli])
        change = np.array(
            [_difference(new, old, model) for new, old in zip(better, answers, strict=True)]
        )
        answers = better
    return ModulusFamily(answers, len(known), len(model.free))


@dataclass(frozen=True)
class _Reduced:
    """Galerkin's projection of one model onto a basis of fields.

    Attributes
    ----------
    basis
        Orthonormal fields of the free degrees of freedom, (free, k); the rigid motions of a
        driven tooth are kept apart.
    hard, soft
        Projections of A₀ and A₁ onto the driven motions (if any) and the basis.
    loads
        Projection of the load, (all columns, 6).
    driven
        How many of the columns are driven motions: 6 or 0.
    """

    basis: Array
    hard: Array
    soft: Array
    loads: Array
    driven: int

    @classmethod
    def spanned_by(
        cls,
        model: ElasticModel,
        hard: sp.csr_matrix,
        soft: sp.csr_matrix,
        solved: Array,
        before: _Reduced | None,
    ) -> _Reduced:
        """Widen the basis `before` by six fields."""
        fresh = solved[model.free]
        if before is not None:
            fresh = np.hstack([before.basis, fresh])
        basis = np.linalg.qr(fresh)[0]
        driven = 6 if len(model.driven) else 0
        columns = np.zeros((len(model.loads), driven + basis.shape[1]))
        columns[model.driven, :driven] = model.motions if driven else 0.0
        columns[model.free, driven:] = basis
        return cls(
            basis,
            columns.T @ (hard @ columns),
            columns.T @ (soft @ columns),
            columns.T @ model.loads,
            driven,
        )

    def stiffness(self, modulus: float) -> Array:
        """6×6 for a ligament modulus, symmetric."""
        A = self.hard + modulus * self.soft
        A = 0.5 * (A + A.T)
        n = self.driven
        if n:
            return np.asarray(A[:n, :n] - A[:n, n:] @ np.linalg.solve(A[n:, n:], A[n:, :n]))
        return np.linalg.inv(self.loads.T @ np.linalg.solve(A, self.loads))


def _next(moduli: Array, known: list[int], change: Array) -> int:
    """Ends of the range first, then where the last full solution changed the answer most."""
    if not known:
        return int(np.argmin(moduli))
    if len(known) == 1:
        return int(np.argmax(moduli))
    rest = change.copy()
    rest[known] = -1.0
    return int(np.argmax(rest))


def _difference(new: Array, old: Array, model: ElasticModel) -> float:
    scaled = dimensionless(new, model.mesh.points)
    return float(
        np.abs(scaled - dimensionless(old, model.mesh.points)).max() / np.abs(scaled).max()
    )
