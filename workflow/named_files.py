"""Files that a user's file names: where they may lie, and how large they may be."""

from __future__ import annotations

from pathlib import Path


def file_fault(name: str, most_bytes: int) -> str | None:
    """Why a file that a case names is not read; None if it may be.

    A path is taken from the folder in which the workflow is run, and must stay in it: by ``..`` or
    a link a case copied from elsewhere would read what nobody meant. A full path says what it means
    and may lie anywhere.

    Parameters
    ----------
    name
        Path as written.
    most_bytes
        Greatest size.
    """
    path = Path(name)
    try:
        there, real = path.is_file(), path.resolve()
        size = path.stat().st_size if there else 0
    except (OSError, ValueError, RuntimeError):
        return "is no path of a file; correct it"
    if not path.is_absolute() and not real.is_relative_to(Path.cwd()):
        return (
            "leads out of the folder in which the workflow is run; copy the file into it, or write "
            f"its full path, {real}"
        )
    if not there:
        return "no such file; give its path from the folder in which the workflow is run"
    if size > most_bytes:
        return (
            f"has {size / 1e6:.0f} MB, and at most {most_bytes / 1e6:.0f} MB are read; leave one "
            "tooth in it, or thin its triangles out"
        )
    return None
