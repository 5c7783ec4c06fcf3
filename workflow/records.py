"""Reading and writing the JSON records that stages hand on."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np


def write_json(path: str | Path, record: Any) -> None:
    """Write a record with numpy values as plain ones, every float in full precision.

    Raises
    ------
    ValueError
        If a number is not finite: no stage may hand on a NaN.
    """
    text = json.dumps(_plain(record), indent=1, ensure_ascii=False, allow_nan=False)
    Path(path).write_text(text + "\n", encoding="utf-8")


def read_json(path: str | Path) -> Any:
    """Read a record.

    Raises
    ------
    ValueError
        If it is damaged; names the file.
    """
    try:
        return json.loads(Path(path).read_text(encoding="utf-8"))
    except ValueError as error:
        raise ValueError(f"{path}: damaged, no JSON can be read from it ({error})") from None


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, np.generic):
        return value.item()
    return value
