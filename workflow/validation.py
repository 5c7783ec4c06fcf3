"""Every problem of a file's content at once.

A model tells the faults of single values first, and those between values only once there are none.
What is wrong is therefore left out and the rest tried again, so that nobody has to mend a file
twice. What only follows from leaving something out is not told.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from pydantic import BaseModel, ValidationError

from workflow.case_errors import Problem, translate

Model = TypeVar("Model", bound=BaseModel)
Place = tuple[int | str, ...]

STAND_INS = {"role": "target", "title": "-"}  # raise no follow-up where the value itself is wrong
_FOLLOW = {"missing", "too_short", "numbering"}  # what leaving out may cause by itself
_NONE_LEFT = re.compile(r"found none|at least one of")


@dataclass(frozen=True)
class Examined(Generic[Model]):
    """What a model says of a content.

    Attributes
    ----------
    whole
        The model, None if anything is wrong.
    rest
        The model of what is right; None if that makes none.
    problems
        Everything wrong, in the user's words.
    wrong
        Places left out of `rest`.
    """

    whole: Model | None
    rest: Model | None
    problems: list[Problem]
    wrong: tuple[Place, ...] = ()

    def in_file(self, key: str) -> str:
        """Key of the file for one of `rest`, whose lists are shorter by what was left out."""
        for place in sorted(self.wrong, key=str):
            if place and isinstance(place[-1], int):
                key = _stepped(key, ".".join(map(str, place[:-1])), place[-1])
        return key


def _stepped(key: str, name: str, left_out: int) -> str:
    match = re.match(rf"{re.escape(name)}\[(\d+)\]", key)
    if match is None or int(match[1]) < left_out:
        return key
    return f"{name}[{int(match[1]) + 1}]{key[match.end() :]}"


def examine(
    model: type[Model],
    content: Mapping[str, Any],
    source: str,
    stand_ins: Mapping[str, Any] = STAND_INS,
) -> Examined[Model]:
    """Check a content against a model.

    Parameters
    ----------
    content
        Content of a file, its keys text.
    source
        File to name in messages.
    stand_ins
        Right values, by name of a key, to take where one is wrong.
    """
    try:
        whole = model.model_validate(content)
    except ValidationError as error:
        first = error
    else:
        return Examined(whole, whole, [])
    problems, wrong = translate(first, model, source), _left_out(first)
    smaller = without(dict(content), wrong, stand_ins)
    rest: Model | None = None
    try:
        rest = model.model_validate(smaller)
    except ValidationError as error:
        known = {problem.key for problem in problems}
        later = [item for item in error.errors(include_url=False) if not _caused(item, wrong)]
        told = translate(error, model, source, later)
        problems += [problem for problem in told if problem.key not in known]
    return Examined(None, rest, problems, tuple(wrong))


def _left_out(error: ValidationError) -> list[Place]:
    """Places of wrong values: those of parts of a list or a pair count as the whole of it."""
    return [item["loc"] for item in error.errors() if item["type"] != "missing"]


def _caused(item: Any, wrong: Sequence[Place]) -> bool:
    """Whether an error only follows from what was left out."""
    place = item["loc"]
    touched = any(other[: len(place)] == place or place[:-1] == other[:-1] for other in wrong)
    return item["type"] in _FOLLOW or (touched and bool(_NONE_LEFT.search(str(item["msg"]))))


def without(
    data: dict[str, Any], wrong: Sequence[Place], stand_ins: Mapping[str, Any] = STAND_INS
) -> dict[str, Any]:
    """Copy `data` less the values reported already, so that those beside them are checked too.

    Wrong items of a list of parts are left out; a list of values with a wrong one is kept.
    """
    kept: dict[str, Any] = {}
    for key, value in data.items():
        inside = [location[1:] for location in wrong if location[:1] == (key,)]
        if any(location in ((), ("[key]",)) for location in inside):
            if key in stand_ins:
                kept[key] = stand_ins[key]
        elif inside and isinstance(value, dict):
            kept[key] = without(value, inside, stand_ins)
        elif inside and isinstance(value, list) and all(isinstance(v, Mapping) for v in value):
            out = {location[0] for location in inside}
            kept[key] = [item for number, item in enumerate(value) if number not in out]
        else:
            kept[key] = value
    return kept
