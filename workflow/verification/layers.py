"""Checks of this area."""

from __future__ import annotations

from workflow.verification.check import Check

CHECKS: tuple[Check, ...] = ()
