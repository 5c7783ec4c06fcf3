"""How a unit starts to move, in numbers and in anatomical components."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.rigid import ScrewAxis, screw_axis, shift_motion, to_local

Array = NDArray[np.float64]


@dataclass(frozen=True)
class AnatomicalMotion:
    """A small motion in the words of the trade.

    Translations are those of the stated point. A crown tips mesially when it leans that way; a
    tooth turns mesial-in when its mesial side goes lingual.

    Attributes
    ----------
    extrusion_mm, mesial_mm, buccal_mm
        Components along occlusal, mesial and buccal.
    mesial_tip_rad, buccal_tip_rad, mesial_in_rad
        Components of the rotation.
    """

    extrusion_mm: float
    mesial_mm: float
    buccal_mm: float
    mesial_tip_rad: float
    buccal_tip_rad: float
    mesial_in_rad: float


@dataclass(frozen=True)
class Movement:
    """Initial movement of a unit.

    Attributes
    ----------
    motion
        Translation of the centre of resistance (mm) and rotation (rad), (6,).
    screw
        Screw axis; None for a pure translation.
    centre_of_rotation
        Point of the screw axis nearest the centre of resistance, (3,), mm: the centre of rotation
        of plane movement. None for a pure translation.
    anatomical
        The same motion in the unit's anatomical axes.
    """

    motion: Array
    screw: ScrewAxis | None
    centre_of_rotation: Array | None
    anatomical: AnatomicalMotion


def movement(motion: Array, point: Array, centre: Array, axes: Array) -> Movement:
    """Describe a small motion known at one point.

    Parameters
    ----------
    motion
        Translation of `point` and rotation, (6,), mm and rad.
    point, centre
        Where the motion is given, and the centre of resistance, (3,), mm.
    axes
        Columns mesial, buccal, occlusal, (3, 3); left-handed for mirrored teeth.
    """
    at_centre = shift_motion(motion, point, centre)
    screw = screw_axis(at_centre, centre)
    return Movement(
        motion=at_centre,
        screw=screw,
        centre_of_rotation=None if screw is None else screw.point,
        anatomical=anatomical_motion(at_centre, axes),
    )


def anatomical_motion(motion: Array, axes: Array) -> AnatomicalMotion:
    """Components of a small motion along mesial, buccal and occlusal.

    With (m, b, o) right-handed, ``ω × o`` is where the crown goes: a rotation about +b tips it
    mesially, about −m buccally; a rotation about −o takes the mesial side lingually.
    """
    m, b, o, rm, rb, ro = (float(value) for value in to_local(motion, axes))
    return AnatomicalMotion(
        extrusion_mm=o,
        mesial_mm=m,
        buccal_mm=b,
        mesial_tip_rad=rb,
        buccal_tip_rad=-rm,
        mesial_in_rad=-ro,
    )
