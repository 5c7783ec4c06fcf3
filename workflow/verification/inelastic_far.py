"""Inelastic wires bent far: large rotation with yield, three-point bending, the rod of fibres."""

from __future__ import annotations

from functools import cache
from math import acos, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import cumulative_trapezoid, solve_ivp
from scipy.optimize import brentq, root

from fem.fibre import FibreSection, rectangular_fibres, round_fibres, round_strips
from fem.fibre_rod import FibreRod, FibreRodState, element_forces, passive_fibre_rod
from fem.lead import NodeLead, PegLead
from fem.load_history import Bench, begin, clamped_at, displace_to, load_to
from fem.material import Elastic
from fem.rod import RodState, internal_forces, passive_rod
from fem.section import rectangular_section, round_section
from fem.three_point import three_point_bench
from fem.uniaxial import ElasticPlastic, LinearElastic
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.inelastic_superelastic import NITI
from workflow.verification.inelastic_wires import graded
from workflow.verification.reference import reference_table

Array = NDArray[np.float64]

ALONG, UP = np.eye(3)[0], np.eye(3)[2]

# Titanium–molybdenum wire of 0.017 × 0.025 inch.
_E, _LIMIT, _WIDTH, _HEIGHT, _SPAN = 65e3, 830.0, 0.635, 0.432, 20.0
_FIRST_NMM = _LIMIT * _WIDTH * _HEIGHT**2 / 6
_YIELD_CURVATURE = _LIMIT / _E / (_HEIGHT / 2)


def straight(
    x: Array, section: FibreSection, shear_torsion: Array
) -> tuple[FibreRod, FibreRodState]:
    """Straight wire of fibres along the first axis, nodes at x (n,), κGA twice and GJ (3,)."""
    axes = np.tile(np.eye(3), (len(x), 1, 1))
    return passive_fibre_rod(x[:, None] * ALONG, axes, np.diff(x), section, shear_torsion)


def _curvature(moment: Array) -> Array:
    """Closed law of the perfectly plastic rectangle."""
    m = np.asarray(moment) / _FIRST_NMM
    return _YIELD_CURVATURE * np.where(m <= 1, m, 1 / np.sqrt(np.maximum(3 - 2 * m, 1e-6)))


def _shoot(force: float, angle: float) -> Array:
    """Cantilever under a dead tip force F, from the tip's slope back to the clamp: θ, x, z.

    ``θ' = −κ(F x)``, ``x' = cos θ``, ``z' = sin θ``, x measured from the tip toward the clamp.
    """

    def rates(_: float, y: Array) -> list[float]:
        return [-float(_curvature(force * y[1])), np.cos(y[0]), np.sin(y[0])]

    s = np.linspace(0, _SPAN, 2001)
    path: Array = solve_ivp(rates, (0, _SPAN), [angle, 0, 0], t_eval=s, rtol=1e-9, atol=1e-11).y
    return path


@cache
def _shot() -> tuple[float, float, float, float]:
    """Force, deflection, tip angle and set of a wire loaded to 1.6 times first yield's force.

    Sections only ever load, and let back elastically by M/EI everywhere, which gives the wire's
    shape when free.
    """
    force = 1.6 * _FIRST_NMM / _SPAN
    angle = float(brentq(lambda a: _shoot(force, a)[0, -1], 0.2, 1.4, xtol=1e-10))
    _, x, z = _shoot(force, angle)
    moment = force * x[::-1]
    left = _curvature(moment) - _YIELD_CURVATURE * moment / _FIRST_NMM
    step = _SPAN / (len(x) - 1)
    slope = cumulative_trapezoid(left, dx=step, initial=0)
    return force, float(z[-1]), angle, float(np.trapezoid(np.sin(slope), dx=step))


def _large_rotation() -> Compared:
    force, deflection, angle, expected_set = _shot()
    section = FibreSection(rectangular_fibres(_WIDTH, _HEIGHT), ElasticPlastic(_E, _LIMIT))
    law = rectangular_section(_WIDTH, _HEIGHT).stiffness(Elastic(_E, 0.3))[1:4] * [100, 100, 1]
    nodes = graded(_SPAN, 60, 20)
    wire, state = straight(nodes, section, law)
    bench = Bench(wire, clamped_at(len(nodes), 0), NodeLead(len(nodes) - 1, UP))
    history = displace_to(bench, begin(bench, state), deflection, 8)
    tip = history.state.frames.axes[-1][:, 0]
    free = load_to(bench, history, 0.0, 4)
    found = [
        history.force_N[-1] / force,
        np.arctan2(tip[2], tip[0]) / angle,
        free.displacement_mm[-1] / deflection,
    ]
    share = expected_set / deflection
    note = f"deflection {deflection / _SPAN:.2f} of the span, set {share:.3f} of it"
    return Compared(found, [1.0, 1.0, share], scale=1.0,
                    labels=["force", "tip angle", "set"], note=note)  # fmt: skip


