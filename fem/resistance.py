"""Centres and axes of resistance from a 6×6 support.

Convention ``f = A u + B w``, ``m = Bᵀ u + C w`` about a point O. In three dimensions no point
exists in general through which every force moves a tooth without turning it; what is reported is
the point where the coupling block is symmetric, which is unique, and how far it is from vanishing
there (Loncaric 1987; Patterson & Lipkin 1993: attribution from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.rigid import shift_stiffness

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CentreOfResistance:
    """The point where the coupling of translation and rotation is symmetric.

    Attributes
    ----------
    point
        The centre, (3,), mm.
    stiffness
        6×6 about it.
    coupling_mm
        Size of what coupling is left, as the largest singular value of ``A⁻¹ B``: the
        translation per radian that a pure couple still gives. Zero for a true centre.
    """

    point: Array
    stiffness: Array
    coupling_mm: float


def centre_of_resistance(stiffness: Array, point: Array) -> CentreOfResistance:
    """Centre of stiffness: the point where the block B of the 6×6 is symmetric.

    ``r = (tr(A) 1 − A)⁻¹ vee(Bᵀ − B)`` from the point the 6×6 is stated about.

    Parameters
    ----------
    stiffness
        6×6 about `point`.
    point
        (3,), mm.
    """
    A, B = stiffness[:3, :3], stiffness[:3, 3:]
    offset = np.linalg.solve(np.trace(A) * np.eye(3) - A, _vee(B.T - B))
    centre = np.asarray(point, dtype=float) + offset
    moved = shift_stiffness(stiffness, point, centre)
    left = np.linalg.solve(moved[:3, :3], moved[:3, 3:])
    return CentreOfResistance(centre, moved, float(np.linalg.norm(left, 2)))


def centre_of_compliance(stiffness: Array, point: Array) -> Array:
    """Point where the coupling block of the inverse 6×6 is symmetric, (3,), mm.

    It differs from the centre of stiffness unless the body has enough symmetry.
    """
    compliance = np.linalg.inv(stiffness)
    Q, S = compliance[:3, 3:], compliance[3:, 3:]
    offset = np.linalg.solve(np.trace(S) * np.eye(3) - S, _vee(Q - Q.T))
    return np.asarray(point, dtype=float) + offset


def textbook_depth_mm(stiffness: Array, point: Array, force: Array, axis: Array) -> float:
    """Depth at which a transverse force does not tip the tooth in the plane of the force.

    The notion of two-dimensional textbooks: the tooth is free in all six motions, and only its
    rotation in the plane of force and long axis has to vanish.

    Parameters
    ----------
    stiffness, point
        6×6 support about `point`, (3,), on the long axis.
    force
        Unit direction of the force, square to `axis`, (3,).
    axis
        Unit vector of the long axis, towards the crown, (3,).

    Returns
    -------
    float
        Distance from `point` towards the apex, mm.
    """
    tipping = np.cross(axis, force)
    compliance = np.linalg.inv(stiffness)
    by_force = tipping @ compliance[3:, :3] @ force
    by_couple = tipping @ compliance[3:, 3:] @ tipping
    return float(by_force / by_couple)


def _vee(W: Array) -> Array:
    return np.array([W[2, 1], W[0, 2], W[1, 0]])


def axes_of_resistance(centre: CentreOfResistance) -> Array:
    """Principal directions of the translational stiffness at the centre, columns, (3, 3).

    Ordered from the softest to the stiffest.
    """
    return np.asarray(np.linalg.eigh(centre.stiffness[:3, :3])[1])


def rotation_parameter_mm2(stiffness: Array, point: Array, force: Array, axis: Array) -> float:
    """σ² of the law a·b = σ² for forces along one direction in the plane of the long axis.

    A transverse force at a distance a from the textbook centre turns the tooth about a point at
    the distance b on its other side, and a·b does not depend on a (Burstone & Pryputniewicz
    1980, AJO 77:396–409, from memory; Nägerl et al. 1991, AJODO 99:337–345). From the compliance
    at that centre, ``σ² = C_uu / C_θθ``. Exact in the plane; in space the tooth also moves out of
    it, which this ignores.

    Parameters
    ----------
    stiffness, point, force, axis
        As for `textbook_depth_mm`.
    """
    depth = textbook_depth_mm(stiffness, point, force, axis)
    centre = np.asarray(point, dtype=float) - depth * axis
    compliance = np.linalg.inv(shift_stiffness(stiffness, point, centre))
    tipping = np.cross(axis, force)
    translation = force @ compliance[:3, :3] @ force
    rotation = tipping @ compliance[3:, 3:] @ tipping
    return float(translation / rotation)


def rotation_centre_depth_mm(
    stiffness: Array, point: Array, force: Array, axis: Array, moment_to_force_mm: Array
) -> Array:
    """Depth of the centre of rotation for a force and a couple at a bracket.

    Parameters
    ----------
    stiffness
        6×6 about `point`, which is where the force acts.
    point
        The bracket, (3,), mm, on the long axis.
    force, axis
        Unit direction of the force and of the long axis (towards the crown).
    moment_to_force_mm
        Couple over force (n,), mm; positive where the couple tips the root along with the force.

    Returns
    -------
    (n,) array
        Distance from the bracket towards the apex of the point of the long axis that does not
        move along the force, mm; infinite for a translation.
    """
    tipping = np.cross(axis, force)
    compliance = np.linalg.inv(stiffness)
    ratio = np.asarray(moment_to_force_mm, dtype=float)
    load = np.zeros((len(ratio), 6))
    load[:, :3] = force
    load[:, 3:] = -ratio[:, None] * tipping
    motion = load @ compliance.T
    turn = motion[:, 3:] @ tipping
    with np.errstate(divide="ignore"):
        return np.asarray(motion[:, :3] @ force / turn)
