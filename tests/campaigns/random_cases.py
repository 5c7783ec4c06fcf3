"""Random valid cases from the file to the summary, and what became of each.

Run with ``.venv/bin/python -m tests.campaigns.random_cases --count 1000 --seed 1 --output FILE``.
FILE gets one line of JSON a case as soon as it is done; a second run with the same FILE goes on
where the first was stopped. Beside it lie ``FILE.summary.json`` and the folder ``FILE.teeth``.

A case is solved if it is in balance and holds its checks, or it fails with a reason that the code
foresaw: one line of a `ValueError` or `RuntimeError` that our own code raised, a tooth that cannot
be meshed, or a check that fails. Anything else is a finding.
"""

from __future__ import annotations

import argparse
import itertools
import json
import multiprocessing
import os
import re
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from tests.campaigns.sampled_cases import Content, Sampled, accepted, sampled_cases
from workflow.case_units import case_units
from workflow.digest import code_digest, spec_id
from workflow.equilibrium import engage_case, equilibrium_record
from workflow.force_activation import case_curve, curve_record, solid_forces
from workflow.plan import make_plan, wire_spec
from workflow.records import read_json, write_json
from workflow.response import respond
from workflow.specs import Spec
from workflow.summary import summarise
from workflow.tooth_chunks import make_teeth
from workflow.tooth_specs import support_spec
from workflow.tooth_store import ToothStore, reason_against
from workflow.wire_rods import rod_record
from workflow.wire_solids import solid_record

MOST_S = 200  # of processor time, which other work on the machine does not lengthen
MOST_IMBALANCE = 1e-8  # of the largest force, and of the largest moment about the origin
MOST_FAILING = 0.01
SOLVED, NAMED, FINDING = "solved", "named reason", "finding"
_OURS = tuple(str(Path(__file__).parents[2] / part) for part in ("geometry", "fem", "workflow"))
_IMAGE = np.array([-1.0, 1, 1, 1, -1, -1])  # of a wrench, across the midline plane x = 0


class TooSlowError(Exception):
    """A case took more time than any may."""


class ToothError(Exception):
    """A tooth of a case could not be made, for a reason that the code foresaw."""


@contextmanager
def limited(seconds: int) -> Iterator[None]:
    """Stop what takes more processor time; the body must run in the main thread."""

    def stop(*_: Any) -> None:
        raise TooSlowError(f"more than {seconds} s of processor time")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def written_and_read(record: Any, path: Path) -> Any:
    """A record as the next stage finds it."""
    write_json(path, record)
    return read_json(path)


def solved(case: Spec, teeth: Path) -> tuple[Spec, Spec]:
    """Equilibrium and summary of a resolved case, stage by stage as the scripts call them."""
    plan = make_plan(case)
    for tooth, support in plan.supports.items():
        if reason := reason_against(teeth, support):
            raise ToothError(f"tooth {tooth} could not be made: {reason}")
    supports, bases, meshes = (
        {tooth: str(teeth / support / name) for tooth, support in plan.supports.items()}
        for name in ("support.json", "stress_basis.npz", "mesh.vtu")
    )
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        rod = written_and_read(rod_record(wire_spec(case)), folder / "rod.json")
        solid = written_and_read(solid_record(wire_spec(case)), folder / "solid.json")
        units = case_units(case, supports)
        record = equilibrium_record(case, units, engage_case(case, units))
        engaged = written_and_read(record, folder / "equilibrium.json")
        found = respond(case, engaged, supports, bases, meshes, folder / "fields")
        response = written_and_read(found, folder / "response.json")
        curve = case_curve(case, units, engaged["offset_mm"])
        forces = solid_forces(case, units, curve, engaged["offset_mm"])
        followed = written_and_read(curve_record(case, curve, forces), folder / "curve.json")
        records = [read_json(path) for path in supports.values()]
        summary = summarise(case, {}, engaged, response, records, rod, solid, followed)
        return engaged, written_and_read(summary, folder / "summary.json")


def imbalance(case: Spec, engaged: Spec) -> float:
    """What is left of the loads on all units, summed up, as a share of the largest of them.

    From what is reported: of a wire at its contacts, and of all units at their centres.
    """
    at_contacts = [_about_origin(c["wrench"], c["point_mm"]) for c in engaged["contacts"]]
    units = engaged["units"]
    at_centres = {
        name: _about_origin(unit["wrench_at_centre"], unit["centre_mm"])
        for name, unit in units.items()
    }
    loads = list(at_centres.values())
    if case["mirror_image"]:
        loads += [_IMAGE * w for name, w in at_centres.items() if name != case["one_point"]["unit"]]
    return max(_left_over(at_contacts), _left_over(loads))


