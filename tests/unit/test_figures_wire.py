"""The figure of the straight wire: a case stands in it only where its wire is much like it."""

import numpy as np
import pandas as pd
import pytest

from workflow.figures_wire import CASE, deflection_figure, deflection_table


def records(bent_N: float) -> tuple[dict, dict, pd.DataFrame, dict]:
    """A wire of 0.1 N/mm activated by 5 mm, and what linear theory gives it as bent."""
    offsets = np.linspace(0.0, 10.0, 11)
    rod = {
        "spec": {"span_mm": 20.0, "base_mm": 4.0},
        "curve": {"offset_mm": offsets, "force_N": 0.1 * offsets / (1 + 0.02 * offsets)},
        "closed_form": {"euler_bernoulli_N_per_mm": 0.1},
    }
    path = pd.DataFrame({"passive_x_mm": [0.0, 4, 24], "passive_z_mm": [0.0, 0, -8]})
    path = path.assign(engaged_x_mm=[0.0, 4, 25], engaged_z_mm=[0.0, 0, 0])
    wire = {"activation_mm": [0, 3.0, 4.0], "force_N": [0, 0, -0.45]}
    wire |= {"linear_theory": {"force_N": 0.5}, "linear_as_bent": {"force_N": bent_N}}
    return rod, {"stiffness_N_per_mm": None}, path, {"wire": wire}


@pytest.mark.parametrize("bent_N", [0.455, 0.5, 0.545])
def test_a_case_like_the_straight_wire_is_shown(bent_N: float) -> None:
    table = deflection_table(*records(bent_N))
    case = table[table["series"] == CASE]
    assert case[["x_mm", "y"]].to_numpy() == pytest.approx(np.array([[5.0, 0.45]]))
    left = deflection_figure(table, 20.0).axes[0]
    assert left.get_title() == "Force: linear theory against finite rotations"
    assert any(label.startswith(CASE) for label in left.get_legend_handles_labels()[1])


@pytest.mark.parametrize("bent_N", [0.2, 0.44, 0.56])
def test_a_wire_with_loops_is_left_out_and_the_title_says_so(bent_N: float) -> None:
    table = deflection_table(*records(bent_N))
    assert CASE not in set(table["series"])
    left = deflection_figure(table, 20.0).axes[0]
    assert left.get_title() == "Force: the straight wire of the same span"
    assert not any(label.startswith(CASE) for label in left.get_legend_handles_labels()[1])
