"""Inelastic wires in appliances: permanent set, plateaus, and the elastic limit."""

from dataclasses import replace

import numpy as np
import pytest

from fem.appliance import Appliance, EquilibriumError, Unit
from fem.appliance_system import solve_equilibrium
from fem.attachment import DeadForce, LimitedContact, PointContact, bar_contact, two_point_contact
from fem.fibre import FibreSection, rectangular_fibres, round_fibres
from fem.fibre_rod import passive_fibre_rod
from fem.inelastic import follow, permanent_set_mm, release
from fem.material import Elastic
from fem.rigid import rotation
from fem.rod import passive_rod
from fem.section import rectangular_section, round_section
from fem.uniaxial import ElasticPlastic, LinearElastic, Superelastic
from workflow.verification.inelastic_wires import (
    ALONG,
    FIRST_YIELD_MM,
    FIRST_YIELD_N,
    HOOK,
    UP,
    WALLS,
    hook_force,
    soft_wire,
    work_done,
)


def cut(points, axes, lengths, mouth, fibres, shear_torsion, hook, bar, units):
    wire, state = passive_fibre_rod(points, axes, lengths, fibres, shear_torsion)
    tube = two_point_contact(0, (0, mouth), (points[0], points[mouth]), axes[0])
    end = bar_contact(1, len(points) - 1, hook, bar, points[-1])
    return Appliance(wire.rod, state.frames, units, (*tube, end)), wire


# --- a wire through two points, loaded past yield: small deflection ---------------------------


def test_plastic_moment_is_the_most_the_wire_bears():
    """Far beyond yield the moment at the mouth nears ``M_p = 1.5 M_y`` (rectangle, textbook)."""
    held, wire = soft_wire(2.1 * FIRST_YIELD_MM)
    (point,) = follow(held, wire, [1.0])
    force = float(np.linalg.norm(hook_force(point)))
    assert 1.48 * FIRST_YIELD_N < force < 1.5 * FIRST_YIELD_N


# --- within the limit --------------------------------------------------------------------------

STEEL = ElasticPlastic(170e3, 1400.0, 5e3)
SUPPORT = np.diag([200.0, 200.0, 100.0, 3000.0, 3000.0, 800.0])
SOFT_UNITS = (Unit("tube", np.array([1, 1.0, -8]), SUPPORT), Unit("hook", ALONG, 3 * SUPPORT))


def bent_frames(turn=0.6, radius=1.0):
    """Tube, one bend at the mouth upward in its plane, straight run: points, axes, lengths."""
    lengths = np.concatenate([np.full(4, 1.0), np.full(4, turn * radius / 4), np.full(40, 0.4)])
    turns = np.concatenate([np.zeros(4), np.full(4, turn / 4), np.zeros(40)])
    points, axes, angle = [np.zeros(3)], [np.eye(3)], 0.0
    for length, step in zip(lengths, turns, strict=True):
        chord = length * np.sinc(step / 2 / np.pi)
        points.append(
            points[-1] + chord * np.array([np.cos(angle + step / 2), 0, np.sin(angle + step / 2)])
        )
        angle += step
        axes.append(rotation(np.array([0.0, -angle, 0.0])))
    return np.array(points), np.array(axes), lengths


def bent_cantilever(law, offset, units=SOFT_UNITS):
    points, axes, lengths = bent_frames()
    fibres = FibreSection(round_fibres(0.4064, 12, 25), law)
    shear_torsion = round_section(0.4064).stiffness(Elastic(law.initial_modulus_MPa, 0.3))[1:4]
    hook = points[-1] + offset
    bar = np.array([1.0, 0.3, -0.2])
    return cut(points, axes, lengths, 4, fibres, shear_torsion, hook, bar, units)


