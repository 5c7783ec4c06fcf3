"""From a checked case to the specs of its stages and the objects the libraries work on.

Specs are plain dictionaries: what a stage depends on and nothing else, so that stages are shared
between cases and rerun only when their own spec changes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fem.cantilever_design import CantileverSites, WireDesign
from geometry.anatomy import known_teeth, tooth_dimensions
from geometry.arch import ToothPlacement, displaced, is_lower, tooth_frame
from geometry.frame import ToothFrame
from geometry.measures import ToothMeasures
from geometry.sites import Hook, Tube, bracket_point, hook_at_span, hook_between, tube_at
from workflow.case_models import DEFAULT_BRACKET_MM
from workflow.case_parts import arch_order
from workflow.digest import spec_id
from workflow.scanned import frame_in_file, measures_of
from workflow.specs import Spec
from workflow.tooth_specs import shape_spec, support_spec
from workflow.wire_run import RunPart, run_parts
from workflow.wire_specs import wire_material, wire_section

Array = NDArray[np.float64]

MOST_BAR_ANGLE_DEG = 60.0  # beyond it a cinched wire is held lengthwise by the bar, and buckles
PLACEMENT = tuple(ToothPlacement.__dataclass_fields__)


@dataclass(frozen=True)
class Plan:
    """Stages of one case.

    Attributes
    ----------
    name
        Name of the case.
    case
        The resolved case.
    supports
        Support id of each tooth.
    wire
        Wire id.
    """

    name: str
    case: Spec
    supports: dict[int, str]
    wire: str


def make_plan(case: Spec) -> Plan:
    """Name the stages of a resolved case.

    Raises
    ------
    ValueError
        If the hook or the tube has no place on the arch.
    """
    supports = {tooth: spec_id(support_spec(case, tooth)) for tooth in teeth_of(case)}
    return Plan(case["case"], case, supports, spec_id(wire_spec(case)))


def teeth_of(case: Spec) -> tuple[int, ...]:
    """Teeth of all units."""
    return tuple(tooth for unit in case["units"].values() for tooth in unit["teeth"])


def wire_spec(case: Spec) -> Spec:
    """What the straight wire depends on: section, alloy, span and tube; not its activation."""
    sites = cantilever_sites(case)
    section, alloy = case["wire"]["section"], case["wire"]["alloy"]
    return {
        "shape": section["shape"],
        "width_mm": section["width_mm"],
        "height_mm": section["height_mm"],
        "youngs_modulus_MPa": alloy["youngs_modulus_MPa"],
        "poisson_ratio": alloy["poisson_ratio"],
        "base_mm": case["two_point"]["tube_length_mm"],
        "span_mm": round(sites.span_mm, 9),
        "elements": case["wire"]["elements"],
        "corner_radius_mm": section["corner_radius_mm"],
    }


def wire_design(case: Spec) -> WireDesign:
    """The wire of a case."""
    spec = wire_spec(case)
    return WireDesign(
        section=wire_section(spec),
        material=wire_material(spec),
        bend_radius_mm=case["wire"]["bend_radius_mm"],
        elements=spec["elements"],
        run=tuple(part.feature for part in case_run(case)),
    )


def case_run(case: Spec) -> tuple[RunPart, ...]:
    """What the wire of a case is bent to between its bend at the tube and its last leg."""
    tube = frames(case)[case["two_point"]["tooth"]]
    return run_parts(case["wire"], cantilever_sites(case), tube, lambda: _passed(case))


def _passed(case: Spec) -> list[Array]:
    """Places of the wire on the teeth between tube and hook, and on those that are missing."""
    placed, one, sites = frames(case), case["one_point"], cantilever_sites(case)
    height, off = one["height_fraction"], one["stand_off_mm"]
    tube = case["two_point"]["tooth"]
    start = arch_order(tube)[1]
    last = [arch_order(tooth)[1] for tooth in hook_teeth(case)]
    scanned = any(
        (own["scan"] or {}).get("placed") == "as_scanned" for own in case["teeth"].values()
    )
    places = {}
    for tooth in known_teeth():
        jaw, order = arch_order(tooth)
        if jaw != arch_order(tube)[0] or not min(start, *last) < order < max(start, *last):
            continue
        if tooth in placed:
            frame, measures = placed[tooth], measures_of(shape_spec(case, tooth))
        elif scanned:
            continue
        else:
            frame, measures = tooth_frame(tooth), ToothMeasures.of(tooth_dimensions(tooth))
        places[order] = bracket_point(measures, frame, height, off)
    reach = float(np.linalg.norm(sites.hook - sites.mouths[1]))
    ordered = [places[order] for order in sorted(places, reverse=bool(start > min(last)))]
    return [p for p in ordered if float(np.linalg.norm(p - sites.mouths[1])) < reach]


def placement_of(case: Spec, tooth: int) -> ToothPlacement:
    """How a tooth of a case departs from its regular place."""
    own = case["teeth"][str(tooth)]
    return ToothPlacement(**{name: own[name] for name in PLACEMENT})


def frames(case: Spec) -> dict[int, ToothFrame]:
    """Where the teeth of a case stand."""
    return {tooth: _frame(case, tooth) for tooth in teeth_of(case)}


def _frame(case: Spec, tooth: int) -> ToothFrame:
    return _frame_of(tooth, json.dumps(case["teeth"][str(tooth)], sort_keys=True))


@lru_cache(maxsize=1024)  # finding a place on the arch takes a millisecond, and wires share teeth
def _frame_of(tooth: int, own: str) -> ToothFrame:
    case = {"teeth": {str(tooth): json.loads(own)}}
    shape, placement = shape_spec(case, tooth), placement_of(case, tooth)
    scan = case["teeth"][str(tooth)]["scan"]
    if scan is not None and scan["placed"] == "as_scanned":
        root_length = measures_of(shape).root_length_mm
        return displaced(frame_in_file(shape), placement, root_length)
    return tooth_frame(tooth, placement, measures_of(shape))


def brackets_of(case: Spec, attachment: Spec, placed: Mapping[int, ToothFrame]) -> dict[int, Array]:
    """Places of the wire on all teeth of an attachment's unit, (3,) each, mm, in the patient.

    Parameters
    ----------
    attachment
        ``two_point`` or ``one_point`` of the case.
    placed
        Where the teeth of its unit stand.
    """
    height, off = attachment["height_fraction"], attachment["stand_off_mm"]
    return {
        tooth: bracket_point(measures_of(shape_spec(case, tooth)), placed[tooth], height, off)
        for tooth in case["units"][attachment["unit"]]["teeth"]
    }


def further_place(case: Spec, held: Spec, placed: Mapping[int, ToothFrame]) -> Array:
    """Where a further unit holds the wire, (3,), mm."""
    return brackets_of(case, held, placed)[held["tooth"]]


def bracket_of(held: Spec, middle: Array, frame: ToothFrame, tube_middle: Array) -> Tube:
    """Bracket of a tooth that takes the wire, its first mouth towards the tube.

    Parameters
    ----------
    held
        ``one_point`` or an entry of ``further`` of the case.
    middle
        Middle of the bracket, (3,), mm.
    frame
        The tooth.
    tube_middle
        Where the wire comes from, (3,), mm.
    """
    width = held["bracket_width_mm"] or DEFAULT_BRACKET_MM
    return tube_at(middle, frame, width, 2 * middle - tube_middle)


def hook_teeth(case: Spec) -> list[int]:
    """Teeth that the hook is named by: one, two neighbours, or, placed by a span, all its unit."""
    one = case["one_point"]
    if case["wire"]["span_mm"] is not None:
        return list(case["units"][one["unit"]]["teeth"])
    return [one["tooth"]] if one["tooth"] is not None else list(one["between"])


def cantilever_sites(case: Spec) -> CantileverSites:
    """Where the wire of a case is held.

    Raises
    ------
    ValueError
        If ``wire.span_mm`` leads to no place on the segment's wire.
    """
    activation = case["wire"]["activation"]
    wire = {"span_mm": case["wire"]["span_mm"], "activation": {"pulls": activation["pulls"]}}
    taken = {part: case[part] for part in ("teeth", "units", "two_point", "one_point")}
    return _sites_of(json.dumps(taken | {"wire": wire}, sort_keys=True))


@lru_cache(maxsize=1024)  # thousands of wires share their sites, and each asks several times
def _sites_of(taken: str) -> CantileverSites:
    case = json.loads(taken)
    placed = frames(case)
    two, one = case["two_point"], case["one_point"]
    brackets = brackets_of(case, one, placed)
    tooth = two["tooth"]
    middle = brackets_of(case, two, placed)[tooth]
    towards = np.mean(list(brackets.values()), axis=0)
    tube = tube_at(middle, placed[tooth], two["tube_length_mm"], towards)
    span, bracket = case["wire"]["span_mm"], None
    if one["contact"] == "bracket":
        own = one["tooth"]
        bracket = bracket_of(one, brackets[own], placed[own], middle)
        hook = Hook(bracket.mouths[0], bracket.axes[:, 0])
    elif span is None and one["tooth"] is not None:
        hook = Hook(brackets[one["tooth"]], placed[one["tooth"]].axes[:, 0])
    elif span is None:
        first, second = one["between"]
        hook = hook_between(brackets[first], brackets[second])
    else:
        start = arch_order(tooth)[1]
        onward = sorted(brackets, key=lambda t: abs(arch_order(t)[1] - start))
        hook = hook_at_span(tube.mouths[1], [brackets[t] for t in onward], span)
    return CantileverSites(
        mouths=tube.mouths,
        tube_axes=tube.axes,
        hook=hook.point,
        bar=hook.bar if one["contact"] in ("bar", "peg") else None,
        pull=one["contact"] == "dead_force",
        bracket=bracket,
        activation=-_pull(case, placed),
    )


def bar_angle_deg(sites: CantileverSites) -> float | None:
    """Angle between the bar and the way from the tube to the hook, degrees; None without a bar."""
    if sites.bar is None:
        return None
    way = sites.hook - sites.mouths[1]
    cosine = abs(float(sites.bar @ way)) / float(np.linalg.norm(sites.bar) * np.linalg.norm(way))
    return float(np.degrees(np.arccos(min(cosine, 1.0))))


def _pull(case: Spec, placed: Mapping[int, ToothFrame]) -> Array:
    """Direction in which the one-point unit is pulled, unit vector, (3,)."""
    pulls = case["wire"]["activation"]["pulls"]
    up = np.array([0.0, 0.0, 1.0 if is_lower(case["two_point"]["tooth"]) else -1.0])
    if pulls in ("apical", "occlusal"):
        return up if pulls == "occlusal" else -up
    buccal = np.mean([placed[t].axes[:, 1] for t in hook_teeth(case)], axis=0) * [1.0, 1.0, 0.0]
    buccal /= np.linalg.norm(buccal)
    return buccal if pulls == "buccal" else -buccal
