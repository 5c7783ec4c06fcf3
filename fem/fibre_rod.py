"""Geometrically exact rod whose sections yield or transform: one element after another.

As in `fem.rod` an element's strain ε is the constant twist between the frames of its two nodes. Of
it the section at its middle takes ε̂, the rest goes into the stress that varies along the element,

    ``ε = ε̂ + F σ(ε̂)``,  F: `fem.rod.turning_flexibility`, elastic.

The section's axial force and bending moments come from fibres with their own memory, its shear
forces and torsion from linear elasticity:

    ``σ = (N(ε₁, κ₂, κ₃), κGA γ₂, κGA γ₃, GJ κ₁, M₂(…), M₃(…))``.

Within the elastic limit this is the element of `fem.rod`, bent or straight. Beyond it the moment's
change along the element is answered elastically: second order in the element length, so the
elements must be short beside the yielded length.
A perfectly plastic wire whose force falls while it is bent further (large rotation over a smooth
peg) folds within one element, however short: give it some hardening, as real wire has.
Not valid where torsion or shear come near yield: they do not lower the limit in bending.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fem.fibre import FibreSection
from fem.rigid import matvec
from fem.rod import (
    Rod,
    RodState,
    end_forces,
    passive_rod,
    relative_twists,
    turning_flexibility,
)

Array = NDArray[np.float64]

_BENDING = np.array([0, 4, 5])
_TOLERANCE = 1e-13  # of strain, 1 and rad/mm
_MAX_ITERATIONS = 30


@dataclass(frozen=True)
class FibreRod:
    """A wire of elements with fibre sections.

    Attributes
    ----------
    rod
        Lengths, passive strain, and the elements' law within the elastic limit.
    section
        The wire's section.
    law
        Diagonal of the section law within the elastic limit, (6,).
    """

    rod: Rod
    section: FibreSection
    law: Array

    @cached_property
    def turning(self) -> Array:
        """Elastic flexibility F of the stress that varies along an element, (n, 6, 6)."""
        twists = self.rod.passive_strain * self.rod.lengths_mm[:, None]
        return turning_flexibility(self.law, twists)


@dataclass(frozen=True)
class FibreRodState:
    """Frames of the nodes and the memory of the fibres.

    Attributes
    ----------
    frames
        Positions and axes of the nodes.
    memory
        (n, f, k), one section an element.
    """

    frames: RodState
    memory: Array


@dataclass(frozen=True)
class ElementForces:
    """Answer of all elements to the frames of their nodes.

    Attributes
    ----------
    forces
        (n, 12): body-frame (force, moment) at the first and the second node.
    tangent
        (n, 12, 12): derivative by body-frame twists of both nodes.
    resultants, strain
        (n, 6): N, V₂, V₃, T, M₂, M₃ at the middle of each element, and its strain ε̂.
    memory
        (n, f, k): memory of the fibres after the step.
    """

    forces: Array
    tangent: Array
    resultants: Array
    strain: Array
    memory: Array


def passive_fibre_rod(
    points: Array, axes: Array, lengths_mm: Array, section: FibreSection, shear_torsion: Array
) -> tuple[FibreRod, FibreRodState]:
    """Rod that is stress-free and never strained in the given shape.

    Parameters
    ----------
    points, axes
        Frames (n + 1, 3) and (n + 1, 3, 3) of the wire as bent.
    lengths_mm
        Arc length of each element, (n,).
    section
        The wire's fibres.
    shear_torsion
        (3,): κGA for both directions and GJ, in N and N·mm² (`fem.section.Section.stiffness`).

    Raises
    ------
    ValueError
        If an element has no length or turns by more than 1 rad.
    """
    E, fibres = section.law.initial_modulus_MPa, section.fibres
    axial, second, third = E * fibres.area_mm2 @ fibres.lever**2
    law = np.array([axial, *shear_torsion, second, third])
    rod = passive_rod(points, axes, lengths_mm, law)
    state = FibreRodState(RodState(points, axes), section.initial_state((rod.n_elements,)))
    return FibreRod(rod, section, law), state


def element_forces(wire: FibreRod, frames: RodState, memory: Array) -> ElementForces:
    """Forces, tangent and new memory at `frames`, from the memory at the start of the step.

    Where the sections' strain cannot be found, the forces are not a number.
    """
    rod = wire.rod
    twist = relative_twists(frames)
    strain = twist / rod.lengths_mm[:, None] - rod.passive_strain
    inner = matvec(rod.stiffness, strain) / wire.law  # exact within the elastic limit
    allowed = _TOLERANCE * (1 + np.abs(strain).max())
    for _ in range(_MAX_ITERATIONS):
        resultants, tangent, state = _section_response(wire, inner, memory)
        excess = inner + matvec(wire.turning, resultants) - strain
        softened = np.eye(6) + wire.turning @ tangent
        if np.abs(excess).max() <= allowed:
            break
        inner = inner - np.linalg.solve(softened, excess[..., None])[..., 0]
    else:
        resultants = np.full_like(resultants, np.nan)
    change = np.linalg.solve(np.swapaxes(softened, 1, 2), tangent) / rod.lengths_mm[:, None, None]
    forces, stiffness = end_forces(twist, resultants, change)
    return ElementForces(forces, stiffness, resultants, inner, state)


def _section_response(wire: FibreRod, strain: Array, memory: Array) -> tuple[Array, Array, Array]:
    """Resultants (n, 6), tangent (n, 6, 6) and new memory of the sections at their strain."""
    answer = wire.section.response(strain[:, 0], strain[:, _BENDING[1:]], memory)
    resultants = wire.law * strain
    resultants[:, _BENDING] = answer.resultants
    tangent = np.tile(np.diag(wire.law), (len(strain), 1, 1))
    tangent[:, _BENDING[:, None], _BENDING] = answer.tangent
    return resultants, tangent, answer.state
