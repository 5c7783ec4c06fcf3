"""Equilibrium of a wire and the units it touches, solved together.

Unknown: the frames of the rod's nodes, the motion of every supported unit, the contact forces.

    rod nodes:  internal force + Σ W(λ) − applied forces = 0
    units:      K q − W(λ) = 0,   W: contact forces at their true positions, about the unit's point
    contacts:   g(wire, unit) = (1 − τ) gap,   τ: from passive (0) to engaged (1)

solved by Newton's method in steps of τ. The units' supports are linear and their motion small;
the wire's rotations are finite. Contacts are two-sided; those with play stay at the wall or
loose as they are given (`fem.contact_search` finds which), and those with friction slip in the
direction they are given.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from fem.attachment import Contact, DeadForce, FollowerForce, PointContact
from fem.contact_equation import Touch, contact_equation, contact_wrench
from fem.rigid import shift_wrench, skew
from fem.rod import Rod, RodState, internal_forces

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_MAX_NEWTON = 30
_TOLERANCE = 1e-9  # of the largest contact force, or rounding of the axial stiffness if larger
_GAP_TOLERANCE_MM = 1e-10
_LARGEST_UPDATE = 5.0  # mm or rad in one Newton step; more means the step of τ was too long
_SMALLEST_STEP = 1e-3


class EquilibriumError(RuntimeError):
    """No equilibrium found; says how far the activation came."""


@dataclass(frozen=True)
class Unit:
    """A body the wire touches: one tooth or several joined.

    Attributes
    ----------
    name
        Name used in messages.
    point
        Point the support is stated about, (3,), mm.
    stiffness
        6×6 support about `point` (N/mm, N, N·mm), or None for an immovable unit.
    """

    name: str
    point: Array
    stiffness: Array | None


@dataclass(frozen=True)
class Appliance:
    """A wire in its passive shape, the units, and the contacts between them.

    Attributes
    ----------
    rod
        Elements and section law.
    passive
        Frames of the nodes in the passive shape.
    units
        The units, in the order contacts refer to them.
    contacts
        At least enough to hold the wire.
    forces
        Dead and follower forces on nodes; scaled by τ like the activation.
    """

    rod: Rod
    passive: RodState
    units: tuple[Unit, ...]
    contacts: tuple[Contact, ...]
    forces: tuple[DeadForce | FollowerForce, ...] = ()


@dataclass(frozen=True)
class ContactLoad:
    """What one contact gives its unit.

    Attributes
    ----------
    unit
        Index of the unit.
    point
        Where the wire touches, (3,), mm.
    wrench
        Force (N) and moment (N·mm) on the unit about `point`, (6,).
    """

    unit: int
    point: Array
    wrench: Array


@dataclass(frozen=True)
class Equilibrium:
    """A solved appliance.

    Attributes
    ----------
    state
        Frames of the nodes.
    motions
        Motion of each unit at its point, (n_units, 6), mm and rad.
    loads
        One entry a contact, in the order of the contacts.
    multipliers
        Contact multipliers, one array a contact.
    residual_N
        Largest out-of-balance force at any node or unit (moments over 1 mm), N.
    iterations
        Newton iterations in all steps.
    """

    state: RodState
    motions: Array
    loads: tuple[ContactLoad, ...]
    multipliers: tuple[Array, ...]
    residual_N: float
    iterations: int

    def wrench_on(self, unit: int, point: Array) -> Array:
        """Sum of the contact loads on a unit about a fixed point, (6,)."""
        loads = [shift_wrench(c.wrench, c.point, point) for c in self.loads if c.unit == unit]
        return np.sum(loads, axis=0) if loads else np.zeros(6)


@dataclass(frozen=True)
class Iterate:
    """State of a Newton iteration: frames, unit motions and contact multipliers."""

    state: RodState
    motions: Array
    multipliers: Array


@dataclass(frozen=True)
class Solved:
    """A converged iterate, its imbalance and the iterations it took."""

    iterate: Iterate
    force_N: float
    iterations: int


def solve_equilibrium(appliance: Appliance, *, steps: int = 4) -> Equilibrium:
    """Engage the wire and find the equilibrium.

    Parameters
    ----------
    appliance
        Wire, units and contacts.
    steps
        Number of equal steps from passive to engaged; a step that fails is halved.

    Raises
    ------
    EquilibriumError
        If Newton's method fails with steps down to 1/1000 of the activation.
    """
    system = System(appliance)
    return system.result(*engage(system, steps))


def engage(system: System, steps: int) -> tuple[Solved, int]:
    """Follow the equilibrium from passive to engaged; returns it and the iterations in all.

    Raises
    ------
    EquilibriumError
        As `solve_equilibrium`.
    """
    iterations = 0
    current = Solved(system.passive(), 0.0, 0)
    reached, step = 0.0, 1.0 / steps
    while reached < 1.0:
        target = min(1.0, reached + step)
        solved = system.newton(current.iterate, target)
        if solved is None:
            step /= 2
            if step < _SMALLEST_STEP:
                raise EquilibriumError(no_equilibrium(reached))
            continue
        current, reached = solved, target
        iterations += solved.iterations
    return current, iterations


def no_equilibrium(reached: float) -> str:
    """What to say where the activation could be followed to a share of it only."""
    return (
        f"the wire found no equilibrium beyond {100 * reached:.1f} % of its activation; "
        "reduce the activation or use more rod elements"
    )


class System:
    """Residual and tangent of one appliance."""

    def __init__(self, appliance: Appliance) -> None:
        self.appliance = appliance
        self.n_rod = 6 * (appliance.rod.n_elements + 1)
        self.moving = [i for i, u in enumerate(appliance.units) if u.stiffness is not None]
        self.unit_row = {u: self.n_rod + 6 * k for k, u in enumerate(self.moving)}
        self.n_motion = self.n_rod + 6 * len(self.moving)
        sizes = [len(c.gap) if isinstance(c, PointContact) else 1 for c in appliance.contacts]
        self.bounds = np.concatenate([[0], np.cumsum(sizes)]).astype(int)
        self.size = self.n_motion + int(self.bounds[-1])
        rod = appliance.rod
        reach = np.abs(appliance.passive.points).max()
        axial = (rod.direct_stiffness[:, :3].max(axis=1) / rod.lengths_mm).max()
        self.rounding_N = 8 * np.finfo(float).eps * reach * axial
        nodes = 6 * np.arange(appliance.rod.n_elements)[:, None] + np.arange(12)
        self.rod_rows = np.repeat(nodes, 12, axis=1).ravel()
        self.rod_columns = np.tile(nodes, (1, 12)).ravel()
        self.element_nodes = nodes

    def passive(self) -> Iterate:
        """The unloaded start."""
        motions = np.zeros((len(self.appliance.units), 6))
        return Iterate(self.appliance.passive, motions, np.zeros(int(self.bounds[-1])))

    def newton(self, start: Iterate, tau: float) -> Solved | None:
        """Newton's method at one activation; None if it fails.

        Goes on after the tolerance is met as long as the residual still falls, down to rounding;
        of two iterates whose residual is rounding the later is the better.
        """
        current, best = start, None
        for iteration in range(_MAX_NEWTON):
            residual, tangent = self.linearise(current, tau)
            force, gap = self.imbalance(residual)
            if not np.isfinite(force + gap):
                return None
            rounding = best is not None and force > 0.3 * best.force_N
            load = float(np.abs(current.multipliers).max(initial=0.0))
            if force < max(_TOLERANCE * load, self.rounding_N) and gap < _GAP_TOLERANCE_MM:
                best = Solved(current, force, iteration)
            if rounding:
                break
            delta = _newton_step(tangent, residual)
            if delta is None or self.too_far(current, delta):
                break
            current = self.update(current, delta)
        return best

    def too_far(self, it: Iterate, delta: Array) -> bool:
        """Whether a Newton step leaves the neighbourhood it holds in."""
        return bool(np.abs(delta[: self.n_motion]).max() > _LARGEST_UPDATE)

    def rod_at(self, it: Iterate) -> Rod:
        """The rod, for systems whose rod depends on the iterate."""
        return self.appliance.rod

    def update(self, it: Iterate, delta: Array) -> Iterate:
        """Next iterate."""
        motions = it.motions.copy()
        motions[self.moving] += delta[self.n_rod : self.n_motion].reshape(-1, 6)
        state = it.state.moved(delta[: self.n_rod].reshape(-1, 6))
        return Iterate(state, motions, it.multipliers + delta[self.n_motion :])

    def imbalance(self, residual: Array) -> tuple[float, float]:
        """Largest out-of-balance force (moments over 1 mm), N, and largest open gap, mm."""
        forces, gaps = residual[: self.n_motion], residual[self.n_motion :]
        return float(np.abs(forces).max()), float(np.abs(gaps).max(initial=0.0))

    def linearise(self, it: Iterate, tau: float) -> tuple[Array, sp.csc_matrix]:
        """Residual (size,) and tangent."""
        residual = np.zeros(self.size)
        forces, blocks = internal_forces(self.rod_at(it), it.state)
        np.add.at(residual, self.element_nodes, forces)
        entries = [(self.rod_rows, self.rod_columns, blocks.ravel())]
        for unit, row in self.unit_row.items():
            K = self.appliance.units[unit].stiffness
            assert K is not None
            residual[row : row + 6] += K @ it.motions[unit]
            entries.append(_block(row, row, K))
        for load in self.appliance.forces:
            row = 6 * load.node
            if isinstance(load, FollowerForce):
                residual[row : row + 3] -= load.force_N * tau
                continue
            local = it.state.axes[load.node].T @ load.force_N * tau
            residual[row : row + 3] -= local
            entries.append(_block(row, row + 3, -skew(local)))
        for index, contact in enumerate(self.appliance.contacts):
            entries.extend(self._contact(residual, it, index, contact, tau))
        rows, columns, values = (np.concatenate(part) for part in zip(*entries, strict=True))
        shape = (self.size, self.size)
        return residual, sp.coo_matrix((values, (rows, columns)), shape=shape).tocsc()

    def _contact(
        self, residual: Array, it: Iterate, index: int, contact: Contact, tau: float
    ) -> Iterator[tuple[Ints, Ints, Array]]:
        """Add one contact to the residual and yield its tangent blocks."""
        node = 6 * contact.node
        unit = self.unit_row.get(contact.unit)
        row = self.n_motion + int(self.bounds[index])
        multiplier = self.multiplier(it, index)
        R = it.state.axes[contact.node]
        touch = self.touch(contact, it)
        equation = contact_equation(contact, touch, tau, multiplier)
        wrench, basis = contact_wrench(contact, touch, multiplier)
        residual[row : row + len(multiplier)] = equation.value
        residual[node : node + 3] += R.T @ wrench[:3]
        residual[node + 3 : node + 6] += R.T @ wrench[3:]
        yield _block(row, node, equation.by_node)
        yield _block(row, row, equation.by_multiplier)
        yield _block(node, row, np.concatenate([R.T @ basis[:3], R.T @ basis[3:]]))
        force = -wrench[:3]
        yield _block(node, node + 3, -skew(R.T @ force))
        if unit is None:
            return
        point = self.appliance.units[contact.unit].point
        arm = it.state.points[contact.node] - point
        about = np.concatenate([wrench[:3], wrench[3:] + np.cross(arm, wrench[:3])])
        residual[unit : unit + 6] -= about
        yield _block(row, unit, equation.by_unit)
        transfer = np.eye(6)
        transfer[3:, :3] = skew(arm)
        yield _block(unit, row, -transfer @ basis)
        yield _block(unit + 3, node, -skew(force) @ R)
        yield _block(node, unit + 3, R.T @ skew(force))
        yield _block(unit, unit + 3, -skew(force))

    def touch(self, contact: Contact, it: Iterate) -> Touch:
        """Where a contact's node and unit are."""
        node, state = contact.node, it.state
        return Touch(
            state.points[node],
            state.axes[node],
            self.appliance.units[contact.unit].point,
            it.motions[contact.unit],
        )

    def multiplier(self, it: Iterate, index: int) -> Array:
        """Multipliers of one contact, (k,)."""
        return it.multipliers[self.bounds[index] : self.bounds[index + 1]]

    def result(self, solved: Solved, iterations: int) -> Equilibrium:
        """Package a converged iterate."""
        it = solved.iterate
        loads, multipliers = [], []
        for index, contact in enumerate(self.appliance.contacts):
            multiplier = self.multiplier(it, index)
            wrench, _ = contact_wrench(contact, self.touch(contact, it), multiplier)
            loads.append(ContactLoad(contact.unit, it.state.points[contact.node], wrench))
            multipliers.append(multiplier)
        return Equilibrium(
            it.state, it.motions, tuple(loads), tuple(multipliers), solved.force_N, iterations
        )


def _newton_step(tangent: sp.csc_matrix, residual: Array) -> Array | None:
    try:
        return splu(tangent).solve(-residual)
    except RuntimeError:  # exactly singular
        return None


def _block(row: int, column: int, values: Array) -> tuple[Ints, Ints, Array]:
    """COO entries of a dense block."""
    n, m = values.shape
    rows = np.repeat(row + np.arange(n), m)
    columns = np.tile(column + np.arange(m), n)
    return rows, columns, values.ravel()
