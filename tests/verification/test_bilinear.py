"""The bilinear ligament against its published curve, the linear support and its own energy."""

import numpy as np
import pytest

from fem.bilinear import BilinearLaw
from fem.material import Elastic
from fem.nonlinear_support import BilinearLayer, unit_at_rest
from fem.rigid import point_shift
from fem.support import rigid_body_support
from geometry.ligament import ligament_layer
from geometry.surface import sphere_surface

POPPE = BilinearLaw(0.05, 0.28, 0.075, 0.30)  # Poppe, Bourauel & Jäger 2002
LOAD = np.array([1.0, -0.4, 0.7, 2.0, 1.0, -3.0])
POINT = np.array([0.1, -0.2, 0.3])


@pytest.fixture(scope="module")
def layer():
    return ligament_layer(sphere_surface(3.0, 2), 0.3, layers=2)


def at_rest(layer, law, load):
    return unit_at_rest([BilinearLayer(layer, law, POINT)], [np.eye(6)], load)


def uniaxial(strain, nu=0.30):
    return strain * np.array([1.0, -nu, -nu, 0, 0, 0])


@pytest.mark.parametrize("strain", [0.02, 0.075, 0.12, -0.12])
def test_uniaxial_stress_is_the_published_curve(strain):
    """σ = E₁ε below the knee, E₁ε₁₂ + E₂(ε − ε₁₂) beyond; no stress across."""
    stress, _ = POPPE.response(uniaxial(strain))
    e = abs(strain)
    expected = 0.05 * e if e < 0.075 else 0.05 * 0.075 + 0.28 * (e - 0.075)
    assert stress == pytest.approx(np.sign(strain) * np.array([expected, 0, 0, 0, 0, 0]), abs=1e-15)


@pytest.mark.parametrize("size", [0.01, 0.3])
def test_stress_and_tangent_are_derivatives_of_the_energy(size):
    rng = np.random.default_rng(2)
    strain = size * rng.standard_normal(6)
    stress, tangent = POPPE.response(strain)
    step = 1e-6 * size
    energy = [
        POPPE.energy_MPa(POPPE.scalar_strain(strain + s * step * e))
        for e in np.eye(6)
        for s in (1, -1)
    ]
    slope = np.diff(np.reshape(energy, (6, 2))[:, ::-1], axis=1).ravel() / (2 * step)
    assert stress == pytest.approx(slope, rel=1e-6, abs=1e-9)
    curve = np.array(
        [
            (POPPE.response(strain + step * e)[0] - POPPE.response(strain - step * e)[0])
            / (2 * step)
            for e in np.eye(6)
        ]
    )
    assert tangent == pytest.approx(curve, rel=1e-6, abs=1e-8)
    assert np.linalg.eigvalsh(tangent).min() > 0


def test_equal_moduli_are_the_linear_support_at_any_load(layer):
    linear = rigid_body_support(layer, Elastic(0.05, 0.3), POINT)
    law = BilinearLaw(0.05, 0.05, 0.075, 0.3)
    loaded = at_rest(layer, law, 10 * LOAD)
    expected = np.linalg.solve(linear.stiffness, 10 * LOAD)
    assert loaded.motion == pytest.approx(expected, rel=1e-7)
    assert loaded.stiffness == pytest.approx(linear.stiffness, rel=1e-7, abs=1e-6)
    stress = linear.basis.combine(expected)
    assert loaded.teeth[0].stress == pytest.approx(stress, abs=1e-8 * np.abs(stress).max())


def test_vanishing_load_meets_the_initial_modulus(layer):
    linear = rigid_body_support(layer, Elastic(0.05, 0.3), POINT)
    loaded = at_rest(layer, POPPE, 1e-6 * LOAD)
    assert loaded.motion == pytest.approx(np.linalg.solve(linear.stiffness, 1e-6 * LOAD), rel=1e-6)


