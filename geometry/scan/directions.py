"""Which way is mesial and which is buccal on a scanned tooth: given, or by arch and shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.arch import quadrant
from geometry.arch import tooth_frame as arch_frame
from geometry.scan.sections import Sections

Floats = NDArray[np.float64]

_LEAST_OBLONG = 1.25  # ratio of second moments, 12 % in width: rounder shapes have no direction
_FARTHEST_TURN_DEG = 25.0
_LEAST_BUCCAL_DEG = 30.0  # from the long axis


@dataclass(frozen=True)
class GivenFrame:
    """What the user knows about a scan's axes; what is left out is found.

    Directions and points are in the coordinates of the file, points in mm.

    Parameters
    ----------
    long_axis : tuple of float, optional
        Towards the crown, of any length.
    buccal : tuple of float, optional
        Towards cheek or lip; its part square to the long axis counts.
    crown_length_mm : float, optional
        From the highest point of the crown down to the cervix, along the long axis.
    cervix_point_mm : tuple of float, optional
        A point at the level of the cervix, instead of `crown_length_mm`.
    patient_coordinates : bool
        Whether the file's axes are the patient's: +x left, +y posterior, +z superior.
    """

    long_axis: tuple[float, float, float] | None = None
    buccal: tuple[float, float, float] | None = None
    crown_length_mm: float | None = None
    cervix_point_mm: tuple[float, float, float] | None = None
    patient_coordinates: bool = True


def buccal_direction(
    profile: Sections,
    cervix: float,
    ends: tuple[float, float],
    axis: Floats,
    number: int,
    given: GivenFrame,
    name: str,
) -> tuple[Floats, Floats, str]:
    """Return the mesial and buccal direction square to the axis, and how they were found.

    Parameters
    ----------
    profile : Sections
        Along the long axis, towards the crown.
    cervix : float
        Its height along the axis.
    ends : tuple of float
        Heights of the lowest and the highest point.
    axis : (3,) array
    number : int
        ISO 3950.
    given : GivenFrame
    name : str
        Of the scan, for messages.

    Raises
    ------
    ValueError
        If a given direction is about along the axis, or none is given where the arch does not
        tell it.
    """
    handed = 1.0 if quadrant(number) in (1, 3) else -1.0
    if given.buccal is not None:
        buccal = unit_vector(given.buccal, "buccal", name)
        apart = angle_deg(buccal, axis)
        if not _LEAST_BUCCAL_DEG <= apart <= 180.0 - _LEAST_BUCCAL_DEG:
            raise ValueError(
                f"{name}: buccal is {apart:.0f}° from the long axis; give a direction about "
                "square to it, in the coordinates of the file"
            )
        buccal = _part_square(buccal, axis)
        return handed * np.cross(buccal, axis), buccal, "given"
    if not given.patient_coordinates:
        raise ValueError(
            f"{name}: not in patient coordinates, so the shape alone cannot tell cheek from "
            "tongue; give buccal, a direction in the coordinates of the file"
        )
    arch = arch_frame(number).axes
    mesial = _part_square(arch[:, 0], axis) + handed * np.cross(
        _part_square(arch[:, 1], axis), axis
    )
    mesial = _part_square(mesial, axis)
    buccal = handed * np.cross(axis, mesial)
    turn, oblong = _own_turn(profile, cervix, ends, mesial, buccal)
    by = "found: direction of the mean arch at this tooth"
    if oblong < _LEAST_OBLONG or abs(turn) > _FARTHEST_TURN_DEG:
        why = "too round" if oblong < _LEAST_OBLONG else f"{abs(turn):.0f}° away"
        return mesial, buccal, f"{by}; its own shape was not followed, {why}"
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    return (
        c * mesial + s * buccal,
        c * buccal - s * mesial,
        f"{by}, turned {abs(turn):.1f}° onto the tooth's own principal direction",
    )


def _own_turn(
    profile: Sections, cervix: float, ends: tuple[float, float], mesial: Floats, buccal: Floats
) -> tuple[float, float]:
    """Return the turn in degrees onto the nearest principal direction, and how oblong it is."""
    upper = profile.height_mm > 0.5 * (cervix + ends[0])
    spread = profile.spread_mm4[upper].sum(axis=0)
    plan = np.stack([mesial, buccal])
    sizes, vectors = np.linalg.eigh(plan @ spread @ plan.T)
    angle = np.degrees(np.arctan2(vectors[1, 1], vectors[0, 1]))
    return float((angle + 45.0) % 90.0 - 45.0), float(sizes[1] / sizes[0])


def unit_vector(vector: tuple[float, float, float], key: str, name: str) -> Floats:
    """Return a given direction with unit length, (3,).

    Raises
    ------
    ValueError
        If it has no length or is not three numbers.
    """
    value = np.asarray(vector, dtype=np.float64)
    size = float(np.linalg.norm(value))
    if value.shape != (3,) or not (np.isfinite(size) and size > 0.0):
        raise ValueError(f"{name}: {key} is {vector}; give three numbers that are not all zero")
    return value / size


def _part_square(vector: Floats, axis: Floats) -> Floats:
    """Return the unit vector of the part of a vector square to an axis."""
    part = vector - (vector @ axis) * axis
    return np.asarray(part / np.linalg.norm(part))


def angle_deg(a: Floats, b: Floats) -> float:
    """Return the angle between two unit vectors."""
    return float(np.degrees(np.arccos(np.clip(a @ b, -1.0, 1.0))))
