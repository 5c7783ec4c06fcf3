"""Indices of sensitivity against closed forms, and where there are none."""

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from tests.sweeps import loaded
from workflow.case import CaseError
from workflow.figures_sensitivity import sensitivity_figure
from workflow.sweep_design import unit_cube
from workflow.sweep_sensitivity import INDICES, WHY_NOT, sensitivity, sensitivity_text

ANGLES = [
    {"name": f"{turn}_deg", "key": f"teeth.37.{turn}_deg", "uniform": [0, 10]}
    for turn in ("mesial_tip", "buccal_tip", "mesial_in")
]
A, B = 7.0, 0.1
SEEDS = range(8)


def study(folder, base_runs=256, seed=0, responses=("force_N",), factors=ANGLES):
    design = {"sobol": {"base_runs": base_runs, "seed": seed}}
    return loaded(folder, design=design, factors=factors, responses=list(responses)).study


def table(found, note=""):
    return pd.DataFrame(found | {"note": note})


def ishigami(cube):
    """y = sin x1 + a sin² x2 + b x3⁴ sin x1 on (−π, π)³."""
    x = 2 * np.pi * cube - np.pi
    return np.sin(x[:, 0]) + A * np.sin(x[:, 1]) ** 2 + B * x[:, 2] ** 4 * np.sin(x[:, 0])


def closed_form():
    """S1 and ST: the parts of the variance of Ishigami and Homma's function.

    Var E(y | x1) = (1 + b π⁴/5)²/2, Var E(y | x2) = a²/8, Var E(y | x3) = 0, and the only part of
    two factors is that of x1 and x3, 8 b² π⁸/225.
    """
    alone = np.array([0.5 * (1 + B * np.pi**4 / 5) ** 2, A**2 / 8, 0.0])
    pair = 8 * B**2 * np.pi**8 / 225
    whole = alone.sum() + pair
    return alone / whole, (alone + pair * np.array([1.0, 0.0, 1.0])) / whole


def estimate(folder, base_runs, seed):
    asked = study(folder, base_runs, seed)
    return sensitivity(table({"force_N": ishigami(unit_cube(asked))}), asked)


def errors(found):
    first, total = closed_form()
    return np.abs(np.concatenate([found["S1"] - first, found["ST"] - total]))


def test_the_closed_form_is_the_published_one():
    """Ishigami and Homma 1990 (values as often quoted, from memory), with a = 7 and b = 0.1."""
    first, total = closed_form()
    assert first == pytest.approx([0.3139, 0.4424, 0.0], abs=5e-5)
    assert total == pytest.approx([0.5576, 0.4424, 0.2437], abs=5e-5)


@pytest.mark.parametrize("base_runs", [256, 1024])
def test_indices_lie_within_their_intervals(tmp_path, base_runs):
    """A 95 % interval misses 1 in 20: of 48 at most 5 (more has a probability of 4 %)."""
    inside = []
    for seed in SEEDS:
        found = estimate(tmp_path, base_runs, seed)
        inside += list(errors(found) <= np.concatenate([found["S1_conf"], found["ST_conf"]]))
    assert len(inside) == 48
    assert sum(inside) >= 43


def test_intervals_say_something(tmp_path):
    """At N = 1024 they tell the three factors apart."""
    found = estimate(tmp_path, 1024, 0)
    assert (found["S1_conf"] < 0.1).all()
    assert (found["ST_conf"] < 0.1).all()
    assert (found[["S1_conf", "ST_conf"]] > 0).all().all()


def test_indices_converge(tmp_path):
    """Largest error, middle of eight seeds: falls with every fourfold N, and faster than 1/√N."""
    numbers = (64, 256, 1024)
    middle = [np.median([errors(estimate(tmp_path, n, s)).max() for s in SEEDS]) for n in numbers]
    assert all(later < earlier for earlier, later in pairwise(middle))
    assert middle[-1] < middle[0] / 4


def test_the_design_is_blocks_of_factors_and_two(tmp_path):
    """Saltelli 2002: a, then a with one factor of b each, then b; all base points differ."""
    cube = unit_cube(study(tmp_path, 16)).reshape(16, 5, 3)
    first, last = cube[:, 0], cube[:, -1]
    for k in range(3):
        assert np.array_equal(cube[:, 1 + k, k], last[:, k])
        others = [j for j in range(3) if j != k]
        assert np.array_equal(cube[:, 1 + k][:, others], first[:, others])
    assert len(np.unique(np.hstack([first, last]), axis=0)) == 16
    assert cube.min() >= 0
    assert cube.max() < 1


