"""The free run of an engaged wire as a 3D solid with finite rotations, against its rod."""

import numpy as np
import pytest

from fem.appliance import Unit
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.cantilever_solid import run_solid, solid_point
from fem.material import Elastic
from fem.section import rectangular_section, round_section
from geometry.wire_features import Helix
from geometry.wire_path import Straight

MOUTHS = (np.zeros(3), np.array([4.0, 0, 0]))
HOOK = np.array([18.0, 1.5, 0.5])
BETA_TI = Elastic(65e3, 0.3)
HELIX = (Straight(3.0), Helix(1.0, 1.25, 0.7, "-height"))


def cantilever(bar, run=(), material=BETA_TI, round_mm=None, **section):
    sites = CantileverSites(MOUTHS, np.eye(3), HOOK, bar, np.array([0.0, 0, 1]))
    units = (Unit("tube", np.zeros(3), None), Unit("hook", HOOK, None))
    size = round_section(round_mm) if round_mm else rectangular_section(0.635, 0.4318, **section)
    return Cantilever(sites, WireDesign(size, material, 1.0, 30, run), units)


@pytest.mark.parametrize("run", [(), HELIX], ids=["straight", "helix"])
@pytest.mark.parametrize("bar", [np.array([1.0, 0.2, 0.1]), None], ids=["bar", "tied"])
def test_rod_and_solid_need_the_same_force(run, bar):
    """Deflected by 40 % of the span; independent formulation (total Lagrangian, 3D)."""
    design = cantilever(bar, run)
    solved = solve_for_offset(design, 0.4 * design.sites.span_mm)
    point = solid_point(design, solved)
    assert np.linalg.norm(point.solid_N - point.rod_N) < 0.015 * np.linalg.norm(point.rod_N)
    assert point.largest_strain < 0.05


def test_round_rod_and_solid_need_the_same_force():
    """A round wire has no edges to be rounded: it is swept; independent formulation."""
    design = cantilever(np.array([1.0, 0.2, 0.1]), round_mm=1.2)
    point = solid_point(design, solve_for_offset(design, 0.1 * design.sites.span_mm))
    assert np.linalg.norm(point.solid_N - point.rod_N) < 0.015 * np.linalg.norm(point.rod_N)


def test_a_stiffer_solid_needs_more_force():
    """Force between the same ends is proportional to the modulus (dimensional analysis)."""
    design = cantilever(np.array([1.0, 0, 0]))
    solved = solve_for_offset(design, 2.0)
    own = solid_point(design, solved)
    other = solid_point(
        design, solved, run_solid(cantilever(None, material=Elastic(78e3, 0.3)), solved)
    )
    assert other.force_ratio == pytest.approx(1.2 * own.force_ratio, rel=1e-6)


def test_rounded_edges_are_not_swept():
    design = cantilever(None, corner_radius_mm=0.05)
    with pytest.raises(ValueError, match="rounded edges"):
        run_solid(design, solve_for_offset(design, 1.0))
