"""Superelastic sections and wires, loaded and let back, against quadrature of the law's lines."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from fem.fibre import FibreSection, rectangular_fibres, round_strips
from fem.inelastic import follow
from fem.moment_curvature import bend_to, virgin
from fem.uniaxial import Superelastic, compression_ratios
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.inelastic_sections import DIAMETER, HEIGHT, WIDTH, in_height
from workflow.verification.inelastic_wires import BASE, SPAN, hook_force, soft_wire
from workflow.verification.reference import reference_table

Array = NDArray[np.float64]

NITI = Superelastic(60e3, 520.0, 600.0, 300.0, 200.0, 0.075)

# Nickel–titanium with stresses and strains a hundredth of the usual: small deflection.
E, START, FINISH, BACK_START, BACK_FINISH, REACH = 60e3, 5.2, 6.0, 3.0, 2.0, 7.5e-4
SOFT_NITI = Superelastic(E, START, FINISH, BACK_START, BACK_FINISH, REACH)

_FRONT = "the front of transformation lies between fibres, an error of the square of their spacing"
_MESH = "80 elements on the span, fine at the mouth, and 150 fibres: second order each"


@cache
def superelastic_moments() -> Array:
    """Moment of rectangle and circle (N·mm) for each row of the table, in its order, (n, 2)."""
    table = reference_table("superelastic_bending")
    found = []
    for fibres in (rectangular_fibres(WIDTH, HEIGHT), round_strips(DIAMETER, 240)):
        wire = FibreSection(fibres, NITI)
        moments = []
        for most, curvature in zip(table["from"], table.curvature, strict=True):
            if curvature == most:  # a virgin section: the table's rows are single loadings
                history = bend_to(wire, in_height(curvature), virgin(wire), steps=5)
            else:
                history = bend_to(wire, in_height(curvature), history, steps=2)
            moments.append(history.moment_Nmm[-1, 0])
        found.append(moments)
    return np.array(found).T


def _moments(loading: bool) -> Compared:
    table = reference_table("superelastic_bending")
    chosen = (table["from"] == table.curvature) == loading
    rows = table[chosen]
    way = "to" if loading else "back to"
    labels = [
        f"{shape}, {way} {k:g}/mm from {0 if loading else m:g}"
        for m, k in zip(rows["from"], rows.curvature, strict=True)
        for shape in ("rectangle", "circle")
    ]
    found = superelastic_moments()[chosen.to_numpy()]
    exact = rows[["rectangle", "circle"]].to_numpy()
    # A moment that has to be nothing is measured by the moment at the start of the plateau.
    scale = np.where(exact == 0, superelastic_moments()[1], exact)
    return Compared(found / scale, exact / scale, scale=1.0, labels=labels)


def _asymmetric_limit() -> Compared:
    """Stress blocks with plateaus made all but flat: M = σ_t b h² c/(2 (1 + c))."""
    c, _ = compression_ratios(0.15)
    flat = Superelastic(2e6, 520.0, 520.1, 300.0, 200.0, 0.5, compression_stress_ratio=c)
    wire = FibreSection(rectangular_fibres(WIDTH, HEIGHT), flat)
    bent = bend_to(wire, in_height(0.2), virgin(wire), steps=5)
    return Compared(bent.moment_Nmm[-1, 0], 520.0 * WIDTH * HEIGHT**2 * c / (2 * (1 + c)))


def _neutral_axis() -> Compared:
    """Tension needs c/(1 + c) of the height: the middle is strained by the curvature's share."""
    c, _ = compression_ratios(0.15)
    flat = Superelastic(2e6, 520.0, 520.1, 300.0, 200.0, 0.5, compression_stress_ratio=c)
    wire = FibreSection(rectangular_fibres(WIDTH, HEIGHT), flat)
    bent = bend_to(wire, in_height(0.2), virgin(wire), steps=5)
    return Compared(bent.axial_strain[-1] / (0.2 * HEIGHT), c / (1 + c) - 0.5, scale=1.0)


def flag_stress(strain: Array, most: Array) -> Array:
    """Stress of a fibre that went straight to `most` > 0 and back to `strain`: the law's lines.

    Loading ``σ = E (ε − ε_L ξ)`` with ``ξ = (σ − σ_s)/(σ_f − σ_s)`` from 0 to 1, unloading with
    ``ξ = ξ₀ (σ − σ'_f)/(σ'_s − σ'_f)`` from ξ₀ to 0 (Auricchio & Taylor 1997, linear kinetics).
    """
    slope = (FINISH - START) / (REACH + (FINISH - START) / E)
    line = START + slope * (most - START / E)
    share = np.clip((line - START) / (FINISH - START), 0, 1)
    elastic = E * (strain - REACH * share)
    stiff = E * REACH * share / (BACK_START - BACK_FINISH)
    plateau = (E * strain + stiff * BACK_FINISH) / (1 + stiff)
    transforming = np.where(plateau > BACK_FINISH, plateau, E * strain)
    return np.where(elastic > BACK_START, elastic, np.where(share > 0, transforming, E * strain))


