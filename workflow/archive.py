"""One archive for a reviewer: the code as tracked, what it made, and the environment it ran in.

Packing the same files twice gives the same bytes: entries are sorted, and times, owners and modes
are fixed. What is left out is told, with its size. Scans are a patient's: what is kept of them is
never packed, and what may show one is told.
"""

from __future__ import annotations

import gzip
import hashlib
import io
import platform
import subprocess
import sys
import tarfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib.metadata import distributions
from pathlib import Path

import pandas as pd

from workflow.digest import ROOT
from workflow.scanned import FOLDER as SCANS
from workflow.scanned import SUMS as SCAN_SUMS

SUMS, ENVIRONMENT, CHANGES = "SHA256SUMS", "environment.txt", "changes.diff"
_EXECUTABLE, _SYMLINK = "100755", "120000"
_LEVEL = 9
_SURFACES = (".stl", ".ply", ".vtp", ".obj", ".vtu")


@dataclass(frozen=True)
class Entry:
    """A file of the archive.

    Attributes
    ----------
    name
        Path below the archive's folder.
    content
        Its bytes.
    executable
        Whether it may be run.
    kind
        ``code``, ``result`` or ``about``.
    """

    name: str
    content: bytes
    executable: bool = False
    kind: str = "code"


@dataclass(frozen=True)
class Checkout:
    """What git tracks at a commit.

    Attributes
    ----------
    commit
        Its full id.
    time
        When it was made, seconds since 1970.
    files
        Tracked files as they are in the commit.
    changes
        How tracked files of the work tree differ from it, as a patch; mostly empty.
    told
        What is left out or differs, one line each.
    """

    commit: str
    time: int
    files: tuple[Entry, ...]
    changes: bytes
    told: tuple[str, ...]


@dataclass(frozen=True)
class Packing:
    """What goes into an archive: its folder, the time of all entries, entries, and what to say."""

    folder: str
    time: int
    entries: tuple[Entry, ...]
    told: tuple[str, ...]


def checkout(root: Path = ROOT) -> Checkout:
    """Read what git tracks at the commit of the work tree.

    Raises
    ------
    RuntimeError
        If this is no git checkout.
    """
    commit = _git(root, "rev-parse", "HEAD").decode().strip()
    files, told = [], []
    for line in _names(_git(root, "ls-tree", "-r", "-z", "HEAD")):
        head, _, path = line.partition("\t")
        mode, kind, identity = head.split()
        if kind != "blob" or mode == _SYMLINK:
            told.append(f"left out: {path}: a link or a repository of its own, no file")
        else:
            files.append((path, identity, mode == _EXECUTABLE))
    contents = _blobs(root, [identity for _, identity, _ in files])
    tracked = [
        Entry(path, content, executable)
        for (path, _, executable), content in zip(files, contents, strict=True)
    ]
    changes = _git(root, "diff", "--binary", "--no-ext-diff", "--no-color", "HEAD")
    told += _differing(root)
    time = int(_git(root, "log", "-1", "--format=%ct"))
    return Checkout(commit, time, tuple(tracked), changes, tuple(told))


def state_of_checkout(root: Path = ROOT) -> str:
    """Digest of the commit and of what differs from it; ``no git`` outside a checkout."""
    try:
        commit = _git(root, "rev-parse", "HEAD")
        changes = _git(root, "diff", "--binary", "--no-ext-diff", "--no-color", "HEAD")
    except RuntimeError:
        return "no git"
    return hashlib.sha256(commit + changes).hexdigest()[:12]


def _differing(root: Path) -> list[str]:
    """One line for each file that the commit has not, or not so."""
    changed = _names(_git(root, "diff", "--name-only", "-z", "HEAD"))
    lines = [f"differs from the commit: {name}: see {CHANGES}" for name in changed]
    untracked = _names(_git(root, "ls-files", "--others", "--exclude-standard", "-z"))
    return lines + [
        f"left out: {name}: {(root / name).stat().st_size} bytes that git does not track"
        for name in untracked
    ]


def _names(listed: bytes) -> list[str]:
    return [name.decode() for name in listed.split(b"\0") if name]


def _blobs(root: Path, identities: Sequence[str]) -> list[bytes]:
    """Contents of objects, asked for all at once."""
    asked = "".join(f"{identity}\n" for identity in identities).encode()
    stream = io.BytesIO(_git(root, "cat-file", "--batch", given=asked))
    contents = []
    for _ in identities:
        size = int(stream.readline().split()[2])
        contents.append(stream.read(size))
        stream.read(1)
    return contents


