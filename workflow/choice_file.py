"""Reading the file of a choice: its wishes must go together, and its set-ups must be cases."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from workflow.case_errors import CaseError, Problem, nearest
from workflow.case_wire import WAYS_OF_ACTIVATION
from workflow.choice_config import Choice
from workflow.choice_setups import base_case
from workflow.validation import STAND_INS, examine
from workflow.yaml_files import reading

# Keys of a case that the choice itself fills in.
_CHOSEN = {
    "": ("schema_version", "case", "title"),
    "two_point": ("unit", "tooth"),
    "one_point": ("unit", "tooth", "between"),
    "wire": ("span_mm",),
    "wire.activation": ("pulls", *WAYS_OF_ACTIVATION),
}


def load_choice(path: str | Path) -> Choice:
    """Read and check the file of a choice, and one of its set-ups as a case.

    Raises
    ------
    CaseError
        If anything is wrong; all problems at once, one line each.
    """
    path = Path(path)
    with reading(path) as content:
        own = {str(name): value for name, value in content.items()}
        source, stand_ins = str(path), STAND_INS | {"choice": path.stem}
        found = examine(Choice, own, source, stand_ins)
        told = found.problems
        problems = [replace(p, key=p.key.replace(".movements", "", 1)) for p in told]
        rest = found.rest or examine(Choice, own | {"wishes": {}}, source, stand_ins).rest
        if rest is not None:
            later = [*_problems(rest, source, path.stem)]
            if not any(p.key.startswith("base") for p in later):
                later += _problems_of_base(rest, source)
            wishes_wrong = any(p.key.startswith("wishes") for p in problems)
            problems += [p for p in later if not (wishes_wrong and p.key == "wishes")]
        if problems or found.whole is None:
            raise CaseError(problems)
    return found.whole


def _problems_of_base(choice: Choice, source: str) -> list[Problem]:
    """What is wrong with all set-ups alike."""
    try:
        base_case(choice, source)
    except CaseError as error:
        return list(error.problems)
    return []


def _problems(choice: Choice, source: str, stem: str) -> Iterator[Problem]:
    if choice.choice != stem:
        text = f"must equal the file name; write {stem} or rename the file"
        yield Problem(source, "choice", text, choice.choice)
    for part, names in _CHOSEN.items():
        own: Any = choice.base
        for name in filter(None, part.split(".")):
            own = own.get(name) if isinstance(own, dict) else None
        place = ".".join(filter(None, ("base", part)))
        if own is not None and not isinstance(own, dict):
            yield Problem(source, place, "must hold keys with values", own)
            continue
        for name in names:
            if own and name in own:
                yield Problem(source, f"{place}.{name}", "is chosen here; drop it", own[name])
    units = choice.base.get("units")
    if not isinstance(units, dict):
        yield Problem(source, "base.units", "missing; give the two units as in a case file")
        return
    for name in choice.wishes:
        if name not in units:
            yield Problem(source, f"wishes.{name}", f"no such unit; {nearest(name, units)}")
    if not any(choice.wanted):
        text = "nothing is wanted; write wanted for at least one movement, as extrusion: wanted"
        yield Problem(source, "wishes", text)
