"""The wire of a case on a hook and in a bracket: what two couples change."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from fem.cantilever_design import ONE_POINT, Cantilever
from fem.engage import Setup, engage, push_N
from geometry.sites import Tube
from workflow.case_units import CaseUnits
from workflow.equilibrium import case_cantilever
from workflow.plan import bracket_of, brackets_of, frames
from workflow.specs import Spec

Array = NDArray[np.float64]

TIPS_DEG = np.linspace(-6.0, 6.0, 13)
SOFTNESS = np.geomspace(0.1, 10.0, 9)  # of the ligament's modulus
HOOK, BRACKET = "on a hook: one couple", "in a bracket: two couples"
BY_TIP, BY_MODULUS = "bracket tipped", "ligament modulus"


def two_couples_table(case: Spec, units: CaseUnits, offset_mm: float, tooth: int) -> pd.DataFrame:
    """Loads on both units over the angle of the bracket, and over the ligament's modulus.

    Parameters
    ----------
    case, units
        A one-couple case and its units.
    offset_mm
        Its activation.
    tooth
        Tooth of the one-point unit whose bracket takes the wire.
    """
    cantilever = case_cantilever(case, units)
    bracket = _bracket(case, cantilever, tooth)
    hooked = replace(cantilever, sites=replace(cantilever.sites, hook=bracket.mouths[0]))
    rows = []
    for tip in TIPS_DEG:
        rows.append(_seated(cantilever, offset_mm, _tipped(bracket, tip)) | _at(BY_TIP, tip))
        rows.append(_hooked(hooked, offset_mm) | _at(BY_TIP, tip))
    for factor in SOFTNESS:
        stiffer = _stiffer(cantilever, factor)
        rows.append(_seated(stiffer, offset_mm, bracket) | _at(BY_MODULUS, factor))
        rows.append(_hooked(_stiffer(hooked, factor), offset_mm) | _at(BY_MODULUS, factor))
    return pd.DataFrame(rows)


def _at(over: str, value: float) -> dict[str, Any]:
    return {"over": over, "value": float(value)}


def _bracket(case: Spec, cantilever: Cantilever, tooth: int) -> Tube:
    """The bracket of a tooth, its first mouth towards the tube."""
    placed = frames(case)
    middle = brackets_of(case, case["one_point"], placed)[tooth]
    return bracket_of(case["one_point"], middle, placed[tooth], cantilever.sites.tube_middle)


def _tipped(bracket: Tube, degrees: float) -> Tube:
    """The bracket turned about its width, its far end towards the height."""
    middle = bracket.middle
    turn = Rotation.from_rotvec(np.radians(-degrees) * bracket.axes[:, 1]).as_matrix()
    first, second = (middle + turn @ (mouth - middle) for mouth in bracket.mouths)
    return Tube((first, second), turn @ bracket.axes)


def _stiffer(cantilever: Cantilever, factor: float) -> Cantilever:
    first, second = (
        unit if unit.stiffness is None else replace(unit, stiffness=factor * unit.stiffness)
        for unit in cantilever.units
    )
    return replace(cantilever, units=(first, second))


def _seated(cantilever: Cantilever, offset_mm: float, bracket: Tube) -> dict[str, Any]:
    sites = replace(cantilever.sites, hook=bracket.mouths[0], bar=None, bracket=bracket)
    solved = engage(Setup(replace(cantilever, sites=sites)), offset_mm).solved
    tube = solved.couple_on_tube_Nmm(sites.tube_middle)
    other = solved.equilibrium.wrench_on(ONE_POINT, bracket.middle)[3:]
    return {
        "held": BRACKET,
        "force_N": push_N(sites, solved.equilibrium),
        "couple_tube_Nmm": float(tube @ sites.tube_axes[:, 1]),
        "couple_bracket_Nmm": float(other @ bracket.axes[:, 1]),
    }


def _hooked(cantilever: Cantilever, offset_mm: float) -> dict[str, Any]:
    sites = cantilever.sites
    solved = engage(Setup(cantilever), offset_mm).solved
    couple = solved.couple_on_tube_Nmm(sites.tube_middle)
    return {
        "held": HOOK,
        "force_N": push_N(sites, solved.equilibrium),
        "couple_tube_Nmm": float(couple @ sites.tube_axes[:, 1]),
        "couple_bracket_Nmm": 0.0,
    }
