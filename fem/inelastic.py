"""An appliance whose wire yields or transforms: activated, let back, let go.

The equilibrium of `fem.appliance` with the wire of `fem.fibre_rod`. What the wire bears depends on
where it has been, so the activation is followed in small steps: equilibrium is found from the last
state, and only then does the memory of the fibres move on. Within a step the strain of every fibre
is taken to move straight, which a superelastic wire needs small steps for.

The rest is as valid as its parts: torsion and shear stay elastic and do not lower the limit in
bending, contacts keep the side and the way they are given, and a wire that snaps from one
equilibrium to another ends the path.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Equilibrium, EquilibriumError
from fem.appliance_system import Block, Iterate, Solved, System
from fem.contact_equation import ContactEquation, Touch
from fem.fibre_rod import ElementForces, FibreRod, element_forces

Array = NDArray[np.float64]

LONGEST_STEP = 0.05  # of the activation
_SMALLEST_STEP = 1e-4
_LARGEST_STRAIN = 0.12  # of a fibre: beyond it a perfectly plastic wire folds in one element
_RELEASE_STEP = 0.25  # of the force let go: mostly elastic


@dataclass(frozen=True)
class InelasticPoint:
    """One equilibrium on the way of an inelastic wire.

    Attributes
    ----------
    share
        Activation τ: 0 passive, 1 engaged, more than 1 over-activated.
    equilibrium
        Frames, motions of the units, contact loads.
    memory
        Memory of the fibres, (n, f, k).
    resultants
        N, V₂, V₃, T, M₂, M₃ at the middle of each element, (n, 6).
    strain, stress_MPa
        Greatest size of strain and stress among the fibres of each element, (n,).
    """

    share: float
    equilibrium: Equilibrium
    memory: Array
    resultants: Array
    strain: Array
    stress_MPa: Array


def follow(
    appliance: Appliance,
    wire: FibreRod,
    shares: Sequence[float],
    *,
    longest_step: float = LONGEST_STEP,
) -> tuple[InelasticPoint, ...]:
    """Take an appliance from passive through given activations, one equilibrium at each.

    Parameters
    ----------
    appliance
        Units and contacts, and the wire's passive shape; contacts with play stay on the side they
        are given.
    wire
        The same wire with its fibres, never strained.
    shares
        Activations τ in the order they are reached, up or down: contacts stand at ``(1 − τ)`` of
        their gap, forces at τ of their size.
    longest_step
        Longest step of τ; one that finds no equilibrium is halved.

    Raises
    ------
    fem.appliance.EquilibriumError
        If no equilibrium is found however short the step; says how far the wire was followed.
    ValueError
        If a share is negative or not finite, the longest step not positive, or the wire not that
        of the appliance.
    """
    return tuple(followed(appliance, wire, shares, longest_step=longest_step))


def followed(
    appliance: Appliance,
    wire: FibreRod,
    shares: Sequence[float],
    *,
    longest_step: float = LONGEST_STEP,
) -> Iterator[InelasticPoint]:
    """As `follow`, one equilibrium after the other: none is lost where the way ends."""
    for share in shares:
        if not 0 <= share < np.inf:
            raise ValueError(f"activation share {share}: must be 0 (passive) or more")
    if not longest_step > 0:
        raise ValueError(f"longest_step = {longest_step}: must be positive")
    memory = wire.section.initial_state((wire.rod.n_elements,))
    system = _FibreSystem(appliance, wire, memory)
    it, reached = system.passive(), 0.0
    for share in map(float, shares):
        solved, iterations = system.walk(it, reached, share, longest_step)
        yield system.point(share, solved, iterations)
        it, reached = solved.iterate, share


def release(
    appliance: Appliance, wire: FibreRod, point: InelasticPoint, contacts: Iterable[int]
) -> InelasticPoint:
    """Let contacts go at one activation: what they bear falls to nothing, the rest stay closed.

    Parameters
    ----------
    appliance, wire
        As for `follow`.
    point
        Where the wire is let go.
    contacts
        Indices of the contacts let go; the others must hold the wire.

    Raises
    ------
    fem.appliance.EquilibriumError
        If the wire finds no rest.
    ValueError
        If there is no such contact, the others hold less than the six ways a body moves, or the
        wire is not that of the appliance.
    """
    freed = frozenset(contacts)
    if unknown := sorted(freed - set(range(len(appliance.contacts)))):
        raise ValueError(f"contacts {unknown} to let go: there are {len(appliance.contacts)}")
    multipliers = enumerate(point.equilibrium.multipliers)
    if (held := sum(len(m) for index, m in multipliers if index not in freed)) < 6:
        raise ValueError(
            f"contacts {sorted(freed)} to let go: the others hold {held} of the six ways the wire "
            "can move; keep enough to hold it"
        )
    system = _ReleasedSystem(appliance, wire, point, freed)
    solved, iterations = system.walk(system.start(), 1.0, 0.0, _RELEASE_STEP)
    return system.point(point.share, solved, iterations)


def permanent_set_mm(appliance: Appliance, resting: InelasticPoint) -> Array:
    """Displacement of the nodes of a released wire from its passive shape, (n + 1, 3)."""
    return resting.equilibrium.state.points - appliance.passive.points


class _FibreSystem(System):
    """Appliance with the wire's forces from its fibres, whose memory moves with `walk`."""

    def __init__(self, appliance: Appliance, wire: FibreRod, memory: Array) -> None:
        lengths = appliance.rod.lengths_mm
        if len(lengths) != wire.rod.n_elements or not np.allclose(lengths, wire.rod.lengths_mm):
            raise ValueError(
                f"the wire of fibres has other elements ({wire.rod.n_elements}) than the "
                f"appliance's ({len(lengths)}): cut both alike"
            )
        super().__init__(replace(appliance, rod=wire.rod))
        self.wire, self.memory = wire, memory

    def answer(self, it: Iterate) -> ElementForces:
        """Forces of the elements, from the memory at the start of the step."""
        return element_forces(self.wire, it.state, self.memory)

    def element_forces(self, it: Iterate) -> tuple[Array, Array]:
        answer = self.answer(it)
        return answer.forces, answer.tangent

    def walk(self, it: Iterate, start: float, end: float, longest: float) -> tuple[Solved, int]:
        """Follow the equilibrium from one activation to another, and the iterations it took."""
        span = end - start
        longest = abs(span) / max(1, ceil(abs(span) / longest - 1e-9))
        reached, step, iterations = start, longest, 0
        while True:
            left = end - reached
            target = end if abs(left) < 1.001 * step else reached + float(np.copysign(step, left))
            solved = self.newton(it, target)
            if solved is None:
                step /= 2
                if step < _SMALLEST_STEP:
                    raise EquilibriumError(self.stuck(reached, end))
                continue
            it, reached, step = solved.iterate, target, min(2 * step, longest)
            iterations += solved.iterations
            self.memory = self.answer(it).memory
            if reached == end:
                return solved, iterations

    def stuck(self, reached: float, end: float) -> str:
        """What to say where the path ends."""
        return (
            f"the inelastic wire was followed to {100 * reached:.1f} % of its activation and finds "
            f"no equilibrium on the way to {100 * end:.1f} %: activate it less, use more rod "
            "elements, or give a perfectly plastic alloy some hardening"
        )

    def point(self, share: float, solved: Solved, iterations: int) -> InelasticPoint:
        """Package a converged state."""
        answer, section = self.answer(solved.iterate), self.wire.section
        fibres = answer.strain[:, [0, 4, 5]] @ section.fibres.lever.T
        stress, _, _ = section.law.update(fibres, self.memory)
        strain = np.abs(fibres).max(axis=1)
        if strain.max() > _LARGEST_STRAIN:
            raise EquilibriumError(
                f"the wire is strained by {100 * strain.max():.0f} % in element "
                f"{int(strain.argmax())}, beyond what its law is good for: activate it less, or "
                "choose a larger section"
            )
        return InelasticPoint(
            share,
            self.result(solved, iterations),
            self.memory,
            answer.resultants,
            strain,
            np.abs(stress).max(axis=1),
        )


