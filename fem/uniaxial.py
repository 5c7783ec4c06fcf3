"""Stress of one fibre of wire along its axis, past the elastic limit, with its memory.

A law is a frozen set of constants; what a fibre remembers is an array (..., k) that the caller
keeps. `update` takes the state at the start of a step and never changes it, so a trial step can be
thrown away. Within one step the strain is taken to move straight from its old to its new value.

Rate-independent and isothermal. Only the stress along the wire is known here: sections bend and
stretch past their limit, while their shear and torsion stay elastic and do not lower the limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


class UniaxialLaw(Protocol):
    """What a fibre section asks of a law."""

    def initial_state(self, shape: tuple[int, ...]) -> Array:
        """State of fibres that have never been strained, (*shape, k)."""
        ...

    def update(self, strain: Array, state: Array) -> tuple[Array, Array, Array]:
        """Stress in MPa, tangent modulus in MPa and new state at a strain, from the old state."""
        ...

    @property
    def initial_modulus_MPa(self) -> float:
        """Slope at zero strain."""
        ...


@dataclass(frozen=True)
class LinearElastic:
    """``σ = E ε``: no memory (k = 0), no limit.

    Raises
    ------
    ValueError
        If the modulus is not positive.
    """

    youngs_modulus_MPa: float

    def __post_init__(self) -> None:
        _positive(youngs_modulus_MPa=self.youngs_modulus_MPa)

    @property
    def initial_modulus_MPa(self) -> float:
        """Young's modulus E."""
        return self.youngs_modulus_MPa

    def initial_state(self, shape: tuple[int, ...]) -> Array:
        """Empty state, (*shape, 0)."""
        return np.zeros((*shape, 0))

    def update(self, strain: Array, state: Array) -> tuple[Array, Array, Array]:
        """Stress, tangent (both MPa) and the unchanged state."""
        E = self.youngs_modulus_MPa
        return E * strain, np.full(np.shape(strain), E), state


@dataclass(frozen=True)
class ElasticPlastic:
    """Elastic–plastic with linear kinematic hardening (Prager).

    ``σ = E (ε − εₚ)``, elastic while ``|σ − H εₚ| ≤ σ_y``; beyond, the slope is
    ``E H / (E + H)``. The elastic range keeps its length 2σ_y and travels with the plastic strain,
    so a wire bent at the bench yields early when it is bent back (Bauschinger effect), as
    cold-drawn wire does. Isotropic hardening would widen the range instead and make the return
    too springy.
    H = 0 is perfectly plastic, where both are the same.

    Not valid for many cycles (no ratcheting, no softening of the first loop) nor for a wire whose
    knee is round: a 0.1–0.2 % proof strength used as σ_y places the knee too high.
    Textbook (Simo & Hughes 1998, Computational Inelasticity, ch. 1, from memory).

    Attributes
    ----------
    youngs_modulus_MPa
        E.
    yield_strength_MPa
        σ_y, the same in tension and compression for wire that was never strained.
    hardening_modulus_MPa
        H, slope of stress against plastic strain.

    Raises
    ------
    ValueError
        If E or σ_y is not positive or H is negative.
    """

    youngs_modulus_MPa: float
    yield_strength_MPa: float
    hardening_modulus_MPa: float = 0.0

    def __post_init__(self) -> None:
        _positive(
            youngs_modulus_MPa=self.youngs_modulus_MPa, yield_strength_MPa=self.yield_strength_MPa
        )
        if not self.hardening_modulus_MPa >= 0:
            raise ValueError(
                f"hardening_modulus_MPa = {self.hardening_modulus_MPa}: must not be negative"
            )

    @property
    def initial_modulus_MPa(self) -> float:
        """Young's modulus E."""
        return self.youngs_modulus_MPa

    @property
    def yield_strain(self) -> float:
        """``σ_y / E``."""
        return self.yield_strength_MPa / self.youngs_modulus_MPa

    def initial_state(self, shape: tuple[int, ...]) -> Array:
        """Zero plastic strain, (*shape, 1)."""
        return np.zeros((*shape, 1))

    def update(self, strain: Array, state: Array) -> tuple[Array, Array, Array]:
        """Stress and tangent (MPa, shape of `strain`) and plastic strain (..., 1)."""
        E, H = self.youngs_modulus_MPa, self.hardening_modulus_MPa
        plastic = state[..., 0]
        shifted = E * (strain - plastic) - H * plastic
        excess = np.maximum(np.abs(shifted) - self.yield_strength_MPa, 0.0)
        plastic = plastic + np.sign(shifted) * excess / (E + H)
        tangent = np.where(excess > 0, E * H / (E + H), E)
        return E * (strain - plastic), tangent, plastic[..., None]


