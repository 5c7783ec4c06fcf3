"""The project's own elasticity code, element by element: exact fields, orders, energy, balance."""

from __future__ import annotations

from workflow.verification.check import Check, Picture
from workflow.verification.continuum_bars import BAR_CHECKS
from workflow.verification.continuum_bodies import BODY_CHECKS
from workflow.verification.continuum_exact import EXACT_CHECKS
from workflow.verification.continuum_orders import ORDER_CHECKS, ORDER_PICTURES
from workflow.verification.continuum_rotation import ROTATION_CHECKS

CHECKS: tuple[Check, ...] = (
    *EXACT_CHECKS,
    *ROTATION_CHECKS,
    *ORDER_CHECKS,
    *BAR_CHECKS,
    *BODY_CHECKS,
)
PICTURES: tuple[Picture, ...] = ORDER_PICTURES
