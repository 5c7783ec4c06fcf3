"""Sections against published torsion constants, stiffness numbers and shear factors."""

import numpy as np
import pytest

from fem.fibre import corner_radius_for_area
from fem.material import Elastic
from fem.section import rectangle_moments, rectangular_section, round_section

INCH = 25.4


def test_torsion_does_not_ask_which_side_is_up():
    upright, flat = rectangular_section(0.4, 0.6), rectangular_section(0.6, 0.4)
    assert upright.torsion_mm4 == flat.torsion_mm4
    assert upright.I_height_mm4 == flat.I_width_mm4


def test_order_of_the_law():
    section, steel = rectangular_section(0.6, 0.4), Elastic(2e5, 0.25)
    EA, V2, V3, GJ, EI2, EI3 = section.stiffness(steel)
    assert pytest.approx(2e5 * 0.24) == EA
    assert V2 == V3
    assert pytest.approx(8e4 * section.torsion_mm4) == GJ
    assert pytest.approx(2e5 * 0.6 * 0.4**3 / 12) == EI2
    assert pytest.approx(2e5 * 0.4 * 0.6**3 / 12) == EI3


def test_extreme_fibre_stress():
    """6M/(b h²) for a rectangle, 32M/(πd³) for a circle, √3 τ in torsion (textbook)."""
    rectangle, circle = rectangular_section(0.6, 0.4), round_section(0.5)
    bend = np.array([0, 0, 0, 0, 2.0, 0])
    assert rectangle.peak_stress_MPa(bend) == pytest.approx(6 * 2 / (0.6 * 0.4**2))
    both = np.array([0, 0, 0, 0, 3.0, 4.0])
    assert circle.peak_stress_MPa(both) == pytest.approx(32 * 5 / (np.pi * 0.5**3))
    twist = np.array([0, 0, 0, 1.0, 0, 0])
    assert circle.peak_stress_MPa(twist) == pytest.approx(np.sqrt(3) * 16 / (np.pi * 0.5**3))


def test_a_square_rounded_to_the_full_is_a_circle():
    """πd⁴/32 and πd³/16 (textbook); every other constant too."""
    rounded, circle = rectangular_section(0.5, 0.5, 0.25), round_section(0.5)
    for name in (
        "area_mm2",
        "I_height_mm4",
        "I_width_mm4",
        "torsion_mm4",
        "torsion_modulus_mm3",
        "corner_radius_mm",
    ):
        assert getattr(rounded, name) == pytest.approx(getattr(circle, name), rel=1e-12)


def test_round_ends():
    """Second moments of a square between two half circles (textbook, parallel axes)."""
    r, side = 0.2, 0.4
    area, up, across = rectangle_moments(0.8, 0.4, r)
    assert area == pytest.approx(side**2 + np.pi * r**2)
    assert up == pytest.approx(side**4 / 12 + np.pi * r**4 / 4)
    centroid = 4 * r / (3 * np.pi)
    half = np.pi * r**4 / 8 - np.pi * r**2 / 2 * centroid**2
    ends = 2 * (half + np.pi * r**2 / 2 * (side / 2 + centroid) ** 2)
    assert across == pytest.approx(side**4 / 12 + ends)


def test_a_vanishing_radius_is_a_sharp_corner():
    """Two different series, of which one is the published one, must meet."""
    nearly, sharp = rectangular_section(0.64, 0.43, 1e-4), rectangular_section(0.64, 0.43)
    assert nearly.torsion_mm4 == pytest.approx(sharp.torsion_mm4, rel=1e-5)
    assert nearly.torsion_modulus_mm3 == pytest.approx(sharp.torsion_modulus_mm3, rel=1e-3)


@pytest.mark.parametrize("angle", np.radians([0, 20, 45, 70, 90]))
@pytest.mark.parametrize("radius", [0.0, 0.1, 0.2])
def test_extreme_fibre_of_rounded_corners(angle, radius):
    """Greatest of M₂ x₃/I₂ + M₃ x₂/I₃ over points of the edge (Navier, beam theory)."""
    section = rectangular_section(0.6, 0.4, radius)
    M2, M3 = 3 * np.cos(angle), 3 * np.sin(angle)
    t = np.linspace(0, np.pi / 2, 2001)
    x2, x3 = 0.3 - radius + radius * np.cos(t), 0.2 - radius + radius * np.sin(t)
    edge = M2 * x3 / section.I_height_mm4 + M3 * x2 / section.I_width_mm4
    stress = section.peak_stress_MPa(np.array([0, 0, 0, 0, M2, M3]))
    assert stress == pytest.approx(edge.max(), rel=1e-6)


@pytest.mark.parametrize("sides", [(0.025, 0.019), (0.022, 0.016), (0.025, 0.017)])
def test_rounded_edges_of_wire(sides):
    """Rucker & Kusy 2002, AJODO 122:528–541: area 7–8 %, bending stiffness 15–19 % less."""
    width, height = (side * INCH for side in sides)
    sharp = rectangular_section(width, height)
    real = rectangular_section(width, height, corner_radius_for_area(width, height, 0.075))
    assert real.area_mm2 == pytest.approx(0.925 * sharp.area_mm2)
    for name in ("I_height_mm4", "I_width_mm4"):
        assert 0.15 < 1 - getattr(real, name) / getattr(sharp, name) < 0.19


@pytest.mark.parametrize("radius", [-0.1, 0.21])
def test_a_radius_must_fit(radius):
    with pytest.raises(ValueError, match=r"half the smaller side, 0\.2 mm"):
        rectangular_section(0.6, 0.4, radius)


@pytest.mark.parametrize("make", [lambda: round_section(0.0), lambda: rectangular_section(1, -1)])
def test_sizes_must_be_positive(make):
    with pytest.raises(ValueError, match="positive"):
        make()


@pytest.mark.parametrize(("E", "nu", "key"), [(-1, 0.3, "youngs_modulus"), (1, 0.5, "poisson")])
def test_elastic_constants_have_ranges(E, nu, key):
    with pytest.raises(ValueError, match=key):
        Elastic(E, nu)
