"""Activations of many wires at once, each with a wish of its own: an offset, a couple or a force.

Offset over load changes slowly with the load. From that of a straight wire between immovable units,
which is never too long, a secant in this ratio homes in on all wires together, a batch a step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.batch import solve_batch
from fem.batch_activation import couples_Nmm, failed_batch, forces_N, with_rows
from fem.batch_result import BatchResult
from fem.cantilever_design import Cantilever
from fem.closed_form import TwoPointCantilever
from workflow.specs import Spec

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

OFFSET, COUPLE, FORCE = "offset_mm", "couple_Nmm", "force_N"

_CLOSE = 1e-10  # of the wish
_MOST_STEPS = 25
_MOST_SHARE = 1.0  # of the span: largest activation tried, as for a single case
_LONGEST_STEP = 1.6  # times the activation so far


@dataclass(frozen=True)
class Wish:
    """What one wire is activated for.

    Attributes
    ----------
    kind
        ``offset_mm``, ``couple_Nmm`` or ``force_N``.
    value
        How much of it.
    """

    kind: str
    value: float

    @classmethod
    def of(cls, case: Spec) -> Wish:
        """Wish of a resolved case."""
        activation = case["wire"]["activation"]
        kind = next(k for k in (OFFSET, COUPLE, FORCE) if activation[k] is not None)
        return cls(kind, float(activation[kind]))


@dataclass(frozen=True)
class _Search:
    """Wires whose offsets are sought: their numbers, and two last tries of each."""

    numbers: Ints
    offsets: Array
    loads: Array
    ratios: Array

    def take(self, kept: Flags) -> _Search:
        return _Search(self.numbers[kept], self.offsets[kept], self.loads[kept], self.ratios[kept])


def solve_for_wishes(
    cantilevers: Sequence[Cantilever], wishes: Sequence[Wish]
) -> tuple[Array, BatchResult]:
    """Engage wires as each is wished for.

    Returns
    -------
    offsets_mm
        (n,), NaN where no activation up to the span gives what is wished.
    result
        The engaged wires; failed there, with the reason.
    """
    kinds = np.array([wish.kind for wish in wishes])
    values = np.array([wish.value for wish in wishes])
    given = kinds == OFFSET
    offsets = np.where(given, values, list(map(_first_offset, cantilevers, wishes)))
    spans = np.array([cantilever.sites.span_mm for cantilever in cantilevers])
    reach = _MOST_SHARE * spans
    offsets = np.where(given, offsets, np.minimum(offsets, reach))
    result = failed_batch(len(wishes), "")
    none = np.full(len(wishes), np.nan)
    at = _Search(np.arange(len(wishes)), offsets, none, none)
    for step in range(_MOST_STEPS):
        some = [cantilevers[k] for k in at.numbers]
        part = solve_batch(some, at.offsets)
        result = with_rows(result, at.numbers, part)
        loads = np.where(kinds[at.numbers] == FORCE, forces_N(part), couples_Nmm(some, part))
        wanted = values[at.numbers]
        left = ~given[at.numbers] & part.converged & ~(np.abs(loads / wanted - 1) < _CLOSE)
        beyond = left & (at.offsets >= reach[at.numbers]) & (loads < wanted)
        lost = beyond | (left & (step == _MOST_STEPS - 1))
        result = _with_lost(result, at.numbers[lost], wishes)
        offsets[at.numbers[lost]] = np.nan
        left &= ~lost
        if not left.any():
            break
        at = _next(at, loads, wanted, reach[at.numbers]).take(left)
        offsets[at.numbers] = at.offsets
    return np.where(result.converged, offsets, np.nan), result


def _first_offset(cantilever: Cantilever, wish: Wish) -> float:
    """Offset of a straight wire in small bending between immovable units, mm."""
    design, sites = cantilever.wire, cantilever.sites
    simple = TwoPointCantilever(design.section, design.material, sites.span_mm, sites.base_mm)
    force = wish.value if wish.kind == FORCE else wish.value / simple.couple_Nmm(1.0)
    return force / simple.stiffness_N_per_mm


def _next(at: _Search, loads: Array, wanted: Array, reach: Array) -> _Search:
    """Next offsets, by the line through the ratios of the last two tries."""
    ratios = at.offsets / loads
    apart = loads - at.loads
    first = ~np.isfinite(apart) | (np.abs(apart) < 1e-14 * wanted)
    slope = np.where(first, 0.0, (ratios - at.ratios) / np.where(first, 1.0, apart))
    ratio = ratios + slope * (wanted - loads)
    bounded = np.clip(ratio * wanted, at.offsets / _LONGEST_STEP, at.offsets * _LONGEST_STEP)
    return _Search(at.numbers, np.minimum(bounded, reach), loads, ratios)


def _with_lost(result: BatchResult, lost: Ints, wishes: Sequence[Wish]) -> BatchResult:
    for kind, name in ((COUPLE, "couple"), (FORCE, "force")):
        rows = np.array([k for k in lost if wishes[k].kind == kind], dtype=np.int64)
        if len(rows):
            reason = f"no activation up to the span gives the {name}"
            result = with_rows(result, rows, failed_batch(len(rows), reason))
    return result
