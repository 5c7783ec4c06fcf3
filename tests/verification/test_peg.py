"""A wire over a peg: the place of contact as an unknown, friction, and forces that follow."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from fem.appliance import Appliance, Unit
from fem.attachment import clamp_contact
from fem.peg import Peg, solve_on_peg, straight_cut
from fem.rod import RodState, passive_rod

REFERENCE = Path(__file__).parents[1] / "reference"
ON_PEG = pd.read_csv(REFERENCE / "elastica_on_peg.csv", comment="#")
STIFF = 1e8  # axial and shear stiffness beside a bending stiffness of 1: as good as inextensible
LAW = np.array([STIFF, STIFF, STIFF, 1, 1, 1])
WALL = (Unit("wall", np.zeros(3), None),)


def straight(n=60):
    x = np.linspace(0.0, 1.0, n + 1)
    points = np.stack([x, 0 * x, 0 * x], axis=1)
    axes = np.broadcast_to(np.eye(3), (n + 1, 3, 3))
    rod = passive_rod(points, axes, np.diff(x), LAW)
    clamp = clamp_contact(0, 0, np.zeros(3), np.eye(3))
    return Appliance(rod, RodState(points, axes), WALL, clamp)


def on_peg(deflection, friction=0.0, n=60):
    cut = straight_cut(straight(n), 0, LAW)
    return solve_on_peg(cut, 1.0, Peg(0, np.array([1.0, 0, deflection]), friction))


@pytest.mark.parametrize("row", list(ON_PEG.itertuples()), ids=lambda row: f"d={row.deflection:g}")
def test_elastica_over_a_frictionless_peg(row):
    """Sixteen deflections to 1e-6, closed form (see the table's head)."""
    solved = on_peg(row.deflection)
    tangent = solved.equilibrium.state.axes[-1][:, 0]
    force = -solved.equilibrium.loads[-1].wrench[:3]
    root = sum(load.wrench[3:] for load in solved.equilibrium.loads[:4])
    found = [
        np.arctan2(tangent[2], tangent[0]),
        solved.normal_N,
        np.linalg.norm(root),
        solved.length_mm,
        force[2],
        -force[0],
    ]
    assert found == pytest.approx(list(row)[2:], rel=1e-6)
    assert abs(solved.along_N) < 1e-8
