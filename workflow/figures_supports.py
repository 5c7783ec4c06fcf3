"""Figures of the study of supports, each drawn from its table."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from cmcrameri import cm
from matplotlib.axes import Axes
from matplotlib.colors import TwoSlopeNorm
from matplotlib.figure import Figure
from matplotlib.image import AxesImage
from matplotlib.ticker import FixedLocator, NullLocator

from geometry.quality import LEAST_GAMMA, LEAST_GAMMA_ELSEWHERE
from workflow.figures import (
    BAND_COLOUR,
    COUPLE_COLOUR,
    CROWN_COLOUR,
    FORCE_COLOUR,
    HAIR,
    LINE_MARKS,
    NOTE_PT,
    PASSIVE_COLOUR,
    ROOT_COLOUR,
    TEXT_PT,
    THIRD_COLOUR,
    TITLE_PT,
    WIRE_COLOUR,
    FigureText,
    force_text,
    new_figure,
    nice_limit,
)

_SMALL_PT = 4.0
_COLOURS = (FORCE_COLOUR, COUPLE_COLOUR, THIRD_COLOUR, WIRE_COLOUR)
_MARKS = ("o", "s", "^", "D")
_LEFT = (2, 3)
_SOURCES = {"jepsen_1963": "Jepsen 1963 (from memory)", "mowry_2002": "Mowry et al. 2002"}
_MAPS = {
    "buccal_percent": "buccal translation",
    "occlusal_percent": "axial translation",
    "buccal_tipping_percent": "buccal tipping",
    "centre_shift_percent": "centre of resistance,\n% of embedded root",
}
_COSTS = {
    "occlusal_N_per_mm_percent": "axial stiffness",
    "buccal_tipping_Nmm_per_rad_percent": "stiffness against buccal tipping",
    "buccal_depth_mm_percent": "depth of the centre of resistance",
}
_RIGID = {
    (False, False): "tooth and bone rigid",
    (False, True): "tooth rigid",
    (True, False): "bone rigid",
}
_MODULUS = "youngs_modulus_MPa"
_CLEAR_MM = 25.0  # beyond this the centre of rotation is as good as at infinity


def teeth_figure(table: pd.DataFrame) -> Figure:
    """Root areas beside the published ones, and the quality of the meshes; left teeth."""
    left = table[(table["tooth"] // 10).isin(_LEFT)]
    place = np.arange(len(left))
    figure = new_figure(9.0, 6.4)
    areas, shapes = figure.subplots(2, 1, sharex=True)
    areas.bar(place, left["root_area_mm2"], 0.5, color=ROOT_COLOUR, label="this project")
    for (key, label), mark, colour in zip(_SOURCES.items(), "os", _COLOURS, strict=False):
        published = left[f"{key}_mm2"]
        spread = 0.2 * published
        areas.errorbar(
            place,
            published,
            spread,
            fmt=mark,
            color=colour,
            ms=5,
            capsize=3,
            label=f"{label} ± 20 %",
        )
    areas.set_ylabel("area of the root (mm²)")
    areas.legend(frameon=False, ncols=3, loc="upper left", bbox_to_anchor=(0.0, 1.15))
    for region, colour, gate in (
        ("ligament", FORCE_COLOUR, LEAST_GAMMA["ligament"]),
        ("tooth", COUPLE_COLOUR, LEAST_GAMMA_ELSEWHERE),
    ):
        shapes.plot(place, left[f"{region}_gamma_min"], "v", color=colour, label=f"{region}, worst")
        shapes.plot(place, left[f"{region}_gamma_median"], "_", ms=12, color=colour, label="median")
        shapes.axhline(gate, color=colour, lw=HAIR, ls="--")
    shapes.set(ylabel="gamma of the elements", ylim=(0, 1), xticks=place)
    shapes.set_xticklabels(left["tooth"])
    shapes.set_xlabel("tooth (ISO 3950); right teeth are their mirror images")
    shapes.legend(frameon=False, ncols=4, loc="upper left", bbox_to_anchor=(0.0, 1.15))
    shapes.text(
        1.0, 1.04, "dashed: gates", transform=shapes.transAxes, ha="right", fontsize=NOTE_PT
    )
    return figure


def thin_layer_figure(table: pd.DataFrame) -> Figure:
    """Error map of thin-layer theory over Poisson's ratio and thickness, one row a tooth."""
    teeth = list(dict.fromkeys(table["tooth"]))
    figure = new_figure(2.4 * len(_MAPS) + 1.0, 2.0 * len(teeth) + 0.8)
    grid = figure.subplots(len(teeth), len(_MAPS), squeeze=False, sharex=True, sharey=True)
    limit = nice_limit(max(float(table[list(_MAPS)].abs().to_numpy().max()), 1.0))
    norm = TwoSlopeNorm(0.0, -limit, limit)
    for row, tooth in zip(grid, teeth, strict=True):
        for axes, (column, title) in zip(row, _MAPS.items(), strict=True):
            cells = table[table["tooth"] == tooth].pivot(
                index="poisson_ratio", columns="thickness_mm", values=column
            )
            image = _map(axes, cells, norm, limit)
            if tooth == teeth[0]:
                axes.set_title(title, fontsize=TEXT_PT)
        row[0].set_ylabel(f"tooth {tooth}\nPoisson's ratio")
    for axes in grid[-1]:
        axes.set_xlabel("thickness (mm)")
    bar = figure.colorbar(image, ax=grid, shrink=0.6)
    bar.set_label("thin-layer theory minus finite elements (%)")
    return figure


