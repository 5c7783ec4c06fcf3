"""Centres of stiffness and of compliance, and a 6×6 stated about other points and axes."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fem.resistance import centre_of_compliance, centre_of_resistance, textbook_depth_mm
from fem.rigid import rotate_stiffness, shift_motion, shift_stiffness, shift_wrench
from workflow.verification.check import Check, Compared, Kind

Array = NDArray[np.float64]
Spring = tuple[float, ArrayLike, ArrayLike]

_ORIGIN = np.zeros(3)
_X, _Y, _Z = np.eye(3)
_ROUNDING = "an identity: only rounding is left"


def springs(rows: Iterable[Spring], about: Array = _ORIGIN) -> Array:
    """6×6 of a body on springs, each a stiffness, a unit direction and a point, about a point."""
    K = np.zeros((6, 6))
    for k, direction, point in rows:
        arm = np.asarray(point, dtype=float) - about
        line = np.concatenate([direction, np.cross(arm, np.asarray(direction))])
        K += k * np.outer(line, line)
    return K


_POINTS = [(1.0, (0, 0, 0)), (2.0, (4, 0, 0)), (3.0, (0, 3, 0)), (4.0, (0, 0, 2))]
_EVEN: list[Spring] = [(k, axis, point) for k, point in _POINTS for axis in np.eye(3)]
_UNEVEN: list[Spring] = [
    (1, _X, (0, 1, 0)),
    (3, _X, (0, -1, 0)),
    (2, _Y, (2, 0, 0)),
    (1, _Z, (1, 1, 0)),
    (1, _Z, (-1, 1, 0)),
    (1, _Z, (0, -1, 0)),
]


def _even_springs() -> Compared:
    K = springs(_EVEN)
    centre = centre_of_resistance(K, _ORIGIN)
    return Compared(
        [*centre.point, *centre_of_compliance(K, _ORIGIN), centre.coupling_mm],
        [0.8, 0.9, 0.8, 0.8, 0.9, 0.8, 0.0],
        1.0,
        [f"{of} {axis}" for of in ("stiffness", "compliance") for axis in "xyz"] + ["coupling"],
    )


def _even_springs_turning() -> Compared:
    centre = centre_of_resistance(springs(_EVEN), _ORIGIN)
    expected = [[28.5, 7.2, 6.4], [7.2, 35.2, 7.2], [6.4, 7.2, 44.5]]
    return Compared(centre.stiffness[3:, 3:], expected, 44.5)


def _screw_like_body() -> Compared:
    place = np.array([0.4, -0.2, 1.5])
    at_centre = np.diag([2.0, 2, 5, 1, 1, 1.15])
    at_centre[2, 5] = at_centre[5, 2] = 1.5
    arm = np.array([[0, -1.5, -0.2], [1.5, 0, -0.4], [0.2, 0.4, 0]])  # of place, as a product
    moved = np.eye(6)
    moved[:3, 3:] = arm  # the centre of a body that turns about the origin moves by ω × place
    moved[:3, 3:] *= -1
    K = moved.T @ at_centre @ moved
    centre = centre_of_resistance(K, _ORIGIN)
    return Compared(
        [*centre.point, *centre_of_compliance(K, _ORIGIN), centre.coupling_mm],
        [*place, *place, 1.5 / 5],
        1.0,
        [f"{of} {axis}" for of in ("stiffness", "compliance") for axis in "xyz"] + ["coupling"],
    )


def _three_notions() -> Compared:
    K = springs(_UNEVEN)
    planar = [-textbook_depth_mm(K, _ORIGIN, *axes) for axes in ((_Y, _X), (_X, _Y))]
    return Compared(
        [*centre_of_resistance(K, _ORIGIN).point, *centre_of_compliance(K, _ORIGIN), *planar],
        [0.8, -1 / 7, 0, 0.8, -1 / 17, 0, 2.0, -0.5],
        1.0,
        [f"{of} {axis}" for of in ("stiffness", "compliance") for axis in "xyz"]
        + ["in the plane x", "in the plane y"],
        "The three notions of a centre are three points: reports have to say which they print.",
    )


def _random_springs(seed: int, number: int = 9) -> list[Spring]:
    rng = np.random.default_rng(seed)
    directions = rng.standard_normal((number, 3))
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    stiffness, points = rng.uniform(1, 5, number), rng.uniform(-4, 4, (number, 3))
    return list(zip(stiffness, directions, points, strict=True))


def _symmetric_at_its_centre() -> Compared:
    rows = _random_springs(1)
    K = springs(rows)
    B = springs(rows, centre_of_resistance(K, _ORIGIN).point)[:3, 3:]
    Q = np.linalg.inv(springs(rows, centre_of_compliance(K, _ORIGIN)))[:3, 3:]
    blocks = {"stiffness": B, "compliance": Q}
    return Compared(
        [np.abs(block - block.T).max() / np.abs(block).max() for block in blocks.values()],
        0.0,
        1.0,
        list(blocks),
    )


def _shifted() -> Compared:
    rows, place = _random_springs(2), np.array([3.0, -7.0, 11.0])
    expected = springs(rows, place)
    K = shift_stiffness(springs(rows), _ORIGIN, place)
    return Compared(K, expected, float(np.abs(expected).max()))


def _work_kept() -> Compared:
    rng = np.random.default_rng(3)
    motion, wrench, place = rng.standard_normal(6), rng.standard_normal(6), rng.standard_normal(3)
    moved, loaded = (
        f(x, _ORIGIN, place) for f, x in ((shift_motion, motion), (shift_wrench, wrench))
    )
    return Compared(moved @ loaded, motion @ wrench)


def _turned_springs() -> Compared:
    """Springs along and at turned (and mirrored) axes, beside the 6×6 turned as a whole."""
    rows, computed, expected = _random_springs(4), [], []
    turn = np.array([[2.0, -1, 2], [2, 2, -1], [-1, 2, 2]]) / 3
    for axes in (turn, turn * [1, 1, -1]):
        moved = [
            (k, axes @ np.asarray(direction), axes @ np.asarray(at)) for k, direction, at in rows
        ]
        computed.append(rotate_stiffness(springs(rows), axes))
        expected.append(springs(moved))
    scale = float(np.abs(expected).max())
    return Compared(computed, expected, scale)


def _same_from_everywhere() -> Compared:
    rows, rng = _random_springs(6), np.random.default_rng(6)
    places = 20 * rng.standard_normal((5, 3))
    found = [centre_of_resistance(springs(rows, place), place).point for place in places]
    return Compared(found, centre_of_resistance(springs(rows), _ORIGIN).point, 1.0)


def _depth_of_springs() -> Compared:
    """All lateral springs 6 mm deep."""
    rows: list[Spring] = [(2, _X, (0, 0, -6)), (2, _Y, (0, 0, -6)), (1, _X, (0, 2, -6))]
    rows += [(5, _Z, at) for at in ((1, 0, 0), (-1, 1, 0), (0, -1, 0))]
    depths = [textbook_depth_mm(springs(rows, at), at, _X, _Z) for at in (_ORIGIN, 2 * _Z)]
    return Compared(depths, [6.0, 8.0], 1.0, ["from the crest", "from 2 mm above"])


CHECKS = (
    Check(
        id="centre_of_even_springs",
        what="centres of stiffness and compliance of springs alike in all directions, mm",
        code="fem.resistance.centre_of_resistance, fem.resistance.centre_of_compliance",
        kind=Kind.CODE,
        source="loncaric",
        place="springs of 1, 2, 3 and 4 at four points: both centres are their weighted mean",
        tolerance=1e-12,
        reason=_ROUNDING,
        compute=_even_springs,
    ),
    Check(
        id="turning_stiffness_of_even_springs",
        what="rotational 3×3 about the centre of springs alike in all directions, N·mm",
        code="fem.resistance.centre_of_resistance",
        kind=Kind.CODE,
        source="loncaric",
        place="the same springs: Σ k (|p|² 1 − p pᵀ) about the weighted mean",
        tolerance=1e-12,
        reason=_ROUNDING,
        compute=_even_springs_turning,
    ),
    Check(
        id="centre_of_screw_like_body",
        what="centres and remaining coupling of a body whose coupling does not vanish, mm",
        code="fem.resistance.centre_of_resistance, fem.resistance.centre_of_compliance",
        kind=Kind.CODE,
        source="loncaric",
        place="A = diag(2, 2, 5), B = diag(0, 0, 1.5), C = diag(1, 1, 1.15) moved off its centre",
        tolerance=1e-12,
        reason=_ROUNDING,
        compute=_screw_like_body,
    ),
    Check(
        id="three_notions_of_a_centre",
        what="centres of stiffness, of compliance and in the plane, of six springs, mm",
        code="fem.resistance.centre_of_resistance, fem.resistance.centre_of_compliance, "
        "fem.resistance.textbook_depth_mm",
        kind=Kind.CODE,
        source="loncaric",
        place="six springs whose three centres are (0.8, −1/7), (0.8, −1/17) and (2, −1/2)",
        tolerance=1e-12,
        reason=_ROUNDING,
        compute=_three_notions,
    ),
    Check(
        id="coupling_is_symmetric_at_the_centre",
        what="asymmetry of the coupling block at its centre, nine springs at random",
        code="fem.resistance.centre_of_resistance, fem.resistance.centre_of_compliance",
        kind=Kind.CODE,
        source="loncaric",
        place="definition; the 6×6 is put together anew about the point found",
        tolerance=1e-12,
        reason=_ROUNDING,
        compute=_symmetric_at_its_centre,
    ),
    Check(
        id="centre_from_any_reference_point",
        what="centre of resistance from a 6×6 stated about five points, mm",
        code="fem.resistance.centre_of_resistance",
        kind=Kind.CODE,
        source="loncaric",
        place="a place in space does not depend on where a 6×6 is stated",
        tolerance=1e-10,
        reason="rounding, over arms of some 50 mm",
        compute=_same_from_everywhere,
    ),
    Check(
        id="stiffness_about_another_point",
        what="6×6 moved to another point, over its largest entry",
        code="fem.rigid.shift_stiffness",
        kind=Kind.CODE,
        source="statics",
        place="the same springs put together about that point",
        tolerance=1e-13,
        reason=_ROUNDING,
        compute=_shifted,
    ),
    Check(
        id="stiffness_in_other_axes",
        what="6×6 in turned and in mirrored axes, over its largest entry",
        code="fem.rigid.rotate_stiffness",
        kind=Kind.CODE,
        source="objectivity",
        place="the same springs turned and mirrored one by one",
        tolerance=1e-13,
        reason=_ROUNDING,
        compute=_turned_springs,
    ),
    Check(
        id="work_about_another_point",
        what="work of a wrench on a motion, both moved to another point, N·mm",
        code="fem.rigid.shift_motion, fem.rigid.shift_wrench",
        kind=Kind.CODE,
        source="statics",
        place="virtual work does not depend on the point of reference",
        tolerance=1e-12,
        reason=_ROUNDING,
        compute=_work_kept,
    ),
    Check(
        id="textbook_depth_of_springs",
        what="depth of the textbook centre where all lateral springs lie 6 mm deep, mm",
        code="fem.resistance.textbook_depth_mm",
        kind=Kind.CODE,
        source="statics",
        place="a force through the springs turns nothing",
        tolerance=1e-12,
        reason=_ROUNDING,
        compute=_depth_of_springs,
    ),
)
