"""What the project is made of: dependencies locked with their sums, and nothing scanned in git."""

import re
import subprocess
import tomllib
from pathlib import Path

import pytest
import yaml

from tests.project import ROOT
from workflow.scanned import FOLDER, SURFACE

SURFACES = {
    ".stl", ".ply", ".obj", ".off", ".3mf", ".glb", ".gltf", ".vtp", ".vtu", ".vtk", ".msh", ".dcm",
    ".nii", ".nrrd",
}  # fmt: skip
_SHA256 = re.compile(r"sha256:[0-9a-f]{64}")


def toml(name):
    return tomllib.loads((ROOT / name).read_text(encoding="utf-8"))


def unlocked(packages):
    """Files of packages without a sum, and packages that come from no registry."""
    own = [package["name"] for package in packages if "registry" not in package["source"]]
    files = [
        (package["name"], file)
        for package in packages
        for file in [package.get("sdist"), *package.get("wheels", [])]
        if file is not None
    ]
    bare = [name for name, file in files if not _SHA256.fullmatch(file.get("hash", ""))]
    empty = {p["name"] for p in packages} - {name for name, _ in files} - set(own)
    return own, bare, sorted(empty)


def stated(requirements):
    """Names and limits of versions of requirements as pyproject.toml states them."""
    parts = (re.match(r"([A-Za-z0-9._-]+)([^;]*)", text) for text in requirements)
    return {(re.sub(r"[._-]+", "-", p[1]).lower(), p[2].strip()) for p in parts}


def agreed(requirements):
    """The same, as the lock file says that it was made for."""
    return {(wanted["name"], wanted.get("specifier", "")) for wanted in requirements}


def test_every_file_that_is_installed_is_locked_by_its_sum():
    packages = toml("uv.lock")["package"]
    assert len(packages) > 100
    assert unlocked(packages) == (["onecouple"], [], [])


def test_the_lock_is_that_of_the_stated_dependencies():
    project, packages = toml("pyproject.toml"), toml("uv.lock")["package"]
    (own,) = (package for package in packages if package["name"] == "onecouple")
    optional = project["project"]["optional-dependencies"]
    direct = [
        *project["project"]["dependencies"],
        *(r for group in optional.values() for r in group),
    ]
    groups = project["dependency-groups"]
    assert agreed(own["metadata"]["requires-dist"]) == stated(direct)
    assert groups.keys() == own["metadata"]["requires-dev"].keys()
    for name, wanted in groups.items():
        assert agreed(own["metadata"]["requires-dev"][name]) == stated(wanted)
    named = {
        name for name, _ in stated([*direct, *(r for group in groups.values() for r in group)])
    }
    assert named <= {package["name"] for package in packages}


@pytest.fixture(scope="module")
def tracked():
    """Files that git tracks."""
    if not (ROOT / ".git").exists():
        pytest.skip("no git checkout")
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True)
    return [Path(name) for name in listed.stdout.decode().split("\0") if name]


def test_git_tracks_no_surface(tracked):
    assert len(tracked) > 500
    assert [str(path) for path in tracked if path.suffix.lower() in SURFACES] == []


def test_git_ignores_what_is_kept_of_scans():
    if not (ROOT / ".git").exists():
        pytest.skip("no git checkout")
    asked = ["git", "check-ignore", "--quiet", str(FOLDER / "0123456789ab" / SURFACE)]
    assert subprocess.run(asked, cwd=ROOT, check=False).returncode == 0


def scans_named(content):
    """Values under every key ``scan`` of a file's content, dotted keys of studies too."""
    if isinstance(content, list):
        return [found for inner in content for found in scans_named(inner)]
    if not isinstance(content, dict):
        return []
    own = [value for key, value in content.items() if "scan" in str(key).split(".")]
    return own + [found for inner in content.values() for found in scans_named(inner)]


def test_nothing_that_is_shipped_was_made_from_a_scan():
    """References and pictures come from the files of configs."""
    files = sorted((ROOT / "configs").rglob("*.yaml"))
    assert len(files) > 20
    for path in files:
        assert scans_named(yaml.safe_load(path.read_text(encoding="utf-8"))) == [], path


def test_the_tests_of_this_page_see_what_they_look_for():
    file = {"url": "x.whl", "hash": "sha256:0"}
    registry = {"registry": "somewhere"}
    packages = [
        {"name": "bare", "source": registry, "wheels": [file]},
        {"name": "fetched", "source": {"git": "somewhere"}},
        {"name": "empty", "source": registry},
    ]
    assert unlocked(packages) == (["fetched"], ["bare"], ["empty"])
    assert stated(["SALib>=1.5", "a_b<2; python_version < '3.14'"]) == {
        ("salib", ">=1.5"),
        ("a-b", "<2"),
    }
    assert scans_named({"teeth": {35: {"scan": {"file": "x"}}}}) == [{"file": "x"}]
    assert scans_named({"fixed": {"teeth.35.scan.file": "x.stl"}}) == ["x.stl"]
