"""The force–activation stage: a case's curve as a record and as the table of its figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from fem.activation_branches import CurvePoint, History, moved_hook
from fem.cantilever_solid import solid_point
from fem.engage import engage
from fem.force_activation import ForceActivation, force_activation
from workflow.case_units import CaseUnits
from workflow.equilibrium import case_setup
from workflow.figures_force_activation import (
    ACTIVATING,
    BAND_END,
    CLOSING,
    FIRST_SLIP,
    FIRST_YIELD,
    LETTING_BACK,
    LINEAR,
    ROD,
    RUB_DOWN,
    RUB_UP,
    SOLID,
    WORKING,
)
from workflow.specs import Spec
from workflow.units import GF_PER_N

_SOLID_SHARES = (0.5, 1.0)  # of the working activation


def case_curve(case: Spec, units: CaseUnits, working_mm: float) -> ForceActivation:
    """Curve of a case's wire on its teeth, made for the activation its equilibrium found."""
    strength = case["wire"]["alloy"]["yield_strength_MPa"]
    return force_activation(case_setup(case, units), working_mm, strength)


@dataclass(frozen=True)
class SolidForce:
    """The free run as a 3D solid at one activation.

    Attributes
    ----------
    activation_mm
        The activation.
    force_N, couple_Nmm
        Sizes of force on the hook and couple at the tube.
    rod_force_N
        What the rod gives between the same ends.
    """

    activation_mm: float
    force_N: float
    couple_Nmm: float
    rod_force_N: float


def solid_forces(
    case: Spec, units: CaseUnits, curve: ForceActivation, working_mm: float
) -> list[SolidForce]:
    """The elastic wire as a solid at half the working activation and at all of it.

    None past the elastic limit, over a peg, held further or in a bracket, with play or rounded
    edges.
    """
    setup = case_setup(case, units)
    rounded = case["wire"]["section"]["corner_radius_mm"] > 0
    if setup.over_peg or setup.slot or rounded or not setup.cantilever.determinate:
        return []
    limit = np.inf if curve.first_yield is None else curve.first_yield.activation_mm
    found = []
    for share in _SOLID_SHARES:
        at = share * working_mm
        if at > limit:
            break
        moved = moved_hook(setup, working_mm, at)
        solved = engage(replace(moved, friction=0.0), at).solved
        point = solid_point(moved.cantilever, solved)
        arm = solved.touch_mm - moved.cantilever.sites.tube_middle
        force, rod = (float(np.linalg.norm(f)) for f in (point.solid_N, point.rod_N))
        couple = float(np.linalg.norm(np.cross(arm, point.solid_N)))
        found.append(SolidForce(at, force, couple, rod))
    return found


def curve_record(
    case: Spec, curve: ForceActivation, solid: Sequence[SolidForce] = ()
) -> dict[str, Any]:
    """The content of ``force_activation.json``."""
    alloy, band = case["wire"]["alloy"], curve.band
    rubbing, history = curve.rubbing, curve.history
    return {
        "working_point": asdict(curve.working),
        "yield_strength_MPa": alloy["yield_strength_MPa"],
        "superelastic": alloy["superelastic"] is not None,
        "first_yield": _point(curve.first_yield),
        "band": {
            "share": band.share,
            "lower": asdict(band.lower),
            "upper": _point(band.upper),
        },
        "rate_N_per_mm": curve.rate_N_per_mm,
        "rate_gf_per_mm": GF_PER_N * curve.rate_N_per_mm,
        "linear_theory": {
            "rate_N_per_mm": curve.linear_rate_N_per_mm,
            "rate_gf_per_mm": GF_PER_N * curve.linear_rate_N_per_mm,
        },
        "history": None if history is None else {"no_force_left_mm": _no_force_left(history)},
        "friction": None
        if rubbing is None
        else {"sticks": rubbing.sticks, "first_slip": _point(rubbing.first_slip)},
        "closings_mm": [point.activation_mm for point in curve.closings],
        "solid": [asdict(point) for point in solid],
        "curve_end_mm": curve.end_mm,
    }


def curve_table(curve: ForceActivation, solid: Sequence[SolidForce] = ()) -> pd.DataFrame:
    """All points of the figure: series, activation, force, couple and greatest stress."""
    history, rubbing = curve.history, curve.rubbing
    parts = [_series(ROD, curve.points), _linear(curve)]
    if history is not None:
        parts.append(_series(ACTIVATING, history.activating))
        parts.append(_series(LETTING_BACK, history.letting_back))
    if rubbing is not None:
        parts.append(_series(RUB_UP, rubbing.activating))
        parts.append(_series(RUB_DOWN, rubbing.letting_back))
    marks: dict[str, tuple[CurvePoint | None, ...]] = {
        WORKING: (curve.working,),
        FIRST_YIELD: (curve.first_yield,),
        BAND_END: (curve.band.lower, curve.band.upper),
        FIRST_SLIP: (None if rubbing is None else rubbing.first_slip,),
        CLOSING: curve.closings,
    }
    if solid:
        columns = ["series", "activation_mm", "force_N", "couple_Nmm"]
        parts.append(pd.DataFrame([{"series": SOLID} | asdict(p) for p in solid])[columns])
    for name, points in marks.items():
        parts.append(_series(name, [point for point in points if point is not None]))
    return pd.concat([part for part in parts if len(part)], ignore_index=True)


def _no_force_left(history: History) -> float | None:
    """Activation at which the wire, let back, has no force left; None where it is not known."""
    if not history.letting_back or history.letting_back[-1].force_N > 0:
        return None
    return history.letting_back[-1].activation_mm


def _point(point: CurvePoint | None) -> dict[str, float] | None:
    return None if point is None else asdict(point)


def _linear(curve: ForceActivation) -> pd.DataFrame:
    """Linear theory at the activations of the curve."""
    activation = np.array([point.activation_mm for point in curve.points])
    return pd.DataFrame(
        {
            "series": LINEAR,
            "activation_mm": activation,
            "force_N": curve.linear_rate_N_per_mm * activation,
            "couple_Nmm": curve.linear_couple_rate_N * activation,
            "stress_MPa": np.nan,
        }
    )


def _series(name: str, points: Any) -> pd.DataFrame:
    return pd.DataFrame([{"series": name} | asdict(point) for point in points])