def _about_origin(wrench: Sequence[float], point: Sequence[float]) -> Any:
    force, moment = np.asarray(wrench[:3]), np.asarray(wrench[3:])
    return np.concatenate([force, moment + np.cross(point, force)])


def _left_over(wrenches: Sequence[Any]) -> float:
    all_of = np.array(wrenches)
    total = all_of.sum(axis=0)
    return max(
        float(np.linalg.norm(total[part]) / np.linalg.norm(all_of[:, part], axis=1).max())
        for part in (slice(0, 3), slice(3, 6))
    )


def outcome(content: Content, case: Spec, teeth: Path) -> dict[str, Any]:
    """What becomes of one case."""
    started = time.process_time()
    try:
        with limited(MOST_S):
            engaged, summary = solved(case, teeth)
        left = imbalance(case, engaged)
        missed = [check["id"] for check in summary["checks"] if not check["passed"]]
        found = {"outcome": SOLVED, "reason": "", "imbalance": left}
        if missed:  # which ends the workflow of a case
            found |= {"outcome": NAMED, "reason": f"checks failed: {', '.join(missed)}"}
        if not left < MOST_IMBALANCE:
            found |= {"outcome": FINDING, "reason": f"out of balance by {left:.1e}"}
    except Exception as error:
        found = {"outcome": NAMED if foreseen(error) else FINDING, "reason": _said(error)}
        found["stage"] = _stage(error)
        if found["outcome"] == FINDING:
            found["traceback"] = traceback.format_exc()
    return {"content": content, "processor_s": time.process_time() - started} | found


def foreseen(error: Exception) -> bool:
    """Whether our own code raised it, of a kind that ends a stage in words, and in one line."""
    if isinstance(error, ToothError):
        return True
    last = traceback.extract_tb(error.__traceback__)[-1].filename
    words = str(error).strip()
    kind = isinstance(error, ValueError | RuntimeError)
    return kind and last.startswith(_OURS) and bool(words) and "\n" not in words


def _stage(error: Exception) -> str:
    """Function of ours that `solved` had called."""
    names = [frame.name for frame in traceback.extract_tb(error.__traceback__)]
    return next((b for a, b in itertools.pairwise(names) if a == solved.__name__), "")


def _said(error: Exception) -> str:
    return f"{type(error).__name__}: {' '.join(str(error).split())}"


def made(support: str, spec: Spec, folder: Path) -> str:
    """Make one tooth where it is missing; why it could not be made."""
    store = ToothStore(folder, code_digest("sweep_teeth"))
    (record,) = make_teeth({support: spec}, store)
    return str(record["reason"])


def make_all_teeth(cases: Iterable[Spec], folder: Path, processes: int) -> dict[str, str]:
    """Teeth of all cases, each once; the reasons against those that could not be made."""
    specs = {
        spec_id(spec): spec
        for case in cases
        for spec in (support_spec(case, int(tooth)) for tooth in _teeth_of(case))
    }
    reasons = {}
    with _pool(processes) as pool:
        waiting = {pool.submit(made, name, spec, folder): name for name, spec in specs.items()}
        for number, future in enumerate(as_completed(waiting), start=1):
            reasons[waiting[future]] = future.result()
            _tell(f"{number} of {len(specs)} teeth")
    return reasons


def _teeth_of(case: Spec) -> list[int]:
    return [tooth for unit in case["units"].values() for tooth in unit["teeth"]]


def _pool(processes: int) -> ProcessPoolExecutor:
    os.environ["OMP_NUM_THREADS"] = "1"  # of each process, as of a job of the workflow
    return ProcessPoolExecutor(processes, mp_context=multiprocessing.get_context("spawn"))


def outcomes(samples: Sequence[Sampled], teeth: Path, processes: int) -> Iterator[dict[str, Any]]:
    """What becomes of cases, as they are done; a process that dies is a finding of its case."""
    lost = []
    with _pool(processes) as pool:
        waiting = {pool.submit(outcome, s.content, s.case, teeth): s for s in samples}
        for future in as_completed(waiting):
            try:
                yield future.result()
            except BrokenProcessPool:
                lost.append(waiting[future])
    for sample in lost:  # one of them killed the process that the others shared
        try:
            with _pool(1) as pool:
                yield pool.submit(outcome, sample.content, sample.case, teeth).result()
        except BrokenProcessPool:
            died = {"outcome": FINDING, "reason": "the process died", "processor_s": 0.0}
            yield {"content": sample.content} | died


