"""A run of the workflow from ``./workflow/run``: Snakemake, with a look before and after.

Before: one run at a time in a folder, no jobs of a killed one in a queue, a lock that it left is
removed, and there must be room to write. After: what failed is said again at the end, each fault
once, and all results are held against the sums that their jobs recorded: Snakemake goes by the age
of files and would not see a flipped byte. The arguments are Snakemake's.
"""

from __future__ import annotations

import fcntl
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

import psutil
from snakemake import cli

from workflow.integrity import LOGS, RESULTS, Fault, damaged, remedy
from workflow.job import FAILED, in_words
from workflow.tooth_store import damaged_teeth

NOTES = Path(".snakemake")  # Snakemake's own
_ROOM_BYTES = 1 << 20
_REMEDY = re.compile(f"\n{remedy((), '.*')}(.*)")  # what a job says of damaged inputs
# Snakemake 9.27 looks once a second, for every job that has ended, whether its limit of jobs in a
# second lets it go on: after three hundred jobs a third of a core went into that. So it looks once
# an hour, and leaves timers behind that would hold up the end of the process.
_UNHURRIED = ("--max-jobs-per-timespan", "100000/1h")
_RUN = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")  # name of its jobs on Slurm
_ELSEWHERE = ("executor", "profile", "workflow_profile")
_LOOKING = ("dryrun", "summary", "detailed_summary", "dag", "rulegraph", "filegraph", "lint")


class RefusedError(RuntimeError):
    """The run may not start; says why and what to do."""


def main(arguments: Sequence[str]) -> int:
    """Run the workflow.

    Parameters
    ----------
    arguments
        Of Snakemake.

    Returns
    -------
    int
        Exit status: 0 if all was made and nothing is damaged.
    """
    options = cli.get_argument_parser().parse_args(arguments)
    if any(getattr(options, name) for name in _LOOKING):
        return _snakemake(arguments)
    try:
        _require_room()
        with only_run():
            _require_empty_queue()
            started = time.time()
            elsewhere = any(getattr(options, name) for name in _ELSEWHERE)
            status = _snakemake(arguments if elsewhere else [*_UNHURRIED, *arguments])
            problems = _found(started, arguments) if not options.unlock else []
    except (RefusedError, OSError) as error:
        problems, status = [in_words(error)], 1
    if problems:
        print("\n".join(["", *problems]), file=sys.stderr)
    return 1 if problems else status


def _snakemake(arguments: Sequence[str]) -> int:
    try:
        cli.main(arguments)
    except SystemExit as ended:
        return int(ended.code or 0)
    return 0


def _require_room() -> None:
    """Try to write where results and Snakemake's notes go, before hours are spent.

    Raises
    ------
    OSError
        If that is not allowed, or the disk is full.
    """
    for folder in (RESULTS, NOTES):
        try:
            folder.mkdir(exist_ok=True)
            with tempfile.TemporaryFile(dir=folder) as probe:
                probe.write(bytes(_ROOM_BYTES))
                probe.flush()
        except OSError as error:  # of a full disk, it does not say where
            raise OSError(error.errno, error.strerror, str(folder.absolute())) from None


@contextmanager
def only_run() -> Iterator[None]:
    """Be the only run in this folder, and put away the lock of one that was killed.

    The system gives this lock up with the process that holds it, however that ends; Snakemake's
    own stays.

    Raises
    ------
    RefusedError
        If another run, or a job of a killed one, is at work here.
    """
    with (NOTES / "run.lock").open("a+", encoding="utf-8") as stream:
        try:
            fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            stream.seek(0)
            raise RefusedError(_busy(f"run ({stream.read()})")) from None
        _remove_stale_locks()
        stream.truncate(0)
        stream.write(f"process {os.getpid()} since {time.strftime('%H:%M:%S')}")
        stream.flush()
        yield


def _remove_stale_locks() -> None:
    locks = list((NOTES / "locks").glob("*.lock"))
    if not locks:
        return
    if at_work := _others_at_work():
        raise RefusedError(_busy(f"Snakemake (process {', '.join(map(str, at_work))})"))
    print("removing the lock of a run that was killed", file=sys.stderr)
    for lock in locks:
        lock.unlink(missing_ok=True)


def _require_empty_queue() -> None:
    """Refuse a run while the queue holds jobs of one that was killed: both would write the same.

    Snakemake gives all jobs of a run on Slurm one identifier as their name, and this folder to work
    in.

    Raises
    ------
    RefusedError
        With the jobs and the command that takes them out.
    """
    if shutil.which("squeue") is None:
        return
    command = ["squeue", "--me", "--noheader", "--format=%i %j %Z"]
    with suppress(subprocess.SubprocessError):  # no queue answers, so none takes jobs either
        told = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
        queued = [line.split(" ", 2) for line in told.stdout.splitlines()]
        own = [job for job, name, folder in queued if _RUN.search(name) and folder == os.getcwd()]
        if own:
            words = f"the queue still holds jobs of a run that was killed ({', '.join(own)})"
            remedy = f"wait for their end, or take them out: scancel {' '.join(own)}"
            raise RefusedError(f"{Path.cwd()}: {words}; {remedy}")


def _busy(who: str) -> str:
    return f"{Path.cwd()}: another {who} is at work here; wait for its end, or stop it"


def _others_at_work() -> list[int]:
    """Processes of Snakemake or of its jobs in this folder; a killed run can leave a job behind."""
    here, found = str(Path.cwd()), []
    for process in psutil.process_iter():
        with suppress(psutil.Error):
            words = " ".join(process.cmdline())
            if process.pid != os.getpid() and "snakemake" in words and process.cwd() == here:
                found.append(process.pid)
    return found


def _found(since: float, arguments: Sequence[str]) -> list[str]:
    """What went wrong in a run: each fault once, and one command that restores what is damaged."""
    said, faults = failures(since), [*damaged(), *damaged_teeth()]
    told = [_REMEDY.sub("", text) for text in said]
    told += [str(fault) for fault in faults if not any(str(fault) in text for text in said)]
    forced = " ".join(name for text in said for name in _REMEDY.findall(text)).split()
    damage = [*(Fault(Path(name), "", name) for name in forced), *faults]
    command = shlex.join(["./workflow/run", *arguments[2:]])  # without --cores and their number
    return [*told, remedy(damage, command)] if damage else told


def failures(since: float) -> list[str]:
    """What jobs that ended without success since some time said last, each reason once.

    Parameters
    ----------
    since
        Seconds since 1970.
    """
    failed: dict[str, list[str]] = {}
    stopped = []
    for log in sorted(RESULTS.glob(f"**/{LOGS}/*.log")):
        if log.stat().st_mtime < since:
            continue
        text = log.read_text(encoding="utf-8", errors="replace")
        job, (_, mark, why) = f"{text.split(':')[0]} ({log})", text.rpartition(FAILED)
        if mark:
            failed.setdefault(why.strip(), []).append(job)
        elif ": finished in" not in text:
            stopped.append(f"{job} was stopped before its end; short of memory, perhaps")
    return [
        f"{', '.join(jobs)} ended with an error: {why}" for why, jobs in failed.items()
    ] + stopped


if __name__ == "__main__":
    status = main(sys.argv[1:])
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(status)
