"""The course of movement: kinematics of rigid bodies, Hooke's law, order of the rule, statics."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fem.appliance import Appliance, Unit
from fem.appliance_system import solve_equilibrium
from fem.attachment import DeadForce, clamp_contact
from fem.cantilever import Cantilever, CantileverSites, WireDesign
from fem.carried import Pose, carried
from fem.closed_form import TwoPointCantilever
from fem.course import course, tube_slip_mm
from fem.course_steps import Bodies, Pace, follow_course
from fem.engage import Alloy, Setup
from fem.fibre import FibreSection, rectangular_fibres
from fem.force_activation import point_at
from fem.material import Elastic
from fem.rigid import rotate_stiffness, rotation
from fem.rod import RodState, passive_rod
from fem.section import rectangular_section
from fem.slot import Slot
from fem.uniaxial import ElasticPlastic

SECTION = rectangular_section(0.635, 0.4318)  # 0.017 × 0.025 in
BETA_TI = Elastic(65e3, 0.3)
ALONG, ASIDE, UP = np.eye(3)
BASE = 4.0
SOFT = np.diag([200.0, 220, 90, 5000, 4500, 900])
FIRM = np.diag([500.0, 420, 190, 15000, 14500, 5900])


def appliance(bar=True, supports=(SOFT, FIRM), tip_deg=25.0):
    """A tipped tooth and an anchor in no symmetric place, and marks on crown and apex of each."""
    axes = rotation(np.radians(tip_deg) * ASIDE)
    mouths = (np.zeros(3), BASE * axes[:, 0])
    hook = mouths[1] + [16.0, -2.0, 3.0]
    direction = np.array([0.9, 0.3, 0.0])
    sites = CantileverSites(mouths, axes, hook, direction if bar else None, UP)
    units = (
        Unit("tooth", np.array([2.0, 5, -12]), supports[0]),
        Unit("anchor", hook + np.array([-3.0, 4, -15]), supports[1]),
    )
    marks = (
        np.array([[2.0, 4, -1], [2, 5, -20]]),
        hook + np.array([[-8.0, 3, 0], [-8, 4, -22], [8, 3, 0], [8, 4, -22]]),
    )
    return Setup(Cantilever(sites, WireDesign(SECTION, BETA_TI, 1.0, 10), units)), marks


@cache
def followed(step=0.2, order=2):
    setup, marks = appliance()
    return course(setup, 6.0, marks, Pace(step, 4.0, 0.05, order=order))


def ends(found, marks):
    """Marked points at the end of a course."""
    poses = found.points[-1].poses
    return np.concatenate([pose.points(own) for pose, own in zip(poses, marks, strict=True)])


def held_bar(K, forces):
    """A wire of three nodes clamped in its middle to a tooth, loaded by dead forces on nodes."""
    points = np.array([[-5.0, 0, 0], [0, 0, 0], [5, 0, 0]])
    axes = np.tile(np.eye(3), (3, 1, 1))
    rod = passive_rod(points, axes, np.array([5.0, 5.0]), SECTION.stiffness(Elastic(1e9, 0.3)))
    units = (Unit("tooth", np.zeros(3), K), Unit("other", np.zeros(3), None))
    loads = tuple(DeadForce(node, np.asarray(force)) for node, force in forces)
    bar = Appliance(rod, RodState(points, axes), units, clamp_contact(0, 1, np.zeros(3), np.eye(3)))
    marks = (np.array([[0.0, 0, 9], [0, 0, -8]]), np.zeros((1, 3)))
    return Bodies(replace(bar, forces=loads), marks, (True, True))


def test_a_dead_force_through_the_centre_of_resistance_moves_a_tooth_straight():
    """Definition of the centre of resistance: no turn, every point moves alike, along K⁻¹ F.

    A support alike in all directions: the force then keeps to the centre as that gives way.
    """
    even = np.diag([200.0, 200, 200, 5000, 4500, 900])
    way = np.array([0.3, -0.2, 0.5])
    found = follow_course(held_bar(even, [(1, way)]), Pace(0.5, 4.0, 0.0))
    for point in found.points:
        pose = point.poses[0]
        assert pose.turn == pytest.approx(np.eye(3), abs=1e-9)
        assert pose.shift == pytest.approx(point.moved_mm * way / np.linalg.norm(way), abs=1e-8)
    assert found.points[-1].moved_mm == 4.0
    assert not found.at_floor


def test_a_dead_couple_turns_a_tooth_about_its_centre_of_resistance():
    """A couple does not move the centre; the crown, 9 mm off, runs along a circle by its arc."""
    couple = [(0, [0, 0, 0.4]), (2, [0, 0, -0.4])]
    found = follow_course(held_bar(SOFT, couple), Pace(0.5, 4.0, 0.0))
    for point in found.points:
        angle = point.moved_mm / 9.0
        assert point.poses[0].shift == pytest.approx(np.zeros(3), abs=1e-8)
        crown = point.poses[0].points(np.array([0.0, 0, 9]))
        assert crown == pytest.approx(9 * (np.sin(angle) * ALONG + np.cos(angle) * UP), abs=1e-7)


def test_the_force_fades_as_the_wire_is_let_back():
    """Where the hook alone moves, along the activation, it goes down the force–activation curve."""
    setup, marks = appliance(supports=(None, np.diag([1e9, 1e9, 20.0, 1e12, 1e12, 1e12])))
    found = course(setup, 6.0, marks, Pace(0.3, 9.0, 0.1))
    for point in found.points:
        expected = point_at(setup, 6.0, 6.0 - point.moved_mm)
        assert np.linalg.norm(point.force_N) == pytest.approx(expected.force_N, rel=1e-6)
        middle = setup.cantilever.sites.tube_middle
        couple = np.linalg.norm(point.couple_Nmm(middle))
        assert couple == pytest.approx(expected.couple_Nmm, rel=1e-6)
        assert point.offset_mm(UP) == pytest.approx(6.0 - point.moved_mm, abs=1e-5)
    assert found.at_floor
    assert np.linalg.norm(found.points[-1].force_N) == pytest.approx(0.1, abs=1e-8)


def test_a_course_without_a_floor_tells_where_the_force_has_faded():
    """Where the hook alone moves, along the activation, the wire is at rest after all of it."""
    setup, marks = appliance(supports=(None, np.diag([1e9, 1e9, 20.0, 1e12, 1e12, 1e12])))
    with pytest.raises(ValueError, match=r"floor_N = 0: .*faded after (5\.99|6) mm of 9 mm"):
        course(setup, 6.0, marks, Pace(0.3, 9.0, 0.0))


def test_of_a_linear_spring_half_the_force_is_left_half_way():
    """F = (a − s)/(1/k + 1/K) (Hooke; k of a Timoshenko beam on two supports)."""
    hook, small, k = 24.0 * ALONG, 0.02, 0.4
    sites = CantileverSites((np.zeros(3), BASE * ALONG), np.eye(3), hook, ALONG, UP)
    anchor = np.diag([1e9, 1e9, k, 1e12, 1e12, 1e12])
    units = (Unit("tooth", np.zeros(3), None), Unit("anchor", hook, anchor))
    setup = Setup(Cantilever(sites, WireDesign(SECTION, BETA_TI, 1.0, 10), units))
    beam = TwoPointCantilever(SECTION, BETA_TI, 20.0, BASE).timoshenko_stiffness_N_per_mm
    series = 1 / (1 / beam + 1 / k)
    pace = Pace(0.1 * small, small, 0.1 * series * small)
    found = course(setup, small, (np.zeros((1, 3)), hook[None]), pace)
    for point in found.points:
        left = series * (small - point.moved_mm)
        assert np.linalg.norm(point.force_N) == pytest.approx(left, rel=1e-4)
    assert found.reactivate.moved_mm == pytest.approx(0.5 * small, rel=1e-4)
    assert found.points[-1].moved_mm == pytest.approx(0.9 * small, rel=1e-4)


def test_the_midpoint_rule_is_of_second_order_and_eulers_of_first():
    """Halving the step divides the error by 4 and by 2 (any textbook on Runge–Kutta rules).

    Up to 1 mm, before the steps shorten; against a step a quarter of the least.
    """
    setup, marks = appliance()

    def end(step, order):
        pace = Pace(step, 1.0, 0.05, fade_share=0.9, order=order)
        return ends(course(setup, 6.0, marks, pace), marks)

    exact = end(0.0125, 2)
    for order in (1, 2):
        errors = [np.linalg.norm(end(step, order) - exact) for step in (0.2, 0.1, 0.05)]
        rates = np.log2(np.divide(errors[:-1], errors[1:]))
        assert rates == pytest.approx([order, order], abs=0.25)


def test_halving_the_step_changes_the_way_by_less_than_a_percent():
    _, marks = appliance()
    start = np.concatenate(marks)
    coarse, fine = ends(followed(0.2), marks), ends(followed(0.1), marks)
    way = np.linalg.norm(fine - start, axis=1)
    assert np.linalg.norm(coarse - fine, axis=1).max() < 0.01 * way.max()


def test_a_force_that_fades_fast_shortens_the_steps():
    """Activated by 0.3 mm only, a step of 0.2 mm would take most of the force at once."""
    setup, marks = appliance(supports=(None, np.diag([1e9, 1e9, 20.0, 1e12, 1e12, 1e12])))
    found = course(setup, 0.3, marks, Pace(0.2, 4.0, 0.002))
    sizes = np.array([np.linalg.norm(point.force_N) for point in found.points])
    assert -np.diff(sizes).min() <= 0.1 * sizes[0]
    assert np.diff([point.moved_mm for point in found.points]).max() < 0.04


def test_every_step_balances():
    """Statics: what the wire exerts on both units sums to nothing about any point."""
    place = np.array([7.0, -3.0, 11.0])
    points = followed().points
    assert len(points) > 10
    for point in points:
        loads = [point.equilibrium.wrench_on(unit, place) for unit in (0, 1)]
        assert np.linalg.norm(sum(loads)[:3]) < 1e-8 * np.linalg.norm(loads[0][:3])
        assert np.linalg.norm(sum(loads)[3:]) < 1e-8 * np.linalg.norm(loads[0][3:])
        assert point.equilibrium.residual_N < 1e-8 * np.linalg.norm(point.force_N)


def test_a_turned_appliance_has_the_turned_course():
    """Nothing depends on the axes things are written in."""
    setup, marks = appliance()
    R = rotation(np.array([0.4, -1.1, 0.7]))
    old = setup.cantilever.sites
    sites = CantileverSites(
        (R @ old.mouths[0], R @ old.mouths[1]), R @ old.tube_axes, R @ old.hook, R @ old.bar, R @ UP
    )
    units = tuple(
        Unit(u.name, R @ u.point, rotate_stiffness(u.stiffness, R)) for u in setup.cantilever.units
    )
    turned = Setup(replace(setup.cantilever, sites=sites, units=units))
    found = course(turned, 6.0, tuple(m @ R.T for m in marks), Pace(0.2, 4.0, 0.05))
    expected = ends(followed(), marks) @ R.T
    assert ends(found, [m @ R.T for m in marks]) == pytest.approx(expected, abs=1e-7)


def test_an_appliance_carried_as_a_whole_keeps_its_loads():
    """A rigid motion of everything, supports and all, changes no load but its direction."""
    start = followed().points[0]
    pose = Pose.start().moved(np.array([3.0, -2, 5, 0.4, -1.1, 0.7]))
    moved = carried(start.appliance, (pose, pose), 0)
    loads = solve_equilibrium(moved).loads
    for load, before in zip(loads, start.equilibrium.loads, strict=True):
        assert load.point == pytest.approx(pose.points(before.point), abs=1e-8)
        assert load.wrench[:3] == pytest.approx(pose.vectors(before.wrench[:3]), abs=1e-8)
        assert load.wrench[3:] == pytest.approx(pose.vectors(before.wrench[3:]), abs=1e-8)


def test_poses_stay_rigid():
    turn = followed().points[-1].poses[0].turn
    assert turn @ turn.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.degrees(np.arccos((np.trace(turn) - 1) / 2)) > 3


def test_held_anchorage_stays_and_more_is_left_for_the_tooth():
    setup, marks = appliance()
    found = course(setup, 6.0, marks, Pace(0.2, 4.0, 0.05), moves=(True, False))
    assert found.points[-1].poses[1].turn == pytest.approx(np.eye(3), abs=0)
    assert found.points[-1].moved_mm > followed().points[-1].moved_mm


def test_a_cinched_wire_keeps_its_length_in_the_tube_and_a_tied_one_slides():
    setup, marks = appliance(bar=False)
    tied = course(setup, 6.0, marks, Pace(0.2, 2.0, 0.05))
    slips = [tube_slip_mm(point, setup.cantilever.sites) for point in tied.points]
    angle = np.linalg.norm(tied.points[0].equilibrium.motions[0][3:])
    arm = np.linalg.norm(setup.cantilever.units[0].point)
    assert abs(slips[0]) < 1e-6 + angle**2 * arm  # cut at rest, the tooth's turn taken as small
    assert abs(slips[-1]) > 0.05
    sites = appliance()[0].cantilever.sites
    assert max(abs(tube_slip_mm(p, sites)) for p in followed().points) < 1e-9


def test_what_is_not_computed_is_named():
    setup, marks = appliance()
    pace = Pace(0.2, 4.0, 0.05)
    slot = replace(setup, slot=Slot(0.56, 0.71, BASE))
    fibres = FibreSection(rectangular_fibres(0.635, 0.4318), ElasticPlastic(65e3, 100.0))
    weak = Alloy(fibres, 100.0)
    for bad, words in (
        (slot, "play in its tube"),
        (replace(setup, over_peg=True), "a peg"),
        (replace(setup, friction=0.2), "friction"),
        (replace(setup, alloy=weak), "elastic limit"),
    ):
        with pytest.raises(ValueError, match=words):
            course(bad, 6.0, marks, pace)
    with pytest.raises(ValueError, match="below the floor"):
        course(setup, 6.0, marks, replace(pace, floor_N=5.0))
    with pytest.raises(ValueError, match="no unit can move"):
        course(appliance(supports=(None, None))[0], 6.0, marks, pace)


@pytest.mark.parametrize(
    "wrong", [{"step_mm": 0.0}, {"most_mm": -1.0}, {"floor_N": -1.0}, {"reactivate_share": 1.0}]
)
def test_bad_paces_are_named(wrong):
    with pytest.raises(ValueError, match=next(iter(wrong))):
        replace(Pace(0.1, 4.0, 0.05), **wrong)
