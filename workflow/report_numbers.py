"""Numbers of a run that stand beside its results in the report, a few words each.

They are read when the report is made: each function takes what a rule read and what it wrote.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from workflow.figures import couple_text, force_text, three_digits
from workflow.records import read_json
from workflow.words import leading, movement_words


def loads(read: Any, written: Any) -> str:
    """Couple on the two-point unit and force on either."""
    wire = read_json(read.summary)["wire"]
    couple, force = (float(np.linalg.norm(wire[key])) for key in ("couple_Nmm", "force_N"))
    return f"couple {couple_text(couple, ' ')}, force {force_text(force, ' ')}"


def movements(read: Any, written: Any) -> str:
    """Largest shift and largest turn of each unit."""
    units = read_json(read.summary)["units"]
    moved = {name: movement_words(unit["anatomical"]) for name, unit in units.items()}
    return "; ".join(
        f"{name} {leading(words, 'µm').text}, {leading(words, 'mrad').text}"
        for name, words in moved.items()
    )


def activations(read: Any, written: Any) -> str:
    """Over which activations the force stays near that of the case."""
    band = read_json(written.record)["band"]
    start, end = band["lower"]["activation_mm"], band["upper"]
    within = f"force within {100 * band['share']:.0f} % from {three_digits(start)} mm"
    return within + (f" to {three_digits(end['activation_mm'])} mm" if end else " on")


def rod_and_formula(read: Any, written: Any) -> str:
    """Force by finite rotations and by linear theory."""
    wire = read_json(read.summary)["wire"]
    force = float(np.linalg.norm(wire["force_N"]))
    linear = wire["linear_theory"]["force_N"]
    return f"this case {three_digits(force)} N, linear theory {three_digits(linear)} N"


def elements(read: Any, written: Any) -> str:
    """Size of a tooth's mesh."""
    return f"{sum(region['elements'] for region in read_json(read.support)['mesh'])} elements"


def passing(read: Any, written: Any) -> str:
    """How many checks pass."""
    passed = pd.read_csv(next(iter(written)))["passed"]
    return f"{int(passed.sum())} of {len(passed)} pass"


def ranked(read: Any, written: Any) -> str:
    """How many set-ups can do what is wished for."""
    table = pd.read_csv(written.ranking)
    return f"{int(table['rank'].notna().sum())} of {len(table)} set-ups do"


def searched(read: Any, written: Any) -> str:
    """What a search says of itself."""
    return str(read_json(written.report)["said"])


def runs(read: Any, written: Any) -> str:
    """Number of runs of a study, and of those that failed."""
    notes = pd.read_csv(written.csv, usecols=["note"])["note"]
    return f"{len(notes)} runs, {int(notes.notna().sum())} failed"


def agreeing(read: Any, written: Any) -> str:
    """How many figures have the numbers of their references."""
    figures = read_json(written.records)["figures"]
    agree = sum(all(column["agrees"] for column in figure["columns"]) for figure in figures)
    return f"{agree} of {len(figures)} figures agree"
