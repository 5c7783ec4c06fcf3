"""Figures of the study of simplified models, each drawn from its table alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from cmcrameri import cm
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import BoundaryNorm, Colormap
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.ticker import FixedLocator, NullLocator

from workflow.figures import (
    BAND_COLOUR,
    COUPLE_COLOUR,
    FORCE_COLOUR,
    HAIR,
    LINE,
    NOTE_PT,
    PASSIVE_COLOUR,
    TEXT_PT,
    THICK,
    THIN,
    THIRD_COLOUR,
    WIRE_COLOUR,
    new_figure,
)
from workflow.figures_wire_study import alloy_text, section_text
from workflow.simplified import LAYER_QUANTITIES, RIGID_QUANTITIES, grid, sizes
from workflow.simplified_beams import yield_deflection_percent

_SIGNED = (-100, -50, -20, -10, -5, -2, -1, 1, 2, 5, 10, 20, 50, 100)
_SIZES = (0, 1, 2, 5, 10, 20, 50, 100)
_MARKS = ("o", "s", "^", "D")
_COLOURS = (FORCE_COLOUR, COUPLE_COLOUR, THIRD_COLOUR, WIRE_COLOUR)
_PAPER = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1}
_BOXED: dict[str, Any] = {"frameon": True, "facecolor": "white", "framealpha": 0.95}
_EDGE = 0.08  # of the panel
_ANGLE = "angle of the wire to the target's mesial axis (°)"


def error_map(axes: Axes, cells: pd.DataFrame, limit: float, *, unsigned: bool = False) -> None:
    """Filled map of an error in percent, with the contours of the limit as labelled lines.

    Parameters
    ----------
    cells
        Errors; columns are the values across, rows the values up.
    limit
        Its contours are drawn where the map crosses them, and are straight between points.
    unsigned
        Whether the errors are sizes, without a sign.
    """
    x, y, z = cells.columns.to_numpy(float), cells.index.to_numpy(float), cells.to_numpy(float)
    levels, colours, norm = _scale(unsigned)
    axes.contourf(x, y, z, levels, cmap=colours, norm=norm, extend="max" if unsigned else "both")
    crossed = [v for v in (-limit, limit) if np.nanmin(z) < v < np.nanmax(z)]
    if crossed:
        lines = axes.contour(
            x, y, z, crossed, colors=WIRE_COLOUR, linewidths=LINE, linestyles="solid"
        )
        labels = axes.clabel(
            lines,
            inline=False,
            colors=WIRE_COLOUR,
            fmt=lambda v: _value(v, unsigned),
            fontsize=NOTE_PT,
        )
        _drop_cut_off(axes, labels)
    else:
        inside = np.nanmax(np.abs(z)) <= limit
        _note(axes, f"{'within' if inside else 'beyond'} {limit:g} % all over")


def _value(percent: float, unsigned: bool) -> str:
    return f"{percent:g} %" if unsigned else f"{percent:+g} %".replace("-", "−")


def _drop_cut_off(axes: Axes, labels: Iterable[Text]) -> None:
    """Take away labels so near the frame that it would cut them off; the scale has the line too."""
    for label in labels:
        place = axes.transAxes.inverted().transform(axes.transData.transform(label.get_position()))
        if np.min([place, 1 - place]) < _EDGE:
            label.remove()
        else:
            label.set_bbox(_PAPER)


def _scale(unsigned: bool) -> tuple[Sequence[int], Colormap, BoundaryNorm]:
    if unsigned:
        colours = cm.devon_r
        return _SIZES, colours, BoundaryNorm(_SIZES, colours.N, extend="max")
    return _SIGNED, cm.vik, BoundaryNorm(_SIGNED, cm.vik.N, extend="both")


def _bar(
    figure: Figure, panels: object, label: str, limit: float, *, unsigned: bool = False
) -> None:
    levels, colours, norm = _scale(unsigned)
    bar = figure.colorbar(
        ScalarMappable(norm, colours),
        ax=panels,  # type: ignore[arg-type]
        ticks=levels,
        shrink=0.8,
        extend="max" if unsigned else "both",
        spacing="uniform",
    )
    bar.set_label(label)
    bar.ax.minorticks_off()
    for value in (limit,) if unsigned else (-limit, limit):
        bar.ax.axhline(value, color=WIRE_COLOUR, lw=LINE)


def _note(axes: Axes, text: str) -> None:
    axes.text(0.5, 0.5, text, transform=axes.transAxes, ha="center", fontsize=NOTE_PT, bbox=_PAPER)


def bending_figure(bent: pd.DataFrame, yield_strains: Mapping[str, float], limit: float) -> Figure:
    """Error of 3EI/L³ over span and deflection, and where alloys yield."""
    figure = new_figure(8.6, 5.6)
    axes = figure.subplots()
    cells = grid(bent, "span_over_height", "deflection_percent", "error_percent")
    axes.set_xscale("log")
    error_map(axes, cells, limit)
    spans = cells.columns.to_numpy(float)
    top = float(cells.index.max())
    for (name, strain), look in zip(yield_strains.items(), ("--", ":", "-."), strict=False):
        far = yield_deflection_percent(strain, 1.0) * spans
        axes.plot(spans, far, look, color="white", lw=THICK)
        axes.plot(spans, far, look, color=WIRE_COLOUR, lw=THIN, label=f"{alloy_text(name)} yields")
    axes.set(ylim=(float(cells.index.min()), top))
    axes.set(xlabel="span over wire height", ylabel="deflection over span (%)")
    ticks = [s for s in (2, 3, 5, 7, 10, 15, 20, 30, 40, 60) if spans.min() <= s <= spans.max()]
    axes.xaxis.set_major_locator(FixedLocator(ticks))
    axes.xaxis.set_major_formatter("{x:g}")
    axes.xaxis.set_minor_locator(NullLocator())
    axes.legend(fontsize=NOTE_PT, loc="upper left", **_BOXED)
    height = float((bent["span_mm"] / bent["span_over_height"]).iloc[0])
    above = axes.secondary_xaxis(
        "top", functions=(lambda s: np.multiply(s, height), lambda s: np.divide(s, height))
    )
    above.set_xlabel(f"span of a wire {height:.3g} mm high (mm)", fontsize=NOTE_PT)
    above.xaxis.set_major_locator(FixedLocator([1, 2, 3, 5, 10, 15, 20, 25]))
    above.xaxis.set_major_formatter("{x:g}")
    above.xaxis.set_minor_locator(NullLocator())
    _bar(figure, axes, "force by 3EIδ/L³ minus force of the rod (%)", limit)
    return figure


def tube_figure(tube: pd.DataFrame, play: pd.DataFrame, limit: float) -> Figure:
    """Errors of clamp and two points over span and tube, and of slot play left out or taken off."""
    figure = new_figure(9.6, 7.6)
    panels = figure.subplots(2, 2)
    for axes, column, title in (
        (panels[0, 0], "clamp_error_percent", "Tube as a clamp: 3EI/L³"),
        (panels[0, 1], "two_point_error_percent", "Tube as two points: 3EI/(L²(L + b))"),
    ):
        error_map(axes, grid(tube, "span_mm", "tube_mm", column), limit)
        axes.set(xlabel="span L (mm)", ylabel="length of the tube b (mm)")
        axes.set_title(title)
    for axes, column, title in (
        (panels[1, 0], "error_percent", "Two points, play left out"),
        (panels[1, 1], "corrected_error_percent", "Two points, activation less p(½ + L/b)"),
    ):
        error_map(axes, grid(play, "activation_mm", "play_mm", column), limit)
        loose = play.drop_duplicates("play_mm")
        axes.plot(loose["lost_mm"], loose["play_mm"], color="white", lw=THICK)
        axes.plot(loose["lost_mm"], loose["play_mm"], "--", color=WIRE_COLOUR, lw=THIN,
                  label="left of it the wire lies loose")  # fmt: skip
        axes.set(xlabel="activation (mm)", ylabel="play: slot minus wire height p (mm)")
        axes.set_xlim(play["activation_mm"].min(), play["activation_mm"].max())
        axes.set_title(title)
    panels[1, 1].legend(fontsize=NOTE_PT, loc="upper right", **_BOXED)
    _bar(figure, panels, "force by the formula minus force of the rod (%)", limit)
    return figure


def centre_figure(maps: pd.DataFrame, limit: float) -> Figure:
    """Errors of the couple over force and of σ² over bone level and Poisson's ratio."""
    teeth = list(dict.fromkeys(maps["tooth"]))
    shown = [
        (column, direction, f"{title}\nforce {direction}")
        for column, title in (
            ("moment_to_force_error_percent", "couple over force"),
            ("sigma2_error_percent", "σ²"),
        )
        for direction in dict.fromkeys(maps["direction"])
    ]
    figure = new_figure(10.4, 2.1 * len(teeth) + 0.8)
    panels = figure.subplots(len(teeth), len(shown), squeeze=False, sharex=True, sharey=True)
    for row, tooth in zip(panels, teeth, strict=True):
        for axes, (column, direction, title) in zip(row, shown, strict=True):
            part = maps[(maps["tooth"] == tooth) & (maps["direction"] == direction)]
            error_map(axes, grid(part, "crest_depth_mm", "poisson_ratio", column), limit)
            if tooth == teeth[0]:
                axes.set_title(title, fontsize=TEXT_PT)
        row[0].set_ylabel(f"tooth {tooth}\nPoisson's ratio")
    for axes in panels[-1]:
        axes.set_xlabel("crest below cervix (mm)")
    _bar(figure, panels, "parabola minus finite elements (%)", limit)
    return figure


