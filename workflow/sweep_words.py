"""Columns of a parameter study in words: names with units, and levels as figures show them."""

from __future__ import annotations

from workflow.figures_wire_study import alloy_text, section_text
from workflow.sweep_factor import Factor

_UNITS = {
    "N_per_mm": "N/mm",
    "gfmm": "gf·mm",
    "Nmm": "N·mm",
    "mrad": "mrad",
    "deg": "°",
    "MPa": "MPa",
    "kPa": "kPa",
    "mm": "mm",
    "um": "µm",
    "gf": "gf",
    "N": "N",
}


def column_text(name: str) -> str:
    """Name of a column with its unit in brackets, as ``span (mm)``."""
    for suffix, unit in _UNITS.items():
        if name.endswith(f"_{suffix}"):
            return f"{name.removesuffix(f'_{suffix}').replace('_', ' ')} ({unit})"
    return name.replace("_", " ")


def level_text(factor: Factor, level: float | str) -> str:
    """A level as a figure shows it."""
    if isinstance(level, float):
        return f"{level:.4g}"
    if factor.key == "wire.alloy":
        return alloy_text(level)
    return section_text(level) if factor.key == "wire.section" else level
