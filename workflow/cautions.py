"""Warnings by name, with what was found, the limit, and what to do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np

from workflow.specs import Spec
from workflow.units import GF_PER_N, N_PER_GF

# Transition strain of the bilinear ligament law: Poppe, Bourauel & Jäger 2002, J Orofac Orthop
# 63:358–370, with a first branch of 0.05 MPa and a second of 0.28 MPa.
KNEE_STRAIN = 0.075
SOFT_LAW_MPa = 0.05

_BAR_ANGLE_DEG = 45.0  # the force is a tenth higher there (computed for a straight wire)
_LEAST_SET_MM = 0.01  # less than a bend at the bench is true to

CAUTION = (
    "A research and teaching tool, not a medical device. Movements and stresses rest on assumed "
    "ligament properties that differ by orders of magnitude between publications. Diagnosis and "
    "treatment belong to licensed practitioners under their local rules."
)
CAUTION_SHORT = CAUTION.partition(". ")[0] + "."


def named(warning: str) -> tuple[str, str]:
    """Name of a warning and the rest of it."""
    name, _, rest = warning.partition(": ")
    return name, rest


def names_of(warnings: Iterable[str]) -> list[str]:
    """Names of warnings, each once."""
    return list(dict.fromkeys(named(warning)[0] for warning in warnings))


def warnings(
    case: Spec, solved: Spec, response: Spec, rod: Spec, supports: Iterable[Spec]
) -> list[str]:
    """Everything about a case that lies outside the stated limits, one line each."""
    units = response["units"]
    return [
        *_mesh_warnings(supports),
        *_path_warnings(response["wire_inside_teeth"], solved["wire"]),
        *_wire_warnings(case, solved, rod),
        *_force_warnings(case, units),
        *_ligament_warnings(case, units),
    ]


def _mesh_warnings(supports: Iterable[Spec]) -> Iterator[str]:
    for support in supports:
        tooth, meshed = support["spec"]["tooth"], support["meshed"]
        if meshed["note"]:
            yield (
                f"mesh gave way: tooth {tooth} (or its twin) is not meshed as asked; "
                f"{meshed['note']}"
            )
        if meshed["scan"] and meshed["scan"]["notes"]:
            yield f"look at the scan: tooth {tooth}; {' '.join(meshed['scan']['notes'])}"


def _path_warnings(teeth: list[int], wire: Spec) -> Iterator[str]:
    if teeth:
        listed = " and ".join(map(str, teeth))
        yield (
            f"wire passes through a crown: its run meets tooth {listed}. Raise stand_off_mm, let "
            "it follow the arch (wire.along_arch) or step it around (wire.run)."
        )
    near = wire["nearest_itself_mm"]
    if near is not None:
        yield (
            f"wire touches itself: two stretches of the passive wire pass {near:.2f} mm apart, "
            "less than its own size. Give the loop more pitch, width or radius."
        )


def _wire_warnings(case: Spec, solved: Spec, rod: Spec) -> Iterator[str]:
    wire = solved["wire"]
    ratio, limit, past = wire["yield_ratio"], case["limits"]["yield_ratio"], solved["past_limit"]
    transforms = case["wire"]["alloy"]["superelastic"] is not None
    if past is None and ratio > limit:
        yield (
            f"yield exceeded: the wire is stressed to {ratio:.2f} of its yield strength "
            f"(limit {limit:g}); taken as elastic, it is computed to deliver more than it does. "
            "Use a larger section, a longer span or less activation."
        )
    elif past is not None and past["set_mm"] > _LEAST_SET_MM:
        what = "does not spring back in full" if transforms else "yields"
        yield (
            f"wire deforms: it {what} and keeps a set of {past['set_mm']:.2g} mm; the loads here "
            "are those it then delivers. Use a larger section, a longer span or less activation."
        )
    if solved["friction"] is not None and not solved["friction"]["computed"]:
        yield (
            "friction left out: past the elastic limit of the wire its loads are computed without "
            "friction only."
        )
    brackets = [
        part["unit"]
        for part in (case["one_point"], *case["further"])
        if part["contact"] == "bracket"
    ]
    if brackets:
        yield (
            f"more than one couple: the wire is held at two points on {' and '.join(brackets)} "
            "too. Loads depend on the angles of the brackets and on the ligaments, not on couple "
            "and distance alone; a small error of the bend changes them much."
        )
    angle = solved["hook"]["bar_angle_deg"]
    if angle is not None and angle > _BAR_ANGLE_DEG:
        yield (
            f"wire held lengthwise: the bar lies at {angle:.0f}° to the wire and keeps it from "
            "sliding along itself, which stiffens it. Tie the wire, or hook it where the bar runs "
            "along it."
        )
    play = solved["play"]
    if play is not None and play["first_contact_mm"] is None:
        yield (
            "wire loose in its tube: the activation does not take up the play, so that there is "
            "no couple to speak of. Activate more, or choose a larger wire or a smaller slot."
        )
    share = solved["offset_mm"] / solved["span_mm"]
    checked = rod["curve"]["offset_mm"][-1] / rod["spec"]["span_mm"]
    if share > checked:
        yield (
            f"deflection beyond the checked range: activation is {share:.2f} of the span "
            f"(checked to {checked:g}). Use a longer span or a stiffer wire."
        )


def _force_warnings(case: Spec, units: Mapping[str, Any]) -> Iterator[str]:
    name = case["one_point"]["unit"]
    force = float(np.linalg.norm(units[name]["force_N"])) * GF_PER_N
    low, high = case["limits"]["force_range_gf"]
    if force > high:
        yield (
            f"force above the stated range: {_force(force)} on {name}, range {_force(low)} to "
            f"{_force(high)}. Lengthen the span to get the same couple with less force."
        )
    if force < low:
        yield (
            f"force below the stated range: {_force(force)} on {name}, range {_force(low)} to "
            f"{_force(high)}. Activate more or shorten the span."
        )


def _force(force_gf: float) -> str:
    """A force in N and gf, as pages read it."""
    return f"{force_gf * N_PER_GF:#.3g} N ({force_gf:.0f} gf)"


def _stress(stress_kPa: float) -> str:
    """A stress in kPa and gf/cm², as pages read it; 1 kPa is 0.1 N/cm²."""
    return f"{stress_kPa:.1f} kPa ({0.1 * stress_kPa * GF_PER_N:.0f} gf/cm²)"


def _ligament_warnings(case: Spec, units: Mapping[str, Any]) -> Iterator[str]:
    limit = case["limits"]["ligament_hydrostatic_kPa"]
    modulus = case["ligament"]["youngs_modulus_MPa"]
    for name, unit in units.items():
        for tooth, record in unit["ligament"].items():
            tension = record["hydrostatic_kPa"]["p99"]
            compression = -record["hydrostatic_kPa"]["p01"]
            if max(tension, compression) > limit:
                kind = "tension" if tension > compression else "compression"
                yield (
                    f"ligament stress above the stated threshold: tooth {tooth} reaches "
                    f"{_stress(max(tension, compression))} of hydrostatic {kind} in 1 % of its "
                    f"ligament, threshold {_stress(limit)}. Reduce the activation."
                )
        yield from _strain_warning(name, unit, modulus)


def _strain_warning(name: str, unit: Mapping[str, Any], modulus: float) -> Iterator[str]:
    """Say on which side of the knee a one-modulus ligament stands, for the unit as a whole."""
    strain = max(unit["peak_strain"].values())
    if strain > KNEE_STRAIN and modulus <= SOFT_LAW_MPa:
        yield (
            f"ligament strain beyond the soft branch: {100 * strain:.0f} % around {name}, where "
            f"the bilinear law has stiffened ({100 * KNEE_STRAIN:g} %). The movement of {name} is "
            "an upper bound; bilinear.json has the movement with a ligament that stiffens."
        )
    if strain < KNEE_STRAIN and modulus > SOFT_LAW_MPa:
        yield (
            f"ligament strain below the knee: at most {100 * strain:.1f} % around {name}, where "
            f"the bilinear law is softer ({SOFT_LAW_MPa:g} MPa). The movement of {name} is a lower "
            f"bound, the soft branch alone gives {modulus / SOFT_LAW_MPa:.1f} times as much; "
            "bilinear.json has the movement between."
        )
