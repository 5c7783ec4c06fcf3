"""The block of alveolar bone round a socket, and which hard tissue is which."""

import numpy as np
import pytest

from geometry.anatomy import tooth_dimensions
from geometry.bone import BoneSpec, bone_block
from geometry.crest import Plane, crest_plane
from geometry.hard_tissue import split_region, with_enamel
from geometry.ligament import ligament_layer
from geometry.mesh import TetMesh, TriSurface, area_vectors, boundary_edges, lone_faces, tet_faces
from geometry.quality import assert_quality
from geometry.surface import sphere_surface
from geometry.tooth_mesh import ToothSpec, build_tooth

HARD = ("cortical", "cancellous")


def face_set(triangles):
    return {tuple(sorted(face)) for face in triangles}


def area(mesh, name):
    return float(np.linalg.norm(area_vectors(mesh.points, mesh.facets[name]), axis=1).sum())


def hard_volume(mesh):
    return sum(mesh.region_volume_mm3(name) for name in HARD)


@pytest.fixture(scope="module")
def built():
    return build_tooth(ToothSpec(tooth_dimensions(34), root_size_mm=0.9, crown_size_mm=1.4)).mesh


@pytest.fixture(scope="module")
def block(built):
    return bone_block(built)


@pytest.fixture(scope="module")
def half_socket():
    """Ligament of a hemispherical root: socket of radius 3 open at z = 0."""
    sphere = sphere_surface(2.8, 3)
    upper = sphere.points[sphere.triangles][:, :, 2].mean(axis=1) > 0
    points = sphere.points.copy()
    border = np.unique(boundary_edges(sphere.triangles[~upper]))
    points[border, 2] = 0.0
    points[border] *= (2.8 / np.linalg.norm(points[border], axis=1))[:, None]
    cut = TriSurface(points, sphere.triangles, np.where(upper, 0, 1), ("crown", "root"))
    return ligament_layer(cut, 0.2, 1, crest_plane(0.0), normals=points / 2.8)


@pytest.mark.parametrize("number", [21, 36])
def test_every_element_passes_the_gate(number):
    mesh = bone_block(build_tooth(ToothSpec(tooth_dimensions(number))).mesh)
    assert mesh.volumes_mm3().min() > 0.0
    assert_quality(mesh)


def test_tooth_and_ligament_stay_as_they_were(built, block):
    assert np.array_equal(block.points[: len(built.points)], built.points)
    assert np.array_equal(block.tets[: len(built.tets)], built.tets)
    assert block.region_names == ("tooth", "ligament", *HARD)
    for name, triangles in built.facets.items():
        assert np.array_equal(block.facets[name], triangles)


def test_bone_meets_the_ligament_in_the_socket_and_nowhere_else(block):
    soft = face_set(tet_faces(block.region_tets("ligament")))
    bone = face_set(tet_faces(np.vstack([block.region_tets(name) for name in HARD])))
    assert soft & bone == face_set(block.facets["socket"])


def test_free_faces_are_those_named(block):
    named = [face_set(block.facets[name]) for name in ("crown", "rim", "bone_far", "bone_free")]
    assert set.union(*named) == face_set(lone_faces(block.tets))
    hull = np.vstack([block.facets[name] for name in ("crown", "rim", "bone_far", "bone_free")])
    assert len(boundary_edges(hull)) == 0
    whole = TriSurface.one_patch(block.points, hull, "whole")
    assert whole.enclosed_volume_mm3() == pytest.approx(block.volumes_mm3().sum(), rel=1e-9)


def test_margins_are_those_stated(built):
    spec = BoneSpec(3.0, 5.0, 1.2, 2.2, 4.0)
    block = bone_block(built, crest_plane(1.5), spec)
    bone = block.points[np.unique(np.vstack([block.region_tets(name) for name in HARD]))]
    socket = built.points[np.unique(built.facets["socket"])]
    gaps = socket.min(axis=0) - bone.min(axis=0), bone.max(axis=0) - socket.max(axis=0)
    assert gaps[0] == pytest.approx([5.0, 2.2, 4.0])
    assert gaps[1] == pytest.approx([3.0, 1.2, 0.0], abs=1e-9)


def test_volume_round_a_hemisphere_is_exact(half_socket):
    """Box less half a ball: only the facets of the ball's surface are wanting."""
    block = bone_block(half_socket)
    x, y, z = 3.0 + 4.0 + 4.0 + 3.0, 6.0 + 1.5 + 3.0, 3.0 + 6.0
    assert hard_volume(block) == pytest.approx(x * y * z - 2 / 3 * np.pi * 27, rel=2e-3)
    x_face = 2 * y * z + x * y
    assert area(block, "bone_far") == pytest.approx(x_face, rel=1e-9)
    assert area(block, "bone_free") == pytest.approx(2 * x * z + x * y - np.pi * 9, rel=2e-3)


def test_cortical_shell_has_about_its_volume(half_socket):
    """Marked by centroid: within 5 % of a shell of 1.5 mm, less the part the socket takes."""
    spec = BoneSpec(buccal_plate_mm=3.0, cortical_mm=1.5)
    block = bone_block(half_socket, spec=spec)
    x, y, z = 14.0, 12.0, 9.0
    inner = x * (y - 3.0) * (z - 1.5)
    slice_of_ball = np.pi * (9 * 1.5 - 1.5**3 / 3)
    shell = x * y * z - inner - slice_of_ball
    assert block.region_volume_mm3("cortical") == pytest.approx(shell, rel=0.05)


