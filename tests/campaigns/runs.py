"""Runs of the default case and of a small study, both on coarse meshes, to be disturbed."""

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import yaml

from tests.project import Project

STUDY = {
    "study": "few",
    "title": "A few teeth",
    "case": "lower_molar_uprighting",
    "fixed": {
        "mesh.root_size_mm": 1.5,
        "units.segment.teeth": [35],
        "one_point.tooth": 35,
    },
    "factors": [
        {
            "name": "root_length",
            "key": "teeth.35.dimensions.root_length_mm",
            "normal": {"mean": 14.0, "sd": 1.0, "low": 11.0, "high": 17.0},
        }
    ],
    "design": {"random": {"runs": 2, "seed": 1}},
    "responses": ["force_N", "resistance_mesiodistal_share_35"],
    "teeth_in_chunks": True,
}
REPORT = "results/studies/few/report.md"
TARGETS = {"default": (), "study": (REPORT,)}


class CoarseProject(Project):
    """A copy of the project whose teeth have large elements, run as ``./workflow/run`` does."""

    def __init__(self, folder):
        super().__init__(folder)
        self.edit(self.case_file, "wire:\n", "mesh: {root_size_mm: 1.5}\nwire:\n")
        path = folder / "configs" / "studies" / "few.yaml"
        path.write_text(yaml.safe_dump(STUDY, sort_keys=False), encoding="utf-8")

    def command(self, *arguments, cores=1):
        program = [sys.executable, "-m", "workflow.launch"]
        return [*program, "--cores", str(cores), *arguments]

    def start(self, *arguments, **options):
        """Start a run in a process group of its own, so that all of it can be killed."""
        return subprocess.Popen(
            self.command(*arguments, **options),
            cwd=self.folder,
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )

    def run(self, *arguments, **options):
        """Run to the end: exit status, what was said, and seconds."""
        started = time.perf_counter()
        process = self.start(*arguments, **options)
        said, _ = process.communicate()
        return process.returncode, said, time.perf_counter() - started

    def run_and_kill(self, after_s, *arguments, whole_group=True):
        """Kill a run without warning; whether it was still at work."""
        process = self.start(*arguments)
        try:
            process.communicate(timeout=after_s)
            return False
        except subprocess.TimeoutExpired:
            if whole_group:
                os.killpg(process.pid, signal.SIGKILL)
            else:
                process.kill()
            process.communicate()  # jobs that outlive their run hold the pipe: they end first
            return True

    def tables(self):
        """Every table by its path below the results."""
        results = self.folder / "results"
        return {
            path.relative_to(results).as_posix(): path.read_bytes()
            for path in sorted(results.rglob("*.csv"))
            if "reference" not in path.parts
        }


def different(tables, reference):
    """Names of tables that are missing, added, or not the same bytes."""
    return sorted(n for n in tables.keys() | reference.keys() if tables.get(n) != reference.get(n))


def new_folder(parent, name):
    """A folder's path in a parent, free of what was there."""
    folder = Path(parent) / name
    shutil.rmtree(folder, ignore_errors=True)
    return folder
