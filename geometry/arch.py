"""Where teeth stand: the dental arch and the places of attachments on it.

The arch is the curve ``y = A x⁶ + B x²`` through incisors, canines and molars (form: Noroozi,
Hosseinzadeh Nik & Saeeda 2001, Angle Orthod 71:386–389), with y the depth behind the midpoint of
the incisors and x the distance from the midline. A and B are found from two published means: the
arch passes half the intercanine width aside where its length from the midline equals the widths
of two incisors and half a canine, and half the intermolar width aside at the intermolar depth.
Crown centres stand on the curve, occlusal ends in one plane. Not a patient's arch.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import cumulative_trapezoid
from scipy.optimize import brentq

from geometry.anatomy import crown_width_mm, tooth_dimensions
from geometry.frame import ToothFrame
from geometry.measures import ToothMeasures

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ArchDimensions:
    """Published means that fix the arch curve.

    Attributes
    ----------
    intercanine_width_mm
        Between canine cusps (76 Class I casts; authors not shown in the source seen).
    intermolar_width_mm, intermolar_depth_mm
        At the first molars (Mina et al. 2017, Odontology 105:229–236, 54 casts).
    """

    intercanine_width_mm: float
    intermolar_width_mm: float
    intermolar_depth_mm: float


UPPER_ARCH = ArchDimensions(35.41, 57.92, 31.59)
LOWER_ARCH = ArchDimensions(26.85, 54.19, 28.10)


@dataclass(frozen=True)
class ToothPlacement:
    """How one tooth departs from its regular place.

    Attributes
    ----------
    mesial_tip_deg, buccal_tip_deg
        Lean of the crown, degrees, about the middle of the root.
    mesial_in_deg
        Turn about the tipped long axis that takes the mesial side lingually, degrees.
    mesial_mm, buccal_mm, occlusal_mm
        Shift of the whole tooth along the axes of its regular place.
    """

    mesial_tip_deg: float = 0.0
    buccal_tip_deg: float = 0.0
    mesial_in_deg: float = 0.0
    mesial_mm: float = 0.0
    buccal_mm: float = 0.0
    occlusal_mm: float = 0.0


def quadrant(number: int) -> int:
    """Quadrant 1–4 of an ISO 3950 tooth number."""
    return number // 10


def is_lower(number: int) -> bool:
    """Whether the tooth stands in the lower jaw."""
    return quadrant(number) in (3, 4)


def tooth_frame(
    number: int,
    placement: ToothPlacement = ToothPlacement(),
    measures: ToothMeasures | None = None,
) -> ToothFrame:
    """Frame of a tooth on the mean arch.

    Parameters
    ----------
    number
        ISO 3950 number of a permanent tooth with known dimensions.
    placement
        Departure from the regular place: shifted and tipped along the axes that the tooth has
        there, then turned about its own long axis.
    measures
        Lengths of its crown and root; those of the table without it.

    Raises
    ------
    ValueError
        If the tooth's dimensions are not known.
    """
    known = measures or ToothMeasures.of(tooth_dimensions(number))
    side = 1.0 if quadrant(number) in (2, 3) else -1.0
    up = 1.0 if is_lower(number) else -1.0
    point, tangent = _on_arch(is_lower(number), _distance_from_midline(number))
    mesial = np.array([-side * tangent[0], -tangent[1], 0.0])
    buccal = np.array([side * tangent[1], -tangent[0], 0.0])
    occlusal = np.array([0.0, 0.0, up])
    axes = np.column_stack([mesial, buccal, occlusal])
    origin = np.array([side * point[0], point[1], 0.0]) - occlusal * known.crown_length_mm
    return displaced(ToothFrame(origin, axes), placement, known.root_length_mm)


def displaced(regular: ToothFrame, placement: ToothPlacement, root_length_mm: float) -> ToothFrame:
    """Frame of a tooth that departs from a regular place.

    Parameters
    ----------
    regular
        The place it departs from.
    placement
        How it departs.
    root_length_mm
        Length of its root; it tips about the middle.
    """
    shift = regular.axes @ (placement.mesial_mm, placement.buccal_mm, placement.occlusal_mm)
    tipped = ToothFrame(regular.origin + shift, regular.axes).tipped(
        np.radians(placement.mesial_tip_deg),
        np.radians(placement.buccal_tip_deg),
        np.array([0.0, 0.0, -root_length_mm / 2]),
    )
    return tipped.turned(np.radians(placement.mesial_in_deg))


def buccal_attachment(
    measures: ToothMeasures, height_fraction: float, stand_off_mm: float
) -> Array:
    """Place of the wire in a tube or bracket on the buccal face, in tooth coordinates, (3,), mm.

    Parameters
    ----------
    height_fraction
        Height above the cervix as a fraction of the crown length.
    stand_off_mm
        Distance of the wire's axis from the crown's greatest buccal breadth.
    """
    out = measures.buccal_reach_mm + stand_off_mm
    return np.array([0.0, out, height_fraction * measures.crown_length_mm])


def _distance_from_midline(number: int) -> float:
    """Length along the arch from the midline to the middle of a tooth, teeth in contact, mm."""
    base, position = 10 * quadrant(number), number % 10
    before = sum(crown_width_mm(base + k) for k in range(1, position))
    return before + crown_width_mm(number) / 2


def _on_arch(lower: bool, distance_mm: float) -> tuple[Array, Array]:
    """Point (x, y) of the arch at a length from the midline, and its unit tangent backwards."""
    A, B = _arch_coefficients(lower)
    x = brentq(lambda end: _arch_length(A, B, end) - distance_mm, 0.0, distance_mm)
    slope = 6 * A * x**5 + 2 * B * x
    return np.array([x, A * x**6 + B * x**2]), np.array([1.0, slope]) / np.hypot(1.0, slope)


@cache
def _arch_coefficients(lower: bool) -> tuple[float, float]:
    arch = LOWER_ARCH if lower else UPPER_ARCH
    canine_distance = _distance_from_midline(33 if lower else 23)
    canine_x, molar_x = arch.intercanine_width_mm / 2, arch.intermolar_width_mm / 2

    def A_of(B: float) -> float:
        return (arch.intermolar_depth_mm - B * molar_x**2) / molar_x**6

    def misfit(B: float) -> float:
        return _arch_length(A_of(B), B, canine_x) - canine_distance

    B = brentq(misfit, 0.0, arch.intermolar_depth_mm / molar_x**2)
    return A_of(B), B


def _arch_length(A: float, B: float, end_x: float) -> float:
    x = np.linspace(0.0, end_x, 400)
    slope = 6 * A * x**5 + 2 * B * x
    return float(cumulative_trapezoid(np.hypot(1.0, slope), x)[-1])
