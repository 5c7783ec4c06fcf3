"""Teeth with their supports, kept by what they depend on and by the code that made them.

A tooth is one folder, ``<support id>``, with ``support.json``, ``stress_basis.npz`` and
``tooth.json``: the code, what it cost, and the digests of both files, or why there are none. The
folder is filled under another name and renamed when it is whole, so that whoever is killed leaves
no half tooth behind. A folder of other code, or whose files are not those it was made with, does
not count: the tooth is made again. Whoever reads a tooth holds its files against the digests first.
"""

from __future__ import annotations

import os
import shutil
import time
import uuid
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from workflow.integrity import DamagedError, Fault, remedy, sum_of
from workflow.records import read_json, write_json

TEETH = Path("results/teeth")
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
        if faults := _faults(place, made):
            print(f"{support}: damaged ({faults[0]}); the tooth is made again")
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
            _to_disk(part)
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
    """Why a tooth of a folder has no support; empty if it has one, as it was made.

    A folder that is no store, with the supports that have jobs of their own, has no reasons.

    Raises
    ------
    DamagedError
        If the tooth is not as it was made; says what restores it.
    """
    place = folder / support
    if not (place / RECORD).exists() and not any(folder.glob(f"*/{RECORD}")):
        return ""
    made, faults = _look(place)
    if faults:
        raise DamagedError("; ".join(map(str, faults)) + "\n" + remedy(faults))
    return made.reason if made else ""


def damaged_teeth(folder: Path = TEETH) -> list[Fault]:
    """All that is not as it was made in a store of teeth."""
    places = sorted(path.parent for path in folder.glob(f"*/{RECORD}"))
    return [fault for place in places for fault in _look(place)[1]]


def _look(place: Path) -> tuple[MadeTooth | None, list[Fault]]:
    try:
        made = MadeTooth(**read_json(place / RECORD))
    except (OSError, ValueError, TypeError) as error:
        return None, [_fault(place, RECORD, f"cannot be read ({error})")]
    return made, _faults(place, made)


def _faults(place: Path, made: MadeTooth) -> list[Fault]:
    """What is wrong with the files of a tooth."""
    if made.support != place.name:
        return [_fault(place, RECORD, f"is that of {made.support}")]
    if made.reason:
        return []
    now = _digests(place)
    wrong = [name for name in FILES if now.get(name) != made.digests.get(name)]
    return [
        _fault(place, name, "is not what its job wrote" if name in now else "is missing")
        for name in wrong
    ]


def _fault(place: Path, name: str, what: str) -> Fault:
    return Fault(place / name, what, force="sweep_teeth")


def _digests(place: Path) -> dict[str, str]:
    return {name: sum_of(place / name) for name in FILES if (place / name).exists()}


def _to_disk(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
