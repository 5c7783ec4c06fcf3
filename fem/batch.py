"""Thousands of cantilevers at once: the equations of `fem.appliance`, solved for all together.

Every design goes its own way from passive to engaged, in steps that are halved where Newton's
method fails, and leaves when it has arrived and is proved to balance (`fem.batch_result`). Same
answer as `fem.cantilever.solve_for_offset`, with the slide of a tied wire found along with
the rest. Valid for elastic wires, linear supports and two-sided contacts without friction.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields, replace
from itertools import repeat

import numpy as np
from numpy.typing import NDArray

from fem.appliance_system import no_equilibrium
from fem.batch_result import Answers, BatchResult
from fem.cantilever import TUBE_PIECES
from fem.cantilever_arrays import (
    Designs,
    arrange,
    passive_unknowns,
    select,
    take,
)
from fem.cantilever_design import Cantilever
from fem.cantilever_equations import Engaged, engage, equations

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

_CHUNK = 1000  # designs whose arrays stay in the processor's cache
_MAX_NEWTON = 30
_LARGEST_UPDATE_MM = 5.0  # in one Newton step; more means the step of τ was too long
_LARGEST_UPDATE_RAD = 1.0
_LONGEST_TURN_RAD = 1.0
_SMALLEST_STEP = 1e-3
_ON_THE_WAY_MM = 0.05  # open gap at which a step is good enough to start the next from
_ARRIVED_MM = 1e-11  # largest value left of an equation, or change of a twist (mm, rad)


def solve_batch(
    cantilevers: Sequence[Cantilever],
    offsets_mm: Array,
    *,
    steps: int = 2,
    processes: int = 1,
) -> BatchResult:
    """Engage cantilevers whose passive ends lie given distances off their hooks.

    Parameters
    ----------
    cantilevers
        Any mix of spans, loops, sections, alloys, supports and contacts. Each costs as much as
        the one of its thousand with the most rod elements.
    offsets_mm
        Distance between each passive wire's end and its hook along the activation, (n,).
    steps
        Number of equal steps from passive to engaged; a step that fails is halved.
    processes
        Number of processes the designs are dealt out to.

    Raises
    ------
    ValueError
        If there is no design, or not one offset a design. A design that cannot be
        bent or finds no equilibrium raises nothing: see `reasons`.
    """
    offsets = np.asarray(offsets_mm, dtype=float)
    if len(cantilevers) == 0 or offsets.shape != (len(cantilevers),):
        raise ValueError(f"{len(cantilevers)} cantilevers and offsets_mm of shape {offsets.shape}")
    cuts = range(0, len(offsets), _CHUNK)
    parts = [cantilevers[k : k + _CHUNK] for k in cuts], [offsets[k : k + _CHUNK] for k in cuts]
    if processes == 1 or len(cuts) == 1:
        return _joined([_solve(*part, steps) for part in zip(*parts, strict=True)])
    with ProcessPoolExecutor(processes) as pool:
        return _joined(list(pool.map(_solve, *parts, repeat(steps))))


def _joined(parts: Sequence[BatchResult]) -> BatchResult:
    nodes = max(part.points.shape[1] for part in parts)
    parts = [part.with_nodes(nodes) for part in parts]
    arrays = {
        field.name: np.concatenate([getattr(part, field.name) for part in parts])
        for field in fields(BatchResult)
        if field.name != "reasons"
    }
    return BatchResult(**arrays, reasons=tuple(r for part in parts for r in part.reasons))


def _solve(cantilevers: Sequence[Cantilever], offsets_mm: Array, steps: int) -> BatchResult:
    """One chunk."""
    result = Answers(len(cantilevers))
    designs, numbers, unbent = arrange(cantilevers, offsets_mm)
    result.reasons.update(unbent)
    if designs is not None:
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            _engage_all(designs, numbers, steps, result)
    return result.packed(designs.n_nodes if designs is not None else 1 + TUBE_PIECES)


@dataclass(frozen=True)
class _Way:
    """How far each design came: activation reached, next step, tries at it, (n,) each."""

    numbers: Ints
    reached: Array
    step: Array
    tries: Ints

    @property
    def target(self) -> Array:
        """Activation now sought."""
        return np.minimum(1.0, self.reached + self.step)


def _engage_all(designs: Designs, numbers: Ints, steps: int, answers: Answers) -> None:
    """Newton's method on all designs that are still on their way."""
    n = len(numbers)
    way = _Way(numbers, np.zeros(n), np.full(n, 1 / steps), np.zeros(n, dtype=np.int64))
    at = saved = passive_unknowns(designs)
    while len(way.numbers):
        wire = engage(designs, at)
        target = way.target
        values, derivatives = equations(designs, at, wire, target)
        at = replace(at, twists=wire.twists)
        gap = np.maximum(np.abs(values).max(axis=0), wire.change)
        there: Flags = (target == 1.0) & (gap < _ARRIVED_MM)
        next_step = (target < 1.0) & (gap < _ON_THE_WAY_MM) & (way.tries > 0)
        if there.any():
            answers.arrived(way.numbers[there], *take((designs, at, wire), there))
        saved = select(next_step, at, saved)
        way = replace(way, reached=np.where(next_step, target, way.reached))
        values[:3] += (way.target - target) * designs.gap
        delta = _newton_step(derivatives, values)
        failed = ~there & _astray(delta, wire, way.tries)
        at = select(failed, saved, at.moved(np.where(failed, 0.0, delta)))
        way = replace(
            way,
            step=np.where(failed, way.step / 2, way.step),
            tries=np.where(failed | next_step, 0, way.tries + 1),
        )
        stuck: Flags = failed & np.less(way.step, _SMALLEST_STEP)
        for number, reached in zip(way.numbers[stuck], way.reached[stuck], strict=True):
            answers.reasons[int(number)] = no_equilibrium(float(reached))
        remaining: Flags = ~(there | stuck)
        if not remaining.all():
            designs, at, saved, way = take((designs, at, saved, way), remaining)


def _newton_step(derivatives: Array, values: Array) -> Array:
    """Steps (12, n); NaN where there is none."""
    matrices, right = np.moveaxis(derivatives, -1, 0), -values.T[..., None]
    usable = np.asarray(np.isfinite(derivatives).all(axis=(0, 1)) & np.isfinite(values).all(axis=0))
    matrices = np.where(usable[:, None, None], matrices, np.eye(matrices.shape[-1]))
    right = np.where(usable[:, None, None], right, np.nan)
    try:
        solved = np.linalg.solve(matrices, right)
    except np.linalg.LinAlgError:  # one is exactly singular
        regular = np.linalg.matrix_rank(matrices) == matrices.shape[-1]
        solved = np.full_like(right, np.nan)
        solved[regular] = np.linalg.solve(matrices[regular], right[regular])
    return np.ascontiguousarray(solved[..., 0].T)


def _astray(delta: Array, wire: Engaged, tries: Ints) -> Flags:
    """Designs whose step of the activation was too long."""
    turn = np.linalg.norm(wire.twists[:, 3:], axis=1).max(axis=0)
    within = np.isfinite(delta).all(axis=0) & (turn < _LONGEST_TURN_RAD) & (tries < _MAX_NEWTON)
    within &= np.abs(delta[:3]).max(axis=0) < _LARGEST_UPDATE_MM
    within &= np.abs(delta[3:6]).max(axis=0) < _LARGEST_UPDATE_RAD
    return np.asarray(~within)
