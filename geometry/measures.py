"""What placing a tooth and its attachments needs to know of its shape, drawn or scanned."""

from __future__ import annotations

from dataclasses import dataclass

from geometry.dimensions import ToothDimensions


@dataclass(frozen=True)
class ToothMeasures:
    """Measures of one tooth in its own axes.

    Parameters
    ----------
    crown_length_mm, root_length_mm : float
        From the cervical centre to the highest point of the crown and to the longest apex.
    buccal_reach_mm : float
        How far the crown bulges buccally of the long axis.
    """

    crown_length_mm: float
    root_length_mm: float
    buccal_reach_mm: float

    @classmethod
    def of(cls, dimensions: ToothDimensions) -> ToothMeasures:
        """Return the measures of a parametric tooth."""
        return cls(
            dimensions.crown_length_mm, dimensions.root_length_mm, dimensions.crown_bl_mm / 2.0
        )
