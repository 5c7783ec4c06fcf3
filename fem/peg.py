"""A wire hanging over a peg: the place of contact travels along the wire.

The peg touches the wire at an arc length s that is not known beforehand. The wire is cut there,
its last node held at the peg in all three directions with the force f, and s is found together
with the equilibrium from what the peg can give: with the wire's tangent t at the contact,

    ``t · f = μ |f − (t · f) t|``   (f: force on the wire)

Frictionless (μ = 0) the force is square to the wire. With friction the sign of μ tells which way
the wire slips: positive while it is drawn in over the peg (s grows, activation), negative while it
slips back out (s shrinks, de-activation). The wire beyond the peg is free and bears nothing; the
peg is thin. Not valid where the wire sticks instead of slipping.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.appliance import Appliance, Equilibrium, EquilibriumError
from fem.appliance_system import Iterate, System, engage, solve_equilibrium
from fem.attachment import tied_contact
from fem.rod import Rod, RodState, internal_forces, passive_rod

Array = NDArray[np.float64]

_LONGEST_SLIP = 0.3  # of the length, in one Newton step
_NUDGE = 1e-5  # of the length, to feel how the forces change with it
_SMOOTHING_N = 1e-6


@dataclass(frozen=True)
class Peg:
    """A thin peg, hook or post that a wire lies over.

    Attributes
    ----------
    unit
        Index of the unit it belongs to.
    place
        Where it stands before the unit moves, (3,), mm.
    friction
        Coefficient of friction; positive while the wire is drawn in over the peg, negative while
        it slips back out, zero without friction.
    """

    unit: int
    place: Array
    friction: float = 0.0


@dataclass(frozen=True)
class PegSolution:
    """A wire engaged over a peg.

    Attributes
    ----------
    appliance
        The wire cut at the contact, the peg's contact last.
    equilibrium
        The engaged state.
    length_mm
        Length of wire up to the contact.
    slip_mm
        Wire drawn in over the peg since it first touched.
    normal_N, along_N
        Force on the wire square to it and along it (positive: towards its free end).
    """

    appliance: Appliance
    equilibrium: Equilibrium
    length_mm: float
    slip_mm: float
    normal_N: float
    along_N: float


@dataclass(frozen=True)
class PegBracket:
    """A wire over a rough peg at one activation.

    Attributes
    ----------
    activating, deactivating
        Reached by activating, and from beyond by letting back. The same where the wire sticks.
    frictionless
        Without friction.
    sticks
        Whether friction keeps the wire where it first touched.
    """

    activating: PegSolution
    deactivating: PegSolution
    frictionless: PegSolution
    sticks: bool


def solve_on_peg(
    cut: Callable[[float], Appliance], length_mm: float, peg: Peg, *, steps: int = 8
) -> PegSolution:
    """Engage a wire over a peg and find where the peg touches it.

    Parameters
    ----------
    cut
        Gives the appliance, without the peg's contact, for a wire that ends at a given length;
        always with the same number of elements. Its last node lies at the peg.
    length_mm
        Length at which the passive wire first touches: from there the peg is brought to its place.
    peg
        The peg.
    steps
        Equal steps from touching to engaged; a step that fails is halved.

    Raises
    ------
    fem.appliance.EquilibriumError
        If no equilibrium is found, as when the wire slips off.
    ValueError
        If `cut` changes the number of elements.
    """
    system = _PegSystem(cut, length_mm, peg)
    solved, iterations = engage(system, steps)
    it = solved.iterate
    assert isinstance(it, _OnPeg)
    appliance = replace(system.appliance, rod=system.rod_at(it))
    return _solution(appliance, system.result(solved, iterations), it.length_mm, length_mm)


def peg_bracket(
    cut: Callable[[float], Appliance], length_mm: float, peg: Peg, *, steps: int = 8
) -> PegBracket:
    """Solve a wire over a rough peg while activating and while letting back.

    The wire sticks if, tied where it first touches, it pulls less along itself than friction can
    hold. Which way it slips otherwise is taken from the frictionless wire; it is assumed to slip
    one way all along the activation.

    Parameters
    ----------
    cut, length_mm, steps
        As for `solve_on_peg`.
    peg
        The peg; only the size of its friction counts.

    Raises
    ------
    fem.appliance.EquilibriumError
        If no equilibrium is found.
    """
    free = solve_on_peg(cut, length_mm, replace(peg, friction=0.0), steps=steps)
    way, size = float(np.sign(free.slip_mm)) or 1.0, abs(peg.friction)
    stuck = _stuck(_PegSystem(cut, length_mm, peg).appliance, length_mm, steps) if size else None
    if stuck is not None and abs(stuck.along_N) <= size * stuck.normal_N:
        return PegBracket(stuck, stuck, free, True)
    going = solve_on_peg(cut, length_mm, replace(peg, friction=way * size), steps=steps)
    back = solve_on_peg(cut, length_mm, replace(peg, friction=-way * size), steps=steps)
    return PegBracket(going, back, free, False)


def _stuck(tied: Appliance, length_mm: float, steps: int) -> PegSolution | None:
    """The wire tied where it first touches; None if that has no equilibrium."""
    try:
        return _solution(tied, solve_equilibrium(tied, steps=steps), length_mm, length_mm)
    except EquilibriumError:
        return None


def _solution(
    appliance: Appliance, equilibrium: Equilibrium, length_mm: float, start_mm: float
) -> PegSolution:
    force, tangent = -equilibrium.loads[-1].wrench[:3], equilibrium.state.axes[-1][:, 0]
    along = float(force @ tangent)
    normal = float(np.linalg.norm(force - along * tangent))
    return PegSolution(appliance, equilibrium, length_mm, length_mm - start_mm, normal, along)


@dataclass(frozen=True)
class _OnPeg(Iterate):
    length_mm: float


class _PegSystem(System):
    """Appliance with one unknown more, the length of wire up to the peg, and one equation more."""

    def __init__(self, cut: Callable[[float], Appliance], length_mm: float, peg: Peg) -> None:
        touching = cut(length_mm)
        last = touching.rod.n_elements
        hold = tied_contact(peg.unit, last, peg.place, touching.passive.points[-1])
        super().__init__(replace(touching, contacts=(*touching.contacts, hold)))
        self.cut, self.start_mm, self.peg = cut, length_mm, peg

    def passive(self) -> Iterate:
        it = super().passive()
        return _OnPeg(it.state, it.motions, it.multipliers, self.start_mm)

    def rod_at(self, it: Iterate) -> Rod:
        """The rod cut at the iterate's length."""
        assert isinstance(it, _OnPeg)
        rod = self.cut(it.length_mm).rod
        if rod.n_elements != self.appliance.rod.n_elements:
            raise ValueError(
                f"the wire cut at {it.length_mm:.4g} mm has {rod.n_elements} elements, at first "
                f"{self.appliance.rod.n_elements}: cut it with the same number at any length"
            )
        return rod

    def too_far(self, it: Iterate, delta: Array) -> bool:
        assert isinstance(it, _OnPeg)
        slip = float(delta[-1])
        if super().too_far(it, delta) or abs(slip) > _LONGEST_SLIP * it.length_mm:
            return True
        try:
            self.cut((1 - _NUDGE) * (it.length_mm + slip))
        except ValueError:
            return True
        return False

    def update(self, it: Iterate, delta: Array) -> Iterate:
        assert isinstance(it, _OnPeg)
        new = super().update(it, delta[:-1])
        length = it.length_mm + float(delta[-1])
        return _OnPeg(new.state, new.motions, new.multipliers, length)

    def imbalance(self, residual: Array) -> tuple[float, float]:
        force, gap = super().imbalance(residual[:-1])
        return max(force, abs(float(residual[-1]))), gap

    def linearise(self, it: Iterate, tau: float) -> tuple[Array, sp.csc_matrix]:
        assert isinstance(it, _OnPeg)
        residual, tangent = super().linearise(it, tau)
        value, row = self.slipping(it)
        column = np.zeros(self.size)
        column[: self.n_rod] = self.by_length(it)
        bordered = sp.bmat([[tangent, column[:, None]], [row[None], None]], format="csc")
        return np.append(residual, value), bordered

    def by_length(self, it: _OnPeg) -> Array:
        """Derivative of the rod's forces by the length, (n_rod,), from a small nudge."""
        nudge = _NUDGE * it.length_mm
        longer, shorter = (
            self.element_forces(replace(it, length_mm=it.length_mm + step))[0]
            for step in (nudge, -nudge)
        )
        total = np.zeros(self.n_rod)
        np.add.at(total, self.element_rows, (longer - shorter) / (2 * nudge))
        return total

    def element_forces(self, it: Iterate) -> tuple[Array, Array]:
        return internal_forces(self.rod_at(it), it.state)

    def slipping(self, it: Iterate) -> tuple[float, Array]:
        """What the force along the wire lacks of the friction, N, and its derivative, (size,)."""
        R, mu = it.state.axes[-1], self.peg.friction
        R_unit = it.unit_turns[self.peg.unit]
        force = R_unit @ self.multiplier(it, len(self.appliance.contacts) - 1)
        tangent = R[:, 0]
        along = float(tangent @ force)
        normal = force - along * tangent
        size = np.sqrt(float(normal @ normal) + _SMOOTHING_N**2)
        by_force = tangent - mu * normal / size
        row = np.zeros(self.size)
        turned = force + mu * along * normal / size
        row[self.n_rod - 3 : self.n_rod] = np.cross(np.array([1.0, 0, 0]), R.T @ turned)
        unit = self.unit_row.get(self.peg.unit)
        if unit is not None:
            row[unit + 3 : unit + 6] = np.cross(force, by_force)
        row[self.n_motion + int(self.bounds[-2]) :] = by_force @ R_unit
        return along - mu * size, row


