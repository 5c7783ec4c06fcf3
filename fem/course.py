"""The course of movement: what happens as the teeth move on from their initial movement.

Every unit moves on along its initial movement q in the ligament, and its socket follows: bone
remodels until the ligament is at rest again round the tooth where it then stands. With the poses
g of the units and the path s of the tooth point that moves most,

    ``dg/ds = c q(g)``,   ``c = 1 / max |displacement of a marked point under q|``,

where q(g) is the movement of the units in the equilibrium of the same wire, engaged between units
that stand at g and are unloaded there. Twists act about the origin and compose as finite screw
motions, by the midpoint rule (second order) or Euler's (first order, to compare). As the force
fades, parts of it fade faster than others; below half the first initial movement the steps shorten
in proportion to it, which keeps an explicit rule stable. A step in which the force changes by more
than a share of the first is halved.

The law behind it is that the rate of movement is in one proportion to the initial movement for all
units: remodelling that follows the initial displacement. There is no time in it, no lag, no
threshold and no limit of what a ligament bears; the anchorage moves as readily as the target.
Not valid where units touch other teeth on their way, which is not looked for.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fem.cantilever_design import TWO_POINT, CantileverSites
from fem.course_steps import Bodies, Course, CoursePoint, Pace, follow_course
from fem.engage import Setup, engage
from fem.rigid import rotation
from fem.rod import section_resultants

Array = NDArray[np.float64]


def course(
    setup: Setup,
    offset_mm: float,
    marks: tuple[Array, Array],
    pace: Pace,
    moves: tuple[bool, bool] = (True, True),
) -> Course:
    """Follow an elastic wire, activated once, as the teeth move.

    A wire over a bar keeps its length in the tube. A tied one slides through it; its passive shape
    is kept where it was cut, so the tube is taken to move along the wire by what it slides.

    Parameters
    ----------
    setup
        Cantilever without play and friction.
    offset_mm
        Distance between the passive wire's end and the hook at first.
    marks, moves
        As in `Bodies`.

    Raises
    ------
    fem.appliance.EquilibriumError
        If no equilibrium is found on the way.
    ValueError
        If the wire has play, friction or a peg, leaves its elastic range, if no unit can move, or
        if the force begins below its floor.
    """
    _refuse(setup)
    elastic = engage(replace(setup, alloy=None), offset_mm)
    share = 1.0 if setup.alloy is None else setup.alloy.trial_share
    _check_elastic(setup, share * float(elastic.stress_MPa.max()))
    found = follow_course(Bodies(elastic.solved.appliance, marks, moves), pace)
    section = setup.cantilever.wire.section
    for point in found.points:
        resultants = section_resultants(point.appliance.rod, point.equilibrium.state)
        _check_elastic(setup, float(section.peak_stress_MPa(resultants).max()))
    return found


def tube_slip_mm(point: CoursePoint, sites: CantileverSites) -> float:
    """How far the wire has slid along its tube out of it, mm; none where it is cinched."""
    pose, unit = point.poses[TWO_POINT], point.appliance.units[TWO_POINT]
    motion = point.equilibrium.motions[TWO_POINT]
    turn = rotation(motion[3:])
    mouth = unit.point + motion[:3] + turn @ (pose.points(sites.mouths[0]) - unit.point)
    along = turn @ pose.vectors(sites.tube_axes[:, 0])
    return float((point.equilibrium.state.points[0] - mouth) @ along)


def _refuse(setup: Setup) -> None:
    reasons = {
        "play in its tube (two_point.attachment)": setup.slot is not None,
        "a peg (one_point.contact)": setup.over_peg,
        "friction (one_point.friction)": setup.friction > 0,
    }
    found = [reason for reason, present in reasons.items() if present]
    if found:
        raise ValueError(
            f"the course of movement is not computed for a wire with {' and '.join(found)}: leave "
            "that out, or leave out the course"
        )


def _check_elastic(setup: Setup, stress_MPa: float) -> None:
    if setup.alloy is not None and stress_MPa > setup.alloy.limit_MPa:
        raise ValueError(
            "the course of movement is not computed past the elastic limit of the wire: it bears "
            f"{stress_MPa:.0f} MPa of {setup.alloy.limit_MPa:.0f} MPa; activate it less, choose "
            "another alloy, or set wire.inelastic to false to take it as elastic"
        )
