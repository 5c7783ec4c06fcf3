"""The objects made from the spec of a wire."""

from __future__ import annotations

from fem.material import Elastic
from fem.section import Section, rectangular_section, round_section
from workflow.specs import Spec


def wire_section(spec: Spec) -> Section:
    """Section of a wire spec."""
    if spec["shape"] == "round":
        return round_section(spec["height_mm"])
    return rectangular_section(spec["width_mm"], spec["height_mm"])


def wire_material(spec: Spec) -> Elastic:
    """Alloy of a wire spec."""
    return Elastic(spec["youngs_modulus_MPa"], spec["poisson_ratio"])
