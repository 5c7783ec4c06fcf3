"""The ligament layer on surfaces with and without a rim."""

from dataclasses import replace

import numpy as np
import pytest

from geometry.crest import Plane
from geometry.easing import eased_steps
from geometry.ligament import ligament_layer, thickness_profile
from geometry.mesh import TriSurface, area_vectors, lone_faces
from geometry.remesh import remesh_surface
from geometry.surface import sphere_surface, split_surface, straddling_nodes

RADIUS, THICKNESS = 1.0, 0.2
SHELL_VOLUME = 4.0 / 3.0 * np.pi * ((RADIUS + THICKNESS) ** 3 - RADIUS**3)


def cut_ball(height_mm, size_mm):
    """Even triangles on the unit sphere, with a rim at a height."""
    plane = Plane((0.0, 0.0, height_mm), (0.0, 0.0, 1.0))
    cut = split_surface(sphere_surface(RADIUS, 4), plane)
    return plane, remesh_surface(cut, {"crown": 2.0 * size_mm, "root": size_mm})


def shell(subdivisions, layers=2):
    return ligament_layer(sphere_surface(RADIUS, subdivisions), THICKNESS, layers)


def test_spherical_shell_has_its_nodes_on_concentric_spheres():
    surface = sphere_surface(RADIUS, 2)
    mesh = ligament_layer(surface, THICKNESS, 3)
    radii = np.linalg.norm(mesh.points, axis=1).reshape(4, -1)
    for level, expected in zip(radii, (1.0, 1.0 + 0.2 / 3, 1.0 + 0.4 / 3, 1.2), strict=True):
        assert level == pytest.approx(expected, abs=1e-12)
    assert np.array_equal(mesh.facets["root"], surface.triangles)
    assert set(mesh.facets) == {"root", "socket"}
    assert len(mesh.tets) == 3 * 3 * len(surface.triangles)


def test_spherical_shell_volume_converges_at_second_order():
    # Exact volume of the shell; flat facets miss it by O(h²).
    errors = [abs(shell(n).region_volume_mm3("ligament") / SHELL_VOLUME - 1.0) for n in (2, 3)]
    assert np.log2(errors[0] / errors[1]) == pytest.approx(2.0, abs=0.1)
    assert errors[1] < 0.015


def facet_thickness(mesh):
    """Thickness of each prism across its inner facet, mean of its corners."""
    root, socket = mesh.facets["root"], mesh.facets["socket"]
    vectors = area_vectors(mesh.points, root)
    steps = (mesh.points[socket] - mesh.points[root]).mean(axis=1)
    areas = np.linalg.norm(vectors, axis=1)
    return (vectors * steps).sum(axis=1) / areas, areas


@pytest.mark.parametrize("facing", [1, -1])
def test_thickness_over_facets_is_what_was_asked_on_balls_and_in_hollows(facing):
    """Σ A_f t_f = t Σ A_f to the last digit (derived at `facet_cosines`), unlike at the nodes."""
    ball = sphere_surface(RADIUS, 2)
    stretched = ball.points * [1.0, 1.5, 2.2]
    surface = replace(ball, points=stretched, triangles=ball.triangles[:, ::facing])
    for over_facets in (True, False):
        mesh = ligament_layer(surface, THICKNESS, over_facets=over_facets)
        found, areas = facet_thickness(mesh)
        mean = (found * areas).sum() / areas.sum()
        assert (mean == pytest.approx(THICKNESS, rel=1e-12)) == over_facets


def test_straddling_facets_and_thickness_over_them_give_a_shell_its_volume():
    """A third of the error that nodes on both spheres leave, at the same elements."""
    ball = sphere_surface(RADIUS, 2)
    moved = replace(ball, points=straddling_nodes(ball, "root"))
    mesh = ligament_layer(moved, THICKNESS, over_facets=True)
    error = abs(mesh.region_volume_mm3("ligament") / SHELL_VOLUME - 1)
    assert error < abs(shell(2).region_volume_mm3("ligament") / SHELL_VOLUME - 1) / 3


