"""Loops end where their legs go on, and their stiffness is symmetric."""

import numpy as np
import pytest

from workflow.verification.rods_corners import cornered, drawn
from workflow.verification.rods_curved import pitched, quarter_circle
from workflow.verification.rods_linear import LAW, swept, tip_compliance


@pytest.mark.parametrize("pitch", [0.05, 0.1, 0.2])
def test_legs_of_a_loop_lie_a_pitch_apart(pitch):
    assert pitched(pitch).tip == pytest.approx([10, 0, pitch], abs=1e-5)


@pytest.mark.parametrize("name", ["U", "L", "T", "box"])
@pytest.mark.parametrize("radius", [0.1, 0.4])
def test_loops_go_on_in_line(name, radius):
    assert swept(cornered(name, radius)).tip == pytest.approx([10, 0, 0], abs=1e-12)


@pytest.mark.parametrize("radius", [0.0, 0.3])
def test_polyline_ends_at_its_last_vertex(radius):
    vertices = [(0, 0), (2, 0), (2, 6), (6, 6), (6, 0), (10, 0)]
    assert drawn(vertices, radius).tip == pytest.approx([10, 0, 0], abs=1e-12)


def test_compliance_is_symmetric():
    C = tip_compliance(quarter_circle(48), LAW)
    assert pytest.approx(C.T, abs=1e-8 * np.abs(C).max()) == C
