"""Tooth dimensions and the parametric surface made from them."""

import numpy as np
import pytest

from geometry.anatomy import crown_width_mm, known_teeth, tooth_dimensions
from geometry.crest import crest_plane
from geometry.surface import split_surface
from geometry.tooth import ToothField, tooth_surface

LEFT = tuple(n for n in known_teeth() if n // 10 in (2, 3))


@pytest.fixture(scope="module", params=LEFT)
def tooth(request):
    dimensions = tooth_dimensions(request.param)
    return dimensions, tooth_surface(dimensions)


def test_right_teeth_share_the_row_of_their_left_twins():
    left, right = tooth_dimensions(33), tooth_dimensions(43)
    assert right.number == 43
    assert (right.root_length_mm, right.cusps) == (left.root_length_mm, left.cusps)


def test_unknown_tooth_is_refused_with_the_known_ones():
    with pytest.raises(ValueError, match=r"tooth number 18.*11, 12, .*46, 47"):
        tooth_dimensions(18)
    with pytest.raises(ValueError, match="not a permanent tooth"):
        crown_width_mm(39)


def test_crown_widths_agree_between_the_two_tables():
    for number in known_teeth():
        assert crown_width_mm(number) == tooth_dimensions(number).crown_md_mm


def test_surface_is_closed_and_faces_outwards(tooth):
    _, surface = tooth
    assert surface.is_closed()
    assert surface.enclosed_volume_mm3() > 0.0


def test_surface_has_the_published_measures(tooth):
    # Lengths and widths: Ash & Nelson, Wheeler's Dental Anatomy, Table 1-1 (from memory). The
    # tolerance is the resolution of the contour, a quarter of its 0.25 mm grid.
    dims, surface = tooth
    low, high = surface.points.min(axis=0), surface.points.max(axis=0)
    assert high[2] == pytest.approx(dims.crown_length_mm, abs=0.06)
    assert -low[2] == pytest.approx(dims.root_length_mm, abs=0.06)
    crown = np.ptp(surface.points[surface.points[:, 2] > 0.0, :2], axis=0)  # roots may flare out
    assert crown == pytest.approx([dims.crown_md_mm, dims.crown_bl_mm], abs=0.06)
    cut = split_surface(surface, crest_plane(0.0))
    neck = cut.points[np.abs(cut.points[:, 2]) < 1e-9]
    widths = np.ptp(neck[:, :2], axis=0)
    assert widths == pytest.approx([dims.cervix_md_mm, dims.cervix_bl_mm], abs=0.06)


def test_root_area_is_near_the_published(tooth):
    # Mowry et al. 2002; Jepsen 1963 (from memory). They differ from each other by up to 40 %,
    # so 20 % on each tells a root of the right size from a wrong one and no more.
    dims, surface = tooth
    area = split_surface(surface, crest_plane(0.0)).area_mm2("root")
    assert dims.root_area_mm2
    for source, published in dims.root_area_mm2:
        print(f"tooth {dims.number}: {area:.0f} mm²; {source}: {published} mm²")
        assert area == pytest.approx(published, rel=0.20), source


def test_mean_root_area_is_within_ten_percent_of_jepsen():
    """Jepsen 1963 (from memory), all fourteen teeth of a side."""
    ratios = []
    for number in LEFT:
        dims = tooth_dimensions(number)
        area = split_surface(tooth_surface(dims), crest_plane(0.0)).area_mm2("root")
        published = next(v for source, v in dims.root_area_mm2 if source.startswith("Jepsen"))
        ratios.append(area / published)
    assert len(ratios) == 14
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.10)


def test_every_permanent_tooth_but_the_third_molars_has_a_row():
    wanted = {10 * quadrant + place for quadrant in (1, 2, 3, 4) for place in range(1, 8)}
    assert set(known_teeth()) == wanted
    for number in known_teeth():
        dims = tooth_dimensions(number)
        assert dims.source
        assert dims.certainty


@pytest.mark.parametrize(("number", "roots"), [(24, 2), (25, 1), (26, 3), (36, 2), (31, 1)])
def test_number_of_roots(number, roots):
    """Upper first premolars have two roots in 60.6 % of 165 teeth (Dababneh & Rodan 2013)."""
    assert tooth_dimensions(number).root_count == roots


