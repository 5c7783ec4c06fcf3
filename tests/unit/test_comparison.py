"""Cases beside each other: numbers taken over, words made of them, statics said and met."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from workflow.case_errors import CaseError
from workflow.comparison import comparison_table, load_comparison
from workflow.figures_comparison import comparison_figure

GF = 9.80665e-3  # N (definition)


def summary(name, force_gf, couple_gfmm, *, arm_mm, anchor_um=10.0, warnings=()):
    unit = {
        "displacement_at_resistance_um": [0.0, 0.0, anchor_um],
        "rotation_mrad": [0.3, 0.4, 0.0],
        "ligament": {"33": {"hydrostatic_kPa": {"p01": -3.0, "p99": 2.0}}},
    }
    return {
        "case": name,
        "warnings": list(warnings),
        "wire": {
            "alloy": "beta_titanium",
            "section": "round_0.016_in",
            "span_mm": 20.0,
            "activation_mm": [0.0, 0.0, 6.0],
            "force_N": [0.0, 0.0, force_gf * GF],
            "couple_Nmm": [couple_gfmm * GF, 0.0, 0.0],
            "lever_arm_mm": arm_mm,
            "yield_ratio": 0.5,
            "permanent_set_mm": 0.0,
        },
        "units": {"a": unit | {"role": "anchor"}, "t": unit | {"role": "target"}},
    }


def curve(rate=9.0, upper=7.5):
    end = None if upper is None else {"activation_mm": upper}
    return {"rate_gf_per_mm": rate, "band": {"lower": {"activation_mm": 4.5}, "upper": end}}


def table():
    return comparison_table(
        ["near", "far"],
        [
            summary("one", 60.0, 1200.0, arm_mm=20.0),
            summary(
                "two",
                40.0,
                1200.0,
                arm_mm=30.0,
                anchor_um=5.0,
                warnings=["yield exceeded: by much"],
            ),
        ],
        [curve(), curve(6.0, None)],
    )


def test_numbers_are_taken_over_in_the_units_of_the_trade():
    rows = table().set_index("label")
    assert rows.loc["near", "force_gf"] == pytest.approx(60.0)
    assert rows.loc["far", "couple_gfmm"] == pytest.approx(1200.0)
    assert rows.loc["far", "distance_mm"] == pytest.approx(30.0)
    assert rows.loc["near", "range_mm"] == pytest.approx(3.0)
    assert np.isnan(rows.loc["far", "range_mm"])
    assert rows.loc["near", "anchor_mrad"] == pytest.approx(0.5)
    assert rows.loc["near", "anchor_p99_kPa"] == pytest.approx(3.0)


def test_words_say_what_differs_what_does_not_and_what_statics_asks():
    first, words = table()["words"]
    assert first == ""
    assert "far against near" in words
    assert "force at the hook 40.0 gf (0.67 times)" in words
    assert "movement of the anchor's centre of resistance 5.00 µm (0.50 times)" in words
    assert "The same within 1 %: couple at the tube" in words
    assert "1.000 / 1.500 = 0.667; computed 0.667" in words
    assert "Warnings: yield exceeded." in words


def test_words_say_where_statics_alone_does_not_tell():
    two = [summary("one", 60.0, 1200.0, arm_mm=20.0), summary("two", 90.0, 1000.0, arm_mm=20.0)]
    words = comparison_table(["hook", "bracket"], two, [curve(), curve()])["words"][1]
    assert "0.833 / 1.000 = 0.833; computed 1.500, for the wire is held elsewhere too" in words


def test_the_figure_has_a_panel_for_all_that_is_known():
    figure = comparison_figure(table(), "Which?")
    titles = [axes.get_title() for axes in figure.axes if axes.axison]
    assert len(titles) == 10
    assert any("load-deflection rate" in title.replace("\n", " ") for title in titles)
    gone = table().assign(anchor_um=pd.NA, anchor_mrad=pd.NA)
    assert len([axes for axes in comparison_figure(gone, "Which?").axes if axes.axison]) == 8


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("question: Which is it?\ncases: [a]\nlabels: [a, b]\n", "cases"),
        ("question: Which is it?\ncases: [a, b]\nlabels: [a, b, c]\n", "3 for 2 cases"),
        ("question: Which is it?\ncase: [a, b]\nlabels: [a, b]\n", "did you mean cases"),
    ],
)
def test_a_wrong_question_is_refused(tmp_path, text, found):
    path = tmp_path / "q.yaml"
    path.write_text(text)
    with pytest.raises((CaseError, ValueError), match=found):
        load_comparison(path)


def test_every_question_of_the_project_names_cases_that_exist():
    root = Path(__file__).parents[2] / "configs"
    known = {path.stem for path in (root / "cases").glob("*.yaml")}
    for path in (root / "comparisons").glob("*.yaml"):
        assert set(load_comparison(path).cases) <= known
