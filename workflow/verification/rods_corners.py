"""Loops with corners and drawn wires against compliances of polylines."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.wire_course import polyline
from geometry.wire_features import BoxLoop, LLoop, TLoop, ULoop
from geometry.wire_path import Feature, Straight, SweptWire
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.rods_curved import FOURTH, RZ, UPPER_NAMES, X, Y
from workflow.verification.rods_linear import (
    EI_IN,
    swept,
    thin_compliance,
)

Array = NDArray[np.float64]


_UPPER = tuple(np.array(([X, X, X, Y, Y, RZ], [X, Y, RZ, Y, RZ, RZ])))

_RADII = (0.1, 0.2, 0.3, 0.4)

_U = ((0, 0), (2, 0), (2, 6), (6, 6), (6, 0), (10, 0))

_L = ((0, 0), (3.5, 0), (3.5, 6), (7.5, 6), (7.5, 4), (4.5, 4), (4.5, 0), (10, 0))

_T = ((0, 0), (4, 0), (4, 4), (2, 4), (2, 6), (7, 6), (7, 4), (5, 4), (5, 0), (10, 0))

_BOX = ((0, 0), (5.5, 0), (5.5, 4), (2.5, 4), (2.5, 0), (10, 0))

_CORNERED = {
    _U: (288, 360, 60, 813 + 1 / 3, 122, 22),
    _L: (336, 342, 72, 820 + 5 / 6, 140, 28),
}


def polyline_compliance(vertices: ArrayLike, EI: float = 1.0) -> Array:
    """In-plane compliance (x, y, rz) of a thin polyline (derived, exact)."""
    places = np.asarray(vertices, dtype=float)

    def moment(p: Array) -> Array:
        return np.array([-(places[-1][1] - p[1]), places[-1][0] - p[0], 1.0])

    total = np.zeros((3, 3))
    for a, b in pairwise(places):
        parts = zip((a, (a + b) / 2, b), (1, 4, 1), strict=True)
        length = np.linalg.norm(b - a)
        total += sum(w * np.outer(moment(p), moment(p)) for p, w in parts) * length / 6 / EI
    return total


def cornered(name: str, r: float) -> tuple[Feature, ...]:
    """Features of a U, L, T or box loop in a wire of 10 mm whose corners have the radius r (mm)."""
    if name == "U":
        return (Straight(2 - r), ULoop(6, 4, r, "width"), Straight(4 - r))
    if name == "L":
        return (Straight(3.5 - r), LLoop(6, 4, 2, 1, r, "width"), Straight(5.5 - r))
    if name == "T":
        return (Straight(4 - r), TLoop(6, 5, 2, 1, r, "width"), Straight(5 - r))
    return (Straight(4), BoxLoop(4, 3, r, "width"), Straight(6))


@cache
def _sharp(name: str) -> tuple[float, ...]:
    """Thin-wire compliances are polynomials of third degree in the corners' radius.

    Four radii give the wire of radius 0 exactly.
    """
    values = [thin_compliance(swept(cornered(name, r)))[_UPPER] for r in _RADII]
    powers = np.vander(np.array(_RADII), increasing=True)
    return tuple(np.linalg.solve(powers, np.array(values))[0])


def _sharp_corners() -> Compared:
    found = [EI_IN * np.array(_sharp(name)) for name in "UL"]
    labels = [f"{entry}, {name}" for name in "UL" for entry in UPPER_NAMES]
    return Compared(found, list(_CORNERED.values()), labels=labels)


def _t_and_box() -> Compared:
    exact = [polyline_compliance(v)[np.triu_indices(3)] for v in (_T, _BOX)]
    labels = [f"{entry}, {name}" for name in ("T", "box") for entry in UPPER_NAMES]
    return Compared([_sharp("T"), _sharp("box")], exact, labels=labels)


def drawn(vertices: Sequence[tuple[float, float]], radius: float) -> SweptWire:
    """Polyline through vertices (x, y) in mm, its corners of a radius in mm."""
    points = np.column_stack([np.asarray(vertices, dtype=float), np.zeros(len(vertices))])
    return swept([polyline(points, radius, np.eye(3))])


def _drawn_corners() -> Compared:
    found = [EI_IN * thin_compliance(drawn(v, 0.0))[_UPPER] for v in _CORNERED]
    labels = [f"{entry}, {name}" for name in "UL" for entry in UPPER_NAMES]
    return Compared(found, list(_CORNERED.values()), labels=labels)


def _drawn_is_swept() -> Compared:
    found = [thin_compliance(drawn(v, 0.3))[_UPPER] for v in _CORNERED]
    exact = [thin_compliance(swept(cornered(name, 0.3)))[_UPPER] for name in "UL"]
    labels = [f"{entry}, {name}" for name in "UL" for entry in UPPER_NAMES]
    return Compared(found, exact, labels=labels)


CHECKS = (
    Check(
        id="u_and_l_loops",
        what="EI times the compliances of a U and an L loop with sharp corners",
        code="geometry.wire_features.ULoop, geometry.wire_features.LLoop, fem.rod.passive_rod",
        kind=Kind.BENCHMARK,
        source="castigliano",
        place="exact integrals along the segments; corners by extrapolation of the radius to 0",
        tolerance=1e-5,
        reason=FOURTH,
        compute=_sharp_corners,
    ),
    Check(
        id="t_and_box_loops",
        what="compliances of a T and a box loop with sharp corners",
        code="geometry.wire_features.TLoop, geometry.wire_features.BoxLoop, fem.rod.passive_rod",
        kind=Kind.BENCHMARK,
        source="castigliano",
        place="sum over the segments of a polyline; corners by extrapolation of the radius to 0",
        tolerance=1e-5,
        reason=FOURTH,
        compute=_t_and_box,
    ),
    Check(
        id="drawn_sharp_corners",
        what="EI times the compliances of a U and an L drawn as polylines without a radius",
        code="geometry.wire_course.polyline, fem.rod.passive_rod",
        kind=Kind.BENCHMARK,
        source="castigliano",
        place="exact integrals along the segments",
        tolerance=2e-4,
        reason="a corner as sharp as a path makes it cuts 0.4e-3 mm short",
        compute=_drawn_corners,
    ),
    Check(
        id="drawn_loops_are_swept_loops",
        what="compliances of loops drawn as polylines against the same loops as features",
        code="geometry.wire_course.polyline, geometry.wire_features.ULoop",
        kind=Kind.CODE,
        source="arc_geometry",
        place="U and L with corners of 0.3 mm",
        tolerance=1e-5,
        reason=FOURTH,
        compute=_drawn_is_swept,
    ),
)
