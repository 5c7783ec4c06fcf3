"""Sections: order of their constants, corners that vanish, sizes that are refused."""

import pytest

from fem.material import Elastic
from fem.section import rectangular_section, round_section


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


def test_a_square_rounded_to_the_full_has_the_radius_of_a_circle():
    assert (
        rectangular_section(0.5, 0.5, 0.25).corner_radius_mm == round_section(0.5).corner_radius_mm
    )


def test_a_vanishing_radius_is_a_sharp_corner():
    """Two different series, of which one is the published one, must meet."""
    nearly, sharp = rectangular_section(0.64, 0.43, 1e-4), rectangular_section(0.64, 0.43)
    assert nearly.torsion_mm4 == pytest.approx(sharp.torsion_mm4, rel=1e-5)
    assert nearly.torsion_modulus_mm3 == pytest.approx(sharp.torsion_modulus_mm3, rel=1e-3)


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
