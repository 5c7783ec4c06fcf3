import os
import subprocess
import sys
import tempfile

import numpy as np
import pytest

from tests.campaigns.soak import (
    EVERY,
    Sample,
    Work,
    campaign,
    files_in,
    rss_MB,
    temporary_folder,
    verdict,
    watched_children,
)


def soaked(rounds=80, **growth):
    """Two hours of rounds with noise, in which some numbers grow by so much an hour."""
    rng = np.random.default_rng(3)
    base = {"rss_MB": 600.0, "children_MB": 400.0, "open_files": 12, "left": 0, "project": 900}
    found = []
    for k in range(rounds):
        hours = 2.0 * k / rounds
        numbers = {name: value + growth.get(name, 0) * hours for name, value in base.items()}
        numbers["rss_MB"] += rng.normal(0, 5) + 80 * (k > 5)
        numbers |= {name: int(numbers[name]) for name in ("open_files", "left", "project")}
        found.append(Sample(hours, **numbers, snakemake=k % EVERY == 0))
    return found


def test_what_stays_is_steady():
    found = verdict(soaked())
    assert (found["verdict"], found["grew"]) == ("steady", [])
    assert abs(found["rss_MB"]["per_hour"]) < 5


@pytest.mark.parametrize(
    ("name", "per_hour"),
    [("rss_MB", 30), ("children_MB", 30), ("open_files", 2), ("left", 2), ("project", 3)],
)
def test_what_grows_is_named(name, per_hour):
    assert verdict(soaked(**{name: per_hour}))["grew"] == [name]


def test_memory_of_children_is_seen():
    hold = "import time; held = bytearray(150_000_000); held[::4096] = b'x' * len(held[::4096]); "
    with watched_children() as most:
        subprocess.run([sys.executable, "-c", hold + "time.sleep(2)"], check=True)
    assert 140 < most[0] < 400
    assert rss_MB("self") > 20
    assert rss_MB(2**22) == 0.0


def test_temporary_files_go_to_a_folder_of_their_own(tmp_path):
    before = tempfile.gettempdir()
    with temporary_folder(tmp_path) as place:
        told = [sys.executable, "-c", "import tempfile; print(tempfile.gettempdir())"]
        child = subprocess.run(told, capture_output=True, text=True, check=True)
        assert tempfile.gettempdir() == child.stdout.strip() == str(place)
    assert tempfile.gettempdir() == before
    assert str(tmp_path) not in os.environ.get("TMPDIR", "")


def test_a_round_leaves_no_file_behind(tmp_path):
    with temporary_folder(tmp_path) as left:
        work = Work(tmp_path)
        before = files_in(tmp_path)
        assert not work.round(1)
        made = files_in(tmp_path)
        assert not work.round(2)
        assert before < made == files_in(tmp_path)
        assert files_in(left) == 0


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_a_short_soak_leaves_nothing_behind(tmp_path):
    found = campaign(0.01, tmp_path / "soak.jsonl")
    lines = (tmp_path / "soak.jsonl").read_text("utf-8").splitlines()
    assert len(lines) == found["rounds"] > EVERY
    assert found["left"]["last"] == 0
    assert [name for name in found["grew"] if not name.endswith("_MB")] == []
