"""Config models of a parameter study: a base case, what is varied, how, and what is kept.

A file ``configs/studies/<name>.yaml`` with the key ``factors`` is a parameter study. Every run is
the base case with some values changed; results/studies/<name>/runs.csv has one row each.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from math import prod
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import BeforeValidator, StrictBool, model_validator
from pydantic_core import PydanticCustomError

from workflow.base_cases import base_case_of
from workflow.case import Case, validate_case
from workflow.case_errors import CaseError, Problem, nearest
from workflow.case_keys import Part, demand_one_key
from workflow.case_keys import key as entry
from workflow.sweep_factor import Factor
from workflow.sweep_keys import alternatives_of, changed, faults, field_at, known_keys, unit_suffix
from workflow.sweep_responses import response_fault
from workflow.validation import STAND_INS, examine
from workflow.values import Line, Name, Whole
from workflow.yaml_files import MAX_BYTES, read_mapping, reading

STUDIES = Path("configs/studies")
CASES = Path("configs/cases")
MOST_RUNS = 200_000
MOST_SEED = 2**32 - 1  # the generators of all designs take these
_TRIED = 200  # runs: all are tried where none makes a case, which takes a second
OWN_COLUMNS = ("run", "note")


class Counted(Part):
    """A design that follows from the levels alone."""


class LatinHypercube(Part):
    """Random points, each factor's range cut into as many equal parts, one point in each."""

    runs: Whole = entry("How many runs", unit="1", ge=2, le=MOST_RUNS)
    seed: Whole = entry("Seed of the random numbers", unit="1", ge=0, le=MOST_SEED)


class RandomPoints(Part):
    """Independent random points; with more runs the first ones stay, so only new ones are made."""

    runs: Whole = entry("How many runs", unit="1", ge=2, le=MOST_RUNS)
    seed: Whole = entry("Seed of the random numbers", unit="1", ge=0, le=MOST_SEED)


class SobolPoints(Part):
    """Points from which indices of sensitivity are computed; see `workflow.sweep_sensitivity`."""

    base_runs: Whole = entry(
        "Points N of the base sample, a power of two; it takes N (factors + 2) runs",
        unit="1",
        ge=8,
        le=MOST_RUNS // 3,
    )
    seed: Whole = entry("Seed of the scrambled sequence", unit="1", ge=0, le=MOST_SEED)

    @model_validator(mode="after")
    def _power_of_two(self) -> Self:
        below = 2 ** (self.base_runs.bit_length() - 1)
        if below != self.base_runs:
            text = f"base_runs must be a power of two, as {below} or {2 * below}"
            raise PydanticCustomError("power", "{text}", {"text": text})
        return self


def _by_name(design: Any) -> Any:
    """A design without numbers is written by its name alone."""
    return {design: {}} if isinstance(design, str) else design


class Design(Part):
    """How the values of the factors are put together, by exactly one key.

    A kind of design is one field here and one sampler of the same name in `workflow.sweep_design`.
    """

    grid: Counted | None = entry("Every combination of levels, the last factor fastest", None)
    one_at_a_time: Counted | None = entry(
        "All first levels, then each other level with all others at their first", None
    )
    latin_hypercube: LatinHypercube | None = entry("Points that fill the ranges evenly", None)
    random: RandomPoints | None = entry("Independent random points, as people drawn", None)
    sobol: SobolPoints | None = entry("Points for global indices of sensitivity", None)

    @model_validator(mode="after")
    def _one(self) -> Self:
        demand_one_key(self, type(self).model_fields)
        return self

    @property
    def name(self) -> str:
        """Which design it is."""
        return next(name for name in type(self).model_fields if getattr(self, name) is not None)

    @property
    def sampled(self) -> bool:
        """Whether it also takes factors without levels."""
        return not isinstance(getattr(self, self.name), Counted)


