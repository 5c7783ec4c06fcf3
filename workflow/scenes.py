"""What a page needs to show the scenes of a case: their data, their words, the chart library."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup
from plotly.offline import get_plotlyjs

from workflow.figures import couple_text, force_text, three_digits
from workflow.sheet_amounts import BESIDE, amount
from workflow.words import leading, movement_words

_TEXTS = {"force": force_text, "couple": couple_text}
_BESIDE_kPa = BESIDE["kPa"]


def scene_values(scenes: Mapping[str, Any]) -> dict[str, Any]:
    """Values for the macros of ``report/scenes.html.j2``.

    Parameters
    ----------
    scenes
        Content of ``scenes.json``.

    Returns
    -------
    dict
        ``data`` for the scripts, ``library`` to draw with, and the words and numbers that stand
        beside the scenes.
    """
    scale, movement = scenes["scale"], scenes["movement"]
    return {
        "data": _data(scenes),
        "library": Markup(get_plotlyjs()),
        "factor": movement["factor"],
        "moved": f"at most {three_digits(1e3 * movement['largest_mm'])} µm",
        "scale": {
            "force": force_text(scale["bar_N"], " "),
            "couple": couple_text(scale["bar_Nmm"], " "),
        },
        "mirrored": any(part["what"] == "mirrored wire" for part in scenes["parts"]),
        "units": [_unit(unit, scenes["loads"]) for unit in scenes["units"]],
        "teeth": [_tooth(tooth) for tooth in scenes["teeth"]],
        "first_tooth": _most_stressed(scenes["teeth"]),
    }


def _data(scenes: Mapping[str, Any]) -> dict[str, Any]:
    """The record, the loads with their labels and the unit read beside kPa."""
    unit, factor = _BESIDE_kPa
    return {
        **scenes,
        "loads": [load | {"label": _label(load)} for load in scenes["loads"]],
        "beside_kPa": {"unit": unit, "factor": factor},
    }


def _label(load: Mapping[str, Any]) -> dict[str, str]:
    """Size of a load in N, in gf, and in both on two lines."""
    si, gf = _TEXTS[load["kind"]](load["size"]).split("\n")
    return {"si": si, "gf": gf.strip("()"), "both": f"{si}\n{gf}"}


def _unit(unit: Mapping[str, Any], loads: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """Name and teeth of a unit, the loads on it and how it starts to move."""
    words = movement_words(unit["anatomical"])
    moves = [leading(words, "µm").text, leading(words, "mrad").text]
    own = [
        f"{load['kind']} {_TEXTS[load['kind']](load['size'], ' ')}"
        for load in loads
        if load["unit"] == unit["name"]
    ]
    count = "tooth" if len(unit["teeth"]) == 1 else "teeth"
    return {
        "name": f"{unit['name']} ({count} {', '.join(map(str, unit['teeth']))})",
        "loads": ", ".join(own) or "no load",
        "movement": f"{moves[0]} at its centre of resistance, {moves[1]}",
    }


def _tooth(tooth: Mapping[str, Any]) -> dict[str, Any]:
    field = tooth["hydrostatic_kPa"]
    return {
        "number": tooth["number"],
        "unit": tooth["unit"],
        "stress": f"{amount(field['min'], 'kPa')} to {amount(field['max'], 'kPa')}",
    }


def _most_stressed(teeth: Sequence[Mapping[str, Any]]) -> int:
    def largest(tooth: Mapping[str, Any]) -> float:
        field = tooth["hydrostatic_kPa"]
        return float(max(-field["min"], field["max"]))

    return int(max(teeth, key=largest)["number"])
