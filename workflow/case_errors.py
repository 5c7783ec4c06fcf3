"""Turning every problem of a user's file into one plain line with a remedy."""

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

_NOTHING: Any = object()
_MOST_LINES, _MOST_SIGNS, _SHORT = 200, 600, 40
_MISSPELT = 0.75  # likeness of one of few choices: below it all are listed
_BOUNDS = {
    "gt": ("more than", max),
    "ge": ("at least", max),
    "lt": ("less than", min),
    "le": ("at most", min),
}
_AFTER_COMMA = re.compile(r",[0-9]+")
_WITH_UNIT = re.compile(r"\s*([-+]?[0-9]*\.?[0-9]+(?:[eE][-+]?[0-9]+)?)\s*(\S.*?)?\s*$")


@dataclass(frozen=True)
class Problem:
    """One thing wrong with one file.

    Attributes
    ----------
    source
        File as the user named it.
    key
        Dotted key, as ``wire.span_mm``; empty for the file as a whole.
    message
        What is wrong and what to do.
    value
        The value found, left out of the text if there is none.
    line
        Line of the file, from 1; None where it is not known.
    """

    source: str
    key: str
    message: str
    value: Any = _NOTHING
    line: int | None = None

    def __str__(self) -> str:
        line = "" if self.line is None else f"line {self.line}: "
        shown = "" if self.value is _NOTHING else f" = {_short(self.value)}"
        place = f"{_printable(self.key)}{shown}: " if self.key else ""
        return f"{self.source}: {line}{place}{_printable(self.message)}"


class CaseError(ValueError):
    """A user's file was refused; the text has one line for each problem.

    Attributes
    ----------
    problems
        All problems found, in reading order.
    """

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        lines = [str(problem) for problem in self.problems[:_MOST_LINES]]
        if len(self.problems) > _MOST_LINES:
            source, more = self.problems[0].source, len(self.problems) - _MOST_LINES
            lines.append(f"{source}: and {more} more problems; mend these first")
        super().__init__("\n".join(lines))


def nearest(word: object, known: Iterable[object], likeness: float = 0.5) -> str:
    """Remedy for an unknown word: the closest known one, or else the list of them."""
    names = [str(name) for name in known]
    match = difflib.get_close_matches(str(word), names, n=1, cutoff=likeness)
    if match:
        return f"did you mean {match[0]}?"
    return f"known: {', '.join(names)}" if names else "none are known"


def dotted(location: Sequence[int | str]) -> str:
    """Write a location as a user would: ``units.molar.teeth[0]``."""
    text = ""
    for part in location:
        if part == "[key]":
            continue
        text += f"[{part}]" if isinstance(part, int) else f".{part}"
    return text.lstrip(".")


def range_of(field: FieldInfo) -> str:
    """Say the allowed range of a field in words; empty if there is none."""
    return _in_words(field.metadata)


def _in_words(rules: Sequence[Any]) -> str:
    """The tightest bound of each kind among some rules."""
    parts = []
    for name, (word, tightest) in _BOUNDS.items():
        limits = [limit for rule in rules if (limit := getattr(rule, name, None)) is not None]
        if limits:
            parts.append(f"{word} {tightest(limits):g}")
    return " and ".join(parts)


def _rules_of_items(annotation: Any) -> list[Any]:
    """Rules of the items inside an annotation such as ``tuple[Annotated[float, Gt(0)], ...]``."""
    own: list[Any] = []
    for rule in getattr(annotation, "__metadata__", ()):
        own += rule.metadata if isinstance(rule, FieldInfo) else [rule]
    inner = [rule for part in get_args(annotation) for rule in _rules_of_items(part)]
    return own + inner


def unit_of(field: FieldInfo | None) -> str:
    """Look up the unit that the documented defaults print for a field."""
    extra = field.json_schema_extra if field else None
    return str(extra.get("unit", "")) if isinstance(extra, dict) else ""


