"""Damage finished runs in many ways: is each fault named, and does the named remedy mend it?

``python -m tests.campaigns.corruption --output corruption.json`` takes a finished run of the
default case, up to its checks, and of a small study, both on coarse meshes. Each fault works on a
copy of it. The run after the fault must end with the words that name it, each damage once, and
without a traceback, or mend it by itself where that is stated; after the repair the plain command
must end well with the same tables. Faults that need a file system of their own are left out where
none may be mounted.
"""

import argparse
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.campaigns.runs import REPORT, CoarseProject, different, new_folder
from tests.project import CASE

OF_CASE = f"results/cases/{CASE}"
ALL = (f"{OF_CASE}/tables/checks.csv", REPORT)
MENDS = 0  # exit status where a run mends the fault by itself
_REMEDY = re.compile(r"^To restore .*? (--forcerun .*)$", re.MULTILINE)
_DAMAGE = re.compile(r"results/\S+: (?:is|has) [^;\n]+")


@dataclass(frozen=True)
class Fault:
    """A kind of damage.

    Attributes
    ----------
    name
        What happens.
    words
        What the run after it must say.
    damage
        Does it to a project; returns arguments for the run, or a context in which it happens.
    status
        Exit status that is wanted of that run.
    repair
        Mends it where no command is printed; gets the project.
    mounts
        Whether it needs to mount a file system.
    kept
        Tables, below the results, that the repair accepts as they are.
    """

    name: str
    words: tuple[str, ...]
    damage: Callable
    status: int = 1
    repair: Callable | None = None
    mounts: bool = False
    kept: tuple[str, ...] = ()


def flip(path):
    """Turn one bit in the middle, and keep the file's times, as a failing disk does."""
    content, times = bytearray(path.read_bytes()), path.stat()
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))


def truncate(path):
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def swap(first, second):
    """Exchange two files or folders, which keep their times."""
    aside = first.with_name(first.name + ".aside")
    first.rename(aside)
    second.rename(first)
    aside.rename(second)


def found(project, pattern, number=0):
    """A file of the results."""
    return sorted((project.folder / "results").glob(pattern))[number]


def on(pattern, change):
    """Damage that changes one file."""
    return lambda project: change(found(project, pattern))


def all_of(*damages):
    """Several damages; the last may ask for arguments of the run after them."""

    def damage(project):
        *_, last = [each(project) for each in damages]
        return last

    return damage


def emptied(path):
    path.write_bytes(b"")


def swapped(pattern):
    """Damage that exchanges the first two of some files or folders."""
    return lambda project: swap(found(project, pattern), found(project, pattern, 1))


def lose_notes_of_a_killed_job(project):
    """What a killed job left, where Snakemake's own notes of it are lost too."""
    on(f"cases/{CASE}/logs/equilibrium.sha256", Path.unlink)(project)
    truncate(found(project, f"cases/{CASE}/equilibrium.json"))
    shutil.rmtree(project.folder / ".snakemake")


def leave_a_lock(project):
    """Snakemake's lock, as a killed run leaves it."""
    locks = project.folder / ".snakemake" / "locks"
    locks.mkdir(exist_ok=True)
    (locks / "0.output.lock").write_text(f"{ALL[0]}\n", encoding="utf-8")


def annotate(project):
    (project.folder / "results" / "README.md").write_text("Seen.\n", encoding="utf-8")


def make_again(project):
    """Let the equilibrium and all after it be made again."""
    shutil.rmtree(project.folder / OF_CASE)


@contextmanager
def another_run(project):
    """A run at work in the same folder."""
    make_again(project)
    process = project.start(f"{OF_CASE}/equilibrium.json")
    lock = project.folder / ".snakemake" / "locks"
    while not any(lock.glob("*")):
        time.sleep(0.05)
    yield
    process.communicate()
    assert process.returncode == 0


@contextmanager
def job_that_outlives_its_run(project):
    """The run is killed alone; its job, held up meanwhile, goes on."""
    make_again(project)
    process = project.start(f"{OF_CASE}/equilibrium.json")
    log = project.folder / OF_CASE / "logs" / "equilibrium.log"
    while not log.exists():
        time.sleep(0.02)
    process.kill()
    process.wait()
    os.killpg(process.pid, signal.SIGSTOP)
    yield
    os.killpg(process.pid, signal.SIGCONT)
    process.communicate()


