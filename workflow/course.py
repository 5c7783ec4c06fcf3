"""The stage of the course of movement: a case followed as its teeth move on, and its record."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from math import sqrt
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from fem.cantilever_design import ONE_POINT, TWO_POINT
from fem.carried import Pose
from fem.course import course, tube_slip_mm
from fem.course_steps import Course, CoursePoint, Pace
from fem.movement import anatomical_motion
from fem.rigid import rotation_vector
from fem.unit import ToothSupport, UnitSupport
from workflow.case_units import CaseUnits
from workflow.equilibrium import case_setup
from workflow.plan import cantilever_sites
from workflow.scanned import measures_of
from workflow.specs import Spec
from workflow.tooth_specs import shape_spec
from workflow.units import GF_PER_N, N_PER_GF

Array = NDArray[np.float64]

CROWN, APEX = "crown", "apex"
MOST_CHANGE = 0.01  # of the way, by halving the step

# Human canines translated for 84 days, 7 persons: mm a month at 4 and at 13 kPa, and fastest to
# slowest person (Iwasaki et al. 2000, AJODO 117:175–183).
CANINE_MM_PER_MONTH = (0.87, 1.27)
PERSONS_RATIO = 3.0
_WEEKS_PER_MONTH = 365.25 / 12 / 7


@dataclass(frozen=True)
class CaseCourse:
    """The course of a case.

    Attributes
    ----------
    case, units
        The case and its units.
    found
        Its course.
    halving_change
        Largest change of a marked point's end by halving the step, as a share of the longest way.
    """

    case: Spec
    units: CaseUnits
    found: Course
    halving_change: float

    def supports(self) -> list[tuple[int, str, UnitSupport]]:
        """Index in the appliance, name and support of each unit."""
        names = {TWO_POINT: self.units.two_point, ONE_POINT: self.units.one_point}
        return [(index, name, self.units.supports[name]) for index, name in names.items()]


def case_course(case: Spec, units: CaseUnits, offset_mm: float) -> CaseCourse:
    """Follow a case's wire from the activation its equilibrium found, with its step and half of it.

    Raises
    ------
    ValueError
        If the case cannot be followed, or its step is too long.
    """
    for name, unit in units.supports.items():
        if np.any(unit.joint):
            raise ValueError(
                f"the course of movement is not computed for teeth joined by a wire, which would "
                f"move apart: drop units.{name}.joined_by, or course"
            )
    asked, setup = case["course"], case_setup(case, units)
    step, floor = asked["step_mm"], asked["force_floor_gf"] * N_PER_GF
    marks = (_marks(case, units, units.two_point), _marks(case, units, units.one_point))
    free = [
        asked["anchors_move"] or case["units"][name]["role"] == "target" for name in units.in_order
    ]

    pace = Pace(step, asked["most_mm"], floor, asked["reactivate_share"])
    finer = replace(pace, step_mm=0.5 * step, fade_share=0.5 * pace.fade_share)
    found, fine = (
        course(setup, offset_mm, marks, chosen, (free[0], free[1])) for chosen in (pace, finer)
    )
    change = _change(found, fine, marks)
    if change > MOST_CHANGE:
        raise ValueError(
            f"halving course.step_mm = {step:g} moves the end of the course by "
            f"{100 * change:.2g} % of the way: write a smaller step"
        )
    return CaseCourse(case, units, found, change)


def tooth_marks(case: Spec, tooth: ToothSupport) -> dict[str, Array]:
    """Middle of the crown and end of the root on the tooth's long axis, (3,), mm."""
    measures = measures_of(shape_spec(case, tooth.number))
    heights = {CROWN: 0.5 * measures.crown_length_mm, APEX: -measures.root_length_mm}
    return {
        name: tooth.frame.to_patient(np.array([0.0, 0.0, height]))
        for name, height in heights.items()
    }


def course_record(followed: CaseCourse) -> dict[str, Any]:
    """The content of ``course.json``."""
    found, asked = followed.found, followed.case["course"]
    end = found.points[-1]
    return {
        **asked,
        "ended_at_floor": found.at_floor,
        "halving_change": followed.halving_change,
        "steps": len(found.points) - 1,
        "largest_residual_N": max(point.equilibrium.residual_N for point in found.points),
        "start": point_record(followed, found.points[0]),
        "reactivate": None
        if found.reactivate is None
        else point_record(followed, found.reactivate),
        "end": point_record(followed, end),
        "weeks_at_canine_rates": {
            "reactivate": None if found.reactivate is None else weeks(found.reactivate.moved_mm),
            "end": weeks(end.moved_mm),
        },
    }


