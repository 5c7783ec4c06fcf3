"""Whole wires past their limit, small deflection: force, set and work of a cantilever."""

from __future__ import annotations

from functools import cache
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import cumulative_trapezoid, quad

from fem.appliance import Appliance, Unit
from fem.attachment import bar_contact, two_point_contact
from fem.fibre import FibreSection, rectangular_fibres
from fem.fibre_rod import FibreRod, passive_fibre_rod
from fem.inelastic import InelasticPoint, follow, permanent_set_mm, release
from fem.lead import NodeLead
from fem.load_history import Bench, LoadHistory, begin, clamped_at, load_to
from fem.material import Elastic
from fem.section import rectangular_section
from fem.uniaxial import ElasticPlastic, Superelastic
from workflow.verification.check import Check, Compared, Kind

Array = NDArray[np.float64]
Law = ElasticPlastic | Superelastic

ALONG, UP = np.eye(3)[0], np.eye(3)[2]
WIDTH, HEIGHT, SPAN, BASE = 0.64, 0.48, 10.0, 4.0
SOFT = ElasticPlastic(200e3, 20.0)  # yields at a 300th of the span: small deflection
FIRST_YIELD_N = 20.0 * WIDTH * HEIGHT**2 / 6 / SPAN
FIRST_YIELD_MM = 20.0 / 200e3 / (HEIGHT / 2) * SPAN * (SPAN + BASE) / 3  # in a tube
CLAMPED_YIELD_MM = FIRST_YIELD_N * SPAN**3 / 3 / (200e3 * WIDTH * HEIGHT**3 / 12)
HOOK = 3  # index of the contact at the wire's end
WALLS = (Unit("tube", np.zeros(3), None), Unit("hook", np.zeros(3), None))

_PRINTED = {1.2: 1.21298194, 1.4: 1.54707152}  # F/F_y: δ/δ_y


def exact_deflection(m: float) -> float:
    """``δ/δ_y = [5 − (3 + m) √(3 − 2m)]/m²`` with m = F/F_y, perfectly plastic rectangle.

    Textbook closed form of the clamped cantilever, ∫ κ(M) x dx with
    ``M/M_y = 1.5 − 0.5 (κ_y/κ)²`` (Prager & Hodge 1951, from memory). Held at two points, the
    moment also falls linearly from the mouth over the tube's length b and turns the mouth by
    ∫ κ(M) x dx / b, so ``δ_y = κ_y L (L + b)/3`` and the ratio is the same (derived).
    """
    return (5 - (3 + m) * sqrt(3 - 2 * m)) / m**2


def hook_force(point: InelasticPoint) -> Array:
    """Force on the hook, (3,)."""
    force: Array = point.equilibrium.loads[HOOK].wrench[:3]
    return force


def soft_wire(deflection_mm: float, law: Law = SOFT) -> tuple[Appliance, FibreRod]:
    """Straight wire in a tube, its end brought to a bar; short elements where it yields.

    Parameters
    ----------
    deflection_mm
        Way of its end.
    law
        Of its fibres; soft enough for small deflection.
    """
    tube = BASE * (1 - np.linspace(1, 0, 41) ** 2)
    x = np.concatenate([tube, BASE + SPAN * np.linspace(0, 1, 81)[1:] ** 2])
    points, axes = x[:, None] * ALONG, np.tile(np.eye(3), (len(x), 1, 1))
    section = FibreSection(rectangular_fibres(WIDTH, HEIGHT, across_height=150), law)
    elastic = Elastic(law.initial_modulus_MPa, 0.3)
    stiff = rectangular_section(WIDTH, HEIGHT).stiffness(elastic)[1:4] * [1e3, 1e3, 1]
    wire, state = passive_fibre_rod(points, axes, np.diff(x), section, stiff)
    hold = two_point_contact(0, (0, 40), (points[0], points[40]), axes[0])
    end = bar_contact(1, len(x) - 1, points[-1] + deflection_mm * UP, ALONG, points[-1])
    return Appliance(wire.rod, state.frames, WALLS, (*hold, end)), wire


@cache
def _yielded(m: float) -> tuple[float, float, float, float]:
    """Force, stress, set and rest force, over those of first yield, at the exact deflection."""
    held, wire = soft_wire(exact_deflection(m) * FIRST_YIELD_MM)
    (point,) = follow(held, wire, [1.0])
    resting = release(held, wire, point, [HOOK])
    left = permanent_set_mm(held, resting)[-1]
    return (
        float(np.linalg.norm(hook_force(point))) / FIRST_YIELD_N,
        float(np.abs(point.stress_MPa).max()) / SOFT.yield_strength_MPa,
        float(left @ UP) / FIRST_YIELD_MM,
        float(np.abs(hook_force(resting)).max()) / FIRST_YIELD_N,
    )


