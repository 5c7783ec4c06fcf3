"""Anatomical words for signed numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

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
        return f"{self.word} {self.size:.3g} {self.unit}"


def movement_words(anatomical: Mapping[str, float]) -> list[Component]:
    """Words for the components of a movement, as the summary keeps them under ``anatomical``.

    The signs are those of `fem.movement.AnatomicalMotion`.
    """
    return [
        Component(quantity, positive if anatomical[key] >= 0 else negative, abs(anatomical[key]), u)
        for key, (quantity, positive, negative, u) in COMPONENTS.items()
    ]


def leading(components: list[Component], unit: str) -> Component:
    """The largest of the components in a unit, ``µm`` or ``mrad``."""
    return max((c for c in components if c.unit == unit), key=lambda c: c.size)
