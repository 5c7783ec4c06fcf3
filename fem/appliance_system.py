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
from functools import cached_property

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from fem.appliance import Appliance, ContactLoad, Equilibrium, EquilibriumError
from fem.attachment import Contact, FollowerForce, PointContact
from fem.contact_equation import ContactEquation, Touch, contact_equation, contact_wrench
from fem.pattern import Pattern, place_blocks
from fem.rigid import rotation, skew
from fem.rod import RodState, internal_forces

Array = NDArray[np.float64]
Block = tuple[int, int, Array]  # first row, first column, entries

_MAX_NEWTON = 30
_TOLERANCE = 1e-9  # of the largest contact force, or rounding of the axial stiffness if larger
_GAP_TOLERANCE_MM = 1e-10
_LARGEST_UPDATE = 5.0  # mm or rad in one Newton step; more means the step of τ was too long
_NEAR = 0.1  # mm or rad: an update that small, and shrinking, tells that the path is kept
_SMALLEST_STEP = 1e-3


@dataclass(frozen=True)
class Iterate:
    """State of a Newton iteration: frames, unit motions and contact multipliers."""

    state: RodState
    motions: Array
    multipliers: Array

    @cached_property
    def unit_turns(self) -> Array:
        """Rotation of every unit, (n_units, 3, 3)."""
        return rotation(self.motions[:, 3:])


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
        Number of equal steps from passive to engaged (`engage`); a step that fails is halved.

    Raises
    ------
    EquilibriumError
        If Newton's method fails with steps down to 1/1000 of the activation.
    """
    system = System(appliance)
    return system.result(*engage(system, steps))


def settled(appliance: Appliance, start: Equilibrium) -> Equilibrium | None:
    """Engaged equilibrium near that of an appliance that differs a little; None if not found.

    Parameters
    ----------
    appliance
        With contacts of the same sizes as those that `start` is an equilibrium of.
    start
        Where to begin.
    """
    system = System(appliance)
    begun = Iterate(start.state, start.motions, np.concatenate(start.multipliers))
    solved = system.newton(begun, 1.0)
    return None if solved is None else system.result(solved, solved.iterations)


def engage(system: System, steps: int) -> tuple[Solved, int]:
    """Follow the equilibrium from passive to engaged; returns it and the iterations in all.

    First half as many steps are tried, the iterates on the way only kept near the path and the
    engaged state alone solved exactly. If that fails, every step is solved exactly and halved
    where it must be.

    The state found balances, but nothing looks for a limit point on the way: a wire that would
    snap through, as one that is cinched and hooked over a bar square to it, may be carried past.

    Raises
    ------
    EquilibriumError
        As `solve_equilibrium`.
    """
    current, iterations = Solved(system.passive(), 0.0, 0), 0
    for tau in map(float, np.linspace(0, 1, (steps + 1) // 2 + 1)[1:]):
        solved = system.newton(current.iterate, tau, exact=tau == 1.0)
        if solved is None:
            return _engage_exactly(system, steps)
        current = solved
        iterations += solved.iterations
    return current, iterations


def _engage_exactly(system: System, steps: int) -> tuple[Solved, int]:
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
        self.element_rows = 6 * np.arange(rod.n_elements)[:, None] + np.arange(12)
        self.pattern: Pattern | None = None

    def passive(self) -> Iterate:
        """The unloaded start."""
        motions = np.zeros((len(self.appliance.units), 6))
        return Iterate(self.appliance.passive, motions, np.zeros(int(self.bounds[-1])))

    def newton(self, start: Iterate, tau: float, *, exact: bool = True) -> Solved | None:
        """Newton's method at one activation; None if it fails.

        Exact, it takes one step more once the tolerance is met, down to rounding: of two iterates
        whose residual is rounding the later is the better. Otherwise it ends as soon as its steps
        are small and shrink fast, on the second at the earliest.
        """
        current, best, last = start, None, 0.0
        for iteration in range(_MAX_NEWTON):
            residual, tangent = self.linearise(current, tau)
            force, gap = self.imbalance(residual)
            if not np.isfinite(force + gap):
                return None
            before = best
            load = float(np.abs(current.multipliers).max(initial=0.0))
            if force < max(_TOLERANCE * load, self.rounding_N) and gap < _GAP_TOLERANCE_MM:
                best = Solved(current, force, iteration)
            if before is not None:
                break
            delta = _newton_step(tangent, residual)
            if delta is None or self.too_far(current, delta):
                break
            current = self.update(current, delta)
            size = self.update_size(delta)
            if not exact and size < _NEAR and size < 0.3 * last:
                return Solved(current, force, iteration + 1)
            last = size
        return best

    def too_far(self, it: Iterate, delta: Array) -> bool:
        """Whether a Newton step leaves the neighbourhood it holds in."""
        return self.update_size(delta) > _LARGEST_UPDATE

    def update_size(self, delta: Array) -> float:
        """Largest part of a Newton step, mm or rad."""
        return float(np.abs(delta[: self.n_motion]).max())

    def element_forces(self, it: Iterate) -> tuple[Array, Array]:
        """End forces of the rod's elements and their tangent, as `fem.rod.internal_forces`."""
        return internal_forces(self.appliance.rod, it.state)

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
        forces, tangents = self.element_forces(it)
        np.add.at(residual, self.element_rows, forces)
        blocks = [*self._supports(residual, it), *self.loads(residual, it, tau)]
        for index, contact in enumerate(self.appliance.contacts):
            blocks.extend(self._contact(residual, it, index, contact, tau))
        if self.pattern is None:
            corners = [(6 * e, 6 * e, (12, 12)) for e in range(len(tangents))]
            corners += [(row, column, block.shape) for row, column, block in blocks]
            self.pattern = place_blocks(self.size, corners)
        values = [tangents.ravel(), *(block.ravel() for _, _, block in blocks)]
        return residual, self.pattern.matrix(np.concatenate(values))

    def _supports(self, residual: Array, it: Iterate) -> Iterator[Block]:
        """Add the units' supports to the residual and yield their tangent blocks."""
        for unit, row in self.unit_row.items():
            K = self.appliance.units[unit].stiffness
            assert K is not None
            residual[row : row + 6] += K @ it.motions[unit]
            yield row, row, K

    def loads(self, residual: Array, it: Iterate, tau: float) -> Iterator[Block]:
        """Add the applied forces to the residual and yield their tangent blocks."""
        for load in self.appliance.forces:
            row = 6 * load.node
            if isinstance(load, FollowerForce):
                residual[row : row + 3] -= load.force_N * tau
                continue
            local = it.state.axes[load.node].T @ load.force_N * tau
            residual[row : row + 3] -= local
            yield row, row + 3, -skew(local)

    def _contact(
        self, residual: Array, it: Iterate, index: int, contact: Contact, tau: float
    ) -> Iterator[Block]:
        """Add one contact to the residual and yield its tangent blocks."""
        node = 6 * contact.node
        unit = self.unit_row.get(contact.unit)
        row = self.n_motion + int(self.bounds[index])
        multiplier = self.multiplier(it, index)
        R = it.state.axes[contact.node]
        touch = self.touch(contact, it)
        equation = self.equation(index, touch, tau, multiplier)
        wrench, basis = contact_wrench(contact, touch, multiplier)
        residual[row : row + len(multiplier)] = equation.value
        felt = wrench.reshape(2, 3) @ R
        residual[node : node + 6] += felt.ravel()
        yield row, node, equation.by_node
        yield row, row, equation.by_multiplier
        yield node, row, (R.T @ basis.reshape(2, 3, -1)).reshape(basis.shape)
        yield node, node + 3, skew(felt[0])
        if unit is None:
            return
        arm = skew(it.state.points[contact.node] - self.appliance.units[contact.unit].point)
        transfer = np.eye(6)
        transfer[3:, :3] = arm
        residual[unit : unit + 6] -= transfer @ wrench
        pushed = skew(wrench[:3])
        yield row, unit, equation.by_unit
        yield unit, row, -transfer @ basis
        yield unit + 3, node, pushed @ R
        yield node, unit + 3, -R.T @ pushed
        yield unit, unit + 3, pushed

    def equation(self, index: int, touch: Touch, tau: float, multiplier: Array) -> ContactEquation:
        """Equation of one contact and its derivatives."""
        return contact_equation(self.appliance.contacts[index], touch, tau, multiplier)

    def touch(self, contact: Contact, it: Iterate) -> Touch:
        """Where a contact's node and unit are."""
        node, state, unit = contact.node, it.state, contact.unit
        return Touch(
            state.points[node],
            state.axes[node],
            self.appliance.units[unit].point,
            it.motions[unit][:3],
            it.unit_turns[unit],
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