def _smooth_peg() -> Compared:
    """EI = 1, distance 1; past the greatest force, one deflection after the other."""
    side = 0.02
    section = FibreSection(rectangular_fibres(side, side), LinearElastic(12 / side**4))
    x = np.linspace(0, 2.0, 81)
    wire, state = straight(x, section, np.array([3e4, 3e4, 1.0]))
    bench = Bench(wire, clamped_at(len(x), 0), PegLead(1.0, ALONG, UP))
    history, found = begin(bench, state), []
    table = reference_table("elastica_on_peg")
    rows = table[table.deflection.isin([0.10, 0.30, 0.50, 0.80, 1.00])]
    for deflection in rows.deflection:
        history = displace_to(bench, history, deflection, 3)
        found.append(history.force_N[-1])
    return Compared(found, rows.force_transverse, labels=[f"d/L = {d:g}" for d in rows.deflection])


def bent_frames(n: int, seed: int = 5) -> tuple[Array, RodState, RodState]:
    """Nodes of a straight wire of 4 mm, at rest and strained in every component."""
    rng = np.random.default_rng(seed)
    x = np.linspace(0, 4.0, n + 1)
    passive = RodState(x[:, None] * ALONG, np.tile(np.eye(3), (n + 1, 1, 1)))
    return x, passive, passive.moved(rng.normal(0, 0.01, (n + 1, 6)))


def _elastic_fibre_rod() -> Compared:
    x, passive, bent = bent_frames(6)
    law = round_section(0.4).stiffness(Elastic(170e3, 0.3))
    rod = passive_rod(passive.points, passive.axes, np.diff(x), law)
    section = FibreSection(round_fibres(0.4), LinearElastic(170e3))
    wire, state = straight(x, section, law[1:4])
    forces, tangent = internal_forces(rod, bent)
    answer = element_forces(wire, bent, state.memory)
    pairs = ((answer.forces, forces), (answer.tangent, tangent))
    found, exact = ([np.ravel(pair[i]) / np.abs(pair[1]).max() for pair in pairs] for i in (0, 1))
    return Compared(np.concatenate(found), np.concatenate(exact), scale=1.0)


def _yielding_tangent() -> Compared:
    x, _, bent = bent_frames(3)
    section = FibreSection(round_fibres(0.4, 6, 9), ElasticPlastic(170e3, 300.0, 5e3))
    law = round_section(0.4).stiffness(Elastic(170e3, 0.3))[1:4]
    wire, state = straight(x, section, law)
    answer, h = element_forces(wire, bent, state.memory), 1e-8
    if np.abs(answer.memory).max() < 1e-3:
        raise ValueError("no fibre yields: the check would not see the law")
    found, exact = [], []
    for j in range(6):
        twists = np.zeros((4, 6))
        twists[1, j] = h
        ahead, behind = (
            element_forces(wire, bent.moved(way * twists), state.memory).forces for way in (1, -1)
        )
        exact.append((ahead - behind)[:2] / (2 * h))
        found.append([answer.tangent[0, :, 6 + j], answer.tangent[1, :, j]])
    return Compared(found, exact, scale=float(np.abs(answer.tangent).max()))


_WIRE_MM, _HALF_MM = 0.4064, 5.0


def circle_moment(kappa: float, diameter_mm: float) -> float:
    """Moment of the superelastic circle being loaded (N·mm): ``σ = E ε + Σ ΔE ⟨|ε| − ε_i⟩``.

    60 GPa, plateau from 520 to 600 MPa, transformation strain 0.075.
    """
    r, E, first, last = diameter_mm / 2, 60e3, 520 / 60e3, 0.085
    plateau = 80 / (last - first)
    M = E * kappa * pi * r**4 / 4
    for change, at in ((plateau - E, first), (E - plateau, last)):
        eta = at / (kappa * r) if kappa > 0 else 2.0
        if eta < 1:
            chord = acos(eta) + eta * sqrt(1 - eta**2) * (1 - 2 * eta**2)
            M += change * kappa * r**4 * (chord / 2 - 4 / 3 * eta * (1 - eta**2) ** 1.5)
    return M


