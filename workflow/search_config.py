"""Config models of a search: what is wished for, within which limits, and where to look."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import AfterValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from workflow.base_cases import base_case_of
from workflow.case import Case, resolved, validate_case
from workflow.case_errors import CaseError, Problem, nearest
from workflow.case_keys import PRACTICE, Part, demand_one_key, key, row
from workflow.case_run import RunPart
from workflow.catalogue import load_catalogue
from workflow.plan import cantilever_sites
from workflow.sweep_keys import changed
from workflow.units import N_PER_GF
from workflow.validation import STAND_INS, examine
from workflow.values import Line, Name, Number, Tooth, Whole
from workflow.wire_run import part_fault
from workflow.yaml_files import read_mapping, reading

Array = NDArray[np.float64]
Positive = Annotated[Number, Field(gt=0, le=20_000)]  # the most that a case may want, twice
AlloyName = Annotated[str, row("alloys")]
SectionName = Annotated[str, row("sections")]

CASES = Path("configs/cases")
MOST_DESIGNS = 200_000
_TRIED = 12  # spans seen to have a hook before a search begins; those between have one too
_SEARCHED_CONTACTS = ("bar", "tied")


def _rising(pair: tuple[float, float]) -> tuple[float, float]:
    if pair[0] >= pair[1]:
        text = f"must rise from lowest to highest; found {pair[0]:g}, {pair[1]:g}"
        raise PydanticCustomError("range_order", "{text}", {"text": text})
    return pair


Range = Annotated[tuple[Positive, Positive], AfterValidator(_rising)]


class Steps(Part):
    """Equal steps from the lowest to the highest value."""

    low: Number = key("Lowest value", gt=0, le=20_000)
    high: Number = key("Highest value", gt=0, le=20_000)
    count: Whole = key("How many values", unit="1", ge=1, le=1000)

    @model_validator(mode="after")
    def _order(self) -> Self:
        if self.low > self.high or (self.low == self.high) != (self.count == 1):
            raise PydanticCustomError(
                "steps", "low must lie below high, or equal it with count 1; change one of them"
            )
        return self

    @property
    def values(self) -> Array:
        """The values, (count,)."""
        return np.linspace(self.low, self.high, self.count)


class Wish(Part):
    """What the appliance is to give; at least one of couple and force."""

    couple_Nmm: Range | None = key("Least and most couple on the two-point unit", None, "N·mm")
    couple_gfmm: Range | None = key("Least and most couple on the two-point unit", None, "gf·mm")
    force_N: Range | None = key("Least and most force on the one-point unit", None, "N")
    force_gf: Range | None = key("Least and most force on the one-point unit", None, "gf")

    @model_validator(mode="after")
    def _once(self) -> Self:
        for first, second in (("couple_Nmm", "couple_gfmm"), ("force_N", "force_gf")):
            if getattr(self, first) is not None and getattr(self, second) is not None:
                raise PydanticCustomError("once", f"give {first} or {second}, not both")
        if self.couple is None and self.force is None:
            names = ", ".join(type(self).model_fields)
            raise PydanticCustomError("no_wish", f"give at least one of {names}")
        return self

    @property
    def couple(self) -> tuple[float, float] | None:
        """Range of the couple, N·mm."""
        return self.couple_Nmm or _from_gf(self.couple_gfmm)

    @property
    def force(self) -> tuple[float, float] | None:
        """Range of the force, N."""
        return self.force_N or _from_gf(self.force_gf)


def _from_gf(pair: tuple[float, float] | None) -> tuple[float, float] | None:
    return None if pair is None else (pair[0] * N_PER_GF, pair[1] * N_PER_GF)


class Bounds(Part):
    """Limits that every design must keep; what is left out comes from the base case."""

    force_gf: dict[Name, Positive] = key(
        "Most force on a unit, by its name; both units receive the same", {}, "gf"
    )
    force_N: dict[Name, Positive] = key("The same in N", {}, "N")
    ligament_hydrostatic_kPa: Number | None = key(
        "Hydrostatic stress of the ligament that 1 % of a tooth's exceeds, tension or compression; "
        "left out, limits.ligament_hydrostatic_kPa of the case",
        None,
        "kPa",
        gt=0,
        le=1000,
    )
    yield_ratio: Number | None = key(
        "Peak wire stress as a share of the yield strength; left out, limits.yield_ratio of the "
        "case",
        None,
        "1",
        gt=0,
        le=1,
    )
    action_mm: Number | None = key(
        "Least way of the hook over which the force stays within 25 % of its value, up and down, "
        "by its rate at full activation",
        None,
        "mm",
        gt=0,
    )
    room_mm: Number = key(
        "Least part of the span that the run leaves to the bend at the tube and the last leg",
        1.0,
        "mm",
        PRACTICE,
        ge=0,
        le=40,
    )

    @model_validator(mode="after")
    def _once(self) -> Self:
        for unit in self.force_gf.keys() & self.force_N.keys():
            raise PydanticCustomError("once", f"give force_gf or force_N of unit {unit}, not both")
        return self

    @property
    def most_force_gf(self) -> dict[str, float]:
        """Most force on each unit, gf."""
        return self.force_gf | {unit: most / N_PER_GF for unit, most in self.force_N.items()}


class FieldOfActivation(Part):
    """Activations tried, by exactly one key; the whole left out, five couples over the wish."""

    offset_mm: Steps | None = key("Distance that the wire's end is brought to its hook", None, "mm")
    couple_Nmm: Steps | None = key("Couples, each wire's offset found for them", None, "N·mm")
    couple_gfmm: Steps | None = key("Couples, each wire's offset found for them", None, "gf·mm")

    @model_validator(mode="after")
    def _one_key(self) -> Self:
        demand_one_key(self, type(self).model_fields)
        return self


class FieldOfDesigns(Part):
    """Every combination of these is a design; a hook list left out keeps the hook of the case."""

    alloys: tuple[AlloyName, ...] = key("Rows of configs/catalogue/alloys.yaml", min_length=1)
    sections: tuple[SectionName, ...] = key("Rows of configs/catalogue/sections.yaml", min_length=1)
    spans_mm: Steps | None = key("Hooks by their distance from the tube's mouth", None, "mm")
    between: tuple[tuple[Tooth, Tooth], ...] = key("Hooks between neighbouring teeth", ())
    runs: dict[Name, Annotated[tuple[RunPart, ...], Field(max_length=40)]] = key(
        "What the wire is bent to, each as wire.run of a case, by a name; left out, as in the case",
        {},
    )
    activation: FieldOfActivation | None = key("Activations", None)


class Search(Part):
    """One search."""

    search: Name = key("Name of the search, the same as the file name before .yaml")
    title: Line = key("What is sought, in one line", min_length=1, max_length=200)
    case: str = key("Name of the base case in configs/cases", pattern=r"^[A-Za-z][A-Za-z0-9_-]*$")
    wish: Wish = key("What the appliance is to give")
    limits: Bounds = key("Limits that every design must keep", Bounds())
    field: FieldOfDesigns = key("Where to look")
    criterion: Literal["least_force", "least_yield_ratio", "least_ligament", "most_action"] = key(
        "Which of the designs within limits is chosen", "least_force"
    )
    elements: Whole = key(
        "Rod elements on the free run while searching; more where loops turn", 12, "1", ge=8, le=200
    )

    @property
    def couples_Nmm(self) -> Array | None:
        """Couples that activations are found for, None if offsets are given."""
        activation = self.field.activation
        if activation is None:
            assert self.wish.couple is not None
            return np.linspace(*self.wish.couple, 5)
        if activation.couple_gfmm is not None:
            return activation.couple_gfmm.values * N_PER_GF
        return None if activation.couple_Nmm is None else activation.couple_Nmm.values

    @property
    def offsets_mm(self) -> Array | None:
        """Offsets tried, None if couples are given."""
        activation = self.field.activation
        given = activation is not None and activation.offset_mm is not None
        return activation.offset_mm.values if given else None  # type: ignore[union-attr]


def load_search(path: str | Path, cases: Path = CASES) -> tuple[Search, Case]:
    """Read and check the file of a search and its base case.

    Parameters
    ----------
    path
        YAML file; its name before ``.yaml`` is the name of the search.
    cases
        Folder of case files.

    Raises
    ------
    CaseError
        If anything is wrong; one line for each problem.
    """
    path = Path(path)
    with reading(path) as content:
        own = {str(name): value for name, value in content.items()}
        found = examine(Search, own, str(path), STAND_INS | {"search": path.stem})
        if found.rest is None:
            raise CaseError(found.problems)
        case, problems = base_case_of(found.rest.case, str(path), cases)
        if case is not None:
            problems += _problems(found.rest, case, path)
            if not (problems or found.problems):
                problems += _misplaced(found.rest, cases, str(path))
        if found.problems or problems or found.whole is None or case is None:
            raise CaseError(found.problems + problems)
        return found.whole, case


def _problems(search: Search, case: Case, path: Path) -> list[Problem]:
    """Where search and base case do not go together."""
    found: list[tuple[str, str, object]] = []
    if search.search != path.stem:
        found.append(("search", f"must equal the file name; write {path.stem}", search.search))
    if search.field.activation is None and search.wish.couple is None:
        found.append(("field.activation", "missing; add it, as no couple is wished for", None))
    for name in ("force_gf", "force_N"):
        for unit in getattr(search.limits, name):
            if unit not in case.units:
                text = f"no such unit; {nearest(unit, case.units)}"
                found.append((f"limits.{name}.{unit}", text, None))
    contact = case.one_point.contact
    base = f"the base case {search.case}"
    if contact not in _SEARCHED_CONTACTS:
        text = f"{base} has one_point.contact {contact}, which is not searched; use bar or tied"
        found.append(("case", text, search.case))
    if case.one_point.friction:
        found.append(
            ("case", f"{base} has friction, which is not searched; drop it there", search.case)
        )
    if case.two_point.attachment is not None:
        text = (
            f"{base} has play in its tube, which is not searched; drop two_point.attachment there"
        )
        found.append(("case", text, search.case))
    found += _unbent(search)
    if not found and (n := count_of(search)) > MOST_DESIGNS:
        found.append(("field", f"holds {n} designs; leave at most {MOST_DESIGNS}", None))
    return [
        Problem(str(path), name, text) if value is None else Problem(str(path), name, text, value)
        for name, text, value in found
    ]


def _misplaced(search: Search, cases: Path, source: str) -> list[Problem]:
    """Hooks that the base case cannot have."""
    content = read_mapping(cases / f"{search.case}.yaml")
    spans = search.field.spans_mm
    tried = () if spans is None else np.linspace(spans.low, spans.high, min(spans.count, _TRIED))
    hooks: list[tuple[str, str, object]] = [
        ("field.spans_mm", "wire.span_mm", round(float(value), 3)) for value in tried
    ]
    hooks += [
        (f"field.between[{number}]", "one_point.between", list(pair))
        for number, pair in enumerate(search.field.between)
    ]
    found = []
    for place, path, value in hooks:
        try:
            cantilever_sites(resolved(validate_case(changed(content, {path: value}), source)))
        except CaseError as error:
            found += [Problem(source, place, p.message, value) for p in error.problems]
        except ValueError as error:
            text = f"{error}; choose spans in between"
            found.append(Problem(source, place, text, value))
    return found


def _unbent(search: Search) -> list[tuple[str, str, object]]:
    """Parts of runs whose measures do not go together, whichever the section."""
    found: list[tuple[str, str, object]] = []
    for name, parts in search.field.runs.items():
        for number, part in enumerate(parts):
            for section in search.field.sections:
                sizes = load_catalogue().sections[section].model_dump()
                if fault := part_fault(part.model_dump(), sizes):
                    found.append((f"field.runs.{name}[{number}]", fault, None))
                    break
    return found


def count_of(search: Search) -> int:
    """Number of designs of a search."""
    field = search.field
    hooks = (field.spans_mm.count if field.spans_mm else 0) + len(field.between)
    activations = search.offsets_mm if search.offsets_mm is not None else search.couples_Nmm
    assert activations is not None
    wires = len(field.alloys) * len(field.sections) * max(hooks, 1) * max(len(field.runs), 1)
    return wires * len(activations)
