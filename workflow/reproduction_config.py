"""Config models of the reproduction: which figures, from which tables, compared how closely."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path, PurePosixPath
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, field_validator, model_validator
from pydantic_core import PydanticCustomError

from workflow.case_errors import CaseError, Problem, nearest
from workflow.case_keys import PRACTICE, Part, key
from workflow.digest import ROOT
from workflow.figures import SIGNIFICANT_DIGITS
from workflow.study import read_study
from workflow.values import Name, Number, Whole

CONFIG = Path("configs/reproduction.yaml")
REFERENCES = Path("results/reference")


def _below_results(text: str) -> str:
    path = PurePosixPath(text)
    if path.parts[:1] != ("results",) or ".." in path.parts:
        raise PydanticCustomError(
            "not_a_result", "must lie in results/; write the path that the workflow makes"
        )
    return text


def _table(text: str) -> str:
    if not text.endswith(".csv"):
        raise PydanticCustomError("not_a_table", "must be a .csv file; name the table of numbers")
    return text


Result = Annotated[str, AfterValidator(_below_results)]
Table = Annotated[Result, AfterValidator(_table)]
Share = Annotated[Number, Field(ge=0, lt=1)]
Floor = Annotated[Number, Field(gt=0)]
Reason = Annotated[str, Field(min_length=5, max_length=600)]


class Closeness(Part):
    """How near a number must come to its reference, where a figure does not say otherwise."""

    relative: Share = key("Largest relative difference that agrees", 1e-6, "1", PRACTICE)
    digits: Whole = key(
        "Significant digits of the tables; one step of the last one agrees",
        SIGNIFICANT_DIGITS,
        "1",
        "How figures write their tables",
        ge=3,
        le=17,
    )
    noise: Share = key(
        "Absolute floor of a column, as a share of its largest size", 1e-8, "1", PRACTICE
    )
    floors: dict[str, Floor] = key(
        "Absolute floors of columns, by name or pattern, in the column's unit", {}
    )
    because: Reason = key("Why these")


class Figure(Part):
    """One figure or page, and the table that its numbers are compared in."""

    number: Whole = key("Number, from 1 on in the order of the list", unit="1", ge=1)
    name: Name = key("Name of its reference table")
    title: str = key("What it shows, in one sentence", min_length=5, max_length=200)
    figure: Result = key("Picture or page that the workflow makes")
    table: Table = key("Table beside it, from which it is drawn")
    made_with: Result | None = key(
        "What to ask the workflow for, where the figure lies in a folder that is made as a whole",
        None,
    )
    compared: Literal["every_value", "digest"] = key(
        "Every value of the table, or a digest of each column for large tables", "every_value"
    )
    keys: tuple[str, ...] = key("Columns that name a row; none: rows by their order", ())
    full_precision: bool = key("The table is written with all digits", False)
    relative: Share | None = key("Largest relative difference of this figure", None, "1")
    floors: dict[str, Floor] = key("As above, for this figure alone", {})
    left_out: dict[str, Reason] = key("Columns that are not compared, each with the reason", {})
    because: Reason | None = key("Why this figure has a tolerance or floors of its own", None)

    @model_validator(mode="after")
    def _reasoned(self) -> Self:
        if (self.relative is not None or self.floors) and self.because is None:
            raise PydanticCustomError(
                "no_reason", "has a tolerance or floors of its own; say why in because"
            )
        both = sorted({*self.keys} & {*self.left_out})
        if both:
            text = f"{', '.join(both)}: names the rows and is left out; keep one of the two"
            raise PydanticCustomError("key_left_out", "{text}", {"text": text})
        if self.compared == "digest" and self.keys:
            raise PydanticCustomError(
                "digest_keys", "a digest takes rows by their order; drop keys"
            )
        return self

    @property
    def targets(self) -> list[str]:
        """Files to ask the workflow for."""
        return [self.made_with or self.figure, self.table]

    @property
    def reference(self) -> Path:
        """File of the reference table, from the project's folder."""
        kind = ".digest.csv" if self.compared == "digest" else ".csv"
        return REFERENCES / f"{self.name}{kind}"


class Reproduction(Part):
    """What is reproduced, and how closely."""

    closeness: Closeness = key("How near a number must come to its reference")
    figures: tuple[Figure, ...] = key("The figures, numbered", min_length=1)
    pages: tuple[Result, ...] = key("Further pages that go into the archive", ())

    @field_validator("figures")
    @classmethod
    def _numbered(cls, figures: tuple[Figure, ...]) -> tuple[Figure, ...]:
        for place, figure in enumerate(figures, start=1):
            if figure.number != place:
                text = f"{figure.name} has number {figure.number}; in this order make it {place}"
                raise PydanticCustomError("numbering", "{text}", {"text": text})
        for name, count in Counter(figure.name for figure in figures).items():
            if count > 1:
                text = f"{name} names {count} figures; give each its own name"
                raise PydanticCustomError("names", "{text}", {"text": text})
        return figures

    def chosen(self, words: object = None) -> tuple[Figure, ...]:
        """Figures by number or name, separated by commas or as a list; all without a word.

        Raises
        ------
        CaseError
            If a word names no figure.
        """
        if words is None:
            return self.figures
        asked = [str(word).strip() for word in (words if isinstance(words, list) else [words])]
        asked = [part.strip() for word in asked for part in word.split(",") if part.strip()]
        known = {str(f.number): f for f in self.figures} | {f.name: f for f in self.figures}
        if unknown := [word for word in asked if word not in known]:
            raise CaseError(list(_unknown(unknown, [f.name for f in self.figures])))
        wanted = {known[word].number for word in asked}
        return tuple(figure for figure in self.figures if figure.number in wanted)


def _unknown(words: Sequence[str], names: Sequence[str]) -> Iterator[Problem]:
    for word in words:
        remedy = f"give a number from 1 to {len(names)}"
        if not word.isdigit():
            remedy = nearest(word, names)
        yield Problem(str(CONFIG), "figures", f"no such figure; {remedy}", word)


def load_reproduction(path: str | Path = ROOT / CONFIG) -> Reproduction:
    """Read and check the list of figures; see `workflow.study.read_study`."""
    return read_study(path, Reproduction)
