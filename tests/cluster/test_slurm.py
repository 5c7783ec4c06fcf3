"""A case and a study on a real Slurm of one node give the numbers of the local run, bit for bit."""

import json
import subprocess
import sys
from dataclasses import dataclass

import pandas as pd
import pytest
import yaml

from tests.project import CASE, Project

pytestmark = [pytest.mark.cluster, pytest.mark.timeout(7200)]

# Coarse, so that the queue takes longer than the computing: what runs where is the question here.
COARSE = {"root_size_mm": 1.4}
STUDY = {
    "study": "queued",
    "title": "A small study",
    "case": CASE,
    "fixed": {
        "mesh.root_size_mm": 1.5,
        "units.segment.teeth": [35],
        "one_point.tooth": 35,
    },
    "factors": [
        {"name": "e_MPa", "key": "ligament.youngs_modulus_MPa", "levels": [0.2, 0.4]},
        {"name": "alloy", "key": "wire.alloy", "levels": ["beta_titanium", "stainless_steel"]},
    ],
    "design": "grid",
    "responses": ["force_N", "couple_Nmm", "target_ligament_p99_kPa"],
}
TABLES = ("runs.csv", "runs.parquet", "figures/main_effects.csv", "figures/interactions.csv")
SUBMITTED = "has been submitted with SLURM jobid"


@dataclass
class Both:
    """The same work done here and through the queue."""

    here: Project
    queued: Project
    told: str

    def bytes_of(self, name):
        return [(p.folder / "results" / name).read_bytes() for p in (self.here, self.queued)]


@pytest.fixture(scope="module")
def run_both(slurm, tmp_path_factory):
    """Run targets of two copies of the project, each prepared alike: here, and on the queue."""

    def run(prepare, *targets):
        folders = (tmp_path_factory.mktemp(name) for name in ("here", "queued"))
        here, queued = (Project(folder / "project") for folder in folders)
        for project in (here, queued):
            prepare(project)
        here.snakemake(*targets)
        profile = ("--workflow-profile", "workflow/profiles/slurm", "--jobs", "4")
        done = subprocess.run(
            queued.command(*targets, *profile),
            cwd=queued.folder,
            env=queued.environment | {name: slurm[name] for name in ("SLURM_CONF", "PATH")},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stdout[-5000:]
        return Both(here, queued, done.stdout)

    return run


@pytest.fixture(scope="module")
def case(run_both):
    def coarse(project):
        path = project.folder / project.case_file
        content = yaml.safe_load(path.read_text(encoding="utf-8")) | {"mesh": COARSE}
        path.write_text(yaml.safe_dump(content, allow_unicode=True), encoding="utf-8")

    return run_both(coarse, f"results/cases/{CASE}/summary.json")


@pytest.fixture(scope="module")
def study(run_both):
    def small(project):
        path = project.folder / "configs" / "studies" / "queued.yaml"
        path.write_text(yaml.safe_dump(STUDY, sort_keys=False), encoding="utf-8")

    targets = (f"results/studies/queued/{name}" for name in ("report.md", "explorer.html"))
    return run_both(small, *targets)


def test_jobs_of_a_case_went_through_the_queue(case):
    assert case.told.count(SUBMITTED) >= 5


def test_numbers_of_a_case_are_those_of_the_local_run_bit_for_bit(case):
    first, second = (json.loads(text) for text in case.bytes_of(f"cases/{CASE}/summary.json"))
    assert first == second
    for name in ("equilibrium.json", "force_activation.json"):
        first, second = case.bytes_of(f"cases/{CASE}/{name}")
        assert first == second


def test_short_jobs_of_a_study_share_submissions(study):
    """Four teeth are meshed in one, solved in four; then the table, then report and page in one."""
    assert study.told.count(SUBMITTED) == 7


def test_table_of_a_study_is_that_of_the_local_run_bit_for_bit(study):
    for name in TABLES:
        first, second = study.bytes_of(f"studies/queued/{name}")
        assert first == second, name
    rows = pd.read_parquet(study.queued.folder / "results" / "studies" / "queued" / "runs.parquet")
    assert rows["note"].tolist() == [""] * 4
    assert rows[STUDY["responses"]].nunique().tolist() == [4, 4, 4]


def test_no_run_starts_while_jobs_of_a_killed_one_are_queued(slurm, tmp_path):
    project = Project(tmp_path / "project")
    environment = project.environment | {name: slurm[name] for name in ("SLURM_CONF", "PATH")}
    name = "0c9b7d1e-2f5a-4e0b-9d3c-8a1f6e7b5c4d"  # as Snakemake names the jobs of a run
    submit = ["sbatch", "--parsable", "--hold", "--wrap=true", f"--job-name={name}"]

    def done(*command):
        told = subprocess.run(
            command, cwd=project.folder, env=environment, capture_output=True, text=True
        )
        return told.returncode, told.stdout + told.stderr

    target = f"results/cases/{CASE}/case.resolved.yaml"
    launch = (sys.executable, "-m", "workflow.launch", "--cores", "1", target)
    status, job = done(*submit, f"--chdir={project.folder}")
    assert status == 0, job
    status, said = done(*launch)
    assert status == 1
    assert f"scancel {job.strip()}" in said
    assert not (project.folder / target).exists()
    done("scancel", job.strip())
    assert done(*launch)[0] == 0
