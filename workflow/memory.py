"""The memory of a process that computes: how it is kept, and whether there is enough."""

from __future__ import annotations

import ctypes
import sys
from pathlib import Path

import psutil

# Of mallopt in malloc.h of the GNU C library.
_TRIM_THRESHOLD, _TOP_PAD, _MMAP_MAX = -1, -2, -4
_PAD_BYTES = 64 << 20
_CGROUPS = Path("/sys/fs/cgroup")
_MB = 2**20


def keep_freed_memory() -> None:
    """Let this process keep the memory of arrays it has dropped, for the next ones.

    By default the GNU C library gives the memory of large arrays back at once, and every new array
    is fetched from the system page by page: on the matrices of an elastic tooth that takes a fifth
    of the whole time. The peak stays as it was. Without effect where the C library has no
    ``mallopt``.
    """
    if not sys.platform.startswith("linux"):
        return
    library = ctypes.CDLL(None)
    if hasattr(library, "mallopt"):
        library.mallopt(_MMAP_MAX, 0)
        library.mallopt(_TRIM_THRESHOLD, 2**31 - 1)
        library.mallopt(_TOP_PAD, _PAD_BYTES)


def free_memory_MB() -> float:
    """Memory that this process may still take: of the machine, or of its control group if less."""
    return min([psutil.virtual_memory().available, *_left_in_groups()]) / _MB


def _left_in_groups() -> list[int]:
    """What is left (bytes) in the control groups of this process that have a limit."""
    try:
        own = Path("/proc/self/cgroup").read_text(encoding="ascii")
    except OSError:
        return []
    group = _CGROUPS / own.strip().rpartition("::")[2].lstrip("/")  # version 2 has one line
    left = []
    for folder in (group, *group.parents):
        try:
            limit = int((folder / "memory.max").read_text(encoding="ascii"))
            left.append(limit - int((folder / "memory.current").read_text(encoding="ascii")))
        except (OSError, ValueError):  # no such group, or no limit
            continue
    return left


def require_memory(needed_MB: float) -> None:
    """Refuse to start what the machine has no room for.

    Parameters
    ----------
    needed_MB
        Foretold peak.

    Raises
    ------
    RuntimeError
        With both numbers, if less is free.
    """
    free = free_memory_MB()
    if needed_MB > free:
        raise RuntimeError(
            f"needs about {needed_MB:.0f} MB of memory, and {free:.0f} MB are free; close other "
            "programs, use a larger machine, or coarsen the mesh of the case (mesh.root_size_mm)"
        )
