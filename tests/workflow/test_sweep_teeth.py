"""Teeth in chunks through the workflow: planned by their number, made once, and one more alone."""

import json

import pandas as pd
import pytest
import yaml

from tests.campaigns import runs
from tests.campaigns.runs import REPORT

# Some Snakemakes a test, each a minute of wall time where others want the machine too: a limit that
# is to find what hangs, not what waits.
pytestmark = pytest.mark.timeout(3600)

STUDY = runs.STUDY | {
    "responses": ["force_N", "target_ligament_p99_kPa", "resistance_mesiodistal_share_35"]
}


def write(project, **changes):
    path = project.folder / "configs" / "studies" / "few.yaml"
    path.write_text(yaml.safe_dump(STUDY | changes, sort_keys=False), encoding="utf-8")


def test_a_population_is_planned_in_chunks(project):
    """500 molars and 9 anchor teeth, twenty a job, and no job of a single tooth."""
    jobs = {"sweep_teeth": 26, "sweep_runs": 1, "sweep_report": 1}
    assert project.planned("results/studies/population/report.md") == jobs


def test_a_study_makes_its_teeth_in_chunks_and_an_added_one_alone(project):
    write(project)
    assert project.planned(REPORT) == {"sweep_teeth": 1, "sweep_runs": 1, "sweep_report": 1}
    project.snakemake(REPORT)
    folder = project.folder / "results" / "studies" / "few"
    rows = pd.read_parquet(folder / "runs.parquet")
    assert rows["note"].tolist() == ["", ""]
    assert rows["resistance_mesiodistal_share_35"].nunique() == 2
    report = (folder / "report.md").read_text("utf-8")
    assert "3 different teeth: 3 made, 0 that could not be" in report
    assert "s processor time a tooth" in report
    assert (folder / "figures" / "spread.csv").exists()
    assert not (project.folder / "results" / "supports").exists()
    assert project.planned(REPORT) == {}

    write(project, design={"random": {"runs": 3, "seed": 1}})
    project.snakemake(REPORT)
    records = json.loads((folder / "teeth" / "0.json").read_text("utf-8"))
    assert [record["made_here"] for record in records] == [False, False, False, True]
    again = pd.read_parquet(folder / "runs.parquet")
    pd.testing.assert_frame_equal(again[:2], rows)
    log = (folder / "logs" / "sweep_runs.log").read_text("utf-8")
    assert "3 runs: 2 kept, 1 computed, 0 failed" in log
