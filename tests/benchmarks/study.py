"""Ten thousand runs of a parameter study, from support files to the table.

Run with ``.venv/bin/python -m tests.benchmarks.study [processes]``. It makes the supports of the
study's teeth first, a few seconds each, then all runs from nothing, then the same again from the
store, then with one activation more, a fifth more runs. Never part of the tests: times say
something only beside others taken on the same quiet machine, processor times a little more.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from pathlib import Path

from workflow.digest import code_digest
from workflow.sweep_config import STUDIES, LoadedStudy, ParameterStudy, load_parameter_study
from workflow.sweep_supports import study_supports
from workflow.sweep_table import study_table
from workflow.tooth_chunks import make_teeth
from workflow.tooth_store import ToothStore

NAME = "molar_uprighting"
MORE = [2.0, 4.0, 6.0, 8.0, 10.0, 11.0]


def processor_s() -> float:
    """Processor time of this process and those it ended, s."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def peak_MB(processes: int) -> float:
    """Most memory of this process, and of its largest child as often as there are children, MB."""
    own, child = (
        resource.getrusage(who).ru_maxrss / 1024
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return own + (processes * child if processes > 1 else 0.0)


def with_more(loaded: LoadedStudy) -> LoadedStudy:
    """The study with one activation more."""
    data = loaded.study.model_dump(by_alias=True, exclude_none=True)
    data["factors"][-1]["levels"] = MORE
    return LoadedStudy(ParameterStudy.model_validate(data), loaded.content, loaded.path)


def measured(what: str, loaded: LoadedStudy, folder: Path, processes: int) -> None:
    """Make a table and print what it took."""
    before = processor_s()
    table = study_table(loaded, folder / "teeth", folder / "store", processes)
    print(
        f"{what}: {table.counts}; processor {processor_s() - before:.1f} s, "
        f"peak memory at most {peak_MB(processes):.0f} MB"
    )


def main() -> None:
    """Print times, counts and memory."""
    processes = int(sys.argv[1]) if len(sys.argv) > 1 else 2
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    started = time.perf_counter()
    loaded = load_parameter_study(STUDIES / f"{NAME}.yaml")
    supports = study_supports(loaded)
    spent = time.perf_counter() - started
    print(f"read and expanded to {len(supports)} supports in {spent:.2f} s")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        made = make_teeth(supports, ToothStore(folder / "teeth", code_digest("sweep_teeth")))
        if faults := [record["reason"] for record in made if record["reason"]]:
            sys.exit(f"{len(faults)} of {len(made)} supports could not be made: {faults[0]}")
        measured("from nothing", loaded, folder, processes)
        measured("the same again", loaded, folder, processes)
        measured("one more activation", with_more(loaded), folder, processes)


if __name__ == "__main__":
    main()
