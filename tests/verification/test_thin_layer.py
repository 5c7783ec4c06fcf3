"""Thin-layer theory against its closed integrals, and the textbook laws that follow from it."""

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
    SurfacePoints,
    middle_surface,
    thin_layer_stiffness,
    thin_layer_support,
    triangle_quadrature,
)
from geometry.ligament import ligament_layer
from geometry.surface import sphere_surface
from workflow.verification.reference import reference_table

TABLE = reference_table("thin_layer_paraboloid")
X, _, Z = np.eye(3)


def paraboloid(h, r0, n_z=120, n_phi=16):
    """Gauss points of r = r0 √(z/h), apex at z = 0; s = √(z/h) takes out the root at the apex."""
    s, weight = np.polynomial.legendre.leggauss(n_z)
    s, weight = 0.5 * (s + 1), 0.5 * weight
    phi = 2 * np.pi * np.arange(n_phi) / n_phi
    r, z = r0 * s, h * s**2
    tangent = np.stack([np.full_like(s, r0), 2 * h * s], axis=1)  # (dr, dz)/ds
    length = np.linalg.norm(tangent, axis=1)
    cos, sin = np.cos(phi)[None], np.sin(phi)[None]
    grid = np.ones((n_z, n_phi))
    positions = np.stack([r[:, None] * cos, r[:, None] * sin, z[:, None] * grid], axis=-1)
    radial, axial = tangent[:, 1] / length, -tangent[:, 0] / length
    normals = np.stack([radial[:, None] * cos, radial[:, None] * sin, axial[:, None] * grid], -1)
    areas = (weight * r * length)[:, None] * grid * 2 * np.pi / n_phi
    return SurfacePoints(positions.reshape(-1, 3), normals.reshape(-1, 3), areas.ravel())


@pytest.mark.parametrize("row", list(TABLE.itertuples()), ids=lambda r: f"h{r.h_mm}-nu{r.nu}")
def test_paraboloid_to_the_printed_digits(row):
    """The table's own head says where it comes from."""
    surface = paraboloid(row.h_mm, row.r0_mm)
    K = thin_layer_stiffness(surface, Elastic(row.E_MPa, row.nu), row.t_mm, np.zeros(3))
    centre = centre_of_resistance(K, np.zeros(3))
    assert K[0, 0] == pytest.approx(row.K_lat, rel=5e-4)
    assert K[2, 2] == pytest.approx(row.K_ax, rel=5e-4)
    assert centre.stiffness[3, 3] == pytest.approx(row.K_rot, rel=5e-4)
    assert 1 - centre.point[2] / row.h_mm == pytest.approx(row.centre_from_crest, abs=6e-5)
    sigma2 = rotation_parameter_mm2(K, np.zeros(3), X, Z)
    assert sigma2 / row.h_mm**2 == pytest.approx(row.sigma2_over_h2, abs=6e-5)


def test_area_of_the_paraboloid():
    """224.1 mm² for h = 15, r0 = 3.5 mm (area of a paraboloid, textbook)."""
    assert paraboloid(15, 3.5).areas.sum() == pytest.approx(224.1, abs=0.05)


def test_hemisphere_and_sphere_by_triangles():
    """Winkler sphere: K = (4πa²/3)(k_n + 2k_t), rotation (8/3)πa⁴ k_t (integral by hand)."""
    a, t, material = 3.0, 0.2, Elastic(0.5, 0.3)
    sphere = sphere_surface(a, 4)
    surface = triangle_quadrature(sphere.points, sphere.triangles)
    K = thin_layer_stiffness(surface, material, t, np.zeros(3))
    k_n, k_t = material.constrained_modulus_MPa / t, material.shear_modulus_MPa / t
    assert np.diag(K)[:3] == pytest.approx(4 * np.pi * a**2 / 3 * (k_n + 2 * k_t), rel=5e-3)
    assert np.diag(K)[3:] == pytest.approx(8 / 3 * np.pi * a**4 * k_t, rel=1e-2)


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
