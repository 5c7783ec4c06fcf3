"""Designs against counts by hand and what defines them; runs named by what they depend on."""

import copy
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import kstest, qmc, truncnorm

from tests.sweeps import SMALL, loaded
from workflow.sweep_design import design_points, unit_cube, values_at
from workflow.sweep_late import LateSpecs
from workflow.sweep_runs import make_run
from workflow.sweep_supports import MOST_SUPPORTS, of_support, study_supports

TIP = {"name": "tip_deg", "key": "teeth.37.mesial_tip_deg", "uniform": [5, 35]}
SHIFT = {
    "name": "shift_mm",
    "key": "teeth.37.occlusal_mm",
    "normal": {"mean": 0.5, "sd": 1.0, "low": -1.0, "high": 1.0},
}


def shown(study):
    return [tuple(choice.shown for choice in point) for point in design_points(study)]


def names(study):
    return [make_run(study, point).name for point in design_points(study.study)]


def test_a_grid_is_every_combination_the_last_factor_fastest(tmp_path):
    assert shown(loaded(tmp_path).study) == [
        ("beta_titanium", 18.0),
        ("beta_titanium", 21.0),
        ("beta_titanium", 24.0),
        ("stainless_steel", 18.0),
        ("stainless_steel", 21.0),
        ("stainless_steel", 24.0),
    ]


def test_one_at_a_time_starts_from_the_first_levels(tmp_path):
    assert shown(loaded(tmp_path, design="one_at_a_time").study) == [
        ("beta_titanium", 18.0),
        ("stainless_steel", 18.0),
        ("beta_titanium", 21.0),
        ("beta_titanium", 24.0),
    ]


def hypercube(folder, runs=64, seed=3, factors=(TIP, SHIFT)):
    design = {"latin_hypercube": {"runs": runs, "seed": seed}}
    return loaded(folder, design=design, factors=list(factors)).study


def test_a_latin_hypercube_has_one_point_in_each_part_of_every_range(tmp_path):
    """McKay, Beckman and Conover 1979, Technometrics 21:239-245 (definition)."""
    cube = unit_cube(hypercube(tmp_path))
    assert cube.shape == (64, 2)
    for column in cube.T:
        assert sorted(np.floor(64 * column).astype(int)) == list(range(64))


def test_a_latin_hypercube_follows_its_seed_and_fills_evenly(tmp_path):
    first, again = (unit_cube(hypercube(tmp_path)) for _ in range(2))
    other = unit_cube(hypercube(tmp_path, seed=4))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)
    plain = [qmc.discrepancy(np.random.default_rng(k).random((64, 2))) for k in range(20)]
    assert qmc.discrepancy(first) < min(plain)


def test_sampled_values_follow_their_distributions(tmp_path):
    study = hypercube(tmp_path, runs=2000)
    tips, shifts = np.array(shown(study)).T
    assert kstest(tips, "uniform", args=(5, 30)).statistic < 0.002
    law = truncnorm((-1.0 - 0.5) / 1.0, (1.0 - 0.5) / 1.0, loc=0.5, scale=1.0)
    assert kstest(shifts, law.cdf).statistic < 0.002
    assert shifts.min() >= -1.0
    assert shifts.max() <= 1.0


def test_levels_are_sampled_alike_often_up_to_both_ends(tmp_path):
    factor = loaded(tmp_path).study.factors[1]
    ends = [c.shown for c in values_at(factor, np.array([0.0, 1 / 3, 2 / 3 - 1e-9, 1.0]))]
    assert ends == [18.0, 21.0, 21.0, 24.0]
    study = hypercube(tmp_path, runs=300, factors=SMALL["factors"])
    spans = [row[1] for row in shown(study)]
    assert [spans.count(value) for value in (18.0, 21.0, 24.0)] == [100, 100, 100]


