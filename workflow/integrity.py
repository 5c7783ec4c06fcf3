"""Sums of what every job wrote, so that nothing damaged is used in silence.

Beside the log of a job lies its record, ``<log>.sha256``: the SHA-256 of each file that it wrote,
in the format of ``sha256sum``, which can check it too (``sha256sum --check``). A file within a
folder that a job makes as a whole is written ``folder/./file``. A job removes its record when it
starts and writes it last, before its log says so: a file without one is what a killed job left.

Jobs hold their inputs against these records before they compute, `workflow.launch` holds all
results against them at the end of each run. As a program, ``python -m workflow.integrity``, this
checks all results; with ``--accept FILE`` it takes a file as it is, after an intended change.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import re
import sys
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

RESULTS = Path("results")
KEPT = RESULTS / "reference"  # tracked by git, made by no job
LOGS, SUFFIX = "logs", ".sha256"
RECORDED = "sums recorded"  # what the log of a job says once its record is written
_WITHIN = "/./"
_LINE = re.compile(r"(?P<sum>[0-9a-f]{64})  (?P<name>.+)")
_PART = ".part"


class DamagedError(RuntimeError):
    """A file is not what its job wrote; says which, what is wrong and what restores it."""


@dataclass(frozen=True)
class Entry:
    """A file as its job wrote it.

    Attributes
    ----------
    path
        The file.
    made
        What the job made: the file, or the folder that it lies in.
    sum
        SHA-256 of its content, hexadecimal.
    """

    path: Path
    made: Path
    sum: str

    @property
    def line(self) -> str:
        """Its line in a record."""
        within = self.path.relative_to(self.made).as_posix()
        name = str(self.made) if self.made == self.path else f"{self.made}{_WITHIN}{within}"
        return f"{self.sum}  {name}\n"

    def fault(self) -> str:
        """What is wrong with the file; empty if nothing is."""
        try:
            if self.path.stat().st_size == 0 and self.sum != _EMPTY:
                return "is empty"
            return "" if sum_of(self.path) == self.sum else "is not what its job wrote"
        except FileNotFoundError:
            return "is missing"
        except OSError as error:
            return f"cannot be read ({error.strerror})"


_EMPTY = hashlib.sha256().hexdigest()


@dataclass(frozen=True)
class Fault:
    """Something damaged.

    Attributes
    ----------
    path
        The file.
    what
        What is wrong with it.
    force
        Output or rule that Snakemake has to make by force: what is lost or damaged it does not miss
        as long as all that comes after is there and younger.
    """

    path: Path
    what: str
    force: str

    def __str__(self) -> str:
        return f"{self.path}: {self.what}"


def sum_of(path: Path) -> str:
    """SHA-256 of a file's content, hexadecimal."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def record_of(log: str | Path) -> Path:
    """Where the record of the job with some log lies."""
    return Path(log).with_suffix(SUFFIX)


def write_record(record: Path, made: Iterable[str | Path]) -> None:
    """Record the sums of all that a job has made, whole or not at all.

    Raises
    ------
    RuntimeError
        If something was not made.
    """
    entries = [Entry(file, Path(one), sum_of(file)) for one in made for file in _files(Path(one))]
    write_entries(record, entries)


def write_entries(record: Path, entries: Iterable[Entry]) -> None:
    """Write a record, whole or not at all."""
    part = record.with_name(record.name + _PART)
    part.write_text("".join(entry.line for entry in entries), encoding="utf-8")
    part.replace(record)


def _files(made: Path) -> list[Path]:
    if made.is_dir():
        return sorted(path for path in made.rglob("*") if path.is_file())
    if not made.exists():
        raise RuntimeError(f"{made} was not written, though nothing failed; is the disk full?")
    return [made]


def read_record(record: Path) -> list[Entry]:
    """Entries of a record; none if it is missing or damaged."""
    try:
        lines = record.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return []
    found = [match for line in lines if (match := _LINE.fullmatch(line))]
    if len(found) < len(lines):
        return []
    names = [(match["sum"], match["name"]) for match in found]
    return [Entry(Path(name), Path(name.partition(_WITHIN)[0]), total) for total, name in names]


