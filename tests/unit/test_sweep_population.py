"""The shipped population: what is drawn is what the file asks for; how responses spread."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import kstest, truncnorm

from geometry.anatomy import tooth_dimensions
from tests.sweeps import loaded
from workflow.sweep_config import STUDIES, load_parameter_study
from workflow.sweep_design import design_points, unit_cube
from workflow.sweep_runs import make_run
from workflow.sweep_spread import spread, spread_figure, spread_text
from workflow.sweep_supports import study_supports

POPULATION = load_parameter_study(STUDIES / "population.yaml")
DRAWN = [factor for factor in POPULATION.study.factors if factor.normal is not None]


@pytest.fixture(scope="module")
def values():
    columns = zip(*design_points(POPULATION.study), strict=True)
    names = (factor.name for factor in POPULATION.study.factors)
    return {name: [c.shown for c in column] for name, column in zip(names, columns, strict=True)}


@pytest.mark.parametrize("factor", DRAWN, ids=lambda factor: factor.name)
def test_dimensions_have_the_mean_spread_and_bounds_asked_for(values, factor):
    """Of 500: mean to 3 and standard deviation to 4 standard errors, and the law itself."""
    asked, found = factor.normal, np.array(values[factor.name])
    ends = [(end - asked.mean) / asked.sd for end in (asked.low, asked.high)]
    law = truncnorm(*ends, loc=asked.mean, scale=asked.sd)
    error = law.std() / np.sqrt(len(found))
    assert len(found) == 500
    assert found.mean() == pytest.approx(law.mean(), abs=3 * error)
    assert found.std(ddof=1) == pytest.approx(law.std(), abs=4 * error / np.sqrt(2))
    assert law.std() == pytest.approx(asked.sd, rel=0.05)  # cutting leaves what was asked for
    assert found.min() >= asked.low
    assert found.max() <= asked.high
    assert kstest(found, law.cdf).pvalue > 0.01


def test_means_are_those_of_the_table(values):
    table = tooth_dimensions(37)
    for factor in DRAWN:
        own = factor.key.rsplit(".", 1)[-1]
        if "dimensions" in factor.key:
            assert factor.normal.mean == getattr(table, own)
            assert 0.06 - 1e-9 <= factor.normal.sd / factor.normal.mean <= 0.08
    assert sorted(set(values["age_group"])) == ["11 to 16", "32 to 52", "51 to 67"]
    counts = [values["age_group"].count(group) for group in set(values["age_group"])]
    assert min(counts) > 130


def test_dimensions_are_drawn_independently():
    cube = unit_cube(POPULATION.study)
    off = np.corrcoef(cube.T) - np.eye(cube.shape[1])
    assert np.abs(off).max() < 4 / np.sqrt(len(cube))


def test_every_tooth_is_a_case_and_another_tooth():
    runs = [make_run(POPULATION, point) for point in design_points(POPULATION.study)]
    assert {run.note for run in runs} == {""}
    teeth = [spec["tooth"] for spec in study_supports(POPULATION).values()]
    assert teeth.count(37) == 500
    assert len(teeth) == 500 + 3 * 3  # three anchor teeth for each age group


def test_more_random_points_keep_the_first(tmp_path):
    few, many = (
        unit_cube(loaded(tmp_path, design={"random": {"runs": n, "seed": 5}}).study)
        for n in (9, 20)
    )
    assert np.array_equal(few, many[:9])
    other = unit_cube(loaded(tmp_path, design={"random": {"runs": 9, "seed": 6}}).study)
    assert not np.array_equal(few, other)


def test_the_spread_is_that_of_the_solved_runs(tmp_path):
    study = loaded(tmp_path, design={"random": {"runs": 5, "seed": 0}}).study
    forces = [1.0, 2.0, 3.0, 6.0, 100.0]
    rows = pd.DataFrame(
        {
            "alloy": "beta_titanium",
            "set_span_mm": [18.0, 18.0, 24.0, 24.0, 24.0],
            "force_N": forces,
            "couple_Nmm": [np.nan] * 5,
            "note": ["", "", "", "", "tooth 37 could not be made"],
        }
    )
    table = spread(rows, study).set_index("column")
    assert table.index.tolist() == ["set_span_mm", "force_N", "couple_Nmm"]
    own = table.loc["force_N"]
    assert own["runs"] == 4
    assert own["mean"] == pytest.approx(3.0)
    assert own["sd"] == pytest.approx(np.sqrt(14 / 3))
    assert own["standard_error"] == pytest.approx(np.sqrt(14 / 3) / 2)
    assert own["p50"] == pytest.approx(2.5)
    assert own["p05"] == pytest.approx(1.15)
    assert table.loc["couple_Nmm", "runs"] == 0
    assert "| force_N | 4 | 3 ± 1 | 2.16 | 1.15 | 2.5 | 5.55 |" in spread_text(table.reset_index())
    drawn = spread_figure(rows, study, "4 of 5 runs solved").axes[0]
    assert sum(bar.get_height() for bar in drawn.patches) == 4
    assert [line.get_xdata()[0] for line in drawn.lines] == pytest.approx([1.15, 2.5, 5.55])
