"""Checks of wires past their elastic limit: laws, sections, whole wires, and their pictures."""

from __future__ import annotations

from workflow.verification import (
    inelastic_far,
    inelastic_law,
    inelastic_pictures,
    inelastic_sections,
    inelastic_superelastic,
    inelastic_wires,
)
from workflow.verification.check import Check, Picture

CHECKS: tuple[Check, ...] = (
    *inelastic_law.CHECKS,
    *inelastic_sections.CHECKS,
    *inelastic_wires.CHECKS,
    *inelastic_superelastic.CHECKS,
    *inelastic_far.CHECKS,
)

PICTURES: tuple[Picture, ...] = inelastic_pictures.PICTURES
