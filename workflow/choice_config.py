"""Config models of a choice of set-up: what is wanted of each unit, in the words of the trade."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from workflow.case_errors import nearest
from workflow.case_keys import PRACTICE, Part, key
from workflow.values import Line, Name, Number, Tooth
from workflow.words import COMPONENTS

Kind = Literal["wanted", "unwanted", "indifferent"]

_TRANSVERSE = ("buccal_um", "buccal_tip_mrad", "mesial_in_mrad")


def key_of(word: str) -> str:
    """A movement word as a key: ``mesial crown tip`` is ``mesial_crown_tip``."""
    return word.replace(" ", "_").replace("-", "_")


# Key of each movement word: component, sign, the word.
WORDS = {
    key_of(word): (component, sign, word)
    for component, (_, positive, negative, _) in COMPONENTS.items()
    for sign, word in ((1, positive), (-1, negative))
}


class Wish(Part):
    """What is thought of one movement of a unit."""

    wish: Kind = key("Whether the movement is wanted, unwanted or neither")
    amount: Number | None = key(
        "How much is wanted, in µm or mrad; amounts matter in proportion to each other. Left out: "
        "10 µm, or the tip that moves a point lever_mm away as far",
        None,
        "µm or mrad",
        gt=0,
        le=10_000,
    )
    weight: Number = key("How much it counts beside the others", 1.0, "1", PRACTICE, gt=0, le=1000)

    @model_validator(mode="after")
    def _amount_of_what_is_wanted(self) -> Self:
        if self.amount is not None and self.wish != "wanted":
            text = (
                f"an amount belongs to what is wanted; drop it or write wish: wanted ({self.wish})"
            )
            raise PydanticCustomError("amount", "{text}", {"text": text})
        return self


def _word_alone(value: Any) -> Any:
    """Read ``extrusion: unwanted`` as ``extrusion: {wish: unwanted}``."""
    return {"wish": value} if isinstance(value, str) else value


def _known_word(value: Any) -> Any:
    for word in value if isinstance(value, dict) else ():
        if word not in WORDS:
            text = f"{word} is no movement; {nearest(word, WORDS)}"
            raise PydanticCustomError("no_movement", "{text}", {"text": text})
    return {word: _word_alone(wish) for word, wish in value.items()} if value else value


class UnitWishes(Part):
    """Wishes for one unit: movements of its centre of resistance, and tips and turns."""

    movements: dict[str, Wish] = Field(
        description="Wishes by movement word, with underscores: extrusion, distal_crown_tip, …",
        default={},
    )
    otherwise: Kind = key("What holds for the movements that are not named", "indifferent")

    @model_validator(mode="before")
    @classmethod
    def _words_beside_otherwise(cls, value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        named = {str(word): wish for word, wish in value.items() if word != "otherwise"}
        rest = {"otherwise": value["otherwise"]} if "otherwise" in value else {}
        return {"movements": _known_word(named), **rest}

    @model_validator(mode="after")
    def _one_wish_a_direction(self) -> Self:
        for word in self._wanted:
            component, sign, _ = WORDS[word]
            (other,) = (w for w, (c, s, _) in WORDS.items() if c == component and s != sign)
            if other in self.movements and self.movements[other].wish != "indifferent":
                text = f"{word} is wanted, so {other} counts against it already; drop one of them"
                raise PydanticCustomError("both_ways", "{text}", {"text": text})
        if self.otherwise == "wanted":
            text = "what is wanted must be named; write otherwise: unwanted or indifferent"
            raise PydanticCustomError("otherwise", "{text}", {"text": text})
        return self

    @property
    def _wanted(self) -> list[str]:
        return [word for word, wish in self.movements.items() if wish.wish == "wanted"]

    def wish(self, word: str) -> Wish:
        """What is wished of a movement, named or not.

        The opposite of a wanted movement needs no wish: it counts against the wanted one.
        """
        if word in self.movements:
            return self.movements[word]
        if WORDS[word][0] in [WORDS[other][0] for other in self._wanted]:
            return Wish(wish="indifferent")
        return Wish(wish=self.otherwise)


class Choice(Part):
    """Two units, what is wanted of them, and what all set-ups have in common."""

    choice: Name = key("Name of the choice, the same as the file name before .yaml")
    title: Line = key("What is to be chosen, in one line", min_length=1, max_length=150)
    base: dict[str, Any] = key("Keys of a case file but those that are chosen")
    wishes: dict[Name, UnitWishes] = key("Wishes by the name of the unit")
    tubes: tuple[Tooth, ...] | None = key(
        "Teeth that can carry a tube; left out, all of both units", None, min_length=1
    )
    first_couple_Nmm: Number = key(
        "Couple at which every set-up is first solved", 5.0, "N·mm", PRACTICE, gt=0, le=100
    )
    lever_mm: Number = key(
        "A tip or turn counts as the way of a point this far off its axis",
        10.0,
        "mm",
        "About the length of a root; " + PRACTICE.lower(),
        gt=0,
        le=50,
    )

    @property
    def wanted(self) -> Iterator[tuple[str, str, Wish]]:
        """Unit, movement word and wish of all that is wanted."""
        for unit, wishes in self.wishes.items():
            for word, wish in wishes.movements.items():
                if wish.wish == "wanted":
                    yield unit, word, wish

    @property
    def transverse(self) -> bool:
        """Whether a movement across the arch, or a turn about the long axis, is wanted."""
        return any(WORDS[word][0] in _TRANSVERSE for _, word, _ in self.wanted)
