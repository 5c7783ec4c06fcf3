"""Mistakes that people make in their files, each with what they are to be told.

Every entry of ``tests/corpus/<kind>/*.yaml`` names a ``mistake`` and how it is made from a good
file: keys to ``set`` or ``drop`` (dotted, ``factors[1].name`` inside lists), ``replace`` of a text,
or a whole content (``raw``, ``hex``, ``repeat``). ``says`` are the lines of the refusal, in full
but for the folder. ``python -m tests.corpus.entries`` prints them all.
"""

from __future__ import annotations

import copy
import os
import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from tests.campaigns.judge import KINDS
from tests.corpus.scans import made_scan
from tests.sweeps import SMALL
from workflow.case_errors import CaseError
from workflow.catalogue import Alloy, read_rows

FOLDER = Path(__file__).parent
CONFIGS = FOLDER.parents[1] / "configs"
CASE = CONFIGS / "cases" / "lower_molar_uprighting.yaml"


@dataclass(frozen=True)
class Entry:
    """One mistake."""

    kind: str
    table: str
    given: dict[str, Any]

    @property
    def name(self) -> str:
        return f"{self.kind}: {self.given['mistake']}"


def entries() -> list[Entry]:
    """All mistakes, by kind and file."""
    return [
        Entry(path.parent.name, path.name, given)
        for path in sorted(FOLDER.glob("*/*.yaml"))
        for given in yaml.safe_load(path.read_text(encoding="utf-8"))
    ]


def good(kind: str) -> tuple[str, Any]:
    """Name and content of the good file that mistakes of a kind are made in."""
    if kind == "study":
        return "small", copy.deepcopy(SMALL)
    path = {
        "search": CONFIGS / "searches" / "lower_molar_uprighting.yaml",
        "choice": CONFIGS / "choices" / "upright_37.yaml",
        "comparison": CONFIGS / "comparisons" / "anchor.yaml",
        "catalogue": CONFIGS / "catalogue" / "alloys.yaml",
        "figures": CONFIGS / "figures.yaml",
    }.get(kind, CASE)
    return path.stem, yaml.safe_load(path.read_text(encoding="utf-8"))


def steps(key: str) -> list[Any]:
    """Way into a tree by a dotted key: names, and numbers in brackets."""
    return [int(n) if n else name for name, n in re.findall(r"([^.\[\]]+)|\[(\d+)\]", key)]


def _owner(data: Any, key: str) -> tuple[Any, Any]:
    *way, last = steps(key)
    for step in way:
        data = data.setdefault(step, {}) if isinstance(data, dict) else data[step]
    return data, last


def changed(data: Any, given: dict[str, Any]) -> Any:
    """Content with keys dropped and set."""
    for key in given.get("drop", ()):
        owner, last = _owner(data, key)
        del owner[last]
    for key, value in given.get("set", {}).items():
        owner, last = _owner(data, key)
        if isinstance(owner, list) and last == len(owner):
            owner.append(value)
        else:
            owner[last] = value
    return data


def content(entry: Entry, folder: Path) -> bytes:
    """The wrong file."""
    given = entry.given
    if "hex" in given:
        return bytes.fromhex(given["hex"])
    if "repeat" in given:
        return b"title: again and again\n" * int(given["repeat"])
    if "raw" in given:
        return str(given["raw"]).encode()
    if "replace" in given:
        old, new = given["replace"]
        text = CASE.read_text(encoding="utf-8")
        assert old in text, old
        return text.replace(old, new, 1).encode()
    _, data = good(entry.kind)
    if entry.kind == "scan":
        scan = {"file": made_scan(given["scan"], folder)} | given.get("set", {})
        data["teeth"] = {37: {"scan": scan} | given.get("of_tooth", {})}
    else:
        data = changed(data, given)
    return yaml.safe_dump(data, sort_keys=False, allow_unicode=True).encode()


def _reader(kind: str) -> Callable[[Path], Any]:
    if kind == "catalogue":
        return lambda path: read_rows(path, Alloy)
    own = {"study": "parameter study", "figures": "ranges of figures"}
    own |= dict.fromkeys(("text", "scan"), "case")
    return KINDS[own.get(kind, kind)][0]


def refusal(entry: Entry, folder: Path) -> list[str]:
    """Lines that the refusal of a wrong file has, without the folder; none if it is accepted.

    Runs in `folder`, in which the project's ``configs`` must be.
    """
    path = folder / f"{good(entry.kind)[0]}.yaml"
    path.write_bytes(content(entry, folder))
    before = Path.cwd()
    os.chdir(folder)
    try:
        _reader(entry.kind)(path)
    except CaseError as error:
        said = str(error).replace(f"{folder}/", "").replace(str(folder.parent), "ELSEWHERE")
        return said.splitlines()
    finally:
        os.chdir(before)
    return []


def _shown(every: list[Entry]) -> Iterator[str]:
    for entry in every:
        yield entry.name
        yield from (f"    {line}" for line in entry.given.get("says", ()))


if __name__ == "__main__":
    sys.stdout.writelines(f"{line}\n" for line in _shown(entries()))