@contextmanager
def mounted(project, *options):
    """The results on a file system of their own."""
    place = project.folder / "results"
    subprocess.run(["mount", *options, str(place)], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", str(place)], check=True)


@contextmanager
def read_only(project):
    place = str(project.folder / "results")
    with mounted(project, "--bind", place):
        subprocess.run(["mount", "-o", "remount,bind,ro", place], check=True)
        yield


def small_disk(size):
    """Damage: nothing is made yet, and results have little room."""

    @contextmanager
    def damage(project):
        with mounted(project, "-t", "tmpfs", "-o", f"size={size}", "tmpfs"):
            yield

    return damage


def little_memory(project):
    make_again(project)
    return ["--resources", "mem_mb=90000000", "--set-resources", "equilibrium:mem_mb=80000000"]


@contextmanager
def killed_job(project):
    """The system ends one job, as for want of memory."""
    make_again(project)
    log = project.folder / OF_CASE / "logs" / "equilibrium.log"
    script = (
        f"while ! [ -e {log} ]; do sleep 0.02; done; "
        f'for p in /proc/[0-9]*; do if [ "$(readlink $p/cwd)" = {project.folder} ] && '
        "tr '\\0' ' ' < $p/cmdline | grep -q '^[^ ]*python[^ ]* [^ ]*/scripts/'; "
        "then kill -9 ${p#/proc/}; fi; done"
    )
    killer = subprocess.Popen(["bash", "-c", script])
    yield
    assert killer.wait() == 0


def accept(project):
    """Take a changed result as it is."""
    program = [sys.executable, "-m", "workflow.integrity", "--accept", ALL[0]]
    subprocess.run(program, cwd=project.folder, env=project.environment, check=True)


def write_by_hand(project):
    path = project.folder / ALL[0]
    path.write_text(path.read_text("utf-8") + "\n", encoding="utf-8")


def nothing(project):
    """No repair is needed."""


CHANGED, GONE = "is not what its job wrote", "is missing"
AT_WORK = "is at work here"


def read_again(project):
    """Arguments that make the study's runs read their teeth and their store once more."""
    return "--forcerun", "sweep_runs"


FAULTS = (
    Fault("a flipped bit in a table", ("wire.csv", CHANGED), on("cases/*/tables/wire.csv", flip)),
    Fault("a flipped bit in a mesh", ("mesh.vtu", CHANGED), on("supports/*/mesh.vtu", flip)),
    Fault(
        "a flipped bit in a stress basis that is read again",
        ("stress_basis.npz", CHANGED, "response case="),
        all_of(on("supports/*/stress_basis.npz", flip), make_again),
    ),
    Fault(
        "a flipped bit in a study's table",
        ("runs.parquet", CHANGED),
        on("studies/*/runs.parquet", flip),
    ),
    Fault("a truncated mesh", ("mesh.vtu", CHANGED), on("supports/*/mesh.vtu", truncate)),
    Fault("a truncated field", ("fields/", CHANGED), on("cases/*/fields/*.vtu", truncate)),
    Fault(
        "an emptied JSON record",
        ("equilibrium.json", "is empty"),
        on("cases/*/equilibrium.json", emptied),
    ),
    Fault(
        "an emptied record that the plan reads",
        ("mesh.json", "is empty"),
        on("supports/*/mesh.json", emptied),
    ),
    Fault("a lost field", ("fields/", GONE), on("cases/*/fields/*.vtu", Path.unlink)),
    Fault(
        "a lost rod",
        ("rod.json", GONE),
        on("wires/*/rod.json", Path.unlink),
    ),
    Fault(
        "supports of two teeth exchanged",
        ("support.json", CHANGED),
        swapped("supports/*/support.json"),
    ),
    Fault(
        "records of a wire exchanged",
        ("rod.json", "solid.json", CHANGED),
        lambda p: swap(found(p, "wires/*/rod.json"), found(p, "wires/*/solid.json")),
    ),
    Fault("two teeth of the store exchanged", ("tooth.json", "is that of"), swapped("teeth/*")),
    Fault(
        "a flipped bit in a tooth of the store",
        ("stress_basis.npz", CHANGED),
        on("teeth/*/stress_basis.npz", flip),
    ),
    Fault(
        "a flipped bit in a tooth that is read again",
        ("support.json", CHANGED, "sweep_runs"),
        all_of(on("teeth/*/support.json", flip), read_again),
    ),
    Fault(
        "a flipped bit in the store of runs",
        ("2 runs: 0 kept, 2 computed",),
        all_of(on("studies/few/store/*.parquet", flip), read_again),
        MENDS,
        nothing,
    ),
    Fault("lost sums", ("checks.sha256", GONE), on("cases/*/logs/checks.sha256", Path.unlink)),
    Fault(
        "emptied sums",
        ("summary.sha256", "is damaged"),
        on("cases/*/logs/summary.sha256", emptied),
    ),
    Fault(
        "what a killed job left, Snakemake's notes lost",
        ("equilibrium.json", "has no record"),
        lose_notes_of_a_killed_job,
    ),
    Fault("a lock that a killed run left", ("removing the lock",), leave_a_lock, MENDS, nothing),
    Fault("another run at work", ("another run (process", AT_WORK), another_run, repair=nothing),
    Fault(
        "a job that outlives its run",
        ("another Snakemake (process", AT_WORK),
        job_that_outlives_its_run,
        repair=nothing,
    ),
    Fault(
        "a job killed by the system",
        ("equilibrium case=", "was stopped before its end"),
        killed_job,
        repair=nothing,
    ),
    Fault(
        "more memory asked for than there is",
        ("needs about 80000000 MB of memory", "MB are free"),
        little_memory,
        repair=nothing,
    ),
    Fault("a note in the README of the results", ("Nothing to be done",), annotate, MENDS, nothing),
    Fault(
        "a table changed by hand, and accepted",
        ("checks.csv", CHANGED),
        write_by_hand,
        repair=accept,
        kept=(ALL[0].removeprefix("results/"),),
    ),
    Fault(
        "results that are read-only",
        ("results", "may not be written"),
        read_only,
        repair=nothing,
        mounts=True,
    ),
    Fault(
        "a disk that is full from the start",
        ("results", "no room left on the disk"),
        small_disk("512k"),
        repair=nothing,
        mounts=True,
    ),
    Fault(
        "a disk that fills up",
        ("no room left on the disk",),
        small_disk("3m"),
        repair=nothing,
        mounts=True,
    ),
)


def finished(folder):
    """A finished run to damage copies of."""
    project = CoarseProject(new_folder(folder, "finished"))
    status, said, _ = project.run(*ALL)
    if status:
        raise RuntimeError(f"the undisturbed run fails:\n{said}")
    return project


def may_mount():
    """Whether file systems may be mounted here."""
    with tempfile.TemporaryDirectory() as place:
        tried = ["mount", "-t", "tmpfs", "tmpfs", place]
        if shutil.which("mount") is None or subprocess.run(tried, capture_output=True).returncode:
            return False
        subprocess.run(["umount", place], check=True)
    return True


def try_fault(fault, whole, folder):
    """Damage a copy, run, repair, run: what was said, as a record."""
    project = whole.copy(new_folder(folder, "damaged"))
    reference = whole.tables()
    done = fault.damage(project)
    if hasattr(done, "__enter__"):
        with done:
            status, said, _ = project.run(*ALL)
    else:
        status, said, _ = project.run(*ALL, *(done or ()))
    silent = [word for word in fault.words if word not in said]
    twice = [told for told, count in Counter(_DAMAGE.findall(_ending(said))).items() if count > 1]
    traceback = "Traceback" in said
    forced = repair(fault, project, said)
    again, last, _ = project.run(*ALL, *forced)
    differing = sorted({*different(project.tables(), reference)} ^ {*fault.kept})
    named = status == fault.status and not (silent or twice or traceback)
    record = {
        "fault": fault.name,
        "named": named,
        "recovered": again == 0 and not differing,
        "said": _ending(said).splitlines()[-3:],
    }
    if not (named and record["recovered"]):
        record |= {"status": status, "not_said": silent, "twice": twice, "traceback": traceback}
        record |= {
            "again": again,
            "differing": differing,
            "whole": said[-6000:],
            "last": last[-3000:],
        }
    return record


def repair(fault, project, said):
    """Arguments of the next run as they were printed, or none after the fault's own repair."""
    if fault.repair:
        fault.repair(project)
        return []
    printed = _REMEDY.findall(said)
    return printed[-1].split() if printed else []


def _ending(said):
    """What stands after Snakemake's own last words."""
    return said.strip().rpartition("\n\n")[2]


def campaign(folder, faults=FAULTS):
    """A record for each fault that can be tried here."""
    whole, records = finished(folder), []
    mounts = may_mount()
    for fault in faults:
        if fault.mounts and not mounts:
            print(f"{fault.name}: left out, nothing may be mounted here", flush=True)
            continue
        record = try_fault(fault, whole, folder)
        records.append(record)
        said = [name if record[name] else f"NOT {name}" for name in ("named", "recovered")]
        print(f"{fault.name}: {', '.join(said)}", flush=True)
    return records


def main():
    parser = argparse.ArgumentParser(
        prog="python -m tests.campaigns.corruption", description=__doc__
    )
    parser.add_argument("--only", default="", help="faults whose name contains this")
    parser.add_argument("--output", type=Path, required=True, help="JSON")
    given = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="corruption-"))
    try:
        records = campaign(folder, [fault for fault in FAULTS if given.only in fault.name])
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    failed = sum(not (record["named"] and record["recovered"]) for record in records)
    text = json.dumps({"faults": len(records), "failed": failed, "records": records}, indent=1)
    given.output.write_text(text + "\n", encoding="utf-8")
    print(f"{len(records)} faults, {failed} of them not named or not recovered from")
    sys.exit(failed > 0)


if __name__ == "__main__":
    main()
