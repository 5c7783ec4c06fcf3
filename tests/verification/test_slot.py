"""Play of a wire in its slot: published torsional play, and the geometry of tipping."""

import numpy as np
import pytest

from fem.attachment import LimitedContact, PointContact
from fem.closed_form import TwoPointCantilever
from fem.material import Elastic
from fem.section import rectangular_section, round_section
from fem.slot import Slot, jamming_angle, slot_contacts, slot_play

INCH = 25.4


def play(height, width, slot, *, depth=0.030, length_mm=4.0):
    section = rectangular_section(width * INCH, height * INCH)
    return slot_play(section, Slot(slot * INCH, depth * INCH, length_mm))


@pytest.mark.parametrize(
    ("height", "width", "degrees"),
    [(0.019, 0.025, 7.24), (0.019, 0.022, 8.37), (0.019, 0.019, 9.96)],
)
def test_torsional_play_as_published(height, width, degrees):
    """Papageorgiou et al. 2016, Prog Orthod 17:5, Table 6 (after Dellinger), 0.022 in slot."""
    found = np.degrees(play(height, width, 0.022).torsion_rad)
    assert found == pytest.approx(degrees, abs=0.005)


@pytest.mark.parametrize(
    ("height", "width", "slot", "degrees"),
    [
        (0.021, 0.025, 0.022, 2.33),
        (0.018, 0.025, 0.022, 9.82),
        (0.017, 0.025, 0.022, 12.48),
        (0.016, 0.022, 0.022, 17.95),
        (0.017, 0.025, 0.018, 2.32),
        (0.016, 0.022, 0.018, 5.40),
    ],
)
def test_torsional_play_of_other_wires(height, width, slot, degrees):
    """The formula that gives the published three, solved for others beside the references."""
    assert np.degrees(play(height, width, slot).torsion_rad) == pytest.approx(degrees, abs=0.006)


@pytest.mark.parametrize("height", [0.017, 0.018, 0.021])
def test_jammed_section_touches_both_walls(height):
    """The corners of the turned section stand exactly H apart (geometry, from the corners)."""
    w, H = 0.025, 0.022
    angle = play(height, w, H).torsion_rad
    corners = np.array([[w, height], [w, -height]]) / 2
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    assert 2 * np.abs(corners @ turn.T)[:, 1].max() == pytest.approx(H, rel=1e-12)


@pytest.mark.parametrize(("slot", "degrees"), [(0.018, 0.36), (0.022, 1.82)])
def test_tipping_play_of_a_tube(slot, degrees):
    """A tube of 4 mm and a wire of 0.017 in: atan((H − h)/b), derived beside the references."""
    found = play(0.017, 0.025, slot)
    assert np.degrees(np.arctan(found.height_mm / 4.0)) == pytest.approx(degrees, abs=0.005)
    assert found.height_rad == pytest.approx(found.height_mm / 4.0, rel=4e-3)


def test_small_play_over_a_longer_slot_turns_less():
    """θ → (H − h)/c as the play vanishes, with an error of the order of θ."""
    exact = jamming_angle(4.0, 0.45, 0.45 + 1e-4)
    assert exact == pytest.approx(1e-4 / 4.0, rel=1e-5)


def test_width_plays_in_the_depth():
    found = play(0.017, 0.025, 0.022, depth=0.028)
    assert found.width_mm == pytest.approx(0.003 * INCH, rel=1e-12)
    assert found.width_rad == pytest.approx(found.width_mm / 4.0, rel=4e-3)


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


def test_bracket_feels_more_than_the_tip_force():
    """F·L/b and F·(L + b)/b of statics; their couple about the middle is F (L + b/2)."""
    beam = TwoPointCantilever(rectangular_section(0.6, 0.4), Elastic(65e3, 0.3), 20.0, 4.0)
    distal, mesial = beam.contact_forces_N(0.3)
    assert (distal, mesial) == pytest.approx((0.3 * 20 / 4, 0.3 * 24 / 4))
    assert (distal + mesial) * 2.0 == pytest.approx(beam.couple_Nmm(0.3))


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
