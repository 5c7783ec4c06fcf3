"""Hours of small studies and cases, and whether memory, open files or left-over files grow.

Run with ``.venv/bin/python -m tests.campaigns.soak --hours 2 --output FILE``. One process makes a
tooth, a study and a case over and over, and every few rounds a Snakemake of its own makes a study
in a copy of the project. FILE gets one line of JSON a round, ``FILE.summary.json`` the verdict.
Temporary files of all of it go to a folder of their own, so that what is left there is theirs.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import yaml
from scipy.stats import linregress

from tests.campaigns.random_cases import made, solved
from tests.campaigns.sampled_cases import accepted
from tests.project import CASE, Project
from workflow.records import write_json
from workflow.sweep_config import CASES, load_parameter_study
from workflow.sweep_supports import study_supports
from workflow.sweep_table import study_table

WARM_UP = 0.25  # of the rounds, but at least:
LEAST_WARM_UP = 3
MOST_MB_PER_HOUR = 20.0
MOST_SURE = 3.0  # standard errors that a slope must lie above what is allowed
EVERY = 8  # rounds from one Snakemake to the next
_PAGE_MB = os.sysconf("SC_PAGE_SIZE") / 2**20
_STUDY = {
    "study": "soak",
    "title": "The same again",
    "case": CASE,
    "fixed": {"mesh.root_size_mm": 1.5, "units.segment.teeth": [35], "one_point.tooth": 35},
    "factors": [
        {"name": "alloy", "key": "wire.alloy", "levels": ["beta_titanium", "stainless_steel"]},
        {"name": "set_offset_mm", "key": "wire.activation.offset_mm", "levels": [2, 4, 6, 8]},
    ],
    "design": "grid",
    "responses": ["force_N", "couple_Nmm", "target_ligament_p99_kPa"],
}


@dataclass(frozen=True)
class Sample:
    """What is taken after a round.

    ``rss_MB`` is of this process, ``children_MB`` the most that its children took together during
    the round, ``left`` the files in the temporary folder, ``project`` those in the copy of the
    project.
    """

    hours: float
    rss_MB: float
    children_MB: float
    open_files: int
    left: int
    project: int
    snakemake: bool


def rss_MB(process: str | int) -> float:
    """Resident memory of a process; none if it has ended."""
    try:
        return int(Path(f"/proc/{process}/statm").read_text().split()[1]) * _PAGE_MB
    except (FileNotFoundError, ProcessLookupError):
        return 0.0


def children_of(process: int) -> list[int]:
    """Processes started by a process, and by those."""
    found: list[int] = []
    for thread in Path(f"/proc/{process}/task").glob("*/children"):
        with contextlib.suppress(FileNotFoundError, ProcessLookupError):
            for child in map(int, thread.read_text().split()):
                found += [child, *children_of(child)]
    return found


@contextlib.contextmanager
def watched_children() -> Iterator[list[float]]:
    """Most memory that all children took together, MB, as the one number of a list."""
    most, done = [0.0], threading.Event()

    def watch() -> None:
        while not done.wait(0.2):
            most[0] = max(most[0], sum(map(rss_MB, children_of(os.getpid()))))

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        yield most
    finally:
        done.set()
        watcher.join()


@contextlib.contextmanager
def temporary_folder(folder: Path) -> Iterator[Path]:
    """A folder that this process and all it starts put their temporary files into."""
    place, before = folder / "temporary", os.environ.get("TMPDIR")
    place.mkdir()
    os.environ["TMPDIR"], tempfile.tempdir = str(place), str(place)
    try:
        yield place
    finally:
        tempfile.tempdir = None
        os.environ.pop("TMPDIR")
        if before is not None:
            os.environ["TMPDIR"] = before


class Work:
    """What is done over and over, in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.project = Project(folder / "project")
        path = self.project.folder / "configs" / "studies" / "soak.yaml"
        path.write_text(yaml.safe_dump(_STUDY, sort_keys=False), encoding="utf-8")
        self.study = load_parameter_study(path, CASES)
        base = yaml.safe_load((CASES / f"{CASE}.yaml").read_text(encoding="utf-8"))
        base["units"]["segment"]["teeth"] = [35]
        base["one_point"] = {"unit": "segment", "tooth": 35}
        base["mesh"] = {"root_size_mm": 1.5}
        case = accepted(json.loads(json.dumps(base)))
        assert case is not None, "the case of the soak is refused"
        self.case = case
        self.specs = study_supports(self.study)

    def round(self, number: int) -> bool:
        """One round; whether Snakemake was a part of it."""
        with contextlib.redirect_stdout(io.StringIO()):
            self._once()
        if number % EVERY:
            return False
        shutil.rmtree(self.project.folder / "results", ignore_errors=True)
        self.project.snakemake("results/studies/soak/report.md")
        return True

    def _once(self) -> None:
        """A tooth anew, all runs of a study on it, and a case to its summary."""
        teeth, store = self.folder / "teeth", self.folder / "store"
        shutil.rmtree(store, ignore_errors=True)
        first = next(iter(self.specs))
        shutil.rmtree(teeth / first, ignore_errors=True)
        for name, spec in self.specs.items():
            assert made(name, spec, teeth) == ""
        assert study_table(self.study, teeth, store).failed == 0
        solved(self.case, teeth)


