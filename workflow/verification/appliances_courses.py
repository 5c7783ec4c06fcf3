"""Courses of movement: bodies under loads that stay, springs that fade, order of the rule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Unit
from fem.attachment import DeadForce, clamp_contact
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.course import course
from fem.course_steps import Bodies, Course, Pace, follow_course
from fem.engage import Setup
from fem.force_activation import point_at
from fem.material import Elastic
from fem.rigid import rotate_stiffness
from fem.rod import RodState, passive_rod
from fem.section import rectangular_section
from workflow.verification.check import Check, Compared, Kind

Array = NDArray[np.float64]

_WIDTH_MM, _HEIGHT_MM, _E_MPA, _NU = 0.635, 0.4318, 65e3, 0.3  # 0.017 × 0.025 in
_SECTION = rectangular_section(_WIDTH_MM, _HEIGHT_MM)
_TITANIUM = Elastic(_E_MPA, _NU)
_ALONG, _ASIDE, _UP = np.eye(3)
_BASE_MM = 4.0
_SOFT = np.diag([200.0, 220, 90, 5000, 4500, 900])
_FIRM = np.diag([500.0, 420, 190, 15000, 14500, 5900])
_SLIDING = np.diag([1e9, 1e9, 20.0, 1e12, 1e12, 1e12])  # gives way along the activation alone
_OFFSET_MM = 6.0


@cache
def _appliance(sliding: bool = False) -> tuple[Setup, tuple[Array, Array]]:
    """A tipped tooth and an anchor in no symmetric place; marks on crown and apex of each."""
    c, s = np.cos(np.radians(25)), np.sin(np.radians(25))
    axes = np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])
    mouths = (np.zeros(3), _BASE_MM * axes[:, 0])
    hook = mouths[1] + np.array([16.0, -2.0, 3.0])
    sites = CantileverSites(mouths, axes, hook, np.array([0.9, 0.3, 0.0]), _UP)
    supports = (None, _SLIDING) if sliding else (_SOFT, _FIRM)
    places = (np.array([2.0, 5, -12]), hook + np.array([-3.0, 4, -15]))
    units = tuple(Unit(n, p, K) for n, p, K in zip("ab", places, supports, strict=True))
    marks = (
        np.array([[2.0, 4, -1], [2, 5, -20]]),
        hook + np.array([[-8.0, 3, 0], [-8, 4, -22], [8, 3, 0], [8, 4, -22]]),
    )
    return Setup(Cantilever(sites, WireDesign(_SECTION, _TITANIUM, 1.0, 10), units)), marks


def _ends(found: Course, marks: Sequence[Array]) -> Array:
    poses = found.points[-1].poses
    return np.concatenate([pose.points(own) for pose, own in zip(poses, marks, strict=True)])


@cache
def _followed() -> Course:
    setup, marks = _appliance()
    return course(setup, _OFFSET_MM, marks, Pace(0.2, 4.0, 0.05))


def _held_bar(K: Array, forces: Sequence[tuple[int, Sequence[float]]]) -> Bodies:
    """A wire of three nodes clamped in its middle to a tooth, loaded by dead forces."""
    points = np.array([[-5.0, 0, 0], [0, 0, 0], [5, 0, 0]])
    axes = np.tile(np.eye(3), (3, 1, 1))
    rod = passive_rod(points, axes, np.array([5.0, 5.0]), _SECTION.stiffness(Elastic(1e9, 0.3)))
    units = (Unit("tooth", np.zeros(3), K), Unit("other", np.zeros(3), None))
    held = clamp_contact(0, 1, np.zeros(3), np.eye(3))
    loads = tuple(DeadForce(node, np.asarray(force, dtype=float)) for node, force in forces)
    marks = (np.array([[0.0, 0, 9], [0, 0, -8]]), np.zeros((1, 3)))
    bar = Appliance(rod, RodState(points, axes), units, held, loads)
    return Bodies(bar, marks, (True, True))


def _straight_on() -> Compared:
    """A support alike in all directions: the force keeps to the centre as it gives way."""
    even, way = np.diag([200.0, 200, 200, 5000, 4500, 900]), np.array([0.3, -0.2, 0.5])
    found = follow_course(_held_bar(even, [(1, list(way))]), Pace(0.5, 4.0, 0.0))
    shifts = [point.poses[0].shift for point in found.points]
    turns = [point.poses[0].turn - np.eye(3) for point in found.points]
    unit = way / np.linalg.norm(way)
    expected = [point.moved_mm * unit for point in found.points]
    return Compared(
        np.concatenate([np.ravel(shifts), np.ravel(turns)]),
        np.concatenate([np.ravel(expected), np.zeros(np.size(turns))]),
        1.0,
        note=f"{len(found.points)} points over {found.points[-1].moved_mm:g} mm.",
    )


def _round_the_centre() -> Compared:
    """The crown, 9 mm off, runs along a circle by its arc; the centre rests."""
    couple = [(0, [0, 0, 0.4]), (2, [0, 0, -0.4])]
    found = follow_course(_held_bar(_SOFT, couple), Pace(0.5, 4.0, 0.0))
    computed, expected = [], []
    for point in found.points:
        angle, pose = point.moved_mm / 9.0, point.poses[0]
        computed.append([pose.shift, pose.points(np.array([0.0, 0, 9]))])
        expected.append([np.zeros(3), 9 * (np.sin(angle) * _ALONG + np.cos(angle) * _UP)])
    return Compared(computed, expected, 9.0)


def _down_the_curve() -> Compared:
    """Where the hook alone moves, along the activation: the force–activation curve let back."""
    setup, marks = _appliance(sliding=True)
    found = course(setup, _OFFSET_MM, marks, Pace(0.3, 9.0, 0.1))
    middle = setup.cantilever.sites.tube_middle
    computed, expected = [], []
    for point in found.points:
        on_curve = point_at(setup, _OFFSET_MM, _OFFSET_MM - point.moved_mm)
        couple = np.linalg.norm(point.couple_Nmm(middle))
        computed.append([np.linalg.norm(point.force_N), couple])
        expected.append([on_curve.force_N, on_curve.couple_Nmm])
    return Compared(computed, expected)


def _hookes_spring() -> Compared:
    """F = (a − s)/(1/k + 1/K), k of a Timoshenko beam on two supports."""
    span, small, K = 20.0, 0.02, 0.4
    hook = (_BASE_MM + span) * _ALONG
    sites = CantileverSites((np.zeros(3), _BASE_MM * _ALONG), np.eye(3), hook, _ALONG, _UP)
    anchor = np.diag([1e9, 1e9, K, 1e12, 1e12, 1e12])
    units = (Unit("tooth", np.zeros(3), None), Unit("anchor", hook, anchor))
    setup = Setup(Cantilever(sites, WireDesign(_SECTION, _TITANIUM, 1.0, 10), units))
    second_moment, area = _WIDTH_MM * _HEIGHT_MM**3 / 12, _WIDTH_MM * _HEIGHT_MM
    GA = 10 * (1 + _NU) / (12 + 11 * _NU) * _E_MPA / (2 * (1 + _NU)) * area
    bent = span**2 * (span + _BASE_MM) / (3 * _E_MPA * second_moment)
    series = 1 / (bent + span * (1 + span / _BASE_MM) / GA + 1 / K)
    pace = Pace(0.1 * small, small, 0.1 * series * small)
    found = course(setup, small, (np.zeros((1, 3)), hook[None]), pace)
    assert found.reactivate is not None
    first = series * small
    forces = [float(np.linalg.norm(point.force_N)) / first for point in found.points]
    left = [1 - point.moved_mm / small for point in found.points]
    return Compared(
        [*forces, found.reactivate.moved_mm / small, found.points[-1].moved_mm / small],
        [*left, 0.5, 0.9],
        1.0,
    )


def _orders() -> Compared:
    """Halving the step divides the error by 2 and by 4; against a step a quarter of the least."""
    setup, marks = _appliance()

    def end(step: float, order: Literal[1, 2]) -> Array:
        pace = Pace(step, 1.0, 0.05, fade_share=0.9, order=order)
        return _ends(course(setup, _OFFSET_MM, marks, pace), marks)

    exact, rates = end(0.0125, 2), []
    orders: tuple[Literal[1, 2], ...] = (1, 2)
    for order in orders:
        errors = [np.linalg.norm(end(step, order) - exact) for step in (0.2, 0.1, 0.05)]
        rates.append(np.log2(np.divide(errors[:-1], errors[1:])))
    labels = [f"{rule}, {steps}" for rule in ("Euler", "midpoint") for steps in ("0.2", "0.1 mm")]
    return Compared(rates, [[1, 1], [2, 2]], 1.0, labels)


def _half_the_step() -> Compared:
    setup, marks = _appliance()
    fine = _ends(course(setup, _OFFSET_MM, marks, Pace(0.1, 4.0, 0.05)), marks)
    way = np.linalg.norm(fine - np.concatenate(marks), axis=1).max()
    return Compared(np.linalg.norm(_ends(_followed(), marks) - fine, axis=1) / way, 0.0, 1.0)


def _every_step_balances() -> Compared:
    place, left = np.array([7.0, -3.0, 11.0]), []
    for point in _followed().points:
        first, second = (point.equilibrium.wrench_on(unit, place) for unit in (0, 1))
        sizes = np.linalg.norm(first.reshape(2, 3), axis=1)
        left.append(np.linalg.norm((first + second).reshape(2, 3), axis=1) / sizes)
    return Compared(left, 0.0, 1.0, note=f"{len(left)} points of a course of 4 mm.")


def _turned_course() -> Compared:
    setup, marks = _appliance()
    R = np.array([[2.0, -1, 2], [2, 2, -1], [-1, 2, 2]]) / 3
    old = setup.cantilever.sites
    assert old.bar is not None
    sites = CantileverSites(
        (R @ old.mouths[0], R @ old.mouths[1]),
        R @ old.tube_axes,
        R @ old.hook,
        R @ old.bar,
        R @ _UP,
    )
    units = tuple(
        Unit(u.name, R @ u.point, rotate_stiffness(_known(u.stiffness), R))
        for u in setup.cantilever.units
    )
    turned = Setup(replace(setup.cantilever, sites=sites, units=units))
    there = (marks[0] @ R.T, marks[1] @ R.T)
    found = course(turned, _OFFSET_MM, there, Pace(0.2, 4.0, 0.05))
    return Compared(_ends(found, there), _ends(_followed(), marks) @ R.T, 1.0)


def _known(stiffness: Array | None) -> Array:
    assert stiffness is not None
    return stiffness


CHECKS = (
    Check(
        id="constant_force_through_the_centre",
        what="shift, mm, and turn of a tooth that a dead force at its centre moves by 4 mm",
        code="fem.course_steps.follow_course",
        kind=Kind.CODE,
        source="course_law",
        place="straight along the force, without a turn",
        tolerance=1e-8,
        reason="a straight line is followed without an error of the rule",
        compute=_straight_on,
    ),
    Check(
        id="constant_couple_about_the_centre",
        what="place of centre and crown of a tooth that a dead couple turns, over 9 mm",
        code="fem.course_steps.follow_course, fem.carried.Pose",
        kind=Kind.CODE,
        source="course_law",
        place="the centre rests, the crown runs along a circle by its arc",
        tolerance=2e-8,
        reason="screws compose exactly; residual of each equilibrium",
        compute=_round_the_centre,
    ),
    Check(
        id="course_along_the_force_curve",
        what="force, N, and couple, N·mm, as the hook alone moves back along the activation",
        code="fem.course.course",
        kind=Kind.CODE,
        source="statics",
        place="the force–activation curve of the same wire, let back as far",
        tolerance=1e-6,
        reason="both solve the same equilibria; the hook is held 1e8 times as firmly elsewhere",
        compute=_down_the_curve,
    ),
    Check(
        id="course_of_a_linear_spring",
        what="force over the first one, and ways to its half and to its tenth",
        code="fem.course.course",
        kind=Kind.CODE,
        source="hooke",
        place="(a − s)/(1/k + 1/K), k of a Timoshenko beam on two points",
        tolerance=1e-4,
        reason="activation of a thousandth of the span",
        compute=_hookes_spring,
    ),
    Check(
        id="order_of_the_course",
        what="order of Euler's and of the midpoint rule",
        code="fem.course_steps.follow_course",
        kind=Kind.SOLUTION,
        source="runge_kutta",
        place="first and second, steps of 0.2, 0.1 and 0.05 mm",
        tolerance=0.25,
        reason="steps far from the limit still, and the reference is itself a course",
        compute=_orders,
    ),
    Check(
        id="step_of_the_course",
        what="change of the marked points' ends by halving the step, over the longest way",
        code="fem.course.course",
        kind=Kind.SOLUTION,
        source="runge_kutta",
        place="steps of 0.2 and 0.1 mm over 4 mm",
        tolerance=0.01,
        reason="a percent is what a case's step is allowed",
        compute=_half_the_step,
    ),
    Check(
        id="every_step_balances",
        what="sum of forces and moments on both units at all steps, over those on one",
        code="fem.course.course",
        kind=Kind.CODE,
        source="statics",
        place="Newton's third law, about a point off the appliance",
        tolerance=1e-8,
        reason="residual of the equilibrium",
        compute=_every_step_balances,
    ),
    Check(
        id="turned_course",
        what="ends of the marked points of an appliance turned as a whole, mm",
        code="fem.course.course",
        kind=Kind.CODE,
        source="objectivity",
        place="the ends of the course as it was, turned",
        tolerance=1e-7,
        reason="residuals of some forty equilibria in a row",
        compute=_turned_course,
    ),
)
