"""What a check of the verification programme is, and how its error is measured."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite, nan
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.figure import Figure
from numpy.typing import ArrayLike, NDArray

from workflow.verification.sources import SOURCES

Array = NDArray[np.float64]


class Kind(StrEnum):
    """What a check shows."""

    CODE = "code verification"
    BENCHMARK = "published benchmark"
    PEER = "code to code"
    SOLUTION = "solution verification"
    VALIDATION = "validation"


@dataclass(frozen=True)
class Compared:
    """What a check found: one number, or several of one kind, beside what they have to be.

    Attributes
    ----------
    computed, reference
        Numbers of equal shape, or one reference for all.
    scale
        What errors are divided by. None: each by its own reference. An absolute error has scale 1;
        parts of one vector or matrix share the size of the whole.
    labels
        A name for each number, if there are several.
    note
        What a reader should know beside the numbers, in plain words.
    """

    computed: ArrayLike
    reference: ArrayLike
    scale: float | None = None
    labels: Sequence[str] = ()
    note: str = ""


@dataclass(frozen=True)
class Check:
    """One check: what is asked of which code, by which source, how closely and why.

    Attributes
    ----------
    id
        Short name, unique in the programme: words joined by underscores.
    what
        The quantity in plain words, with its unit.
    code
        Dotted names of the functions under test.
    kind
        What the check shows.
    source
        Key of the source in `workflow.verification.sources.SOURCES`.
    place
        Page, table, equation or case in that source.
    tolerance
        Largest error that passes, relative unless the check's scale is 1.
    reason
        Why the tolerance is what it is.
    compute
        Function that computes the numbers and sets them beside the reference.
    slow
        Whether it takes more than some ten seconds.
    """

    id: str
    what: str
    code: str
    kind: Kind
    source: str
    place: str
    tolerance: float
    reason: str
    compute: Callable[[], Compared]
    slow: bool = False

    def __post_init__(self) -> None:
        if self.source not in SOURCES:
            raise ValueError(f"check {self.id}: source {self.source} is not listed in SOURCES")

    def run(self) -> Row:
        """Compute, and keep the number with the largest error."""
        compared = self.compute()
        computed, reference = np.broadcast_arrays(
            np.asarray(compared.computed, dtype=float), np.asarray(compared.reference, dtype=float)
        )
        scale = np.abs(reference) if compared.scale is None else compared.scale
        with np.errstate(divide="ignore", invalid="ignore"):
            errors = np.ravel(np.abs(computed - reference) / scale)
        worst = int(np.argmax(np.where(np.isnan(errors), np.inf, errors)))
        return Row(
            self,
            float(np.ravel(computed)[worst]),
            float(np.ravel(reference)[worst]),
            float(errors[worst]),
            errors.size,
            compared.labels[worst] if compared.labels else "",
            compared.note,
        )

    def attempt(self) -> Row:
        """Compute; if that raises, a row that failed and says why."""
        try:
            return self.run()
        except Exception as error:
            note = f"{type(error).__name__}: {error}"
            return Row(self, nan, nan, nan, 0, "", note)


@dataclass(frozen=True)
class Row:
    """Outcome of a check.

    Attributes
    ----------
    check
        The check.
    computed, reference, error
        The number with the largest error, what it has to be, and that error.
    numbers
        How many numbers were compared.
    worst
        Which of them is shown; empty if there is only one.
    note
        What a reader should know beside the numbers.
    """

    check: Check
    computed: float
    reference: float
    error: float
    numbers: int
    worst: str
    note: str

    @property
    def passed(self) -> bool:
        """Whether the error stays within the tolerance; a NaN does not."""
        return bool(self.error <= self.check.tolerance)

    def record(self) -> dict[str, Any]:
        """Entry of ``checks.json``."""
        check, source = self.check, SOURCES[self.check.source]
        return {
            "id": check.id,
            "what": check.what,
            "kind": str(check.kind),
            "code": check.code,
            "source": source.text,
            "source_key": check.source,
            "place": check.place,
            "certainty": source.certainty,
            "computed": _finite(self.computed),
            "reference": _finite(self.reference),
            "error": _finite(self.error),
            "tolerance": check.tolerance,
            "reason": check.reason,
            "passed": self.passed,
            "numbers": self.numbers,
            "worst": self.worst,
            "note": self.note,
        }


def _finite(number: float) -> float | None:
    return number if isfinite(number) else None


@dataclass(frozen=True)
class Picture:
    """A figure of the report, drawn from a table that lies beside it.

    Attributes
    ----------
    name
        Stem of its files.
    caption
        What it shows, in a sentence or two.
    table
        Computes the numbers.
    draw
        Draws the table as it is read back from its file.
    """

    name: str
    caption: str
    table: Callable[[], pd.DataFrame]
    draw: Callable[[pd.DataFrame], Figure]
