"""A unit: one tooth or several joined rigidly, held by the sum of their supports."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.resistance import CentreOfResistance, centre_of_resistance
from fem.rigid import rotate_stiffness, shift_motion, shift_stiffness, to_local
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


@dataclass(frozen=True)
class UnitSupport:
    """Support of a unit in patient axes.

    Attributes
    ----------
    teeth
        The teeth joined.
    centre
        Centre of resistance of the unit, with the 6×6 about it.
    axes
        Mean anatomical axes of the teeth, columns mesial, buccal, occlusal.
    """

    teeth: tuple[ToothSupport, ...]
    centre: CentreOfResistance
    axes: Array


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
    axes = mean_axes([tooth.frame for tooth in teeth])
    return UnitSupport(teeth, centre_of_resistance(total, origin), axes)


def tooth_motion(unit: UnitSupport, motion: Array, tooth: ToothSupport) -> Array:
    """Motion of one tooth about its own point and axes, from its unit's motion at the centre."""
    at_tooth = shift_motion(motion, unit.centre.point, tooth.place)
    return to_local(at_tooth, tooth.frame.axes)