def test_heavy_load_lies_between_the_two_linear_answers(layer):
    """Softer than E₂ alone and stiffer than E₁ alone; the tangent tends to that of E₂."""
    loaded = at_rest(layer, POPPE, 30 * LOAD)
    work = 30 * LOAD @ loaded.motion
    soft, stiff = (
        30
        * LOAD
        @ np.linalg.solve(rigid_body_support(layer, Elastic(E, 0.3), POINT).stiffness, 30 * LOAD)
        for E in (0.05, 0.28)
    )
    assert stiff < work < 0.5 * soft
    assert loaded.teeth[0].largest_strain > 0.075
    assert loaded.relative_residual < 1e-8


def test_tangent_predicts_a_small_further_load(layer):
    first, second = at_rest(layer, POPPE, 3 * LOAD), at_rest(layer, POPPE, 3.003 * LOAD)
    predicted = np.linalg.solve(first.stiffness, 0.003 * LOAD)
    assert second.motion - first.motion == pytest.approx(predicted, rel=2e-2)


@pytest.mark.parametrize(
    ("values", "key"),
    [((0, 1, 0.07, 0.3), "youngs"), ((1, 1, 0, 0.3), "knee"), ((1, 1, 0.07, 0.5), "poisson")],
)
def test_ranges(values, key):
    with pytest.raises(ValueError, match=key):
        BilinearLaw(*values)


def test_joined_teeth_share_one_load(layer):
    """Two equal ligaments joined: the motion of one under half the load."""
    pair = unit_at_rest([BilinearLayer(layer, POPPE, POINT)] * 2, [np.eye(6)] * 2, 4 * LOAD)
    assert pair.motion == pytest.approx(at_rest(layer, POPPE, 2 * LOAD).motion, rel=1e-6)


def test_unit_point_may_lie_elsewhere(layer):
    """The same load stated about another point gives the same motion (shift rules)."""
    to_tooth = point_shift(np.array([1.0, -2.0, 3.0]))
    load = 4 * LOAD
    moved = unit_at_rest([BilinearLayer(layer, POPPE, POINT)], [to_tooth], to_tooth.T @ load)
    assert to_tooth @ moved.motion == pytest.approx(at_rest(layer, POPPE, load).motion, rel=1e-6)


def test_teeth_joined_by_a_spring_are_the_linear_answer_where_the_moduli_are_equal(layer):
    """Two ligaments and an elastic joint: coordinates are the motions of both teeth."""
    law = BilinearLaw(0.05, 0.05, 0.075, 0.3)
    K = rigid_body_support(layer, Elastic(0.05, 0.3), POINT).stiffness
    first, second = np.eye(6, 12), np.eye(6, 12, 6)
    apart = first - second
    joint = apart.T @ np.diag([1.0, 2, 3, 20, 30, 40]) @ apart
    load = first.T @ (5 * LOAD)
    rest = unit_at_rest([BilinearLayer(layer, law, POINT)] * 2, [first, second], load, joint)
    whole = joint + first.T @ K @ first + second.T @ K @ second
    assert rest.motion == pytest.approx(np.linalg.solve(whole, load), rel=1e-6, abs=1e-9)
    assert rest.stiffness == pytest.approx(whole, rel=1e-6, abs=1e-6)


def test_an_elastic_joint_brings_the_bilinear_answer_to_that_of_one_body(layer):
    first, second = np.eye(6, 12), np.eye(6, 12, 6)
    apart = first - second
    load = first.T @ (8 * LOAD)
    layers = [BilinearLayer(layer, POPPE, POINT)] * 2
    stiff = unit_at_rest(layers, [first, second], load, 1e7 * apart.T @ apart)
    together = unit_at_rest(layers, [np.eye(6)] * 2, 8 * LOAD)
    assert stiff.motion[:6] == pytest.approx(together.motion, rel=1e-4)
    assert stiff.motion[6:] == pytest.approx(together.motion, rel=1e-4)
