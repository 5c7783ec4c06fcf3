"""Bent wires as solids: bends that fold over, the record of a bent wire, where the rod ends."""

import numpy as np
import pytest

from fem.sweep_compare import rod_against_solid
from fem.sweep_mesh import swept_mesh
from fem.sweep_rotation import bend_by_force
from fem.sweep_solid import wire_solid
from geometry.wire_path import Bend, Straight
from workflow.verification.rods_linear import swept
from workflow.verification.rods_solid import ROUND, SQUARE, STEEL


def test_bend_within_the_wire_is_refused():
    with pytest.raises(ValueError, match="fold over"):
        swept_mesh(swept((Bend(1.0, 0.19, "height"),)), ROUND)


def test_record_of_a_wire_bent_far():
    force = np.array([0.0, 0.0, 6.0])
    bent = bend_by_force(wire_solid(swept((Straight(10.0),), piece_mm=1.0), SQUARE, STEEL, (1, 1)),
                         force, steps=3)  # fmt: skip
    assert bent.residual < 1e-8
    assert 0.01 < bent.largest_strain < 0.03
    assert bent.force_N == pytest.approx(force, abs=1e-9)


def test_where_the_rod_ends():
    """A tight bend is stiffer than its rod, in its plane by about ``(3/5)(h/2R)²`` (Winkler)."""
    tight, wide = rod_against_solid(SQUARE, STEEL, (1.5, 5.0), shapes=["quarter bend"])
    assert 0.9 < tight.in_plane < 0.96
    assert wide.in_plane == pytest.approx(1.0, abs=0.01)
    with pytest.raises(ValueError, match="shape 'spiral'"):
        rod_against_solid(SQUARE, STEEL, shapes=["spiral"])
