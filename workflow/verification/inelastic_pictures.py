"""Pictures of bending past the elastic limit: plastic and superelastic sections."""

from __future__ import annotations

from math import pi

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.fibre import FibreSection, rectangular_fibres, round_strips
from fem.moment_curvature import bend_to, load_to, virgin
from workflow.figures import COUPLE_COLOUR, FORCE_COLOUR, new_figure
from workflow.verification.check import Picture
from workflow.verification.inelastic_sections import (
    DIAMETER,
    HEIGHT,
    RECTANGLE_MODULUS,
    STEEL,
    WIDTH,
    in_height,
    yield_curvature,
)
from workflow.verification.inelastic_superelastic import NITI
from workflow.verification.reference import reference_table

_SHAPES = {"rectangle": FORCE_COLOUR, "circle": COUPLE_COLOUR}
_RELEASED = (2.0, 5.0)  # curvatures over first yield from which the plastic sections are let go


def plastic_table() -> pd.DataFrame:
    """Curvature and moment over those of first yield, on loading and releasing."""
    sections = {
        "rectangle": (rectangular_fibres(WIDTH, HEIGHT), HEIGHT, RECTANGLE_MODULUS),
        "circle": (round_strips(DIAMETER), DIAMETER, pi * DIAMETER**3 / 32),
    }
    parts = []
    for shape, (fibres, height, modulus) in sections.items():
        wire, first = FibreSection(fibres, STEEL), STEEL.yield_strength_MPa * modulus
        kappa = yield_curvature(height)
        loaded = bend_to(wire, in_height(10 * kappa), virgin(wire), steps=200)
        paths = {"loading": loaded}
        for K in _RELEASED:
            top = bend_to(wire, in_height(K * kappa), virgin(wire), steps=4)
            paths[f"let go at {K:g}"] = load_to(wire, in_height(0), top, steps=4)
        for name, path in paths.items():
            start = 0 if name == "loading" else 4
            parts.append(
                pd.DataFrame(
                    {
                        "shape": shape,
                        "path": name,
                        "curvature": path.curvature_per_mm[start:, 0] / kappa,
                        "moment": path.moment_Nmm[start:, 0] / first,
                    }
                )
            )
    return pd.concat([*parts, _plastic_points()], ignore_index=True)


def _plastic_points() -> pd.DataFrame:
    """Rows of the table: moments, and the curvatures left where a section was let go."""
    table, rows = reference_table("plastic_bending"), []
    for shape in _SHAPES:
        for _, row in table.iterrows():
            rows.append((shape, "table", row.curvature, row[f"{shape}_moment"]))
            if row.curvature in _RELEASED:
                rows.append((shape, "table", row[f"{shape}_residual"], 0.0))
    return pd.DataFrame(rows, columns=["shape", "path", "curvature", "moment"])


def plastic_figure(table: pd.DataFrame) -> Figure:
    """Lines computed, points of the table."""
    figure = new_figure(8.4, 4.6)
    axes = figure.subplots()
    _draw(axes, table)
    axes.set(xlabel="curvature over that of first yield", ylabel="moment over the yield moment")
    axes.set_title("Past yield the moment ends at 1.5 and 1.70; let go, the wire keeps a set")
    return figure


def superelastic_table() -> pd.DataFrame:
    """Curvature (1/mm) and moment (N·mm) of rectangle and circle to 0.2 and 0.4/mm and back."""
    fibres = {"rectangle": rectangular_fibres(WIDTH, HEIGHT), "circle": round_strips(DIAMETER, 240)}
    points, parts = reference_table("superelastic_bending"), []
    for shape, section in fibres.items():
        wire = FibreSection(section, NITI)
        for most in (0.2, 0.4):
            top = bend_to(wire, in_height(most), virgin(wire), steps=100)
            path = bend_to(wire, in_height(0), top, steps=100)
            moments = {"curvature": path.curvature_per_mm[:, 0], "moment": path.moment_Nmm[:, 0]}
            parts.append(pd.DataFrame({"shape": shape, "path": f"to {most:g}/mm"} | moments))
        parts.append(
            pd.DataFrame(
                {
                    "shape": shape,
                    "path": "table",
                    "curvature": points.curvature,
                    "moment": points[shape],
                }
            )
        )
    return pd.concat(parts, ignore_index=True)


def superelastic_figure(table: pd.DataFrame) -> Figure:
    """Loops computed, points of the table."""
    figure = new_figure(8.4, 4.6)
    axes = figure.subplots()
    _draw(axes, table)
    axes.set(xlabel="curvature (1/mm)", ylabel="moment (N·mm)")
    axes.set_title("A superelastic wire lets back at half the moment and keeps no set")
    return figure


def _draw(axes: Axes, table: pd.DataFrame) -> None:
    for (shape, path), rows in table.groupby(["shape", "path"], sort=False):
        colour = _SHAPES[str(shape)]
        if path == "table":
            axes.plot(rows["curvature"], rows["moment"], "o", ms=5, color=colour, mfc="white",
                      label=f"{shape}, table", zorder=3)  # fmt: skip
        else:
            first = table[(table["shape"] == shape)]["path"].iloc[0] == path
            axes.plot(rows["curvature"], rows["moment"], color=colour, lw=1.5,
                      label=f"{shape}, computed" if first else None)  # fmt: skip
    axes.set_xlim(0, None)
    axes.set_ylim(0, None)
    axes.figure.legend(frameon=False, loc="outside lower center", ncols=4)


PICTURES = (
    Picture(
        "plastic_bending",
        f"Steel of {STEEL.yield_strength_MPa:.0f} MPa as a rectangle and a circle, bent past yield "
        "and let go: lines of fibre sections through the points of the closed forms.",
        plastic_table,
        plastic_figure,
    ),
    Picture(
        "superelastic_bending",
        f"Nickel–titanium of {WIDTH} × {HEIGHT} mm and {DIAMETER:.2f} mm round, bent to 0.2 and "
        "0.4/mm and let back: lines of fibre sections through the points of the quadrature.",
        superelastic_table,
        superelastic_figure,
    ),
)