@dataclass(frozen=True)
class Superelastic:
    """Superelastic Ni-Ti: two plateaus, from austenite to stress-induced martensite and back.

    With the share ξ of martensite (signed as the strain),

    ``ε = σ (1/E_A + ξ (1/E_M − 1/E_A)) + ε_L ξ``,
    loading, ``σ ≥ σ_s``: ``dξ = (1 − ξ) dσ / (σ_f − σ)``,
    unloading, ``σ ≤ σ'_s``: ``dξ = ξ dσ / (σ − σ'_f)``;

    ``σ_s, σ_f`` are the start and finish of the loading plateau, ``σ'_s, σ'_f`` of the unloading
    plateau. Integrated exactly, so a step may be of any length as long as it does not turn round.
    A partial loop is well defined: from ξ₀ in the middle of a plateau the wire is elastic until
    the other plateau's start stress, and then reaches that plateau's end (ξ = 0 or 1) at its
    finish stress. A small cycle within a plateau re-starts at the start stress and so creeps
    along the plateau, a known property of these equations (no return-point memory).
    Auricchio & Taylor 1997 and Auricchio 2001, linear kinetics, isothermal; read as the
    definition in public input manuals, uniaxial form derived.

    ε_L is the *uniaxial* transformation strain; three-dimensional codes often state one larger by
    √(3/2). Not valid below the austenite finish temperature (a set remains at zero stress), for
    changing temperature, for slip of martensite at larger strain, or for a fast drive.

    Attributes
    ----------
    austenite_modulus_MPa, martensite_modulus_MPa
        E_A and E_M; equal if the second is left out.
    loading_start_MPa, loading_finish_MPa
        σ_s and σ_f in tension.
    unloading_start_MPa, unloading_finish_MPa
        σ'_s and σ'_f in tension.
    transformation_strain
        ε_L in tension.
    compression_stress_ratio
        The four stresses in compression over those in tension.
    compression_strain_ratio
        ε_L in compression over that in tension.

    Raises
    ------
    ValueError
        If a constant is not positive, or not σ'_f < σ'_s ≤ σ_s < σ_f.
    """

    austenite_modulus_MPa: float
    loading_start_MPa: float
    loading_finish_MPa: float
    unloading_start_MPa: float
    unloading_finish_MPa: float
    transformation_strain: float
    martensite_modulus_MPa: float | None = None
    compression_stress_ratio: float = 1.0
    compression_strain_ratio: float = 1.0

    def __post_init__(self) -> None:
        _positive(
            austenite_modulus_MPa=self.austenite_modulus_MPa,
            martensite_modulus_MPa=self._martensite_modulus_MPa,
            unloading_finish_MPa=self.unloading_finish_MPa,
            transformation_strain=self.transformation_strain,
            compression_stress_ratio=self.compression_stress_ratio,
            compression_strain_ratio=self.compression_strain_ratio,
        )
        names = ("unloading_finish", "unloading_start", "loading_start", "loading_finish")
        finish, back, start, end = (getattr(self, f"{name}_MPa") for name in names)
        if not finish < back <= start < end:
            raise ValueError(
                f"plateau stresses {finish}, {back}, {start}, {end} MPa: must rise in the order "
                "unloading_finish < unloading_start <= loading_start < loading_finish"
            )

    @property
    def initial_modulus_MPa(self) -> float:
        """Modulus of austenite."""
        return self.austenite_modulus_MPa

    def initial_state(self, shape: tuple[int, ...]) -> Array:
        """Unstrained austenite: (strain, signed share of martensite), (*shape, 2)."""
        return np.zeros((*shape, 2))

    def update(self, strain: Array, state: Array) -> tuple[Array, Array, Array]:
        """Stress and tangent (MPa, shape of `strain`) and (strain, signed share), (..., 2)."""
        strain = np.asarray(strain, dtype=float)
        sign = np.where(strain < 0, -1.0, 1.0)
        # Martensite is gone at zero stress, so a change of sign starts from austenite.
        same = sign * state[..., 0] > 0
        size, before = np.abs(strain), np.where(same, np.abs(state[..., 0]), 0.0)
        share = np.where(same, np.abs(state[..., 1]), 0.0)
        sides = np.where(sign > 0, 1.0, self.compression_stress_ratio)
        reach = self.transformation_strain * np.where(sign > 0, 1.0, self.compression_strain_ratio)
        branch = _Branch(self.austenite_modulus_MPa, self._softening, reach)
        loading = size > before
        ends = np.where(loading, self.loading_finish_MPa, self.unloading_finish_MPa) * sides
        starts = np.where(loading, self.loading_start_MPa, self.unloading_start_MPa) * sides
        stress, tangent, share = branch.follow(size, before, share, loading, starts, ends)
        return sign * stress, tangent, np.stack([strain, sign * share], axis=-1)

    @property
    def _martensite_modulus_MPa(self) -> float:
        return self.martensite_modulus_MPa or self.austenite_modulus_MPa

    @property
    def _softening(self) -> float:
        return 1 / self._martensite_modulus_MPa - 1 / self.austenite_modulus_MPa


