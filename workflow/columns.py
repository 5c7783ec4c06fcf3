"""Names of columns for the reader: quantities in words, units in brackets."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

_UNITS = {
    "N_per_mm": "N/mm",
    "Nmm_per_rad": "N·mm/rad",
    "Nmm_per_deg": "N·mm/°",
    "gf_per_mm": "gf/mm",
    "N": "N",
    "Nmm": "N·mm",
    "gf": "gf",
    "gfmm": "gf·mm",
    "mm": "mm",
    "mm2": "mm²",
    "mm4": "mm⁴",
    "um": "µm",
    "um_per_N": "µm/N",
    "rad": "rad",
    "mrad": "mrad",
    "deg": "°",
    "Pa": "Pa",
    "kPa": "kPa",
    "MPa": "MPa",
    "GPa": "GPa",
    "s": "s",
    "C": "°C",
    "percent": "%",
}
_ENDINGS = sorted(_UNITS, key=len, reverse=True)
_NO_WORDS: Mapping[str, str] = MappingProxyType({})


def column_text(column: str, words: Mapping[str, str] = _NO_WORDS) -> str:
    """Name of a column for the reader, its unit in brackets: ``span_mm`` is ``span (mm)``.

    Parameters
    ----------
    words
        Quantities by column, without their units, where they differ from the column's name.
    """
    ending = next((e for e in _ENDINGS if column.endswith(f"_{e}")), None)
    quantity = column.removesuffix(f"_{ending}").replace("_", " ")
    text = words.get(column, quantity)
    return text if ending is None else f"{text} ({_UNITS[ending]})"
