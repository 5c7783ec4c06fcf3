"""Finished runs of a study, kept by their hash: one Parquet file for each chunk of them.

A file is written under another name and renamed when it is whole, so that a job that is killed
leaves only whole files behind and loses at most the chunks it was at. It is named by its content:
one with another content, or that cannot be read, is named, dropped and its runs computed again.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterable
from pathlib import Path

import pandas as pd

from workflow.integrity import sum_of

RUN, NOTE, CODE, SUPPORTS = "run", "note", "code", "supports"
_PART = ".part"
_DIGITS = 16  # of the sum that names a chunk


class RunStore:
    """The chunks in a folder.

    Attributes
    ----------
    folder
        Where they are; made if it is missing.
    code
        Digest of the code that computes runs: runs of other code do not count.
    """

    def __init__(self, folder: Path, code: str) -> None:
        self.folder, self.code = folder, code
        folder.mkdir(parents=True, exist_ok=True)

    def finished(self, columns: Iterable[str]) -> pd.DataFrame:
        """Runs that have all of some columns, by hash and digest of their supports.

        Files that cannot be read or are of other code are removed; a line says so of each.
        """
        wanted = [RUN, SUPPORTS, NOTE, *columns]
        for left in self.folder.glob(f"*{_PART}"):
            print(f"{left.name}: a chunk that was not finished; its runs are computed again")
            left.unlink()
        parts = []
        for path in sorted(self.folder.glob("*.parquet")):
            part = self._read(path)
            if part is not None and set(wanted) <= set(part):
                parts.append(part[wanted])
        if not parts:
            return pd.DataFrame(columns=pd.Index(wanted))
        return pd.concat(parts).drop_duplicates([RUN, SUPPORTS], keep="last", ignore_index=True)

    def _read(self, path: Path) -> pd.DataFrame | None:
        try:
            if path.stem != _name_of(path):
                raise ValueError("its content is not what was written")
            part = pd.read_parquet(path)
        except (OSError, ValueError) as error:  # pyarrow's own errors are of both kinds
            reason = str(error).splitlines()[0]
            print(f"{path.name}: damaged ({reason}); its runs are computed again")
            path.unlink()
            return None
        if CODE not in part or (part[CODE] != self.code).any():
            print(f"{path.name}: of other code; its runs are computed again")
            path.unlink()
            return None
        return part

    def add(self, rows: pd.DataFrame) -> None:
        """Keep a chunk of finished runs: columns run, supports, note and their responses."""
        part = self.folder / f"{uuid.uuid4().hex[:12]}{_PART}"
        _to_disk(rows.assign(**{CODE: self.code}), part)
        part.replace(self.folder / f"{_name_of(part)}.parquet")


def write_parquet(table: pd.DataFrame, path: Path) -> None:
    """Write a table so that the file is there whole or not at all."""
    part = path.with_name(path.name + _PART)
    _to_disk(table, part)
    part.replace(path)


def _name_of(path: Path) -> str:
    return sum_of(path)[:_DIGITS]


def _to_disk(table: pd.DataFrame, path: Path) -> None:
    table.to_parquet(path, index=False)
    with path.open("rb") as stream:
        os.fsync(stream.fileno())
