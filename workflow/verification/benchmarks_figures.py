"""Benchmarks against the size of the elements, with the reference as a line."""

from __future__ import annotations

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, NullLocator

from workflow.figures import COUPLE_COLOUR, FORCE_COLOUR, PASSIVE_COLOUR, new_figure
from workflow.verification.benchmarks_cook import (
    COMPRESSIBLE,
    FORMULATIONS,
    PIECES,
    deflections,
    reference,
)
from workflow.verification.benchmarks_nafems import (
    LE1_PIECES,
    LE10_PIECES,
    LE1_MPa,
    LE10_CLAMPED_MPa,
    le1_stress_MPa,
    le10_clamped_MPa,
)
from workflow.verification.check import Picture

_LOOKS = ((FORCE_COLOUR, "o"), (COUPLE_COLOUR, "s"))
_COOK_CASES = ((COMPRESSIBLE, False), (0.4999, False), (0.4999, True))


def nafems_table() -> pd.DataFrame:
    """σ_yy at D of both plates on every mesh, MPa."""
    plates = (
        ("LE1", LE1_PIECES, le1_stress_MPa, LE1_MPa),
        ("LE10, clamped", LE10_PIECES, le10_clamped_MPa, LE10_CLAMPED_MPa),
    )
    rows = [
        (plate, pieces, stress_MPa(pieces), expected)
        for plate, meshes, stress_MPa, expected in plates
        for pieces in meshes
    ]
    return pd.DataFrame(rows, columns=["case", "pieces", "computed", "reference"])


def cook_table() -> pd.DataFrame:
    """Deflection of the middle of the loaded side on every mesh."""
    rows = [
        (f"ν = {ratio:.4g}", FORMULATIONS[layered], pieces,
         deflections(pieces, ratio, layered)[0], reference(ratio)[0])
        for ratio, layered in _COOK_CASES
        for pieces in PIECES
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=["case", "formulation", "pieces", "computed", "reference"])


def nafems_figure(table: pd.DataFrame) -> Figure:
    """One panel for each plate."""
    figure = new_figure(8.4, 3.4)
    panels = figure.subplots(1, 2)
    for axes, (case, rows) in zip(panels, table.groupby("case", sort=False), strict=True):
        _curve(axes, rows, str(case), *_LOOKS[0])
        _line(axes, float(rows["reference"].iloc[0]))
        _in_pieces(axes, rows, "elements from the inner to the outer ellipse")
        axes.set_title(f"{case}: {_last(rows)} on the finest mesh", fontsize=9)
    panels[0].set_ylabel("σ_yy at D (MPa)")
    return figure


def cook_figure(table: pd.DataFrame) -> Figure:
    """One panel for each material, one curve for each formulation."""
    figure = new_figure(8.4, 3.8)
    panels = figure.subplots(1, 2)
    for axes, (case, cases) in zip(panels, table.groupby("case", sort=False), strict=True):
        for (name, rows), look in zip(
            cases.groupby("formulation", sort=False), _LOOKS, strict=False
        ):
            _curve(axes, rows, f"{name}: {_last(rows)} on the finest mesh", *look)
        _line(axes, float(cases["reference"].iloc[0]))
        _in_pieces(axes, cases, "elements along each side")
        axes.set_title(case, fontsize=9)
        axes.legend(frameon=False, loc="lower right", fontsize=8)
    panels[0].set_ylabel("deflection at (48, 52) for E = F = 1")
    return figure


def _last(rows: pd.DataFrame) -> str:
    last = rows.iloc[-1]
    return _minus(f"{100 * (last['computed'] / last['reference'] - 1):+.2g} %")


def _minus(number: str) -> str:
    return number.replace("-", "−")


def _curve(axes: Axes, rows: pd.DataFrame, label: str, colour: str, mark: str) -> None:
    axes.plot(rows["pieces"], rows["computed"], color=colour, marker=mark, label=label)


def _line(axes: Axes, reference: float) -> None:
    axes.axhline(reference, color=PASSIVE_COLOUR, lw=0.8, ls="--", zorder=0)
    axes.annotate(
        _minus(f"reference {reference:.6g}"), (0, reference), (3, 3),
        xycoords=("axes fraction", "data"), textcoords="offset points", fontsize=8,
        color=PASSIVE_COLOUR,
    )  # fmt: skip


def _in_pieces(axes: Axes, rows: pd.DataFrame, label: str) -> None:
    axes.set_xscale("log")
    axes.xaxis.set_major_locator(FixedLocator(sorted(set(rows["pieces"]))))
    axes.xaxis.set_major_formatter("{x:g}")
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xlabel(label)


PICTURES = (
    Picture(
        "benchmarks_nafems",
        "NAFEMS LE1 and the clamped variant of LE10: stress at D against the number of elements; "
        "dashed, the reference of a high-order solution.",
        nafems_table,
        nafems_figure,
    ),
    Picture(
        "benchmarks_cook",
        "Cook's membrane in plane strain: deflection against the number of elements, for a "
        "compressible and a nearly incompressible material; dashed, the references.",
        cook_table,
        cook_figure,
    ),
)
