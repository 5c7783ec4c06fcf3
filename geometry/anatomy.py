"""Looking up the dimensions of a tooth by its ISO 3950 number.

Left and right teeth share a row; placing and mirroring them is the business of the arch.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from geometry.dimensions import CrownOutline, Cusp, Root, ToothDimensions
from geometry.overrides import with_overrides
from geometry.tooth_table import ROWS, VARIANTS

__all__ = [
    "CrownOutline",
    "Cusp",
    "Root",
    "ToothDimensions",
    "crown_width_mm",
    "known_teeth",
    "left_twin",
    "tooth_dimensions",
]

# ISO 3950 quadrants: upper right 1, upper left 2, lower left 3, lower right 4. Rows are left teeth.
_LEFT_OF = {1: 2, 2: 2, 3: 3, 4: 3}
_RIGHT_OF = {2: 1, 3: 4}

_TABLE = {row.number: row for row in ROWS}

# Mesiodistal crown widths, central incisor to third molar (same table, from memory but for the
# upper incisors, second premolar and first molar, which were seen).
_CROWN_WIDTHS_MM = {
    "upper": (8.5, 6.5, 7.5, 7.0, 7.0, 10.0, 9.0, 8.5),
    "lower": (5.0, 5.5, 7.0, 7.0, 7.0, 11.0, 10.5, 10.0),
}


def crown_width_mm(number: int) -> float:
    """Return the published mesiodistal crown width of any permanent tooth, mm.

    Parameters
    ----------
    number : int
        ISO 3950 number.

    Raises
    ------
    ValueError
        If there is no such permanent tooth.
    """
    quadrant, place = divmod(number, 10)
    if quadrant not in _LEFT_OF or not 1 <= place <= 8:
        raise ValueError(
            f"tooth number {number}: not a permanent tooth; ISO 3950 numbers run from 11 to 18, "
            "21 to 28, 31 to 38 and 41 to 48"
        )
    return _CROWN_WIDTHS_MM["upper" if quadrant in (1, 2) else "lower"][place - 1]


def known_teeth() -> tuple[int, ...]:
    """Return the ISO 3950 numbers that `tooth_dimensions` knows, both sides, in order."""
    twins = (10 * _RIGHT_OF[number // 10] + number % 10 for number in _TABLE)
    return tuple(sorted([*_TABLE, *twins]))


def left_twin(number: int) -> int:
    """Return the number of the left tooth that a tooth mirrors, its own if it is a left one."""
    quadrant, place = divmod(number, 10)
    return 10 * _LEFT_OF.get(quadrant, quadrant) + place


def tooth_dimensions(
    number: int, overrides: Mapping[str, float] | None = None, roots: int | None = None
) -> ToothDimensions:
    """Return the published dimensions of a tooth, some of them changed where wanted.

    Parameters
    ----------
    number : int
        ISO 3950 number. A right tooth gets the row of its left twin, under its own number.
    overrides : mapping of str to float, optional
        New values by name, see `geometry.overrides.with_overrides`.
    roots : int, optional
        Number of roots, where a tooth comes with more than one number of them: the upper first
        premolar has 2 as the default and 1 as the other.

    Raises
    ------
    ValueError
        If the table has no row for the tooth, or none with this number of roots, or an override
        is unknown or not sensible.
    """
    twin = left_twin(number)
    row = _TABLE.get(twin)
    if row is None:
        listed = ", ".join(map(str, known_teeth()))
        raise ValueError(
            f"tooth number {number}: no dimensions in geometry/anatomy.py; "
            f"choose one of {listed}, or add a row to the table"
        )
    if roots is not None:
        choices = {other.root_count: other for other in (row, *VARIANTS) if other.number == twin}
        if roots not in choices:
            listed = " or ".join(map(str, choices))
            raise ValueError(f"tooth number {number}: roots is {roots}; choose {listed}")
        row = choices[roots]
    return with_overrides(replace(row, number=number), overrides or {})