def all_teeth_figure(teeth: pd.DataFrame, limit: float) -> Figure:
    """The parabola against all teeth: centre, couple over force, σ²; left teeth."""
    left = teeth[(teeth["tooth"] // 10).isin((2, 3))]
    shown = {
        "centre_error_percent_of_root": "centre of resistance\n(% of the embedded root)",
        "moment_to_force_error_percent": "couple over force\nfor translation (%)",
        "sigma2_error_percent": "σ² (%)",
    }
    figure = new_figure(9.0, 6.6)
    panels = figure.subplots(len(shown), 1, sharex=True)
    names = list(dict.fromkeys(left["tooth"]))
    for axes, (column, label) in zip(panels, shown.items(), strict=True):
        axes.axhspan(-limit, limit, color=BAND_COLOUR, zorder=0)
        axes.axhline(0, color=PASSIVE_COLOUR, lw=HAIR)
        for (direction, rows), colour, mark, by in zip(
            left.groupby("direction"), _COLOURS, _MARKS, (-0.12, 0.12), strict=False
        ):
            place = np.array([names.index(t) for t in rows["tooth"]]) + by
            axes.vlines(place, 0, rows[column], color=colour, lw=THIN)
            axes.plot(place, rows[column], mark, color=colour, ms=6, label=f"force {direction}")
        axes.set_ylabel(label)
    panels[0].legend(
        fontsize=NOTE_PT, frameon=False, ncols=2, loc="lower left", bbox_to_anchor=(0, 1.0)
    )
    panels[0].text(1.0, 1.04, f"shaded: within {limit:g} %", transform=panels[0].transAxes,
                   ha="right", fontsize=NOTE_PT)  # fmt: skip
    roots = dict(zip(left["tooth"], left["roots"], strict=True))
    panels[-1].set_xticks(
        range(len(names)), [f"{t}\n{roots[t]} root{'s' * (roots[t] > 1)}" for t in names]
    )
    panels[-1].set_xlabel("tooth (ISO 3950); right teeth are their mirror images")
    figure.supylabel("parabola minus finite elements", fontsize=TEXT_PT)
    return figure


def layer_figure(table: pd.DataFrame, limit: float, model: str) -> Figure:
    """Largest size of the error over the teeth, over Poisson's ratio and thickness."""
    figure = new_figure(10.6, 3.2)
    panels = figure.subplots(1, len(LAYER_QUANTITIES), sharey=True)
    for axes, (column, title) in zip(panels, LAYER_QUANTITIES.items(), strict=True):
        cells = sizes(table, ["poisson_ratio", "thickness_mm"], column).unstack("thickness_mm")
        error_map(axes, cells, limit, unsigned=True)
        share = "\n(% of the embedded root)" if column == "centre_shift_percent" else ""
        axes.set_title(title.replace(" against ", "\nagainst ") + share, fontsize=TEXT_PT)
        axes.set_xlabel("thickness (mm)")
        axes.set_yticks(cells.index, [f"{ratio:g}" for ratio in cells.index])
    panels[0].set_ylabel("Poisson's ratio of the ligament")
    _bar(
        figure,
        panels,
        f"{model} against finite elements,\nlargest of the teeth (%)",
        limit,
        unsigned=True,
    )
    return figure


def rigidity_figure(rigid: pd.DataFrame, limit: float) -> Figure:
    """Error of rigid tooth and bone against the ligament's modulus, with the band of the limit."""
    both = rigid[~rigid["elastic_tooth"] & ~rigid["elastic_bone"]]
    figure = new_figure(9.6, 3.6)
    panels = figure.subplots(1, len(RIGID_QUANTITIES))
    for axes, (column, title) in zip(panels, RIGID_QUANTITIES.items(), strict=True):
        axes.axhspan(-limit, limit, color=BAND_COLOUR, zorder=0)
        axes.axhline(0, color=PASSIVE_COLOUR, lw=HAIR)
        for (tooth, rows), colour, mark in zip(
            both.groupby("tooth"), _COLOURS, _MARKS, strict=False
        ):
            axes.plot(rows["youngs_modulus_MPa"], rows[column], color=colour, marker=mark,
                      label=f"tooth {tooth}")  # fmt: skip
        axes.set_xscale("log")
        axes.xaxis.set_major_locator(FixedLocator(sorted(set(both["youngs_modulus_MPa"]))))
        axes.xaxis.set_major_formatter("{x:g}")
        axes.xaxis.set_minor_locator(NullLocator())
        axes.set_title(title.replace(" against ", "\nagainst "), fontsize=TEXT_PT)
        axes.set_xlabel("Young's modulus of the ligament (MPa)")
    panels[0].set_ylabel("all rigid minus all elastic (%)")
    panels[0].legend(fontsize=NOTE_PT, frameon=False)
    panels[-1].text(1.0, -limit, f"shaded: within {limit:g} %", ha="right", va="top",
                    fontsize=NOTE_PT, transform=panels[-1].get_yaxis_transform())  # fmt: skip
    return figure


def loops_figure(small: pd.DataFrame, limit: float) -> Figure:
    """Errors of formula, rod and Winkler's theory in loops, force in the plane and across it."""
    figure = new_figure(9.6, 6.6)
    panels = figure.subplots(2, 2, sharex=True, sharey=True)
    shapes = {"u_loop": "U loop", "helix": "helix of one turn"}
    directions = {"in_plane": "force in its plane", "out_of_plane": "force across its plane"}
    for row, (shape, name) in zip(panels, shapes.items(), strict=True):
        for axes, (direction, across) in zip(row, directions.items(), strict=True):
            part = small[(small["shape"] == shape) & (small["direction"] == direction)]
            _loop_panel(axes, part, limit)
            axes.set_title(f"{name}, {across}", fontsize=TEXT_PT)
    for axes in panels[-1]:
        axes.set_xlabel("radius of the axis over wire height")
    for axes in panels[:, 0]:
        axes.set_ylabel("model minus solid (%)")
    handles, labels = panels[0, 0].get_legend_handles_labels()
    figure.legend(
        handles, labels, ncols=3, loc="outside lower center", frameon=False, fontsize=NOTE_PT
    )
    return figure


def _loop_panel(axes: Axes, part: pd.DataFrame, limit: float) -> None:
    axes.axhspan(-limit, limit, color=BAND_COLOUR, zorder=0, label=f"within {limit:g} %")
    axes.axhline(0, color=PASSIVE_COLOUR, lw=HAIR)
    for (section, rows), look in zip(
        part.groupby("section", sort=False), ("-", "--"), strict=False
    ):
        size, name = rows["size_over_height"], section_text(str(section))
        for model, colour, mark in (("formula", COUPLE_COLOUR, "o"), ("rod", FORCE_COLOUR, "s")):
            axes.plot(size, rows[f"{model}_error_percent"], look, color=colour, marker=mark, ms=4,
                      label=f"{model}, {name}")  # fmt: skip
        axes.plot(size, rows["winkler_percent"], look, color=PASSIVE_COLOUR, lw=THIN,
                  label=f"rod's error by Winkler, {name}")  # fmt: skip
    axes.set_xscale("log")
    axes.xaxis.set_major_locator(FixedLocator(sorted(set(part["size_over_height"]))))
    axes.xaxis.set_major_formatter("{x:g}")
    axes.xaxis.set_minor_locator(NullLocator())


def planar_figure(table: pd.DataFrame, limit: float) -> Figure:
    """What planar statics gets wrong and leaves out, over angle and offset; worst of the other."""
    tube, hook = "target_offset_mm", "anchor_offset_mm"
    labels = {tube: "tube buccal of the long axis (mm)", hook: "hook buccal of the long axis (mm)"}
    shown = (
        ("force_error_percent", tube, "Force of the activation"),
        ("couple_error_percent", tube, "Couple, distance along the wire"),
        ("rotation_centre_apart_percent_of_root", tube, "Centre of rotation\n(% of the root)"),
        ("couple_out_of_plane_percent", tube, "Left out: couple at the tube\nout of the plane"),
        ("target_out_of_plane_percent", tube, "Left out: rotation of the\ntarget out of the plane"),
        ("anchor_aside_percent", hook, "Left out: anchor's crown aside\n(% of its intrusion)"),
    )
    figure = new_figure(10.4, 6.8)
    panels = figure.subplots(2, 3)
    for axes, (column, by, title) in zip(panels.flat, shown, strict=True):
        cells = sizes(table, [by, "angle_deg"], column).unstack("angle_deg")
        error_map(axes, cells, limit, unsigned=True)
        axes.set_title(title, fontsize=TEXT_PT)
        axes.set_ylabel(labels[by], fontsize=NOTE_PT)
    for axes in panels[-1]:
        axes.set_xlabel(_ANGLE, fontsize=NOTE_PT)
    _bar(figure, panels, "size of the error, or of what is left out (%)", limit, unsigned=True)
    return figure