@cache
def _law_of_the_circle() -> tuple[Array, Array]:
    kappas = np.linspace(0, 0.5, 4001)
    return kappas, np.array([circle_moment(k, _WIRE_MM) for k in kappas])


def _back_to_the_clamp(force: float, angle: float) -> Array:
    """From the support: a force across the wire, whose slope there is `angle`; θ, x, z."""
    kappas, moments = _law_of_the_circle()

    def rates(_: float, y: Array) -> list[float]:
        arm = y[1] * np.cos(angle) + y[2] * np.sin(angle)
        return [-np.interp(force * arm, moments, kappas), np.cos(y[0]), np.sin(y[0])]

    def clamp(_: float, y: Array) -> float:
        return float(y[1] - _HALF_MM)

    clamp.terminal = True  # type: ignore[attr-defined]
    path = solve_ivp(rates, (0, 20), [angle, 0, 0], events=clamp, rtol=1e-9, atol=1e-11)
    end: Array = path.y[:, -1]
    return end


def _three_point_reference(deflection: float) -> float:
    """Force of one support across the span: shooting, the wire sliding over the support."""

    def misses(unknown: Array) -> list[float]:
        end = _back_to_the_clamp(unknown[0], unknown[1])
        return [end[0], end[2] - deflection]

    start = [1.52 * deflection, 1.5 * deflection / _HALF_MM]
    found = root(misses, start, tol=1e-10)
    if not found.success:
        raise ValueError(f"the shooting did not converge: {found.message}")
    return float(found.x[0] * np.cos(found.x[1]))


def _three_point_superelastic() -> Compared:
    section = round_section(_WIRE_MM)
    law = section.stiffness(Elastic(60e3, 0.33))[1:4] * [1e2, 1e2, 1]
    fibres = FibreSection(round_strips(_WIRE_MM), NITI)
    bench, history = three_point_bench(fibres, law, elements=60)
    deflections, found = (0.3, 0.6, 1.0), []
    for deflection in deflections:
        history = displace_to(bench, history, deflection, 5)
        found.append(history.force_N[-1])
    exact = [_three_point_reference(d) for d in deflections]
    return Compared(found, exact, labels=[f"{d} mm" for d in deflections])


CHECKS = (
    Check(
        id="plastic_large_rotation",
        what="force and tip angle (over the exact ones) and set (over the deflection) past yield",
        code="fem.load_history.displace_to, fem.load_history.load_to",
        kind=Kind.CODE,
        source="shooting",
        place="titanium–molybdenum wire led to half its span and let go",
        tolerance=1e-3,
        reason="60 elements where it yields, 2nd order; shear suppressed as in the shooting",
        compute=_large_rotation,
    ),
    Check(
        id="fibre_rod_on_peg",
        what="force across of an elastic fibre rod led by a smooth peg past its greatest force",
        code="fem.lead.PegLead, fem.load_history.displace_to",
        kind=Kind.BENCHMARK,
        source="peg",
        place="five deflections from 0.1 to 1 of the distance",
        tolerance=3e-4,
        reason="shear and stretch of the wire are worth 1e-4",
        compute=_smooth_peg,
    ),
    Check(
        id="fibre_rod_is_the_rod",
        what="forces and tangent of elastic fibres against the elastic rod, over the largest",
        code="fem.fibre_rod.element_forces, fem.rod.internal_forces",
        kind=Kind.CODE,
        source="beam",
        place="six elements strained in all six ways",
        tolerance=1e-9,
        reason="rounding: both store the same energy",
        compute=_elastic_fibre_rod,
    ),
    Check(
        id="fibre_rod_tangent",
        what="tangent of yielding elements against differences, over its largest entry",
        code="fem.fibre_rod.element_forces",
        kind=Kind.CODE,
        source="calculus",
        place="three elements of a hardening wire strained in all six ways",
        tolerance=2e-4,
        reason="the geometric part is a series cut off at the third power of the turn",
        compute=_yielding_tangent,
    ),
    Check(
        id="superelastic_three_point",
        what="force of a support in three-point bending of a superelastic wire, loading, N",
        code="fem.three_point.three_point_bench, fem.load_history.displace_to",
        kind=Kind.CODE,
        source="shooting",
        place="0.016 inch round on 10 mm, to 0.3, 0.6 and 1 mm",
        tolerance=1e-3,
        reason="60 elements on half the span, 160 strips; shear suppressed as in the shooting",
        compute=_three_point_superelastic,
    ),
)
