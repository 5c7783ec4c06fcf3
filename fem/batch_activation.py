"""Activations of many wires at once: those that give wanted couples, and how far they act."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np
from numpy.typing import NDArray

from fem.batch import solve_batch
from fem.batch_result import BatchResult
from fem.cantilever import TUBE_PIECES
from fem.cantilever_design import Cantilever
from fem.closed_form import TwoPointCantilever

Array = NDArray[np.float64]

OUT_OF_REACH = "no activation up to half the span gives the couple"

_MOST_SHARE = 0.5  # of the span: largest activation tried
_FAR_OFF = 1.5  # times that by linear theory: not tried, as loops only make a wire softer
_LET_BACK = 0.05  # of the activation: over which the rate is taken
_ALIKE = 1e-9
_CLOSE = 5e-4  # of the couple
_CORRECTIONS = 2


def couples_Nmm(cantilevers: Sequence[Cantilever], result: BatchResult) -> Array:
    """Size of the moment on each two-point unit about the middle of its attachment, (n,)."""
    middles = np.array([cantilever.sites.tube_middle for cantilever in cantilevers])
    return np.asarray(np.linalg.norm(result.couples_on_tube_Nmm(middles), axis=1))


def forces_N(result: BatchResult) -> Array:
    """Size of the force on each one-point unit, and so on each two-point unit, (n,)."""
    return np.asarray(np.linalg.norm(result.forces_on_hook_N, axis=1))


def solve_for_couples(
    wires: Sequence[Cantilever], wanted_Nmm: Array, *, processes: int = 1
) -> tuple[Array, BatchResult]:
    """Engage every wire at each of some couples on its two-point unit.

    Offset over couple changes slowly with the couple: it is taken near the middle couple, from
    there near the lowest and the highest, and a parabola put through. What then misses its couple
    by more than 5e-4 is brought nearer, twice at most. A wire is bent anew for every offset, so
    each of these costs a solution.

    Parameters
    ----------
    wires
        The wires.
    wanted_Nmm
        The couples, (couples,), rising.
    processes
        As for `fem.batch.solve_batch`.

    Returns
    -------
    offsets_mm
        (wires × couples,), the couples of a wire in a row; NaN where none was found within half
        the span.
    result
        The engaged designs in the same order; failed where no offset was found.
    """
    wanted = np.asarray(wanted_Nmm, dtype=float)
    offsets = _first_offsets(wires, wanted, processes).ravel()
    many = [wire for wire in wires for _ in wanted]
    aims = np.tile(wanted, len(wires))
    chosen = np.flatnonzero(np.isfinite(offsets))
    reach = _reach_mm(many)
    result = failed_batch(len(many), OUT_OF_REACH)
    for left in range(_CORRECTIONS, -1, -1):
        if len(chosen) == 0:
            break
        some = [many[k] for k in chosen]
        part = solve_batch(some, offsets[chosen], processes=processes)
        result = with_rows(result, chosen, part)
        ratio = aims[chosen] / couples_Nmm(some, part)
        off = np.abs(ratio - 1) > _CLOSE
        again = off & (offsets[chosen] * ratio <= reach[chosen]) & (left > 0)
        lost = chosen[off & ~again]
        result = with_rows(result, lost, failed_batch(len(lost), OUT_OF_REACH))
        offsets[chosen[again]] *= ratio[again]
        chosen = chosen[again]
    return np.where(result.converged, offsets, np.nan), result


def _reach_mm(wires: Sequence[Cantilever]) -> Array:
    return _MOST_SHARE * np.array([wire.sites.span_mm for wire in wires])


def _first_offsets(wires: Sequence[Cantilever], wanted: Array, processes: int) -> Array:
    """Offsets by the parabola, (wires, couples), mm; NaN out of reach."""
    reach, straight = _reach_mm(wires), np.array([_straight_ratio(wire) for wire in wires])
    straight[straight * wanted[0] > _FAR_OFF * reach] = np.nan
    middle = 0.5 * (wanted[0] + wanted[-1])
    first = _ratio_at(wires, np.minimum(straight * middle, reach), processes)
    ends = np.unique(wanted[[0, -1]])
    aimed = np.minimum(first[1][:, None] * ends, reach[:, None])
    both = _ratio_at([w for w in wires for _ in ends], aimed.ravel(), processes)
    couples, ratios = (values.reshape(aimed.shape).T for values in both)
    tried = [first, *zip(couples, ratios, strict=True)]
    offsets = _through(tried, wanted) * wanted
    return np.where((offsets > 0) & (offsets <= reach[:, None]), offsets, np.nan)


def _straight_ratio(wire: Cantilever) -> float:
    """Offset over couple of a straight wire in small bending, immovable units, 1/N."""
    design, sites = wire.wire, wire.sites
    simple = TwoPointCantilever(design.section, design.material, sites.span_mm, sites.base_mm)
    return 1 / simple.couple_Nmm(simple.stiffness_N_per_mm)


def _ratio_at(
    wires: Sequence[Cantilever], offsets_mm: Array, processes: int
) -> tuple[Array, Array]:
    """Couples at some offsets, and offset over couple, (wires,) each."""
    usable = np.flatnonzero(np.isfinite(offsets_mm) & (offsets_mm > 0))
    couples = np.full(len(wires), np.nan)
    if len(usable):
        some = [wires[int(k)] for k in usable]
        couples[usable] = couples_Nmm(
            some, solve_batch(some, offsets_mm[usable], processes=processes)
        )
    return couples, offsets_mm / couples


def _through(tried: Sequence[tuple[Array, Array]], wanted: Array) -> Array:
    """Offset over couple at wanted couples, by Newton's divided differences, (wires, couples)."""
    couples = [c for c, _ in tried]
    differences = [ratio for _, ratio in tried]
    value = np.repeat(differences[0][:, None], len(wanted), axis=1)
    product = np.ones_like(value)
    for order in range(1, len(tried)):
        for k in range(len(tried) - 1, order - 1, -1):
            apart = couples[k] - couples[k - order]
            alike = np.abs(apart) < _ALIKE * couples[0]
            change = (differences[k] - differences[k - 1]) / np.where(alike, 1.0, apart)
            differences[k] = np.where(alike, 0.0, change)
        product = product * (wanted - couples[order - 1][:, None])
        value = value + differences[order][:, None] * product
    return value