class ParameterStudy(Part):
    """One parameter study."""

    study: Name = entry("Name of the study, the same as the file name before .yaml")
    title: Line = entry("What it asks, in one line", min_length=1, max_length=200)
    case: str = entry("Name of the base case in configs/cases", pattern=r"^[A-Za-z][A-Za-z0-9_-]*$")
    fixed: dict[str, Any] = entry("Values that differ from the base case in all runs, by key", {})
    factors: tuple[Factor, ...] = entry("What is varied", min_length=1, max_length=20)
    design: Annotated[Design, BeforeValidator(_by_name)] = entry("How values are put together")
    responses: tuple[str, ...] = entry(
        "What is kept of every run; see workflow.sweep_responses",
        min_length=1,
        max_length=60,
    )
    teeth_in_chunks: StrictBool | None = entry(
        "Whether many teeth are made in one job; left out, where there are many; see "
        "workflow.sweep_chunks",
        None,
    )


@dataclass(frozen=True)
class LoadedStudy:
    """A parameter study that was read and checked.

    Attributes
    ----------
    study
        The study.
    content
        Content of its base case with the fixed values set.
    path
        Its file.
    """

    study: ParameterStudy
    content: dict[str, Any]
    path: str


def study_names(folder: Path = STUDIES) -> tuple[str, ...]:
    """Names of the parameter studies in a folder; other studies have no ``factors``."""
    return tuple(path.stem for path in sorted(folder.glob("*.yaml")) if _has_factors(path))


def _has_factors(path: Path) -> bool:
    """Whether a file has the key, seen without reading it as YAML: it may be wrong elsewhere."""
    if not path.is_file():
        return False
    with path.open("rb") as stream:
        text = stream.read(MAX_BYTES).decode("utf-8", errors="replace")
    return re.search(r"(?:\A\ufeff*|[\r\n])[\"']?factors[\"']?\s*:", text) is not None


def load_parameter_study(path: str | Path, cases: Path = CASES) -> LoadedStudy:
    """Read and check the file of a parameter study and its base case.

    Raises
    ------
    CaseError
        If anything is wrong; one line for each problem.
    """
    path = Path(path)
    with reading(path) as own:
        data = {str(name): value for name, value in own.items()}
        found = examine(ParameterStudy, data, str(path), STAND_INS | {"study": path.stem})
        if found.rest is None:
            raise CaseError(found.problems)
        study = found.rest
        case, problems = base_case_of(study.case, str(path), cases)
        content: dict[Any, Any] = {}
        if case is not None:
            content = read_mapping(cases / f"{study.case}.yaml")
            for key, *rest in _problems(study, case, content, path.stem):
                problems.append(Problem(str(path), found.in_file(key), *rest))
        if found.problems or problems or found.whole is None:
            raise CaseError(found.problems + problems)
    return LoadedStudy(found.whole, changed(content, study.fixed), str(path))


_Fault = tuple[Any, ...]  # key, message and perhaps value


def _problems(study: ParameterStudy, case: Case, content: Any, stem: str) -> Iterator[_Fault]:
    if study.study != stem:
        yield "study", f"must equal the file name; write {stem}", study.study
    keys = [("fixed", path) for path in study.fixed]
    keys += [(f"factors[{k}]", path) for k, f in enumerate(study.factors) for path in f.keys]
    unknown = list(_unknown_keys(keys, case))
    yield from unknown
    repeated = list(_repeated_keys(keys))
    yield from repeated
    yield from _column_names(study)
    for number, name in enumerate(study.responses):
        teeth = _teeth_of(study, case)
        if fault := response_fault(name, {n: u.role for n, u in case.units.items()}, teeth):
            yield f"responses[{number}]", fault, name
    if not unknown:
        yield from _values(study, content)
    too_many = list(_size(study))
    yield from too_many
    if not (unknown or repeated or too_many):
        yield from _refused_everywhere(study, content)


def _unknown_keys(keys: list[tuple[str, str]], case: Case) -> Iterator[_Fault]:
    known = known_keys(case)
    for place, path in keys:
        parts = path.split(".")
        strange_unit = len(parts) > 1 and parts[0] == "units" and parts[1] not in case.units
        if field_at(path) is None or strange_unit:
            yield _key_place(place, path), f"no such key in a case; {nearest(path, known)}", path
        elif path in ("case", "title", "schema_version"):
            yield _key_place(place, path), "is no value of a run; choose another key", path


