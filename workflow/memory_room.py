"""How much memory a process may come to hold, by the tightest of all limits on it."""

from __future__ import annotations

import os
import re
import resource
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import psutil

_CGROUPS = Path("/sys/fs/cgroup")
# Files of a group with its limit, its use and what of that is cache, by version of the groups.
_GROUP_FILES = {
    "": ("memory.max", "memory.current", ("active_file", "inactive_file")),
    "memory": (
        "memory.limit_in_bytes",
        "memory.usage_in_bytes",
        ("total_active_file", "total_inactive_file"),
    ),
}
_ASKED = ("MEM_PER_NODE", "MEM_PER_CPU", "CPUS_ON_NODE")
# What a stage maps without ever holding it, beyond what its modules have mapped: libraries loaded
# late, stacks, the heap's reserve. Supports took 290 and 100 of them, on two threads 360 and 160.
_MAPPED_MB, _RESERVED_MB = 400, 200
_MB = 2**20


@dataclass(frozen=True)
class Room:
    """Memory that this process may come to hold by one limit.

    Attributes
    ----------
    MB
        How much, with what it holds already.
    within
        The limit in words, after "MB are free"; empty for the machine itself.
    remedy
        What to do where it is too little.
    """

    MB: float
    within: str
    remedy: str


def memory_room() -> Room:
    """The tightest of all limits: machine, control groups, ``ulimit``, memory asked of Slurm."""
    held = psutil.Process().memory_info().rss
    remedy = "close other programs, use a larger machine"
    rooms = [Room(held + psutil.virtual_memory().available, "", remedy)]
    within = " within the limit of this container or queue"
    remedy = "give it more (--memory of a container, --mem of Slurm)"
    rooms += [Room(room, within, remedy) for room in (*_in_groups(held), *_granted_by_slurm())]
    for letter, left in _left_to_process():
        rooms.append(Room(held + left, f" within ulimit -{letter}", f"raise it (ulimit -{letter})"))
    tightest = min(rooms, key=lambda room: room.MB)
    return replace(tightest, MB=max(tightest.MB, 0) / _MB)


def _left_to_process() -> Iterator[tuple[str, int]]:
    """Letter of ``ulimit``, and what it leaves (bytes) to be held, of address space and of data."""
    memory = psutil.Process().memory_info()
    for letter, kind, used, aside_MB in (
        ("v", resource.RLIMIT_AS, memory.vms, _MAPPED_MB),
        ("d", resource.RLIMIT_DATA, getattr(memory, "data", 0), _RESERVED_MB),
    ):
        most, _ = resource.getrlimit(kind)
        if most != resource.RLIM_INFINITY:
            yield letter, most - used - aside_MB * _MB


def _granted_by_slurm() -> Iterator[int]:
    """What was asked of Slurm (bytes) for all processes of a job, enforced or not."""
    asked = {name: os.environ.get(f"SLURM_{name}", "") for name in _ASKED}
    numbers = {name: int(text) for name, text in asked.items() if text.isdigit()}
    node = numbers.get("MEM_PER_NODE") or (
        numbers.get("MEM_PER_CPU", 0) * numbers.get("CPUS_ON_NODE", 1)
    )
    if node:  # 0 is all that a node has
        yield node * _MB


def _in_groups(held: int) -> Iterator[int]:
    """What this process may hold (bytes) in each of its control groups that has a limit.

    The group of a job of Slurm counts as a whole: it was granted to the job with the Snakemakes
    that start it, so that what these hold is part of what the job asked for.
    """
    try:
        lines = Path("/proc/self/cgroup").read_text(encoding="ascii").splitlines()
    except OSError:
        return
    for line in lines:
        _, controllers, own = line.split(":", 2)
        if controllers not in _GROUP_FILES:
            continue
        most, used, cache = _GROUP_FILES[controllers]
        root = _CGROUPS / controllers
        for folder in (root / own.lstrip("/"), *(root / own.lstrip("/")).parents):
            try:
                limit = int((folder / most).read_text(encoding="ascii"))
                in_use = int((folder / used).read_text(encoding="ascii"))
                stat = dict(re.findall(r"(\w+) (\d+)", (folder / "memory.stat").read_text()))
            except (OSError, ValueError):  # no such group, or no limit
                continue
            given_back = sum(int(stat.get(name, 0)) for name in cache)  # when memory gets short
            others = 0 if "SLURM_JOB_ID" in os.environ else max(in_use - given_back - held, 0)
            yield limit - others
