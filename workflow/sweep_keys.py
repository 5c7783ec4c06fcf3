"""Dotted keys into a case: which there are, and the content of a case with some of them changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from workflow.case_errors import nested_model, translate, unit_of
from workflow.case_models import Case
from workflow.case_wire import WAYS_OF_ACTIVATION

# Keys of which a case holds one: to give one drops the others that the base case has.
_ALTERNATIVES = (
    tuple(f"wire.activation.{way}" for way in WAYS_OF_ACTIVATION),
    ("one_point.between", "one_point.tooth", "wire.span_mm"),
    ("ligament.thickness_mm", "ligament.profile_mm"),
    ("wire.run", "wire.along_arch", "wire.through"),
)


def field_at(path: str) -> FieldInfo | None:
    """Field that a dotted key leads to; None if a case has no such key."""
    model: type[BaseModel] | None = Case
    field: FieldInfo | None = None
    named = False  # whether the next part is a name or number of the user's
    for part in path.split("."):
        if named:
            named = False
            continue
        field = model.model_fields.get(part) if model else None
        if field is None:
            return None
        model, named = _inside(field)
    return field


def _inside(field: FieldInfo) -> tuple[type[BaseModel] | None, bool]:
    """Model below a field, and whether names of the user's come first; nothing inside lists."""
    kinds = {get_origin(part) for part in (field.annotation, *get_args(field.annotation))}
    model = None if tuple in kinds else nested_model(field.annotation)
    return model, dict in kinds


def known_keys(case: Case) -> tuple[str, ...]:
    """Keys that a study may change, for the units and the teeth of a case."""
    names = {"units": tuple(case.units), "teeth": tuple(map(str, case.used_teeth))}
    return tuple(_keys(Case, "", names))


def _keys(
    model: type[BaseModel], prefix: str, names: Mapping[str, tuple[str, ...]]
) -> Iterator[str]:
    for name, field in model.model_fields.items():
        inner, named = _inside(field)
        owners = names.get(name, ()) if named else ("",)
        yield prefix + name
        for owner in owners if inner is not None else ():
            assert inner is not None
            below = f"{prefix}{name}.{owner}." if owner else f"{prefix}{name}."
            yield from _keys(inner, below, names)


def unit_suffix(path: str) -> str:
    """Last part of a key's name where it is the key's unit, as ``mm`` of ``span_mm``."""
    field = field_at(path)
    unit = unit_of(field) if field is not None else ""
    return "" if unit in ("", "1") else path.rsplit("_", 1)[-1]


def alternatives_of(path: str) -> tuple[str, ...]:
    """Keys of which a case may hold only one, this one among them."""
    return next((group for group in _ALTERNATIVES if path in group), (path,))


def changed(content: Mapping[Any, Any], values: Mapping[str, Any]) -> dict[str, Any]:
    """Content of a case with some values set; alternatives that are not set too are dropped.

    Parameters
    ----------
    content
        Content of a case file.
    values
        New values by dotted key.
    """
    new: dict[str, Any] = _copied(content)
    for path in values:
        for other in alternatives_of(path):
            if other not in values:
                _drop(new, other.split("."))
    for path, value in values.items():
        *parents, last = path.split(".")
        place = new
        for part in parents:
            if not isinstance(place.get(part), dict):
                place[part] = {}
            place = place[part]
        place[last] = _copied(value)
    return new


def _drop(content: dict[str, Any], parts: list[str]) -> None:
    *parents, last = parts
    place: Any = content
    for part in parents:
        place = place.get(part, {}) if isinstance(place, dict) else {}
    if isinstance(place, dict):
        place.pop(last, None)


def _copied(value: Any) -> Any:
    """A copy with every key as text, so that tooth numbers are named alike."""
    if isinstance(value, Mapping):
        return {str(name): _copied(inner) for name, inner in value.items()}
    return [_copied(inner) for inner in value] if isinstance(value, list | tuple) else value


def faults(content: Mapping[str, Any], values: Mapping[str, Any]) -> list[str]:
    """What the models of a case say against some values alone, whatever else the case holds."""
    try:
        Case.model_validate(changed(content, values))
    except ValidationError as error:
        found = translate(error, Case, "")
        return [p.message for p in found if any(_within(p.key, path) for path in values)]
    return []


def _within(key: str, path: str) -> bool:
    return key == path or key.startswith((f"{path}.", f"{path}["))
