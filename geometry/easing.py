"""Repair of a layer grown from a surface where its elements fold or its facets crowd."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array

from geometry.quality import LEAST_GAMMA, radius_ratio

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_ROUNDS = 6
_FARTHEST = 1.3  # of a first step: farther would carry a node through the next root unseen
_LOCAL = 0.05  # of all elements; where more are poor, the layer is too thin or too thick as a whole
_MARGIN = 1.1  # over the gate, so that a repaired element does not lie just above it


def eased_steps(
    step: Floats,
    triangles: Ints,
    tets: Ints,
    across: Floats,
    grown: Callable[[Floats], Floats],
    room: Callable[[Floats], Floats],
    least_room: float,
) -> Floats:
    """Return the steps by which a layer grows, changed only where it would come out badly.

    Nodes of elements below the gate of the ligament, and their neighbours, take the mean of their
    own step and that of their neighbours (Laplace smoothing). Nodes that come nearer to the surface
    than `least_room`, as over flat facets in a hollow, step farther by what they lack, up to three
    tenths. Both leave the surface, its triangles and the rim as they are; where layers of two roots
    meet neither helps, and the checks after growing say so. Common practice, no source.

    Parameters
    ----------
    step : (n, 3) array
        Step of each node.
    triangles : (k, 3) array of int
        Of the surface, by those nodes.
    tets : (m, 4) array of int
        Of the layer; node i of each level has the number i plus a multiple of n.
    across : (n, 3) array
        Unit normals of the rim at the nodes that stay in it, else zero.
    grown : callable
        Points of the whole layer by the steps.
    room : callable
        Distance of its outer nodes from the surface over the thickness, by its points; negative
        inside the surface, where a node is in the next root and stays where it is.
    least_room : float

    Returns
    -------
    (n, 3) array
        `step` itself, number by number, where nothing was to repair, or more than a twentieth of
        the elements.
    """
    around = _neighbours(triangles, len(step))
    count = np.maximum(around.sum(axis=1), 1.0)[:, None]
    reach = np.linalg.norm(step, axis=1)
    for _ in range(_ROUNDS):
        points = grown(step)
        gamma = radius_ratio(points, tets)
        poor = gamma < LEAST_GAMMA["ligament"]
        share = room(points)
        near = np.abs(share) < least_room
        if not (poor.any() or near.any()) or poor.mean() > _LOCAL:
            break
        at = np.zeros(len(step), dtype=bool)
        if poor.any():
            at[np.unique(tets[gamma < _MARGIN * LEAST_GAMMA["ligament"]] % len(step))] = True
            at |= around @ at.astype(float) > 0.0
        step = np.where(at[:, None], 0.5 * (step + (around @ step) / count), step)
        most = _FARTHEST * reach / np.linalg.norm(step, axis=1)
        farther = np.clip(1.0 / np.maximum(share, 0.5), 1.0, np.maximum(most, 1.0))
        step = step * np.where(near & (share > 0.0), farther, 1.0)[:, None]
        step = step - (step * across).sum(axis=1, keepdims=True) * across
    return step


def _neighbours(triangles: Ints, count: int) -> coo_array:
    """Return the adjacency (n, n) of the nodes of a surface."""
    rows = triangles[:, [0, 1, 2, 1, 2, 0]].ravel()
    cols = triangles[:, [1, 2, 0, 0, 1, 2]].ravel()
    around = coo_array((np.ones(len(rows)), (rows, cols)), shape=(count, count)).tocsr()
    around.data[:] = 1.0
    return around
