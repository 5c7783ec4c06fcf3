"""A case on a real Slurm of one node gives the numbers of the local run, bit for bit."""

import json
import subprocess

import pytest
import yaml

from tests.project import CASE, Project

pytestmark = [pytest.mark.cluster, pytest.mark.timeout(1800)]

# Coarse, so that the queue takes longer than the computing: what runs where is the question here.
COARSE = {"root_size_mm": 1.4}


@pytest.fixture(scope="module")
def both(slurm, tmp_path_factory):
    """The same coarse case run here and through the queue."""
    here, queued = (Project(tmp_path_factory.mktemp(name) / "project") for name in ("a", "b"))
    for project in (here, queued):
        path = project.folder / project.case_file
        case = yaml.safe_load(path.read_text(encoding="utf-8")) | {"mesh": COARSE}
        path.write_text(yaml.safe_dump(case, allow_unicode=True), encoding="utf-8")
    target = f"results/cases/{CASE}/summary.json"
    here.snakemake(target)
    done = subprocess.run(
        queued.command(target, "--workflow-profile", "workflow/profiles/slurm", "--jobs", "4"),
        cwd=queued.folder,
        env=queued.environment | {name: slurm[name] for name in ("SLURM_CONF", "PATH")},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-5000:]
    return here, queued, done.stdout


def test_jobs_went_through_the_queue(both):
    _, _, told = both
    assert told.count("has been submitted with SLURM jobid") >= 5


def test_numbers_are_those_of_the_local_run_bit_for_bit(both):
    here, queued, _ = both
    first, second = (json.loads((p.results / "summary.json").read_text()) for p in (here, queued))
    assert first == second
    for name in ("equilibrium.json", "force_activation.json"):
        assert (here.results / name).read_bytes() == (queued.results / name).read_bytes()
