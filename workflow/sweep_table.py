"""The table of a parameter study: one row a run, finished runs kept, missing ones computed.

Points of the design are dealt out in chunks. A chunk names its runs, leaves out those that are
finished and solves the others; what it found is stored before the next one is waited for.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass, replace
from math import nan
from pathlib import Path
from typing import TextIO

import pandas as pd

from workflow.digest import module_digest
from workflow.sweep_config import LoadedStudy
from workflow.sweep_design import design_points
from workflow.sweep_factor import Choice
from workflow.sweep_modulus import made_at_MPa
from workflow.sweep_responses import responses
from workflow.sweep_runs import Run, make_run
from workflow.sweep_solve import REMARKS, in_batch, solve_cases
from workflow.sweep_store import NOTE, RUN, SUPPORTS, RunStore
from workflow.sweep_units import Supports

_CHUNK, _CHUNK_ALONE = 1000, 25  # runs; a wire that no batch can solve takes up to a second
_TRIED = 20  # points looked at for the kind of wire

Point = tuple[Choice, ...]


@dataclass(frozen=True)
class Table:
    """The runs of a study.

    Attributes
    ----------
    rows
        ``run``, the factors, the responses and ``note``, in the order of the design.
    kept, computed, failed
        How many different runs were found finished, how many were computed, and how many rows
        were not solved.
    seconds
        Wall time.
    """

    rows: pd.DataFrame
    kept: int
    computed: int
    failed: int
    seconds: float

    @property
    def counts(self) -> str:
        """Its counts in one line."""
        return (
            f"{len(self.rows)} runs: {self.kept} kept, {self.computed} computed, "
            f"{self.failed} failed, in {self.seconds:.1f} s"
        )


@dataclass(frozen=True)
class _Work:
    """What a process needs to know of the study."""

    loaded: LoadedStudy
    supports: str
    finished: Mapping[str, frozenset[str]]
    at_MPa: float | None


def failures(rows: pd.DataFrame) -> pd.Series:
    """Which rows of a table were not solved; their note says why."""
    return ~rows[NOTE].isin(("", *REMARKS))


def computing_code() -> str:
    """Digest of the code that a run's numbers depend on."""
    return module_digest("workflow/sweep_solve.py") + module_digest("workflow/sweep_runs.py")


def study_table(
    loaded: LoadedStudy,
    supports: str | Path,
    store: Path,
    processes: int = 1,
    progress: TextIO | None = None,
) -> Table:
    """Compute what is missing of a study, and put its table together.

    Parameters
    ----------
    loaded
        The study.
    supports
        Folder of supports, each with ``support.json`` and ``stress_basis.npz``.
    store
        Folder of finished runs.
    processes
        Number of processes that chunks are dealt out to.
    progress
        Where to say how far it is and how long it will take, beside standard output.
    """
    started = time.perf_counter()
    study = loaded.study
    kept_store = RunStore(store, computing_code())
    finished = kept_store.finished(study.responses)
    known: dict[str, frozenset[str]] = {}
    for name, made in zip(finished[RUN], finished[SUPPORTS], strict=True):
        known[name] = known.get(name, frozenset()) | {made}
    points = design_points(study)
    chunks = _chunks(loaded, points)
    said = _Progress(len(points), progress)
    parts: dict[int, pd.DataFrame] = {}
    new: list[pd.DataFrame] = []
    work = _Work(loaded, str(supports), known, made_at_MPa(loaded))
    for number, keys, solved in _solved(work, chunks, processes):
        if len(solved):
            kept_store.add(solved)
            new.append(solved)
        parts[number] = keys
        said.more(len(keys), len(solved))
    keys = pd.concat([parts[k] for k in range(len(chunks))], ignore_index=True)
    rows = _joined(loaded, points, keys, [finished, *new])
    names = set(keys[RUN])
    computed = len(set().union(*(part[RUN] for part in new)))
    failed = int(failures(rows).sum())
    table = Table(rows, len(names) - computed, computed, failed, time.perf_counter() - started)
    print(table.counts)
    return table


