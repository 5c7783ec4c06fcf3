"""Runs of a parameter study: the base case with values set, named by what they depend on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from workflow.case import resolved, validate_case
from workflow.case_errors import CaseError
from workflow.digest import spec_id
from workflow.plan import MOST_BAR_ANGLE_DEG, bar_angle_deg, cantilever_sites
from workflow.specs import Spec
from workflow.sweep_config import LoadedStudy
from workflow.sweep_factor import Choice
from workflow.sweep_keys import changed

_NAMES_ONLY = ("case", "title", "schema_version")  # say nothing of what is computed


@dataclass(frozen=True)
class Run:
    """One run.

    Attributes
    ----------
    name
        Hash of its resolved case less the case's name and title.
    case
        The resolved case; None if its values make none.
    note
        Why not.
    """

    name: str
    case: Spec | None
    note: str = ""


def make_run(loaded: LoadedStudy, point: Sequence[Choice]) -> Run:
    """The run at some values of the factors; a refusal becomes its note."""
    content = content_at(loaded, point)
    try:
        case = resolved(validate_case(content, loaded.path))
    except CaseError as error:
        unlike = {name: value for name, value in content.items() if name not in _NAMES_ONLY}
        note = "; ".join(f"{p.key}: {p.message}" for p in error.problems)
        return Run(spec_id({"refused": unlike}), None, note)
    name = spec_id({key: value for key, value in case.items() if key not in _NAMES_ONLY})
    note = _misplaced(case)
    return Run(name, None if note else case, note)


def content_at(loaded: LoadedStudy, point: Sequence[Choice]) -> dict[str, Any]:
    """Content of a case file at some values of the factors."""
    values = {path: value for choice in point for path, value in choice.values.items()}
    return changed(loaded.content, values)


def _misplaced(case: Spec) -> str:
    """Why a wire has no place, or meets its bar in a way that no case may."""
    try:
        angle = bar_angle_deg(cantilever_sites(case))
    except ValueError as error:
        return str(error)
    if angle is not None and angle > MOST_BAR_ANGLE_DEG:
        return f"the wire would meet the bar at {angle:.0f}°; at most {MOST_BAR_ANGLE_DEG:g}°"
    return ""