def _forces() -> Compared:
    return Compared([_yielded(m)[0] for m in _PRINTED], list(_PRINTED),
                    labels=[f"δ/δ_y = {d}" for d in _PRINTED.values()])  # fmt: skip


def _yield_stress() -> Compared:
    return Compared([_yielded(m)[1] for m in _PRINTED], 1.0)


def _sets() -> Compared:
    exact = [ratio - m for m, ratio in _PRINTED.items()]
    return Compared([_yielded(m)[2] for m in _PRINTED], exact,
                    labels=[f"F/F_y = {m}" for m in _PRINTED])  # fmt: skip


def _released() -> Compared:
    return Compared([_yielded(m)[3] for m in _PRINTED], 0.0, scale=1.0)


def _let_back() -> Compared:
    """The wire springs back by m δ_y: half the springback leaves half the force, elastically."""
    m, ratio = 1.4, exact_deflection(1.4)
    held, wire = soft_wire(ratio * FIRST_YIELD_MM)
    there, back, again = follow(held, wire, [1.0, 1 - m / 2 / ratio, 1.0])
    full = float(np.linalg.norm(hook_force(there)))
    found = [np.linalg.norm(hook_force(p)) / full for p in (back, again)]
    return Compared(found, [0.5, 1.0], labels=["half way back", "there again"])


def _over_activated() -> Compared:
    """Bent 1.25 times as far and let back: the force of the wire sprung back from there."""
    ratio = exact_deflection(1.4)
    held, wire = soft_wire(ratio / 1.25 * FIRST_YIELD_MM)
    _, working = follow(held, wire, [1.25, 1.0])
    expected = 1.4 - ratio * (1 - 1 / 1.25)
    return Compared(np.linalg.norm(hook_force(working)) / FIRST_YIELD_N, expected)


def work_done(path: tuple[InelasticPoint, ...], most_mm: float, shares: Array) -> Array:
    """Work of the hook on the wire up to each share of the activation, trapezoids (N·mm)."""
    forces = np.array([0.0] + [-hook_force(p)[2] for p in path])
    way = most_mm * np.array([0.0, *shares])
    work: Array = cumulative_trapezoid(forces, way, initial=0.0)
    return work


def _work() -> Compared:
    """Put in ∫ F dδ by parts, and lost: less the elastic m²/2 that the spring gives back."""
    m, ratio = 1.4, exact_deflection(1.4)
    held, wire = soft_wire(ratio * FIRST_YIELD_MM)
    shares = np.linspace(0, 1, 41)[1:]
    path = tuple(follow(held, wire, list(shares)))
    unit = FIRST_YIELD_N * FIRST_YIELD_MM
    put_in = work_done(path, ratio * FIRST_YIELD_MM, shares)[-1] / unit
    beyond = m * ratio - 1 - quad(exact_deflection, 1, m)[0]
    exact = 0.5 + beyond
    labels = ["put in", "lost"]
    return Compared([put_in, put_in - m**2 / 2], [exact, exact - m**2 / 2], scale=exact,
                    labels=labels)  # fmt: skip


def clamped_bench(x: Array) -> tuple[Bench, LoadHistory]:
    """The same wire clamped at its first node, nodes at x (n,), led across its end."""
    section = FibreSection(rectangular_fibres(WIDTH, HEIGHT), SOFT)
    law = rectangular_section(WIDTH, HEIGHT).stiffness(Elastic(200e3, 0.3))[1:4] * [1e3, 1e3, 1]
    axes = np.tile(np.eye(3), (len(x), 1, 1))
    wire, state = passive_fibre_rod(x[:, None] * ALONG, axes, np.diff(x), section, law)
    bench = Bench(wire, clamped_at(len(x), 0), NodeLead(len(x) - 1, UP))
    return bench, begin(bench, state)


def graded(length: float, fine: int, coarse: int, share: float = 0.4) -> Array:
    """Nodes from 0 to a length, short elements next to the clamp, where the wire yields."""
    near = np.linspace(0, share * length, fine + 1)
    return np.concatenate([near, np.linspace(share * length, length, coarse + 1)[1:]])


@cache
def _clamped(m: float) -> tuple[float, float]:
    """Deflection under m times the force of first yield and after release, over that of it."""
    bench, history = clamped_bench(graded(SPAN, 80, 20))
    history = load_to(bench, history, m * FIRST_YIELD_N, 6)
    free = load_to(bench, history, 0.0, 2)
    return (
        float(history.displacement_mm[-1] / CLAMPED_YIELD_MM),
        float(free.displacement_mm[-1] / CLAMPED_YIELD_MM),
    )


def _clamped_deflections() -> Compared:
    return Compared([_clamped(m)[0] for m in _PRINTED], list(_PRINTED.values()),
                    labels=[f"m = {m}" for m in _PRINTED])  # fmt: skip