def _map(axes: Axes, cells: pd.DataFrame, norm: TwoSlopeNorm, limit: float) -> AxesImage:
    values = cells.to_numpy()
    image = axes.imshow(values, cmap=cm.vik, norm=norm, origin="lower", aspect="auto")
    axes.set_xticks(range(values.shape[1]), [f"{x:g}" for x in cells.columns])
    axes.set_yticks(range(values.shape[0]), [f"{x:g}" for x in cells.index])
    dark = 0.55 * limit
    for (i, j), value in np.ndenumerate(values):
        colour = "white" if abs(value) > dark else WIRE_COLOUR
        text = f"{value:+.1f}" if abs(value) >= 0.05 else "0.0"
        axes.text(j, i, text, ha="center", va="center", fontsize=NOTE_PT, color=colour)
    return image


def rigidity_figure(table: pd.DataFrame) -> Figure:
    """Percent that a rigid tooth and rigid bone cost, against the ligament's modulus."""
    teeth = list(dict.fromkeys(table["tooth"]))
    figure = new_figure(9.0, 2.6 * len(teeth) + 0.8)
    grid = figure.subplots(len(teeth), len(_COSTS), squeeze=False, sharex=True)
    for row, tooth in zip(grid, teeth, strict=True):
        for axes, (column, title) in zip(row, _COSTS.items(), strict=True):
            for (key, label), colour, mark in zip(_RIGID.items(), _COLOURS, _MARKS, strict=False):
                chosen = table[
                    (table["tooth"] == tooth)
                    & (table["elastic_tooth"] == key[0])
                    & (table["elastic_bone"] == key[1])
                ]
                modulus, cost = chosen[_MODULUS], chosen[column]
                axes.plot(modulus, cost, color=colour, marker=mark, label=label)
            axes.axhline(0.0, color=PASSIVE_COLOUR, lw=HAIR)
            axes.set_xscale("log")
            axes.xaxis.set_major_locator(FixedLocator(sorted(set(table[_MODULUS]))))
            axes.xaxis.set_major_formatter("{x:g}")
            axes.xaxis.set_minor_locator(NullLocator())
            axes.set_title(f"tooth {tooth}\n{title}", fontsize=TEXT_PT)
        row[0].set_ylabel("difference from\nall elastic (%)")
    for axes in grid[-1]:
        axes.set_xlabel("Young's modulus of the ligament (MPa)")
    grid[0, 0].legend(frameon=False, fontsize=NOTE_PT)
    return figure


def mobility_figure(table: pd.DataFrame, force_N: float, tooth: int) -> Figure:
    """Predicted movement by every ligament law beside the measured band."""
    figure = new_figure(9.0, 0.42 * len(table) + 1.4)
    axes = figure.subplots()
    low, high = table["measured_low_um"].iloc[0], table["measured_high_um"].iloc[0]
    axes.axvspan(low, high, color=BAND_COLOUR, label=f"measured, {low:g} to {high:g} µm")
    for row, (_, law) in enumerate(table.iterrows()):
        colour = THIRD_COLOUR if law["inside"] else COUPLE_COLOUR
        axes.plot(
            law["moved_um"], row, "o" if law["kind"] == "bilinear" else "s", color=colour, ms=7
        )
        said = f"{law['moved_um']:.3g} µm" + ("" if law["inside"] else ", outside")
        axes.annotate(
            said, (law["moved_um"], row), (8, -3), textcoords="offset points", fontsize=NOTE_PT
        )
    axes.set_yticks(
        range(len(table)),
        [
            f"{law} ({kind})".replace("_", " ").capitalize()
            for law, kind in zip(table["law"], table["kind"], strict=True)
        ],
    )
    axes.set_xscale("log")
    axes.set_xlim(right=4 * max(high, float(table["moved_um"].max())))
    axes.set_xlabel(
        f"movement of the middle of the crown of tooth {tooth} under "
        f"{force_text(force_N, ' ')} (µm)"
    )
    axes.legend(frameon=False, loc="lower left", bbox_to_anchor=(0.0, 1.0))
    return figure


