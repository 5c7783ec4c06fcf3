"""Crests: level, by side and drawn; their heights, normals and what they refuse."""

import numpy as np
import pytest

from geometry.anatomy import tooth_dimensions
from geometry.crest import Plane, PolylineCrest, SaddleCrest, crest_plane, onto_crest
from geometry.ligament import thickness_profile
from geometry.mesh import area_vectors
from geometry.quality import assert_quality
from geometry.surface import sphere_surface, split_surface
from geometry.tooth_mesh import ToothSpec, build_tooth

SIDES = (1.0, 2.0, 4.0, 3.0)
SADDLE = SaddleCrest(*SIDES, 2.5, 3.5)


def drawn_line(count=48, dip_mm=1.5):
    """A line around a root of 5 x 7 mm: higher between the teeth, with a buccal dip."""
    angle = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    dip = dip_mm * np.exp(-(((angle - np.pi / 2.0) / 0.5) ** 2))
    height = -2.0 + 0.5 * np.cos(2.0 * angle) - dip
    return np.stack([2.5 * np.cos(angle), 3.5 * np.sin(angle), height], axis=1)


CRESTS = {
    "level": crest_plane(1.5),
    "tilted": Plane((0.0, 0.3, -2.0), (0.3, -0.2, 1.0)),
    "by side": SADDLE,
    "drawn": PolylineCrest(drawn_line()),
}


@pytest.fixture(params=CRESTS, ids=str)
def crest(request):
    return CRESTS[request.param]


def around(count=200):
    return np.random.default_rng(3).uniform([-3.5, -4.5, -5.0], [3.5, 4.5, 0.0], (count, 3))


def test_depths_at_the_four_sides():
    at = np.array([[2.5, 0.0, 0.0], [-2.5, 0.0, 0.0], [0.0, 3.5, 0.0], [0.0, -3.5, 0.0]])
    assert SADDLE.depth(at) == pytest.approx(SIDES, abs=1e-12)
    assert SADDLE.depth(np.zeros((1, 3))) == pytest.approx(np.mean(SIDES), abs=1e-12)


def test_narrower_root_still_has_the_depths_stated():
    # A root a tenth narrower than its cervix; a plain polynomial would miss by 0.26 mm here.
    assert SADDLE.depth(0.9 * np.array([[0.0, 3.5, 0.0]])) == pytest.approx(4.0, abs=0.06)


def test_equal_sides_are_a_level_crest():
    points = around()
    level = SaddleCrest(1.5, 1.5, 1.5, 1.5, 2.5, 3.5)
    assert level.height(points) == pytest.approx(crest_plane(1.5).height(points), abs=1e-9)
    assert level.normals(points) == pytest.approx(crest_plane(1.5).normals(points), abs=1e-9)


def test_drawn_line_lies_on_its_crest():
    line = drawn_line()
    assert PolylineCrest(line).height(line) == pytest.approx(np.zeros(len(line)), abs=1e-6)
    closed = PolylineCrest(np.vstack([line, line[:1]]))
    assert closed.height(around()) == pytest.approx(PolylineCrest(line).height(around()), abs=1e-9)


def test_drawn_crest_meets_the_wall_squarely():
    line = drawn_line()
    outward = line * [1.0 / 2.5**2, 1.0 / 3.5**2, 0.0]
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    lean = (PolylineCrest(line).normals(line) * outward).sum(axis=1)
    assert np.abs(lean).max() < 0.35  # within 20°


def test_height_is_the_distance_close_to_the_crest(crest):
    on = onto_crest(around(), crest)
    assert crest.height(on) == pytest.approx(np.zeros(len(on)), abs=1e-9)
    normals = crest.normals(on)
    assert np.linalg.norm(normals, axis=1) == pytest.approx(np.ones(len(on)), abs=1e-12)
    assert (normals[:, 2] > 0.0).all()
    for step in (1e-3, -1e-3):
        assert crest.height(on + step * normals) == pytest.approx(np.full(len(on), step), abs=5e-6)


def test_moved_crest_lies_nearer_to_the_crown(crest):
    on = onto_crest(around(), crest)
    below = crest.moved(0.4).height(on)
    steepness = crest.normals(on)[:, 2]
    axial = 0.4 if isinstance(crest, Plane) else 0.4 * steepness
    assert below == pytest.approx(-axial * np.ones(len(on)), abs=0.01)
    assert crest.moved(0.4).moved(-0.4).height(on) == pytest.approx(np.zeros(len(on)), abs=1e-9)


def test_cut_runs_along_the_crest(crest):
    ball = sphere_surface(3.0, 4)
    cut = split_surface(ball, crest)
    assert cut.is_closed()
    height = crest.height(cut.points)
    above, below = (height[cut.patch_triangles(name)] for name in ("crown", "root"))
    assert above.min() > -1e-9
    assert below.max() < 1e-9


