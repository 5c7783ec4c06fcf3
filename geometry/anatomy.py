"""Published tooth dimensions, one row a tooth, in the tooth's own frame.

Coordinates are (m, b, o): mesial, buccal (labial on front teeth) and occlusal, in mm, with the
origin at the centre of the cervical plane. The crown lies in +o, the root in −o. Left and right
teeth share a row; placing and mirroring them is the business of the arch.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

_WHEELER = "Ash & Nelson, Wheeler's Dental Anatomy, Physiology and Occlusion, Table 1-1"
_FROM_MEMORY = "from memory, high confidence"

# ISO 3950 quadrants: upper right 1, upper left 2, lower left 3, lower right 4. Rows are left teeth.
_LEFT_OF = {1: 2, 2: 2, 3: 3, 4: 3}
_RIGHT_OF = {2: 1, 3: 4}


@dataclass(frozen=True)
class Cusp:
    """One cusp of the biting surface.

    Parameters
    ----------
    mesial_mm, buccal_mm : float
        Place of the tip, from the long axis.
    drop_mm : float
        How far the tip lies below the highest point of the crown.
    mesial_slope, buccal_slope : float
        Fall of the ridges, mm a mm, away from the tip along m and along b.
    """

    mesial_mm: float
    buccal_mm: float
    drop_mm: float
    mesial_slope: float
    buccal_slope: float


@dataclass(frozen=True)
class CrownOutline:
    """Half widths of the crown at one level, as fractions of half its greatest width.

    Parameters
    ----------
    level : float
        Height above the cervix as a fraction of the crown length, above 0 and up to 1.
    mesiodistal, buccal, lingual : float
        Half width towards mesial and distal, towards buccal and towards lingual.
    """

    level: float
    mesiodistal: float
    buccal: float
    lingual: float


@dataclass(frozen=True)
class Root:
    """One root of a tooth that has several.

    Parameters
    ----------
    name : str
    md_mm, bl_mm : float
        Widths of the root at the furcation, where its taper begins.
    offset_mm : tuple of float
        (m, b) of its axis at the cervix.
    tilt_deg : tuple of float
        Lean of its axis away from −o, towards +m and towards +b.
    length_mm : float
        Length from the cervix to the apex, measured along o.
    """

    name: str
    md_mm: float
    bl_mm: float
    offset_mm: tuple[float, float]
    tilt_deg: tuple[float, float]
    length_mm: float

    def apex_mm(self) -> tuple[float, float, float]:
        """Return the apex, (m, b, o) in mm."""
        m, b = (
            offset + self.length_mm * math.tan(math.radians(tilt))
            for offset, tilt in zip(self.offset_mm, self.tilt_deg, strict=True)
        )
        return m, b, -self.length_mm


@dataclass(frozen=True)
class ToothDimensions:
    """Measurements that make one tooth, lengths in mm.

    Parameters
    ----------
    number : int
        ISO 3950 tooth number.
    name : str
    crown_length_mm, root_length_mm : float
        Cervix to the highest point of the crown; cervix to the longest apex.
    crown_md_mm, crown_bl_mm, cervix_md_mm, cervix_bl_mm : float
        Greatest mesiodistal and buccolingual widths of the crown, and those at the cervix.
    squareness : float
        Exponent of the superelliptic cross-section: 2 is an ellipse, more is squarer.
    taper : float
        Exponent p of the root taper: at the fraction s of the root length the widths are
        √(1 − sᵖ) of those at the cervix. p = 1 is a paraboloid, p = 2 half an ellipsoid.
    outline : tuple of CrownOutline
    cusps : tuple of Cusp
    roots : tuple of Root
        Empty for a single straight root that continues the cervix.
    trunk_mm : float or None
        Depth of the furcation below the cervix; None for a single root.
    root_area_mm2 : tuple of (str, float)
        Published whole-root areas with their source, to compare with; they make no shape.
    source, certainty : str
        Where the lengths and widths come from and how sure they are. Cusps, outlines, taper and
        squareness are common practice, without a source.
    """

    number: int
    name: str
    crown_length_mm: float
    root_length_mm: float
    crown_md_mm: float
    crown_bl_mm: float
    cervix_md_mm: float
    cervix_bl_mm: float
    squareness: float
    taper: float
    outline: tuple[CrownOutline, ...]
    cusps: tuple[Cusp, ...]
    roots: tuple[Root, ...] = ()
    trunk_mm: float | None = None
    root_area_mm2: tuple[tuple[str, float], ...] = ()
    source: str = _WHEELER
    certainty: str = _FROM_MEMORY

    @property
    def root_count(self) -> int:
        """Number of roots."""
        return max(len(self.roots), 1)


_CANINE_OUTLINE = (
    CrownOutline(0.25, 0.88, 1.00, 1.00),
    CrownOutline(0.65, 1.00, 0.86, 0.42),
    CrownOutline(1.00, 0.90, 0.42, 0.05),
)
_PREMOLAR_OUTLINE = (
    CrownOutline(0.35, 0.90, 1.00, 0.97),
    CrownOutline(0.65, 1.00, 0.90, 1.00),
    CrownOutline(1.00, 0.90, 0.62, 0.80),
)
_MOLAR_OUTLINE = (
    CrownOutline(0.33, 0.93, 1.00, 0.96),
    CrownOutline(0.65, 1.00, 0.93, 1.00),
    CrownOutline(1.00, 0.90, 0.70, 0.88),
)

_AREA_MOWRY = "Mowry et al. 2002"
_AREA_JEPSEN = "Jepsen 1963 (from memory)"

_ROWS = (
    ToothDimensions(
        33,
        "lower canine",
        11.0,
        16.0,
        7.0,
        7.5,
        5.5,
        7.0,
        squareness=2.2,
        taper=1.8,
        outline=_CANINE_OUTLINE,
        cusps=(Cusp(0.3, 0.75, 0.0, 0.75, 0.70),),
        root_area_mm2=((_AREA_MOWRY, 275.9), (_AREA_JEPSEN, 268.0)),
    ),
    ToothDimensions(
        34,
        "lower first premolar",
        8.5,
        14.0,
        7.0,
        7.5,
        5.0,
        6.5,
        squareness=2.2,
        taper=1.8,
        outline=_PREMOLAR_OUTLINE,
        cusps=(Cusp(0.1, 0.7, 0.0, 0.65, 0.80), Cusp(0.2, -2.4, 1.6, 0.55, 0.80)),
        root_area_mm2=((_AREA_MOWRY, 251.5), (_AREA_JEPSEN, 180.0)),
    ),
    ToothDimensions(
        35,
        "lower second premolar",
        8.0,
        14.5,
        7.0,
        8.0,
        5.0,
        7.0,
        squareness=2.2,
        taper=1.8,
        outline=_PREMOLAR_OUTLINE,
        cusps=(
            Cusp(0.0, 1.1, 0.0, 0.55, 0.70),
            Cusp(1.2, -2.0, 0.9, 0.55, 0.65),
            Cusp(-1.4, -2.0, 1.2, 0.55, 0.65),
        ),
        root_area_mm2=((_AREA_MOWRY, 271.8), (_AREA_JEPSEN, 207.0)),
    ),
    ToothDimensions(
        37,
        "lower second molar",
        7.0,
        13.0,
        10.5,
        10.0,
        8.0,
        9.0,
        squareness=2.8,
        taper=1.8,
        outline=_MOLAR_OUTLINE,
        cusps=(
            Cusp(2.5, 1.9, 0.1, 0.50, 0.60),
            Cusp(-2.5, 1.9, 0.2, 0.50, 0.60),
            Cusp(2.4, -2.5, 0.0, 0.50, 0.60),
            Cusp(-2.4, -2.5, 0.2, 0.50, 0.60),
        ),
        # Trunk and angle of separation: published means of the lower molars (359 teeth); the
        # widths of the single roots are common practice, no source.
        roots=(
            Root("mesial", 3.6, 8.6, (1.9, 0.0), (8.0, 0.0), 13.0),
            Root("distal", 3.5, 8.2, (-1.9, 0.0), (-8.0, 0.0), 12.7),
        ),
        trunk_mm=3.3,
        root_area_mm2=((_AREA_JEPSEN, 426.0),),
    ),
)
_TABLE = {row.number: row for row in _ROWS}

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


def tooth_dimensions(number: int) -> ToothDimensions:
    """Return the published dimensions of a tooth.

    Parameters
    ----------
    number : int
        ISO 3950 number. A right tooth gets the row of its left twin, under its own number.

    Raises
    ------
    ValueError
        If the table has no row for the tooth.
    """
    row = _TABLE.get(left_twin(number))
    if row is None:
        listed = ", ".join(map(str, known_teeth()))
        raise ValueError(
            f"tooth number {number}: no dimensions in geometry/anatomy.py; "
            f"choose one of {listed}, or add a row to the table"
        )
    return replace(row, number=number)
