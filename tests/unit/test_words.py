"""Words for signed numbers: `fem.movement` says which sign is which."""

import numpy as np
import pytest

from tests.sheet_example import ANATOMICAL
from workflow.words import leading, load_words, movement_words


@pytest.mark.parametrize(
    ("sign", "words"),
    [
        (1.0, ["extrusion", "distal", "lingual", "distal crown tip", "lingual crown tip"]),
        (-1.0, ["intrusion", "mesial", "buccal", "mesial crown tip", "buccal crown tip"]),
    ],
)
def test_words_match_signs(sign: float, words: list[str]) -> None:
    found = movement_words({key: sign * value for key, value in ANATOMICAL.items()})
    assert [component.word for component in found[:5]] == words
    assert found[5].word == ("mesial-in" if sign > 0 else "mesial-out")
    assert all(component.size > 0 for component in found)


def test_the_leading_parts_are_the_largest_in_size() -> None:
    words = movement_words(ANATOMICAL)
    assert leading(words, "µm").text == "extrusion 2.00 µm"
    assert leading(words, "mrad").text == "distal crown tip 2.06 mrad"


def test_a_load_in_words_on_both_sides_of_the_mouth() -> None:
    """Lower left: mesial −y, buccal +x, occlusal +z. A couple about −x lifts the mesial side up."""
    left = np.array([[0.0, 1, 0], [-1, 0, 0], [0, 0, 1]])
    force, couple = np.array([0.0, 0.1, 0.5]), np.array([-11.0, 0, 0])
    words = [w.word for w in load_words(force, couple, left) if w.size > 0]
    assert words == ["extrusion", "distal", "distal crown tip"]
    # the mirror image turns y and z of axial vectors, but not x
    right = left * np.array([[-1.0], [1], [1]])
    mirrored = [w.word for w in load_words(force, couple, right) if w.size > 0]
    assert mirrored == words