def rotation_figure(table: pd.DataFrame) -> Figure:
    """Centre of rotation against the moment-to-force ratio, one panel a direction."""
    figure = new_figure(9.0, 4.6)
    panels = figure.subplots(1, 2, sharey=True)
    for axes, (direction, part) in zip(panels, table.groupby("direction"), strict=True):
        for (tooth, rows), colour, mark in zip(
            part.groupby("tooth"), _COLOURS, LINE_MARKS, strict=False
        ):
            look: dict[str, Any] = {"color": colour, "marker": mark, "ms": _SMALL_PT}
            depth = rows["centre_of_rotation_fraction"].where(rows["b_mm"].abs() < _CLEAR_MM)
            ratio, jump = rows["moment_to_force_mm"], rows["b_mm"] < 0
            for side in (jump, ~jump):
                axes.plot(ratio[side], depth[side], markevery=2, **look)
            axes.plot([], [], label=f"tooth {tooth}", **look)
            centre = rows["centre_of_resistance_fraction"].iloc[0]
            axes.axhline(centre, color=colour, lw=HAIR, ls=":")
        axes.axhspan(0, 1, color=CROWN_COLOUR, zorder=0)
        axes.set_title(f"force {direction}", fontsize=TITLE_PT)
        axes.set_xlabel("couple over force at mid-crown (mm)")
    panels[0].set_ylabel("centre of rotation, share of the embedded root\n(0 crest, 1 apex)")
    panels[0].set_ylim(2.5, -1.5)
    panels[0].legend(frameon=False, fontsize=NOTE_PT)
    figure.supxlabel(
        "Dotted: centre of resistance. Shaded: between crest and apex. The curve leaves downwards "
        "and comes back from above where the tooth translates.",
        fontsize=NOTE_PT,
    )
    return figure


def teeth_text(table: pd.DataFrame) -> FigureText:
    """What is said of the figure of all teeth."""
    areas, worst = table["root_area_mm2"], float(table["ligament_gamma_min"].min())
    return FigureText(
        "Root areas and meshes of all teeth",
        f"Area of the root of {len(table)} teeth, {areas.min():.0f} to {areas.max():.0f} mm², "
        "beside published ones, and worst and median quality of their elements.",
        f"The worst element of a ligament has a gamma of {worst:.2f}.",
    )


def thin_layer_text(table: pd.DataFrame) -> FigureText:
    """What is said of the map of thin-layer theory."""
    return FigureText(
        "Error of thin-layer theory",
        f"Thin-layer theory minus finite elements over Poisson's ratio and thickness, for teeth "
        f"{_teeth(table)}.",
        " ".join(
            f"{title.replace(chr(10), ' ').capitalize()}: {_percents(table[column])}."
            for column, title in _MAPS.items()
        ),
    )


def rigidity_text(table: pd.DataFrame) -> FigureText:
    """What is said of the figure of rigid teeth and bone."""
    both = table[~table["elastic_tooth"] & ~table["elastic_bone"]]
    return FigureText(
        "What a rigid tooth and a rigid bone cost",
        f"Difference from all elastic over the ligament's modulus, for teeth {_teeth(table)}.",
        "Both rigid: "
        + "; ".join(f"{title} {_percents(both[column])}" for column, title in _COSTS.items())
        + ".",
    )


def mobility_text(table: pd.DataFrame, force_N: float, tooth: int) -> FigureText:
    """What is said of the figure of mobility."""
    low, high = table["measured_low_um"].iloc[0], table["measured_high_um"].iloc[0]
    return FigureText(
        "Movement by every ligament law, beside what was measured",
        f"Movement of the crown of tooth {tooth} under {force_text(force_N, ' ')} by {len(table)} "
        f"laws, {table['moved_um'].min():.3g} to {table['moved_um'].max():.3g} µm.",
        f"Measured: {low:g} to {high:g} µm; {int(table['inside'].sum())} laws lie inside.",
    )


def rotation_text(table: pd.DataFrame) -> FigureText:
    """What is said of the figure of centres of rotation."""
    centre, ratio = table["centre_of_resistance_fraction"], table["moment_to_force_mm"]
    return FigureText(
        "Centre of rotation against the moment-to-force ratio",
        f"Centre of rotation of teeth {_teeth(table)} over couple over force at mid-crown from "
        f"{ratio.min():g} to {ratio.max():g} mm, one panel a direction.",
        f"Centres of resistance lie at {centre.min():.2f} to {centre.max():.2f} of the embedded "
        "root.",
    )


def _teeth(table: pd.DataFrame) -> str:
    return ", ".join(map(str, dict.fromkeys(table["tooth"])))


def _percents(values: pd.Series) -> str:
    return f"{values.min():+.1f} to {values.max():+.1f} %".replace("-", "−")
