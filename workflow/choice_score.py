"""How well the movement of a set-up agrees with what is wanted of it.

Every wish is a direction with a length: the wanted amount t, or none where the movement is
unwanted. Tips and turns are made lengths by a lever. With the movement x found along it, of an
unwanted one only what goes that way, and the weights w, the agreement is the cosine of the angle

    ``A = Σ w t x / √(Σ w t² · Σ w x²)``

between what is wanted and what is found: 1 where all goes as wanted in the wanted proportions, 0
where nothing does, −1 where all goes the opposite way. It depends on neither the size of the
wishes nor the activation. Movements to which one is indifferent do not count.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from workflow.choice_config import WORDS, Choice
from workflow.figures import three_digits
from workflow.words import COMPONENTS, Component, movement_words

Movements = Mapping[str, Mapping[str, float]]  # by unit and component, µm and mrad

DEFAULT_AMOUNT_UM = 10.0
_NOTABLE = 0.05  # of the largest movement that counts: below that it is not told


@dataclass(frozen=True)
class Aim:
    """One wish as a direction.

    Attributes
    ----------
    unit, component, sign, word
        Movement of the unit, its key and sign in a movement, and its word.
    amount_um
        How much is wanted, tips and turns by the lever; 0 of what is unwanted.
    weight
        How much it counts.
    lever_um_per_mrad
        Lever of tips and turns; 1 for translations.
    """

    unit: str
    component: str
    sign: int
    word: str
    amount_um: float
    weight: float
    lever_um_per_mrad: float

    @property
    def wanted(self) -> bool:
        """Whether the movement is wanted, not unwanted."""
        return self.amount_um > 0

    def along(self, movements: Movements) -> float:
        """Movement along the wish, µm or mrad."""
        return self.sign * movements[self.unit][self.component]

    def counted_um(self, movements: Movements) -> float:
        """Movement that counts, as a length, µm: of an unwanted one only what goes that way."""
        along = self.along(movements) * self.lever_um_per_mrad
        return along if self.wanted else max(along, 0.0)


def aims_of(choice: Choice) -> tuple[Aim, ...]:
    """All wishes of a choice but those of indifference."""
    return tuple(_aims(choice))


def _aims(choice: Choice) -> Iterator[Aim]:
    for unit, wishes in choice.wishes.items():
        for word, (component, sign, text) in WORDS.items():
            wish = wishes.wish(word)
            if wish.wish == "indifferent":
                continue
            lever = choice.lever_mm if COMPONENTS[component][3] == "mrad" else 1.0
            amount = 0.0
            if wish.wish == "wanted":
                amount = DEFAULT_AMOUNT_UM if wish.amount is None else wish.amount * lever
            yield Aim(unit, component, sign, text, amount, wish.weight, lever)


def leading_aim(aims: Sequence[Aim]) -> Aim:
    """The wanted movement of the largest weighted amount: set-ups are compared where it is met."""
    return max(aims, key=lambda aim: aim.weight * aim.amount_um)


def agreement(aims: Sequence[Aim], movements: Movements) -> float:
    """Cosine between wanted and found movement (equation of the module); 0 without movement."""
    w, t, x = _arrays(aims, movements)
    size = float(np.sqrt(np.sum(w * t**2) * np.sum(w * x**2)))
    return float(np.sum(w * t * x)) / size if size > 0 else 0.0


def shares(aims: Sequence[Aim], movements: Movements) -> list[float]:
    """Share of each wish in all movement that counts, by its weighted size; sizes sum to 1.

    Positive: a wanted movement. Negative: an unwanted one, or the opposite of a wanted one.
    """
    w, t, x = _arrays(aims, movements)
    total = float(np.sum(w * np.abs(x)))
    signed = np.where(t > 0, x, -x)
    return [float(v) for v in w * signed / total] if total > 0 else [0.0] * len(aims)


def _arrays(aims: Sequence[Aim], movements: Movements) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Weights, wanted amounts and movements that count, one entry a wish."""
    w = np.array([aim.weight for aim in aims])
    t = np.array([aim.amount_um for aim in aims])
    x = np.array([aim.counted_um(movements) for aim in aims])
    return w, t, x


def reasons(aims: Sequence[Aim], movements: Movements, teeth: Mapping[str, int]) -> list[str]:
    """What each unit does that someone cares for, in words.

    Parameters
    ----------
    teeth
        Number of teeth of each unit.
    """
    largest = max((abs(aim.counted_um(movements)) for aim in aims), default=0.0)
    found: dict[str, list[str]] = {}
    for aim in aims:
        if aim.wanted or aim.counted_um(movements) > _NOTABLE * largest:
            found.setdefault(aim.unit, []).append(_told(aim, movements, teeth[aim.unit] > 1))
    return [f"{unit}: {', '.join(parts)}" for unit, parts in found.items()]


def _told(aim: Aim, movements: Movements, several: bool) -> str:
    word = component_word(movements[aim.unit], aim.component)
    text = f"{word.verb(several)} {three_digits(word.size)} {word.unit}"
    if not aim.wanted:
        return f"{text} (unwanted)"
    if aim.along(movements) <= 0:
        return f"{text} (against the wish)"
    return f"{text} (wanted {aim.amount_um / aim.lever_um_per_mrad:.3g})"


def component_word(movement: Mapping[str, float], component: str) -> Component:
    """One component of a movement in words."""
    return dict(zip(COMPONENTS, movement_words(movement), strict=True))[component]
