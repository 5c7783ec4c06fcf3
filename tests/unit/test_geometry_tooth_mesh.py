"""Whole meshes of all teeth of a side, their quality and their files."""

from dataclasses import replace

import numpy as np
import pytest

from geometry.anatomy import known_teeth, tooth_dimensions
from geometry.crest import crest_plane
from geometry.mesh import TetMesh, TriSurface, area_vectors, boundary_edges, lone_faces, tet_faces
from geometry.quality import assert_quality, mesh_quality, radius_ratio
from geometry.surface import split_surface
from geometry.tooth import ToothField, tooth_surface
from geometry.tooth_mesh import ToothSpec, build_tooth_mesh


def face_set(triangles):
    return {tuple(sorted(face)) for face in triangles}


def area(mesh, name):
    return float(np.linalg.norm(area_vectors(mesh.points, mesh.facets[name]), axis=1).sum())


@pytest.fixture(scope="module", params=[n for n in known_teeth() if n // 10 in (2, 3)])
def mesh(request):
    return build_tooth_mesh(ToothSpec(tooth_dimensions(request.param)))


@pytest.fixture(scope="module")
def coarse():
    return build_tooth_mesh(COARSE)


COARSE = ToothSpec(tooth_dimensions(34), root_size_mm=0.9, crown_size_mm=1.4)


def test_every_element_passes_the_gate(mesh):
    assert mesh.volumes_mm3().min() > 0.0
    assert_quality(mesh)
    for row in mesh_quality(mesh):
        print(row)


def test_regions_meet_in_the_root_facets_and_nowhere_else(mesh):
    sides = [face_set(tet_faces(mesh.region_tets(name))) for name in mesh.region_names]
    assert sides[0] & sides[1] == face_set(mesh.facets["root"])


def test_free_faces_are_crown_socket_and_rim(mesh):
    free = face_set(lone_faces(mesh.tets))
    named = [face_set(mesh.facets[name]) for name in ("crown", "socket", "rim")]
    assert set.union(*named) == free
    assert sum(map(len, named)) == len(free)


def test_facets_face_outwards_and_close(mesh):
    skin = np.vstack([mesh.facets["crown"], mesh.facets["root"]])
    tooth = TriSurface.one_patch(mesh.points, skin, "tooth")
    assert len(boundary_edges(skin)) == 0
    assert tooth.enclosed_volume_mm3() == pytest.approx(mesh.region_volume_mm3("tooth"), rel=1e-9)
    hull = np.vstack([mesh.facets["crown"], mesh.facets["socket"], mesh.facets["rim"]])
    whole = TriSurface.one_patch(mesh.points, hull, "whole")
    assert len(boundary_edges(hull)) == 0
    assert whole.enclosed_volume_mm3() == pytest.approx(mesh.volumes_mm3().sum(), rel=1e-9)


def test_ligament_volume_is_that_of_a_layer_on_the_curved_root(mesh, request):
    """Volume of a normal layer of thickness t, ∫(t + H t² + K t³/3) dA (Steiner's formula).

    The area at height s over a surface is quadratic in s, so that Simpson's rule over s is exact.
    The correction for curvature is taken from the fine contour and the field's own normals, which
    the mesh knows nothing of. The layer's border, cut level where the wall leans, is neglected.
    """
    number, t = request.node.callspec.params["mesh"], 0.20
    dimensions = tooth_dimensions(number)
    root = split_surface(tooth_surface(dimensions), crest_plane(1.5))
    used, triangles = np.unique(root.patch_triangles("root"), return_inverse=True)
    points, triangles = root.points[used], triangles.reshape(-1, 3)
    normals = ToothField(dimensions).gradient(points)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    inner, middle, outer = (
        TriSurface.one_patch(points + s * normals, triangles, "root").area_mm2()
        for s in (0.0, t / 2.0, t)
    )
    curved = (inner + 4.0 * middle + outer) / (6.0 * inner)
    volume, expected = mesh.region_volume_mm3("ligament"), area(mesh, "root") * t * curved
    print(
        f"tooth {number}: root {area(mesh, 'root') / inner - 1.0:+.2%}, "
        f"ligament {volume / expected - 1.0:+.2%}, curvature {curved - 1.0:+.2%}"
    )
    assert area(mesh, "root") == pytest.approx(inner, rel=0.005)
    assert volume == pytest.approx(expected, rel=0.003)


def test_rim_lies_at_the_crest(mesh):
    assert mesh.points[np.unique(mesh.facets["rim"]), 2] == pytest.approx(-1.5, abs=1e-9)


def test_ligament_alone_keeps_its_facets(mesh):
    ligament = mesh.submesh(["ligament"])
    assert set(ligament.facets) == {"root", "socket", "rim"}
    assert len(np.unique(ligament.tets)) == len(ligament.points)
    for name, triangles in ligament.facets.items():
        assert area(ligament, name) == pytest.approx(area(mesh, name), rel=1e-12)
        assert len(triangles) == len(mesh.facets[name])
    assert ligament.region_volume_mm3("ligament") == pytest.approx(
        mesh.region_volume_mm3("ligament"), rel=1e-12
    )
    assert set(mesh.submesh(["tooth"]).facets) == {"crown", "root"}


def test_submesh_drops_facets_of_other_regions_on_its_own_nodes():
    # Nodes 0, 1, 4 all belong to region "a", but the triangle they span is a face of "b" only.
    points = np.random.default_rng(1).random((6, 3))
    tets = np.array([[0, 1, 2, 3], [1, 2, 3, 4], [0, 1, 4, 5]])
    facets = {"own": np.array([[0, 1, 2]]), "other": np.array([[0, 1, 4]])}
    whole = TetMesh(points, tets, np.array([0, 0, 1]), ("a", "b"), facets)
    assert set(whole.submesh(["a"]).facets) == {"own"}
    assert set(whole.submesh(["b"]).facets) == {"other"}
    assert set(whole.submesh(["b", "a"]).facets) == {"own", "other"}


def test_two_runs_are_equal_to_the_bit(coarse):
    again = build_tooth_mesh(COARSE)
    assert np.array_equal(coarse.points, again.points)
    assert np.array_equal(coarse.tets, again.tets)


def test_file_gives_back_the_mesh(coarse, tmp_path):
    path = tmp_path / "mesh.vtu"
    coarse.write_vtu(path)
    read = TetMesh.read_vtu(path)
    assert np.array_equal(read.points, coarse.points)
    assert np.array_equal(read.tets, coarse.tets)
    assert np.array_equal(read.region, coarse.region)
    assert read.region_names == coarse.region_names
    assert list(read.facets) == list(coarse.facets)
    for name, triangles in coarse.facets.items():
        assert np.array_equal(read.facets[name], triangles)


def test_foreign_file_is_refused(coarse, tmp_path):
    import meshio

    path = tmp_path / "foreign.vtu"
    meshio.Mesh(coarse.points, [("tetra", coarse.tets)]).write(path)
    with pytest.raises(ValueError, match=r"foreign\.vtu.*'region' and 'facet'"):
        TetMesh.read_vtu(path)


@pytest.mark.parametrize("crest_mm", [2.0, 6.0])
def test_bone_loss_up_to_and_past_the_furcation(crest_mm):
    spec = ToothSpec(tooth_dimensions(37), crest_mm, root_size_mm=0.7)
    mesh = build_tooth_mesh(spec)
    assert_quality(mesh)
    assert mesh.points[np.unique(mesh.facets["root"]), 2].max() == pytest.approx(-crest_mm)


def test_varying_thickness_reaches_the_apex():
    # Crest, mid-root and apex at 32 to 52 years: Coolidge 1937 (from memory).
    mesh = build_tooth_mesh(replace(COARSE, ligament_thickness_mm=(0.20, 0.14, 0.19)))
    inner, outer = (mesh.points[mesh.facets[name]] for name in ("root", "socket"))
    vectors = area_vectors(mesh.points, mesh.facets["root"])
    areas = np.linalg.norm(vectors, axis=1)
    # across the facets, at each of their corners
    width = np.einsum("kj,kcj->kc", vectors / areas[:, None], outer - inner)
    apex = mesh.facets["root"] == mesh.facets["root"].ravel()[np.argmin(inner[..., 2])]
    weights = np.broadcast_to(areas[:, None], apex.shape)[apex]
    assert np.average(width[apex], weights=weights) == pytest.approx(0.19, rel=1e-6)
    at_crest = inner[..., 2] > inner[..., 2].max() - 1e-6
    assert width[at_crest].mean() == pytest.approx(0.20, abs=0.01)
    assert width.mean(axis=1).min() == pytest.approx(0.14, abs=0.005)
    middle = 0.5 * (area(mesh, "root") + area(mesh, "socket"))
    assert 0.14 < mesh.region_volume_mm3("ligament") / middle < 0.18


def test_radius_ratio_of_known_tetrahedra():
    regular = np.array([[1.0, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]])
    corner = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    flat = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]])
    points = np.vstack([regular, corner, flat])
    gamma = radius_ratio(points, np.arange(12).reshape(3, 4)[:, [0, 1, 2, 3]])
    # Corner of a cube: r_in = 1/(3 + √3), r_circ = √3/2.
    assert np.abs(gamma) == pytest.approx([1.0, 6.0 / (3.0 + 3**0.5) / 3**0.5, 0.0], abs=1e-12)


def test_gate_names_region_element_and_remedy(coarse):
    points = coarse.points.copy()
    a, b, c, d = coarse.region_tets("tooth")[7]
    points[d] = points[[a, b, c]].mean(axis=0) + 1e-4 * (points[d] - points[a])
    with pytest.raises(ValueError, match=r"region 'tooth': element \d+ at .*smaller triangles"):
        assert_quality(replace(coarse, points=points))
    with pytest.raises(ValueError, match=r"region 'ligament'.*below 0\.9"):
        assert_quality(coarse, {"ligament": 0.9})


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"crest_depth_mm": 14.0}, r"tooth 34: crest_depth_mm is 14\.0.*apex"),
        ({"crest_depth_mm": -1.0}, "crest_depth_mm"),
        ({"root_size_mm": 0.0}, "root_size_mm is 0.0; it must be positive"),
    ],
)
def test_senseless_spec_is_refused(change, message):
    with pytest.raises(ValueError, match=message):
        build_tooth_mesh(replace(COARSE, **change))


def test_unknown_region_is_refused(coarse):
    with pytest.raises(ValueError, match="region 'bone' is not in this mesh; it has tooth, liga"):
        coarse.submesh(["bone"])
