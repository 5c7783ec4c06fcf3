"""What is said of the figures of simplified models, with the numbers of their tables."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from workflow.figures import FigureText
from workflow.simplified import LAYER_QUANTITIES, RIGID_QUANTITIES


def bending_text(bent: pd.DataFrame, limit: float) -> FigureText:
    """Of the map of 3EI/L³."""
    spans, far = bent["span_over_height"], bent["deflection_percent"]
    return FigureText(
        "Error of the straight-beam formula",
        f"Error of 3EI/L³ over spans of {spans.min():g} to {spans.max():g} wire heights and "
        f"deflections of {far.min():g} to {far.max():g} % of the span, and where alloys yield.",
        f"{_said('Error', bent['error_percent'], limit)}",
    )


def tube_text(tube: pd.DataFrame, play: pd.DataFrame, limit: float) -> FigureText:
    """Of the maps of the tube and its play."""
    return FigureText(
        "Error of simple models of the tube",
        "Error of the tube as a clamp and as two points over span and length of the tube, and of "
        "play left out and taken off over activation and play.",
        " ".join(
            (
                _said("Clamp", tube["clamp_error_percent"], limit),
                _said("Two points", tube["two_point_error_percent"], limit),
                _said("Play left out", play["error_percent"], limit),
                _said("Play taken off", play["corrected_error_percent"], limit),
            )
        ),
    )


def centre_text(maps: pd.DataFrame, limit: float) -> FigureText:
    """Of the maps of the centre of resistance."""
    return FigureText(
        "Error of the planar centre of resistance",
        "Parabola minus finite elements over bone level and Poisson's ratio, teeth "
        f"{_teeth(maps)}.",
        f"{_said('Couple over force', maps['moment_to_force_error_percent'], limit)} "
        f"{_said('σ²', maps['sigma2_error_percent'], limit)}",
    )


def all_teeth_text(teeth: pd.DataFrame, limit: float) -> FigureText:
    """Of the parabola against all teeth."""
    return FigureText(
        "Planar centre of resistance of all teeth",
        "Parabola minus finite elements: centre of resistance, couple over force and σ² of each "
        "tooth.",
        f"{_said('Centre, share of the root', teeth['centre_error_percent_of_root'], limit)} "
        f"{_said('Couple over force', teeth['moment_to_force_error_percent'], limit)}",
    )


def layer_text(table: pd.DataFrame, limit: float, model: str) -> FigureText:
    """Of the maps of a layer's model."""
    return FigureText(
        f"Error of {model}",
        f"Largest error of {model} against finite elements over Poisson's ratio and thickness, "
        f"teeth {_teeth(table)}.",
        _each(table, LAYER_QUANTITIES, limit),
    )


def rigidity_text(rigid: pd.DataFrame, limit: float) -> FigureText:
    """Of rigid tooth and bone."""
    both = rigid[~rigid["elastic_tooth"] & ~rigid["elastic_bone"]]
    return FigureText(
        "Error of a rigid tooth in rigid bone",
        f"All rigid minus all elastic over the ligament's modulus, teeth {_teeth(rigid)}.",
        _each(both, RIGID_QUANTITIES, limit),
    )


def loops_text(small: pd.DataFrame, limit: float) -> FigureText:
    """Of formula and rod in loops."""
    loops = small[small["shape"] != "straight"]
    return FigureText(
        "Error of formula and rod in loops",
        "Formula, rod and Winkler's theory against a solid, U loop and helix, force in the "
        "plane and across it, over the radius.",
        f"{_said('Formula', loops['formula_error_percent'], limit)} "
        f"{_said('Rod', loops['rod_error_percent'], limit)}",
    )


def planar_text(table: pd.DataFrame, limit: float) -> FigureText:
    """Of planar statics."""
    return FigureText(
        "Error of planar statics",
        f"What planar statics gets wrong and leaves out, over the angle of the wire "
        f"({table['angle_deg'].min():g} to {table['angle_deg'].max():g}°) and the offsets of tube "
        "and hook.",
        f"{_said('Force', table['force_error_percent'], limit)} "
        f"{_said('Couple', table['couple_error_percent'], limit)}",
    )


def _each(table: pd.DataFrame, quantities: Mapping[str, str], limit: float) -> str:
    return " ".join(
        _said(title.capitalize(), table[column], limit) for column, title in quantities.items()
    )


def _said(name: str, percent: pd.Series, limit: float) -> str:
    """Range of an error, and the share of the points within the limit."""
    values = percent.dropna().to_numpy(dtype=float)
    within = 100 * float(np.mean(np.abs(values) <= limit))
    ends = f"{values.min():+.3g} to {values.max():+.3g} %".replace("-", "−")
    return f"{name}: {ends}, {within:.0f} % of the points within {limit:g} %."


def _teeth(table: pd.DataFrame) -> str:
    return ", ".join(map(str, dict.fromkeys(table["tooth"])))