def files_in(folder: Path) -> int:
    """How many files lie in a folder and below, without Snakemake's log of each of its runs."""
    folders = os.walk(folder)
    return sum(len(files) for name, _, files in folders if not name.endswith(".snakemake/log"))


def samples(hours: float, folder: Path) -> Iterator[Sample]:
    """Rounds until the time is over, at least as many as warm up and two Snakemakes take."""
    started = time.monotonic()
    with temporary_folder(folder) as left:
        work = Work(folder)
        number = 0
        while number <= EVERY or time.monotonic() - started < 3600 * hours:
            with watched_children() as most:
                with_snakemake = work.round(number)
            yield Sample(
                (time.monotonic() - started) / 3600,
                rss_MB("self"),
                most[0],
                len(os.listdir("/proc/self/fd")),
                files_in(left),
                files_in(work.project.folder),
                with_snakemake,
            )
            number += 1


def verdict(taken: Sequence[Sample]) -> dict[str, Any]:
    """Slopes after the warm-up, and what grew.

    Memory grows if its slope lies surely above what is allowed; files if there are more at the end
    than after the warm-up, or after the first Snakemake in the copy of the project.
    """
    warm = taken[max(LEAST_WARM_UP, int(WARM_UP * len(taken))) :]
    with_snakemake = [sample for sample in taken if sample.snakemake]
    found: dict[str, Any] = {
        "rounds": len(taken),
        "hours": taken[-1].hours,
        "rss_MB": _slope(warm, "rss_MB"),
        "children_MB": _slope(with_snakemake[1:], "children_MB"),
    }
    grew = [name for name in ("rss_MB", "children_MB") if _surely_grows(found[name])]
    for name, some in (("open_files", warm), ("left", warm), ("project", with_snakemake)):
        numbers = [getattr(sample, name) for sample in some]
        found[name] = {"first": numbers[0], "last": numbers[-1], "most": max(numbers)}
        if numbers[-1] > numbers[0]:
            grew.append(name)
    return found | {"grew": grew, "verdict": "grows" if grew else "steady"}


def _slope(some: Sequence[Sample], name: str) -> dict[str, float | None]:
    values = np.array([getattr(sample, name) for sample in some])
    if len(values) < 3:
        return {"per_hour": None, "standard_error": None}
    line = linregress([sample.hours for sample in some], values)
    return {
        "first": float(values[0]),
        "last": float(values[-1]),
        "most": float(values.max()),
        "per_hour": float(line.slope),
        "standard_error": float(line.stderr),
    }


def _surely_grows(slope: dict[str, float | None]) -> bool:
    per_hour, error = slope["per_hour"], slope["standard_error"]
    return (
        per_hour is not None
        and error is not None
        and (per_hour - MOST_SURE * error > MOST_MB_PER_HOUR)
    )


def campaign(hours: float, output: Path) -> dict[str, Any]:
    """Soak, with a line a round in a file, and say what grew."""
    taken: list[Sample] = []
    with tempfile.TemporaryDirectory() as folder, output.open("w", encoding="utf-8") as stream:
        for sample in samples(hours, Path(folder)):
            taken.append(sample)
            line = json.dumps(asdict(sample))
            print(line, file=stream, flush=True)
            print(line, file=sys.stderr, flush=True)
    found = verdict(taken)
    write_json(output.with_name(f"{output.name}.summary.json"), found)
    return found


def main() -> None:
    """Soak, print the summary, and end with an error if something grew."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--hours", type=float, default=2.0)
    parser.add_argument("--output", type=Path, required=True)
    given = parser.parse_args()
    found = campaign(given.hours, given.output)
    print(json.dumps(found, indent=1))
    sys.exit(bool(found["grew"]))


if __name__ == "__main__":
    main()
