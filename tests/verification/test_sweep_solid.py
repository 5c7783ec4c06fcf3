"""Bent wires as solids against the rod, against closed forms and against published cantilevers."""

import numpy as np
import pytest
from skfem import Basis, ElementHex2, ElementVector

from fem.appliance import Appliance, Unit
from fem.appliance_system import solve_equilibrium
from fem.attachment import DeadForce, clamp_contact
from fem.elasticity import elastic_energy
from fem.material import Elastic
from fem.rigid import rotation
from fem.rod import RodState, passive_rod
from fem.section import rectangular_section, round_section
from fem.sweep_compare import rod_against_solid, rod_tip_compliance
from fem.sweep_mesh import swept_mesh
from fem.sweep_rotation import bend_by_force, bend_to
from fem.sweep_solid import tip_response, wire_solid
from fem.sweep_stress import surface_stress
from geometry.wire_features import Helix, ULoop
from geometry.wire_path import Bend, Straight, sweep

STEEL = Elastic(200e3, 0.3)
ROUND = round_section(0.4)
SQUARE = rectangular_section(0.4, 0.4)
START, AXES = np.zeros(3), np.eye(3)
LOOP = (Straight(2.0), Helix(1, 1.0, 0.8, "width"), Straight(2.0))
U_LOOP = (Straight(2.0), ULoop(4.0, 3.0, 1.0, "width"), Straight(2.0))
X, Y, Z, RX = 0, 1, 2, 3


def path(features, piece_mm=0.5, turn=0.1):
    return sweep(features, START, AXES, piece_mm=piece_mm, largest_turn_rad=turn)


def test_volume_of_a_swept_wire():
    """Area times length of the axis (Pappus): the axis passes through the section's centroid.

    The rim of the disc is drawn by eight parabolas, 8e-4 of its area short (measured).
    """
    wire = path(LOOP, turn=0.2)
    for section, short in ((rectangular_section(0.4, 0.5), 1e-5), (ROUND, 1e-3)):
        mesh = swept_mesh(wire, section).mesh
        volume = Basis(mesh, ElementHex2(), intorder=4).dx.sum()
        assert volume == pytest.approx(section.area_mm2 * wire.length_mm, rel=short)


def test_bend_within_the_wire_is_refused():
    with pytest.raises(ValueError, match="fold over"):
        swept_mesh(path((Bend(1.0, 0.19, "height"),)), ROUND)


def test_tangent_at_rest_is_the_linear_form():
    solid = wire_solid(path((Bend(0.4, 1.0, "height"),), turn=0.2), SQUARE, STEEL, (1, 1))
    _, K = solid.internal(np.zeros(solid.unknowns))
    space = Basis(solid.swept.mesh, ElementVector(ElementHex2()), intorder=4)
    lame, shear = STEEL.lame_MPa, STEEL.shear_modulus_MPa
    oracle = elastic_energy.assemble(space, lame=lame, shear=shear).tocsr()
    # scikit-fem numbers vectors by vertices, edges, facets, cells, three components each.
    parts = (space.nodal_dofs, space.edge_dofs, space.facet_dofs, space.interior_dofs)
    order = np.concatenate([part.T.ravel() for part in parts])
    assert abs(oracle[order][:, order] - K).max() < 1e-12 * abs(K).max()


def test_tangent_is_the_derivative_of_the_forces():
    solid = wire_solid(path((Bend(0.4, 1.0, "height"),), turn=0.2), SQUARE, STEEL, (1, 1))
    rng = np.random.default_rng(1)
    u, along = rng.normal(scale=0.01, size=(2, solid.unknowns))
    _, K = solid.internal(u)
    step = 1e-4
    numeric = (solid.internal(u + step * along)[0] - solid.internal(u - step * along)[0]) / 2 / step
    assert numeric == pytest.approx(K @ along, abs=1e-7 * np.abs(K @ along).max())


def test_rigid_turn_strains_nothing():
    solid = wire_solid(path(LOOP, turn=0.4), SQUARE, STEEL, (1, 1))
    x = solid.swept.mesh.doflocs.T
    u = (x @ rotation(np.array([0.7, -1.1, 0.4])).T - x + [1.0, 2.0, 3.0]).ravel()
    forces, K = solid.internal(u)
    assert np.abs(forces).max() < 1e-12 * abs(K).max()


