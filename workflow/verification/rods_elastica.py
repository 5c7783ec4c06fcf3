"""A straight wire bent far: dead and following forces, end moments, and how fast it converges."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import beta

from fem.appliance import Appliance, Equilibrium, Unit
from fem.appliance_system import solve_equilibrium
from fem.attachment import DeadForce, FollowerForce, clamp_contact
from fem.rod import Rod, RodState, passive_rod
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table
from workflow.verification.rods_linear import assembled, held_solve

Array = NDArray[np.float64]

STIFF = 1e8  # axial and shear stiffness beside a bending stiffness of 1: as good as inextensible
LAW = np.array([STIFF, STIFF, STIFF, 1.0, 1.0, 1.0])
WALL = (Unit("wall", np.zeros(3), None),)

_ELEMENTS = 60
# The branch ends where the tip has made half a turn: L √(2F/EI) = ∫ dψ/√(sin ψ) from 0 to π.
_FOLLOWER_END = float(beta(0.25, 0.5)) ** 2 / 2
_INEXTENSIBLE = "forces of the order of 10 strain the wire by 1e-7; 60 elements, fourth order"


def unit_wire(elements: int = 60, law: Array = LAW, axes: Array | None = None) -> Appliance:
    """Straight wire of length 1, clamped at the origin, along the first of its axes.

    Parameters
    ----------
    elements
        Equal elements.
    law
        (EA, V₂, V₃, GJ, EI₂, EI₃), with lengths in spans.
    axes
        Frame of the wire, (3, 3); the coordinate axes if None.
    """
    frame = np.eye(3) if axes is None else axes
    s = np.linspace(0.0, 1.0, elements + 1)
    points = s[:, None] * frame[:, 0]
    frames = np.broadcast_to(frame, (elements + 1, 3, 3))
    rod = passive_rod(points, frames, np.diff(s), law)
    clamp = clamp_contact(0, 0, np.zeros(3), frame)
    return Appliance(rod, RodState(points, frames), WALL, clamp)


def tip_loaded(
    elements: int, force: ArrayLike, law: Array = LAW, axes: Array | None = None
) -> Equilibrium:
    """The wire of `unit_wire` under a force on its tip that keeps its direction, (3,)."""
    wire = unit_wire(elements, law, axes)
    load = DeadForce(elements, np.asarray(force, dtype=float))
    return solve_equilibrium(replace(wire, forces=(load,)))


def tip_of(solved: Equilibrium) -> tuple[float, float, float, float]:
    """Deflection, shortening, angle of the tip (rad) and size of the moment at the clamp."""
    tip, tangent = solved.state.points[-1], solved.state.axes[-1][:, 0]
    root = float(np.linalg.norm(solved.wrench_on(0, np.zeros(3))[3:]))
    return float(tip[2]), float(1 - tip[0]), float(np.arctan2(tangent[2], tangent[0])), root


@cache
def dead_load_tips() -> Array:
    """`tip_of` for each load of the published table, (n, 4)."""
    table = reference_table("elastica_dead_load")
    return np.array([tip_of(tip_loaded(_ELEMENTS, [0, 0, a])) for a in table.alpha])


@cache
def _follower_tips() -> Array:
    loads = [*reference_table("elastica_follower").alpha, _FOLLOWER_END]
    return np.array([tip_of(_followed(load)) for load in loads])


def _followed(load: float) -> Equilibrium:
    wire = unit_wire(_ELEMENTS)
    force = FollowerForce(_ELEMENTS, np.array([0.0, 0.0, load]))
    return solve_equilibrium(replace(wire, forces=(force,)), steps=12)


def bent_by_end_moment(rod: Rod, state: RodState, moment: ArrayLike) -> RodState:
    """Shape of a clamped wire under an end moment (3,) in the axes of its tip, by Newton's method.

    A moment about an axis that does not turn stays the same in space.
    """
    for share in np.linspace(0, 1, 41)[1:]:
        for _ in range(12):
            residual, K = assembled(rod, state)
            residual[-3:] -= share * np.asarray(moment)
            step = held_solve(K, -residual)
            state = state.moved(step.reshape(-1, 6))
            if np.abs(step).max() < 1e-13:
                break
    return state


def _dead_load_places() -> Compared:
    table = reference_table("elastica_dead_load")
    names = ["deflection", "shortening", "tip_angle_rad"]
    labels = [f"{name}, α = {a:g}" for a in table.alpha for name in ("w/L", "u/L", "θ")]
    return Compared(dead_load_tips()[:, :3], table[names], scale=1.0, labels=labels)


def _dead_load_moments() -> Compared:
    table = reference_table("elastica_dead_load")
    labels = [f"α = {a:g}" for a in table.alpha]
    return Compared(dead_load_tips()[:, 3], table.root_moment, labels=labels)


def _printed_elastica() -> Compared:
    printed = {1: (0.30172, 0.05643), 2: (0.49346, 0.16064), 5: (0.71379, 0.38763),
               10: (0.81061, 0.55500)}  # fmt: skip
    alphas = reference_table("elastica_dead_load").alpha.tolist()
    tips = dead_load_tips()[[alphas.index(a) for a in printed], :2]
    labels = [f"{name}, α = {a}" for a in printed for name in ("w/L", "u/L")]
    return Compared(tips, list(printed.values()), scale=1.0, labels=labels)


def _follower() -> Compared:
    table = reference_table("elastica_follower")
    labels = [f"{name}, α = {a:g}" for a in table.alpha for name in ("w/L", "u/L", "θ", "M")]
    return Compared(_follower_tips()[:-1], table.iloc[:, 1:], scale=1.0, labels=labels)


def _follower_end() -> Compared:
    _, _, angle, moment = _follower_tips()[-1]
    return Compared(
        [angle % (2 * np.pi), moment], [np.pi, 0.0], scale=1.0, labels=["θ of the tip", "M"]
    )


def _end_moment() -> Compared:
    turns = (np.pi / 2, np.pi, 2 * np.pi)
    computed, reference, labels = [], [], []
    for turn in turns:
        wire = unit_wire(20, np.array([1e3, 1e3, 1e3, 0.8, 1.3, 1.0]))
        state = bent_by_end_moment(wire.rod, wire.passive, (0, 0, turn))
        computed.append(state.points[-1][:2])
        reference.append((np.sin(turn) / turn, (1 - np.cos(turn)) / turn))
        labels += [f"{place} at {np.degrees(turn):.0f}°" for place in ("x/L", "w/L")]
    return Compared(computed, reference, scale=1.0, labels=labels)


def order_errors(elements: tuple[int, ...]) -> Array:
    """Error of the tip's deflection at α = 2 for each number of elements, in spans."""
    table = reference_table("elastica_dead_load")
    exact = table.deflection[table.alpha == 2].item()
    law = np.array([1e9, 1e9, 1e9, 1.0, 1.0, 1.0])
    tips = [tip_loaded(n, [0, 0, 2], law).state.points[-1][2] for n in elements]
    return np.abs(np.array(tips) - exact)


