"""What is known of one run once it is solved, from which every response is read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fem.movement import AnatomicalMotion, anatomical_motion
from workflow.specs import Spec

Array = NDArray[np.float64]

TWO_POINT, ONE_POINT, TARGET, ANCHOR = "two_point", "one_point", "target", "anchor"


@dataclass(frozen=True)
class Moved:
    """Load and motion of one unit.

    Attributes
    ----------
    wrench, motion
        About its centre of resistance, (6,) each: N and N·mm, mm and rad.
    axes
        Columns mesial, buccal, occlusal, (3, 3).
    hydrostatic_kPa
        What 1 % and 99 % of the volume of its ligaments stay below, of all its teeth the least
        and the greatest; None where it was not asked for.
    """

    wrench: Array
    motion: Array
    axes: Array
    hydrostatic_kPa: tuple[float, float] | None = None

    @property
    def anatomical(self) -> AnatomicalMotion:
        """Components of the motion."""
        return anatomical_motion(self.motion, self.axes)


@dataclass(frozen=True)
class Answer:
    """One run.

    Attributes
    ----------
    case
        The resolved case.
    supports
        Content of ``support.json`` of each tooth, by number.
    wire
        ``force_N``, ``couple_Nmm``, ``yield_ratio``, ``offset_mm``, ``span_mm`` and, if asked for,
        ``rate_N_per_mm``; empty where the wire was not engaged.
    units
        Load and motion of the two-point and the one-point unit, by unit name; empty likewise.
    note
        Why it was not engaged, or what must be known of its numbers; empty otherwise.
    """

    case: Spec
    supports: Mapping[int, Spec]
    wire: Mapping[str, float] = field(default_factory=dict)
    units: Mapping[str, Moved] = field(default_factory=dict)
    note: str = ""

    def unit(self, body: str) -> Moved | None:
        """Unit by its contact, ``two_point`` or ``one_point``, or by its role."""
        if body in (TWO_POINT, ONE_POINT):
            return self.units.get(self.case[body]["unit"])
        roles = {name: unit["role"] for name, unit in self.case["units"].items()}
        named = [name for name, role in roles.items() if role == body]
        return self.units.get(named[0]) if len(named) == 1 else None
