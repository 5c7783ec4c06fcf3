"""A wire pushed by a peg or a bar: its place of contact, its force, and Coulomb's friction."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import brentq

from fem.attachment import bar_contact
from fem.friction import FrictionBracket, friction_bracket
from fem.peg import Peg, PegSolution, solve_on_peg, straight_cut
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table
from workflow.verification.rods_elastica import LAW, unit_wire

Array = NDArray[np.float64]

ALONG, _, UP = np.eye(3)

_MEASURES = ("θ", "F", "M", "S", "F across", "F along")
_INEXTENSIBLE = "forces of the order of 1 strain the wire by 1e-8; fourth order, 40 elements"
_ROUGH = [(d, mu) for d in (0.2, 0.6) for mu in (0.2, -0.2, 0.5, -0.5)]
_BAR_RAISED, _BAR_FRICTION = 0.4, (0.0, 0.1, 0.3)


@cache
def on_peg(deflection: float, friction: float = 0.0, elements: int = 40) -> PegSolution:
    """Straight wire clamped at 0, deflected by a peg at a distance of 1 (length and EI of 1)."""
    cut = straight_cut(unit_wire(elements), 0, LAW)
    return solve_on_peg(cut, 1.0, Peg(0, np.array([1.0, 0, deflection]), friction))


def _measures(solved: PegSolution) -> tuple[float, ...]:
    """Angle, force, clamp moment, length to the contact, force across and along the clamp."""
    tangent = solved.equilibrium.state.axes[-1][:, 0]
    force = -solved.equilibrium.loads[-1].wrench[:3]
    root = sum((load.wrench[3:] for load in solved.equilibrium.loads[:4]), np.zeros(3))
    return (
        float(np.arctan2(tangent[2], tangent[0])),
        solved.normal_N,
        float(np.linalg.norm(root)),
        solved.length_mm,
        float(force[2]),
        float(-force[0]),
    )


def _smooth_peg() -> Compared:
    table = reference_table("elastica_on_peg")
    found = [_measures(on_peg(d)) for d in table.deflection]
    labels = [f"{name}, d/L = {d:g}" for d in table.deflection for name in _MEASURES]
    return Compared(found, table.iloc[:, 1:], labels=labels)


def _nothing_along() -> Compared:
    table = reference_table("elastica_on_peg")
    found = [on_peg(d).along_N for d in table.deflection]
    return Compared(found, 0.0, scale=1.0, labels=[f"d/L = {d:g}" for d in table.deflection])


def _extremes() -> Compared:
    """Greatest force, greatest force across, and where the latter vanishes (a vertical wire)."""
    greatest = _measures(on_peg(0.72366635541))
    across = _measures(on_peg(0.47637759783))
    upright = _measures(on_peg(1.6692536833))
    found = [greatest[1], across[4], upright[0], upright[1], upright[4]]
    exact = [1.178533619, 0.8339760543, np.pi / 2, 0.71777001105, 0.0]
    labels = ["greatest F", "greatest F across", "θ upright", "F upright", "F across upright"]
    return Compared(found, exact, scale=1.0, labels=labels)


def _maximum_is_one() -> Compared:
    """Slopes of the force where the closed form has its maximum, by differences of the solution."""
    step = 2e-3
    slopes = [
        (_measures(on_peg(at + step))[place] - _measures(on_peg(at - step))[place]) / (2 * step)
        for at, place in ((0.72366635541, 1), (0.47637759783, 4))
    ]
    return Compared(slopes, 0.0, scale=1.0, labels=["F", "F across"])


def peg_errors(elements: tuple[int, ...]) -> Array:
    """Error of the peg's force at d/L = 0.8 for each number of elements (EI and length of 1)."""
    table = reference_table("elastica_on_peg")
    exact = table.force[table.deflection == 0.8].item()
    return np.abs(np.array([on_peg(0.8, elements=n).normal_N for n in elements]) - exact)


def _order() -> Compared:
    coarse, fine = peg_errors((8, 16))
    return Compared(np.log2(coarse / fine), 4.0, scale=1.0)