@pytest.mark.parametrize("law", [LinearElastic(170e3), STEEL], ids=["elastic", "steel"])
def test_within_the_limit_it_is_the_elastic_appliance(law):
    """Bent wire, both units moving, led in all directions: the same as the elastic solution."""
    held, wire = bent_cantilever(law, np.array([0.0, 0.8, -1.5]))
    stiffness = round_section(0.4064).stiffness(Elastic(170e3, 0.3))
    points, axes, lengths = bent_frames()
    rod = passive_rod(points, axes, lengths, stiffness)
    elastic = solve_equilibrium(replace(held, rod=rod))
    (point,) = follow(held, wire, [1.0])
    assert point.stress_MPa.max() < 1400.0
    for found, expected in zip(point.equilibrium.loads, elastic.loads, strict=True):
        scale = np.abs(expected.wrench).max()
        assert found.wrench == pytest.approx(expected.wrench, abs=1e-8 * scale)
    assert point.equilibrium.motions == pytest.approx(elastic.motions, abs=1e-10)
    resting = release(held, wire, point, [HOOK])
    assert np.abs(permanent_set_mm(held, resting)).max() < 1e-8


def test_a_contact_at_its_wall_is_a_closed_contact():
    """Play p at the hook, the wire at its wall: the activation of the wall's place (Signorini)."""
    held, wire = soft_wire(1.3 * FIRST_YIELD_MM)
    point = held.contacts[HOOK]
    along = (PointContact(point.node, 1, point.place, UP[None], np.array([-1.3 * FIRST_YIELD_MM])),)
    wall = LimitedContact(along[0], 0.3 * FIRST_YIELD_MM, 1e-4, side=-1)
    across = PointContact(point.node, 1, point.place, np.eye(3)[1][None], np.zeros(1))
    walled = replace(held, contacts=(*held.contacts[:HOOK], across, wall))
    (first,) = follow(walled, wire, [1.0])
    nearer, wire = soft_wire(1.0 * FIRST_YIELD_MM)
    (second,) = follow(nearer, wire, [1.0])
    force = first.equilibrium.loads[-1].wrench[2]
    assert force == pytest.approx(hook_force(second)[2], rel=1e-6)


# --- superelastic ------------------------------------------------------------------------------


def test_superelastic_wire_gives_less_on_its_way_back_and_keeps_no_set():
    """Large deflection: less force on the way back, zero set above the austenite finish.

    The work lost is at most the share 1 − 250/560 of the work put in, which every fibre would
    lose that went all along both plateaus (mean stresses of the law).
    """
    x = np.concatenate([np.linspace(0, 4, 7), np.linspace(4, 16, 25)[1:]])
    points, axes = x[:, None] * ALONG, np.tile(np.eye(3), (len(x), 1, 1))
    niti = Superelastic(60e3, 520.0, 600.0, 300.0, 200.0, 0.075)
    section = FibreSection(rectangular_fibres(0.56, 0.41, across_height=60), niti)
    stiff = rectangular_section(0.56, 0.41).stiffness(Elastic(60e3, 0.33))[1:4]
    hook = points[-1] + 6.0 * UP
    held, wire = cut(points, axes, np.diff(x), 6, section, stiff, hook, ALONG, WALLS)
    up = np.linspace(0.125, 1, 8)
    path = follow(held, wire, [*up, *up[-2::-1], 0.0], longest_step=0.02)
    forces = np.abs([0.0] + [hook_force(p) @ UP for p in path])
    going, coming = forces[1:8], forces[15:8:-1]
    assert np.all(coming[2:] < 0.9 * going[2:])
    assert coming[0] == pytest.approx(going[0], rel=1e-6)  # below the plateaus it is elastic
    assert np.abs(permanent_set_mm(held, path[-1])).max() < 1e-6
    resting = release(held, wire, path[7], [HOOK])
    assert np.abs(permanent_set_mm(held, resting)).max() < 1e-6
    way = 6.0 * np.array([0.0, *up, *up[-2::-1], 0.0])
    lost, put_in = np.trapezoid(forces, way), np.trapezoid(forces[:9], way[:9])
    assert 0.1 * put_in < lost < (1 - 250 / 560) * put_in


# --- laws of mechanics -------------------------------------------------------------------------