def smallest(content: Content, fails_alike: Any) -> Content:
    """What is left of a case when every part is dropped that its failure does not need."""
    least = json.loads(json.dumps(content))
    for path in sorted(_places(least), key=len):
        smaller = json.loads(json.dumps(least))
        try:
            owner = smaller
            for key in path[:-1]:
                owner = owner[key]
            del owner[path[-1]]
        except (KeyError, IndexError, TypeError):
            continue
        if fails_alike(smaller):
            least = smaller
    return least


def _places(data: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    items = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in items:
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from _places(value, (*path, key))


def shrunk(record: dict[str, Any], teeth: Path) -> Content:
    """The smallest case that ends as one did."""
    wanted = kind_of(record["reason"])

    def fails_alike(content: Content) -> bool:
        case = accepted(content)
        if case is None:
            return False
        make_all_teeth([case], teeth, 1)
        return kind_of(outcome(content, case, teeth)["reason"]) == wanted

    return smallest(record["content"], fails_alike)


def _staged(record: dict[str, Any]) -> str:
    kind, stage = kind_of(record["reason"]), record.get("stage")
    return f"{stage}: {kind}" if stage else kind


def kind_of(reason: str) -> str:
    """A reason without its numbers."""
    return re.sub(r"[-+]?\d+(\.\d+)?(e[-+]?\d+)?", "#", reason)


def report(records: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """How many ended how, and the longest and the worst of them."""
    ended = Counter(record["outcome"] for record in records)
    failed = [record for record in records if record["outcome"] != SOLVED]
    done = [record for record in records if record["outcome"] == SOLVED]
    seconds = [record["processor_s"] for record in records]
    return {
        "cases": len(records),
        "solved": ended[SOLVED],
        "failed_with_a_named_reason": ended[NAMED],
        "findings": ended[FINDING],
        "failure_rate": len(failed) / len(records),
        "target_failure_rate": MOST_FAILING,
        "reasons": dict(Counter(_staged(r) for r in failed).most_common()),
        "largest_imbalance": max((r["imbalance"] for r in done), default=None),
        "median_processor_s": float(np.median(seconds)),
        "longest_processor_s": max(seconds),
    }


def campaign(
    count: int, seed: int, output: Path, processes: int = 2, few_teeth: bool = False
) -> dict[str, Any]:
    """Run what is missing of a campaign, and say how all of it ended."""
    samples = list(sampled_cases(count, seed, few_teeth))
    records = _lines(output)
    known = {record["content"]["case"] for record in records}
    missing = [sample for sample in samples if sample.content["case"] not in known]
    teeth = output.with_name(f"{output.name}.teeth")
    reasons = make_all_teeth([sample.case for sample in missing], teeth, processes)
    started = time.perf_counter()
    with output.open("a", encoding="utf-8") as stream:
        for number, record in enumerate(outcomes(missing, teeth, processes), start=1):
            records.append(record)
            print(json.dumps(record), file=stream, flush=True)
            spent = time.perf_counter() - started
            said = f"{number} of {len(missing)} cases, {60 * number / spent:.1f} a minute"
            _tell(f"{said}; {record['outcome']} {record['reason'][:100]}")
    found = report(records) | {
        "refused_before_each": sum(sample.refused for sample in samples) / count,
        "teeth": len(reasons),
        "teeth_that_could_not_be_made": {k: r for k, r in reasons.items() if r},
    }
    write_json(output.with_name(f"{output.name}.summary.json"), found)
    return found


def _lines(path: Path) -> list[dict[str, Any]]:
    if not path.exists():
        return []
    return [json.loads(line) for line in path.read_text("utf-8").splitlines()]


def _tell(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


def main() -> None:
    """Run a campaign, print its summary, and end with an error if there are findings."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--output", type=Path, required=True)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--few-teeth", action="store_true", help="one side, one kind of tissues")
    parser.add_argument("--shrink", help="name of a case in the output: its smallest like")
    given = parser.parse_args()
    if given.shrink:
        named = {r["content"]["case"]: r for r in _lines(given.output)}
        teeth = given.output.with_name(f"{given.output.name}.teeth")
        print(json.dumps(shrunk(named[given.shrink], teeth), indent=1))
        return
    found = campaign(given.count, given.seed, given.output, given.processes, given.few_teeth)
    print(json.dumps(found, indent=1))
    sys.exit(found["findings"] > 0)


if __name__ == "__main__":
    main()
