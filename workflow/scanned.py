"""Scanned teeth of a case: read once, kept under ``results/scans`` for all that ask for them.

How long a scan's crown is and where it stands decides where the wire is held, which a plan has to
know before any rule runs. A scan is therefore read when its case is, not by a rule.
"""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

import numpy as np

from geometry.frame import ToothFrame
from geometry.measures import ToothMeasures
from workflow.digest import module_digest, spec_id
from workflow.records import read_json
from workflow.specs import Spec
from workflow.tooth_specs import dimensions_of

FOLDER = Path("results/scans")


def file_digest(path: str | Path) -> str:
    """SHA-256 of a file's content."""
    return hashlib.sha256(Path(path).read_bytes()).hexdigest()


def scan_folder(shape: Spec) -> Path:
    """Where the scan of a shape spec is kept: ``scan.json`` and ``tooth.vtp``."""
    return FOLDER / spec_id(shape["scan"] | {"tooth": shape["tooth"], "code": _code()})


@cache
def _code() -> str:
    return module_digest("workflow/scan_files.py")


def scan_record(shape: Spec) -> Spec:
    """Content of ``scan.json``, read from the scan itself if nothing is kept yet.

    Raises
    ------
    ValueError
        If the scan is refused; says why.
    """
    path = scan_folder(shape) / "scan.json"
    if not path.is_file():
        # Only here: its libraries take longer to load than a plan without scans takes to make.
        from workflow.scan_files import read_and_keep

        read_and_keep(shape)
    record: Spec = read_json(path)
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
