"""Kinds of value that the config models share: numbers, tooth numbers, names."""

import math
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field
from pydantic_core import PydanticCustomError

TOOTH_NUMBER_HELP = (
    "not an ISO 3950 number of a permanent tooth; write the quadrant (1 to 4) and the place in it "
    "(1 to 8), as 37 for the lower left second molar"
)
_UNIVERSAL = [*range(18, 10, -1), *range(21, 29), *range(38, 30, -1), *range(41, 49)]


def _number(value: Any) -> Any:
    """Refuse booleans, text and values that are not finite; `None` is left to the model."""
    if isinstance(value, bool) or (isinstance(value, float) and not math.isfinite(value)):
        raise PydanticCustomError("not_a_number", "must be a finite number")
    if value is not None and not isinstance(value, int | float):
        raise PydanticCustomError("not_a_number", "must be a number")
    if isinstance(value, int) and abs(value) > 10**15:
        raise PydanticCustomError("not_a_number", "must be a number of ordinary size")
    return value


def _tooth(value: Any) -> int:
    text = str(value)
    if (
        isinstance(value, int | str)
        and len(text) == 2
        and text[0] in "1234"
        and text[1] in "12345678"
    ):
        return int(text)
    hint = ""
    if text.isdigit() and len(text) <= 2 and 1 <= int(text) <= len(_UNIVERSAL):
        hint = f" (universal number {text} is {_UNIVERSAL[int(text) - 1]})"
    if len(text) == 2 and text[0] in "5678" and text[1] in "12345":
        hint = " (milk teeth are not computed)"
    raise PydanticCustomError("not_a_tooth", "{text}", {"text": TOOTH_NUMBER_HELP + hint})


def _one_line(value: str) -> str:
    if not value.isprintable():
        text = "holds a line break or a hidden sign; keep it to one line of visible text"
        raise PydanticCustomError("one_line", "{text}", {"text": text})
    return value


def _direction(value: tuple[float, float, float]) -> tuple[float, float, float]:
    if math.hypot(*value) < LEAST_DIRECTION:
        text = "has no length, so no direction; give three numbers that are not all zero"
        raise PydanticCustomError("no_direction", "{text}", {"text": text})
    return value


LEAST_DIRECTION = 1e-6
FARTHEST_MM = 1000.0  # a head is 250 mm wide; a scanner's origin may lie some way off

Number = Annotated[float, BeforeValidator(_number)]
Whole = Annotated[int, BeforeValidator(_number)]
Coordinate = Annotated[Number, Field(ge=-FARTHEST_MM, le=FARTHEST_MM)]
Point = tuple[Coordinate, Coordinate, Coordinate]
Component = Annotated[Number, Field(ge=-1e6, le=1e6)]
Direction = Annotated[tuple[Component, Component, Component], AfterValidator(_direction)]
Line = Annotated[str, AfterValidator(_one_line)]
Tooth = Annotated[int, BeforeValidator(_tooth)]
Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
