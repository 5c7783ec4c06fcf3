"""What every stage does around its one function: trust nothing damaged, log, and fail in words."""

from __future__ import annotations

import errno
import os
import sys
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout, suppress
from pathlib import Path
from typing import Any, TextIO

from workflow.integrity import RECORDED, record_of, verify, write_record
from workflow.memory import keep_freed_memory, require_memory

FAILED = ": failed: "
_FORESEEN = (ValueError, RuntimeError, OSError, MemoryError)
_AGAIN = "then run the same command again; what is finished is kept"


@contextmanager
def job(stage: Any) -> Iterator[None]:
    """Run the body of a stage with its output in the stage's log.

    Before it, the memory of the machine is held against what the stage asks for, and every input
    against what the stage before recorded of it; after it, the sums of all outputs are recorded.
    A failure that the libraries foresee (an impossible activation, a mesh below quality, a system
    that could not be solved), a damaged input, a full disk or memory ends the stage with its
    message alone; the log keeps the traceback.

    Parameters
    ----------
    stage
        The object that Snakemake gives to scripts: rule, wildcards, input, output, log and
        resources are used.

    Raises
    ------
    SystemExit
        With one clear message, if the failure was foreseen.
    """
    name = " ".join([stage.rule, *(f"{k}={v}" for k, v in stage.wildcards.items())])
    started = time.perf_counter()
    keep_freed_memory()
    with _log(name, Path(stage.log[0])) as log:
        print(f"{name}: started {time.strftime('%Y-%m-%d %H:%M:%S')}", file=log)
        try:
            with redirect_stdout(log), redirect_stderr(log):
                record = record_of(stage.log[0])
                record.unlink(missing_ok=True)
                require_memory(stage.resources.get("mem_mb", 0))
                verify(stage.input)
                yield
                write_record(record, stage.output)
            spent = time.perf_counter() - started
            print(f"{name}: finished in {spent:.1f} s; {RECORDED}", file=log)
        except _FORESEEN as error:
            _tell(log, name, in_words(error))
            sys.exit(f"{name}: {in_words(error)}")
        except BaseException as error:
            _tell(log, name, f"{type(error).__name__}: {error}")
            raise


@contextmanager
def _log(name: str, path: Path) -> Iterator[TextIO]:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        log = path.open("w", encoding="utf-8", buffering=1)
    except OSError as error:
        sys.exit(f"{name}: {in_words(error)}")
    try:
        yield log
    finally:
        with suppress(OSError):  # a full disk has been told of already
            log.close()


def _tell(log: TextIO, name: str, message: str) -> None:
    with suppress(OSError):
        traceback.print_exc(file=log)
        print(f"{name}{FAILED}{message}", file=log)


def in_words(error: BaseException) -> str:
    """What went wrong and what to do about it."""
    if isinstance(error, MemoryError):
        return f"not enough memory ({error}); close other programs or coarsen the mesh, {_AGAIN}"
    if not isinstance(error, OSError) or error.errno is None:
        return str(error)
    place = error.filename or os.getcwd()
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{place}: no room left on the disk; make room, {_AGAIN}"
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return f"{place}: may not be written or read ({error.strerror}); allow it, {_AGAIN}"
    if error.errno == errno.ENOENT:
        return f"{place}: is missing; put it back, {_AGAIN}"
    return f"{place}: {error.strerror}"
