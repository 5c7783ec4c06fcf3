"""Places where a wire is held: a tube on one crown, a hook on the wire of a segment."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from geometry.arch import buccal_attachment
from geometry.frame import ToothFrame
from geometry.measures import ToothMeasures

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Tube:
    """A tube or bracket.

    Attributes
    ----------
    mouths
        Mouth away from the hook and mouth towards it, (3,) each, mm.
    axes
        Columns along (towards the hook), width, height of the wire in it; right-handed, (3, 3).
    """

    mouths: tuple[Array, Array]
    axes: Array

    @property
    def width_mm(self) -> float:
        """Distance between its mouths."""
        return float(np.linalg.norm(self.mouths[1] - self.mouths[0]))

    @property
    def middle(self) -> Array:
        """Half-way between its mouths, (3,), mm."""
        return 0.5 * (self.mouths[0] + self.mouths[1])

    def moved(self, shift_mm: Array) -> Tube:
        """The same elsewhere."""
        return Tube((self.mouths[0] + shift_mm, self.mouths[1] + shift_mm), self.axes)


@dataclass(frozen=True)
class Hook:
    """A place on the wire of a segment.

    Attributes
    ----------
    point
        (3,), mm.
    bar
        Unit vector along the segment's wire, (3,).
    """

    point: Array
    bar: Array


def bracket_point(
    measures: ToothMeasures, frame: ToothFrame, height_fraction: float, stand_off_mm: float
) -> Array:
    """Middle of the wire in a bracket on the buccal face of a tooth, (3,), mm, in the patient."""
    return frame.to_patient(buccal_attachment(measures, height_fraction, stand_off_mm))


def tube_at(middle: Array, frame: ToothFrame, length_mm: float, towards: Array) -> Tube:
    """Tube along the mesiodistal axis of a tooth, its second mouth facing a point.

    Parameters
    ----------
    middle
        Middle of the tube, (3,), mm.
    frame
        The tooth.
    towards
        Point the wire leads to, (3,), mm.
    """
    mesial, _, occlusal = frame.axes.T
    along = mesial if (towards - middle) @ mesial >= 0 else -mesial
    half = 0.5 * length_mm * along
    axes = np.column_stack([along, np.cross(occlusal, along), occlusal])
    return Tube((middle - half, middle + half), axes)


def hook_between(first: Array, second: Array) -> Hook:
    """Hook half-way between two neighbouring brackets."""
    chord = second - first
    return Hook(0.5 * (first + second), chord / np.linalg.norm(chord))


def hook_at_span(mouth: Array, brackets: list[Array], span_mm: float) -> Hook:
    """Hook on the wire through a segment's brackets at a given distance from the tube's mouth.

    Raises
    ------
    ValueError
        If the segment's wire does not pass at that distance; says what it reaches.
    """
    for first, second in pairwise(brackets):
        chord = second - first
        to_first = first - mouth
        # |first + s chord − mouth| = span
        roots = np.roots([chord @ chord, 2 * to_first @ chord, to_first @ to_first - span_mm**2])
        for s in sorted(roots[np.isreal(roots)].real):
            if 0 <= s <= 1:
                return Hook(first + s * chord, chord / np.linalg.norm(chord))
    reach = [float(np.linalg.norm(point - mouth)) for point in brackets]
    raise ValueError(
        f"the segment's wire lies {min(reach):.1f} to {max(reach):.1f} mm from the tube's mouth, "
        f"not {span_mm:g} mm"
    )
