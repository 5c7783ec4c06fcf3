"""Percentiles of the hydrostatic stress of one ligament under thousands of motions.

The stress is linear in the motion q of the tooth, ``p = hᵀ q`` at every quadrature point, but its
percentiles are not. Motions of like direction share the work: with ``y = Lᵀ q = |y| u`` and a group
of directions u within r of c, Cauchy's inequality bounds every point's value,

    ``|p/|y| − gᵀ c| ≤ r |g|``,  ``g = L⁻¹ h``,

for any invertible L. As a percentile grows with the values, the percentiles of both bounds enclose
it, and only points whose bounds reach in between need be sorted motion by motion. So the result is
that of `fem.stress.volume_statistics`, not an estimate. L is taken from ``L Lᵀ = ∫ h hᵀ dV / V``,
which makes |g| even.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from fem.support import StressBasis

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

LOW, HIGH = 0.01, 0.99
_RADIUS = 0.05  # of a group of directions
_FEWEST = 16  # motions worth a group of their own
_RIDGE = 1e-12  # keeps L invertible where a motion gives no hydrostatic stress


def hydrostatic_percentiles(basis: StressBasis, motions: Array) -> Array:
    """Hydrostatic stress that 1 % and 99 % of a ligament's volume stay below, (n, 2), MPa.

    Parameters
    ----------
    basis
        Stress of the tooth's six unit motions.
    motions
        Motions about the support's point and axes, (n, 6); rows with NaN give NaN.
    """
    unit = basis.values[:, :3].sum(axis=1).reshape(6, -1) / 3
    share = basis.volumes.ravel() / basis.volumes.sum()
    mean_square = (unit * share) @ unit.T
    factor = np.linalg.cholesky(mean_square + _RIDGE * np.trace(mean_square) * np.eye(6))
    points = np.linalg.solve(factor, unit)
    norms = np.linalg.norm(points, axis=0)

    found = np.full((len(motions), 2), np.nan)
    known = np.flatnonzero(np.isfinite(motions).all(axis=1))
    scaled = motions[known] @ factor
    sizes = np.linalg.norm(scaled, axis=1)
    directions = scaled / np.where(sizes > 0, sizes, 1.0)[:, None]
    for group in _groups(directions, np.arange(len(known))):
        inside = _of_group(points, norms, share, directions[group])
        found[known[group]] = sizes[group, None] * inside
    return found


def _groups(directions: Array, members: Ints) -> Iterator[Ints]:
    """Halve a set of directions across its widest side until each part lies close together."""
    if len(members) == 0:
        return
    apart = directions[members] - directions[members].mean(axis=0)
    if len(members) <= _FEWEST or np.linalg.norm(apart, axis=1).max() <= _RADIUS:
        yield members
        return
    widest = np.linalg.eigh(apart.T @ apart)[1][:, -1]
    ahead = apart @ widest > 0
    for half in (members[ahead], members[~ahead]):
        yield from _groups(directions, half)


def _of_group(points: Array, norms: Array, share: Array, directions: Array) -> Array:
    """Both percentiles of directions that lie close together, (m, 2)."""
    centre = directions.mean(axis=0)
    radius = float(np.linalg.norm(directions - centre, axis=1).max())
    middle = centre @ points
    low, high = middle - radius * norms, middle + radius * norms
    least, most = _percentiles(low, share), _percentiles(high, share)
    both = []
    for level, bottom, top in zip((LOW, HIGH), least, most, strict=True):
        below = high < bottom
        unclear = np.flatnonzero(~below & (low <= top))
        values = directions @ points[:, unclear]
        order = np.argsort(values, axis=1)
        reached = share[below].sum() + np.cumsum(share[unclear][order], axis=1)
        first = np.argmax(reached >= level, axis=1)
        both.append(np.take_along_axis(values, order, axis=1)[np.arange(len(first)), first])
    return np.column_stack(both)


def _percentiles(values: Array, share: Array) -> tuple[float, float]:
    order = np.argsort(values)
    reached = np.cumsum(share[order])
    low, high = (float(values[order[np.searchsorted(reached, p)]]) for p in (LOW, HIGH))
    return low, high
