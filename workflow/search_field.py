"""The wires of a search: every combination of alloy, section, hook and run, on the case's units."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from fem.cantilever_design import Cantilever, WireDesign
from geometry.wire_path import Feature, along_arc
from workflow.case import resolved, validate_case
from workflow.case_errors import CaseError, Problem
from workflow.case_units import CaseUnits, case_units
from workflow.catalogue import load_catalogue
from workflow.equilibrium import case_cantilever
from workflow.plan import cantilever_sites, case_run, frames
from workflow.search_config import FieldOfDesigns, Search
from workflow.specs import Spec
from workflow.wire_run import run_parts
from workflow.wire_specs import wire_material, wire_section

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

RUN_OF_CASE = "as in the case"


@dataclass(frozen=True)
class HookPlace:
    """A hook, and the base case with its hook there.

    Attributes
    ----------
    name
        How tables call it.
    content, case
        The case as a file holds it, and resolved.
    units
        Its units: where a wire joins the teeth of one, its support depends on the hook.
    cantilever
        The case's own wire there.
    """

    name: str
    content: dict[Any, Any]
    case: Spec
    units: CaseUnits
    cantilever: Cantilever


@dataclass(frozen=True)
class Wires:
    """All wires.

    Attributes
    ----------
    cantilevers
        Runs outermost, so that wires with as many rod elements lie together.
    hooks, hook
        The hooks, and the hook of each wire, (n,).
    table
        Alloy, section, hook, span, run, and the part of the span that the run leaves.
    """

    cantilevers: tuple[Cantilever, ...]
    hooks: tuple[HookPlace, ...]
    hook: Ints
    table: pd.DataFrame


def hook_places(
    search: Search, content: Mapping[Any, Any], support_files: Mapping[int, str], source: str
) -> tuple[HookPlace, ...]:
    """Hooks of a search; that of the case where it names none.

    Parameters
    ----------
    content
        Content of the base case's file.
    support_files
        ``support.json`` of each tooth, by number.
    source
        The search's file, to name in messages.

    Raises
    ------
    CaseError
        If a hook has no place; one line for each.
    """
    places, problems = [], []
    for key, name, changed in _hooked(search.field, content):
        try:
            case = resolved(validate_case(changed, source))
            cantilever_sites(case)
        except CaseError as error:
            problems += [Problem(source, key, problem.message) for problem in error.problems]
            continue
        except ValueError as error:
            problems.append(Problem(source, key, str(error)))
            continue
        units = case_units(case, support_files)
        places.append(HookPlace(name, changed, case, units, case_cantilever(case, units)))
    if problems:
        raise CaseError(problems)
    return tuple(places)


def _hooked(
    field: FieldOfDesigns, content: Mapping[Any, Any]
) -> list[tuple[str, str, dict[Any, Any]]]:
    """Key, name and changed content of every hook."""
    if field.spans_mm is None and not field.between:
        return [("case", "as in the case", deepcopy(dict(content)))]
    places = []
    for span in field.spans_mm.values if field.spans_mm else ():
        changed = _without_hook(content)
        changed["wire"]["span_mm"] = float(span)
        places.append(("field.spans_mm", f"{span:.4g} mm", changed))
    for number, (first, second) in enumerate(field.between):
        changed = _without_hook(content)
        changed["one_point"]["between"] = [first, second]
        places.append((f"field.between[{number}]", f"{first}/{second}", changed))
    return places


def _without_hook(content: Mapping[Any, Any]) -> dict[Any, Any]:
    changed = deepcopy(dict(content))
    for name in ("between", "tooth"):
        changed["one_point"].pop(name, None)
    changed["wire"].pop("span_mm", None)
    return changed


def wires_of(search: Search, hooks: tuple[HookPlace, ...]) -> Wires:
    """Every combination of run, hook, section and alloy."""
    rows, cantilevers = load_catalogue(), []
    records: list[dict[str, Any]] = []
    numbers: list[int] = []
    materials = {
        name: wire_material(rows.alloys[name].model_dump()) for name in search.field.alloys
    }
    for run in search.field.runs or (RUN_OF_CASE,):
        for number, place in enumerate(hooks):
            sites, units = place.cantilever.sites, place.cantilever.units
            for section in search.field.sections:
                sizes = rows.sections[section].model_dump()
                features = _features(search.field, run, place, sizes)
                shape, room = wire_section(sizes), sites.span_mm - _advance_mm(features)
                for alloy, material in materials.items():
                    radius = place.case["wire"]["bend_radius_mm"]
                    wire = WireDesign(shape, material, radius, search.elements, features)
                    cantilevers.append(Cantilever(sites, wire, units))
                    numbers.append(number)
                    records.append(
                        {
                            "alloy": alloy,
                            "section": section,
                            "hook": place.name,
                            "span_mm": sites.span_mm,
                            "run": run,
                            "room_mm": room,
                        }
                    )
    return Wires(tuple(cantilevers), hooks, np.array(numbers), pd.DataFrame(records))


def _features(
    field: FieldOfDesigns, run: str, place: HookPlace, section: Spec
) -> tuple[Feature, ...]:
    case = place.case
    if run not in field.runs:
        own = {"wire": case["wire"] | {"section": case["wire"]["section"] | section}}
        return tuple(part.feature for part in case_run(case | own))
    words = [part.model_dump() for part in field.runs[run]]
    wire = {"along_arch": False, "through": None, "run": words, "section": section}
    tube = frames(case)[case["two_point"]["tooth"]]
    parts = run_parts(wire, place.cantilever.sites, tube, list)
    return tuple(part.feature for part in parts)


def _advance_mm(features: tuple[Feature, ...]) -> float:
    """Distance from the start of a chain of features to its end."""
    place, turned = np.zeros(3), np.eye(3)
    for feature in features:
        for arc in feature.arcs():
            moved, turns = along_arc(arc, np.array([arc.length_mm]))
            place, turned = place + turned @ moved[0], turned @ turns[0]
    return float(np.linalg.norm(place))


def design_content(search: Search, place: HookPlace, row: Mapping[Any, Any]) -> dict[Any, Any]:
    """A design as the content of a case file, activated by its offset.

    Parameters
    ----------
    row
        ``alloy``, ``section``, ``run`` and ``offset_mm`` of the design.
    """
    content = deepcopy(place.content)
    content["case"], content["title"] = "chosen", f"Found by the search {search.search}"
    wire = content["wire"]
    wire["alloy"], wire["section"] = str(row["alloy"]), str(row["section"])
    wire["activation"] = {"offset_mm": float(row["offset_mm"])}
    if row["run"] in search.field.runs:
        for name in ("run", "along_arch", "through"):
            wire.pop(name, None)
        parts = search.field.runs[str(row["run"])]
        if parts:
            wire["run"] = [part.model_dump(mode="json", exclude_none=True) for part in parts]
    return content
