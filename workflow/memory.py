"""The memory of a process that computes: how it is kept, and whether there is enough."""

from __future__ import annotations

import ctypes
import sys

from workflow.memory_room import memory_room

# Of mallopt in malloc.h of the GNU C library.
_TRIM_THRESHOLD, _TOP_PAD, _MMAP_MAX = -1, -2, -4
_PAD_BYTES = 64 << 20


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


def require_memory(needed_MB: float) -> None:
    """Refuse to start what there is no room for.

    Parameters
    ----------
    needed_MB
        Foretold peak of this process.

    Raises
    ------
    RuntimeError
        With both numbers, if there is less.
    """
    room = memory_room()
    if needed_MB > room.MB:
        raise RuntimeError(
            f"needs about {needed_MB:.0f} MB of memory, and {room.MB:.0f} MB are free{room.within};"
            f" {room.remedy}, or coarsen the mesh of the case (mesh.root_size_mm)"
        )
