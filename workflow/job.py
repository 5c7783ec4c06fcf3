"""What every stage does around its one function: keep a log, and fail in words."""

from __future__ import annotations

import sys
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

from workflow.memory import keep_freed_memory


@contextmanager
def job(stage: Any) -> Iterator[None]:
    """Run the body of a stage with its output in the stage's log.

    A failure that the libraries foresee (an impossible activation, a mesh below quality, a system
    that could not be solved) ends the stage with its message alone; the log keeps the traceback.

    Parameters
    ----------
    stage
        The object that Snakemake gives to scripts: rule, wildcards and log are used.

    Raises
    ------
    SystemExit
        With one clear message, if the body raised a `ValueError` or a `RuntimeError`.
    """
    name = " ".join([stage.rule, *(f"{k}={v}" for k, v in stage.wildcards.items())])
    path = Path(stage.log[0])
    path.parent.mkdir(parents=True, exist_ok=True)
    started = time.perf_counter()
    keep_freed_memory()
    with path.open("w", encoding="utf-8", buffering=1) as log:
        print(f"{name}: started {time.strftime('%Y-%m-%d %H:%M:%S')}", file=log)
        try:
            with redirect_stdout(log), redirect_stderr(log):
                yield
        except (ValueError, RuntimeError) as error:
            traceback.print_exc(file=log)
            sys.exit(f"{name}: {error}")
        except BaseException:
            traceback.print_exc(file=log)
            raise
        print(f"{name}: finished in {time.perf_counter() - started:.1f} s", file=log)
