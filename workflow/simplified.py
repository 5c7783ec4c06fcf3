"""The study of simplified models: its config models, and up to where an error stays within a limit.

Every simple formula gets a table of its error against the full model. Limits of use are read from
these tables by straight lines between neighbouring points of signed errors, just as the contours of
the maps are drawn.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from pydantic import Field

from workflow.case_keys import Part, key
from workflow.study import KnownTooth, Ratio, read_study
from workflow.values import Name, Number
from workflow.wire_study import AlloyName, Positive, SectionName, Slenderness

# Columns of the tables of the study of supports, and what they are called.
LAYER_QUANTITIES = {
    "buccal_percent": "buccal stiffness",
    "occlusal_percent": "axial stiffness",
    "buccal_tipping_percent": "stiffness against buccal tipping",
    "centre_shift_percent": "centre of resistance",
}
RIGID_QUANTITIES = {
    "occlusal_N_per_mm_percent": "axial stiffness",
    "buccal_tipping_Nmm_per_rad_percent": "stiffness against buccal tipping",
    "buccal_depth_mm_percent": "depth of the centre of resistance",
}

Share = Annotated[Number, Field(gt=0, le=0.6)]
NotNegative = Annotated[Number, Field(ge=0)]
Offset = Annotated[Number, Field(ge=0, le=10)]
Angle = Annotated[Number, Field(ge=0, le=50)]


class Bending(Part):
    """A straight clamped wire, short or bent far."""

    alloy: AlloyName = key("Alloy; only its Poisson's ratio matters")
    section: SectionName = key("Section")
    yields: tuple[AlloyName, ...] = key("Alloys whose yield is drawn", min_length=1)
    span_over_height: tuple[Slenderness, ...] = key("Spans over height", unit="1", min_length=3)
    deflection_over_span: tuple[Share, ...] = key("Deflections over span", unit="1", min_length=3)


class Tube(Part):
    """A straight wire in a tube, without and with play."""

    alloy: AlloyName = key("Alloy")
    section: SectionName = key("Section")
    spans_mm: tuple[Positive, ...] = key("Spans", unit="mm", min_length=2)
    tubes_mm: tuple[Positive, ...] = key("Lengths of the tube", unit="mm", min_length=2)
    activation_over_span: Share = key("Activation over span", unit="1")
    play_span_mm: Positive = key("Span of the map of play", unit="mm")
    play_tube_mm: Positive = key("Length of the tube in the map of play", unit="mm")
    plays_mm: tuple[NotNegative, ...] = key("Height of slot minus wire", unit="mm", min_length=2)
    activations_mm: tuple[Positive, ...] = key("Activations", unit="mm", min_length=2)


class Centre(Part):
    """Teeth and settings at which the parabola's centre of resistance is tried."""

    teeth: tuple[KnownTooth, ...] = key("Teeth, ISO 3950 numbers", min_length=1)
    poisson_ratios: tuple[Ratio, ...] = key("Poisson's ratios", unit="1", min_length=2)
    crest_depths_mm: tuple[NotNegative, ...] = key(
        "Depths of the crest below the cervix", unit="mm", min_length=2
    )


class Planar(Part):
    """An appliance whose attachments stand off the long axes and whose wire follows the arch."""

    target: KnownTooth = key("Tooth in the tube")
    anchor: KnownTooth = key("Tooth at the hook")
    alloy: AlloyName = key("Alloy")
    section: SectionName = key("Section")
    span_mm: Positive = key("Span", unit="mm")
    tube_mm: Positive = key("Length of the tube", unit="mm")
    activation_over_span: Share = key("Activation over span", unit="1")
    offsets_mm: tuple[Offset, ...] = key("Buccal offsets from the long axis", "mm", min_length=2)
    angles_deg: tuple[Angle, ...] = key("Angles of the wire", unit="deg", min_length=2)


class SimplifiedStudy(Part):
    """The study of simplified models."""

    study: Name = key("Name of the study")
    title: str = key("What it shows, in one line", min_length=1, max_length=200)
    limit_percent: Positive = key("Error up to which a formula is good enough", unit="%")
    bending: Bending = key("Small-deflection formula against the rod")
    tube: Tube = key("Clamp and two points against the rod in a tube")
    centre: Centre = key("Parabola's centre of resistance against finite elements")
    planar: Planar = key("Planar statics against the appliance")


def load_simplified_study(path: str | Path) -> SimplifiedStudy:
    """Read and check the file of the study; see `workflow.study.read_study`."""
    return read_study(path, SimplifiedStudy)


def good_up_to(sizes: ArrayLike, errors: ArrayLike, limit: float) -> float:
    """Size up to which all errors stay within a limit.

    Parameters
    ----------
    sizes
        Rising, (n,).
    errors
        Signed errors there, (n,); straight lines between them.
    limit
        Largest size of an error that is allowed.

    Returns
    -------
    float
        The last size if no error is too large, NaN if the first one is.
    """
    x, e = np.asarray(sizes, dtype=float), np.asarray(errors, dtype=float)
    beyond = np.flatnonzero(~(np.abs(e) <= limit))
    if not len(beyond):
        return float(x[-1])
    k = int(beyond[0])
    if k == 0:
        return float("nan")
    share = (np.copysign(limit, e[k]) - e[k - 1]) / (e[k] - e[k - 1])
    return float(x[k - 1] + share * (x[k] - x[k - 1]))


def good_from(sizes: ArrayLike, errors: ArrayLike, limit: float) -> float:
    """Size from which on all errors stay within a limit; NaN if the last one does not."""
    x, e = np.asarray(sizes, dtype=float), np.asarray(errors, dtype=float)
    return -good_up_to(-x[::-1], e[::-1], limit)


def grid(table: pd.DataFrame, across: str, up: str, value: str) -> pd.DataFrame:
    """Table as a grid: one column for each value of `across`, one row for each of `up`."""
    return table.pivot(index=up, columns=across, values=value)


def extreme(errors: pd.Series) -> float:
    """Signed error of largest size."""
    values = errors.to_numpy(dtype=float)
    return float(values[np.abs(values).argmax()])


def worst(table: pd.DataFrame, by: str, value: str) -> pd.Series:
    """Signed error of largest size for each value of `by`."""
    return table.groupby(by)[value].apply(extreme)


def sizes(table: pd.DataFrame, by: str | list[str], value: str) -> pd.Series:
    """Largest size of an error for each value of `by`, or each combination of values."""
    return table.groupby(by)[value].apply(lambda errors: abs(extreme(errors)))


def worst_row(table: pd.DataFrame, value: str) -> dict[str, Any]:
    """The row with the error of largest size."""
    row = table.iloc[int(np.abs(table[value].to_numpy(dtype=float)).argmax())]
    return {str(name): cell for name, cell in row.items()}