def test_the_same_seed_gives_the_same_numbers(tmp_path):
    """Also seed 0, and whatever was drawn before."""
    first = estimate(tmp_path, 64, 0)
    np.random.default_rng().random(7)
    pd.testing.assert_frame_equal(first, estimate(tmp_path, 64, 0))
    assert not first["S1"].equals(estimate(tmp_path, 64, 1)["S1"])


def test_a_response_of_which_a_run_failed_has_no_index(tmp_path):
    asked = study(tmp_path, 64, responses=["force_N", "couple_Nmm"])
    values = ishigami(unit_cube(asked))
    rows = table({"force_N": values.copy(), "couple_Nmm": values.copy()})
    whole = sensitivity(rows, asked)
    assert (whole[WHY_NOT] == "").all()
    rows.loc[5, "force_N"] = np.nan
    found = sensitivity(rows, asked).set_index("response")
    assert (found.loc["force_N", WHY_NOT] == "1 of 320 runs have no value").all()
    assert found.loc["force_N", list(INDICES)].isna().all().all()
    assert found.loc["couple_Nmm", "S1"].tolist() == whole["S1"][:3].tolist()
    rows.loc[7, "note"] = "no equilibrium"  # a failed run counts whatever stands in its row
    found = sensitivity(rows, asked)
    assert (found[WHY_NOT] != "").all()
    text = sensitivity_text(found)
    assert "- No index of force_N: 2 of 320 runs have no value." in text
    assert "no index | no index | 64" in text


@pytest.mark.parametrize("size", [0.0, 3.5])
def test_a_constant_response_has_no_index(tmp_path, size):
    """Constant but for the accuracy of a run, a wished couple for instance, is constant too."""
    asked = study(tmp_path, 64)
    noise = 1 + 1e-9 * ishigami(unit_cube(asked))
    found = sensitivity(table({"force_N": size * noise}), asked)
    assert (found[WHY_NOT] == "the response is constant").all()
    assert found[list(INDICES)].isna().all().all()


def test_a_factor_of_levels_and_one_that_does_nothing(tmp_path):
    """y of the first factor alone, two levels: S1 = ST = 1, and 0 of the other."""
    alloys = {"name": "alloy", "key": "wire.alloy", "levels": ["beta_titanium", "stainless_steel"]}
    asked = study(tmp_path, 512, factors=[alloys, ANGLES[0]])
    values = np.floor(2 * unit_cube(asked)[:, 0])
    found = sensitivity(table({"force_N": values}), asked)
    assert found["ST"].tolist() == pytest.approx([1.0, 0.0], abs=0.02)
    assert found["S1"].tolist() == pytest.approx([1.0, 0.0], abs=0.02)


def test_the_figure_shows_every_index_and_its_interval(tmp_path):
    asked = study(tmp_path, 64, responses=["force_N", "couple_Nmm"])
    values = ishigami(unit_cube(asked))
    rows = table({"force_N": values, "couple_Nmm": np.full(len(values), 2.0)})
    found = sensitivity(rows, asked)
    shown, empty = sensitivity_figure(found, "Title", "320 of 320 runs solved").axes
    for index, bars in zip(("ST", "S1"), shown.containers[1::2], strict=True):
        widths = [bar.get_width() for bar in bars]
        assert widths == pytest.approx(found[index][:3].tolist())
    for index, drawn in zip(("ST", "S1"), shown.containers[0::2], strict=True):
        segments = drawn.lines[2][0].get_segments()
        halves = [0.5 * (s[1, 0] - s[0, 0]) for s in segments]
        assert halves == pytest.approx(found[f"{index}_conf"][:3].tolist())
    assert "the response is constant" in empty.texts[0].get_text()
    assert not empty.containers


def test_a_wrong_design_is_refused_with_a_remedy(tmp_path):
    with pytest.raises(CaseError, match="power of two, as 64 or 128"):
        study(tmp_path, 100)
    with pytest.raises(CaseError, match="makes 327680 runs; leave at most 200000"):
        study(tmp_path, 65536)
