"""What is said of the figures of a case, with its numbers: apart from drawing, for pages too."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from workflow.figures import FigureText, couple_text, force_text, three_digits
from workflow.figures_loads import ArrowScale
from workflow.sheet_answer import answer
from workflow.specs import Spec

_ALIKE = 0.1  # of the force


def appliance_text(
    case: Spec, summary: Spec, solved: Spec, scale: ArrowScale | None = None
) -> FigureText:
    """Of the appliance in space."""
    teeth = ", ".join(str(tooth) for unit in summary["units"].values() for tooth in unit["teeth"])
    force, couple = _loads(summary)
    tooth = case["two_point"]["tooth"]
    return FigureText(
        f"The appliance in space: {case['title']}",
        f"Teeth {teeth}, tube, {_held(summary)} and the wire, passive and engaged, in two views, "
        f"with the force of {force} on each unit and the couple of {couple} on tooth {tooth}.",
        f"The appliance in space with the loads it exerts on the units: {force} on each, {couple} "
        f"at the tube; {_span(solved)}.{_scale(scale)}",
    )


def free_body_text(
    case: Spec, summary: Spec, solved: Spec, scale: ArrowScale | None = None
) -> FigureText:
    """Of units and wire as free bodies."""
    force, couple = _loads(summary)
    return FigureText(
        f"Free bodies: {case['title']}",
        f"Free-body diagram: the wire between the two units, with a force of {force} at each "
        f"attachment, opposite on the two units, and a couple of {couple} at the tube; the loads "
        "on the wire sum to zero.",
        f"Free bodies in the {_plane(case)}, {_span(solved)}; arrows show the parts in that plane."
        f"{_scale(scale)}",
    )


def movement_text(
    case: Spec, summary: Spec, factors: Mapping[str, float] | None = None
) -> FigureText:
    """Of the initial movement; `factors` are the enlargements of the units that move."""
    enlarged = "enlarged by the printed factor"
    if factors:
        enlarged = "enlarged " + ", ".join(f"{n:g} times ({unit})" for unit, n in factors.items())
    fixed = [name for name, unit in case["units"].items() if unit["support"] == "fixed"]
    held = f" Held fixed and drawn unmoved: {', '.join(fixed)}." if fixed else ""
    return FigureText(
        f"Initial movement: {case['title']}",
        f"Outlines of the units before and after their enlarged movement. "
        f"{' '.join(answer(summary))}",
        f"Initial movement, {enlarged}; linear ligament.{held}",
    )


def deflection_text(case: Spec, summary: Spec, solved: Spec) -> FigureText:
    """Of the straight wire by three theories."""
    wire = summary["wire"]
    force, _ = _loads(summary)
    linear = wire["linear_theory"]["force_N"]
    said = "The wire of this case is bent to something stiffer or softer, and is not in it."
    if like_straight(wire):
        more = 100 * (linear / float(np.linalg.norm(wire["force_N"])) - 1)
        said = (
            f"For this case, activated by {three_digits(solved['offset_mm'])} mm, linear theory "
            f"gives {abs(more):.1f} % {'more' if more > 0 else 'less'}."
        )
    return FigureText(
        f"Force and shape of the straight wire: {case['title']}",
        f"Force against activation of the straight wire by finite rotations and by linear theory, "
        f"and the deflected shapes; this case has {force}, linear theory "
        f"{force_text(linear, ' ')}.",
        "Force and shape of the straight wire by finite rotations and by linear theory, "
        f"{_span(solved)}. {said}",
    )


def like_straight(wire: Spec) -> bool:
    """Whether a wire as bent is by linear theory much like the straight one of its span."""
    bent, straight = (wire[key]["force_N"] for key in ("linear_as_bent", "linear_theory"))
    return bool(abs(bent / straight - 1) < _ALIKE)


def ligament_text(case: Spec, summary: Spec, limit_kPa: float | None = None) -> FigureText:
    """Of the stress on the ligament of the tooth with the tube; colours end at the limit."""
    tooth = str(case["two_point"]["tooth"])
    stress = summary["units"][case["two_point"]["unit"]]["ligament"][tooth]["hydrostatic_kPa"]
    ends = "" if limit_kPa is None else f" Colours from −{limit_kPa:g} to {limit_kPa:g} kPa."
    return FigureText(
        f"Ligament stress of tooth {tooth}: {case['title']}",
        f"Two views: hydrostatic stress on the ligament of tooth {tooth} from "
        f"{_signed(stress['min'])} kPa (compression) to {_signed(stress['max'])} kPa (tension).",
        f"Hydrostatic stress on the ligament of tooth {tooth}, {_signed(stress['min'])} to "
        f"{_signed(stress['max'])} kPa at quadrature points, tension positive. Drawn are means "
        f"over elements, which lie closer together; linear ligament.{ends}",
    )


def section_text(tooth: int, support: Spec) -> FigureText:
    """Of the cut through a mesh, from ``support.json``."""
    elements = sum(region["elements"] for region in support["mesh"])
    worst = min(region["gamma_min"] for region in support["mesh"])
    return FigureText(
        f"Mesh of tooth {tooth}",
        f"Cut through the mesh of tooth {tooth}, {elements} elements, with the layers of the "
        "ligament enlarged.",
        f"Mesh of tooth {tooth}, cut in its mesiodistal plane: {elements} quadratic tetrahedra, "
        f"{support['unknowns']} unknowns, smallest gamma {worst:.2f}.",
    )


def template_text(case: Spec, solved: Spec) -> FigureText:
    """Of the page to hold the bent wire against."""
    parts = solved["wire"]["as_bent"]["parts"]
    length_mm = sum(arc["length_mm"] for part in parts for arc in part["arcs"])
    return FigureText(
        f"Bench template: {case['title']}",
        f"The passive wire in true size, {length_mm:.1f} mm long, in three views, with a bar of "
        "50 mm.",
        "Bench template (print at 100 %)",
    )


def _loads(summary: Spec) -> tuple[str, str]:
    """Force on either unit and couple at the tube."""
    force, couple = (
        float(np.linalg.norm(summary["wire"][key])) for key in ("force_N", "couple_Nmm")
    )
    return force_text(force, " "), couple_text(couple, " ")


def _span(solved: Spec) -> str:
    return f"span {solved['span_mm']:.1f} mm"


def _held(summary: Spec) -> str:
    """What holds the wire at the other unit."""
    contacts = [unit["contact"] for unit in summary["units"].values()]
    return "bracket" if contacts[1] == "bracket" else "hook"


def _scale(scale: ArrowScale | None) -> str:
    return "" if scale is None else f" {scale.text}."


def _signed(value: float) -> str:
    return f"{value + 0.0:.1f}".replace("-", "−")  # a zero has no sign


def _plane(case: Spec) -> str:
    """Plane of the free-body diagram in words."""
    if case["wire"]["activation"]["pulls"] in ("buccal", "lingual"):
        return "horizontal plane, seen from occlusal"
    return "mesiodistal vertical plane, seen from buccal"
