"""Closed forms of small-deflection beam theory for a wire held at two points and loaded at one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.material import Elastic
from fem.section import Section

Array = NDArray[np.float64]


@dataclass(frozen=True)
class TwoPointCantilever:
    """Straight wire through two contact points `base_mm` apart, loaded `span_mm` beyond the second.

    Small deflection, bending in the plane of the height. The wire is free to turn at each contact,
    so the tip is softer than that of a clamped cantilever, 3EI/L³:

    ``k = 3 E I / (L² (L + b))`` (Euler–Bernoulli), and with shear
    ``1/k = L² (L + b)/(3 E I) + L (1 + L/b)/(κ G A)`` (Timoshenko).

    Not valid beyond a deflection of about a tenth of the span, where the force of a straight
    cantilever already differs by a few percent, nor for bent or looped wires.

    Attributes
    ----------
    section, material
        The wire.
    span_mm
        Free length L from the mesial contact to the load.
    base_mm
        Distance b between the two contacts.
    """

    section: Section
    material: Elastic
    span_mm: float
    base_mm: float

    @property
    def stiffness_N_per_mm(self) -> float:
        """Tip stiffness of Euler–Bernoulli theory."""
        L, b = self.span_mm, self.base_mm
        return 3 * self._EI / (L**2 * (L + b))

    @property
    def timoshenko_stiffness_N_per_mm(self) -> float:
        """Tip stiffness with shear deformation (Cowper's factor)."""
        L, b = self.span_mm, self.base_mm
        shear = (
            self.section.shear_factor(self.material.poisson_ratio)
            * self.material.shear_modulus_MPa
            * self.section.area_mm2
        )
        return 1 / (L**2 * (L + b) / (3 * self._EI) + L * (1 + L / b) / shear)

    def couple_Nmm(self, force_N: float) -> float:
        """Moment of the tip force about the middle of the two contacts, ``F (L + b/2)``."""
        return force_N * (self.span_mm + self.base_mm / 2)

    def contact_forces_N(self, force_N: float) -> tuple[float, float]:
        """Reactions of the distal and the mesial contact, ``F L/b`` and ``F (L + b)/b``."""
        L, b = self.span_mm, self.base_mm
        return force_N * L / b, force_N * (L + b) / b

    def peak_stress_MPa(self, force_N: float) -> float:
        """Bending stress at the mesial contact, ``F L h / (2 I)``."""
        return force_N * self.span_mm * self.section.height_mm / 2 / self.section.I_height_mm4

    @property
    def _EI(self) -> float:
        return self.material.youngs_modulus_MPa * self.section.I_height_mm4


def two_point_deflection(position_mm: Array, base_mm: float, span_mm: float) -> Array:
    """Deflection of a beam over two points, as a share of that under its tip load.

    Between the contacts ``w = −F L x (b² − x²)/(6 E I b)``, beyond them, with ξ = x − b,
    ``w = F L b ξ/(3 E I) + F (3 L ξ² − ξ³)/(6 E I)``: Euler–Bernoulli theory, small deflection.

    Parameters
    ----------
    position_mm
        Distances x from the first contact, (n,), up to b + L.
    base_mm, span_mm
        Distance b between the contacts and free length L.
    """
    x, b, L = np.asarray(position_mm, dtype=float), base_mm, span_mm
    beyond = x - b
    between = -L * x * (b**2 - x**2) / (6 * b)
    outside = L * b * beyond / 3 + (3 * L * beyond**2 - beyond**3) / 6
    return np.where(x <= b, between, outside) / (L**2 * (L + b) / 3)
