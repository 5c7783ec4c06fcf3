"""Isotropic linear elasticity and the moduli that matter for a thin bonded layer."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Elastic:
    """Isotropic, linear, small-strain elastic material.

    ``σ = λ tr(ε) 1 + 2 μ ε`` with ``λ = E ν / ((1 + ν)(1 − 2ν))`` and ``μ = E / (2 (1 + ν))``.

    Not valid for the stiffening of the ligament beyond a few percent of strain, for time
    dependence, or for ν = 1/2 (a displacement formulation locks there).

    Attributes
    ----------
    youngs_modulus_MPa
        Young's modulus E, MPa, positive.
    poisson_ratio
        Poisson's ratio ν, in (−1, 0.5).

    Raises
    ------
    ValueError
        If a constant lies outside its range.
    """

    youngs_modulus_MPa: float
    poisson_ratio: float

    def __post_init__(self) -> None:
        if not self.youngs_modulus_MPa > 0:
            raise ValueError(f"youngs_modulus_MPa = {self.youngs_modulus_MPa}: must be positive")
        if not -1 < self.poisson_ratio < 0.5:
            raise ValueError(f"poisson_ratio = {self.poisson_ratio}: must lie in (-1, 0.5)")

    @property
    def lame_MPa(self) -> float:
        """First Lamé constant λ, MPa."""
        nu = self.poisson_ratio
        return self.youngs_modulus_MPa * nu / ((1 + nu) * (1 - 2 * nu))

    @property
    def shear_modulus_MPa(self) -> float:
        """Shear modulus μ = G, MPa."""
        return self.youngs_modulus_MPa / (2 * (1 + self.poisson_ratio))

    @property
    def constrained_modulus_MPa(self) -> float:
        """Constrained modulus M = λ + 2μ, MPa: what a thin bonded layer feels across itself."""
        return self.lame_MPa + 2 * self.shear_modulus_MPa