def _git(root: Path, *arguments: str, given: bytes = b"") -> bytes:
    try:
        done = subprocess.run(
            ["git", *arguments], cwd=root, input=given, capture_output=True, check=True
        )
    except FileNotFoundError:
        raise RuntimeError("git is missing; install it, the archive packs what it tracks") from None
    except subprocess.CalledProcessError as error:
        said = error.stderr.decode(errors="replace").strip()
        raise RuntimeError(
            f"git {arguments[0]}: {said}; the archive packs what git tracks: run in a checkout"
        ) from None
    return done.stdout


def environment_text() -> str:
    """Interpreter, platform, and every installed distribution with its version."""
    installed = {d.metadata["Name"].lower().replace("_", "-"): d.version for d in distributions()}
    lines = [f"{name}=={number}" for name, number in sorted(installed.items())]
    head = [f"# Python {sys.version.split()[0]}", f"# {platform.platform()}"]
    return "\n".join([*head, *lines]) + "\n"


def entries(
    code: Checkout, results: Iterable[str], root: Path = ROOT, environment: str | None = None
) -> Packing:
    """Everything that is packed, sorted, with the sums of all of it.

    Parameters
    ----------
    code
        From `checkout`.
    results
        Paths of tables, figures and pages from `root`.
    environment
        Text about the environment; that of this process if none.

    Raises
    ------
    ValueError
        If a result was not made, or is one of the scans that are kept.
    """
    results = sorted(set(results))
    if kept := [name for name in results if Path(name).is_relative_to(SCANS)]:
        raise ValueError("\n".join(f"{name}: a scan, which no archive holds" for name in kept))
    if absent := [name for name in results if not (root / name).is_file()]:
        raise ValueError("\n".join(f"{name}: was not made" for name in absent))
    about = environment_text() if environment is None else environment
    listed = [*code.files, Entry(ENVIRONMENT, about.encode(), kind="about")]
    if code.changes:
        listed.append(Entry(CHANGES, code.changes, kind="about"))
    listed += [Entry(name, (root / name).read_bytes(), kind="result") for name in results]
    listed.sort(key=lambda entry: entry.name)
    sums = "".join(f"{_sum(e.content)}  {e.name}\n" for e in listed)
    listed.append(Entry(SUMS, sums.encode(), kind="about"))
    folder = f"onecouple-{code.commit[:12]}"
    told = (*code.told, *_scans(listed, root), *_sizes(listed))
    return Packing(folder, code.time, tuple(listed), told)


def _scans(listed: Sequence[Entry], root: Path) -> list[str]:
    """What is packed that may be, or show, the teeth of a patient."""
    told = [
        f"packed: {e.name}: a surface or a mesh; if it is of a patient, take it out of git"
        for e in listed
        if e.name.lower().endswith(_SURFACES)
    ]
    if kept := len(list((root / SCANS).glob(f"*/{SCAN_SUMS}"))):
        told.append(
            f"left out: {SCANS}: scanned teeth, {kept} of them; figures, tables and pages of their "
            "cases show their shape, look whether any is packed"
        )
    return told


def _sizes(listed: Sequence[Entry]) -> list[str]:
    lines = []
    for kind in ("code", "result", "about"):
        own = [entry for entry in listed if entry.kind == kind]
        size = sum(len(entry.content) for entry in own)
        lines.append(f"packed: {len(own)} files of kind {kind}, {size} bytes")
    return lines


def write_archive(packed: Packing, path: str | Path) -> None:
    """Write the archive, the same bytes for the same packing."""
    raw = io.BytesIO()
    with tarfile.open(fileobj=raw, mode="w", format=tarfile.PAX_FORMAT) as tar:
        for entry in packed.entries:
            info = tarfile.TarInfo(f"{packed.folder}/{entry.name}")
            info.size, info.mtime = len(entry.content), packed.time
            info.mode = 0o755 if entry.executable else 0o644
            tar.addfile(info, io.BytesIO(entry.content))
    with (
        Path(path).open("wb") as stream,
        gzip.GzipFile("", "wb", _LEVEL, stream, mtime=packed.time) as packer,
    ):
        packer.write(raw.getvalue())


def write_contents(packed: Packing, archive: str | Path, path: str | Path) -> None:
    """Write one row a file with size and sum, and one for the archive itself."""
    whole = Path(archive).read_bytes()
    rows = [(e.kind, e.name, len(e.content), _sum(e.content)) for e in packed.entries]
    rows.append(("archive", Path(archive).name, len(whole), _sum(whole)))
    columns = ["kind", "file", "bytes", "sha256"]
    pd.DataFrame(rows, columns=columns).to_csv(path, index=False)


def _sum(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
