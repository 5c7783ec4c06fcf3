"""Records of sums: what they hold, and how each kind of damage is named."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from workflow.integrity import (
    RECORDED,
    DamagedError,
    _records_of,
    accept,
    damaged,
    read_record,
    remedy,
    verify,
    write_record,
)

TABLE, FIELDS = Path("results/x/tables/wire.csv"), Path("results/x/fields")
RECORD = Path("results/x/logs/response.sha256")


@pytest.fixture(autouse=True)
def results(tmp_path, monkeypatch):
    """A table and a folder of fields as one job made them."""
    monkeypatch.chdir(tmp_path)
    for path in (TABLE, FIELDS / "37.vtu", FIELDS / "35.vtu", RECORD):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(str(path), encoding="utf-8")
    write_record(RECORD, [TABLE, FIELDS])
    words = f"response case=x: finished in 1.0 s; {RECORDED}\n"
    RECORD.with_suffix(".log").write_text(words, encoding="utf-8")
    _records_of.cache_clear()


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is not installed")
def test_the_program_of_the_system_reads_a_record():
    check = ["sha256sum", "--check", "--strict", str(RECORD)]
    assert subprocess.run(check, capture_output=True).returncode == 0
    TABLE.write_text("other", encoding="utf-8")
    assert subprocess.run(check, capture_output=True).returncode == 1


def test_what_is_whole_passes():
    verify([TABLE, FIELDS, FIELDS / "37.vtu", "configs/cases/x.yaml", "results/reference/a.csv"])
    assert damaged() == []


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (lambda path: path.write_bytes(b""), "is empty"),
        (lambda path: path.write_bytes(path.read_bytes()[:-1]), "is not what its job wrote"),
        (lambda path: shutil.copy(FIELDS / "35.vtu", path), "is not what its job wrote"),
        (Path.unlink, "is missing"),
    ],
    ids=["emptied", "truncated", "exchanged", "lost"],
)
def test_damage_is_named_with_its_remedy(damage, words):
    """Snakemake is told to make again what it knows: the folder, not the file in it."""
    path = FIELDS / "37.vtu"
    damage(path)
    with pytest.raises(DamagedError) as found:
        verify([FIELDS])
    assert str(found.value).splitlines() == [
        f"{path}: {words}",
        f"To restore what this run uses: the same command --forcerun {FIELDS}",
    ]
    assert [str(fault) for fault in damaged()] == [f"{path}: {words}"]


def test_a_change_that_keeps_time_and_size_is_seen():
    times = TABLE.stat()
    TABLE.write_text(str(TABLE).upper(), encoding="utf-8")
    os.utime(TABLE, ns=(times.st_atime_ns, times.st_mtime_ns))
    assert [fault.path for fault in damaged()] == [TABLE]


def test_a_file_without_record_is_not_used():
    RECORD.unlink()
    with pytest.raises(DamagedError, match=r"wire\.csv: has no record"):
        verify([TABLE])


def test_results_of_versions_without_sums_are_still_read(capsys):
    RECORD.unlink()
    RECORD.with_suffix(".log").write_text("response case=x: finished in 1.0 s\n", encoding="utf-8")
    verify([TABLE])
    assert damaged() == []
    assert "wire.csv: of a version that recorded no sums" in capsys.readouterr().out


@pytest.mark.parametrize("content", [None, b"", b"0123  ", b"\xff\xfe"])
def test_a_damaged_record_is_named_and_its_rule_run_by_force(content):
    RECORD.unlink()
    if content is not None:
        RECORD.write_bytes(content)
    assert read_record(RECORD) == []
    (fault,) = damaged()
    assert fault.path == RECORD
    assert remedy([fault]).endswith("--forcerun response")


def test_one_lost_output_of_several_is_missed():
    """Snakemake does not miss what nothing asks for."""
    TABLE.unlink()
    assert [str(fault) for fault in damaged()] == [f"{TABLE}: is missing"]


def test_what_a_killed_or_older_job_left_is_no_damage():
    RECORD.unlink()
    RECORD.with_suffix(".log").write_text("response case=x: started\n", encoding="utf-8")
    assert damaged() == []


def test_an_intended_change_is_accepted():
    TABLE.write_text("by hand", encoding="utf-8")
    accept(TABLE)
    assert damaged() == []
    with pytest.raises(ValueError, match="made by no job"):
        accept(Path("results/README.md"))
