"""Screw axes of small and of finite motions, and the exponential map behind them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm
from scipy.spatial.transform import Rotation

from fem.movement import movement
from fem.rigid import (
    inverse_tangent,
    rotation,
    rotation_vector,
    screw_axis,
    se3_exp,
    se3_log,
    shift_motion,
)
from workflow.verification.check import Check, Compared, Kind

Array = NDArray[np.float64]

_ORIGIN = np.zeros(3)
_TWISTS = np.array(
    [
        [0.3, -0.2, 0.5, 0.2, 0.7, -0.5],
        [1.0, 2.0, -3.0, 1e-5, -2e-5, 1e-5],
        [0.4, 0.1, 0.2, 0.0, 0.0, 2.5],
        [0.4, 0.1, 0.2, 0.0, 0.0, 0.0],
    ]
)
_ELEMENTS = _TWISTS[[0, 1, 3]]  # turns of rod elements stay below 1 rad
_ANGLES = (1e-9, 1e-4, 1e-3, 0.1, 1.0, 3.1)


def _small_screw() -> Compared:
    screw = screw_axis(np.array([0.3, -0.2, 0.1, 0.01, 0.02, -0.02]), _ORIGIN)
    assert screw is not None
    return Compared(
        [*screw.point, screw.pitch],
        [-20 / 9, -70 / 9, -80 / 9, -10 / 3],
        labels=["x", "y", "z", "pitch"],
    )


def _finite_screw(R: Array, t: Array) -> Array:
    """Axis point, direction and advance along it of a finite motion ``x → R x + t``."""
    twist = se3_log(R, t)
    screw = screw_axis(twist, _ORIGIN)
    assert screw is not None
    angle = float(np.linalg.norm(twist[3:]))
    return np.concatenate([screw.point, screw.direction, [screw.pitch * angle, np.degrees(angle)]])


_SCREW = ["x", "y", "z", "nx", "ny", "nz", "advance", "angle"]


def _finite_screw_of_37_degrees() -> Compared:
    n = np.array([1.0, 2, 2]) / 3
    R = Rotation.from_rotvec(37 * n, degrees=True).as_matrix()
    t = np.array([-0.3171172, -0.33560533, 0.86916393])
    return Compared(_finite_screw(R, t), [1, -1, 0.5, *n, 0.25, 37], 1.0, _SCREW)


def _finite_screw_of_a_permutation() -> Compared:
    R = np.array([[0.0, 0, 1], [1, 0, 0], [0, 1, 0]])
    third = 1 / np.sqrt(3)
    expected = [-1 / 3, -1 / 3, 2 / 3, third, third, third, 2 * np.sqrt(3), 120]
    return Compared(_finite_screw(R, np.array([1.0, 2, 3])), expected, 1.0, _SCREW)


def _chasles() -> Compared:
    """Points of the axis found go along it by n·t and nowhere else."""
    rng = np.random.default_rng(7)
    moved, along = [], []
    for turn, t in zip(Rotation.random(20, rng=rng), 5 * rng.standard_normal((20, 3)), strict=True):
        R, n = turn.as_matrix(), turn.as_rotvec() / turn.magnitude()
        screw = screw_axis(se3_log(R, t), _ORIGIN)
        assert screw is not None
        for reach in (-3.0, 0.0, 8.0):
            point = screw.point + reach * n
            moved.append(R @ point + t - point)
            along.append(n @ t * n)
    return Compared(moved, along, 5.0)


def _centre_of_rotation_rests() -> Compared:
    motion = np.array([0.02, 0.0, 0.01, 0.0, 0.004, 0.0])
    place = np.array([1.0, 2.0, 3.0])
    found = movement(motion, place, place, np.eye(3)).centre_of_rotation
    assert found is not None
    by_hand = place + np.array([0.01 / 0.004, 0.0, -0.02 / 0.004])
    at_rest = shift_motion(motion, place, found)[:3]
    return Compared([*found, *at_rest], [*by_hand, 0, 0, 0], 1.0)


def _homogeneous(twist: Array) -> Array:
    v, w = twist[:3], twist[3:]
    cross = [[0, -w[2], w[1]], [w[2], 0, -w[0]], [-w[1], w[0], 0]]
    return np.block([[np.array(cross), v[:, None]], [np.zeros((1, 4))]])


def _exponential() -> Compared:
    computed = [np.column_stack(se3_exp(twist)) for twist in _TWISTS]
    return Compared(computed, [expm(_homogeneous(twist))[:3] for twist in _TWISTS], 1.0)


def _logarithm() -> Compared:
    motions = [expm(_homogeneous(twist)) for twist in _TWISTS]
    return Compared([se3_log(H[:3, :3], H[:3, 3]) for H in motions], _TWISTS, 1.0)


def _rotation_vectors() -> Compared:
    axis = np.array([2.0, -1.0, 2.0]) / 3
    found = [rotation_vector(rotation(angle * axis)) @ axis for angle in _ANGLES]
    return Compared(found, _ANGLES, labels=[f"{angle:g} rad" for angle in _ANGLES])


def _tangent() -> Compared:
    computed, slopes = [], []
    for twist in _ELEMENTS:
        computed.append(inverse_tangent(twist))
        slopes.append(_slope(twist))
    return Compared(computed, slopes, 1.0)


def _slope(twist: Array) -> Array:
    """Derivative of ``log(H exp ξ)`` by central differences of fourth order."""

    def after(xi: Array) -> Array:
        H = expm(_homogeneous(twist)) @ expm(_homogeneous(xi))
        return se3_log(H[:3, :3], H[:3, 3])

    step = 1e-4
    units = step * np.eye(6)
    first = np.array([(after(e) - after(-e)) / (2 * step) for e in units]).T
    second = np.array([(after(2 * e) - after(-2 * e)) / (4 * step) for e in units]).T
    return (4 * first - second) / 3


CHECKS = (
    Check(
        id="screw_of_a_small_motion",
        what="axis point, mm, and pitch, mm/rad, of a small motion",
        code="fem.rigid.screw_axis",
        kind=Kind.CODE,
        source="chasles",
        place="ω × v/ω² and ω·v/ω² of v = (0.3, −0.2, 0.1), ω = (0.01, 0.02, −0.02), by hand",
        tolerance=1e-12,
        reason="a closed form",
        compute=_small_screw,
    ),
    Check(
        id="screw_of_37_degrees",
        what="axis, mm, advance, mm, and angle, degrees, of a finite motion",
        code="fem.rigid.se3_log, fem.rigid.screw_axis",
        kind=Kind.CODE,
        source="chasles",
        place="37° about (1, 2, 2)/3 through (1, −1, 0.5), advance 0.25 mm",
        tolerance=3e-8,
        reason="the translation is written with eight decimals",
        compute=_finite_screw_of_37_degrees,
    ),
    Check(
        id="screw_of_a_permutation",
        what="axis, mm, advance, mm, and angle, degrees, of a cyclic permutation of the axes",
        code="fem.rigid.se3_log, fem.rigid.screw_axis",
        kind=Kind.CODE,
        source="chasles",
        place="120° about (1, 1, 1)/√3, with t = (1, 2, 3)",
        tolerance=1e-12,
        reason="a closed form",
        compute=_finite_screw_of_a_permutation,
    ),
    Check(
        id="every_motion_is_a_screw",
        what="where points of the screw axis go, 20 motions at random, over their size",
        code="fem.rigid.se3_log, fem.rigid.screw_axis",
        kind=Kind.CODE,
        source="chasles",
        place="along the axis by the translation's share along it, rotations by SciPy",
        tolerance=1e-11,
        reason="rounding, of axes up to some 50 mm away",
        compute=_chasles,
    ),
    Check(
        id="centre_of_rotation_rests",
        what="centre of rotation of a plane motion, and its own displacement, mm",
        code="fem.movement.movement",
        kind=Kind.CODE,
        source="chasles",
        place="x + v_z/ω_y and z − v_x/ω_y, by hand",
        tolerance=1e-12,
        reason="a closed form",
        compute=_centre_of_rotation_rests,
    ),
    Check(
        id="exponential_of_a_twist",
        what="rotation and translation of a twist, rotation from 0 to 2.5 rad",
        code="fem.rigid.se3_exp",
        kind=Kind.PEER,
        source="matrix_exponential",
        place="scipy.linalg.expm of the 4×4 of the twist",
        tolerance=1e-13,
        reason="both to rounding",
        compute=_exponential,
    ),
    Check(
        id="logarithm_of_a_motion",
        what="twist of a rigid motion, rotation from 0 to 2.5 rad",
        code="fem.rigid.se3_log",
        kind=Kind.PEER,
        source="matrix_exponential",
        place="motions made by scipy.linalg.expm",
        tolerance=1e-13,
        reason="both to rounding",
        compute=_logarithm,
    ),
    Check(
        id="rotation_vector_keeps_its_digits",
        what="angle of a rotation and back, rad",
        code="fem.rigid.rotation, fem.rigid.rotation_vector",
        kind=Kind.CODE,
        source="objectivity",
        place="angles of 1e-9 to 3.1 rad",
        tolerance=1e-10,
        reason="ten of sixteen digits, near a half turn too",
        compute=_rotation_vectors,
    ),
    Check(
        id="tangent_of_the_logarithm",
        what="derivative of the logarithm along a motion on its right",
        code="fem.rigid.inverse_tangent",
        kind=Kind.CODE,
        source="calculus",
        place="central differences of fourth order, step 1e-4",
        tolerance=2e-10,
        reason="error of the differences, with rounding over the step",
        compute=_tangent,
    ),
)