def test_a_new_level_renames_no_run(tmp_path):
    """Hashes of what a run depends on: 6 runs before, 8 with a fourth span, 6 of them the same."""
    before = names(loaded(tmp_path))
    factors = copy.deepcopy(SMALL["factors"])
    factors[1] = {"name": "set_span_mm", "key": "wire.span_mm", "levels": [22, 18, 21, 24]}
    after = names(loaded(tmp_path, factors=factors))
    assert len(set(before)) == 6
    assert len(set(after)) == 8
    assert set(before) < set(after)


def test_names_follow_what_is_computed_not_how_it_is_written(tmp_path):
    plain = names(loaded(tmp_path))
    study = loaded(tmp_path, title="Another title")
    assert names(study) == plain
    assert names(replace(study, content=study.content | {"title": "Another case"})) == plain
    assert not set(names(loaded(tmp_path, fixed={"wire.elements": 20}))) & set(plain)
    couple = {"name": "c_gfmm", "key": "wire.activation.couple_gfmm", "levels": [1200]}
    same = {"name": "c_Nmm", "key": "wire.activation.couple_Nmm", "levels": [1200 * 9.80665e-3]}
    (first,), (second,) = (names(loaded(tmp_path, factors=[f])) for f in (couple, same))
    assert first == second


def test_a_run_that_makes_no_case_says_why(tmp_path):
    spans = {"name": "set_span_mm", "key": "wire.span_mm", "levels": [20, 45]}
    tips = {"name": "tip_deg", "key": "teeth.37.mesial_tip_deg", "levels": [25, -25]}
    study = loaded(tmp_path, factors=[spans, tips])
    runs = [make_run(study, point) for point in design_points(study.study)]
    assert runs[0].note == ""
    assert "mm" in runs[2].note
    assert runs[2].case is None
    assert len({run.name for run in runs}) == 4


def test_only_tissue_and_shape_change_supports(tmp_path):
    assert of_support("ligament.thickness_mm")
    assert of_support("units.segment.teeth")
    assert of_support("teeth.37.crest_depth_mm")
    assert not of_support("teeth.37.mesial_tip_deg")
    assert not of_support("wire.alloy")
    thick = {"name": "t_mm", "key": "ligament.thickness_mm", "levels": [0.2, 0.3]}
    level = {"name": "crest_mm", "key": "teeth.37.crest_depth_mm", "levels": [1.5, 3, 4.5]}
    assert len(study_supports(loaded(tmp_path))) == 4
    study = loaded(tmp_path, factors=[*SMALL["factors"], thick, level])
    assert len(study_supports(study)) == 2 * 3 + 2 * 3  # 37 at three levels, three others at one


def test_supports_that_no_run_can_use_are_not_made(tmp_path):
    teeth = {"name": "teeth", "key": "units.segment.teeth", "levels": [[35, 34, 33], [35, 33]]}
    spans = {"name": "set_span_mm", "key": "wire.span_mm", "levels": [70, 20]}
    study = loaded(tmp_path, factors=[spans, teeth])
    assert sorted(spec["tooth"] for spec in study_supports(study).values()) == [33, 34, 35, 37]


def test_too_many_supports_are_refused(tmp_path):
    level = {"name": "crest_mm", "key": "bone.crest_depth_mm", "uniform": [1, 5]}
    design = {"latin_hypercube": {"runs": MOST_SUPPORTS // 4 + 2, "seed": 0}}
    study = loaded(tmp_path, factors=[level], design=design)
    with pytest.raises(ValueError, match=f"at most {MOST_SUPPORTS}"):
        study_supports(study)


def test_specs_of_studies_are_read_only_when_asked_for():
    asked = []

    def more():
        asked.append(1)
        return {"b": {"tooth": 37}, "a": {"tooth": 99}}

    specs = LateSpecs({"a": {"tooth": 35}}, more)
    assert specs["a"] == {"tooth": 35}
    assert asked == []
    assert specs["b"] == {"tooth": 37}
    assert specs["a"] == {"tooth": 35}
    with pytest.raises(KeyError):
        specs["c"]
