"""Where the root of a scanned tooth ends and its crown begins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.dimensions import ToothDimensions
from geometry.scan.sections import Sections

Floats = NDArray[np.float64]

_SPAN_MM = 2.0  # over which the bend of the outline is measured: longer than scan noise
_STEP_MM = 0.05
_PROPORTION = 0.35  # by which the share of the crown may differ from the published one
_SPREAD = 0.20  # standard deviation of that share over its mean: common practice, no source
# A bend of less than this, mm over twice the span, is not told from a smooth taper. Common
# practice, no source: about the change that one voxel of 0.2 mm makes to a width.
_LEAST_BEND_MM = 0.05


@dataclass(frozen=True)
class Cervix:
    """The cervical level found on a tooth.

    Parameters
    ----------
    height_mm : float
        Along the sections' axis.
    bend_mm : float
        How sharply the outline bends there, see `find_cervix`.
    expected_mm : float
        Height where the published proportions of the tooth would put it.
    """

    height_mm: float
    bend_mm: float
    expected_mm: float


def crown_share(dimensions: ToothDimensions) -> float:
    """Return the published crown length over that of the whole tooth."""
    crown, root = dimensions.crown_length_mm, dimensions.root_length_mm
    return crown / (crown + root)


def find_cervix(
    profile: Sections, ends_mm: tuple[float, float], dimensions: ToothDimensions, name: str
) -> Cervix:
    """Find the cervix from the outline of the sections along the long axis.

    Going up the root, the outline is even or widens slowly; at the cervix the crown begins to
    bulge. With r(h) half the mean width of the outline (convex, so that furcations do not show),
    the cervix is where

        ``r(h + w) − 2 r(h) + r(h − w)``,  w = 2 mm,

    is greatest, weighted by a normal distribution of the crown's share of the length about the
    published share for this tooth, standard deviation 20 % of it and cut off at 35 %. On two
    straight lines that meet at an angle the bend peaks exactly where they meet; the weight keeps
    ripples of the root and the furcation from being taken for the cervix, and moves a clear bend
    by up to 0.3 mm on the whole crowns tried and 0.5 mm where 2 mm were worn off. Ripples of 3 %
    of the width, 4 to 8 mm long, moved it by up to 1.8 mm. The method is this project's own.

    What is found is the mean level around the tooth. The cervical line itself rises towards the
    crown on the mesial and distal faces, by 1 mm in molars to 3.5 mm in incisors (Wheeler, from
    memory), and falls as much below on the others. Invalid for a crown that is worn down, broken,
    restored with an overhanging margin or worn away at the neck, a root that is not fully formed
    or resorbed by more than a third, and teeth whose root widens towards the apex: give the
    level of those.

    Parameters
    ----------
    profile : Sections
        Evenly spaced by 0.5 mm or less, axis towards the crown.
    ends_mm : tuple of float
        Heights of the lowest and the highest point of the tooth.
    dimensions : ToothDimensions
        Published ones, for the proportions.
    name : str
        Of the scan, for messages.

    Raises
    ------
    ValueError
        If the outline has no such bend there.
    """
    low, high = ends_mm
    length = high - low
    share = crown_share(dimensions)
    expected = high - share * length
    upper = high - max((1.0 - _PROPORTION) * share * length, _SPAN_MM)
    lower = max(high - (1.0 + _PROPORTION) * share * length, low + _SPAN_MM)
    heights = np.arange(lower, upper, _STEP_MM)
    knots = np.concatenate([[low], profile.height_mm, [high]])
    radii = np.concatenate([[0.0], profile.radius_mm, [0.0]])
    below, here, above = (np.interp(heights + d, knots, radii) for d in (-_SPAN_MM, 0.0, _SPAN_MM))
    bend = above - 2.0 * here + below
    weight = np.exp(-0.5 * ((heights - expected) / (_SPREAD * share * length)) ** 2)
    best = int(np.argmax(weight * bend))
    if best in (0, len(heights) - 1) or bend[best] < _LEAST_BEND_MM:
        raise ValueError(
            f"{name}: the outline shows no cervix {high - upper:.1f} to {high - lower:.1f} mm "
            f"below the top of the crown, where tooth {dimensions.number} should have it; state "
            f"crown_length_mm (about {high - expected:.1f} by published proportions) or a point of "
            "the cervix, or correct the tooth's number"
        )
    return Cervix(float(heights[best]), float(bend[best]), float(expected))
