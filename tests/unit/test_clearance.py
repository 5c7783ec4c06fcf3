"""Points inside and outside of closed surfaces."""

import numpy as np
import pytest

from geometry.anatomy import tooth_dimensions
from geometry.clearance import inside
from geometry.surface import sphere_surface
from geometry.tooth import tooth_surface


def test_sphere():
    rng = np.random.default_rng(1)
    directions = rng.standard_normal((50, 3))
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    radii = np.concatenate([np.full(25, 1.9), np.full(25, 2.1)])
    found = inside(directions * radii[:, None], sphere_surface(2.0, 3))
    assert found.tolist() == [True] * 25 + [False] * 25


def test_furcation_is_outside_the_tooth():
    """Between the roots of a lower molar there is bone."""
    surface = tooth_surface(tooth_dimensions(37), 0.5)
    places = np.array([[0, 0, 3.0], [0, 0, -9.0], [2.5, 0, -6.0], [0, 9.0, 3.0]])
    assert inside(places, surface).tolist() == [True, False, True, False]


def test_needs_no_particular_place():
    shifted = sphere_surface(2.0, 2)
    assert inside(np.array([[0.0, 0, 0]]), shifted) == pytest.approx(True)