@pytest.mark.parametrize(
    ("features", "section"),
    [((Straight(10.0),), ROUND), ((Straight(10.0),), SQUARE), (LOOP, ROUND), (U_LOOP, ROUND)],
    ids=["straight round", "straight square", "closed loop", "U loop"],
)
def test_solid_has_the_stiffness_of_the_rod(features, section):
    """Within 1 % for a force in any direction: two models that share only path and constants."""
    wire = path(features)
    by_solid, _ = tip_response(wire_solid(wire, section, STEEL))
    by_rod = rod_tip_compliance(wire, section, STEEL)
    assert by_solid == pytest.approx(by_solid.T, abs=1e-6 * np.abs(by_solid).max())
    assert np.diag(by_solid)[:3] == pytest.approx(np.diag(by_rod)[:3], rel=0.01)


def test_published_cantilever():
    """MacNeal & Harder 1985 (Finite Elem. Anal. Des. 1:3–20), straight; the root fully held.

    Digits of high-order solids, derived; beam theory is 0.2 % softer across the thin side.
    """
    # Finer at the root, where the held contraction makes the stress singular.
    wire = path((Straight(0.4), Straight(5.6)), piece_mm=(0.08, 0.28))
    solid = wire_solid(wire, rectangular_section(0.2, 0.1), Elastic(1e7, 0.3), (3, 2))
    C, _ = tip_response(solid, "full")
    exact = {X: 2.9978e-5, Y: 0.10794, Z: 0.43113, RX: 0.034089}
    for place, value in exact.items():
        assert C[place, place] == pytest.approx(value, rel=0.02 if place == RX else 2e-3)


def test_bending_stress_of_a_straight_wire():
    """M/W (textbook), two heights away from the ends."""
    wire = path((Straight(10.0),), piece_mm=0.4)
    solid = wire_solid(wire, SQUARE, STEEL)
    force = 2.0
    _, u = tip_response(solid)
    largest = surface_stress(solid, force * u[:, Z], linear=True).largest_by_piece_MPa()
    moment = force * (10.0 - wire.arc_mm[:-1])
    inner = slice(2, -2)
    expected = (moment / (0.4**3 / 6))[inner]
    assert largest[inner] == pytest.approx(expected, rel=0.02, abs=0.005 * expected[0])


def rod_under_force(wire, section, force):
    rod = passive_rod(wire.points, wire.axes, wire.lengths_mm, section.stiffness(STEEL))
    load = DeadForce(rod.n_elements, np.asarray(force))
    clamp = clamp_contact(0, 0, wire.points[0], wire.axes[0])
    wall = (Unit("wall", np.zeros(3), None),)
    passive = RodState(wire.points, wire.axes)
    state = solve_equilibrium(Appliance(rod, passive, wall, clamp, (load,))).state
    return state.points[-1] - wire.points[-1]


def test_large_bending_of_a_straight_wire():
    """Elastica (Bisshopp & Drucker 1945; Mattiasson 1981), PL²/EI = 1.4, and the rod."""
    wire = path((Straight(10.0),), piece_mm=1.0)
    solid = wire_solid(wire, SQUARE, STEEL, (1, 1))
    EI = STEEL.youngs_modulus_MPa * SQUARE.I_height_mm4
    force = np.array([0.0, 0.0, 1.4 * EI / 100])
    bent = bend_by_force(solid, force, steps=3)
    assert bent.residual < 1e-8
    assert bent.largest_strain < 0.03
    assert bent.force_N == pytest.approx(force, abs=1e-9)
    assert bent.tip_mm[Z] / 10 == pytest.approx(0.391465722235, rel=0.005)
    assert -bent.tip_mm[X] / 10 == pytest.approx(0.0973168133326, rel=0.01)
    assert bent.tip_mm == pytest.approx(rod_under_force(wire, SQUARE, force), abs=0.015 * 4)
    moved = bend_to(solid, float(bent.tip_mm[Z]), AXES[Z], steps=3)
    assert moved.force_N == pytest.approx(force, rel=1e-5, abs=1e-7)


@pytest.mark.slow
def test_large_bending_of_a_closed_loop():
    wire = path(LOOP, turn=0.2)
    bent = bend_to(wire_solid(wire, ROUND, STEEL, (1, 1)), 2.0, AXES[Y], steps=4)
    by_rod = rod_under_force(path(LOOP, turn=0.05), ROUND, bent.force_N)
    assert bent.tip_mm == pytest.approx(by_rod, abs=0.03 * 2.0)


def test_where_the_rod_ends():
    """A tight bend is stiffer than its rod, in its plane by about ``(3/5)(h/2R)²`` (Winkler)."""
    tight, wide = rod_against_solid(SQUARE, STEEL, (1.5, 5.0), shapes=["quarter bend"])
    assert 0.9 < tight.in_plane < 0.96
    assert wide.in_plane == pytest.approx(1.0, abs=0.01)
    with pytest.raises(ValueError, match="shape 'spiral'"):
        rod_against_solid(SQUARE, STEEL, shapes=["spiral"])