def test_thickness_over_facets_grows_no_spike_out_of_a_sharp_corner():
    # The facets of an icosahedron lean by a cosine of 0.795 from its corners.
    mesh = ligament_layer(sphere_surface(RADIUS, 0), THICKNESS, over_facets=True)
    outer = np.linalg.norm(mesh.points[np.unique(mesh.facets["socket"])], axis=1)
    assert outer == pytest.approx(RADIUS + THICKNESS / 0.8)


def test_layer_is_conforming():
    mesh = shell(2)
    assert mesh.volumes_mm3().min() > 0.0
    outside = np.vstack([mesh.facets["root"], mesh.facets["socket"]])
    free = {tuple(sorted(face)) for face in lone_faces(mesh.tets)}
    assert free == {tuple(sorted(face)) for face in outside}


@pytest.mark.parametrize("over_facets", [False, True])
def test_rim_lies_in_its_plane_and_keeps_the_width(over_facets):
    plane, surface = cut_ball(0.3, 0.15)
    mesh = ligament_layer(surface, 0.1, 2, plane, over_facets=over_facets)
    rim = np.unique(mesh.facets["rim"])
    assert mesh.points[rim, 2] == pytest.approx(0.3, abs=1e-9)
    # In the plane z = 0.3 the sphere leans by cos φ = √(1 − 0.3²) from the plane's normal, so a
    # layer 0.1 wide across reaches 0.1/cos φ farther within the plane.
    lean = np.sqrt(1.0 - 0.3**2)
    reach = np.linalg.norm(mesh.points[np.intersect1d(rim, mesh.facets["socket"]), :2], axis=1)
    assert reach == pytest.approx(lean + 0.1 / lean, rel=5e-3)


def test_loose_rim_follows_the_normals_where_the_crest_grazes_the_root():
    # At z = −0.95 the sphere leans by cos φ = 0.31 from the plane's normal, at z = 0.3 by 0.95.
    plane, surface = cut_ball(-0.95, 0.05)
    for loose, radius in ((True, 1.1), (False, None)):
        mesh = ligament_layer(surface, 0.1, 2, plane, loose_rim=loose)
        rim = mesh.points[np.intersect1d(mesh.facets["rim"], mesh.facets["socket"])]
        if radius:
            assert np.linalg.norm(rim, axis=1) == pytest.approx(radius, rel=5e-3)
        else:
            assert rim[:, 2] == pytest.approx(-0.95, abs=1e-9)
    plane, surface = cut_ball(0.3, 0.15)
    strict, loose = (ligament_layer(surface, 0.1, 2, plane, loose_rim=x) for x in (False, True))
    assert np.array_equal(strict.points, loose.points)


def test_easing_leaves_a_good_layer_as_it_is():
    plane, surface = cut_ball(0.3, 0.15)
    plain, eased = (ligament_layer(surface, 0.1, 2, plane, eased=x) for x in (False, True))
    assert np.array_equal(plain.points, eased.points)


def test_easing_unfolds_a_layer_where_a_normal_is_wrong():
    surface = sphere_surface(RADIUS, 2)
    normals = surface.points.copy()
    normals[7] = 2.0 * np.cross(normals[7], np.roll(normals[7], 1))
    with pytest.raises(ValueError, match="turned inside out"):
        ligament_layer(surface, THICKNESS, normals=normals)
    mesh = ligament_layer(surface, THICKNESS, normals=normals, eased=True)
    assert mesh.volumes_mm3().min() > 0.0
    assert np.array_equal(mesh.points[: len(surface.points)], surface.points)
    assert mesh.region_volume_mm3("ligament") == pytest.approx(SHELL_VOLUME, rel=0.06)