def _moment(curvature: Array, most: Array) -> Array:
    """Moment of the rectangle, by Gauss points over half its height, for each curvature (n,)."""
    y, w = np.polynomial.legendre.leggauss(200)
    y, w = HEIGHT / 4 * (1 + y), HEIGHT / 4 * w
    stress = flag_stress(np.multiply.outer(curvature, y), np.multiply.outer(most, y))
    moment: Array = 2 * WIDTH * stress @ (w * y)
    return moment


def superelastic_deflections(greatest: float, back: float) -> tuple[float, float]:
    """Deflection under the greatest moment at the mouth, and when it is let back to `back`.

    ``δ = L (L + b) ∫ κ(M u) u du``: the moment falls linearly on both sides of the mouth.
    """
    u, w = np.polynomial.legendre.leggauss(200)
    u, w = 0.5 * (1 + u), 0.5 * w

    def curvature(moment: float, top: Array, most: Array | None) -> Array:
        """Where the rising moment of each section is its share of that at the mouth."""
        low, high = np.zeros_like(u), top
        for _ in range(60):
            middle = 0.5 * (low + high)
            above = _moment(middle, middle if most is None else most) > moment * u
            low, high = np.where(above, low, middle), np.where(above, middle, high)
        return 0.5 * (low + high)

    most = curvature(greatest, np.full_like(u, 0.01), None)
    left = curvature(back, most, most)
    both = [SPAN * (SPAN + BASE) * float(w @ (kappa * u)) for kappa in (most, left)]
    return both[0], both[1]


_SHARES = (0.7, 0.4)  # of the plateau's first moment, on the way back


@cache
def _mouth_moments() -> tuple[float, ...]:
    """Moment at the mouth going, then coming at each share, over that of the plateau's start."""
    first = START * WIDTH * HEIGHT**2 / 6
    there, _ = superelastic_deflections(1.35 * first, 0.0)
    back = [superelastic_deflections(1.35 * first, share * first)[1] for share in _SHARES]
    held, wire = soft_wire(there, SOFT_NITI)
    points = follow(held, wire, [1.0, *(way / there for way in back)], longest_step=0.04)
    return tuple(float(np.linalg.norm(hook_force(p))) * SPAN / first for p in points)


def _going() -> Compared:
    return Compared(_mouth_moments()[0], 1.35)


def _coming() -> Compared:
    return Compared(_mouth_moments()[1:], _SHARES, labels=[f"back to {s}" for s in _SHARES])


_BEND = "fem.fibre.FibreSection, fem.moment_curvature.bend_to"
_FOLLOW = "fem.inelastic.follow"

CHECKS = (
    Check(
        id="superelastic_moment_loading",
        what="moment of superelastic sections bent through both ends of the plateau",
        code=_BEND,
        kind=Kind.BENCHMARK,
        source="superelastic_quadrature",
        place="nine curvatures to 0.4/mm, rectangle and circle",
        tolerance=1e-4,
        reason=_FRONT,
        compute=lambda: _moments(True),
    ),
    Check(
        id="superelastic_moment_unloading",
        what="moment of superelastic sections let back from 0.2 and 0.4/mm to nothing",
        code=_BEND,
        kind=Kind.BENCHMARK,
        source="superelastic_quadrature",
        place="ten curvatures, rectangle and circle, partly and fully transformed",
        tolerance=1e-4,
        reason=_FRONT,
        compute=lambda: _moments(False),
    ),
    Check(
        id="asymmetric_plateau",
        what="greatest moment of a rectangle stronger in compression, N·mm",
        code="fem.uniaxial.Superelastic, fem.moment_curvature.bend_to",
        kind=Kind.CODE,
        source="statics",
        place="stress blocks, σ_t b h² c/(2 (1 + c)), c = 1.450",
        tolerance=1e-3,
        reason="the plateau rises by 2e-4; one fibre of the axis is worth less",
        compute=_asymmetric_limit,
    ),
    Check(
        id="asymmetric_neutral_axis",
        what="shift of the neutral axis over the height",
        code="fem.moment_curvature.bend_to",
        kind=Kind.CODE,
        source="statics",
        place="tension takes c/(1 + c) of the height",
        tolerance=2e-3,
        reason="absolute; less than the height of one fibre",
        compute=_neutral_axis,
    ),
    Check(
        id="superelastic_cantilever_going",
        what="moment at the mouth of a superelastic wire, over that of the plateau's start",
        code=_FOLLOW,
        kind=Kind.BENCHMARK,
        source="superelastic_quadrature",
        place="δ = L(L + b) ∫ κ(M u) u du of the law's lines",
        tolerance=1e-3,
        reason=_MESH,
        compute=_going,
    ),
    Check(
        id="superelastic_cantilever_coming",
        what="the same after letting it back to 0.7 and 0.4 of that moment",
        code=_FOLLOW,
        kind=Kind.BENCHMARK,
        source="superelastic_quadrature",
        place="δ = L(L + b) ∫ κ(M u) u du of the law's lines",
        tolerance=2e-3,
        reason="a smaller moment at the end of a longer path. " + _MESH,
        compute=_coming,
    ),
)