def straight_cut(
    appliance: Appliance, first: int, law: Array, straight_rad: float = 1e-9
) -> Callable[[float], Appliance]:
    """Cut of a wire whose run from one node on is straight: that run is scaled to any length.

    Parameters
    ----------
    appliance
        Wire, units and contacts other than the peg's, cut at some length.
    first
        Node at which the straight run begins; contacts lie before it or at it.
    law
        Diagonal of the section law, (6,), one wire throughout.
    straight_rad
        How far the run may stray from straight.

    Raises
    ------
    ValueError
        If the wire is bent or twisted beyond `first`, or a length ends before it.
    """
    rod, passive = appliance.rod, appliance.passive
    if np.abs(rod.passive_strain[first:, 3:]).max() * rod.lengths_mm.sum() > straight_rad:
        raise ValueError(f"the wire is bent beyond node {first}: only a straight run can be cut")
    before = float(rod.lengths_mm[:first].sum())
    run = float(rod.lengths_mm[first:].sum())

    def cut(length_mm: float) -> Appliance:
        scale = (length_mm - before) / run
        if scale <= 0:
            raise ValueError(f"a cut at {length_mm:.4g} mm lies before the straight run")
        lengths = rod.lengths_mm.copy()
        lengths[first:] *= scale
        points = passive.points.copy()
        points[first:] = points[first] + scale * (points[first:] - points[first])
        scaled = passive_rod(points, passive.axes, lengths, law)
        return replace(appliance, rod=scaled, passive=RodState(points, passive.axes))

    return cut
