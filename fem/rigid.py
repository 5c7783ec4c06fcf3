"""Rigid motions and wrenches: SO(3), SE(3), change of point, screw axes.

Six-vectors are ordered (x, y, z, rx, ry, rz): translation before rotation, force before moment.
All functions work on arrays with any number of leading axes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# |B_k| / k! for k = 2, 4, …, 12, B_k the Bernoulli numbers: series of the inverse tangent map.
_BERNOULLI = (1 / 12, 1 / 720, 1 / 30240, 1 / 1209600, 1 / 47900160, 691 / 1307674368000)
_SMALL_ANGLE_RAD = 1e-3
_UNIT = np.eye(3)
_CROSS = np.cross(_UNIT[:, None], _UNIT).swapaxes(1, 2).reshape(3, 9)  # v @ _CROSS: matrix of v ×


def skew(v: Array) -> Array:
    """Matrix of the cross product, ``skew(a) @ b = a × b``; shape (..., 3) to (..., 3, 3)."""
    v = np.asarray(v, dtype=float)
    return (v @ _CROSS).reshape(*v.shape, 3)


def matvec(M: Array, v: Array) -> Array:
    """Matrices (..., i, j) times vectors (..., j)."""
    return (M @ v[..., None])[..., 0]


def rotation(rotation_vector: Array) -> Array:
    """Rotation matrix of a rotation vector in rad (Rodrigues); shape (..., 3) to (..., 3, 3)."""
    W = skew(rotation_vector)
    first, second, _ = _exponential_factors(rotation_vector)
    return np.eye(3) + first * W + second * (W @ W)


def rotation_vector(R: Array) -> Array:
    """Rotation vector in rad of a rotation matrix, for angles below π; inverse of `rotation`.

    The angle comes from ``atan2(|w|, tr R − 1)``, which keeps full precision at small angles.
    Not valid within about 1e-6 rad of a half turn, where the axis is lost in R − Rᵀ.
    """
    R = np.asarray(R, dtype=float)
    w = np.stack(
        [
            R[..., 2, 1] - R[..., 1, 2],
            R[..., 0, 2] - R[..., 2, 0],
            R[..., 1, 0] - R[..., 0, 1],
        ],
        axis=-1,
    )
    sine2 = _size(w)
    angle = np.arctan2(sine2, np.trace(R, axis1=-2, axis2=-1) - 1.0)
    small = sine2 < _SMALL_ANGLE_RAD
    factor = np.where(small, 0.5 + angle**2 / 12, angle / np.where(small, 1.0, sine2))
    return factor[..., None] * w


def se3_log(R: Array, p: Array) -> Array:
    """Twist (u, ω) whose exponential is the rigid motion (R, p); shape (..., 6).

    ``ω = log R`` and ``u = V⁻¹ p`` with ``V⁻¹ = 1 − ω×/2 + c (ω×)²`` and
    ``c = (1 − (θ/2) cot(θ/2)) / θ²``. Valid for rotation angles below π.
    """
    w = rotation_vector(R)
    angle = _size(w)
    small = angle < _SMALL_ANGLE_RAD
    safe = np.where(small, 1.0, angle)
    c = np.where(small, 1 / 12 + angle**2 / 720, (1 - safe / 2 / np.tan(safe / 2)) / safe**2)
    W = skew(w)
    wp = matvec(W, p)
    u = p - 0.5 * wp + c[..., None] * matvec(W, wp)
    return np.concatenate([u, w], axis=-1)


def se3_exp(twist: Array) -> tuple[Array, Array]:
    """Rigid motion (R, p) of a twist (u, ω); inverse of `se3_log`."""
    twist = np.asarray(twist, dtype=float)
    u, w = twist[..., :3], twist[..., 3:]
    W = skew(w)
    first, second, third = _exponential_factors(w)
    W2 = W @ W
    identity = np.eye(3)
    V = identity + second * W + third * W2
    return identity + first * W + second * W2, matvec(V, u)


def ad(twist: Array) -> Array:
    """Matrix of the Lie bracket of se(3), shape (..., 6) to (..., 6, 6)."""
    twist = np.asarray(twist, dtype=float)
    out = np.zeros((*twist.shape, 6))
    W = skew(twist[..., 3:])
    out[..., :3, :3] = W
    out[..., 3:, 3:] = W
    out[..., :3, 3:] = skew(twist[..., :3])
    return out


def inverse_tangent(twist: Array) -> Array:
    """Derivative of `se3_log` along a motion applied on the right, shape (..., 6, 6).

    ``d log(H exp ξ) = T⁻¹ ξ`` with ``T⁻¹ = 1 + ad/2 + Σ B_k/k! adᵏ`` (`inverse_tangents`).
    """
    return inverse_tangents(twist)[1]


def inverse_tangents(twist: Array) -> tuple[Array, Array]:
    """`inverse_tangent` of the opposite twist and of the twist itself, (..., 6, 6) each.

    They share the even powers of ad. Those of the rotation are ``1 + c(θ²) W²``, W = ω×, because
    ``W³ = −θ² W``; their coupling with the translation, U = u×, is the derivative of that along U,
    ``c (WU + UW) + 2 c'(θ²) (ω·u) W²`` (derived). The series of c is cut after k = 12: below a
    rotation of 1 rad the remainder is under 1e-10, and rod elements stay below it.
    """
    A = ad(twist)
    W, U = A[..., :3, :3], A[..., :3, 3:]
    WU, W2 = W @ U, W @ W
    square = -0.5 * np.trace(W2, axis1=-2, axis2=-1)
    dot = -0.5 * np.trace(WU, axis1=-2, axis2=-1)
    c, slope = np.zeros_like(square), np.zeros_like(square)
    for coefficient in reversed(_BERNOULLI):
        slope = slope * square + c
        c = c * square + coefficient
    even = np.zeros_like(A)
    even[..., :3, :3] = even[..., 3:, 3:] = np.eye(3) + c[..., None, None] * W2
    coupled = c[..., None, None] * (WU + U @ W)
    even[..., :3, 3:] = coupled + (2 * slope * dot)[..., None, None] * W2
    return even - 0.5 * A, even + 0.5 * A


def shift_wrench(wrench: Array, from_point: Array, to_point: Array) -> Array:
    """Wrench (force, moment) about `from_point` expressed about `to_point`; shape (..., 6)."""
    wrench = np.asarray(wrench, dtype=float)
    force = wrench[..., :3]
    arm = np.asarray(from_point, dtype=float) - np.asarray(to_point, dtype=float)
    return np.concatenate([force, wrench[..., 3:] + np.cross(arm, force)], axis=-1)


def shift_motion(motion: Array, from_point: Array, to_point: Array) -> Array:
    """Small motion (translation of `from_point`, rotation) expressed at `to_point`."""
    motion = np.asarray(motion, dtype=float)
    arm = np.asarray(to_point, dtype=float) - np.asarray(from_point, dtype=float)
    moved = motion[..., :3] + np.cross(motion[..., 3:], arm)
    return np.concatenate([moved, motion[..., 3:]], axis=-1)


def point_shift(r: Array) -> Array:
    """Matrix S with ``motion(O) = S motion(O + r)``; a stiffness about O becomes ``Sᵀ K S``."""
    S = np.eye(6)
    S[:3, 3:] = skew(r)
    return S


def shift_stiffness(K: Array, from_point: Array, to_point: Array) -> Array:
    """6×6 stiffness about `from_point` expressed about `to_point`."""
    S = point_shift(np.asarray(to_point, dtype=float) - np.asarray(from_point, dtype=float))
    return S.T @ K @ S


def rotate_stiffness(K: Array, axes: Array) -> Array:
    """6×6 stiffness in local axes expressed in the axes they are given in.

    Parameters
    ----------
    K
        Stiffness (6, 6) in local components.
    axes
        Orthogonal matrix (3, 3) whose columns are the local axes. A left-handed triad is allowed
        (a mirrored tooth): rotations and moments are axial vectors and change sign with it.
    """
    T = from_local(axes)
    return T @ K @ T.T


def from_local(axes: Array) -> Array:
    """Matrix (6, 6) from components along local axes (columns of `axes`), mirrored ones too."""
    T = np.zeros((6, 6))
    T[:3, :3] = axes
    T[3:, 3:] = np.linalg.det(axes) * axes
    return T


def to_local(six: Array, axes: Array) -> Array:
    """Motion or wrench in components along local axes (columns of `axes`), mirrored ones too."""
    six = np.asarray(six, dtype=float)
    sign = np.linalg.det(axes)
    return np.concatenate([six[..., :3] @ axes, sign * (six[..., 3:] @ axes)], axis=-1)


@dataclass(frozen=True)
class ScrewAxis:
    """Screw axis of a small motion.

    Attributes
    ----------
    point
        Point of the axis nearest the reference point, mm, (3,).
    direction
        Unit vector along the rotation, (3,).
    pitch
        Advance per radian, mm/rad.
    """

    point: Array
    direction: Array
    pitch: float


def screw_axis(motion: Array, reference_point: Array) -> ScrewAxis | None:
    """Screw axis of a small motion given at `reference_point`; None for a pure translation.

    ``point = O + ω × v / ω²``, ``pitch = ω·v / ω²``. The rotation counts as zero when it moves a
    point 1 m away by less than 1e-9 of the translation.
    """
    v, w = np.asarray(motion[:3], dtype=float), np.asarray(motion[3:], dtype=float)
    w2 = float(w @ w)
    if np.sqrt(w2) * 1e3 <= 1e-9 * float(np.linalg.norm(v)) or w2 == 0.0:
        return None
    return ScrewAxis(
        point=np.asarray(reference_point, dtype=float) + np.cross(w, v) / w2,
        direction=w / np.sqrt(w2),
        pitch=float(w @ v) / w2,
    )


def _size(v: Array) -> Array:
    """Length of vectors along the last axis."""
    return np.sqrt(np.vecdot(v, v))


def _exponential_factors(w: Array) -> tuple[Array, Array, Array]:
    """``sin θ/θ``, ``(1 − cos θ)/θ²`` and ``(θ − sin θ)/θ³``, each (..., 1, 1)."""
    angle = _size(np.asarray(w, dtype=float))[..., None, None]
    small = angle < _SMALL_ANGLE_RAD
    safe = np.where(small, 1.0, angle)
    square, sine = angle**2, np.sin(safe)
    first = np.where(small, 1 - square / 6 + square**2 / 120, sine / safe)
    second = np.where(small, 0.5 - square / 24, 2 * (np.sin(safe / 2) / safe) ** 2)
    third = np.where(small, 1 / 6 - square / 120, (safe - sine) / safe**3)
    return first, second, third