def nested_model(annotation: Any) -> type[BaseModel] | None:
    """Model inside an annotation such as ``Model | None`` or ``dict[str, Model]``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (nested_model(part) for part in get_args(annotation))
    return next((model for model in found if model), None)


def translate(
    error: ValidationError,
    model: type[BaseModel],
    source: str,
    chosen: Sequence[Mapping[str, Any]] | None = None,
) -> list[Problem]:
    """Rewrite the errors of a validation as problems in the user's words.

    Parameters
    ----------
    error
        What the validation of `model` raised.
    model
        Model of the whole file.
    source
        File as the user named it.
    chosen
        Those of its errors to tell; left out, all.
    """
    items: Sequence[Mapping[str, Any]] = error.errors(include_url=False)
    told = items if chosen is None else chosen
    return [_one(dict(item), model, source) for item in told if not _follows(item, items)]


def _follows(item: Mapping[str, Any], items: Sequence[Mapping[str, Any]]) -> bool:
    """Whether a list is too short only because its own items are refused and not counted."""
    place = item["loc"]
    return item["type"] == "too_short" and any(
        len(other["loc"]) > len(place) and other["loc"][: len(place)] == place for other in items
    )


def _one(item: dict[str, Any], model: type[BaseModel], source: str) -> Problem:
    location = item["loc"]
    owner, field = _owner_and_field(model, location)
    value = item["input"]
    if item["type"] == "missing" or "[key]" in location or isinstance(value, Mapping):
        value = _NOTHING
    return Problem(source, dotted(location), _message(item, owner, field), value)


def _owner_and_field(
    model: type[BaseModel], location: Sequence[int | str]
) -> tuple[type[BaseModel] | None, FieldInfo | None]:
    """Innermost model on the way to a location, and the last field met."""
    owner: type[BaseModel] | None = model
    field: FieldInfo | None = None
    for part in location:
        fields = owner.model_fields if owner else {}
        if str(part) in fields:
            field = fields[str(part)]
            inner = nested_model(field.annotation)
            if inner is not None:
                owner = inner
    return owner, field


def _message(item: dict[str, Any], owner: type[BaseModel] | None, field: FieldInfo | None) -> str:
    kind, value = item["type"], item["input"]
    if kind == "extra_forbidden":
        return f"unknown key; {nearest(item['loc'][-1], owner.model_fields if owner else [])}"
    if kind == "missing":
        meaning = field.description if field and field.description else ""
        return f"missing; add it ({meaning})" if meaning else "missing; add it"
    if kind == "not_a_number":
        return _number_message(value, _unit_in_text(field))
    if kind in {"greater_than", "greater_than_equal", "less_than", "less_than_equal"} and field:
        allowed = range_of(field) or _in_words(_rules_of_items(field.annotation))
        return f"out of range; must be {allowed} {_unit_in_text(field)}".rstrip()
    if kind == "literal_error" and field:
        return f"not allowed; {_choices(value, field)}"
    if kind in {"model_type", "dict_type", "model_attributes_type"}:
        empty = "is empty; drop it or give" if value is None else "must hold"
        return f"{empty} keys with values{_known_keys(field)}"
    if kind == "int_from_float":
        return "must be a whole number"
    if kind == "int_parsing_size":
        return "must be a whole number of ordinary size"
    if kind == "invalid_key":
        return f"not allowed; write a word as key{_known_keys(field)}"
    if kind in {"bool_type", "bool_parsing"}:
        return "must be true or false; write one of these without quotes"
    if kind in {"float_type", "int_type"}:
        return f"is empty; give a number {_in(_unit_in_text(field))}".rstrip()
    if kind == "string_type":
        read = "is read as true or false" if isinstance(value, bool) else "must be text"
        return f"{read}; write a word, in quotes if it looks like a number"
    if kind in {"too_long", "too_short"}:
        most_or_least = {"too_long": "at most", "too_short": "at least"}[kind]
        count = item["ctx"].get("max_length", item["ctx"].get("min_length"))
        remedy = {"too_long": "drop some", "too_short": "add some"}[kind]
        return f"must hold {most_or_least} {count}, holds {item['ctx']['actual_length']}; {remedy}"
    if kind == "string_too_short":
        least = item["ctx"]["min_length"]
        return "is empty; write some text" if least == 1 else f"must have at least {least} signs"
    if kind == "string_too_long":
        return f"is too long; write at most {item['ctx']['max_length']} signs"
    if kind in {"tuple_type", "list_type"}:
        alone = isinstance(value, str | int | float) and len(str(value)) < _SHORT
        return f"must be a list; write it in brackets, as [{value if alone else '34, 35'}]"
    if kind == "string_pattern_mismatch":
        return "use small letters, digits and underscores, a letter first"
    text = str(item["msg"]).removeprefix("Value error, ")
    return text[:1].lower() + text[1:]


def _in(unit: str) -> str:
    return f"in {unit}" if unit else ""


def _unit_in_text(field: FieldInfo | None) -> str:
    unit = unit_of(field)
    return "" if unit == "1" else unit


def _known_keys(field: FieldInfo | None) -> str:
    inner = nested_model(field.annotation) if field else None
    if field is None or inner is None or get_origin(field.annotation) is dict:
        return ""
    return f"; known: {', '.join(inner.model_fields)}"


def _choices(value: object, field: FieldInfo) -> str:
    options = _literals(field.annotation)
    if not isinstance(value, str):
        return f"known: {', '.join(str(option) for option in options)}"
    return nearest(value, options, _MISSPELT)


def _literals(annotation: Any) -> list[Any]:
    if get_origin(annotation) is Literal:
        return list(get_args(annotation))
    return [option for part in get_args(annotation) for option in _literals(part)]


def _number_message(value: object, unit: str) -> str:
    match = _WITH_UNIT.match(value) if isinstance(value, str) else None
    in_unit = f" {_in(unit)}".rstrip()
    if match is None:
        if isinstance(value, float):
            return f"must be a finite number{in_unit}"
        if isinstance(value, list):
            return f"must be one number{in_unit}; write it without brackets"
        return f"must be a number{in_unit}; write it without quotes or words"
    number, given = match.groups()
    if given and _AFTER_COMMA.fullmatch(given):
        return f"has a comma; write {number}.{given[1:]}"
    if not given:
        return f"is text in quotes; write {number} without quotes"
    if not unit:
        return f"must be a plain number; write {number}"
    if given.lower() == unit.lower():
        return f"the key already carries the unit; write {number}"
    return f"the key already carries the unit {unit}; write the value in {unit}, without the unit"


def _short(value: object) -> str:
    if value is None:
        return "(empty)"
    if isinstance(value, str):
        return repr(value) if len(value) <= 58 else repr(value[:55] + "...")
    text = str(list(value)) if isinstance(value, tuple) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _printable(text: str) -> str:
    """Text on one line, without signs that would break or hide it."""
    shown = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)
    return shown if len(shown) <= _MOST_SIGNS else shown[: _MOST_SIGNS - 3] + "..."
