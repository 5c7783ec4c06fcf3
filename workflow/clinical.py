"""Clinical results beside modelled cases: what agrees, what does not, and why.

A comparison and no test of the model: trials report means over months of bone remodelling, the
model the initial movement or the way it leads.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from workflow.catalogue import load_catalogue
from workflow.figures import three_digits
from workflow.specs import Spec
from workflow.tip_back import AT_CROWN, REASONS, TRIAL


@dataclass(frozen=True)
class Beside:
    """One clinical result and what the model gives.

    Attributes
    ----------
    source
        Publication.
    measured, modelled
        In words, with numbers.
    reading
        Differences and their reasons.
    """

    source: str
    measured: str
    modelled: str
    reading: str


def clinical_rows(tip_back: pd.DataFrame, summaries: dict[str, Spec]) -> list[Beside]:
    """Results of trials beside the cases of the project.

    Parameters
    ----------
    tip_back
        From `workflow.tip_back.tip_back_table`.
    summaries
        ``summary.json`` of the cases named below, by name.
    """
    return [
        _tip_back(tip_back),
        _alloys(
            summaries["lower_molar_alloy_stainless_steel"],
            summaries["lower_molar_alloy_beta_titanium"],
        ),
        _intrusion(summaries["upper_incisor_intrusion"]),
    ]


def clinical_page(rows: list[Beside]) -> str:
    """The rows as a Markdown page."""
    parts = ["# Clinical results beside modelled cases\n", (__doc__ or "").split("\n\n", 1)[1]]
    for row in rows:
        texts = (f"## {row.source}", f"Measured: {row.measured}", f"Modelled: {row.modelled}")
        parts.append("\n\n".join((*texts, row.reading)) + "\n")
    return "\n".join(parts)


def _tip_back(table: pd.DataFrame) -> Beside:
    rows = table.set_index("molar")

    def words(name: str) -> str:
        row = rows.loc[name]
        return (
            f"{row['distal_mm']:.2f} mm distal, {row['extrusion_mm']:.2f} mm extruded, at "
            f"{row['tip_deg']:.2f}° of distal tip"
        )

    per_degree = rows[["distal_mm_per_deg", "extrusion_mm_per_deg"]].astype(float)
    distal, extrusion = per_degree.loc[AT_CROWN] / per_degree.loc[TRIAL]
    return Beside(
        "Janakiraman et al., Angle Orthodontist: tip-back spring, 16 patients",
        f"first molars {words(TRIAL)}",
        f"{AT_CROWN}: {words(AT_CROWN)}",
        f"A degree of tip goes with {distal:.2f} of the trial's distal movement and "
        f"{extrusion:.2f} of its extrusion. " + " ".join(REASONS),
    )


def _alloys(steel: Spec, titanium: Spec) -> Beside:
    ratio = _size(steel, "target") / _size(titanium, "target")
    return Beside(
        "Barros et al., AJODO: molar uprighted by a helical cantilever of 0.019 × 0.025 in "
        "(finite elements)",
        "steel moves the molar almost twice as far as titanium-molybdenum",
        f"at the same activation of a straight wire of 0.017 × 0.025 in, {ratio:.2f} times as far",
        f"The force of an elastic wire goes with its modulus, {_GPa(steel)} against "
        f"{_GPa(titanium)} GPa here. Which moduli that study took, and how far its wires yielded, "
        "is not known here.",
    )


def _intrusion(summary: Spec) -> Beside:
    incisors, molar = _size(summary, "target"), _size(summary, "anchor")
    return Beside(
        "J Clin Diagn Res 2015: preformed intrusion arches, 25 and 25 patients, 4 months",
        "incisors intruded by 1.0 and 1.3 mm, molars unchanged",
        f"the incisors' centre of resistance moves {three_digits(incisors)} µm at first, that of "
        f"each molar {three_digits(molar)} µm ({three_digits(molar / incisors)} of it)",
        "The molars move less, not nothing: each takes what two incisors take, on three roots. "
        "Bite and the rest of the arch, which hold molars, are not in the model.",
    )


def _GPa(summary: Spec) -> str:
    """Young's modulus of the alloy of a case."""
    modulus = load_catalogue().alloys[summary["wire"]["alloy"]].youngs_modulus_MPa
    return f"{modulus / 1e3:g}"


def _size(summary: Spec, role: str) -> float:
    (unit,) = (unit for unit in summary["units"].values() if unit["role"] == role)
    return float(np.linalg.norm(unit["displacement_at_resistance_um"]))
