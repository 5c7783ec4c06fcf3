"""Scanned teeth of a case: read once, kept under ``results/scans`` for all that ask for them.

How long a scan's crown is and where it stands decides where the wire is held, which a plan has to
know before any rule runs. A scan is therefore read when its case is, not by a rule, and the sums of
what is kept lie beside it, not beside a log. Whoever reads it holds it against them first. What is
damaged is read again from the scan, and that is said: the folder's name states content and code, so
the scan gives the same files once more, or is refused.
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import numpy as np

from geometry.frame import ToothFrame
from geometry.measures import ToothMeasures
from workflow.digest import module_digest, spec_id
from workflow.integrity import SUFFIX, Fault, read_record, sum_of
from workflow.records import read_json
from workflow.specs import Spec
from workflow.tooth_specs import dimensions_of

FOLDER = Path("results/scans")
RECORD, SURFACE, SUMS = "scan.json", "tooth.vtp", f"scan{SUFFIX}"


def file_digest(path: str | Path) -> str:
    """SHA-256 of a file's content."""
    return sum_of(Path(path))


def scan_folder(shape: Spec) -> Path:
    """Where the scan of a shape spec is kept: ``scan.json``, ``tooth.vtp`` and their sums."""
    return FOLDER / spec_id(shape["scan"] | {"tooth": shape["tooth"], "code": _code()})


@cache
def _code() -> str:
    return module_digest("workflow/scan_files.py")


def kept_scan(shape: Spec) -> Path:
    """Folder of a scan, as it was written; read from the scan itself if it is missing or damaged.

    Raises
    ------
    ValueError
        If the scan is refused, or is not the file that the case was read with; says why.
    """
    folder = scan_folder(shape)
    if faults := faults_of_kept(folder):
        # Only here: its libraries take longer to load than a plan without scans takes to make.
        from workflow.scan_files import read_and_keep

        if folder.exists():
            said = "; ".join(map(str, faults))
            print(f"{said}; {shape['scan']['file']} is read again", file=sys.stderr)
        read_and_keep(shape)
    return folder


def faults_of_kept(folder: Path) -> list[Fault]:
    """What is missing or damaged in the folder of a scan; none if all is as it was written."""
    entries, files = read_record(folder / SUMS), {folder / RECORD, folder / SURFACE}
    if {entry.path for entry in entries} != files:
        return [Fault(folder / SUMS, "is no record of the files of this folder", "")]
    return [Fault(entry.path, what, "") for entry in entries if (what := entry.fault())]


def scan_record(shape: Spec) -> Spec:
    """Content of ``scan.json``.

    Raises
    ------
    ValueError
        If the scan is refused; says why.
    """
    record: Spec = read_json(kept_scan(shape) / RECORD)
    return record


def measures_of(shape: Spec) -> ToothMeasures:
    """Measures of the tooth of a shape spec, drawn or scanned.

    Raises
    ------
    ValueError
        If its scan is refused.
    """
    if shape["scan"] is not None:
        return ToothMeasures(**scan_record(shape)["measures"])
    return ToothMeasures.of(dimensions_of(shape))


def frame_in_file(shape: Spec) -> ToothFrame:
    """Where a scan's file has the tooth."""
    frame = scan_record(shape)["frame"]
    return ToothFrame(np.array(frame["origin"]), np.array(frame["axes"]))