@dataclass(frozen=True)
class _Branch:
    """Positive half of a superelastic law: modulus E, softening D, transformation strain."""

    modulus: float
    softening: float
    reach: Array

    def stress(self, strain: Array, share: Array) -> Array:
        return (strain - self.reach * share) / self._compliance(share)

    def _compliance(self, share: Array) -> Array:
        return 1 / self.modulus + share * self.softening

    def follow(
        self, strain: Array, before: Array, share: Array, loading: Flags, start: Array, end: Array
    ) -> tuple[Array, Array, Array]:
        """Stress, tangent and share at `strain`, coming straight from `before`.

        On a plateau the share is a straight line in the stress from (σ₀, ξ₀) to (σ_end, 0 or 1).
        """
        target = np.where(loading, 1.0, 0.0)
        last = self.stress(before, share)
        elastic = self.stress(strain, share)
        complete = self.stress(strain, target)
        first = np.where(loading, np.maximum(last, start), np.minimum(last, start))
        way = np.where(loading, 1.0, -1.0)
        done = way * (complete - end) >= 0
        moving = (way * (elastic - first) > 0) & ~done
        finished = (way * (elastic - first) > 0) & done

        run = np.where(moving, end - first, 1.0)
        slope = np.where(moving, (target - share) / run, 0.0)
        on_plateau = self._plateau_stress(strain, share - slope * first, slope)
        stress = np.where(moving, on_plateau, np.where(finished, complete, elastic))
        new = np.where(moving, share + slope * (stress - first), np.where(finished, target, share))
        tangent = 1 / (self._compliance(new) + slope * (self.softening * stress + self.reach))
        return stress, tangent, new

    def _plateau_stress(self, strain: Array, intercept: Array, slope: Array) -> Array:
        """Root of ``σ (1/E + ξ D) + reach ξ = ε`` with ``ξ = intercept + slope σ``."""
        a = slope * self.softening
        b = self._compliance(intercept) + self.reach * slope
        c = self.reach * intercept - strain
        root = np.sqrt(np.maximum(b**2 - 4 * a * c, 0.0))
        return -2 * c / (b + root)


def compression_ratios(pressure_sensitivity: float) -> tuple[float, float]:
    """Compression over tension for start stress and transformation strain.

    For the transformation criterion ``‖s‖ + 3 α p`` with its own flow rule:
    ``(√(2/3) + α) / (√(2/3) − α)`` and its inverse, so both sides do the same work.

    Raises
    ------
    ValueError
        If α lies outside [0, √(2/3)).
    """
    alpha, unit = pressure_sensitivity, sqrt(2 / 3)
    if not 0 <= alpha < unit:
        raise ValueError(f"pressure_sensitivity = {alpha}: must lie in [0, {unit:.4f})")
    ratio = (unit + alpha) / (unit - alpha)
    return ratio, 1 / ratio


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not value > 0:
            raise ValueError(f"{name} = {value}: must be positive")
