"""Levels of a parameter study as figures show them."""

from __future__ import annotations

from workflow.figures_wire_study import alloy_text, section_text
from workflow.sweep_factor import Factor


def level_text(factor: Factor, level: float | str) -> str:
    """A level as a figure shows it."""
    if isinstance(level, float):
        return f"{level:.4g}"
    if factor.key == "wire.alloy":
        return alloy_text(level)
    return section_text(level) if factor.key == "wire.section" else level
