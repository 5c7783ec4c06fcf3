"""The archive: what is in it, its sums, the same bytes twice, and what is left out aloud."""

import hashlib
import os
import subprocess
import tarfile

import pandas as pd
import pytest

from workflow.archive import (
    CHANGES,
    ENVIRONMENT,
    SUMS,
    checkout,
    entries,
    environment_text,
    state_of_checkout,
    write_archive,
    write_contents,
)

RESULTS = ["results/b.svg", "results/a.csv"]
WHO = ("AUTHOR", "COMMITTER")
COMMITTED = 1767323045  # 2026-01-02 03:04:05 UTC


def git(folder, *arguments):
    who = {f"GIT_{who}_{what}": "somebody@example.org" for who in WHO for what in ("NAME", "EMAIL")}
    when = {f"GIT_{who}_DATE": f"{COMMITTED} +0000" for who in WHO}
    subprocess.run(["git", *arguments], cwd=folder, check=True, env=os.environ | who | when)


@pytest.fixture
def project(tmp_path):
    """A small checkout with results that git ignores."""
    folder = tmp_path / "project"
    (folder / "code").mkdir(parents=True)
    (folder / "results").mkdir()
    (folder / "code" / "wire.py").write_text("E = 65000\n", encoding="utf-8")
    (folder / "run").write_text("#!/bin/sh\n", encoding="utf-8")
    (folder / "run").chmod(0o755)
    (folder / "Größe.txt").write_bytes(b"\0\1\n\n")
    (folder / ".gitignore").write_text("results/\n", encoding="utf-8")
    (folder / "results" / "a.csv").write_text("x\n1\n", encoding="utf-8")
    (folder / "results" / "b.svg").write_text("<svg/>", encoding="utf-8")
    git(folder, "init", "-q")
    git(folder, "add", "-A")
    git(folder, "commit", "-q", "-m", "First")
    return folder


def pack(project, path):
    packed = entries(checkout(project), RESULTS, project, "numpy==2.0\n")
    write_archive(packed, path)
    return packed


def contents(path):
    with tarfile.open(path) as tar:
        return {m.name: (m, tar.extractfile(m).read()) for m in tar.getmembers()}


def test_it_holds_tracked_files_results_environment_and_sums(project, tmp_path):
    packed = pack(project, tmp_path / "a.tar.gz")
    found = contents(tmp_path / "a.tar.gz")
    inside = {
        name.removeprefix(f"{packed.folder}/"): content for name, (_, content) in found.items()
    }
    assert set(inside) == {
        ".gitignore", "Größe.txt", "code/wire.py", "run", *RESULTS, ENVIRONMENT, SUMS,
    }  # fmt: skip
    assert inside["code/wire.py"] == b"E = 65000\n"
    assert inside["Größe.txt"] == b"\0\1\n\n"
    assert inside["results/b.svg"] == b"<svg/>"
    assert {m.mode for name, (m, _) in found.items() if name.endswith("/run")} == {0o755}
    assert {m.mtime for m, _ in found.values()} == {COMMITTED}
    names = [name for name in found if not name.endswith(SUMS)]
    assert names == sorted(names)


def test_the_sums_are_those_of_the_files(project, tmp_path):
    pack(project, tmp_path / "a.tar.gz")
    with tarfile.open(tmp_path / "a.tar.gz") as tar:
        safely = {"filter": "data"} if hasattr(tarfile, "data_filter") else {}  # Python 3.11.4
        tar.extractall(tmp_path / "out", **safely)
    (folder,) = (tmp_path / "out").iterdir()
    done = subprocess.run(
        ["sha256sum", "--check", "--strict", SUMS], cwd=folder, capture_output=True, text=True,
        check=True, env=os.environ | {"LC_ALL": "C.UTF-8"},
    )  # fmt: skip
    assert done.stdout.count(": OK") == 7


def test_packing_twice_gives_the_same_bytes(project, tmp_path):
    pack(project, tmp_path / "a.tar.gz")
    for path in project.rglob("*"):
        if path.is_file() and ".git" not in path.parts:
            os.utime(path, (1, 1))
    pack(project, tmp_path / "elsewhere.tar.gz")
    first = (tmp_path / "a.tar.gz").read_bytes()
    assert first == (tmp_path / "elsewhere.tar.gz").read_bytes()
    # Bytes 4 to 8 hold a time (RFC 1952); were it not the commit's, it would be that of packing
    assert int.from_bytes(first[4:8], "little") == COMMITTED
    (project / "results" / "a.csv").write_text("x\n2\n", encoding="utf-8")
    pack(project, tmp_path / "b.tar.gz")
    assert first != (tmp_path / "b.tar.gz").read_bytes()


