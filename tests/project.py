"""A copy of the project to run the workflow in."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
PARTS = ("configs", "fem", "geometry", "workflow")
CASE = "lower_molar_uprighting"


class Project:
    """A copy of the project in a folder of its own."""

    def __init__(self, folder):
        self.folder = folder
        for part in PARTS:
            ignore = shutil.ignore_patterns("__pycache__")
            shutil.copytree(ROOT / part, folder / part, ignore=ignore)

    @classmethod
    def of(cls, folder):
        """One that is there already."""
        project = cls.__new__(cls)
        project.folder = folder
        return project

    def copy(self, folder):
        """With times kept, so that what is up to date stays so."""
        shutil.copytree(self.folder, folder, copy_function=shutil.copy2, symlinks=True)
        return self.of(folder)

    def command(self, *arguments):
        return [sys.executable, "-m", "snakemake", "--cores", "2", *arguments]

    @property
    def environment(self):
        return os.environ | {
            "PYTHONPATH": str(self.folder),
            "PYVISTA_OFF_SCREEN": "true",
            "VTK_DEFAULT_OPENGL_WINDOW": "vtkEGLRenderWindow",
            "MPLBACKEND": "Agg",
        }

    def snakemake(self, *arguments, check=True):
        """Run snakemake; its output with both streams together."""
        done = subprocess.run(
            self.command(*arguments),
            cwd=self.folder,
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            check=False,
        )
        if check:
            assert done.returncode == 0, done.stdout
        return done

    def planned(self, *arguments):
        """Number of planned jobs by rule."""
        text = self.snakemake("--dry-run", *arguments).stdout
        if "Nothing to be done" in text:
            return {}
        table = text.split("Job stats:")[-1].split("total")[0]
        return {rule: int(n) for rule, n in re.findall(r"^(\w+)\s+(\d+)$", table, re.M)}

    def edit(self, name, old, new):
        path = self.folder / name
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")

    @property
    def case_file(self):
        return f"configs/cases/{CASE}.yaml"

    @property
    def results(self):
        return self.folder / "results" / "cases" / CASE
