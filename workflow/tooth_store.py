"""Teeth with their supports, kept by what they depend on and by the code that made them.

A tooth is one folder, ``<support id>``, with ``support.json``, ``stress_basis.npz`` and
``tooth.json``: the code, what it cost, and the digests of both files, or why there are none. The
folder is filled under another name and renamed when it is whole, so that whoever is killed leaves
no half tooth behind. A folder of other code, or whose files are not those it was made with, does
not count: the tooth is made again.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import time
import uuid
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from workflow.records import read_json, write_json

RECORD = "tooth.json"
FILES = ("support.json", "stress_basis.npz")
_PART = ".part"
_ABANDONED_S = 86_400  # since something was last written


@dataclass(frozen=True)
class MadeTooth:
    """What is known of a tooth in the store.

    Attributes
    ----------
    support
        Its support id.
    tooth
        ISO 3950 number.
    code
        Digest of the code that made it.
    wall_s, processor_s
        Time it took.
    reason
        Why there is no support; empty if there is one.
    digests
        SHA-256 of each of its files.
    """

    support: str
    tooth: int
    code: str
    wall_s: float
    processor_s: float
    reason: str
    digests: dict[str, str]


class ToothStore:
    """The teeth in a folder, shared by all studies.

    Attributes
    ----------
    folder
        Where they are.
    code
        Digest of the code that makes teeth: teeth of other code do not count.
    """

    def __init__(self, folder: str | Path, code: str) -> None:
        self.folder, self.code = Path(folder), code

    def find(self, support: str) -> MadeTooth | None:
        """A tooth that is there, of this code and whole; None if it has to be made."""
        place = self.folder / support
        if not place.exists():
            return None
        try:
            made = MadeTooth(**read_json(place / RECORD))
        except (OSError, ValueError, TypeError) as error:
            print(f"{support}: its record cannot be read ({error}); the tooth is made again")
            return None
        if made.code != self.code:
            print(f"{support}: of other code; the tooth is made again")
            return None
        if not made.reason and made.digests != _digests(place):
            print(f"{support}: damaged; the tooth is made again")
            return None
        return made

    def add(self, made: MadeTooth, write: Callable[[Path], None]) -> MadeTooth:
        """Keep a tooth, in place of whatever has its name.

        Parameters
        ----------
        made
            What is known of it; digests are filled in here.
        write
            Writes its files into a folder; called only if there is no reason against.
        """
        self.folder.mkdir(parents=True, exist_ok=True)
        part = self.folder / f"{made.support}-{uuid.uuid4().hex[:8]}{_PART}"
        part.mkdir()
        try:
            if not made.reason:
                write(part)
                made = MadeTooth(**asdict(made) | {"digests": _digests(part)})
            write_json(part / RECORD, asdict(made))
            for path in part.iterdir():
                _to_disk(path)
            self._rename(part, self.folder / made.support)
        finally:
            shutil.rmtree(part, ignore_errors=True)
        return made

    def clear(self) -> None:
        """Remove what killed jobs left unfinished; what is younger may be a running job's."""
        for part in self.folder.glob(f"*{_PART}"):
            with suppress(FileNotFoundError):  # finished meanwhile
                if time.time() - part.stat().st_mtime > _ABANDONED_S:
                    shutil.rmtree(part, ignore_errors=True)

    def _rename(self, part: Path, place: Path) -> None:
        """Put a folder in its place; what another job put there meanwhile is the same tooth."""
        if place.exists():
            shutil.rmtree(place, ignore_errors=True)
        try:
            part.rename(place)
        except OSError:
            if self.find(place.name) is None:
                raise


def reason_against(folder: Path, support: str) -> str:
    """Why a tooth of a folder has no support; empty if it has one."""
    record = folder / support / RECORD
    return str(read_json(record)["reason"]) if record.exists() else ""


def _digests(place: Path) -> dict[str, str]:
    return {
        name: hashlib.sha256((place / name).read_bytes()).hexdigest()
        for name in FILES
        if (place / name).exists()
    }


def _to_disk(path: Path) -> None:
    with path.open("rb") as stream:
        os.fsync(stream.fileno())
