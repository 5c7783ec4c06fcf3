"""Kinds of value that the config models share: numbers, tooth numbers, names."""

import math
from typing import Annotated, Any

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

TOOTH_NUMBER_HELP = (
    "not an ISO 3950 number of a permanent tooth; write the quadrant (1 to 4) and the place in it "
    "(1 to 8), as 37 for the lower left second molar"
)


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
    raise PydanticCustomError("not_a_tooth", TOOTH_NUMBER_HELP)


Number = Annotated[float, BeforeValidator(_number)]
Whole = Annotated[int, BeforeValidator(_number)]
Vector = tuple[Number, Number, Number]
Tooth = Annotated[int, BeforeValidator(_tooth)]
Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
