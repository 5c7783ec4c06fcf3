"""Cutting, remeshing and filling closed surfaces, and vertex normals."""

import gmsh
import numpy as np
import pytest

from geometry.crest import Plane, crest_plane
from geometry.mesh import TriSurface, boundary_edges, tet_volumes
from geometry.remesh import fill_surface, remesh_surface
from geometry.session import gmsh_session
from geometry.surface import sphere_surface, split_surface, vertex_normals

CAP_HEIGHT_MM = 0.7  # of the part of a 2 mm sphere above the plane used here


@pytest.fixture(scope="module")
def sphere():
    return sphere_surface(2.0, 3)


@pytest.fixture(scope="module")
def cut_sphere():
    return split_surface(sphere_surface(2.0, 4), Plane((0.0, 0.0, 1.3), (0.0, 0.0, 1.0)))


def test_sphere_nodes_lie_on_the_sphere_and_edges_meet_twice(sphere):
    assert np.linalg.norm(sphere.points, axis=1) == pytest.approx(2.0, abs=1e-12)
    assert sphere.is_closed()
    assert len(sphere.triangles) == 20 * 4**3


def test_a_hole_is_seen(sphere):
    opened = sphere.triangles[1:]
    assert len(boundary_edges(opened)) == 3
    assert not TriSurface.one_patch(sphere.points, opened, "root").is_closed()


def test_a_turned_triangle_is_seen(sphere):
    triangles = sphere.triangles.copy()
    triangles[5] = triangles[5][::-1]
    assert not TriSurface.one_patch(sphere.points, triangles, "root").is_closed()


def test_normals_on_a_sphere_are_radial(sphere):
    # Max 1999 (from memory): exact for nodes on a sphere.
    normals = vertex_normals(sphere.points, sphere.triangles)
    assert normals == pytest.approx(sphere.points / 2.0, abs=1e-12)


def test_cut_keeps_the_surface_and_makes_the_plane_an_edge_line(cut_sphere):
    assert cut_sphere.is_closed()
    border = np.unique(boundary_edges(cut_sphere.patch_triangles("root")))
    assert cut_sphere.points[border, 2] == pytest.approx(1.3, abs=1e-12)
    assert cut_sphere.points[cut_sphere.patch_triangles("root"), 2].max() < 1.3 + 1e-12
    assert cut_sphere.points[cut_sphere.patch_triangles("crown"), 2].min() > 1.3 - 1e-12
    # Area of a spherical cap, 2πRh; the facets of four subdivisions miss it by O(h²).
    assert cut_sphere.area_mm2("crown") == pytest.approx(2 * np.pi * 2.0 * CAP_HEIGHT_MM, rel=5e-3)


def test_cut_that_misses_is_refused(sphere):
    with pytest.raises(ValueError, match="does not cut the surface"):
        split_surface(sphere, crest_plane(5.0))


def test_remesh_keeps_shape_and_crest_and_reaches_the_size(cut_sphere):
    even = remesh_surface(cut_sphere, {"crown": 0.5, "root": 0.3})
    assert even.is_closed()
    border = np.unique(boundary_edges(even.patch_triangles("root")))
    assert even.points[border, 2] == pytest.approx(1.3, abs=1e-9)
    # Facets of edge ℓ on a sphere of radius R fall up to ℓ²/(6R) short of it, three times that
    # relative to R in volume.
    short = 3.0 * 0.5**2 / (6.0 * 2.0**2)
    assert 1.0 - short < even.enclosed_volume_mm3() / (4 / 3 * np.pi * 8.0) < 1.0
    corners = even.points[even.patch_triangles("root")]
    edges = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2)
    assert np.median(edges) == pytest.approx(0.3, rel=0.15)
    rim = even.points[boundary_edges(even.patch_triangles("root"))]
    lengths = np.linalg.norm(rim[:, 1] - rim[:, 0], axis=1)
    assert lengths == pytest.approx(np.full(len(rim), 0.3), rel=0.15)


def test_remesh_refuses_what_it_cannot_do(sphere, cut_sphere):
    with pytest.raises(ValueError, match="no mesh size for patch root"):
        remesh_surface(cut_sphere, {"crown": 0.5})
    with pytest.raises(ValueError, match="one patch"):
        remesh_surface(sphere, {"root": 0.5})
    opened = TriSurface.one_patch(sphere.points, sphere.triangles[1:], "root")
    with pytest.raises(ValueError, match="not closed"):
        remesh_surface(opened, {"root": 0.5})
    with pytest.raises(ValueError, match="not closed"):
        fill_surface(opened)


def test_fill_keeps_the_boundary_and_the_volume(sphere):
    points, tets = fill_surface(sphere)
    assert np.array_equal(points[: len(sphere.points)], sphere.points)
    volumes = tet_volumes(points, tets)
    assert volumes.min() > 0.0
    assert volumes.sum() == pytest.approx(sphere.enclosed_volume_mm3(), rel=1e-12)


def test_session_closes_after_an_error_and_refuses_a_second():
    with pytest.raises(ZeroDivisionError), gmsh_session():
        raise ZeroDivisionError
    assert not gmsh.isInitialized()
    with (
        gmsh_session(),
        pytest.raises(RuntimeError, match="already open"),
        gmsh_session(),
    ):
        pass
    assert not gmsh.isInitialized()
