"""The course of movement in words."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from workflow.figures import force_text, three_digits
from workflow.specs import Spec
from workflow.words import COMPONENTS, leading, movement_words


def course_texts(record: Spec, role_of: Mapping[str, str]) -> tuple[str, str]:
    """Alternative text and caption: how far the target comes, and when to reactivate.

    Parameters
    ----------
    role_of
        Role of each unit by name.
    """
    end, again = record["end"], record["reactivate"]
    moved = "; ".join(
        f"{name} {target_words(unit)}"
        for name, unit in end["units"].items()
        if role_of[name] == "target"
    )
    way = f"{three_digits(end['moved_mm'])} mm"
    reason = "where the force has come to its floor" if record["ended_at_floor"] else "followed"
    low, high = record["weeks_at_canine_rates"]["end"]
    when = (
        "not reached"
        if again is None
        else f"after {three_digits(again['moved_mm'])} mm, at {force_text(again['force_N'], ' ')}"
    )
    return (
        f"Outlines of the target on its way with the paths of crown and apex, and force, couple "
        f"and moment-to-force ratio over the way; after {way} {moved}.",
        f"After {way} of the point that moves most, {reason}: {moved}. "
        f"{100 * record['reactivate_share']:.0f} % of the first force is left: {when}. All units "
        "move on in proportion to their initial movement, sockets following; no time is computed. "
        f"At the rates of human canines translated at 4 to 13 kPa (Iwasaki et al. 2000) the way "
        f"takes {low:.0f} to {high:.0f} weeks: a band to compare with, no forecast.",
    )


def target_words(unit: Spec) -> str:
    """The largest translation and the largest turn of a unit on its way."""
    small = {}
    for key in COMPONENTS:
        stem, kind = key.rsplit("_", 1)
        value = unit[f"{stem}_mm"] if kind == "um" else np.radians(unit[f"{stem}_deg"])
        small[key] = 1e3 * float(value)
    words = movement_words(small)
    shift, turn = leading(words, "µm"), leading(words, "mrad")
    degrees = np.degrees(1e-3 * turn.size)
    return (
        f"{turn.word} {three_digits(degrees)}°, its centre of resistance {shift.word} "
        f"{three_digits(1e-3 * shift.size)} mm"
    )
