"""Resolved cases to answers: in batches where a batch can solve the wire, else one by one.

A batch solves wires hooked over a bar or tied, without play or friction, between two units, elastic
throughout (`fem.batch`). Everything else is engaged as a case is (`workflow.equilibrium`), followed
past its elastic limit where the case says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.batch_activation import couples_Nmm, forces_N, rates_N_per_mm
from fem.batch_result import BatchResult
from fem.batch_stress import peak_stresses_MPa
from fem.cantilever_arrays import MOUTHS
from fem.cantilever_design import Cantilever
from fem.engage import Engaged, engage
from fem.rigid import shift_wrench
from workflow.batch_answers import (
    PAST_PLATEAU,
    PAST_YIELD,
    hydrostatic_kPa,
    past_limit,
    tooth_motions,
)
from workflow.case_units import CaseUnits
from workflow.equilibrium import case_cantilever, case_setup, engage_case, equilibrium_record
from workflow.plan import cantilever_sites
from workflow.specs import Spec
from workflow.sweep_activation import Wish, solve_for_wishes
from workflow.sweep_answer import Answer, Moved
from workflow.sweep_responses import LIGAMENT, RATE, WIRE
from workflow.sweep_units import Supports

Array = NDArray[np.float64]

FOLLOWED = "followed past its elastic limit"
REMARKS = (PAST_YIELD, PAST_PLATEAU, FOLLOWED)  # notes of runs that were solved
_BATCH_CONTACTS = ("bar", "tied")
_LET_BACK = 0.05  # of the activation: over which the rate is taken, as in a batch


@dataclass(frozen=True)
class _Job:
    """A case, its units and its answer so far."""

    case: Spec
    units: CaseUnits
    answer: Answer


def in_batch(case: Spec) -> bool:
    """Whether a batch can solve the wire of a case."""
    return (
        case["one_point"]["contact"] in _BATCH_CONTACTS
        and not case["one_point"]["friction"]
        and case["two_point"]["slot"] is None
        and not case["further"]
        and not case["mirror_image"]
    )


def solve_cases(cases: Sequence[Spec], supports: Supports, needs: frozenset[str]) -> list[Answer]:
    """Answers of cases, in their order; what fails has its reason as note.

    Parameters
    ----------
    cases
        Resolved cases.
    supports
        The supports of their teeth.
    needs
        What has to be computed; see `workflow.sweep_responses`.
    """
    jobs = [_job(case, supports) for case in cases]
    if WIRE in needs:
        batch = [k for k, case in enumerate(cases) if in_batch(case)]
        solved = _in_batches([jobs[k] for k in batch], RATE in needs)
        for k, answer in zip(batch, solved, strict=True):
            jobs[k] = replace(jobs[k], answer=answer)
        for k in sorted(set(range(len(cases))) - set(batch)):
            jobs[k] = replace(jobs[k], answer=_alone(jobs[k], RATE in needs))
    answers = [job.answer for job in jobs]
    return _with_ligaments(jobs, supports) if LIGAMENT in needs else answers


def _job(case: Spec, supports: Supports) -> _Job:
    records = {tooth: supports.record(name) for tooth, name in supports.ids(case).items()}
    return _Job(case, supports.units(case), Answer(case, records))


def _in_batches(jobs: Sequence[_Job], rates: bool) -> list[Answer]:
    if not jobs:
        return []
    wires = [case_cantilever(job.case, job.units) for job in jobs]
    offsets, result = solve_for_wishes(wires, [Wish.of(job.case) for job in jobs])
    strength = [job.case["wire"]["alloy"]["yield_strength_MPa"] for job in jobs]
    columns = {
        "force_N": forces_N(result),
        "couple_Nmm": couples_Nmm(wires, result),
        "yield_ratio": peak_stresses_MPa(wires, result) / np.array(strength),
        "offset_mm": offsets,
        "span_mm": np.array([wire.sites.span_mm for wire in wires]),
    }
    past, meaningless = past_limit(_alloys(jobs), columns["yield_ratio"])
    if rates:
        usable = np.flatnonzero(result.converged & ~meaningless)
        columns["rate_N_per_mm"] = _rates(wires, offsets, columns["force_N"], usable)
    notes = np.array(result.reasons, dtype=object)
    notes[past], notes[meaningless] = PAST_YIELD, PAST_PLATEAU
    answers = []
    for k, job in enumerate(jobs):
        wire = {name: float(values[k]) for name, values in columns.items()}
        units = {} if meaningless[k] or not result.converged[k] else _moved(job.units, result, k)
        if meaningless[k]:
            kept = ("yield_ratio", "offset_mm", "span_mm")
            wire = {name: wire[name] for name in kept}
        elif not result.converged[k]:
            wire = {"span_mm": wire["span_mm"]}
        answers.append(replace(job.answer, wire=wire, units=units, note=str(notes[k])))
    return answers


def _alloys(jobs: Sequence[_Job]) -> list[str]:
    return [job.case["wire"]["alloy"]["name"] for job in jobs]


def _rates(
    wires: Sequence[Cantilever], offsets: Array, forces: Array, usable: NDArray[np.int64]
) -> Array:
    rates = np.full(len(wires), np.nan)
    if len(usable):
        some = [wires[k] for k in usable]
        rates[usable] = rates_N_per_mm(some, offsets[usable], forces[usable])
    return rates


def _moved(units: CaseUnits, result: BatchResult, row: int) -> dict[str, Moved]:
    """Load and motion of both units of one design of a batch."""
    points, loads = result.points[row], result.loads[row]
    places = (points[MOUTHS[0]], points[MOUTHS[1]], points[-1])
    moved = {}
    for index, touching in ((0, (0, 1)), (1, (2,))):
        name = units.in_order[index]
        unit = units.supports[name]
        wrench = sum(shift_wrench(loads[k], places[k], unit.centre.point) for k in touching)
        moved[name] = Moved(np.asarray(wrench), result.motions[row, index], unit.axes)
    return moved


def _alone(job: _Job, rate: bool) -> Answer:
    """Engage one case as the workflow does."""
    try:
        engaged = engage_case(job.case, job.units)
        record = equilibrium_record(job.case, job.units, engaged)
        wire = _wire_alone(job, engaged, record, rate)
    except (ValueError, RuntimeError) as error:
        span = float(cantilever_sites(job.case).span_mm)
        return replace(job.answer, wire={"span_mm": span}, note=str(error))
    note = ""
    if engaged.past_limit is not None:
        note = FOLLOWED
    elif wire["yield_ratio"] > 1:
        superelastic = past_limit(_alloys([job]), np.array([wire["yield_ratio"]]))[1]
        note = PAST_PLATEAU if superelastic[0] else PAST_YIELD
    units = {}
    for name in (job.units.two_point, job.units.one_point):
        own = record["units"][name]
        wrench, motion = (np.asarray(own[k]) for k in ("wrench_at_centre", "motion_at_centre"))
        units[name] = Moved(wrench, motion, job.units.supports[name].axes)
    return replace(job.answer, wire=wire, units=units, note=note)


def _wire_alone(job: _Job, engaged: Engaged, record: Any, rate: bool) -> dict[str, float]:
    wire = {
        "force_N": engaged.force_N,
        "couple_Nmm": engaged.couple_Nmm(cantilever_sites(job.case).tube_middle),
        "yield_ratio": float(record["wire"]["yield_ratio"]),
        "offset_mm": float(engaged.solved.offset_mm),
        "span_mm": float(record["span_mm"]),
    }
    if rate:
        wire["rate_N_per_mm"] = _rate_alone(job, wire["offset_mm"], wire["force_N"])
    return wire


def _rate_alone(job: _Job, offset_mm: float, force_N: float) -> float:
    """Slope of force over activation of the wire as bent, by a second solution."""
    setup, step = case_setup(job.case, job.units), _LET_BACK * offset_mm
    sites = setup.cantilever.sites.moved_hook(-step * setup.cantilever.sites.activation)
    near = replace(setup, cantilever=replace(setup.cantilever, sites=sites))
    return (force_N - engage(near, offset_mm - step).force_N) / step


def _with_ligaments(jobs: Sequence[_Job], supports: Supports) -> list[Answer]:
    """Percentiles of the ligaments of both units, all runs that share a tooth's basis at once."""
    motions: dict[str, list[tuple[int, str, Array]]] = {}
    for row, job in enumerate(jobs):
        ids, factor = supports.ids(job.case), supports.factor(job.case)
        for name, moved in job.answer.units.items():
            unit = job.units.supports[name]
            for tooth in unit.teeth:
                own = factor * tooth_motions(unit, moved.motion[None], tooth)[0]
                motions.setdefault(ids[tooth.number], []).append((row, name, own))
    found: dict[tuple[int, str], list[Array]] = {}
    for support, entries in motions.items():
        both = hydrostatic_kPa(
            supports.file(support, "stress_basis.npz"), np.array([own for _, _, own in entries])
        )
        for (row, name, _), pair in zip(entries, both, strict=True):
            found.setdefault((row, name), []).append(pair)
    return [
        replace(job.answer, units=_stressed(job.answer, row, found)) for row, job in enumerate(jobs)
    ]


def _stressed(
    answer: Answer, row: int, found: dict[tuple[int, str], list[Array]]
) -> dict[str, Moved]:
    units = {}
    for name, moved in answer.units.items():
        pairs = np.array(found[row, name])
        pair = float(pairs[:, 0].min()), float(pairs[:, 1].max())
        units[name] = replace(moved, hydrostatic_kPa=pair)
    return units