def _clamped_sets() -> Compared:
    exact = [ratio - m for m, ratio in _PRINTED.items()]
    return Compared([_clamped(m)[1] for m in _PRINTED], exact,
                    labels=[f"m = {m}" for m in _PRINTED])  # fmt: skip


def _clamped_order() -> Compared:
    errors = []
    for n in (20, 80):
        bench, history = clamped_bench(np.linspace(0, SPAN, n + 1))
        history = load_to(bench, history, 1.4 * FIRST_YIELD_N, 6)
        found = history.displacement_mm[-1] / CLAMPED_YIELD_MM
        errors.append(abs(found - exact_deflection(1.4)))
    return Compared(np.log2(errors[0] / errors[1]) / 2, 2.0, scale=1.0)


_FOLLOW = "fem.inelastic.follow"
_MESH = "80 elements on the span, fine at the mouth, and 150 fibres: second order each"

CHECKS = (
    Check(
        id="plastic_cantilever_force",
        what="force of a yielding wire in a tube over that of first yield",
        code=_FOLLOW,
        kind=Kind.BENCHMARK,
        source="prager_hodge",
        place="δ/δ_y = [5 − (3 + m)√(3 − 2m)]/m², m = 1.2 and 1.4",
        tolerance=1e-3,
        reason=_MESH,
        compute=_forces,
    ),
    Check(
        id="plastic_cantilever_stress",
        what="greatest stress of the yielding wire over the yield stress",
        code=_FOLLOW,
        kind=Kind.CODE,
        source="law_by_hand",
        place="perfect plasticity: no stress above it",
        tolerance=1e-9,
        reason="rounding",
        compute=_yield_stress,
    ),
    Check(
        id="plastic_cantilever_set",
        what="set of a yielding wire in a tube after release, over δ_y",
        code="fem.inelastic.release, fem.inelastic.permanent_set_mm",
        kind=Kind.BENCHMARK,
        source="prager_hodge",
        place="δ − m δ_y, m = 1.2 and 1.4",
        tolerance=5e-3,
        reason="a small difference, 0.013 and 0.147 of δ_y. " + _MESH,
        compute=_sets,
    ),
    Check(
        id="released_wire_is_free",
        what="force on the hook after release, over that of first yield",
        code="fem.inelastic.release",
        kind=Kind.CODE,
        source="statics",
        place="a wire that is let go exerts nothing",
        tolerance=1e-9,
        reason="the residual at which Newton's method stops",
        compute=_released,
    ),
    Check(
        id="plastic_cantilever_let_back",
        what="force let back by half the springback, and bent there again, over the full force",
        code=_FOLLOW,
        kind=Kind.CODE,
        source="prager_hodge",
        place="elastic unloading by m δ_y, m = 1.4",
        tolerance=1e-3,
        reason=_MESH,
        compute=_let_back,
    ),
    Check(
        id="over_activation",
        what="force of a wire bent 1.25 times as far and let back, over that of first yield",
        code=_FOLLOW,
        kind=Kind.CODE,
        source="prager_hodge",
        place="m less the deflection let back over δ_y",
        tolerance=2e-3,
        reason="a difference of two numbers good to 1e-3",
        compute=_over_activated,
    ),
    Check(
        id="work_lost_to_yield",
        what="work put into a yielding wire and work lost, over the former",
        code=_FOLLOW,
        kind=Kind.CODE,
        source="prager_hodge",
        place="∫ F dδ of the closed form, by parts; less m²/2",
        tolerance=1e-3,
        reason="forces to 1e-3, trapezoids of 40 steps",
        compute=_work,
    ),
    Check(
        id="clamped_plastic_cantilever",
        what="deflection of a clamped yielding cantilever over δ_y",
        code="fem.load_history.load_to",
        kind=Kind.BENCHMARK,
        source="prager_hodge",
        place="[5 − (3 + m)√(3 − 2m)]/m², m = 1.2 and 1.4",
        tolerance=1e-3,
        reason="80 elements where it yields: second order",
        compute=_clamped_deflections,
    ),
    Check(
        id="clamped_plastic_set",
        what="set of a clamped yielding cantilever after release, over δ_y",
        code="fem.load_history.load_to",
        kind=Kind.BENCHMARK,
        source="prager_hodge",
        place="δ − m δ_y, m = 1.2 and 1.4",
        tolerance=3e-3,
        reason="a small difference, 0.013 and 0.147 of δ_y; 80 elements where it yields",
        compute=_clamped_sets,
    ),
    Check(
        id="plastic_cantilever_order",
        what="observed order of convergence of a yielding cantilever's deflection",
        code="fem.load_history.load_to",
        kind=Kind.CODE,
        source="prager_hodge",
        place="error at 20 and 80 equal elements, m = 1.4",
        tolerance=0.3,
        reason="absolute; where the yielded length meets the elements is chance",
        compute=_clamped_order,
    ),
)
