"""What the sheet of a case is written from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from workflow.specs import Spec


@dataclass(frozen=True)
class SheetRecords:
    """What a sheet is written from.

    Attributes
    ----------
    case, summary, solved, bilinear, provenance
        Contents of ``case.resolved.yaml``, ``summary.json``, ``equilibrium.json``,
        ``bilinear.json`` and ``provenance.json``.
    supports
        Content of ``support.json`` of each tooth, by number.
    checks
        ``tables/checks.csv``.
    curve
        Content of ``force_activation.json``.
    scenes
        Content of ``scenes.json``.
    course
        Content of ``course.json``; None of a case without a course.
    """

    case: Spec
    summary: Spec
    solved: Spec
    bilinear: Spec
    provenance: Spec
    supports: Mapping[int, Spec]
    checks: pd.DataFrame
    curve: Spec
    scenes: Spec
    course: Spec | None = None
