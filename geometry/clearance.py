"""Whether points lie inside a closed surface."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometry.mesh import TriSurface

Floats = NDArray[np.float64]


def inside(points: Floats, surface: TriSurface) -> NDArray[np.bool_]:
    """Tell which points a closed surface encloses, (n,).

    The solid angle of all triangles seen from a point is 4π inside and 0 outside; of one triangle
    it is ``2 atan2(a·(b×c), abc + (a·b)c + (b·c)a + (c·a)b)`` (Van Oosterom & Strackee 1983, IEEE
    Trans. Biomed. Eng. 30:125–126, from memory). Points on the surface belong to neither side.

    Parameters
    ----------
    points
        (n, 3), mm.
    surface
        Closed, facing outwards.
    """
    a, b, c = (surface.points[surface.triangles[:, k]] - points[:, None] for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=-1) for v in (a, b, c))
    triple = np.sum(a * np.cross(b, c), axis=-1)
    below = (
        la * lb * lc
        + np.sum(a * b, axis=-1) * lc
        + np.sum(b * c, axis=-1) * la
        + np.sum(c * a, axis=-1) * lb
    )
    return np.asarray(np.sum(np.arctan2(triple, below), axis=1) > np.pi)
