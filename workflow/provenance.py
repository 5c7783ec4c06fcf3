"""Where numbers come from: version and commit of the code, platform, versions of libraries."""

from __future__ import annotations

import platform
import subprocess
import sys
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from workflow.digest import ROOT
from workflow.specs import Spec

LIBRARIES = ("gmsh", "meshio", "numpy", "pypardiso", "pyvista", "scikit-fem", "scipy", "snakemake")


def code_version() -> dict[str, str]:
    """Version of the project, and the commit with a mark for local changes."""
    return {"version": _version("onecouple"), "commit": _commit()}


def provenance(case: Spec, stages: dict[str, Any]) -> dict[str, Any]:
    """The content of ``provenance.json``.

    Parameters
    ----------
    case
        The resolved case.
    stages
        Ids of supports and wire, and the digest of the code of each stage.
    """
    return {"case": case["case"], "stages": stages} | made_by()


def made_by() -> dict[str, Any]:
    """Code, interpreter, platform and libraries of this run."""
    return {
        "code": code_version(),
        "python": sys.version.split()[0],
        "platform": platform.platform(),
        "processor": platform.machine(),
        "libraries": {name: _version(name) for name in LIBRARIES},
    }


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"


def _commit() -> str:
    """Short commit id, with ``+changes`` if the work tree differs; ``unknown`` outside git."""

    def git(*arguments: str) -> str:
        return subprocess.run(
            ["git", *arguments], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout.strip()

    try:
        changes = git("status", "--porcelain", "--untracked-files=no")
        return git("rev-parse", "--short=12", "HEAD") + ("+changes" if changes else "")
    except (OSError, subprocess.CalledProcessError):
        return "unknown"
