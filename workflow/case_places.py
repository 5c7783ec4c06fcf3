"""What a case can be told before anything is meshed, once its values are right: places and shapes.

Scans are read, tube and hook placed on the arch, and the passive wire bent. A case that passes may
still have no equilibrium; that is mechanics, and found by solving it.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from fem.cantilever import passive_path
from fem.cantilever_design import Cantilever
from workflow.case import load_case, resolved
from workflow.case_errors import CaseError, Problem
from workflow.plan import (
    MOST_BAR_ANGLE_DEG,
    bar_angle_deg,
    cantilever_sites,
    teeth_of,
    wire_design,
)
from workflow.scanned import measures_of
from workflow.specs import Spec
from workflow.tooth_specs import shape_spec
from workflow.yaml_files import reading

_LEAST_OFFSET_SHARE = 0.02  # of the span: an activation that any wire must be bent for


def load_placed_case(path: str | Path) -> Spec:
    """Read a case file, check it and see that its parts have their places.

    Returns
    -------
    dict
        The resolved case.

    Raises
    ------
    CaseError
        With every problem that can be seen without meshing.
    """
    path = Path(path)
    case = resolved(load_case(path))
    with reading(path):
        found = list(place_problems(str(path), case))
        if found:
            raise CaseError(found)
    return case


def place_problems(source: str, case: Spec) -> Iterator[Problem]:
    """Parts of a resolved case that have no place, or no shape.

    Parameters
    ----------
    source
        File to name in messages.
    """
    scans = list(_scans(source, case))
    yield from scans
    if scans:
        return
    try:
        cantilever_sites(case)
    except ValueError as error:
        span = case["wire"]["span_mm"]
        yield Problem(source, "wire.span_mm", f"{error}; change it, or name between", span)
        return
    yield from _bar(source, case)
    yield from _run(source, case)


def _scans(source: str, case: Spec) -> Iterator[Problem]:
    for tooth in teeth_of(case):
        scan = case["teeth"][str(tooth)]["scan"]
        try:
            measures_of(shape_spec(case, tooth))
        except ValueError as error:
            yield Problem(source, f"teeth.{tooth}.scan.file", str(error), scan and scan["file"])


def _bar(source: str, case: Spec) -> Iterator[Problem]:
    angle = bar_angle_deg(cantilever_sites(case))
    if angle is not None and angle > MOST_BAR_ANGLE_DEG:
        text = (
            f"the wire would meet the bar at {angle:.0f}°: held lengthwise at the tube and at "
            f"the hook it buckles; at most {MOST_BAR_ANGLE_DEG:g}°, or use tied or dead_force"
        )
        yield Problem(source, "one_point.contact", text, case["one_point"]["contact"])


def _run(source: str, case: Spec) -> Iterator[Problem]:
    """A wire that cannot be bent as asked, unhooked at its offset or just off the hook."""
    sites = cantilever_sites(case)
    ways = [name for name in ("run", "along_arch", "through") if case["wire"][name]]
    offset = case["wire"]["activation"]["offset_mm"]
    tried: list[tuple[str, float]] = [
        (f"wire.{ways[0] if ways else 'bend_radius_mm'}", _LEAST_OFFSET_SHARE * sites.span_mm)
    ]
    if offset is not None:
        tried.append(("wire.activation.offset_mm", offset))
    for key, off in tried:
        try:
            passive_path(Cantilever(sites, wire_design(case), ()), off)
        except ValueError as error:
            value = (offset,) if key.endswith("offset_mm") else ()
            yield Problem(source, key, str(error), *value)
            return