class _ReleasedSystem(_FibreSystem):
    """Some contacts bear the share τ of what they bore, wherever the wire goes; the rest stay."""

    def __init__(
        self, appliance: Appliance, wire: FibreRod, point: InelasticPoint, freed: frozenset[int]
    ) -> None:
        super().__init__(appliance, wire, point.memory)
        self.begun, self.freed = point, freed

    def start(self) -> Iterate:
        """Where the wire is let go."""
        found = self.begun.equilibrium
        return Iterate(found.state, found.motions, np.concatenate(found.multipliers))

    def equation(self, index: int, touch: Touch, tau: float, multiplier: Array) -> ContactEquation:
        if index not in self.freed:
            return super().equation(index, touch, self.begun.share, multiplier)
        value = multiplier - tau * self.begun.equilibrium.multipliers[index]
        nothing = np.zeros((len(value), 6))
        return ContactEquation(value, nothing, nothing, np.eye(len(value)))

    def loads(self, residual: Array, it: Iterate, tau: float) -> Iterator[Block]:
        return super().loads(residual, it, self.begun.share)

    def stuck(self, reached: float, end: float) -> str:
        return (
            f"the wire let go finds no rest: {100 * (1 - reached):.1f} % of the force could be "
            "taken away; keep enough contacts to hold it"
        )
