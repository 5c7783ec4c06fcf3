"""A unit that two mirror-image wires act on, from both sides of the midline.

With S the mirror image of a motion or load at a point of the midline plane x = 0, two wires load
the unit by ``w + S w``, which is symmetric, and so is its motion. One wire then feels a unit that
is half as stiff against symmetric motions (along y and z, about x) and does not give way to
others. Exact for a unit that is symmetric itself.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fem.rigid import shift_stiffness

Array = NDArray[np.float64]

_SYMMETRIC = np.array([0.0, 1.0, 1.0, 1.0, 0.0, 0.0])  # a motion's own; of a load likewise
_IMAGE = np.array([-1.0, 1.0, 1.0, 1.0, -1.0, -1.0])
_UNYIELDING = 1e7  # times the stiffest direction


def felt_by_one(stiffness: Array, point: Array) -> tuple[Array, Array]:
    """Point on the midline plane, and the 6×6 there that one of two mirror-image wires feels.

    Parameters
    ----------
    stiffness, point
        6×6 of the unit about a point, in patient axes (x to the left).
    """
    middle = np.asarray(point, dtype=float) * [0.0, 1.0, 1.0]
    K = shift_stiffness(stiffness, point, middle)
    shared = _SYMMETRIC[:, None] * K * _SYMMETRIC / 2
    return middle, shared + np.diag(_UNYIELDING * np.diag(K) * (1 - _SYMMETRIC))


def from_both(wrench: Array) -> Array:
    """Load of two mirror-image wires, (6,), from that of one about a point of the midline plane."""
    return np.asarray(wrench + _IMAGE * wrench)


def image(vector: Array) -> Array:
    """Mirror image of a force or place, (3,)."""
    return np.asarray(vector) * _IMAGE[:3]


def axial_image(vector: Array) -> Array:
    """Mirror image of a couple or rotation, (3,)."""
    return np.asarray(vector) * _IMAGE[3:]