class Scalloped:
    """A crest that rises and falls along the arch."""

    def height(self, points):
        return 2.0 * (points[:, 2] - 0.4 * np.cos(points[:, 0]) + 0.1 * points[:, 1] ** 2)


def test_top_follows_a_curved_crest(half_socket):
    crest = Scalloped()
    lifted = half_socket.points.copy()
    lifted[:, 2] -= 0.5 * crest.height(lifted * (1, 1, 0))
    shifted = TetMesh(
        lifted, half_socket.tets, half_socket.region, half_socket.region_names, half_socket.facets
    )
    block = bone_block(shifted, crest)
    nodes = block.points[np.unique(block.facets["bone_free"])]
    low, high = nodes[:, 1].min(), nodes[:, 1].max()
    top = nodes[(nodes[:, 1] > low + 1e-6) & (nodes[:, 1] < high - 1e-6)]
    assert len(top) > 50
    assert crest.height(top) == pytest.approx(0.0, abs=1e-9)
    assert np.ptp(top[:, 2]) > 0.5


def test_top_follows_the_crest_of_a_tooth():
    """Crest of four depths, moved where the tooth's mesh asked for it."""
    spec = ToothSpec(
        tooth_dimensions(24),
        root_size_mm=0.9,
        crown_size_mm=1.4,
        crest_sides_mm=(1.0, 1.2, 2.5, 2.0),
    )
    built = build_tooth(spec)
    crest = spec.crest_surface.moved(built.crest_shift_mm)
    with pytest.raises(ValueError, match="give the crest that the ligament was built with"):
        bone_block(built.mesh)
    block = bone_block(built.mesh, crest)
    bone = np.unique(np.vstack([block.region_tets(name) for name in HARD]))
    height = crest.height(block.points[bone])
    assert height.max() < 1e-6
    top = block.points[bone][np.abs(height) < 1e-6]
    assert len(top) > 150
    assert np.ptp(top[:, 2]) > 0.8


def test_tilted_plane_is_found_from_the_border(half_socket):
    slope = half_socket.points.copy()
    slope[:, 2] += 0.1 * slope[:, 0] - 0.05 * slope[:, 1]
    tilted = TetMesh(
        slope, half_socket.tets, half_socket.region, half_socket.region_names, half_socket.facets
    )
    block = bone_block(tilted)
    plane = Plane((0.0, 0.0, 0.0), (-0.1, 0.05, 1.0))
    bone = np.unique(np.vstack([block.region_tets(name) for name in HARD]))
    height = plane.height(block.points[bone])
    assert height.max() < 1e-9
    assert (np.abs(height) < 1e-9).sum() > 100


def test_same_mesh_twice(built, block):
    again = bone_block(built)
    assert np.array_equal(again.points, block.points)
    assert np.array_equal(again.tets, block.tets)


def test_crest_off_the_border_is_refused(built):
    with pytest.raises(ValueError, match=r"border lies up to 0\.50 mm off"):
        bone_block(built, crest_plane(1.0))


def test_bone_is_added_once(block):
    with pytest.raises(ValueError, match="no bone as yet"):
        bone_block(block)


def test_nonsense_sizes_are_named():
    with pytest.raises(ValueError, match="buccal_plate_mm is -1"):
        BoneSpec(buccal_plate_mm=-1.0)


def test_enamel_is_near_the_crown_above_the_cervix(built):
    mesh = with_enamel(built, 1.0)
    assert mesh.region_names == ("enamel", "dentine", "ligament")
    enamel = mesh.points[mesh.region_tets("enamel")].mean(axis=1)
    assert enamel[:, 2].min() > 0.0
    parts = mesh.region_volume_mm3("enamel") + mesh.region_volume_mm3("dentine")
    assert parts == pytest.approx(built.region_volume_mm3("tooth"), rel=1e-12)
    assert np.array_equal(mesh.region_tets("ligament"), built.region_tets("ligament"))


def test_enamel_of_a_fine_sphere_has_its_volume():
    """Cap of even thickness on the upper half of a ball of 3 mm, within 4 %."""
    from geometry.remesh import fill_surface

    sphere = sphere_surface(3.0, 4)
    points, tets = fill_surface(sphere)
    region = np.zeros(len(tets), dtype=int)
    ball = TetMesh(points, tets, region, ("tooth",), {"crown": sphere.triangles})
    cap = with_enamel(ball, 1.0).region_volume_mm3("enamel")
    assert cap == pytest.approx(2 / 3 * np.pi * (27 - 8), rel=0.04)


def test_no_empty_region(built):
    everything = np.ones(len(built.region_tets("tooth")), dtype=bool)
    with pytest.raises(ValueError, match=r"none of its .* would be 'dentine'"):
        split_region(built, "tooth", everything, "enamel", "dentine")


def test_names_are_not_taken_twice(built):
    half = np.arange(len(built.region_tets("tooth"))) % 2 == 0
    with pytest.raises(ValueError, match="region 'ligament' already"):
        split_region(built, "tooth", half, "ligament", "dentine")


def test_thickness_must_be_positive(built):
    with pytest.raises(ValueError, match="must be positive"):
        with_enamel(built, 0.0)