def verify(inputs: Iterable[str | Path]) -> None:
    """Hold what a job reads against what the jobs before it wrote.

    Files outside the folder of results, which a user writes, and the tracked references have no
    sums and are passed over.

    Raises
    ------
    DamagedError
        If one is damaged, or has no record.
    """
    faults: list[Fault] = []
    for path in dict.fromkeys(map(Path, inputs)):
        if path.is_relative_to(RESULTS) and not path.is_relative_to(KEPT):
            faults += _faults_of_input(path)
    if faults:
        raise DamagedError("; ".join(map(str, faults)) + "\n" + remedy(faults))


def _faults_of_input(path: Path) -> list[Fault]:
    records = [record for folder in path.parents for record in _records_of(folder / LOGS)]
    for entries in records:
        if own := [entry for entry in entries if path in (entry.path, entry.made)]:
            return _faults(own)
    if not path.exists():
        return [Fault(path, "is missing", str(path))]
    if any(_is_older(log) for folder in path.parents for log in (folder / LOGS).glob("*.log")):
        print(f"{path}: of a version that recorded no sums; taken as it is")
        return []
    return [Fault(path, "has no record, as if its job had been stopped", str(path))]


def _is_older(log: Path) -> bool:
    """Whether a log is of a job that finished under version 0.5.0 or before."""
    said = log.read_text(encoding="utf-8", errors="replace")
    return "finished in" in said[-200:] and RECORDED not in said[-200:]


@cache  # what a job reads does not change while it runs
def _records_of(logs: Path) -> tuple[list[Entry], ...]:
    return tuple(read_record(record) for record in sorted(logs.glob(f"*{SUFFIX}")))


def _faults(entries: Iterable[Entry]) -> list[Fault]:
    return [Fault(e.path, what, str(e.made)) for e in entries if (what := e.fault())]


def damaged(folder: Path = RESULTS) -> list[Fault]:
    """All files in a folder of results that are not what their jobs wrote."""
    logs = sorted(folder.glob(f"**/{LOGS}/*.log"))
    with ThreadPoolExecutor(os.cpu_count()) as pool:  # summing leaves Python's lock
        return [fault for found in pool.map(_faults_of_job, logs) for fault in found]


def _faults_of_job(log: Path) -> list[Fault]:
    record = record_of(log)
    if entries := read_record(record):
        return _faults(entries)
    said = log.read_text(encoding="utf-8", errors="replace")
    if RECORDED not in said[-200:]:
        return []  # not finished, or of a version without records
    state = "is damaged" if record.exists() else "is missing"
    what = f"{state}, so what its job wrote cannot be checked"
    return [Fault(record, what, force=said.split()[0])]


def remedy(faults: Iterable[Fault], command: str = "the same command") -> str:
    """The command that restores damaged files."""
    forced = " ".join(dict.fromkeys(fault.force for fault in faults))
    return f"To restore what this run uses: {command} --forcerun {forced}"


def accept(path: Path) -> None:
    """Take a file as it is, after an intended change.

    Raises
    ------
    ValueError
        If no job made it.
    """
    for folder in path.parents:
        for record in (folder / LOGS).glob(f"*{SUFFIX}"):
            entries = read_record(record)
            if any(entry.path == path for entry in entries):
                write_entries(record, [_as_it_is(e) if e.path == path else e for e in entries])
                return
    raise ValueError(f"{path}: made by no job, so nothing is recorded of it")


def _as_it_is(entry: Entry) -> Entry:
    return replace(entry, sum=sum_of(entry.path))


def main() -> None:
    """Check all results, or accept what was changed."""
    parser = argparse.ArgumentParser(prog="python -m workflow.integrity", description=__doc__)
    parser.add_argument("--accept", nargs="+", type=Path, default=[], metavar="FILE")
    try:
        for path in parser.parse_args().accept:
            accept(path)
    except (OSError, ValueError) as error:
        sys.exit(str(error))
    if faults := damaged():
        sys.exit("\n".join([*map(str, faults), remedy(faults)]))


if __name__ == "__main__":
    main()
