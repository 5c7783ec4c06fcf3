"""The long axis of a scanned tooth and which of its ends is the crown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.mesh import TriSurface
from geometry.scan.sections import Sections, even_heights, sections, solid_axes

Floats = NDArray[np.float64]

SPACING_MM = 0.25
_END_SHARE = 0.2  # of the length, at either end
# Least logarithm of the ratio of end areas, offset of the greatest section from the middle as a
# share of the length, and skewness that say anything. Common practice, no source.
_CLEAR = np.array([0.15, 0.05, 0.05])
_ROOT_SHARE = 0.7  # of the root below the cervix: the apical third bends most
_ROUNDS = 6
_SETTLED_RAD = 1e-3


@dataclass(frozen=True)
class CrownEnd:
    """Which end of a tooth its shape says is the crown.

    Parameters
    ----------
    axis : (3,) array
        Longest principal axis of the solid, towards the end that more signs call the crown.
    agreeing : int
        How many of the three signs say so; the others say nothing or the opposite.
    """

    axis: Floats
    agreeing: int


def crown_end(surface: TriSurface) -> CrownEnd:
    """Tell crown from apex by the sections along the longest principal axis.

    Three signs, each of which points to the crown: the end whose fifth has the greater mean area,
    since an apex is narrower than any biting edge; the half in which the greatest section lies;
    and the end away from the longer tail of the distribution of area (its third moment). Invalid
    for a tooth whose crown is shorter than its width or whose root is not formed.
    """
    _, axes = solid_axes(surface)
    axis = axes[:, -1]
    profile = sections(surface, axis, even_heights(surface, axis, SPACING_MM))
    level = surface.points @ axis
    place = (profile.height_mm - level.min()) / np.ptp(level)
    weight = profile.area_mm2 / profile.area_mm2.sum()
    offset = place - weight @ place
    spread = np.sqrt(weight @ offset**2)
    low = profile.area_mm2[place < _END_SHARE].mean()
    high = profile.area_mm2[place > 1.0 - _END_SHARE].mean()
    sizes = np.array(
        [
            np.log(high / low),
            place[np.argmax(profile.area_mm2)] - 0.5,
            -(weight @ offset**3) / spread**3,
        ]
    )
    signs = np.where(np.abs(sizes) > _CLEAR, np.sign(sizes), 0.0)
    side = 1.0 if signs.sum() >= 0.0 else -1.0
    return CrownEnd(side * axis, int((signs == side).sum()))


def profile_along(surface: TriSurface, axis: Floats) -> tuple[Sections, tuple[float, float]]:
    """Return the sections along an axis, and the heights of the lowest and highest point."""
    level = surface.points @ axis
    cut = sections(surface, axis, even_heights(surface, axis, SPACING_MM))
    return cut, (float(level.min()), float(level.max()))


def root_axis(
    surface: TriSurface, start: Floats, cervix_height: Callable[[Floats], float]
) -> Floats:
    """Return the line through the centres of the root's sections, towards the crown.

    The centroids of sections square to the axis, from the cervix down to 70 % of the root, are
    fitted by a straight line weighted by their area; with the new axis it is done again until the
    axis turns by less than 1 mrad. With several roots a section's centroid is that of all of them.
    The crown leans over the root in most teeth and is left out; so is the apical part, which bends.

    Parameters
    ----------
    surface : TriSurface
    start : (3,) array
        Unit vector near the axis, towards the crown.
    cervix_height : callable
        Gives the height of the cervix along an axis (3,).

    Returns
    -------
    (3,) array
        Unit vector.
    """
    axis = start
    for _ in range(_ROUNDS):
        cervix, low = cervix_height(axis), float((surface.points @ axis).min())
        lowest = cervix - _ROOT_SHARE * (cervix - low)
        heights = np.linspace(lowest, cervix, max(int((cervix - lowest) / SPACING_MM), 8))
        cut = sections(surface, axis, heights)
        weight = cut.area_mm2 / cut.area_mm2.sum()
        rise = heights - weight @ heights
        slope = (weight * rise) @ (cut.centre - weight @ cut.centre)
        turned = slope / np.linalg.norm(slope)
        change = float(np.linalg.norm(turned - axis))
        axis = turned
        if change < _SETTLED_RAD:
            break
    return axis