def _order() -> Compared:
    coarse, fine = order_errors((10, 20))
    return Compared(np.log2(coarse / fine), 4.0, scale=1.0)


def _arc_strains() -> Compared:
    """A ring without load, cut into any number of elements, has the strain 1 and the curvature 1/R.

    A node's frame turns with the arc; elements of constant curvature meet it exactly.
    """
    n, angle = 7, 1.5
    a = np.linspace(0, angle, n + 1)
    zero, one = np.zeros_like(a), np.ones_like(a)
    points = np.column_stack([np.sin(a), 1 - np.cos(a), zero])
    axes = np.array([[np.cos(a), -np.sin(a), zero], [np.sin(a), np.cos(a), zero],
                     [zero, zero, one]]).transpose(2, 0, 1)  # fmt: skip
    rod = passive_rod(points, axes, np.full(n, angle / n), np.ones(6))
    return Compared(rod.passive_strain, np.tile([1.0, 0, 0, 0, 0, 1.0], (n, 1)), scale=1.0)


_ROD = "fem.rod.internal_forces, fem.appliance_system.solve_equilibrium"

CHECKS = (
    Check(
        id="elastica_dead_load",
        what="deflection, shortening (in spans) and tip angle (rad) of a cantilever bent far",
        code=_ROD,
        kind=Kind.BENCHMARK,
        source="bisshopp_drucker",
        place="α = PL²/EI from 0.2 to 10, 19 loads; further digits from elliptic integrals",
        tolerance=1e-6,
        reason=_INEXTENSIBLE,
        compute=_dead_load_places,
    ),
    Check(
        id="elastica_clamp_moment",
        what="moment at the clamp of a cantilever bent far, M L/EI",
        code=_ROD,
        kind=Kind.BENCHMARK,
        source="bisshopp_drucker",
        place="α = PL²/EI from 0.2 to 10, 19 loads; further digits from elliptic integrals",
        tolerance=1e-6,
        reason=_INEXTENSIBLE,
        compute=_dead_load_moments,
    ),
    Check(
        id="elastica_as_printed",
        what="deflection and shortening of a cantilever bent far, in spans, as printed",
        code=_ROD,
        kind=Kind.BENCHMARK,
        source="bisshopp_drucker",
        place="Mattiasson, table 1: α = 1, 2, 5 and 10",
        tolerance=6e-6,
        reason="five decimals were printed",
        compute=_printed_elastica,
    ),
    Check(
        id="elastica_follower",
        what="tip and clamp moment under a force that stays square to the tip, length and EI of 1",
        code="fem.attachment.FollowerForce, fem.appliance_system.solve_equilibrium",
        kind=Kind.BENCHMARK,
        source="follower",
        place="FL²/EI from 0.5 to 12, ten loads",
        tolerance=1e-6,
        reason=_INEXTENSIBLE,
        compute=_follower,
    ),
    Check(
        id="elastica_follower_half_turn",
        what="tip angle (rad) and clamp moment where a following force has turned the tip by π",
        code="fem.attachment.FollowerForce, fem.appliance_system.solve_equilibrium",
        kind=Kind.BENCHMARK,
        source="follower",
        place="end of the branch, FL²/EI = B(1/4, 1/2)²/2 = 13.75037",
        tolerance=1e-6,
        reason=_INEXTENSIBLE,
        compute=_follower_end,
    ),
    Check(
        id="end_moment_to_a_circle",
        what="place of the tip under an end moment that closes the wire to a circle, in spans",
        code="fem.rod.internal_forces",
        kind=Kind.CODE,
        source="euler",
        place="x/L = sin λ/λ, w/L = (1 − cos λ)/λ with λ = ML/EI of π/2, π and 2π",
        tolerance=1e-9,
        reason="elements of constant curvature are exact, whatever their number",
        compute=_end_moment,
    ),
    Check(
        id="rod_order_elastica",
        what="observed order of convergence of the tip's deflection, α = 2",
        code=_ROD,
        kind=Kind.CODE,
        source="bisshopp_drucker",
        place="error at 10 and 20 elements",
        tolerance=0.15,
        reason="absolute; the next term of the error, at ten elements",
        compute=_order,
    ),
    Check(
        id="arc_strains",
        what="strains of a circular arc at rest: stretch 1, curvature 1/R, nothing else",
        code="fem.rod.passive_rod",
        kind=Kind.CODE,
        source="arc_geometry",
        place="arc of 1.5 rad and radius 1 in seven elements",
        tolerance=1e-12,
        reason="rounding",
        compute=_arc_strains,
    ),
)
