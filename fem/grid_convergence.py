"""Error bars of computed numbers from the same problem on two or three grids.

Of a number f on grids of cell size h, in the range where ``f = f_ext + C h^p``, three grids
(1 finest, 3 coarsest; ``r_21 = h_2/h_1``, ``ε_21 = f_2 − f_1``) give the order from

    ``p = |ln|ε_32/ε_21| + ln((r_21^p − s)/(r_32^p − s))| / ln r_21``,  ``s = sign(ε_32/ε_21)``,

then ``f_ext = (r_21^p f_1 − f_2)/(r_21^p − 1)`` and, with a factor of safety F, the grid
convergence index of the finest grid, ``F e_a/(r_21^p − 1)``, ``e_a = |ε_21/f_1|``. F is 1.25 where
three grids show the order and 3 where two only assume it.

Invalid outside that range: where values swing, differences do not shrink, or the order found is far
from the order that theory gives. Then the order says nothing, and the number's spread over the
grids is all that is known. The bound then takes the largest difference for an error that falls with
the first order only, the slowest that layers with a free rim show:
``F · spread · h_k/(h_3 − h_1)`` on grid k.

Source: Celik et al. 2008, J. Fluids Eng. 130:078001; factors Roache 1994, J. Fluids Eng. 116:405
(from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

Array = NDArray[np.float64]

SAFETY_OF_THREE = 1.25
SAFETY_OF_TWO = 3.0
LEAST_ORDER = 0.5
_ABOVE_THEORY = 0.5

_ORDERS = (1e-8, 40.0)  # between which the order is sought
_ROUNDING = 1e-13


@dataclass(frozen=True)
class GridConvergence:
    """What two or three grids say of a number; relative errors are shares, not percent.

    Attributes
    ----------
    values, sizes
        From the finest to the coarsest grid.
    order
        Observed; of two grids the stated one; NaN where none solves the equation.
    theoretical_order
        What the method promises.
    extrapolated
        Richardson's value for h → 0 by `order`; NaN without one.
    approximate_error
        ``|ε_21|`` over the scale.
    extrapolated_error
        ``|f_ext − f_1|`` over the size of f_ext, or over the scale if one was given.
    index
        Grid convergence index of the finest grid, over the scale.
    oscillatory
        Whether the two differences have opposite signs.
    doubt
        Why the order is not to be trusted, in words; empty if it is.
    safety
        Factor of safety in `index`.
    """

    values: tuple[float, ...]
    sizes: tuple[float, ...]
    order: float
    theoretical_order: float
    extrapolated: float
    approximate_error: float
    extrapolated_error: float
    index: float
    oscillatory: bool
    doubt: str
    safety: float

    @property
    def bounds(self) -> Array:
        """Error bar of the value on each grid, finest first, in the number's own unit.

        With an order to trust: safety × distance from the extrapolated value. An order above the
        theory's is put down to that, which is the wider bar. Without: the largest difference
        between any two grids as an error of the first order (see the head of the module), and never
        less than that difference.
        """
        values, sizes = np.asarray(self.values), np.asarray(self.sizes)
        if self.doubt:
            share = self.safety * sizes / (sizes[-1] - sizes[0])
            return np.asarray(float(np.ptp(values)) * np.maximum(share, 1.0))
        order = min(self.order, self.theoretical_order)
        limit = _extrapolated(self.values, self.sizes, order)
        return np.asarray(self.safety * np.abs(values - limit))


def grid_convergence(
    values: Sequence[float],
    sizes: Sequence[float],
    theoretical_order: float,
    scale: float | None = None,
) -> GridConvergence:
    """Order, extrapolated value and error bar of a number computed on three grids, or on two.

    Parameters
    ----------
    values
        The number on each grid, the finest first; three, or two.
    sizes
        Cell sizes in the same order, in any unit; ratios need not be equal.
    theoretical_order
        Order that the method promises; of two grids the order taken.
    scale
        What errors are divided by; left out, the size of the finest grid's value. Give one for
        numbers that may be near zero, as entries of a matrix.

    Raises
    ------
    ValueError
        If there are not two or three grids, or sizes do not rise from one to the next.
    """
    f, h = np.asarray(values, dtype=float), np.asarray(sizes, dtype=float)
    if f.shape != h.shape or f.size not in (2, 3):
        raise ValueError(f"{f.size} values on {h.size} grids; give two or three of each")
    if not (h[0] > 0.0 and (np.diff(h) > 0.0).all()):
        raise ValueError(f"cell sizes {h.tolist()}: the finest grid comes first, and none twice")
    three = f.size == 3
    order = _observed_order(f, h) if three else theoretical_order
    limit = _extrapolated(f, h, order)
    size = abs(f[0]) if scale is None else scale
    safety = SAFETY_OF_THREE if three else SAFETY_OF_TWO
    return GridConvergence(
        values=tuple(f.tolist()),
        sizes=tuple(h.tolist()),
        order=order,
        theoretical_order=theoretical_order,
        extrapolated=limit,
        approximate_error=_share(f[1] - f[0], size),
        extrapolated_error=_share(limit - f[0], abs(limit) if scale is None else scale),
        index=safety * _share(limit - f[0], size),
        oscillatory=three and (f[2] - f[1]) * (f[1] - f[0]) < 0.0,
        doubt=_doubt(f, h, order, theoretical_order) if three else "",
        safety=safety,
    )


def _observed_order(f: Array, h: Array) -> float:
    """Order by the equation at the head of the module; NaN where it has no solution."""
    fine, coarse = f[1] - f[0], f[2] - f[1]
    if fine == 0.0 or coarse == 0.0:
        return np.nan

    def miss(order: float) -> float:
        return float(order * np.log(h[1] / h[0]) - abs(_growth(f, h, order)))

    if miss(_ORDERS[0]) * miss(_ORDERS[1]) > 0.0:
        return np.nan
    return float(brentq(miss, *_ORDERS, xtol=1e-14, rtol=1e-14))


def _growth(f: Array, h: Array, order: float) -> float:
    """``ln|ε_32/ε_21| + ln((r_21^p − s)/(r_32^p − s))``; negative where differences grow."""
    ratio = (f[2] - f[1]) / (f[1] - f[0])
    sign, logs = np.sign(ratio), order * np.log(h[1:] / h[:-1])
    # expm1 keeps the digits where orders or ratios are small
    parts = np.expm1(logs) if sign > 0 else np.exp(logs) + 1.0
    return float(np.log(abs(ratio)) + np.log(parts[0]) - np.log(parts[1]))


def _extrapolated(f: Sequence[float] | Array, h: Sequence[float] | Array, order: float) -> float:
    return float(f[0] - (f[1] - f[0]) / np.expm1(order * np.log(h[1] / h[0])))


def _share(difference: float, scale: float) -> float:
    if difference == 0.0:
        return 0.0
    return float(abs(difference) / scale) if scale else np.inf


def _doubt(f: Array, h: Array, order: float, theory: float) -> str:
    if np.ptp(f) <= _ROUNDING * np.abs(f).max():
        return "the grids differ by rounding only"
    if np.isnan(order):
        return "no order explains the differences"
    if (f[2] - f[1]) * (f[1] - f[0]) < 0.0:
        return "the values swing from grid to grid"
    if _growth(f, h, order) < 0.0:
        return "the differences do not shrink"
    if order < LEAST_ORDER:
        return f"the order, {order:.2f}, is below {LEAST_ORDER:g}"
    if order > theory + _ABOVE_THEORY:
        return f"the order, {order:.2f}, is more than {_ABOVE_THEORY:g} above {theory:g}"
    return ""