def rates_N_per_mm(
    cantilevers: Sequence[Cantilever], offsets_mm: Array, force_N: Array, *, processes: int = 1
) -> Array:
    """Slope of force over activation of each wire as it was bent, (n,).

    From a second solution of the same passive wire, its hook brought nearer to the wire's passive
    end by a twentieth of the activation.

    Parameters
    ----------
    cantilevers, offsets_mm
        The designs and their activations, (n,).
    force_N
        Size of the force at full activation, (n,).
    processes
        As for `fem.batch.solve_batch`.
    """
    steps = _LET_BACK * np.asarray(offsets_mm, dtype=float)
    near = []
    for cantilever, step in zip(cantilevers, steps, strict=True):
        sites = cantilever.sites
        moved = replace(sites, hook=sites.hook - step * sites.activation)
        near.append(replace(cantilever, sites=moved))
    less = solve_batch(near, np.asarray(offsets_mm) - steps, processes=processes)
    return np.asarray((force_N - forces_N(less)) / steps)


def failed_batch(n: int, reason: str) -> BatchResult:
    """Designs none of which is solved."""

    def none(*shape: int) -> Array:
        return np.full((n, *shape), np.nan)

    nodes = 1 + TUBE_PIECES
    return BatchResult(
        points=none(nodes, 3),
        axes=none(nodes, 3, 3),
        motions=none(2, 6),
        loads=none(3, 6),
        extra_mm=none(),
        residual_N=none(),
        converged=np.zeros(n, dtype=bool),
        reasons=(reason,) * n,
    )


def with_rows(result: BatchResult, rows: NDArray[np.int64], part: BatchResult) -> BatchResult:
    """A batch with some of its designs replaced by those of another."""
    nodes = max(result.points.shape[1], part.points.shape[1])
    result, part = result.with_nodes(nodes), part.with_nodes(nodes)
    arrays = {}
    for name in (f.name for f in fields(BatchResult) if f.name != "reasons"):
        arrays[name] = getattr(result, name).copy()
        arrays[name][rows] = getattr(part, name)
    reasons = list(result.reasons)
    for row, reason in zip(rows, part.reasons, strict=True):
        reasons[int(row)] = reason
    return BatchResult(**arrays, reasons=tuple(reasons))
