"""Geometrically exact rod whose sections yield or transform: one element after another.

As in `fem.rod` an element's strain is the constant twist between the frames of its two nodes.
Its axial force and bending moments come from a section of fibres with their own memory, its shear
forces and torsion from linear elasticity:

    ``σ = (N(ε₁, κ₂, κ₃), κGA γ₂, κGA γ₃, GJ κ₁, M₂(…), M₃(…))``.

The moment within an element varies, while its curvature is constant and taken from the moment at
its middle: second order in the element length past the elastic limit, so the elements must be
short beside the yielded length. Elements have the elastic law of straight ones (`fem.rod`). Within
the limit that is of fourth order for straight wires and, if they hardly stretch or shear, in the
plane of an arc, and of second order out of it.
A perfectly plastic wire whose force falls while it is bent further (large rotation over a smooth
peg) folds within one element, however short: give it some hardening, as real wire has.
Not valid where torsion or shear come near yield: they do not lower the limit in bending.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.fibre import FibreSection
from fem.rod import (
    Rod,
    RodState,
    element_law,
    end_forces,
    passive_rod,
    relative_twists,
)

Array = NDArray[np.float64]

_BENDING = np.array([0, 4, 5])


@dataclass(frozen=True)
class FibreRod:
    """A wire of elements with fibre sections.

    Attributes
    ----------
    rod
        Lengths, passive strain, and the elastic stiffness of which shear and torsion are used.
    section
        The wire's section.
    """

    rod: Rod
    section: FibreSection


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
    resultants
        (n, 6): N, V₂, V₃, T, M₂, M₃ at the middle of each element.
    memory
        (n, f, k): memory of the fibres after the step.
    """

    forces: Array
    tangent: Array
    resultants: Array
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
    straight = rod.lengths_mm[:, None] * np.array([1.0, 0, 0, 0, 0, 0])
    rod = replace(rod, stiffness=element_law(law, straight))
    state = FibreRodState(RodState(points, axes), section.initial_state((rod.n_elements,)))
    return FibreRod(rod, section), state


def element_forces(wire: FibreRod, frames: RodState, memory: Array) -> ElementForces:
    """Forces, tangent and new memory at `frames`, from the memory at the start of the step."""
    rod = wire.rod
    twist = relative_twists(frames)
    strain = twist / rod.lengths_mm[:, None] - rod.passive_strain
    bending = strain[:, _BENDING]
    answer = wire.section.response(bending[:, 0], bending[:, 1:], memory)
    resultants = rod.direct_stiffness * strain
    resultants[:, _BENDING] = answer.resultants
    law = rod.stiffness.copy()
    law[:, _BENDING[:, None], _BENDING] = answer.tangent
    forces, tangent = end_forces(twist, resultants, law / rod.lengths_mm[:, None, None])
    return ElementForces(forces, tangent, resultants, answer.state)
