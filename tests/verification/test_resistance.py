"""Movement in the words of the trade, and motions without a screw axis."""

import numpy as np
import pytest

from fem.movement import anatomical_motion
from fem.rigid import screw_axis

ORIGIN = np.zeros(3)
X, Y, Z = np.eye(3)


def test_translation_has_no_screw_axis():
    assert screw_axis(np.array([0.3, -0.2, 0.1, 0, 0, 0]), ORIGIN) is None


@pytest.mark.parametrize("mirrored", [False, True])
def test_anatomical_words_follow_the_crown(mirrored):
    """A rotation that takes the crown mesially is a mesial tip, on either side of the mouth."""
    axes = np.column_stack([-Y, -X if mirrored else X, Z])
    mesial, buccal, occlusal = axes.T
    crown, side = 10 * occlusal, 5 * mesial
    for towards, name in ((mesial, "mesial_tip_rad"), (buccal, "buccal_tip_rad")):
        turn = 1e-3 * np.cross(occlusal, towards)
        assert np.cross(turn, crown) @ towards > 0
        words = anatomical_motion(np.concatenate([ORIGIN, turn]), axes)
        assert getattr(words, name) == pytest.approx(1e-3)
    turn = 1e-3 * np.cross(mesial, -buccal)
    assert np.cross(turn, side) @ -buccal > 0  # the mesial side goes lingually
    assert anatomical_motion(np.concatenate([ORIGIN, turn]), axes).mesial_in_rad == (
        pytest.approx(1e-3)
    )
    shift = anatomical_motion(np.concatenate([0.01 * occlusal, ORIGIN]), axes)
    assert shift.extrusion_mm == pytest.approx(0.01)
