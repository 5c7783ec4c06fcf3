"""The parts of a case as they are checked against each other, and the order of teeth."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from workflow.case_course import Course
from workflow.case_errors import Problem
from workflow.case_models import Further, OnePoint, TwoPoint, Unit
from workflow.case_teeth import ToothPart
from workflow.case_tissues import Bone
from workflow.case_wire import Wire

_QUADRANTS_BY_JAW = {"upper": (1, 2), "lower": (4, 3)}  # patient's right first


@dataclass(frozen=True)
class Parts:
    """The parts that could be read; None stands for one that has problems of its own."""

    source: str
    stem: str | None
    case: str | None
    teeth: Mapping[int, ToothPart] | None
    missing: tuple[int, ...] | None
    units: Mapping[str, Unit] | None
    two_point: TwoPoint | None
    one_point: OnePoint | None
    further: tuple[Further, ...] | None
    wire: Wire | None
    mirror_image: bool | None
    course: Course | None
    bone: Bone | None

    def problem(self, key: str, message: str, *value: Any) -> Problem:
        """Problem of this file."""
        return Problem(self.source, key, message, *value)


def arch_order(tooth: int) -> tuple[str, int]:
    """Jaw of a tooth and its place along the arch, counted from the patient's right.

    Parameters
    ----------
    tooth
        ISO 3950 number of a permanent tooth.

    Returns
    -------
    tuple
        ``("upper", n)`` or ``("lower", n)`` with n from 1 to 16.
    """
    quadrant, place = divmod(tooth, 10)
    jaw = "upper" if quadrant in _QUADRANTS_BY_JAW["upper"] else "lower"
    right_side = quadrant == _QUADRANTS_BY_JAW[jaw][0]
    return jaw, 9 - place if right_side else 8 + place


def mirrored(tooth: int) -> int:
    """ISO 3950 number of the same tooth on the other side."""
    return 10 * {1: 2, 2: 1, 3: 4, 4: 3}[tooth // 10] + tooth % 10


def tooth_in_unit(parts: Parts, key: str, tooth: int, unit: Unit, part: str) -> Iterator[Problem]:
    """Refuse a tooth that is missing or not in its unit, for a part that is to be on it."""
    if tooth in (parts.missing or ()):
        yield parts.problem(
            key, f"the {part} is on a missing tooth; use one of {listed(unit.teeth)}", tooth
        )
    elif tooth not in unit.teeth:
        yield parts.problem(
            key, f"tooth {tooth} is not in the unit; use one of {listed(unit.teeth)}", tooth
        )


def listed(teeth: Any) -> str:
    """Teeth with commas between them."""
    return ", ".join(str(tooth) for tooth in teeth)
