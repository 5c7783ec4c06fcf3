"""Ranges of figures that a user may fix, so that several cases can be laid beside each other."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import Field

from workflow.case_keys import PRACTICE, Part, key
from workflow.study import read_study
from workflow.values import Number

CONFIG = Path("configs/figures.yaml")

# Beyond these no drawing has a place for its numbers.
Size = Annotated[Number, Field(ge=1e-6, le=1e6)] | None


def _size(meaning: str, unit: str) -> Size:
    value: Size = key(meaning, None, unit, PRACTICE)
    return value


class ArrowRanges(Part):
    """What an arrow of 10 mm stands for in ``free_body`` and ``appliance_3d``."""

    force_N: Size = _size("Force drawn 10 mm long", "N")
    couple_Nmm: Size = _size("Couple drawn 10 mm long, along its arc", "N·mm")


class MovementRanges(Part):
    """How much ``movement`` enlarges."""

    enlargement: Size = _size("How many times the movement of every unit is enlarged", "1")


class StressRanges(Part):
    """Colours of ``ligament_stress``."""

    limit_kPa: Size = _size("Size of the stress at either end of the colours", "kPa")


class CurveRanges(Part):
    """Ends of the axes of ``force_activation`` and of ``wire_deflection``."""

    activation_mm: Size = _size("End of the axis of the activation", "mm")
    force_N: Size = _size("End of the axis of the force", "N")
    couple_Nmm: Size = _size("End of the axis of the couple", "N·mm")


class FigureRanges(Part):
    """All of ``configs/figures.yaml``; what is null is found from each figure's data."""

    arrows: ArrowRanges = key("Scales of arrows", ArrowRanges())
    movement: MovementRanges = key("Enlargement of movements", MovementRanges())
    ligament_stress: StressRanges = key("Colours of stress", StressRanges())
    curves: CurveRanges = key("Ends of axes", CurveRanges())


def load_ranges(path: str | Path = CONFIG) -> FigureRanges:
    """Read the ranges.

    Raises
    ------
    CaseError
        With one line for each mistake: file, key, value, remedy.
    """
    return read_study(path, FigureRanges)