def over_activated(turn):
    """Steel wire in space, bent past yield and let back, everything turned by one rotation."""
    held, wire = bent_cantilever(STEEL, np.array([0.0, 4.0, -9.0]))
    Q = rotation(turn)
    six = np.kron(np.eye(2), Q)
    units = tuple(
        replace(u, point=Q @ u.point, stiffness=six @ u.stiffness @ six.T) for u in held.units
    )
    points, axes, lengths = bent_frames()
    hook = held.contacts[HOOK].place
    turned, wire = cut(
        points @ Q.T,
        Q @ axes,
        lengths,
        4,
        wire.section,
        wire.law[1:4],
        Q @ hook,
        Q @ np.array([1.0, 0.3, -0.2]),
        units,
    )
    points = follow(turned, wire, [1.0, 1.1, 1.0])
    return turned, (*points, release(turned, wire, points[-1], [HOOK]))


def test_a_turned_appliance_has_turned_answers():
    """No direction of space is special, past yield and after release (objectivity)."""
    turn = np.array([0.7, -1.1, 0.4])
    Q = rotation(turn)
    first, plain = over_activated(np.zeros(3))
    second, turned = over_activated(turn)
    for one, other in zip(plain, turned, strict=True):
        expected = one.equilibrium.state.points @ Q.T
        assert other.equilibrium.state.points == pytest.approx(expected, abs=1e-9)
        expected = Q @ hook_force(one)
        assert hook_force(other) == pytest.approx(expected, abs=1e-9)
    left = permanent_set_mm(first, plain[-1])
    assert np.linalg.norm(left[-1]) > 0.5
    assert permanent_set_mm(second, turned[-1]) == pytest.approx(left @ Q.T, abs=1e-9)


def test_free_body_balances_past_yield():
    """What the wire exerts on both units sums to nothing, and each support bears it (statics)."""
    held, points = over_activated(np.zeros(3))
    at = np.array([7.0, -3.0, 11.0])
    for point in points[:-1]:
        total = sum(point.equilibrium.wrench_on(unit, at) for unit in (0, 1))
        force = np.linalg.norm(hook_force(point))
        assert np.linalg.norm(total[:3]) < 1e-8 * force
        assert np.linalg.norm(total[3:]) < 1e-7 * force
        for index, unit in enumerate(held.units):
            borne = unit.stiffness @ point.equilibrium.motions[index]
            wrench = point.equilibrium.wrench_on(index, unit.point)
            assert borne == pytest.approx(wrench, abs=1e-7 * force)


def test_a_closed_cycle_takes_work():
    """Up, back and up again with yield both ways: no cycle gives work (Drucker's postulate)."""
    most = 5.0 * FIRST_YIELD_MM
    held, wire = soft_wire(most, ElasticPlastic(200e3, 20.0, 20e3))
    shares = [*np.linspace(0.1, 1, 10), *np.linspace(0.9, 0, 10), *np.linspace(0.1, 1, 10)]
    work = work_done(follow(held, wire, shares), most, shares)
    elastic = 0.5 * FIRST_YIELD_N * FIRST_YIELD_MM
    assert work[30] - work[10] > elastic
    assert work[20] > elastic


# --- what it refuses ---------------------------------------------------------------------------


def test_bad_input_is_told():
    held, wire = soft_wire(FIRST_YIELD_MM)
    with pytest.raises(ValueError, match=r"activation share -0\.5"):
        follow(held, wire, [1.0, -0.5])
    with pytest.raises(ValueError, match="longest_step"):
        follow(held, wire, [1.0], longest_step=0.0)
    other, _ = bent_cantilever(STEEL, UP)
    with pytest.raises(ValueError, match="cut both alike"):
        follow(other, wire, [1.0])
    (point,) = follow(held, wire, [0.5])
    with pytest.raises(ValueError, match=r"contacts \[7\] to let go: there are 4"):
        release(held, wire, point, [7])
    with pytest.raises(ValueError, match="hold 3 of the six ways"):
        release(held, wire, point, [0, HOOK])


def test_how_far_a_wire_was_followed_is_told():
    """A dead load beyond the plastic collapse load, 1.5 M_y/L: followed to where it collapses."""
    held, wire = soft_wire(0.0)
    load = DeadForce(len(held.passive.points) - 1, 2.0 * FIRST_YIELD_N * UP)
    loaded = Appliance(held.rod, held.passive, WALLS, held.contacts[:HOOK], (load,))
    with pytest.raises(EquilibriumError, match=r"followed to 7\d\.\d %"):
        follow(loaded, wire, [1.0])
