"""The force–activation stage: a case's curve as a record and as the table of its figure."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd

from fem.force_activation import CurvePoint, ForceActivation, force_activation
from workflow.case_units import CaseUnits
from workflow.equilibrium import case_cantilever
from workflow.figures_force_activation import (
    BAND_END,
    FIRST_YIELD,
    LINEAR,
    ROD,
    WORKING,
)
from workflow.specs import Spec
from workflow.units import GF_PER_N


def case_curve(case: Spec, units: CaseUnits, working_mm: float) -> ForceActivation:
    """Curve of a case's wire on its teeth, made for the activation its equilibrium found."""
    strength = case["wire"]["alloy"]["yield_strength_MPa"]
    return force_activation(case_cantilever(case, units), working_mm, strength)


def curve_record(case: Spec, curve: ForceActivation) -> dict[str, Any]:
    """The content of ``force_activation.json``."""
    band, upper, first = curve.band, curve.band.upper, curve.first_yield
    return {
        "working_point": asdict(curve.working),
        "yield_strength_MPa": case["wire"]["alloy"]["yield_strength_MPa"],
        "first_yield": None if first is None else asdict(first),
        "band": {
            "share": band.share,
            "lower": asdict(band.lower),
            "upper": None if upper is None else asdict(upper),
        },
        "rate_N_per_mm": curve.rate_N_per_mm,
        "rate_gf_per_mm": GF_PER_N * curve.rate_N_per_mm,
        "linear_theory": {
            "rate_N_per_mm": curve.linear.stiffness_N_per_mm,
            "rate_gf_per_mm": GF_PER_N * curve.linear.stiffness_N_per_mm,
        },
        "curve_end_mm": curve.end_mm,
    }


def curve_table(curve: ForceActivation) -> pd.DataFrame:
    """All points of the figure: series, activation, force, couple and greatest stress."""
    marks: dict[str, list[CurvePoint | None]] = {
        WORKING: [curve.working],
        FIRST_YIELD: [curve.first_yield],
        BAND_END: [curve.band.lower, curve.band.upper],
    }
    parts = [_series(ROD, curve.points), _linear(curve)]
    for name, points in marks.items():
        parts.append(_series(name, [point for point in points if point is not None]))
    return pd.concat([part for part in parts if len(part)], ignore_index=True)


def _linear(curve: ForceActivation) -> pd.DataFrame:
    """Linear theory at the activations of the curve."""
    activation = np.array([point.activation_mm for point in curve.points])
    force = curve.linear.stiffness_N_per_mm * activation
    return pd.DataFrame(
        {
            "series": LINEAR,
            "activation_mm": activation,
            "force_N": force,
            "couple_Nmm": [curve.linear.couple_Nmm(f) for f in force],
            "stress_MPa": [curve.linear.peak_stress_MPa(f) for f in force],
        }
    )


def _series(name: str, points: tuple[CurvePoint, ...] | list[CurvePoint]) -> pd.DataFrame:
    table = pd.DataFrame([asdict(point) for point in points])
    table.insert(0, "series", name)
    return table