@pytest.mark.parametrize("number", [21, 36])
@pytest.mark.parametrize("kind", ["by side", "drawn", "tilted"])
def test_tooth_meshes_with_its_rim_on_the_crest(number, kind):
    dimensions = tooth_dimensions(number)
    half = np.array([dimensions.cervix_md_mm, dimensions.cervix_bl_mm, 2.0]) / 2.0
    crest = {
        "drawn": PolylineCrest(drawn_line() * half / [2.5, 3.5, 1.0]),
        "tilted": Plane((0.0, 0.0, -2.0), (0.15, -0.1, 1.0)),
        "by side": None,
    }[kind]
    sides = SIDES if crest is None else None
    spec = ToothSpec(dimensions, root_size_mm=0.7, crest_sides_mm=sides, crest=crest)
    built = build_tooth(spec)
    assert_quality(built.mesh)
    assert built.crest_shift_mm == 0.0
    rim = built.mesh.points[np.unique(built.mesh.facets["rim"])]
    assert spec.crest_surface.height(rim) == pytest.approx(np.zeros(len(rim)), abs=1e-9)
    root = built.mesh.points[np.unique(built.mesh.facets["root"])]
    assert spec.crest_surface.height(root).max() < 1e-9


def test_each_root_has_its_own_apex():
    # Two cones' axes of 10 and 6 mm below the crest.
    long = np.stack([np.full(21, -2.0), np.zeros(21), np.linspace(0.0, -10.0, 21)], axis=1)
    short = np.stack([np.full(13, 2.0), np.zeros(13), np.linspace(0.0, -6.0, 13)], axis=1)
    profile = (0.30, 0.10, 0.20)
    for axis in (long, short):
        thickness = thickness_profile(np.vstack([long, short]), crest_plane(0.0), profile)
        own = thickness[: len(long)] if axis is long else thickness[len(long) :]
        assert own[-1] == pytest.approx(0.20, abs=1e-9)
        assert own[0] == pytest.approx(0.30, abs=1e-9)
        assert own.min() == pytest.approx(0.10, abs=0.01)


def test_profile_ends_at_every_apex_of_a_molar():
    spec = ToothSpec(
        tooth_dimensions(26), root_size_mm=0.7, ligament_thickness_mm=(0.35, 0.15, 0.25)
    )
    mesh = build_tooth(spec).mesh
    inner, outer = (mesh.points[mesh.facets[name]] for name in ("root", "socket"))
    vectors = area_vectors(mesh.points, mesh.facets["root"])
    areas = np.linalg.norm(vectors, axis=1)
    # across the facets at each of their corners; the mean round a node is what was asked there
    width = np.einsum("kj,kcj->kc", vectors / areas[:, None], outer - inner)
    for root in spec.dimensions.roots:
        nearest = np.argmin(np.linalg.norm(inner - root.apex_mm(), axis=2))
        at = mesh.facets["root"] == mesh.facets["root"].ravel()[nearest]
        weights = np.broadcast_to(areas[:, None], at.shape)[at]
        assert np.average(width[at], weights=weights) == pytest.approx(0.25, abs=0.006)


BAD_LINES = {
    "give 6 points": drawn_line()[:5],
    "three coordinates": drawn_line()[:, :2],
    "no number": np.where(np.arange(48)[:, None] == 3, np.nan, drawn_line()),
    "over each other": np.repeat(drawn_line(), 2, axis=0),
    "crosses itself after points 10 and": drawn_line()[
        [*range(10), 20, *range(10, 20), *range(21, 48)]
    ],
    "steeper than 3 to 1": drawn_line() * [1.0, 1.0, 20.0],
    "encloses nothing": drawn_line() * [1.0, 1e-2, 0.1],
}


@pytest.mark.parametrize("message", BAD_LINES)
def test_bad_line_is_refused(message):
    with pytest.raises(ValueError, match=message):
        PolylineCrest(BAD_LINES[message])


def test_senseless_sides_are_refused():
    with pytest.raises(ValueError, match="half_md_mm is 0"):
        SaddleCrest(1.0, 1.0, 1.0, 1.0, 0.0, 3.0)
    with pytest.raises(ValueError, match="buccal_mm is nan"):
        SaddleCrest(1.0, 1.0, float("nan"), 1.0, 2.0, 3.0)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"crest_sides_mm": (1.0, 1.0, 14.0, 1.0)}, r"tooth 34: crest_sides_mm, buccal is 14\.0"),
        ({"crest_sides_mm": SIDES, "crest": SADDLE}, "tooth 34: .*state one"),
    ],
)
def test_senseless_crest_of_a_tooth_is_refused(change, message):
    with pytest.raises(ValueError, match=message):
        build_tooth(ToothSpec(tooth_dimensions(34), **change))
