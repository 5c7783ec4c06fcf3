"""The bilinear ligament: an isotropic solid whose modulus grows with strain.

The published law is uniaxial: a modulus E₁ up to a strain ε₁₂, E₂ beyond it (Poppe, Bourauel &
Jäger 2002, J Orofac Orthop 63:358–370). In three dimensions it is taken here as a stored energy
of one scalar strain,

    ``W = F(e)``,  ``F' = s(e)`` the uniaxial law,  ``e² = ε : Ĉ : ε``,

with Ĉ the isotropic stiffness for a modulus of 1. In uniaxial stress e is the strain along it, so
the published curve comes out exactly, in tension and compression alike. Stress and tangent are

    ``σ = (s/e) Ĉ:ε``,  ``D = (s/e) Ĉ + (s' − s/e) (Ĉ:ε)⊗(Ĉ:ε)/e²``.

The tangent is symmetric, and positive definite when both moduli are positive. Small strain. Other
choices of a scalar strain are possible and give other answers away from uniaxial stress; nothing
published decides between them. Not valid for time dependence.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.material import Elastic

Array = NDArray[np.float64]

# Strain vectors are (xx, yy, zz, 2yz, 2xz, 2xy), stress vectors (xx, yy, zz, yz, xz, xy).
_TINY_STRAIN = 1e-14


@dataclass(frozen=True)
class BilinearLaw:
    """Two moduli and the strain between them.

    Attributes
    ----------
    initial_MPa, stiff_MPa
        E₁ and E₂, MPa, positive.
    knee_strain
        ε₁₂, positive.
    poisson_ratio
        One ν for both, in (−1, 0.5).

    Raises
    ------
    ValueError
        If a value lies outside its range.
    """

    initial_MPa: float
    stiff_MPa: float
    knee_strain: float
    poisson_ratio: float

    def __post_init__(self) -> None:
        Elastic(self.initial_MPa, self.poisson_ratio)
        Elastic(self.stiff_MPa, self.poisson_ratio)
        if not self.knee_strain > 0:
            raise ValueError(f"knee_strain = {self.knee_strain}: must be positive")

    def uniaxial_MPa(self, strain: Array) -> Array:
        """Stress of the uniaxial law at non-negative strains, MPa."""
        soft = np.minimum(strain, self.knee_strain)
        return self.initial_MPa * soft + self.stiff_MPa * (strain - soft)

    def energy_MPa(self, strain: Array) -> Array:
        """Stored energy F at non-negative strains, MPa."""
        soft = np.minimum(strain, self.knee_strain)
        beyond = strain - soft
        at_knee = self.initial_MPa * self.knee_strain
        return (
            0.5 * self.initial_MPa * soft**2 + at_knee * beyond + 0.5 * self.stiff_MPa * beyond**2
        )

    @property
    def unit_stiffness(self) -> Array:
        """Ĉ as a matrix on strain vectors, (6, 6)."""
        unit = Elastic(1.0, self.poisson_ratio)
        C = np.zeros((6, 6))
        C[:3, :3] = unit.lame_MPa
        C[np.arange(6), np.arange(6)] += unit.shear_modulus_MPa * np.array([2, 2, 2, 1, 1, 1])
        return C

    def scalar_strain(self, strain: Array) -> Array:
        """The strain measure e of strain vectors (..., 6)."""
        return np.sqrt(np.maximum(np.sum((strain @ self.unit_stiffness) * strain, axis=-1), 0.0))

    def response(self, strain: Array) -> tuple[Array, Array]:
        """Stress (..., 6), MPa, and tangent (..., 6, 6), MPa, of strain vectors (..., 6)."""
        C = self.unit_stiffness
        direction = strain @ C
        e = np.sqrt(np.maximum(np.sum(direction * strain, axis=-1), 0.0))
        safe = np.maximum(e, _TINY_STRAIN)
        secant = np.where(e > _TINY_STRAIN, self.uniaxial_MPa(e) / safe, self.initial_MPa)
        slope = np.where(e <= self.knee_strain, self.initial_MPa, self.stiff_MPa)
        growth = (slope - secant) / safe**2
        tangent = secant[..., None, None] * C
        tangent = tangent + growth[..., None, None] * (
            direction[..., :, None] * direction[..., None, :]
        )
        return secant[..., None] * direction, tangent
