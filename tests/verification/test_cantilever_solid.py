"""The free run of an engaged wire as a 3D solid with finite rotations, against its rod."""

import numpy as np
import pytest

from fem.appliance import Unit
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.cantilever_solid import moved_as_rod, run_solid, solid_point
from fem.material import Elastic
from fem.rod import relative_twists
from fem.section import rectangular_section, round_section
from fem.sweep_rotation import bend_across
from fem.sweep_solid import displacement_gradient, second_piola_MPa
from geometry.wire_features import Helix
from geometry.wire_path import Straight

MOUTHS = (np.zeros(3), np.array([4.0, 0, 0]))
HOOK = np.array([18.0, 1.5, 0.5])
BETA_TI = Elastic(65e3, 0.3)
HELIX = (Straight(3.0), Helix(1.0, 1.25, 0.7, "-height"))
ACROSS = np.eye(3)[1:]


def cantilever(bar, run=(), material=BETA_TI, round_mm=None, towards=(0.0, 0, 1), **section):
    sites = CantileverSites(MOUTHS, np.eye(3), HOOK, bar, np.array(towards))
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


@pytest.fixture(scope="module", params=[(), HELIX], ids=["straight", "helix"])
def engaged(request):
    """Deflected by a third of the span: the solid and the displacements of its rod."""
    design = cantilever(np.array([1.0, 0.2, 0.1]), request.param)
    solved = solve_for_offset(design, design.sites.span_mm / 3)
    solid = run_solid(design, solved)
    return solid, moved_as_rod(solid, solved)


@pytest.fixture(scope="module")
def in_steps(engaged):
    return bent(*engaged)


def bent(solid, as_rod, **how):
    return bend_across(solid, solid.last[:3] @ as_rod, ACROSS, **how)


def assert_same(found, expected):
    force = np.linalg.norm(expected.force_N)
    assert found.force_N == pytest.approx(expected.force_N, abs=1e-6 * force)
    assert found.displacements == pytest.approx(expected.displacements, abs=1e-6)
    assert found.largest_strain == pytest.approx(expected.largest_strain, rel=1e-6)


def test_the_rods_shape_and_the_steps_lead_to_the_same_equilibrium(engaged, in_steps):
    at_once = bent(*engaged, start=engaged[1])
    assert_same(at_once, in_steps)
    assert 3 * at_once.iterations < in_steps.iterations


@pytest.mark.parametrize("torn_mm", [1.0, np.nan])
def test_a_start_from_which_nothing_is_found_leaves_it_to_the_steps(engaged, in_steps, torn_mm):
    torn = np.random.default_rng(0).normal(scale=torn_mm, size=engaged[0].unknowns)
    found = bent(*engaged, start=torn)
    assert_same(found, in_steps)
    assert found.iterations == in_steps.iterations


def test_a_start_leaves_a_section_at_rest_that_is_fully_held(engaged):
    solid, as_rod = engaged
    found = bent(solid, as_rod, hold="full", start=as_rod + 0.01)
    assert np.all(found.displacements.reshape(-1, 3)[solid.swept.arc_mm == 0] == 0)
    assert_same(found, bent(solid, as_rod, hold="full"))


@pytest.mark.parametrize("towards", [(0.0, 0, 1), (0.0, 1, 0)], ids=["height", "width"])
def test_a_solid_that_keeps_to_its_rod_stores_the_rods_energy(towards):
    """Its sections contract and bulge as St Venant's; stiff sections would store 1.35 times it.

    For ν = 0.3, ``(1 − ν)/((1 + ν)(1 − 2 ν))``; a round section, which twists without warping.
    """
    design = cantilever(np.array([1.0, 0.2, 0.1]), round_mm=0.5, towards=towards)
    solved = solve_for_offset(design, design.sites.span_mm / 3)
    solid, rod, mouth = run_solid(design, solved), solved.appliance.rod, solved.path.mouths[1]
    twists = relative_twists(solved.equilibrium.state)
    strain = (twists / rod.lengths_mm[:, None] - rod.passive_strain)[mouth:]
    lengths, law = rod.lengths_mm[mouth:], rod.stiffness[mouth:]
    of_rod = 0.5 * np.einsum("n,ni,nij,nj->", lengths, strain, law, strain)
    H = displacement_gradient(moved_as_rod(solid, solved), solid.nodes, solid.gradients)
    F = np.eye(3) + H
    E = 0.5 * (np.swapaxes(F, -1, -2) @ F - np.eye(3))
    S = second_piola_MPa(F, solid.material)
    assert 0.5 * np.einsum("eq,eqij,eqij->", solid.volumes, S, E) == pytest.approx(of_rod, rel=0.01)