def pushed_elastica(tip_angle: float, direction: float) -> tuple[float, float, float]:
    """Reach X, Y and length S of a cantilever under a tip force of 1 (EI = 1), by quadrature.

    ``θ'²/2 = cos(φ − θ_c) − cos(φ − θ)`` for a force at the angle φ and a free end at θ_c
    (first integral of EI θ'' = −F sin(φ − θ)); derived here.
    """

    def integral(weight: Callable[[float], float]) -> float:
        def integrand(u: float) -> float:
            half = u**2 / 2  # cos a − cos b as a product, exact to the end
            bend = 4 * np.sin(direction - tip_angle + half) * np.sin(half)
            return float(weight(tip_angle - u**2) * 2 * u / np.sqrt(bend))

        return float(quad(integrand, 0, np.sqrt(tip_angle), epsabs=1e-13, epsrel=1e-12)[0])

    return integral(np.cos), integral(np.sin), integral(lambda _: 1.0)


def _rough_reference(deflection: float, friction: float) -> tuple[float, float]:
    """Normal force and length to the contact: the push leans by atan μ from the wire's normal."""
    lean = np.arctan(friction)

    def reach(angle: float) -> tuple[float, float, float]:
        return pushed_elastica(angle, angle + np.pi / 2 - lean)

    def miss(angle: float) -> float:
        X, Y, _ = reach(angle)
        return Y / X - deflection

    X, _, S = reach(brentq(miss, 1e-3, 1.3, xtol=1e-14))
    return float(X**2 * np.cos(lean)), S / X


def _rough_peg() -> Compared:
    solved = [on_peg(*case) for case in _ROUGH]
    labels = [f"{name}, d/L = {d}, μ = {mu}" for d, mu in _ROUGH for name in ("N", "S")]
    return Compared(
        [(s.normal_N, s.length_mm) for s in solved],
        [_rough_reference(*case) for case in _ROUGH],
        labels=labels,
    )


def _coulomb_peg() -> Compared:
    solved = [on_peg(*case) for case in _ROUGH]
    ratios = [s.along_N / s.normal_N for s in solved]
    return Compared(ratios, [mu for _, mu in _ROUGH],
                    labels=[f"d/L = {d}, μ = {mu}" for d, mu in _ROUGH])  # fmt: skip


@cache
def on_bar(deflection: float, friction: float) -> FrictionBracket:
    """The end of a straight wire raised by a bar along which it slides, both ways of friction."""
    wire = unit_wire(40)
    tip = wire.passive.points[-1]
    hold = bar_contact(0, 40, tip + deflection * UP, ALONG, tip)
    contacts = (*wire.contacts, hold)
    return friction_bracket(replace(wire, contacts=contacts), len(wire.contacts), ALONG, friction)


def _bar_reference(deflection: float, friction: float) -> float:
    """Force square to the bar of the elastica under a force at a fixed angle."""
    direction = np.pi / 2 - np.arctan(friction)

    def miss(angle: float) -> float:
        _, Y, S = pushed_elastica(angle, direction)
        return Y / S - deflection

    angle = brentq(miss, 0.1, 1.0, xtol=1e-14)
    return float(pushed_elastica(angle, direction)[2] ** 2 * np.cos(np.arctan(friction)))


def _rough_bar() -> Compared:
    found, exact, labels = [], [], []
    for mu in _BAR_FRICTION:
        bracket = on_bar(_BAR_RAISED, mu)
        for way, solved in ((1, bracket.activating), (-1, bracket.deactivating)):
            found.append(float(np.linalg.norm(solved.multipliers[-1])))
            exact.append(_bar_reference(_BAR_RAISED, way * mu))
            labels.append(f"μ = {way * mu:g}")
    return Compared(found, exact, labels=labels)


