"""Wire sections: area, second moments, torsion constant, shear factor, extreme-fibre stress."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from fem.material import Elastic

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Section:
    """Section constants in the wire's own axes: 1 along, 2 across the width, 3 up the height.

    Attributes
    ----------
    kind
        ``"round"`` or ``"rectangular"``.
    width_mm, height_mm
        Size along axis 2 and axis 3; both the diameter for a round wire. A wire lies flat in
        its tube when the width is the larger: second-order (vertical) bends use the height.
    area_mm2
        Area A.
    I_height_mm4
        Second moment for bending in the plane of the height (about axis 2).
    I_width_mm4
        Second moment for bending in the plane of the width (about axis 3).
    torsion_mm4
        Saint-Venant torsion constant J.
    torsion_modulus_mm3
        W_t with ``τ_max = T / W_t``.
    """

    kind: str
    width_mm: float
    height_mm: float
    area_mm2: float
    I_height_mm4: float
    I_width_mm4: float
    torsion_mm4: float
    torsion_modulus_mm3: float

    def shear_factor(self, poisson_ratio: float) -> float:
        """Cowper's shear factor κ (Cowper 1966, J. Appl. Mech. 33:335, from memory)."""
        nu = poisson_ratio
        if self.kind == "round":
            return 6 * (1 + nu) / (7 + 6 * nu)
        return 10 * (1 + nu) / (12 + 11 * nu)

    def stiffness(self, material: Elastic) -> Array:
        """Diagonal of the section law, (6,): (EA, κGA, κGA, GJ, EI_2, EI_3) in N and N·mm²."""
        E, G = material.youngs_modulus_MPa, material.shear_modulus_MPa
        shear = self.shear_factor(material.poisson_ratio) * G * self.area_mm2
        return np.array(
            [
                E * self.area_mm2,
                shear,
                shear,
                G * self.torsion_mm4,
                E * self.I_height_mm4,
                E * self.I_width_mm4,
            ]
        )

    def peak_stress_MPa(self, resultants: Array) -> Array:
        """Bound on the von Mises stress from section resultants.

        Bending, axial and torsional extremes are added as if they met at one point,
        ``√(σ² + 3τ²)``: exact for bending in one plane, on the safe side otherwise; the
        transverse shear stress, which vanishes at the extreme fibre, is left out.

        Parameters
        ----------
        resultants
            (..., 6): N, V2, V3, T, M2, M3 in N and N·mm, in section axes.
        """
        N, T, M2, M3 = (np.abs(resultants[..., i]) for i in (0, 3, 4, 5))
        height, width = M2 / self._W_height_mm3, M3 / self._W_width_mm3
        bending = np.hypot(height, width) if self.kind == "round" else height + width
        tau = T / self.torsion_modulus_mm3
        return np.sqrt((N / self.area_mm2 + bending) ** 2 + 3 * tau**2)

    @property
    def _W_height_mm3(self) -> float:
        return self.I_height_mm4 / (self.height_mm / 2)

    @property
    def _W_width_mm3(self) -> float:
        return self.I_width_mm4 / (self.width_mm / 2)


def round_section(diameter_mm: float) -> Section:
    """Solid round wire.

    Raises
    ------
    ValueError
        If the diameter is not positive.
    """
    if not diameter_mm > 0:
        raise ValueError(f"diameter_mm = {diameter_mm}: must be positive")
    d = diameter_mm
    inertia = pi * d**4 / 64
    return Section("round", d, d, pi * d**2 / 4, inertia, inertia, 2 * inertia, pi * d**3 / 16)


def rectangular_section(width_mm: float, height_mm: float) -> Section:
    """Solid rectangular wire with sharp corners.

    Real wire is bevelled and runs undersize: its bending stiffness can be 15–19 % lower
    (Rucker & Kusy 2002, AJODO 122:528–541).

    Raises
    ------
    ValueError
        If a side is not positive.
    """
    if not (width_mm > 0 and height_mm > 0):
        raise ValueError(f"sides {width_mm} × {height_mm} mm: both must be positive")
    w, h = width_mm, height_mm
    J, W_t = _rectangle_torsion(max(w, h), min(w, h))
    return Section("rectangular", w, h, w * h, w * h**3 / 12, h * w**3 / 12, J, W_t)


def _rectangle_torsion(a: float, b: float) -> tuple[float, float]:
    """Torsion constant and modulus of a rectangle a ≥ b by Saint-Venant's series.

    ``J = a b³ [1/3 − (64/π⁵)(b/a) Σ tanh(nπa/2b)/n⁵]``,
    ``τ_max = G θ' b [1 − (8/π²) Σ 1/(n² cosh(nπa/2b))]``, n odd
    (Timoshenko & Goodier, Theory of Elasticity, ch. 10).
    """
    odd = np.arange(1, 200, 2)
    argument = odd * pi * a / (2 * b)
    beta = 1 / 3 - 64 / pi**5 * (b / a) * float(np.sum(np.tanh(argument) / odd**5))
    sech = 2 * np.exp(-argument) / (1 + np.exp(-2 * argument))
    k = 1 - 8 / pi**2 * float(np.sum(sech / odd**2))
    J = beta * a * b**3
    return J, J / (k * b)
