"""V-bends between two brackets against beam theory."""

from __future__ import annotations

import numpy as np

from workflow.verification.appliances_two_couples import (
    SMALL,
    SPAN_MM,
    Bent,
    clamped,
)
from workflow.verification.check import Check, Compared, Kind

_SHARES = (0.1, 0.25, 1 / 3, 0.4, 0.5, 2 / 3, 0.8)


def _kinked(share: float, angle: float, pieces: int = 60) -> Bent:
    """Wire with one sharp bend, downwards beyond it, at a share of the span; its ends level."""
    bend = share * SPAN_MM
    rise, fall = np.arctan(np.tan(angle) * (1 - share)), np.arctan(np.tan(angle) * share)
    legs = np.linspace(0, bend, pieces + 1), np.linspace(bend, SPAN_MM, pieces + 1)[1:]
    x = np.concatenate(legs)
    z = np.where(x <= bend, x * np.tan(rise), (SPAN_MM - x) * np.tan(fall))
    slope = np.where(np.arange(len(x)) < pieces, rise, -fall)
    slope[pieces] = (rise - fall) / 2
    return Bent(x, z, slope)


def _v_bends() -> Compared:
    angle = 0.01
    unit = angle / SMALL  # over_unit is of θ = 1e-3
    computed = [np.array(clamped(_kinked(a, angle), (0, 0)).over_unit) / unit for a in _SHARES]
    expected = [(2 - 3 * a, 1 - 3 * a, 3 - 6 * a) for a in _SHARES]
    names = ("first moment", "second moment", "force")
    return Compared(
        computed, expected, 1.0, [f"bend at {a:.2f}, {name}" for a in _SHARES for name in names]
    )


def _v_bend_ratios() -> Compared:
    """Middle: opposite moments. A third: none at the far bracket. A fifth: both of one sense."""
    held = [clamped(_kinked(a, 0.01), (0, 0)) for a in (1 / 2, 1 / 3, 1 / 5)]
    return Compared(
        [h.second / h.first for h in held],
        [-1.0, 0.0, 2 / 7],
        1.0,
        ["middle", "a third", "a fifth"],
    )


CHECKS = (
    Check(
        id="v_bends",
        what="moments and force of a V-bend between level clamps, over 2EIα/L",
        code="fem.appliance_system.solve_equilibrium, fem.rod.passive_rod",
        kind=Kind.CODE,
        source="beam",
        place="2 − 3a, 1 − 3a and 3 − 6a for a bend at a share a of the span",
        tolerance=1e-3,
        reason="bend of 0.01 rad, its square, and a thousandth of the shear deflection",
        compute=_v_bends,
    ),
    Check(
        id="v_bend_ratios",
        what="moment of the far bracket over that of the near one, V-bend",
        code="fem.appliance_system.solve_equilibrium",
        kind=Kind.BENCHMARK,
        source="v_bend",
        place="in the middle −1, at a third 0, nearer than a third of one sense (2/7 at a fifth)",
        tolerance=1e-3,
        reason="bend of 0.01 rad, its square, and a thousandth of the shear deflection",
        compute=_v_bend_ratios,
    ),
)