def _coulomb_bar() -> Compared:
    found, exact, labels = [], [], []
    for mu in _BAR_FRICTION:
        bracket = on_bar(_BAR_RAISED, mu)
        for way, solved in ((1, bracket.activating), (-1, bracket.deactivating)):
            on_wire = -solved.loads[-1].wrench[:3]
            found.append(on_wire[0] / on_wire[2])
            exact.append(way * mu)
            labels.append(f"μ = {way * mu:g}")
    return Compared(found, exact, scale=1.0, labels=labels)


CHECKS = (
    Check(
        id="elastica_on_smooth_peg",
        what="angle, force, clamp moment, length and components of a wire over a smooth peg",
        code="fem.peg.solve_on_peg",
        kind=Kind.BENCHMARK,
        source="peg",
        place="sixteen deflections from 0.01 to 1.5 of the distance, length and EI of 1",
        tolerance=1e-6,
        reason=_INEXTENSIBLE,
        compute=_smooth_peg,
    ),
    Check(
        id="smooth_peg_pushes_across",
        what="force of a smooth peg along the wire, N",
        code="fem.peg.solve_on_peg",
        kind=Kind.CODE,
        source="statics",
        place="sixteen deflections, forces of the order of 1 N",
        tolerance=1e-8,
        reason="the residual at which Newton's method stops",
        compute=_nothing_along,
    ),
    Check(
        id="peg_extremes",
        what="greatest forces of a wire over a peg and the upright wire, EI and distance of 1",
        code="fem.peg.solve_on_peg",
        kind=Kind.BENCHMARK,
        source="peg",
        place="maxima at d/L = 0.7237 and 0.4764; θ = π/2 at 1.6693",
        tolerance=2e-6,
        reason=_INEXTENSIBLE,
        compute=_extremes,
    ),
    Check(
        id="peg_maxima",
        what="slope of the forces over the deflection at their maxima, EI and distance of 1",
        code="fem.peg.solve_on_peg",
        kind=Kind.BENCHMARK,
        source="peg",
        place="d/L = 0.7237 and 0.4764",
        tolerance=1e-4,
        reason="central differences of step 2e-3 of forces of the order of 1",
        compute=_maximum_is_one,
    ),
    Check(
        id="peg_order",
        what="observed order of convergence of the force on a smooth peg, d/L = 0.8",
        code="fem.peg.solve_on_peg",
        kind=Kind.CODE,
        source="peg",
        place="error at 8 and 16 elements",
        tolerance=0.3,
        reason="absolute; the next term of the error, at eight elements",
        compute=_order,
    ),
    Check(
        id="rough_peg_force",
        what="normal force and length to the contact on a rough peg, EI and distance of 1",
        code="fem.peg.solve_on_peg",
        kind=Kind.BENCHMARK,
        source="coulomb",
        place="force inclined by atan μ; d/L = 0.2 and 0.6, μ = ±0.2 and ±0.5",
        tolerance=1e-6,
        reason=_INEXTENSIBLE,
        compute=_rough_peg,
    ),
    Check(
        id="rough_peg_friction",
        what="force along the wire over the normal force on a sliding rough peg",
        code="fem.peg.solve_on_peg",
        kind=Kind.CODE,
        source="coulomb",
        place="T = μ N; d/L = 0.2 and 0.6, μ = ±0.2 and ±0.5",
        tolerance=1e-9,
        reason="the residual at which Newton's method stops",
        compute=_coulomb_peg,
    ),
    Check(
        id="rough_bar_force",
        what="force square to a rough bar along which the wire slides, length and EI of 1",
        code="fem.friction.friction_bracket",
        kind=Kind.BENCHMARK,
        source="coulomb",
        place="tip raised by 0.4, activating and letting back, μ = 0, 0.1 and 0.3",
        tolerance=1e-6,
        reason=_INEXTENSIBLE,
        compute=_rough_bar,
    ),
    Check(
        id="rough_bar_friction",
        what="force along a rough bar over the force square to it",
        code="fem.friction.friction_bracket",
        kind=Kind.CODE,
        source="coulomb",
        place="T = ±μ N while it slides, μ = 0, 0.1 and 0.3",
        tolerance=1e-9,
        reason="the residual at which Newton's method stops",
        compute=_coulomb_bar,
    ),
)