def test_easing_fills_a_hollow_of_flat_facets():
    # In an icosahedral hollow a node's step leans 37.4° from its facets: 0.795 of the thickness.
    ball = sphere_surface(RADIUS, 0)
    hollow = replace(ball, triangles=ball.triangles[:, ::-1])
    with pytest.raises(ValueError, match=r"0\.20 mm thick, but .* only 0\.16 mm are left"):
        ligament_layer(hollow, THICKNESS)
    mesh = ligament_layer(hollow, THICKNESS, eased=True)
    outer = np.linalg.norm(mesh.points[np.unique(mesh.facets["socket"])], axis=1)
    # The faces of an icosahedron of circumradius 1 lie 0.79465 from its middle.
    assert outer == pytest.approx(1.0 - THICKNESS / 0.79465, abs=1e-4)


@pytest.mark.parametrize(("share", "longest"), [(-0.5, 1.0), (0.1, 1.3), (0.79, 1.3)])
def test_easing_does_not_push_a_layer_through_the_next_root(share, longest):
    """A node inside the next root stays; one close to it goes at most three tenths farther."""
    ball = sphere_surface(RADIUS, 1)
    layer = ligament_layer(ball, THICKNESS, 1)
    step = THICKNESS * ball.points
    eased = eased_steps(
        step,
        ball.triangles,
        layer.tets,
        np.zeros_like(step),
        lambda step: np.vstack([ball.points, ball.points + step]),
        lambda points: np.full(len(points) // 2, share),
        0.8,
    )
    assert np.linalg.norm(eased, axis=1) == pytest.approx(longest * THICKNESS, rel=1e-9)


def test_given_normals_are_used():
    surface = sphere_surface(RADIUS, 1)
    straight_up = np.tile([0.0, 0.0, 1.0], (len(surface.points), 1))
    with pytest.raises(ValueError, match="turned inside out"):
        ligament_layer(surface, THICKNESS, normals=straight_up)


def test_thickness_may_vary_over_the_root():
    crest, surface = cut_ball(0.2, 0.15)
    thickness = thickness_profile(surface.points, crest, (0.20, 0.10, 0.30))
    mesh = ligament_layer(surface, thickness, 1, crest)
    count = len(mesh.points) // 2
    width = np.linalg.norm(mesh.points[count:] - mesh.points[:count], axis=1)
    assert width[np.argmin(mesh.points[:count, 2])] == pytest.approx(0.30, rel=1e-6)
    middle = np.argmin(np.abs(mesh.points[:count, 2] - (0.2 - 0.6)))
    assert width[middle] == pytest.approx(0.10, abs=0.02)
    assert width.max() < 0.31


def test_layer_thicker_than_a_hollow_is_refused():
    surface = sphere_surface(RADIUS, 2)
    hollow = replace(surface, triangles=surface.triangles[:, ::-1])
    ligament_layer(hollow, 0.5)  # fits inside
    with pytest.raises(ValueError, match=r"turned inside out.*take a thinner ligament"):
        ligament_layer(hollow, 1.5)


@pytest.mark.parametrize(("thickness", "layers"), [(0.0, 2), (-0.1, 2), (0.2, 0)])
def test_senseless_thickness_or_layers_are_refused(thickness, layers):
    with pytest.raises(ValueError, match="must be positive"):
        ligament_layer(sphere_surface(1.0, 0), thickness, layers)


def test_layers_of_two_parts_that_meet_are_refused():
    # Two balls 0.3 mm apart have no room for 0.2 mm on each.
    ball = sphere_surface(RADIUS, 2)
    points = np.vstack([ball.points, ball.points + np.array([2.0 * RADIUS + 0.3, 0.0, 0.0])])
    triangles = np.vstack([ball.triangles, ball.triangles + len(ball.points)])
    pair = TriSurface.one_patch(points, triangles, "root")
    ligament_layer(pair, 0.1)
    with pytest.raises(ValueError, match=r"0\.20 mm thick.*only 0\.1\d mm are left.*next part"):
        ligament_layer(pair, THICKNESS)
