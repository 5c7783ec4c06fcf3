"""The grid convergence index itself, against published examples and made-up orders."""

from __future__ import annotations

import numpy as np

from fem.grid_convergence import GridConvergence, grid_convergence
from workflow.verification.check import Check, Compared, Kind

# Values fine to coarse, ratios r21 and r32; order and extrapolated value as published.
_CELIK = {
    "6.063, 5.972, 5.863": ((1.5, 4 / 3), (1.53, 6.1685)),
    "10.7880, 10.7250, 10.6050": ((2.0, 2.143), (0.75, 10.8801)),
    "6.0042, 5.9624, 6.0909": ((2.0, 2.143), (1.51, 6.0269)),
}
# Approximate and extrapolated error and index of the same rows, percent, worked out by hand.
_ERRORS = ((1.501, 1.710, 2.175), (0.584, 0.847, 1.067), (0.696, 0.376, 0.472))
_NPARC = (0.97050, 0.96854, 0.96178)
_ORDERS = (1.0, 2.0, 3.0, 4.0)
_SIZES = (1.0, 1.3, 2.21)
_CODE = "fem.grid_convergence.grid_convergence"


def _celik() -> dict[str, GridConvergence]:
    found = {}
    for text, ((fine, coarse), _) in _CELIK.items():
        values = [float(value) for value in text.split(",")]
        found[text] = grid_convergence(values, (1.0, fine, fine * coarse), 2.0)
    return found


def _celik_column(number: int) -> list[float]:
    return [published[number] for _, published in _CELIK.values()]


def _celik_order() -> Compared:
    found = _celik()
    return Compared(
        [row.order for row in found.values()],
        _celik_column(0),
        1.0,
        list(found),
        "The third row swings; its order is found, and said not to be trusted.",
    )


def _celik_extrapolated() -> Compared:
    found = _celik()
    computed = [row.extrapolated for row in found.values()]
    return Compared(computed, _celik_column(1), 1.0, list(found))


def _celik_errors() -> Compared:
    found = _celik()
    names = ("approximate_error", "extrapolated_error", "index")
    computed = [[100 * getattr(row, name) for name in names] for row in found.values()]
    labels = [f"{name.replace('_', ' ')} of {row}" for row in found for name in names]
    note = (
        "Printed with one decimal: 1.5, 1.7, 2.2; 0.6, 0.9, 1.1; 0.7, 0.4, 0.5. The 0.9 is 0.847 "
        "by the formula printed beside it."
    )
    return Compared(computed, _ERRORS, 1.0, labels, note)


def _nparc() -> Compared:
    found = grid_convergence(_NPARC, (1.0, 2.0, 4.0), 2.0)
    medium = found.bounds[1] / found.values[1]
    ratio = medium / (2**found.order * found.index)
    return Compared(
        [found.order, found.extrapolated, 100 * found.index, 100 * medium, ratio],
        [1.786170, 0.971300, 0.103083, 0.356249, 1.002024],
        labels=[
            "order",
            "extrapolated value",
            "index of the fine grid, %",
            "index of the medium grid, %",
            "ratio of the two over r^p",
        ],
    )


def _manufactured() -> Compared:
    """``f = 1 + 0.3 h^p``, and the same with alternating signs for the order alone."""
    computed, reference, labels = [], [], []
    for order in _ORDERS:
        plain = [1 + 0.3 * h**order for h in _SIZES]
        found = grid_convergence(plain, _SIZES, order)
        swinging = [1 + 0.3 * sign * h**order for sign, h in zip((1, -1, 1), _SIZES, strict=True)]
        computed += [found.order, found.extrapolated]
        computed.append(grid_convergence(swinging, _SIZES, order).order)
        reference += [order, 1.0, order]
        labels += [
            f"{name}, p = {order:g}" for name in ("order", "extrapolated", "order, alternating")
        ]
    return Compared(computed, reference, 1.0, labels)


def _doubts() -> Compared:
    """How many of four hopeless rows are doubted, and that their bound holds all values."""
    rows = {
        "swinging": (1.0, 1.1, 0.9),
        "growing": (1.0, 1.2, 1.25),
        "too slow": (1.0, 1.1, 1.21),
        "too fast": (1.0, 1.01, 1.044),
    }
    found = [grid_convergence(row, (1.0, 1.5, 2.25), 2.0) for row in rows.values()]
    computed = [float(bool(row.doubt) and row.bounds.min() >= np.ptp(row.values)) for row in found]
    return Compared(computed, 1.0, labels=list(rows))


INDEX_CHECKS = (
    Check(
        id="grid_index_order",
        what="observed order of three published rows, one of them oscillatory",
        code=_CODE,
        kind=Kind.CODE,
        source="celik",
        place="table of sample calculations, row p",
        tolerance=0.005,
        reason="printed with two decimals",
        compute=_celik_order,
    ),
    Check(
        id="grid_index_extrapolated",
        what="extrapolated value of the same rows",
        code=_CODE,
        kind=Kind.CODE,
        source="celik",
        place="table of sample calculations, row of the extrapolated value",
        tolerance=5e-5,
        reason="printed with four decimals",
        compute=_celik_extrapolated,
    ),
    Check(
        id="grid_index_errors",
        what="approximate error, extrapolated error and index of the same rows, percent",
        code=_CODE,
        kind=Kind.CODE,
        source="celik",
        place="table of sample calculations, last three rows",
        tolerance=5e-4,
        reason="worked out to three decimals",
        compute=_celik_errors,
    ),
    Check(
        id="grid_index_nparc",
        what="order, extrapolated value and indices of the pressure recovery of an inlet",
        code=f"{_CODE}, fem.grid_convergence.GridConvergence.bounds",
        kind=Kind.CODE,
        source="roache_nparc",
        place="worked example, three grids, r = 2",
        tolerance=6e-6,
        reason="printed with six decimals",
        compute=_nparc,
    ),
    Check(
        id="grid_index_manufactured",
        what="order and limit of f = 1 + 0.3 h^p, p of 1 to 4, unequal ratios",
        code=_CODE,
        kind=Kind.CODE,
        source="mms",
        place="values made from the law that the index assumes",
        tolerance=1e-10,
        reason="only rounding is left",
        compute=_manufactured,
    ),
    Check(
        id="grid_index_doubts",
        what="rows without an order to trust are doubted, and bounded by their spread (1 is yes)",
        code=f"{_CODE}, fem.grid_convergence.GridConvergence.bounds",
        kind=Kind.CODE,
        source="celik",
        place="conditions under which the index says nothing",
        tolerance=0.0,
        reason="yes or no",
        compute=_doubts,
    ),
)
