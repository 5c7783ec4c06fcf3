"""How teeth resist: centres, screw axes, roots of known form, and teeth joined to units."""

from __future__ import annotations

from workflow.verification import (
    resistance_centres,
    resistance_motions,
    resistance_roots,
    resistance_units,
)

CHECKS = (
    *resistance_centres.CHECKS,
    *resistance_motions.CHECKS,
    *resistance_roots.CHECKS,
    *resistance_units.CHECKS,
)
