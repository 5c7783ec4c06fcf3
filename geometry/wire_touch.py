"""Where a wire as bent comes nearer to itself than its own size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from geometry.wire_path import SweptWire

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class NearPieces:
    """Pairs of pieces of a wire that lie nearer to each other than its size, nearest first.

    Attributes
    ----------
    pieces
        Numbers of the two pieces, the earlier one first, (k, 2).
    distance_mm
        Distance between their chords, (k,).
    """

    pieces: Ints
    distance_mm: Array


def near_pieces(wire: SweptWire, size_mm: float) -> NearPieces:
    """Pairs of pieces whose centre lines are nearer than the wire's size.

    Pairs less than ``π/2 · size`` apart along the wire do not count, which is the half circle a
    bend may make at the tightest; so no bend counts whose radius is half the size or more.
    Distances are between chords: of pieces that turn by 0.25 rad, within 0.8 % of the radius.

    Parameters
    ----------
    wire
        The passive wire.
    size_mm
        Diameter, or the larger side of a rectangular section (then on the safe side).
    """
    starts, chords = wire.points[:-1], np.diff(wire.points, axis=0)
    reach = size_mm + float(np.linalg.norm(chords, axis=1).max())
    pairs = cKDTree(starts + chords / 2).query_pairs(reach, output_type="ndarray")
    i, j = np.sort(pairs, axis=1).T
    apart = wire.arc_mm[j] - wire.arc_mm[i + 1] >= np.pi / 2 * size_mm
    i, j = i[apart], j[apart]
    distance = _between_segments(starts[i], chords[i], starts[j], chords[j])
    near = np.flatnonzero(distance < size_mm)
    near = near[np.argsort(distance[near], kind="stable")]
    return NearPieces(np.column_stack([i[near], j[near]]), distance[near])


def _between_segments(p: Array, u: Array, q: Array, v: Array) -> Array:
    """Least distances (k,) of segments p + s u and q + t v, 0 ≤ s, t ≤ 1.

    The least is either inside both, or at an end of one: all five cases are tried.
    """
    w = q - p
    uu, uv, vv = _dot(u, u), _dot(u, v), _dot(v, v)
    square = uu * vv - uv**2
    crossing = square > 1e-12 * uu * vv
    s = np.where(crossing, vv * _dot(w, u) - uv * _dot(w, v), 0.0) / np.where(crossing, square, 1)
    t = (s * uv - _dot(w, v)) / vv
    inside = crossing & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    within = np.where(inside, np.linalg.norm(w - s[:, None] * u + t[:, None] * v, axis=1), np.inf)
    ends = [_from_point(x, q, v) for x in (p, p + u)] + [_from_point(x, p, u) for x in (q, q + v)]
    return np.asarray(np.min([within, *ends], axis=0))


def _from_point(x: Array, p: Array, u: Array) -> Array:
    s = np.clip(_dot(x - p, u) / _dot(u, u), 0.0, 1.0)
    return np.asarray(np.linalg.norm(x - p - s[:, None] * u, axis=1))


def _dot(a: Array, b: Array) -> Array:
    return np.asarray(np.sum(a * b, axis=1))
