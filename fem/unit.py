"""A unit: one tooth or several, joined rigidly or by a wire, held by the sum of their supports.

A unit is described by coordinates x: its six motions where the teeth are one body, the motions of
all brackets where a wire joins them. Each tooth follows them, ``q_t = T_t x``, and so does the part
that an appliance takes hold of, its handle, ``q = H x``. With the stiffness of supports and joint,

    ``𝐊 = Σ T_tᵀ K_t T_t + 𝐊_joint``,  ``K = (H 𝐊⁻¹ Hᵀ)⁻¹``,  ``x = 𝐊⁻¹ Hᵀ K q``,

an appliance feels the 6×6 K and everything else follows from the handle's motion q. Linear, small
motions; loads come in at the handle alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.resistance import CentreOfResistance, centre_of_resistance
from fem.rigid import from_local, point_shift, rotate_stiffness, shift_stiffness
from geometry.frame import ToothFrame, mean_axes

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ToothSupport:
    """The support of one tooth and where the tooth stands.

    Attributes
    ----------
    number
        ISO 3950 number.
    frame
        Place in the patient.
    point
        Point the stiffness is stated about, in tooth axes, (3,), mm.
    stiffness
        6×6 in tooth axes.
    """

    number: int
    frame: ToothFrame
    point: Array
    stiffness: Array

    @property
    def place(self) -> Array:
        """The support's point in the patient, (3,), mm."""
        return self.frame.to_patient(self.point)

    def motion_from(self, point: Array) -> Array:
        """Matrix (6, 6) from a motion at a point, in the patient, to the tooth's own.

        The tooth's own motion is about its own point and along its own axes.
        """
        shift = point_shift(np.asarray(point, dtype=float) - self.place)
        return np.asarray(from_local(self.frame.axes).T @ shift)


@dataclass(frozen=True)
class UnitSupport:
    """Support of a unit in patient axes.

    Attributes
    ----------
    teeth
        The teeth joined.
    centre
        Centre of resistance of the unit as felt at its handle, with the 6×6 about it.
    axes
        Mean anatomical axes of the teeth, columns mesial, buccal, occlusal.
    maps
        T_t of each tooth, (6, m).
    handle
        H: motion at the centre of what the appliance takes hold of, (6, m).
    joint
        Stiffness of what joins the teeth, (m, m); zero for one body.
    """

    teeth: tuple[ToothSupport, ...]
    centre: CentreOfResistance
    axes: Array
    maps: tuple[Array, ...]
    handle: Array
    joint: Array


def join_teeth(teeth: tuple[ToothSupport, ...]) -> UnitSupport:
    """Support of teeth that move as one body: their 6×6 about one point, added.

    Raises
    ------
    ValueError
        If the unit mixes left and right teeth.
    """
    origin = np.mean([tooth.place for tooth in teeth], axis=0)
    total = np.zeros((6, 6))
    for tooth in teeth:
        in_patient = rotate_stiffness(tooth.stiffness, tooth.frame.axes)
        total += shift_stiffness(in_patient, tooth.place, origin)
    centre = centre_of_resistance(total, origin)
    return UnitSupport(
        teeth=teeth,
        centre=centre,
        axes=mean_axes([tooth.frame for tooth in teeth]),
        maps=tuple(tooth.motion_from(centre.point) for tooth in teeth),
        handle=np.eye(6),
        joint=np.zeros((6, 6)),
    )


def held_at(
    teeth: tuple[ToothSupport, ...], maps: tuple[Array, ...], joint: Array, handle: Array, at: Array
) -> UnitSupport:
    """Support of teeth that a joint connects, as felt at a handle.

    Parameters
    ----------
    teeth, maps, joint
        See `UnitSupport`.
    handle, at
        Motion of the handle about the point `at`, (6, m) and (3,), mm.

    Raises
    ------
    ValueError
        If the unit mixes left and right teeth.
    """
    compliance = handle @ np.linalg.solve(_whole(teeth, maps, joint), handle.T)
    felt = np.linalg.inv(0.5 * (compliance + compliance.T))
    centre = centre_of_resistance(0.5 * (felt + felt.T), at)
    axes = mean_axes([tooth.frame for tooth in teeth])
    moved = point_shift(np.asarray(at, dtype=float) - centre.point) @ handle
    return UnitSupport(teeth, centre, axes, maps, moved, joint)


def coordinates(unit: UnitSupport, motion: Array) -> Array:
    """Coordinates (m,) of a unit whose handle has the motion (6,) at its centre."""
    load = unit.handle.T @ (unit.centre.stiffness @ motion)
    return np.asarray(np.linalg.solve(_whole(unit.teeth, unit.maps, unit.joint), load))


def tooth_motion(unit: UnitSupport, motion: Array, tooth: ToothSupport) -> Array:
    """Motion of one tooth about its own point and axes, from its unit's motion at the centre."""
    index = [other.number for other in unit.teeth].index(tooth.number)
    return np.asarray(unit.maps[index] @ coordinates(unit, motion))


def motion_in_patient(unit: UnitSupport, motion: Array, tooth: ToothSupport) -> Array:
    """Motion of one tooth about its own place, in patient axes, from its unit's at the centre."""
    return np.asarray(from_local(tooth.frame.axes) @ tooth_motion(unit, motion, tooth))


def _whole(teeth: tuple[ToothSupport, ...], maps: tuple[Array, ...], joint: Array) -> Array:
    """Stiffness (m, m) of supports and joint."""
    supports = [T.T @ tooth.stiffness @ T for tooth, T in zip(teeth, maps, strict=True)]
    return np.asarray(joint + np.sum(supports, axis=0))
