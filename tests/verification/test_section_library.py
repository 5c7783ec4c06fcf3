"""Section constants against sectionproperties, an independent library of finite elements."""

from functools import cache

import pytest

from fem.section import rectangular_section, round_section

# Not on every platform: pyproject.toml.
analysis = pytest.importorskip("sectionproperties.analysis")
pre = pytest.importorskip("sectionproperties.pre")
shapely = pytest.importorskip("shapely.geometry")

# Name: width, height, corner radius in mm.
SHARP = {
    "0.016 × 0.022 in": (0.5588, 0.4064, 0.0),
    "0.017 × 0.025 in upright": (0.4318, 0.635, 0.0),
    "ribbon": (1.6, 0.4, 0.0),
}
ROUNDED = {
    "square 0.016 in": (0.4064, 0.4064, 0.12),
    "0.017 × 0.025 in": (0.635, 0.4318, 0.155),
    "0.019 × 0.025 in upright": (0.4826, 0.635, 0.05),
    "round ends": (0.8, 0.4, 0.2),
}
_ARC = 64  # chords a quarter circle, which lose 1e-4 of the circle's area and 2e-4 of its I and J


@cache
def meshed(width, height, radius):
    """Area, both second moments, torsion constant and modulus by finite elements."""
    if radius == width / 2 == height / 2:
        outline = shapely.Point(0, 0).buffer(radius, quad_segs=_ARC)
    else:
        inner = shapely.box(
            radius - width / 2, radius - height / 2, width / 2 - radius, height / 2 - radius
        )
        outline = inner.buffer(radius, quad_segs=_ARC) if radius else inner
    mesh = pre.Geometry(outline).create_mesh(mesh_sizes=[outline.area / 1000])
    section = analysis.Section(mesh)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    about_width, about_height, _ = section.get_ic()
    stress = section.calculate_stress(mzz=1.0).get_stress()[0]["sig_zxy_mzz"]
    J = section.get_j()
    return section.get_area(), about_width, about_height, J, 1 / abs(stress).max()


def check(section, size, rel):
    area, up, across, J, modulus = meshed(*size)
    assert section.area_mm2 == pytest.approx(area, rel=rel)
    assert section.I_height_mm4 == pytest.approx(up, rel=rel)
    assert section.I_width_mm4 == pytest.approx(across, rel=rel)
    assert section.torsion_mm4 == pytest.approx(J, rel=max(rel, 2e-5))
    # Stress is smoothed to the nodes there, so it is the mesh that sets this bound.
    assert section.torsion_modulus_mm3 == pytest.approx(modulus, rel=1e-2)


@pytest.mark.parametrize("size", SHARP.values(), ids=SHARP.keys())
def test_sharp_rectangle(size):
    check(rectangular_section(*size), size, 1e-12)


@pytest.mark.parametrize("size", ROUNDED.values(), ids=ROUNDED.keys())
def test_rounded_rectangle(size):
    """Within what the chords of the arcs lose in the library's outline."""
    check(rectangular_section(*size), size, 2e-4)


def test_round():
    diameter = 0.4064
    check(round_section(diameter), (diameter, diameter, diameter / 2), 3e-4)
