"""Textbook laws that follow from thin-layer theory, and how it takes a mesh."""

import numpy as np
import pytest

from fem.material import Elastic
from fem.resistance import (
    axes_of_resistance,
    centre_of_resistance,
    rotation_centre_depth_mm,
    rotation_parameter_mm2,
    textbook_depth_mm,
)
from fem.rigid import shift_stiffness
from fem.thin_layer import (
    middle_surface,
    thin_layer_stiffness,
    thin_layer_support,
)
from geometry.ligament import ligament_layer
from geometry.surface import sphere_surface
from workflow.verification.layers_thin import paraboloid

X, _, Z = np.eye(3)


def test_a_times_b_is_constant():
    """Nägerl et al. 1991: the product of the two distances does not depend on the force's place."""
    K = thin_layer_stiffness(paraboloid(15, 3.5), Elastic(0.05, 0.3), 0.2, np.zeros(3))
    bracket = 23.0 * Z
    at_bracket = shift_stiffness(K, np.zeros(3), bracket)
    centre = textbook_depth_mm(at_bracket, bracket, X, Z)
    ratio = np.array([0.0, 2.0, 5.0, 8.0, 12.0, 15.0])
    depth = rotation_centre_depth_mm(at_bracket, bracket, X, Z, ratio)
    a, b = centre - ratio, depth - centre
    sigma2 = rotation_parameter_mm2(K, np.zeros(3), X, Z)
    assert a * b == pytest.approx(np.full(6, sigma2), rel=1e-9)


def test_axes_of_resistance_go_from_soft_to_stiff():
    K = np.diag([3.0, 1.0, 2.0, 5.0, 5.0, 5.0])
    axes = axes_of_resistance(centre_of_resistance(K, np.zeros(3)))
    assert np.abs(axes) == pytest.approx(np.eye(3)[:, [1, 2, 0]])


def test_middle_surface_of_a_shell_is_a_sphere():
    layer = ligament_layer(sphere_surface(3.0, 4), 0.4, layers=2)
    surface, thickness = middle_surface(layer)
    assert surface.areas.sum() == pytest.approx(4 * np.pi * 3.2**2, rel=3e-3)
    radii = np.linalg.norm(surface.positions, axis=1)
    assert radii == pytest.approx(np.full(len(radii), 3.2), rel=3e-3)
    assert thickness == pytest.approx(np.full(len(thickness), 0.4), rel=3e-3)


def test_varying_thickness_is_measured_across_the_layer():
    """Springs in parallel: half of a shell twice as thick carries half of its share."""
    sphere = sphere_surface(3.0, 4)
    thickness = np.where(sphere.points[:, 2] > 0, 0.02, 0.01)
    material, centre = Elastic(0.5, 0.3), np.zeros(3)
    varying = thin_layer_support(ligament_layer(sphere, thickness), material, centre)
    even = thin_layer_support(ligament_layer(sphere, 0.01), material, centre)
    assert np.diag(varying)[:3] == pytest.approx(0.75 * np.diag(even)[:3], rel=2e-2)
