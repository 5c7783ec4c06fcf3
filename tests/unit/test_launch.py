"""Before and after a run: one at a time, room to write, and what failed said at the end."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from workflow import launch
from workflow.integrity import RECORDED, write_record


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / ".snakemake" / "locks").mkdir(parents=True)
    return tmp_path


@pytest.fixture
def lock(folder):
    """What Snakemake leaves when it is killed."""
    path = folder / ".snakemake" / "locks" / "0.output.lock"
    path.write_text("results/sheet.html\n", encoding="utf-8")
    return path


def test_a_second_run_is_refused_with_the_process_of_the_first():
    with (
        launch.only_run(),
        pytest.raises(launch.RefusedError, match=f"process {os.getpid()} since"),
        launch.only_run(),
    ):
        pytest.fail("both run")
    with launch.only_run():
        pass


def test_the_lock_of_a_killed_run_is_removed(lock, capsys):
    with launch.only_run():
        assert not lock.exists()
    assert "removing the lock of a run that was killed" in capsys.readouterr().err


def test_a_job_that_outlived_its_run_is_waited_for(lock):
    wait = "import time; time.sleep(60)"
    job = subprocess.Popen([sys.executable, "-c", wait, ".snakemake/scripts/tmp.equilibrium.py"])
    try:
        with pytest.raises(launch.RefusedError, match=f"process {job.pid}"), launch.only_run():
            pytest.fail("it runs")
    finally:
        job.kill()
        job.wait()
    assert lock.exists()


@pytest.fixture
def queue(folder, monkeypatch):
    """An squeue that prints what is put into the returned file."""
    program, lines = folder / "bin" / "squeue", folder / "lines"
    program.parent.mkdir()
    program.write_text(f"#!/bin/sh\nexec cat {lines}\n", encoding="utf-8")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{program.parent}:{os.environ['PATH']}")
    monkeypatch.setattr(launch, "_snakemake", lambda arguments: 0)
    return lines


RUN = "0c9b7d1e-2f5a-4e0b-9d3c-8a1f6e7b5c4d"


def test_jobs_of_a_killed_run_in_the_queue_are_waited_for(folder, queue, capsys):
    queue.write_text(f"12 {RUN} {folder}\n13_4 mine_{RUN} {folder}\n", encoding="utf-8")
    assert launch.main(["--cores", "1"]) == 1
    said = capsys.readouterr().err
    assert f"{folder}: the queue still holds jobs of a run that was killed (12, 13_4)" in said
    assert "scancel 12 13_4" in said


def test_other_jobs_in_the_queue_and_a_queue_that_is_silent_hold_up_nothing(folder, queue):
    queue.write_text(f"12 {RUN} /elsewhere\n13 shell {folder}\n", encoding="utf-8")
    assert launch.main(["--cores", "1"]) == 0
    queue.unlink()
    assert launch.main(["--cores", "1"]) == 0


def logged(folder, said):
    """Logs of jobs, by their names."""
    logs = folder / "results" / "x" / "logs"
    logs.mkdir(parents=True, exist_ok=True)
    for name, words in said.items():
        (logs / f"{name}.log").write_text(f"{name} case=x: {words}\n", encoding="utf-8")


def test_what_failed_and_what_was_stopped_is_said_at_the_end(folder):
    finished = "started\nc case=x: finished in 1.0 s; sums recorded"
    logged(folder, {"a": "failed: out of reach", "b": "started", "c": finished})
    first, second = launch.failures(0.0)
    assert first == "a case=x (results/x/logs/a.log) ended with an error: out of reach"
    assert second.startswith("b case=x (results/x/logs/b.log) was stopped before its end")


def ending(capsys, monkeypatch, *arguments):
    """What is said after a run that makes nothing."""
    monkeypatch.setattr(launch, "_snakemake", lambda arguments: 1)
    monkeypatch.setattr(launch.time, "time", lambda: 0.0)
    assert launch.main(["--cores", "1", *arguments]) == 1
    return capsys.readouterr().err.strip().splitlines()


@pytest.fixture
def damage(folder):
    """Two tables that are not what their job wrote."""
    logged(folder, {"before": f"finished in 1.0 s; {RECORDED}"})
    tables = [Path("results/x/first.csv"), Path("results/x/second.csv")]
    for table in tables:
        table.write_text("as made", encoding="utf-8")
    write_record(Path("results/x/logs/before.sha256"), tables)
    for table in tables:
        table.write_text("damaged", encoding="utf-8")
    return [f"{table}: is not what its job wrote" for table in tables]


def test_damage_that_jobs_met_is_told_once_with_one_remedy(folder, damage, capsys, monkeypatch):
    """Two jobs read one of two damaged tables, one of them also a file without a record."""
    met = f"failed: {damage[0]}\nTo restore what this run uses: the same command --forcerun"
    logged(folder, {"a": f"{met} results/x/first.csv", "b": f"{met} results/x/first.csv"})
    logged(folder, {"c": "failed: results/y.csv: has no record" + met[met.index("\n") :] + " y"})
    said = ending(capsys, monkeypatch, "results/x/sheet.html")
    a, b = (f"{name} case=x (results/x/logs/{name}.log)" for name in "ab")
    assert said == [
        f"{a}, {b} ended with an error: {damage[0]}",
        "c case=x (results/x/logs/c.log) ended with an error: results/y.csv: has no record",
        damage[1],
        "To restore what this run uses: ./workflow/run results/x/sheet.html "
        "--forcerun results/x/first.csv y results/x/second.csv",
    ]


def test_damage_that_no_job_met_is_told_after_the_run(damage, capsys, monkeypatch):
    said = ending(capsys, monkeypatch)
    assert said[:2] == damage
    assert said[2].endswith("./workflow/run --forcerun results/x/first.csv results/x/second.csv")


def test_a_full_disk_is_told_before_anything_starts(folder, monkeypatch, capsys):
    def full(**options):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(launch.tempfile, "TemporaryFile", full)
    assert launch.main(["--cores", "1"]) == 1
    said = capsys.readouterr().err.strip()
    assert said.startswith(f"{folder / 'results'}: no room left on the disk")
