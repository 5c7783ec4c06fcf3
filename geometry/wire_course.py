"""A wire along given points: straight between filleted corners, or arcs along a smooth curve."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from geometry.wire_path import Arc, Course, Feature, along_arc, bend_radius, right_handed

Array = NDArray[np.float64]

_SLACK = 1e-9  # of a leg: below it no straight run is left between two fillets
_SAME_DIRECTION = 1e-12


def polyline(points: Array, fillet_radius_mm: float, axes: Array) -> Course:
    """Wire along straight legs between points, every corner between them bent to one radius.

    Parameters
    ----------
    points
        Start, corners and end, (k, 3), mm.
    fillet_radius_mm
        Radius of the wire's axis in the corners, 0 for sharp ones.
    axes
        Section axes at the start, (3, 3), the first column along the first leg: those that the
        course is swept with.

    Raises
    ------
    ValueError
        If two points coincide, the wire would double back, the axes do not run along the first
        leg, or a fillet does not fit; the message names the corner and the largest radius.
    """
    corners, R = _distinct(points), right_handed(axes)
    radius = bend_radius(fillet_radius_mm)
    legs = np.diff(corners, axis=0)
    lengths = np.linalg.norm(legs, axis=1)
    along = legs / lengths[:, None]
    if np.abs(R[:, 0] - along[0]).max() > 1e-6:
        raise ValueError("the section axes must start along the first leg of the polyline")
    half_tangents = np.concatenate([[0.0], _half_tangents(along), [0.0]])
    _check_fillets(lengths, half_tangents, radius)

    straight = lengths - radius * (half_tangents[:-1] + half_tangents[1:])
    chain: list[Arc] = []
    for leg, run in enumerate(straight):
        if leg > 0 and half_tangents[leg] > 0:
            arc = _arc_to(along[leg], radius * half_tangents[leg], R)
            chain.append(arc)
            R = _carried(R, arc)
        if run > _SLACK * lengths[leg]:
            chain.append(Arc(float(run), np.zeros(3)))
    return Course(tuple(chain))


def along_curve(points: Array, axes: Array) -> Course:
    """Wire along a smooth curve through points, such as an arch: two arcs of circles a stretch.

    The tangents at the points are those of a cubic spline over the chord length that leaves the
    first point along the section axes. Each stretch between two points is a pair of arcs that
    meet on a common tangent, with tangents of one length d at all their ends: with ``v`` the chord
    and ``t₀``, ``t₁`` the directions, ``2d² (1 − t₀·t₁) + 2d v·(t₀ + t₁) = v·v`` (derived here).
    The wire is smooth; its curvature steps from arc to arc.

    Parameters
    ----------
    points
        At least two points of the curve, (k, 3), mm; close enough that the curve turns by less
        than a right angle between two of them.
    axes
        Section axes at the first point, (3, 3): those that the course is swept with.

    Raises
    ------
    ValueError
        If two points coincide, or the curve turns by more than a right angle between two.
    """
    places, R = _distinct(points), right_handed(axes)
    tangents = curve_tangents(places, R[:, 0])
    chain: list[Arc] = []
    for i, chord in enumerate(np.diff(places, axis=0)):
        first, last = tangents[i], tangents[i + 1]
        if min(first @ chord, last @ chord, first @ last) < 0:
            raise ValueError(
                f"the curve turns by more than a right angle between points {i} and {i + 1}: "
                "give points closer together, and axes that start along the curve"
            )
        middle, reach = _common_tangent(chord, first, last)
        for direction in (middle, last):
            arc = _arc_to(direction, reach, R)
            chain.append(arc)
            R = _carried(R, arc)
    return Course(tuple(chain))


def curve_tangents(points: Array, start: Array | None = None) -> Array:
    """Unit tangents (k, 3) of the cubic spline through points; the first may be given, (3,)."""
    places = _distinct(points)
    s = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(places, axis=0), axis=1))])
    first = "not-a-knot" if start is None else (1, np.asarray(start, dtype=float))
    slopes = CubicSpline(s, places, bc_type=(first, "not-a-knot"))(s, 1)
    return np.asarray(slopes / np.linalg.norm(slopes, axis=1)[:, None])


def shortened(course: Feature, by_mm: float) -> Course:
    """The same course without the last of its length.

    Raises
    ------
    ValueError
        If the course is not longer than that.
    """
    arcs = list(course.arcs())
    while arcs and arcs[-1].length_mm <= by_mm:
        by_mm -= arcs.pop().length_mm
    if not arcs:
        raise ValueError(f"the course is too short to be cut: {by_mm:.3g} mm would be missing")
    arcs[-1] = replace(arcs[-1], length_mm=arcs[-1].length_mm - by_mm)
    return Course(tuple(arcs))


def _common_tangent(chord: Array, first: Array, last: Array) -> tuple[Array, float]:
    """Tangent where the two arcs of a stretch meet, and the reach d of both from their ends."""
    along, square = chord @ (first + last), chord @ chord
    reach = square / (along + np.sqrt(along**2 + 2 * (1 - first @ last) * square))
    middle = chord - reach * (first + last)
    return middle / np.linalg.norm(middle), float(reach)


def _arc_to(direction: Array, reach: float, R: Array) -> Arc:
    """Arc that leaves along the section axes and ends along a direction, both tangents as long.

    ``κ = tan(θ/2)/reach``, length ``θ/κ``; straight where the directions agree.
    """
    about = R.T @ np.cross(R[:, 0], direction)
    sine, cosine = float(np.linalg.norm(about)), float(R[:, 0] @ direction)
    if sine < _SAME_DIRECTION:
        return Arc(2 * reach, np.zeros(3))
    curvature = sine / (1 + cosine) / reach
    return Arc(float(np.arctan2(sine, cosine)) / curvature, curvature / sine * about)


def _carried(R: Array, arc: Arc) -> Array:
    """Section axes at the end of an arc."""
    return np.asarray(R @ along_arc(arc, np.array([arc.length_mm]))[1][0])


def _distinct(points: Array) -> Array:
    """Points (k, 3), at least two, no two in a row the same."""
    places = np.asarray(points, dtype=float)
    if places.ndim != 2 or places.shape[1] != 3 or len(places) < 2:
        raise ValueError(
            f"points of shape {places.shape}: give at least two, with three coordinates"
        )
    gaps = np.linalg.norm(np.diff(places, axis=0), axis=1)
    if not gaps.min() > 0:
        i = int(np.argmin(gaps))
        raise ValueError(f"points {i} and {i + 1} are the same: leave one out")
    return places


def _half_tangents(along: Array) -> Array:
    """tan(θ/2) at each corner between legs of the given directions, (n_legs − 1,)."""
    cosine = np.sum(along[:-1] * along[1:], axis=1)
    sine = np.linalg.norm(np.cross(along[:-1], along[1:]), axis=1)
    back = np.flatnonzero(cosine < -1 + 1e-6)
    if len(back):
        raise ValueError(f"the wire doubles back at corner {back[0] + 1}: give two corners there")
    return np.where(sine < _SAME_DIRECTION, 0.0, sine / (1 + cosine))


def _check_fillets(lengths: Array, half_tangents: Array, radius: float) -> None:
    """See that the fillets at both ends of every leg leave it a length of 0 or more."""
    shares = half_tangents[:-1] + half_tangents[1:]
    fits = np.divide(lengths, shares, out=np.full(len(lengths), np.inf), where=shares > 0)
    leg = int(np.argmin(fits))
    if radius <= fits[leg] * (1 + _SLACK):
        return
    ends = [c for c in (leg, leg + 1) if half_tangents[c] > 0]
    where = " and ".join(f"corner {c}" for c in ends)
    raise ValueError(
        f"fillet of radius {radius:g} mm does not fit at {where}, on a leg of {lengths[leg]:g} mm: "
        f"the largest radius that fits is {fits[leg]:.4g} mm"
    )
