"""The objects made from the spec of a wire."""

from __future__ import annotations

from fem.fibre import Fibres, FibreSection, rectangular_lattice, round_fibres
from fem.material import Elastic
from fem.section import Section, rectangular_section, round_section
from fem.uniaxial import ElasticPlastic, Superelastic, UniaxialLaw
from workflow.specs import Spec

# 250 points: the moment of a perfectly plastic wire within 1e-3 in the planes of height and width,
# 2e-3 in any.
_RINGS, _SECTORS = 10, 25


def wire_section(spec: Spec) -> Section:
    """Section of a wire spec."""
    if spec["shape"] == "round":
        return round_section(spec["height_mm"])
    return rectangular_section(
        spec["width_mm"], spec["height_mm"], spec.get("corner_radius_mm", 0.0)
    )


def wire_material(spec: Spec) -> Elastic:
    """Alloy of a wire spec, at small strain."""
    return Elastic(spec["youngs_modulus_MPa"], spec["poisson_ratio"])


def wire_law(alloy: Spec) -> UniaxialLaw:
    """Stress along the wire past the elastic limit, from an alloy's row.

    Superelastic where the row has plateaus, else elastic–plastic (perfectly, without hardening).
    """
    if alloy.get("superelastic"):
        return Superelastic(alloy["youngs_modulus_MPa"], **alloy["superelastic"])
    return ElasticPlastic(
        alloy["youngs_modulus_MPa"],
        alloy["yield_strength_MPa"],
        alloy.get("hardening_modulus_MPa", 0.0),
    )


def wire_fibres(section: Spec) -> Fibres:
    """Fibres of a section's spec for bending about both axes, as few as give a moment to 1e-3."""
    if section["shape"] == "round":
        return round_fibres(section["height_mm"], _RINGS, _SECTORS)
    return rectangular_lattice(
        section["width_mm"], section["height_mm"], section.get("corner_radius_mm", 0.0)
    )


def fibre_section(alloy: Spec, section: Spec) -> FibreSection:
    """Section of fibres of a wire's alloy and section."""
    return FibreSection(wire_fibres(section), wire_law(alloy))