def test_what_differs_from_the_commit_is_told_and_packed_as_a_patch(project, tmp_path):
    clean = state_of_checkout(project)
    assert not any("differs" in line or "left out" in line for line in checkout(project).told)
    (project / "code" / "wire.py").write_text("E = 66300\n", encoding="utf-8")
    (project / "notes.txt").write_text("not tracked", encoding="utf-8")
    packed = pack(project, tmp_path / "a.tar.gz")
    told = "\n".join(packed.told)
    assert f"differs from the commit: code/wire.py: see {CHANGES}" in told
    assert "left out: notes.txt: 11 bytes that git does not track" in told
    inside = {name.partition("/")[2]: c for name, (_, c) in contents(tmp_path / "a.tar.gz").items()}
    assert inside["code/wire.py"] == b"E = 65000\n"
    assert b"+E = 66300" in inside[CHANGES]
    assert "notes.txt" not in inside
    assert state_of_checkout(project) != clean


def test_scans_are_left_out_and_what_may_show_one_is_told(project, tmp_path):
    kept = project / "results" / "scans" / "0123456789ab"
    kept.mkdir(parents=True)
    for name in ("scan.json", "tooth.vtp", "scan.sha256"):
        (kept / name).write_text("of a patient", encoding="utf-8")
    packed = pack(project, tmp_path / "a.tar.gz")
    assert not [name for name in contents(tmp_path / "a.tar.gz") if "scans" in name]
    (told,) = (line for line in packed.told if "scan" in line)
    assert told.startswith(
        "left out: results/scans: scanned teeth, 1 of them; figures, tables and pages"
    )
    with pytest.raises(ValueError, match=r"tooth\.vtp: a scan, which no archive holds"):
        entries(checkout(project), ["results/scans/0123456789ab/tooth.vtp"], project)


def test_a_surface_that_git_tracks_is_packed_aloud(project, tmp_path):
    (project / "code" / "Tooth.STL").write_text("solid", encoding="utf-8")
    assert not any("patient" in line for line in pack(project, tmp_path / "a.tar.gz").told)
    git(project, "add", "-A")
    git(project, "commit", "-q", "-m", "Second")
    told = pack(project, tmp_path / "b.tar.gz").told
    assert any("packed: code/Tooth.STL: a surface or a mesh; if it is" in line for line in told)


def test_a_link_is_left_out_aloud(project):
    (project / "link").symlink_to("run")
    git(project, "add", "link")
    git(project, "commit", "-q", "-m", "Link")
    found = checkout(project)
    assert "link" not in {entry.name for entry in found.files}
    assert any(line.startswith("left out: link: ") for line in found.told)


def test_sizes_are_told_and_listed(project, tmp_path):
    packed = pack(project, tmp_path / "a.tar.gz")
    assert "packed: 2 files of kind result, 10 bytes" in packed.told
    write_contents(packed, tmp_path / "a.tar.gz", tmp_path / "contents.csv")
    table = pd.read_csv(tmp_path / "contents.csv").set_index("file")
    assert table.loc["results/a.csv", "bytes"] == 4
    assert table.loc["results/a.csv", "sha256"] == hashlib.sha256(b"x\n1\n").hexdigest()
    whole = (tmp_path / "a.tar.gz").read_bytes()
    assert table.loc["a.tar.gz", "bytes"] == len(whole)
    assert table.loc["a.tar.gz", "sha256"] == hashlib.sha256(whole).hexdigest()


def test_a_result_that_was_not_made_is_refused(project):
    with pytest.raises(ValueError, match=r"results/c\.csv: was not made"):
        entries(checkout(project), [*RESULTS, "results/c.csv"], project)


def test_outside_a_checkout_it_says_what_it_needs(tmp_path):
    assert state_of_checkout(tmp_path) == "no git"
    with pytest.raises(RuntimeError, match="the archive packs what git tracks"):
        checkout(tmp_path)


def test_environment_lists_installed_versions():
    lines = environment_text().splitlines()
    assert lines[0].startswith("# Python 3.")
    named = dict(line.split("==") for line in lines if not line.startswith("#"))
    assert named["numpy"] == __import__("numpy").__version__
    assert list(named) == sorted(named)
