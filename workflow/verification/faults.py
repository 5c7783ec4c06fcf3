"""Deliberate faults in the code, each with the check that must notice it.

A check that passes proves little unless it fails when what it checks is broken. Each fault is one
change of one line, tried in a copy of the project.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
_COPIED = ("geometry", "fem", "workflow", "configs")


@dataclass(frozen=True)
class Fault:
    """One change of the code and the check that must fail then.

    Attributes
    ----------
    what
        The mistake in plain words.
    file
        Path from the project's folder.
    right, wrong
        Text as it is, found once in the file, and as the fault has it.
    check
        Id of the check that must fail.
    """

    what: str
    file: str
    right: str
    wrong: str
    check: str

    def planted(self, text: str) -> str:
        """The text of the file with the fault.

        Raises
        ------
        ValueError
            If the text to change does not stand there once.
        """
        if (n := text.count(self.right)) != 1:
            raise ValueError(
                f"{self.file}: {self.right!r} of fault {self.what!r} stands there {n} times; "
                "write a piece of the code that is there once"
            )
        return text.replace(self.right, self.wrong)


@dataclass(frozen=True)
class Caught:
    """What a check said of a fault.

    Attributes
    ----------
    fault
        The fault.
    failed
        Whether the check failed, as it must.
    error
        Its error; None if it raised.
    said
        What it raised, if it did.
    """

    fault: Fault
    failed: bool
    error: float | None
    said: str

    def record(self) -> dict[str, Any]:
        """Entry of ``faults.json``."""
        fault = self.fault
        return {
            "what": fault.what,
            "file": fault.file,
            "right": fault.right,
            "wrong": fault.wrong,
            "check": fault.check,
            "caught": self.failed,
            "error": self.error,
            "said": self.said,
        }


def try_fault(fault: Fault) -> Caught:
    """Run the check of a fault in a copy of the project that has it.

    Raises
    ------
    RuntimeError
        If the check could not be run at all, as where the fault breaks the import.
    """
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in _COPIED:
            shutil.copytree(
                ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__", "*.pyc")
            )
        file = copy / fault.file
        file.write_text(fault.planted(file.read_text(encoding="utf-8")), encoding="utf-8")
        done = subprocess.run(
            [sys.executable, "-m", "workflow.verification", "--json", fault.check],
            cwd=copy,
            env=os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"},
            capture_output=True,
            text=True,
            check=False,
        )
    try:
        (record,) = json.loads(done.stdout)
    except ValueError:
        raise RuntimeError(f"fault {fault.what!r}: {done.stderr.strip()[-500:]}") from None
    return Caught(fault, not record["passed"], record["error"], record["note"])


FAULTS: tuple[Fault, ...] = ()