def _chunks(loaded: LoadedStudy, points: Sequence[Point]) -> list[Sequence[Point]]:
    """Long ones, or short ones where some wires are solved one by one."""
    every = max(1, len(points) // _TRIED)
    cases = [make_run(loaded, point).case for point in points[::every]]
    alone = any(case is not None and not in_batch(case) for case in cases)
    size = _CHUNK_ALONE if alone else _CHUNK
    return [points[k : k + size] for k in range(0, len(points), size)]


_Solved = tuple[int, pd.DataFrame, pd.DataFrame]  # number of the chunk, its runs, and new answers


def _solved(work: _Work, chunks: Sequence[Sequence[Point]], processes: int) -> Iterator[_Solved]:
    """Chunks as they are finished."""
    if processes == 1 or len(chunks) == 1:
        for number, chunk in enumerate(chunks):
            yield number, *_solve_chunk(work, chunk)
        return
    with ProcessPoolExecutor(processes) as pool:
        waiting: dict[Future[tuple[pd.DataFrame, pd.DataFrame]], int] = {}
        for number, chunk in enumerate(chunks):
            waiting[pool.submit(_solve_chunk, work, chunk)] = number
        while waiting:
            done, _ = wait(waiting, return_when=FIRST_COMPLETED)
            for future in done:
                yield waiting.pop(future), *future.result()


def _solve_chunk(work: _Work, points: Sequence[Point]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Name and supports of each run of a chunk, and answers of those that were missing."""
    supports = Supports(work.supports, work.at_MPa)
    runs = [_with_teeth(make_run(work.loaded, point), supports) for point in points]
    made = [run.note if run.case is None else supports.fingerprint(run.case) for run in runs]
    keys = pd.DataFrame({RUN: [run.name for run in runs], SUPPORTS: made})
    missing: dict[str, tuple[Run, str]] = {
        run.name: (run, prints)
        for run, prints in zip(runs, made, strict=True)
        if prints not in work.finished.get(run.name, frozenset())
    }
    return keys, _answers(work.loaded, list(missing.values()), supports)


def _with_teeth(run: Run, supports: Supports) -> Run:
    """A run, or why there is none because a tooth of it could not be made."""
    note = supports.fault(run.case) if run.case is not None else ""
    return replace(run, case=None, note=note) if note else run


def _answers(
    loaded: LoadedStudy, missing: Sequence[tuple[Run, str]], supports: Supports
) -> pd.DataFrame:
    """One row for each of some runs."""
    asked = responses(loaded.study.responses)
    needs = frozenset().union(*(response.needs for response in asked))
    cases = [run.case for run, _ in missing if run.case is not None]
    solved = iter(solve_cases(cases, supports, needs))
    rows = []
    for run, made in missing:
        answer = next(solved) if run.case is not None else None
        note = run.note if answer is None else answer.note
        values = {r.name: nan if answer is None else float(r.value(answer)) for r in asked}
        rows.append({RUN: run.name, SUPPORTS: made, NOTE: note} | values)
    return pd.DataFrame(rows)


def _joined(
    loaded: LoadedStudy,
    points: Sequence[Point],
    keys: pd.DataFrame,
    finished: Sequence[pd.DataFrame],
) -> pd.DataFrame:
    """Rows in the order of the design: run, factors, responses, note."""
    study = loaded.study
    known = pd.concat([part for part in finished if len(part)], ignore_index=True)
    known = known.drop_duplicates([RUN, SUPPORTS], keep="last")
    factors = pd.DataFrame(
        {f.name: [point[k].shown for point in points] for k, f in enumerate(study.factors)}
    )
    found = keys.merge(known, on=[RUN, SUPPORTS], how="left", validate="many_to_one")
    numbers = found[list(study.responses)].astype(float)
    return pd.concat([found[[RUN]], factors, numbers, found[[NOTE]]], axis=1)


class _Progress:
    """Says how many runs are done and how long the rest will take."""

    def __init__(self, total: int, also: TextIO | None) -> None:
        self.total, self.also = total, also
        self.done = 0
        self.started = time.perf_counter()

    def more(self, runs: int, computed: int) -> None:
        self.done += runs
        spent = time.perf_counter() - self.started
        left = spent * (self.total - self.done) / self.done
        line = f"{self.done} of {self.total} runs, {computed} of them new here; {left:.0f} s to go"
        for stream in (sys.stdout, self.also):
            if stream is not None:
                print(line, file=stream, flush=True)
