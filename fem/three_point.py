"""Three-point bending of a straight wire, as wires are tested (ISO 15841: span 10 mm, to 3.1 mm).

Half the wire is modelled: clamped in direction at the middle, where the indenter stands still,
while a smooth support half a span away is raised. The wire slides over the support without
friction and its contact point moves outward along it, which lowers the force at large deflection:
at 3.1 mm by far, so a tie at a fixed point of the wire would not do.

The radii of indenter and supports (0.05–0.13 mm, from memory), friction and the test machine's own
compliance are left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.fibre import FibreSection
from fem.fibre_rod import passive_fibre_rod
from fem.lead import PegLead
from fem.load_history import Bench, LoadHistory, begin, clamped_at, displace_to, load_to

Array = NDArray[np.float64]

_ALONG, _UP = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True)
class ThreePointTest:
    """Curve of a three-point test.

    Attributes
    ----------
    deflection_mm
        Of the indenter, (m,).
    force_N
        Of the indenter, (m,): twice that of one support.
    loading_points
        How many of the points belong to the loading branch.
    set_mm
        Deflection left when the force has gone.
    """

    deflection_mm: Array
    force_N: Array
    loading_points: int
    set_mm: float

    def unloading_force_N(self, deflection_mm: float) -> float:
        """Force on the way back; zero where the wire no longer touches."""
        back = slice(self.loading_points - 1, None)
        return float(
            np.interp(deflection_mm, self.deflection_mm[back][::-1], self.force_N[back][::-1])
        )


def three_point_bench(
    section: FibreSection,
    shear_torsion: Array,
    *,
    span_mm: float = 10.0,
    overhang_mm: float = 4.0,
    elements: int = 40,
) -> tuple[Bench, LoadHistory]:
    """Half a wire on its support, bent in the plane of its height.

    Parameters
    ----------
    section
        The wire's fibres.
    shear_torsion
        κGA for both directions and GJ, (3,).
    span_mm
        Distance of the supports.
    overhang_mm
        Wire beyond each support; what slides in is taken from it.
    elements
        Elements on half the span.

    Raises
    ------
    ValueError
        If a length is not positive or there are fewer than 4 elements.
    """
    if not (span_mm > 0 and overhang_mm > 0):
        raise ValueError(f"span_mm = {span_mm}, overhang_mm = {overhang_mm}: must be positive")
    if elements < 4:
        raise ValueError(f"elements = {elements}: need at least 4 on half the span")
    half = span_mm / 2
    beyond = max(2, round(elements * overhang_mm / half / 2))
    x = np.concatenate(
        [
            np.linspace(0, half, elements + 1),
            np.linspace(half, half + overhang_mm, beyond + 1)[1:],
        ]
    )
    axes = np.tile(np.eye(3), (len(x), 1, 1))
    wire, state = passive_fibre_rod(x[:, None] * _ALONG, axes, np.diff(x), section, shear_torsion)
    bench = Bench(wire, clamped_at(len(x), 0), PegLead(half, _ALONG, _UP))
    return bench, begin(bench, state)


def three_point_test(
    bench: Bench, history: LoadHistory, *, to_mm: float = 3.1, step_mm: float = 0.1
) -> ThreePointTest:
    """Deflect to `to_mm` and let back until the wire is free.

    Raises
    ------
    fem.load_history.LoadHistoryError
        If a step finds no equilibrium.
    """
    if not 0 < step_mm <= to_mm:
        raise ValueError(f"step_mm = {step_mm}: must be positive and at most to_mm = {to_mm}")
    history = displace_to(bench, history, to_mm, round(to_mm / step_mm))
    loading = len(history.force_N)
    following = history
    while following.force_N[-1] > 0:
        history = following
        if history.displacement_mm[-1] <= step_mm:
            break
        following = displace_to(bench, history, history.displacement_mm[-1] - step_mm, 1)
    history = load_to(bench, history, 0.0, 4)
    return ThreePointTest(
        history.displacement_mm,
        2 * history.force_N,
        loading,
        float(history.displacement_mm[-1]),
    )
