"""A wire in its slot: what does not enter, and contacts that are limited by play."""

import numpy as np
import pytest

from fem.attachment import LimitedContact, PointContact
from fem.section import round_section
from fem.slot import Slot, slot_contacts, slot_play
from workflow.verification.sections_slot import play


def test_round_wire_turns_freely():
    found = slot_play(round_section(0.4), Slot(0.5, 0.6, 4.0))
    assert found.torsion_rad == np.inf
    assert found.height_mm == pytest.approx(0.1)


def test_wire_larger_than_its_slot_does_not_enter():
    with pytest.raises(ValueError, match="does not enter"):
        play(0.022, 0.025, 0.018)


def test_slot_has_a_size():
    with pytest.raises(ValueError, match="length_mm = 0"):
        Slot(0.5, 0.6, 0.0)


def test_contacts_are_limited_where_there_is_play():
    tight = play(0.018, 0.025, 0.018)
    places = (np.zeros(3), np.array([4.0, 0, 0]))
    contacts = slot_contacts(0, (0, 4), places, np.eye(3), tight)
    heights = [
        c for c in contacts if isinstance(c, PointContact) and c.directions[0] @ [0, 0, 1] == 1
    ]
    widths = [c for c in contacts if isinstance(c, LimitedContact)]
    assert len(heights) == 2
    assert [c.most for c in widths] == pytest.approx([tight.width_mm / 2] * 2)
