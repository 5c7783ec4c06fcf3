"""Tables of reference values, each with its source in its head."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

_FOLDER = Path(__file__).parent


def reference_table(name: str) -> pd.DataFrame:
    """Table of reference values by the stem of its file."""
    return pd.read_csv(_FOLDER / f"{name}.csv", comment="#")
