"""Digests that say when a stage is out of date: of its spec, and of the code that makes it.

Snakemake watches a rule's script but not the modules the script imports. A stage therefore carries
in its parameters a digest of every project file its script leads to.
"""

from __future__ import annotations

import ast
import hashlib
import json
from functools import cache
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("geometry", "fem", "workflow")


def spec_id(spec: dict[str, Any]) -> str:
    """Name of a run: the first 12 hexadecimal digits of the SHA-256 of its canonical JSON."""
    text = json.dumps(spec, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def code_digest(script: str, root: Path = ROOT) -> str:
    """Digest of a stage's script and of every project module it imports, directly or not.

    Parameters
    ----------
    script
        Name of the script in ``workflow/scripts``, without suffix.
    """
    return module_digest(f"workflow/scripts/{script}.py", root)


def module_digest(module: str, root: Path = ROOT) -> str:
    """Digest of a file and of every project module it imports, directly or not.

    Parameters
    ----------
    module
        Path from the project's folder.
    """
    digest = hashlib.sha256()
    for path in sorted(_led_to(root / module, root)):
        digest.update(str(path.relative_to(root)).encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


def stage_files(script: str, root: Path = ROOT) -> set[Path]:
    """Script and project modules of a stage."""
    return _led_to(root / "workflow" / "scripts" / f"{script}.py", root)


def _led_to(start: Path, root: Path) -> set[Path]:
    waiting = [start]
    found: set[Path] = set()
    while waiting:
        path = waiting.pop()
        if path not in found:
            found.add(path)
            waiting.extend(_imports(path, root))
    return found


@cache
def _imports(path: Path, root: Path) -> tuple[Path, ...]:
    modules = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            modules += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            modules += [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
    ours = {name for name in modules if name.split(".")[0] in PACKAGES}
    files = {root.joinpath(*name.split(".")).with_suffix(".py") for name in ours}
    return tuple(sorted(file for file in files if file.is_file()))
