"""Keys that a model of a file has, and values that they may hold, drawn at random."""

from __future__ import annotations

import types
from collections.abc import Sequence
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import numpy as np
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from workflow.case_errors import nested_model
from workflow.catalogue import load_catalogue
from workflow.choice_config import WORDS

Rng = np.random.Generator
_UNITS = ("molar", "segment", "canine")
_FAR_MM, _NEAR_MM = 100, 15
_TEETH = (37, 35, 34, 33, 13, 26)


def pick(rng: Rng, options: Any) -> Any:
    return options[int(rng.integers(len(options)))]


def keys_of(model: type[BaseModel], prefix: str = "") -> dict[str, FieldInfo]:
    """Fields of a model and of the models inside it, by dotted key; nothing in lists and names."""
    found = {}
    for name, field in model.model_fields.items():
        found[prefix + name] = field
        inner = nested_model(field.annotation)
        kinds = {get_origin(part) for part in (field.annotation, *get_args(field.annotation))}
        if inner is not None and not kinds & {tuple, dict}:
            found |= keys_of(inner, f"{prefix}{name}.")
    return found


def value_for(name: str, field: FieldInfo, rng: Rng) -> Any:
    """A value that a field may have more often than not."""
    if name == "wishes":
        return {pick(rng, _UNITS): _wishes(rng) for _ in range(2)}
    return _drawn(name, field.annotation, list(field.metadata), rng)


def _wishes(rng: Rng) -> dict[str, Any]:
    kinds = ("wanted", "unwanted", "indifferent")
    wishes: dict[str, Any] = {pick(rng, list(WORDS)): pick(rng, kinds) for _ in range(2)}
    wanted = {"wish": "wanted", "amount": float(rng.uniform(0.1, 20)), "weight": 2}
    return wishes | ({pick(rng, list(WORDS)): wanted} if rng.random() < 0.5 else {})


def _drawn(name: str, annotation: Any, rules: Sequence[Any], rng: Rng) -> Any:
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        inner = [r for rule in parts[1:] for r in getattr(rule, "metadata", None) or [rule]]
        return _drawn(name, parts[0], [*rules, *inner], rng)
    if origin in (Union, types.UnionType):
        return _drawn(
            name, pick(rng, [part for part in parts if part is not type(None)]), rules, rng
        )
    if origin is Literal:
        return pick(rng, parts)
    if origin is tuple:
        kinds = parts[:1] * int(rng.integers(1, 4)) if parts[-1] is Ellipsis else parts
        return [_drawn(name, kind, (), rng) for kind in kinds]
    if origin is dict:
        names = _TEETH if parts[0] is not str and "int" in str(parts[0]) else _UNITS
        return {pick(rng, names): _drawn(name, parts[1], (), rng)}
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        fields = annotation.model_fields.items()
        asked = {key: f for key, f in fields if f.is_required() or rng.random() < 0.4}
        return {key: value_for(key, f, rng) for key, f in asked.items()}
    return _plain(name, annotation, rules, rng)


def _plain(name: str, annotation: Any, rules: Sequence[Any], rng: Rng) -> Any:
    if annotation is bool:
        return bool(rng.random() < 0.5)
    if annotation in (int, float):
        return _number(name, annotation, rules, rng)
    rows = load_catalogue()
    tables = {"alloy": rows.alloys, "section": rows.sections, "attachment": rows.attachments}
    table = next((known for word, known in tables.items() if word in name), None)
    return pick(rng, ["molar", "segment", "some words"] if table is None else list(table))


def _number(name: str, kind: type, rules: Sequence[Any], rng: Rng) -> float:
    if name in ("tooth", "teeth", "between", "tubes"):
        return pick(rng, _TEETH)
    bounds = {n: getattr(r, n) for r in rules for n in ("ge", "gt", "le", "lt") if hasattr(r, n)}
    low = bounds.get("ge", bounds.get("gt", 0.0))
    high = bounds.get("le", bounds.get("lt", low + 20.0))
    if low < -_FAR_MM and high > _FAR_MM:  # a coordinate, which most often lies in the mouth
        low, high = -_NEAR_MM, _NEAR_MM
    value = float(rng.uniform(low, high)) if rng.random() < 0.8 else pick(rng, [low, high])
    return int(value) if kind is int else float(f"{value:.4g}")
