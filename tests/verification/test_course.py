"""The course of movement: where it ends, what it carries along, what it refuses."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fem.appliance import Unit
from fem.appliance_system import solve_equilibrium
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.carried import Pose, carried
from fem.course import course, tube_slip_mm
from fem.course_steps import Pace
from fem.engage import Alloy, Setup
from fem.fibre import FibreSection, rectangular_fibres
from fem.material import Elastic
from fem.rigid import rotation
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
def followed():
    setup, marks = appliance()
    return course(setup, 6.0, marks, Pace(0.2, 4.0, 0.05))


def test_a_course_ends_at_its_floor():
    """Where the hook alone moves, along the activation, what is left of that is known."""
    setup, marks = appliance(supports=(None, np.diag([1e9, 1e9, 20.0, 1e12, 1e12, 1e12])))
    found = course(setup, 6.0, marks, Pace(0.3, 9.0, 0.1))
    for point in found.points:
        assert point.offset_mm(UP) == pytest.approx(6.0 - point.moved_mm, abs=1e-5)
    assert found.at_floor
    assert np.linalg.norm(found.points[-1].force_N) == pytest.approx(0.1, abs=1e-8)


def test_a_course_without_a_floor_tells_where_the_force_has_faded():
    """Where the hook alone moves, along the activation, the wire is at rest after all of it."""
    setup, marks = appliance(supports=(None, np.diag([1e9, 1e9, 20.0, 1e12, 1e12, 1e12])))
    with pytest.raises(ValueError, match=r"floor_N = 0: .*faded after (5\.99|6) mm of 9 mm"):
        course(setup, 6.0, marks, Pace(0.3, 9.0, 0.0))


def test_a_force_that_fades_fast_shortens_the_steps():
    """Activated by 0.3 mm only, a step of 0.2 mm would take most of the force at once."""
    setup, marks = appliance(supports=(None, np.diag([1e9, 1e9, 20.0, 1e12, 1e12, 1e12])))
    found = course(setup, 0.3, marks, Pace(0.2, 4.0, 0.002))
    sizes = np.array([np.linalg.norm(point.force_N) for point in found.points])
    assert -np.diff(sizes).min() <= 0.1 * sizes[0]
    assert np.diff([point.moved_mm for point in found.points]).max() < 0.04


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
