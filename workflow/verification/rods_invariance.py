"""What a rod owes to mechanics: objectivity, and forces and tangents that are derivatives."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Equilibrium
from fem.appliance_system import solve_equilibrium
from fem.attachment import DeadForce, clamp_contact
from fem.rigid import rotation, se3_exp
from fem.rod import Rod, RodState, internal_forces, passive_rod, strain_energy_Nmm
from geometry.wire_features import Helix
from geometry.wire_path import Bend, Straight, SweptWire
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.rods_elastica import WALL, tip_loaded, unit_wire
from workflow.verification.rods_linear import swept

Array = NDArray[np.float64]

_LAW = np.array([100.0, 40.0, 40.0, 3.0, 5.0, 9.0])  # with EA largest
_NODES, _STEP = 5, 1e-6


def _turned_cantilever() -> Compared:
    law = np.array([1e4, 1e4, 1e4, 0.8, 1.0, 2.0])
    turn, force = rotation(np.array([0.4, -1.1, 0.7])), np.array([0.5, 1.0, 1.5])
    plain = tip_loaded(20, force, law)
    turned = tip_loaded(20, turn @ force, law, turn)
    return Compared(turned.state.points, plain.state.points @ turn.T, scale=1.0,
                    labels=[f"node {i}, {axis}" for i in range(21) for axis in "xyz"])  # fmt: skip


def _out_of_plane(turn: Array) -> tuple[SweptWire, Equilibrium]:
    """A bend, a loop and a run, far out of their plane under a dead force."""
    features = (Bend(np.pi / 2, 3.0, "height"), Helix(1, 0.6, 0.2, "width"), Straight(3.0))
    wire = swept(features, start=turn @ np.array([0.3, -0.2, 0.5]), axes=turn, turn=0.2)
    law = np.array([1e4, 1e4, 1e4, 0.8, 1.3, 1.0])
    rod = passive_rod(wire.points, wire.axes, wire.lengths_mm, law)
    load = DeadForce(rod.n_elements, turn @ np.array([0.01, -0.02, 0.06]))
    clamp = clamp_contact(0, 0, wire.points[0], turn)
    passive = RodState(wire.points, wire.axes)
    return wire, solve_equilibrium(Appliance(rod, passive, WALL, clamp, (load,)))


def _turned_loop() -> Compared:
    turn = rotation(np.array([0.9, -1.3, 0.4]))
    wire, plain = _out_of_plane(np.eye(3))
    _, turned = _out_of_plane(turn)
    moved = float(np.linalg.norm(plain.state.points[-1] - wire.tip))
    size = float(np.linalg.norm(wire.tip))
    found = np.concatenate([turned.state.points.ravel() / size, turned.state.axes.ravel()])
    expected = np.concatenate(
        [(plain.state.points @ turn.T).ravel() / size, (turn @ plain.state.axes).ravel()]
    )
    return Compared(
        found, expected, scale=1.0, note=f"the tip moves {moved / size:.2f} of its reach"
    )


def _rigidly_moved() -> tuple[Rod, RodState]:
    wire = unit_wire(8, _LAW)
    R, p = se3_exp(np.array([3.0, -1.0, 2.0, 0.5, 2.0, -1.0]))
    return wire.rod, RodState(wire.passive.points @ R.T + p, R @ wire.passive.axes)


def _rigid_energy() -> Compared:
    return Compared(strain_energy_Nmm(*_rigidly_moved()), 0.0, scale=_LAW[0] / 2)


def _rigid_forces() -> Compared:
    forces, _ = internal_forces(*_rigidly_moved())
    return Compared(forces.ravel(), 0.0, scale=_LAW[0])


@cache
def _bent() -> tuple[Rod, RodState]:
    """Four elements strained in every component, by a random field of 0.03."""
    wire = unit_wire(_NODES - 1, _LAW)
    twists = 0.03 * np.random.default_rng(7).standard_normal((_NODES, 6))
    return wire.rod, wire.passive.moved(twists)


def _residual(twists: Array) -> Array:
    rod, state = _bent()
    forces, _ = internal_forces(rod, state.moved(twists))
    total = np.zeros((_NODES, 6))
    np.add.at(total, np.arange(_NODES - 1), forces[:, :6])
    np.add.at(total, np.arange(1, _NODES), forces[:, 6:])
    return total.ravel()


def _slope(function: Callable[[Array], Array | float]) -> Array:
    """Derivative by each twist of each node, central differences, one column a twist."""
    units = _STEP * np.eye(6 * _NODES).reshape(-1, _NODES, 6)
    columns = [(function(e) - np.asarray(function(-e))) / (2 * _STEP) for e in units]
    return np.array(columns).T


def _force_is_a_derivative() -> Compared:
    rod, state = _bent()
    slope = _slope(lambda e: strain_energy_Nmm(rod, state.moved(e)))
    exact = _residual(np.zeros((_NODES, 6)))
    return Compared(exact, slope, scale=float(np.abs(slope).max()))


def _tangent_is_a_derivative() -> Compared:
    rod, state = _bent()
    slope = _slope(_residual)
    tangent = np.zeros((6 * _NODES, 6 * _NODES))
    for i, block in enumerate(internal_forces(rod, state)[1]):
        tangent[6 * i : 6 * i + 12, 6 * i : 6 * i + 12] += block
    return Compared(tangent, slope, scale=float(np.abs(slope).max()))


CHECKS = (
    Check(
        id="rod_objectivity_straight",
        what="nodes of a turned cantilever under a turned force, in spans",
        code="fem.rod.internal_forces, fem.appliance_system.solve_equilibrium",
        kind=Kind.CODE,
        source="objectivity",
        place="straight wire bent and twisted far, turned by 1.36 rad",
        tolerance=1e-10,
        reason="rounding and the residual at which Newton's method stops",
        compute=_turned_cantilever,
    ),
    Check(
        id="rod_objectivity_loop",
        what="nodes (over the wire's reach) and frames of a turned wire with a bend and a loop",
        code="fem.rod.internal_forces, fem.appliance_system.solve_equilibrium",
        kind=Kind.CODE,
        source="objectivity",
        place="wire far out of its plane, turned by 1.63 rad",
        tolerance=1e-10,
        reason="rounding and the residual at which Newton's method stops",
        compute=_turned_loop,
    ),
    Check(
        id="rod_rigid_motion_energy",
        what="strain energy after a rigid motion, over that of a stretch by 100 %",
        code="fem.rod.strain_energy_Nmm",
        kind=Kind.CODE,
        source="objectivity",
        place="turn of 2.3 rad and translation of several spans",
        tolerance=1e-26,
        reason="the square of rounding",
        compute=_rigid_energy,
    ),
    Check(
        id="rod_rigid_motion_forces",
        what="internal forces after a rigid motion, over the axial stiffness",
        code="fem.rod.internal_forces",
        kind=Kind.CODE,
        source="objectivity",
        place="turn of 2.3 rad and translation of several spans",
        tolerance=1e-13,
        reason="rounding",
        compute=_rigid_forces,
    ),
    Check(
        id="rod_force_from_energy",
        what="internal forces against differences of the strain energy, over the largest force",
        code="fem.rod.internal_forces, fem.rod.strain_energy_Nmm",
        kind=Kind.CODE,
        source="calculus",
        place="four elements strained in all six ways",
        tolerance=1e-7,
        reason="central differences of step 1e-6",
        compute=_force_is_a_derivative,
    ),
    Check(
        id="rod_tangent_from_force",
        what="tangent against differences of the internal forces, over the largest entry",
        code="fem.rod.internal_forces",
        kind=Kind.CODE,
        source="calculus",
        place="four elements strained in all six ways",
        tolerance=2e-5,
        reason="the tangent is exact to the third power of the element's turn, 0.05 rad here",
        compute=_tangent_is_a_derivative,
    ),
)
