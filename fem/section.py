"""Wire sections: area, second moments, torsion constant, shear factor, extreme-fibre stress."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
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
    corner_radius_mm
        Radius of the rounded edges: 0 for sharp ones, half the diameter for a round wire.
    """

    kind: str
    width_mm: float
    height_mm: float
    area_mm2: float
    I_height_mm4: float
    I_width_mm4: float
    torsion_mm4: float
    torsion_modulus_mm3: float
    corner_radius_mm: float = 0.0

    def shear_factor(self, poisson_ratio: float) -> float:
        """Cowper's shear factor κ (Cowper 1966, J. Appl. Mech. 33:335, from memory).

        A rounded rectangle takes that of the sharp one: at most 4 % off, the circle's being the
        other end, of a share that is below 1 % in any spring.
        """
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

        The stress of bending is that of the outermost fibre: with gradients
        ``g = (M₂/I₂, M₃/I₃)`` and the centre (a, b) of a corner's arc from the middle of the height
        and the width, ``σ = a g₂ + b g₃ + r √(g₂² + g₃²)``. The torsional extreme is added as if it
        met there, ``√(σ² + 3τ²)``: exact without torsion, on the safe side with it; the transverse
        shear stress, which vanishes at the extreme fibre, is left out.

        Parameters
        ----------
        resultants
            (..., 6): N, V2, V3, T, M2, M3 in N and N·mm, in section axes.
        """
        N, T, M2, M3 = (np.abs(resultants[..., i]) for i in (0, 3, 4, 5))
        up, across = M2 / self.I_height_mm4, M3 / self.I_width_mm4
        r = self.corner_radius_mm
        arm_up, arm_across = self.height_mm / 2 - r, self.width_mm / 2 - r
        bending = arm_up * up + arm_across * across + r * np.hypot(up, across)
        tau = T / self.torsion_modulus_mm3
        return np.sqrt((N / self.area_mm2 + bending) ** 2 + 3 * tau**2)


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
    torsion = 2 * inertia, pi * d**3 / 16
    return Section("round", d, d, pi * d**2 / 4, inertia, inertia, *torsion, d / 2)


def rectangular_section(
    width_mm: float, height_mm: float, corner_radius_mm: float = 0.0
) -> Section:
    """Solid rectangular wire, its four edges rounded if wished.

    Area and second moments are exact. Torsion is Saint-Venant's series for sharp corners and a
    series of harmonic polynomials for rounded ones (`_rounded_torsion`).

    Real wire is bevelled and runs undersize: its bending stiffness can be 15–19 % lower
    (Rucker & Kusy 2002, AJODO 122:528–541).

    Parameters
    ----------
    width_mm, height_mm
        Sides along axes 2 and 3.
    corner_radius_mm
        Radius of the edges, at most half the smaller side.

    Raises
    ------
    ValueError
        If a side is not positive or the radius does not fit.
    """
    w, h, r = width_mm, height_mm, corner_radius_mm
    area, up, across = rectangle_moments(w, h, r)
    torsion = _rounded_torsion(w, h, r) if r else _rectangle_torsion(max(w, h), min(w, h))
    return Section("rectangular", w, h, area, up, across, *torsion, r)


def rectangle_moments(
    width_mm: float, height_mm: float, corner_radius_mm: float = 0.0
) -> tuple[float, float, float]:
    """Area in mm², second moments in the planes of the height and of the width in mm⁴.

    With s = side/2 − r, a cross of rectangles and four quarter circles (textbook):
    ``A = w h − (4 − π) r²``,
    ``I = (w − 2r) h³/12 + r (h − 2r)³/6 + π r² s² + 8 r³ s/3 + π r⁴/4``.

    Raises
    ------
    ValueError
        If a side is not positive or the radius does not fit.
    """
    w, h, r = width_mm, height_mm, corner_radius_mm
    if not (w > 0 and h > 0):
        raise ValueError(f"sides {w} × {h} mm: both must be positive")
    if not 0 <= r <= min(w, h) / 2:
        raise ValueError(
            f"corner_radius_mm = {r}: must lie between 0 and half the smaller side, "
            f"{min(w, h) / 2:g} mm"
        )

    def moment(base: float, side: float) -> float:
        s = side / 2 - r
        cross = (base - 2 * r) * side**3 / 12 + r * (2 * s) ** 3 / 6
        return cross + pi * r**2 * s**2 + 8 * r**3 * s / 3 + pi * r**4 / 4

    return w * h - (4 - pi) * r**2, moment(w, h), moment(h, w)


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


_POWERS = 2 * np.arange(48)
_POINTS = 60


@lru_cache(maxsize=256)
def _rounded_torsion(w: float, h: float, r: float) -> tuple[float, float]:
    """Torsion constant and modulus of a rectangle with rounded edges.

    Prandtl's stress function, ``∇²φ = −2`` inside and φ = 0 on the edge, gives ``J = 2 ∫ φ dA``
    and ``τ_max = G θ' max |∇φ|`` (Timoshenko & Goodier, Theory of Elasticity, ch. 10). Here
    ``φ = Σ cₙ Re z²ⁿ − |z|²/2`` with z = x + iy: the differential equation and both symmetries hold
    for any cₙ, and least squares make φ vanish at Gauss points of a quarter of the edge. Integrals
    over the section run along its edge, ``∫ f dA = (1/2i) ∮ (∫ f dz̄) dz``.

    The circle is exact. Half as many terms again change J by less than 1e-6 and W_t by less than
    3e-4, from square to six times as wide as high, whatever the radius.
    """
    z, dz = _quarter_edge(w / 2, h / 2, r)
    powers = (2 * z[:, None] / np.hypot(w, h)) ** _POWERS
    weight = np.sqrt(np.abs(dz))
    square = np.abs(z) ** 2
    terms = np.linalg.lstsq(powers.real * weight[:, None], square / 2 * weight, rcond=None)[0]
    harmonic = ((np.conj(z) * dz) @ powers).imag @ terms
    quadratic = (square * np.conj(z) @ dz).imag / 4
    J = 4 * (harmonic - quadratic)
    slope = (powers * _POWERS / z[:, None]) @ terms - np.conj(z)
    return float(J), float(J / np.abs(slope).max())


def _quarter_edge(a: float, b: float, r: float) -> tuple[NDArray[np.complex128], ...]:
    """Points z and steps dz along the edge from (a, 0) round the corner to (0, b)."""
    t, weight = np.polynomial.legendre.leggauss(_POINTS)
    t, weight = (t + 1) / 2, weight / 2
    turn = np.exp(0.5j * pi * t)
    side = a + 1j * (b - r) * t
    corner = complex(a - r, b - r) + r * turn
    top = (a - r) * (1 - t) + 1j * b
    steps = 1j * (b - r) * weight, 0.5j * pi * r * turn * weight, -(a - r) * weight
    return np.concatenate([side, corner, top]), np.concatenate(steps)
