"""Anatomical words for signed numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import astuple, dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.movement import anatomical_motion
from workflow.figures import three_digits

Array = NDArray[np.float64]

# Component of the movement: quantity, word if positive, word if negative, unit.
_TRANSLATIONS = {
    "extrusion_um": ("along the tooth", "extrusion", "intrusion", "µm"),
    "mesial_um": ("along the arch", "mesial", "distal", "µm"),
    "buccal_um": ("across the arch", "buccal", "lingual", "µm"),
}
_ROTATIONS = {
    "mesial_tip_mrad": ("tip along the arch", "mesial crown tip", "distal crown tip", "mrad"),
    "buccal_tip_mrad": ("tip across the arch", "buccal crown tip", "lingual crown tip", "mrad"),
    "mesial_in_mrad": ("turn about the long axis", "mesial-in", "mesial-out", "mrad"),
}
COMPONENTS = _TRANSLATIONS | _ROTATIONS

_VERBS = {
    "extrusion": "extrudes",
    "intrusion": "intrudes",
    "mesial": "moves mesially",
    "distal": "moves distally",
    "buccal": "moves buccally",
    "lingual": "moves lingually",
    "mesial crown tip": "its crown tips mesially",
    "distal crown tip": "its crown tips distally",
    "buccal crown tip": "its crown tips buccally",
    "lingual crown tip": "its crown tips lingually",
    "mesial-in": "its mesial side turns in",
    "mesial-out": "its mesial side turns out",
}


@dataclass(frozen=True)
class Component:
    """One part of a movement in words.

    Attributes
    ----------
    quantity
        What it is a part of: a direction, a tip or a turn.
    word
        Which way it goes.
    size, unit
        How much; never negative.
    """

    quantity: str
    word: str
    size: float
    unit: str

    @property
    def text(self) -> str:
        """Word and size."""
        return f"{self.word} {three_digits(self.size)} {self.unit}"

    def verb(self, several_teeth: bool) -> str:
        """What the unit does, for a sentence."""
        verb = _VERBS[self.word]
        return verb.replace("crown tips", "crowns tip") if several_teeth else verb


def movement_words(anatomical: Mapping[str, float]) -> list[Component]:
    """Words for the components of a movement, as the summary keeps them under ``anatomical``.

    The signs are those of `fem.movement.AnatomicalMotion`.
    """
    return [
        Component(quantity, positive if anatomical[key] >= 0 else negative, abs(anatomical[key]), u)
        for key, (quantity, positive, negative, u) in COMPONENTS.items()
    ]


def load_words(force_N: Array, moment_Nmm: Array, axes: Array) -> list[Component]:
    """Words for a force and a moment: which movement each part works towards.

    Parameters
    ----------
    force_N, moment_Nmm
        (3,) each.
    axes
        Columns mesial, buccal, occlusal, (3, 3); left-handed for the mirrored side.
    """
    parts = anatomical_motion(np.concatenate([force_N, moment_Nmm]), axes)
    values = dict(zip(COMPONENTS, astuple(parts), strict=True))
    units = {"µm": "N", "mrad": "N·mm"}
    return [replace(word, unit=units[word.unit]) for word in movement_words(values)]


def leading(components: list[Component], unit: str) -> Component:
    """The largest of the components in a unit, ``µm`` or ``mrad``."""
    return max((c for c in components if c.unit == unit), key=lambda c: c.size)
