"""SO(3) and SE(3) against scipy's matrix exponential and their own derivatives."""

import numpy as np
import pytest
from scipy.linalg import expm

from fem.rigid import inverse_tangent, rotation, rotation_vector, se3_exp, se3_log, skew

TWISTS = np.array(
    [
        [0.3, -0.2, 0.5, 0.2, 0.7, -0.5],
        [1.0, 2.0, -3.0, 1e-5, -2e-5, 1e-5],
        [0.4, 0.1, 0.2, 0.0, 0.0, 2.5],
        [0.4, 0.1, 0.2, 0.0, 0.0, 0.0],
    ]
)


def homogeneous(twist):
    H = np.zeros((4, 4))
    H[:3, :3], H[:3, 3] = skew(twist[3:]), twist[:3]
    return H


@pytest.mark.parametrize("twist", TWISTS)
def test_exponential_is_the_matrix_exponential(twist):
    R, p = se3_exp(twist)
    expected = expm(homogeneous(twist))
    assert pytest.approx(expected[:3, :3], abs=1e-13) == R
    assert p == pytest.approx(expected[:3, 3], abs=1e-13)


def test_logarithm_undoes_the_exponential():
    assert se3_log(*se3_exp(TWISTS)) == pytest.approx(TWISTS, abs=1e-13)


@pytest.mark.parametrize("angle", [1e-9, 1e-4, 1e-3, 0.1, 1.0, 3.1])
def test_small_and_large_angles_keep_their_digits(angle):
    w = angle * np.array([2.0, -1.0, 2.0]) / 3
    assert rotation_vector(rotation(w)) == pytest.approx(w, rel=1e-10)


@pytest.mark.parametrize("twist", TWISTS[[0, 1, 3]])
def test_inverse_tangent_is_the_derivative_of_the_logarithm(twist):
    """``log(H exp ξ)`` by central differences; rotations below 1 rad, as rod elements have."""

    def after(xi):
        R, p = se3_exp(twist)
        dR, dp = se3_exp(xi)
        return se3_log(R @ dR, p + R @ dp)

    step = 1e-4
    units = step * np.eye(6)
    first = np.array([(after(e) - after(-e)) / (2 * step) for e in units]).T
    second = np.array([(after(2 * e) - after(-2 * e)) / (4 * step) for e in units]).T
    slope = (4 * first - second) / 3  # fourth order
    assert inverse_tangent(twist) == pytest.approx(slope, abs=2e-10)
