"""A parameter study through the workflow: what it writes, and what a new level reruns."""

import pandas as pd
import pytest
import yaml

# Some Snakemakes a test, each a minute of wall time where others want the machine too: a limit that
# is to find what hangs, not what waits.
pytestmark = pytest.mark.timeout(3600)

STUDY = {
    "study": "small",
    "title": "A small study",
    "case": "lower_molar_uprighting",
    "factors": [
        {"name": "alloy", "key": "wire.alloy", "levels": ["beta_titanium", "stainless_steel"]},
        {"name": "span_mm", "key": "wire.span_mm", "levels": [20, 60]},
    ],
    "design": "grid",
    "responses": ["force_N", "target_ligament_p99_kPa"],
}
REPORT = "results/studies/small/report.md"


def write(project, **changes):
    path = project.folder / "configs" / "studies" / "small.yaml"
    path.write_text(yaml.safe_dump(STUDY | changes, sort_keys=False), encoding="utf-8")


def test_a_study_shares_supports_and_computes_only_what_is_new(copy_of_finished):
    project = copy_of_finished
    write(project)
    assert project.planned(REPORT) == {"sweep_runs": 1, "sweep_report": 1}
    project.snakemake(REPORT)
    folder = project.folder / "results" / "studies" / "small"
    rows = pd.read_parquet(folder / "runs.parquet")
    assert rows.columns.tolist() == [
        "run",
        "alloy",
        "span_mm",
        "force_N",
        "target_ligament_p99_kPa",
        "note",
    ]
    assert (rows["note"] != "").tolist() == [False, True, False, True]  # off the segment
    assert rows["force_N"].notna().tolist() == [True, False, True, False]
    assert len(pd.read_csv(folder / "runs.csv")) == 4
    record = yaml.safe_load((folder / "study.resolved.yaml").read_text("utf-8"))
    assert record["runs"]["failed"] == 2
    assert record["base_case"]["wire"]["elements"] == 40
    figures = {path.name for path in (folder / "figures").iterdir()}
    assert {"main_effects.csv", "main_effects.svg", "interactions_force_N.png"} <= figures
    report = (folder / "report.md").read_text("utf-8")
    assert "2 of 4 runs solved" in report
    assert project.planned(REPORT) == {}

    write(project, factors=[STUDY["factors"][0], STUDY["factors"][1] | {"levels": [20, 22, 60]}])
    project.snakemake(REPORT)
    log = (folder / "logs" / "sweep_runs.log").read_text("utf-8")
    assert "6 runs: 4 kept, 2 computed, 2 failed" in log
    again = pd.read_parquet(folder / "runs.parquet")
    assert set(rows["run"]) < set(again["run"])


def test_teeth_that_differ_become_supports_of_their_own(copy_of_finished):
    project = copy_of_finished
    moduli = {"name": "e_MPa", "key": "ligament.youngs_modulus_MPa", "levels": [0.2, 0.4]}
    write(project, factors=[moduli])
    jobs = {"tooth_mesh": 8, "tooth_support": 8, "sweep_runs": 1, "sweep_report": 1}
    assert project.planned(REPORT) == jobs


def test_a_wrong_study_fails_in_words_and_only_when_it_is_asked_for(copy_of_finished):
    project = copy_of_finished
    write(project, responses=["force"])
    assert project.planned() == {}
    done = project.snakemake("--dry-run", REPORT, check=False)
    assert done.returncode != 0
    assert "small.yaml: line " in done.stdout
    assert "responses[0] = 'force': unknown response; did you mean force_N?" in done.stdout