def test_furcation_lies_at_the_published_depth():
    # Lower molars part 3.3 mm below the cervix on average (imaging study of 359 teeth).
    points = tooth_surface(tooth_dimensions(37)).points
    under = (np.abs(points[:, 0]) < 0.2) & (np.abs(points[:, 1]) < 0.2) & (points[:, 2] < 0.0)
    assert points[under, 2].max() == pytest.approx(-3.3, abs=0.05)
    assert points[under, 2].min() > -4.0  # nothing hangs into the gap between the roots


@pytest.mark.parametrize("number", LEFT)
def test_field_is_close_to_a_distance_near_the_surface(number):
    dimensions = tooth_dimensions(number)
    field = ToothField(dimensions)
    points = tooth_surface(dimensions, spacing_mm=0.5).points
    # Below the crease of the cervix and the blends of the furcation, which are no distances.
    points = points[points[:, 2] < -2.0 - (dimensions.trunk_mm or 0.0)]
    assert np.abs(field(points)).max() < 1e-6
    slope = np.linalg.norm(field.gradient(points), axis=1)
    assert np.quantile(np.abs(slope - 1.0), 0.95) < 0.05


def test_upper_first_premolar_may_have_one_root():
    """37.6 % of 165 teeth have one (Dababneh & Rodan 2013); published areas do not part them."""
    single = tooth_dimensions(14, roots=1)
    assert (single.root_count, single.number) == (1, 14)
    assert single.root_length_mm == tooth_dimensions(14).root_length_mm
    low = tooth_surface(single).points[:, 2] < -12.0
    assert np.ptp(tooth_surface(single).points[low, 1]) < 4.5  # one apex, not two side by side
    with pytest.raises(ValueError, match="tooth number 24: roots is 3; choose 2 or 1"):
        tooth_dimensions(24, roots=3)


@pytest.mark.parametrize("number", [11, 27])
def test_overridden_dimensions_are_those_of_the_surface(number):
    asked = {"crown_length_mm": 9.0, "root_length_mm": 14.5, "crown_md_mm": 8.0}
    asked |= {"crown_bl_mm": 9.5, "cervix_md_mm": 6.5, "cervix_bl_mm": 7.5}
    surface = tooth_surface(tooth_dimensions(number, asked), spacing_mm=0.1)
    low, high = surface.points.min(axis=0), surface.points.max(axis=0)
    crown = np.ptp(surface.points[surface.points[:, 2] > 0.0, :2], axis=0)
    cut = split_surface(surface, crest_plane(0.0))
    neck = np.ptp(cut.points[np.abs(cut.points[:, 2]) < 1e-9, :2], axis=0)
    # The tolerance is the resolution of the contour, a quarter of its 0.1 mm grid.
    assert [high[2], -low[2], *crown, *neck] == pytest.approx(list(asked.values()), abs=0.025)


def test_roots_follow_the_tooth_unless_they_are_stated():
    plain = tooth_dimensions(36)
    changed = tooth_dimensions(36, {"root_length_mm": 16.8, "distal_length_mm": 11.0})
    mesial, distal = changed.roots
    assert mesial.length_mm == pytest.approx(plain.roots[0].length_mm * 1.2)
    assert distal.length_mm == 11.0
    wider = tooth_dimensions(36, {"cervix_md_mm": 10.8, "mesial_buccal_tilt_deg": 4.0})
    assert wider.roots[1].offset_mm[0] == pytest.approx(1.2 * plain.roots[1].offset_mm[0])
    assert wider.roots[0].tilt_deg == (plain.roots[0].tilt_deg[0], 4.0)
    shorter = tooth_dimensions(36, {"mesial_length_mm": 12.0, "distal_length_mm": 13.0})
    assert shorter.root_length_mm == 13.0


@pytest.mark.parametrize(
    ("number", "overrides", "message"),
    [
        (
            21,
            {"root_lenght_mm": 12.0},
            r"tooth 21.*'root_lenght_mm'.*did you mean 'root_length_mm'",
        ),
        (21, {"trunk_mm": 4.0}, "unknown"),
        (21, {"root_length_mm": 130.0}, "'root_length_mm' is 130; it must lie from 4 to 25"),
        (21, {"root_length_mm": float("nan")}, "give a number from 4 to 25"),
        (21, {"root_length_mm": "12"}, "is '12'; give a number"),
        (36, {"distal_tilt_deg": 3.0}, "unknown"),
        (36, {"distal_length_mm": 4.5}, "distal root of 4.5 mm leaves 1.20 mm below the furcation"),
    ],
)
def test_senseless_overrides_are_refused(number, overrides, message):
    with pytest.raises(ValueError, match=message):
        tooth_dimensions(number, overrides)
