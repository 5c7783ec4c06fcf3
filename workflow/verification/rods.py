"""Checks of elastic wires: far-bent, looped, in a tube, as solids, and their pictures."""

from __future__ import annotations

from workflow.verification import (
    rods_cantilever,
    rods_corners,
    rods_curved,
    rods_elastica,
    rods_invariance,
    rods_peg,
    rods_pictures,
    rods_solid,
    rods_springs,
    rods_trade,
)
from workflow.verification.check import Check, Picture

CHECKS: tuple[Check, ...] = (
    *rods_elastica.CHECKS,
    *rods_peg.CHECKS,
    *rods_invariance.CHECKS,
    *rods_curved.CHECKS,
    *rods_corners.CHECKS,
    *rods_cantilever.CHECKS,
    *rods_solid.CHECKS,
    *rods_springs.CHECKS,
    *rods_trade.CHECKS,
)

PICTURES: tuple[Picture, ...] = rods_pictures.PICTURES
