"""Loads on the units as arrows drawn to scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    nice_at_least,
    three_digits,
)
from workflow.figures_marks import ScaleBar
from workflow.specs import Spec
from workflow.units import GF_PER_N

Array = NDArray[np.float64]

BAR_MM = 10.0  # length to which the printed scale refers
FULL_ARC_RAD = 1.5 * np.pi  # the longest couple goes three quarters round
_NOTHING = 1e-6  # share of the largest below which an arrow is not drawn


@dataclass(frozen=True)
class Load:
    """What the appliance exerts on one unit at its attachment.

    Attributes
    ----------
    unit, contact
        Name, and ``two-point``, ``one-point``, ``bracket`` or ``further``.
    point_mm
        Middle of the tube or bracket, or where the wire touches at the hook, (3,).
    force_N, couple_Nmm
        (3,) each, in the patient.
    """

    unit: str
    contact: str
    point_mm: Array
    force_N: Array
    couple_Nmm: Array


def loads_on_units(summary: Spec, solved: Spec) -> list[Load]:
    """Loads of a case from its summary and its equilibrium, of one wire where there are two."""
    loads = []
    for name, unit in summary["units"].items():
        place = np.asarray(solved["units"][name]["attachment_mm"], dtype=float)
        force, couple = np.zeros(3), np.zeros(3)
        for contact in (c for c in solved["contacts"] if c["unit"] == name):
            own = np.asarray(contact["wrench"], dtype=float)
            force += own[:3]
            couple += own[3:] + np.cross(np.asarray(contact["point_mm"]) - place, own[:3])
        loads.append(Load(name, unit["contact"], place, force, couple))
    return loads


@dataclass(frozen=True)
class ArrowScale:
    """How long loads are drawn.

    Attributes
    ----------
    bar_N, bar_Nmm
        Force and couple drawn as 10 mm of shaft and 10 mm of arc.
    radius_mm
        Radius of the arcs.
    """

    bar_N: float
    bar_Nmm: float
    radius_mm: float

    def force_mm(self, force_N: float) -> float:
        """Length of a force arrow."""
        return BAR_MM * force_N / self.bar_N

    def couple_mm(self, couple_Nmm: float) -> float:
        """Length of a couple arrow along its arc."""
        return BAR_MM * couple_Nmm / self.bar_Nmm

    def couple_rad(self, couple_Nmm: float) -> float:
        """Angle of a couple arrow."""
        return self.couple_mm(couple_Nmm) / self.radius_mm

    @property
    def text(self) -> str:
        """The scale in words."""
        force, couple = self._sizes()
        return f"Arrows: force 10 mm = {force}, couple 10 mm along its arc = {couple}"

    @property
    def bars(self) -> tuple[ScaleBar, ...]:
        """The scale as bars to print in a drawing in millimetres."""
        force, couple = self._sizes()
        return (
            ScaleBar(BAR_MM, f"{BAR_MM:g} mm"),
            ScaleBar(BAR_MM, f"force {force}", FORCE_COLOUR),
            ScaleBar(BAR_MM, f"couple {couple}", COUPLE_COLOUR),
        )

    def _sizes(self) -> tuple[str, str]:
        gf, gfmm = (three_digits(value * GF_PER_N) for value in (self.bar_N, self.bar_Nmm))
        return f"{self.bar_N:g} N ({gf} gf)", f"{self.bar_Nmm:g} N·mm ({gfmm} gf·mm)"


def arrow_scale(
    forces_N: Sequence[float],
    couples_Nmm: Sequence[float],
    longest_mm: float = 15.0,
    longest_arc_mm: float = 30.0,
    *,
    fixed: Spec | None = None,
) -> ArrowScale:
    """Round scale at which the largest loads are at most so long, or one that is asked for.

    Parameters
    ----------
    forces_N, couples_Nmm
        Sizes of the loads to draw.
    longest_mm, longest_arc_mm
        Longest straight arrow and longest arc, of a scale that is not fixed.
    fixed
        ``force_N`` and ``couple_Nmm`` that 10 mm stand for; None of either: a round number.
    """
    asked = fixed or {}
    force, couple = max(forces_N), max(couples_Nmm)
    bar_N = asked.get("force_N") or nice_at_least(BAR_MM * force / longest_mm)
    bar_Nmm = asked.get("couple_Nmm") or nice_at_least(BAR_MM * couple / longest_arc_mm)
    return ArrowScale(bar_N, bar_Nmm, BAR_MM * couple / bar_Nmm / FULL_ARC_RAD)


def scale_of(loads: Sequence[Load], fixed: Spec | None = None) -> ArrowScale:
    """Scale for the loads of a case; `fixed` as in `arrow_scale`."""
    return arrow_scale(
        [float(np.linalg.norm(load.force_N)) for load in loads],
        [float(np.linalg.norm(load.couple_Nmm)) for load in loads],
        fixed=fixed,
    )


def arrow_table(loads: Sequence[Load], scale: ArrowScale) -> pd.DataFrame:
    """One row an arrow in space; a couple's length is that of its arc. Nothing is not drawn."""
    largest = {
        "force": max(np.linalg.norm(load.force_N) for load in loads),
        "couple": max(np.linalg.norm(load.couple_Nmm) for load in loads),
    }
    rows = []
    for load in loads:
        for kind, vector, units, length_mm in (
            ("force", load.force_N, "N", scale.force_mm),
            ("couple", load.couple_Nmm, "N·mm", scale.couple_mm),
        ):
            size = float(np.linalg.norm(vector))
            if size > _NOTHING * largest[kind]:
                row: dict[str, object] = {"unit": load.unit, "kind": kind}
                row |= dict(zip(("x_mm", "y_mm", "z_mm"), load.point_mm, strict=True))
                row |= dict(zip(("vector_x", "vector_y", "vector_z"), vector, strict=True))
                rows.append(row | {"units": units, "length_drawn_mm": length_mm(size)})
    return pd.DataFrame(rows)


def arc_points(centre: Array, axis: Array, radius_mm: float, angle_rad: float) -> Array:
    """Points (n, 3) of an arc about an axis, right-hand rule, its gap centred below the horizon.

    Parameters
    ----------
    centre, axis
        Middle of the arc and direction of the couple, (3,); the axis need not be of unit length.
    radius_mm, angle_rad
        Radius, and angle from tail to head.
    """
    k = np.asarray(axis, dtype=float) / np.linalg.norm(axis)
    reference = np.array([0.0, 0.0, 1.0]) if abs(k[2]) < 0.95 else np.array([0.0, 1.0, 0.0])
    top = reference - k * (k @ reference)
    top /= np.linalg.norm(top)
    side = np.cross(k, top)
    angles = np.linspace(-angle_rad / 2, angle_rad / 2, 73)[:, None]
    return np.asarray(centre) + radius_mm * (np.cos(angles) * top + np.sin(angles) * side)
