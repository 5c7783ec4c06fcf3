"""What measures a tooth: records of crown, cusps and roots in the tooth's own frame.

Coordinates are (m, b, o): mesial, buccal (labial on front teeth) and occlusal, in mm, with the
origin at the centre of the cervical plane. The crown lies in +o, the root in −o.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


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
    source: str = ""
    certainty: str = ""

    @property
    def shortest_root_mm(self) -> float:
        """Depth of the shallowest apex below the cervix."""
        return min([self.root_length_mm, *(root.length_mm for root in self.roots)])

    @property
    def root_count(self) -> int:
        """Number of roots."""
        return max(len(self.roots), 1)