def _key_place(place: str, path: str) -> str:
    return f"{place}.{path}" if place == "fixed" else f"{place}.key"


def _repeated_keys(keys: list[tuple[str, str]]) -> Iterator[_Fault]:
    """Keys that two factors set, or that a case may hold only one of."""
    owner: dict[str, str] = {}
    for place, path in keys:
        for other in alternatives_of(path):
            if owner.setdefault(other, place) != place:
                text = f"{path} cannot be set beside {other} of {owner[other]}; put both into one "
                yield place, text + "factor of labelled levels, or drop one"
                break


def _column_names(study: ParameterStudy) -> Iterator[_Fault]:
    taken = dict.fromkeys((*OWN_COLUMNS, *study.responses))
    for number, factor in enumerate(study.factors):
        place = f"factors[{number}].name"
        if factor.name in taken:
            text = "is the name of another column; choose another, as set_" + factor.name
            yield place, text, factor.name
        taken[factor.name] = None
        suffix = unit_suffix(factor.key) if factor.key else ""
        if suffix and not factor.name.endswith(f"_{suffix}"):
            yield place, f"must end with the unit of its key; write {factor.name}_{suffix}"
    for name in {n for n in study.responses if study.responses.count(n) > 1}:
        yield "responses", f"{name} is written twice; keep one"


def _values(study: ParameterStudy, content: Any) -> Iterator[_Fault]:
    """Values that no case may have, whatever the other factors are at."""
    fixed = changed(content, study.fixed)
    for path, value in study.fixed.items():
        for fault in faults(changed(content, {}), {path: value}):
            yield f"fixed.{path}", fault, value
    for number, factor in enumerate(study.factors):
        for choice in factor.ends:
            for fault in faults(fixed, choice.values):
                yield f"factors[{number}].{factor.way}", fault, choice.shown


def _refused_everywhere(study: ParameterStudy, content: Any) -> Iterator[_Fault]:
    """A study no run of which makes a case; single ones may be refused, and keep their reason."""
    from workflow.sweep_design import design_points  # it reads this module's studies

    if _count_of(study) > _TRIED:
        return
    fixed, first = changed(content, study.fixed), ""
    for point in design_points(study):
        values = {path: value for choice in point for path, value in choice.values.items()}
        try:
            validate_case(changed(fixed, values), "")
            return
        except CaseError as error:
            said = error.problems[0]
            first = first or f"{said.key}: {said.message}"
    yield "factors", f"no run of the study makes a case; mend what all share. The first: {first}"


def _count_of(study: ParameterStudy) -> int:
    design = study.design
    sampled = design.latin_hypercube or design.random
    if sampled is not None:
        return sampled.runs
    if design.sobol is not None:
        return design.sobol.base_runs * (len(study.factors) + 2)
    counts = [max(len(factor.choices), 1) for factor in study.factors]
    return prod(counts) if design.grid is not None else sum(counts)


def _size(study: ParameterStudy) -> Iterator[_Fault]:
    design = study.design
    runs = _count_of(study)
    if design.sobol is not None and runs > MOST_RUNS:
        yield "design.sobol.base_runs", f"makes {runs} runs; leave at most {MOST_RUNS}"
    if design.sampled:
        return
    for number, factor in enumerate(study.factors):
        if not factor.choices:
            yield (
                f"factors[{number}]",
                f"a distribution has no levels, which design {design.name} takes; give levels or "
                "range, or use a sampled design",
            )
    if design.grid is not None and runs > MOST_RUNS:
        yield "factors", f"make {runs} runs; leave at most {MOST_RUNS}"


def _teeth_of(study: ParameterStudy, case: Case) -> tuple[int, ...]:
    """Teeth that some run has: those of the base case and of every level that names teeth."""
    teeth = dict.fromkeys(case.used_teeth)
    values = [choice.values for factor in study.factors for choice in factor.choices]
    for given in (study.fixed, *values):
        for path, value in given.items():
            if path.startswith("units.") and path.endswith(".teeth") and isinstance(value, list):
                teeth |= dict.fromkeys(int(t) for t in value if str(t).isdigit())
    return tuple(teeth)