def weeks(moved_mm: float) -> tuple[float, float]:
    """Least and most weeks if the most moved point went as fast as translated human canines do.

    Between the slowest person at the lighter force and the fastest at the heavier one, persons
    spread by a factor √3 to either side of the mean. A band to set against the calendar and no
    forecast: no such rates are published for tipping molars, and the stress of a tipping root has
    no single value to enter the law of that trial with.
    """
    slow, fast = CANINE_MM_PER_MONTH
    spread = sqrt(PERSONS_RATIO)
    return (
        moved_mm / (fast * spread) * _WEEKS_PER_MONTH,
        moved_mm / (slow / spread) * _WEEKS_PER_MONTH,
    )


def course_table(followed: CaseCourse) -> pd.DataFrame:
    """One row a step: loads, movement of each unit, place of each crown and apex."""
    rows = []
    for point in followed.found.points:
        row: dict[str, Any] = _loads(followed, point)
        for index, name, unit in followed.supports():
            moved = unit_movement(unit, point.poses[index])
            row |= {f"{name}_{key}": value for key, value in moved.items()}
            for tooth in unit.teeth:
                for mark, place in tooth_marks(followed.case, tooth).items():
                    now = point.poses[index].points(place)
                    row |= {
                        f"{tooth.number}_{mark}_{axis}_mm": float(v)
                        for axis, v in zip("xyz", now, strict=True)
                    }
        rows.append(row)
    return pd.DataFrame(rows)


def point_record(followed: CaseCourse, point: CoursePoint) -> dict[str, Any]:
    """A moment of the course: loads, and how far units and teeth have come."""
    return {
        **_loads(followed, point),
        "units": {
            name: {
                **unit_movement(unit, point.poses[index]),
                "teeth": {
                    str(tooth.number): {
                        mark: way_of(tooth, place, point.poses[index])
                        for mark, place in tooth_marks(followed.case, tooth).items()
                    }
                    for tooth in unit.teeth
                },
            }
            for index, name, unit in followed.supports()
        },
    }


def unit_movement(unit: UnitSupport, pose: Pose) -> dict[str, float]:
    """Movement of a unit at its centre of resistance along and about its first axes.

    Angles are the components of the rotation vector, degrees.
    """
    centre = unit.centre.point
    motion = np.concatenate([pose.points(centre) - centre, rotation_vector(pose.turn)])
    return {
        name.replace("_rad", "_deg"): float(np.degrees(value)) if name.endswith("_rad") else value
        for name, value in asdict(anatomical_motion(motion, unit.axes)).items()
    }


def _loads(followed: CaseCourse, point: CoursePoint) -> dict[str, float]:
    """Force, couple and their ratios on the two-point unit; sizes."""
    sites = cantilever_sites(followed.case)
    force = float(np.linalg.norm(point.force_N))
    couple = float(np.linalg.norm(point.couple_Nmm(sites.tube_middle)))
    moment = float(np.linalg.norm(point.wrench_at_resistance(TWO_POINT)[3:]))
    return {
        "moved_mm": point.moved_mm,
        "force_N": force,
        "force_gf": force * GF_PER_N,
        "couple_Nmm": couple,
        "couple_to_force_mm": couple / force,
        "moment_to_force_at_resistance_mm": moment / force,
        "offset_mm": point.offset_mm(sites.activation),
        "tube_slip_mm": tube_slip_mm(point, sites),
    }


def way_of(tooth: ToothSupport, place: Array, pose: Pose) -> dict[str, float]:
    """How far a point of a tooth has come along the tooth's first axes, mm."""
    mesial, buccal, occlusal = (pose.points(place) - place) @ tooth.frame.axes
    return {
        "extrusion_mm": float(occlusal),
        "mesial_mm": float(mesial),
        "buccal_mm": float(buccal),
    }


def _marks(case: Spec, units: CaseUnits, name: str) -> Array:
    """Crowns and apices of a unit, (n, 3)."""
    teeth = units.supports[name].teeth
    return np.array([place for tooth in teeth for place in tooth_marks(case, tooth).values()])


def _change(coarse: Course, fine: Course, marks: tuple[Array, Array]) -> float:
    """Largest distance between the ends of two courses, as a share of the longest way."""

    def end(found: Course) -> Array:
        poses = found.points[-1].poses
        moved = [pose.points(own) for pose, own in zip(poses, marks, strict=True)]
        return np.concatenate(moved)

    longest = np.linalg.norm(end(fine) - np.concatenate(marks), axis=1).max()
    return float(np.linalg.norm(end(coarse) - end(fine), axis=1).max() / longest)
