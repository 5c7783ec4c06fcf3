"""Frames of teeth: where the local axes (mesial, buccal, occlusal) lie in the patient.

The patient frame is L-P-S as in DICOM (PS3.3 C.7.6.2.1.1): +x to the patient's left, +y posterior,
+z superior. A tooth's triad (mesial, buccal, occlusal) is right-handed in the lower left and the
upper right quadrant and left-handed in the others; mirrored teeth share one local shape.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ToothFrame:
    """Place of a tooth in the patient.

    Attributes
    ----------
    origin
        Centre of the cervical plane, (3,), mm.
    axes
        Columns mesial, buccal, occlusal: orthonormal, (3, 3).
    """

    origin: Array
    axes: Array

    def to_patient(self, local: Array) -> Array:
        """Points (..., 3) from tooth to patient coordinates, mm."""
        return self.origin + np.asarray(local, dtype=float) @ self.axes.T

    def to_tooth(self, points: Array) -> Array:
        """Points (..., 3) from patient to tooth coordinates, mm."""
        return (np.asarray(points, dtype=float) - self.origin) @ self.axes

    @property
    def mirrored(self) -> bool:
        """Whether the triad is left-handed."""
        return bool(np.linalg.det(self.axes) < 0)

    def turned(self, mesial_in_rad: float) -> ToothFrame:
        """Frame after a turn about the long axis that takes the mesial side lingually."""
        turn = Rotation.from_rotvec([0.0, 0.0, -mesial_in_rad]).as_matrix()
        return replace(self, axes=self.axes @ turn)

    def tipped(self, mesial_rad: float, buccal_rad: float, pivot: Array) -> ToothFrame:
        """Frame after the crown tips mesially and buccally about a point of the tooth.

        Parameters
        ----------
        mesial_rad, buccal_rad
            Angles by which the crown leans mesially and buccally, applied in this order.
        pivot
            Point that stays, in tooth coordinates, (3,), mm.
        """
        m, b, o = np.eye(3)
        mesial = Rotation.from_rotvec(mesial_rad * np.cross(o, m)).as_matrix()
        buccal = Rotation.from_rotvec(buccal_rad * np.cross(o, b)).as_matrix()
        turn = mesial @ buccal
        moved = replace(self, axes=self.axes @ turn)
        shift = self.to_patient(pivot) - moved.to_patient(pivot)
        return replace(moved, origin=self.origin + shift)


def mean_axes(frames: list[ToothFrame]) -> Array:
    """Mean triad of several teeth, the orthonormal matrix nearest the average, (3, 3).

    Of teeth on both sides of the midline the triad is that of the first one's side: there
    "mesial" is the direction across the midline, seen from that side.
    """
    side = frames[0].mirrored
    triads = [
        frame.axes if frame.mirrored == side else frame.axes * [-1.0, 1.0, 1.0] for frame in frames
    ]
    U, _, Vt = np.linalg.svd(np.mean(triads, axis=0))
    return U @ Vt
