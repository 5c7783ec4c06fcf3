"""Before and after a run: one at a time, room to write, and what failed said at the end."""

import errno
import os
import subprocess
import sys

import pytest

from workflow import launch


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


def test_what_failed_and_what_was_stopped_is_said_at_the_end(folder):
    logs = folder / "results" / "x" / "logs"
    logs.mkdir(parents=True)
    for name, said in {
        "a": "a case=x: started\na case=x: failed: out of reach\n",
        "b": "b case=x: started\n",
        "c": "c case=x: started\nc case=x: finished in 1.0 s; sums recorded\n",
    }.items():
        (logs / f"{name}.log").write_text(said, encoding="utf-8")
    first, second = launch.failures(0.0)
    assert first == "a case=x ended with an error (results/x/logs/a.log): out of reach"
    assert second.startswith("b case=x was stopped before its end (results/x/logs/b.log)")


def test_a_full_disk_is_told_before_anything_starts(folder, monkeypatch, capsys):
    def full(**options):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(launch.tempfile, "TemporaryFile", full)
    assert launch.main(["--cores", "1"]) == 1
    said = capsys.readouterr().err.strip()
    assert said.startswith(f"{folder / 'results'}: no room left on the disk")
