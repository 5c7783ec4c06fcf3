"""What all config models share: keys with units and sources, catalogue rows, strictness."""

from collections.abc import Iterable
from typing import Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

from workflow.case_errors import nearest
from workflow.catalogue import load_catalogue

PRACTICE = "Common practice, no source"
USER = "The user's case"


def key(meaning: str, default: Any = ..., unit: str = "", source: str = USER, **rules: Any) -> Any:
    """Field with the unit and the source that the documented defaults print."""
    notes: dict[str, Any] = {"unit": unit, "source": source}
    return Field(default, description=meaning, json_schema_extra=notes, **rules)


def row(table: str) -> AfterValidator:
    """Demand the name of a row of a catalogue table."""

    def check(name: str) -> str:
        known = getattr(load_catalogue(), table)
        if name not in known:
            text = f"not in configs/catalogue/{table}.yaml; {nearest(name, known)}"
            raise PydanticCustomError("not_in_catalogue", "{text}", {"text": text})
        return name

    return AfterValidator(check)


class Part(BaseModel):
    """Base of all parts of a case: unknown keys are errors and nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def demand_one_key(part: Part, names: Iterable[str]) -> None:
    """Raise the error of a part that has none or several of some keys."""
    known = list(names)
    given = [name for name in known if getattr(part, name) is not None]
    if len(given) != 1:
        found = f"found {' and '.join(given)}" if given else "found none"
        text = f"give exactly one of {', '.join(known)}; {found}"
        raise PydanticCustomError("one_key", "{text}", {"text": text})
