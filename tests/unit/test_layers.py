"""Imports go one way: workflow → fem → geometry; modules stay short."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FORBIDDEN = {
    "geometry": {"fem", "workflow", "yaml", "snakemake", "pydantic"},
    "fem": {"workflow", "yaml", "snakemake", "pydantic"},
}
MODULES = sorted(p for name in FORBIDDEN for p in (ROOT / name).glob("**/*.py"))


def imported(path):
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names.add(str(node.module).split(".")[0])
    return names


def test_there_is_something_to_check():
    assert len(MODULES) > 20


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_go_one_way(path):
    assert not imported(path) & FORBIDDEN[path.relative_to(ROOT).parts[0]]


@pytest.mark.parametrize("package", ["geometry", "fem", "workflow"])
def test_modules_stay_under_400_lines(package):
    long = {
        p.name: n
        for p in (ROOT / package).glob("**/*.py")
        if (n := len(p.read_text(encoding="utf-8").splitlines())) > 400
    }
    assert not long


def test_scripts_are_thin():
    for path in (ROOT / "workflow" / "scripts").glob("*.py"):
        lines = path.read_text(encoding="utf-8").splitlines()
        assert len(lines) <= 40, path.name
        assert not any(line.startswith(("def ", "class ")) for line in lines), path.name
