"""The study of supports: its file, its tables and its figures."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from fem.material import Elastic
from fem.support import rigid_body_support
from geometry.ligament import ligament_layer
from geometry.surface import sphere_surface
from workflow.case_errors import CaseError
from workflow.digest import spec_id
from workflow.figures_supports import (
    mobility_figure,
    rigidity_figure,
    rotation_figure,
    teeth_figure,
    thin_layer_figure,
)
from workflow.records import write_json
from workflow.study import default_specs, load_support_study
from workflow.support_study import rotation_table
from workflow.yaml_files import read_mapping

FILE = Path("configs/studies/supports.yaml")


def test_the_projects_study_loads():
    study = load_support_study(FILE)
    assert study.mobility.force_N == 0.39
    assert len(study.rigidity.youngs_moduli_MPa) == 6


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("thicknesses_mm", "thicknes_mm", "thin_layer.thicknes_mm"),
        ("tooth: 21", "tooth: 38", "mobility.tooth = 38: no published dimensions"),
        ("force_N: 0.39", "force_N: 0.39 N", "the key already carries the unit"),
        ("poisson_ratio: 0.45", "poisson_ratio: 0.5", "at most 0.499"),
    ],
)
def test_a_wrong_study_is_refused_in_words(tmp_path, old, new, message):
    text = FILE.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "study.yaml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(CaseError, match=message.replace(".", r"\.")) as caught:
        load_support_study(path)
    assert str(path) in str(caught.value)


def test_twins_share_their_default_support():
    specs = default_specs()
    assert len(specs) == 28
    assert len({spec_id(spec) for spec in specs.values()}) == 14
    assert specs[37] == specs[47]


@pytest.fixture
def support_file(tmp_path):
    """Record of a sphere in a shell, its centre 8 mm below the cervix, as if it were a tooth."""
    layer = ligament_layer(sphere_surface(3.0, 2), 0.3, layers=1)
    support = rigid_body_support(layer, Elastic(0.5, 0.3), np.zeros(3))
    record = {
        "spec": default_specs()[21],
        "point_mm": [0.0, 0.0, -8.0],
        "stiffness": support.stiffness,
        "resistance": {"mean_crest_depth_mm": 5.0, "root_length_mm": 11.0},
    }
    path = tmp_path / "support.json"
    write_json(path, record)
    return path


def test_centre_of_rotation_of_a_sphere(support_file):
    """A sphere's centre of resistance is its middle: half-way from crest to apex here; a·b = σ²."""
    table = rotation_table({21: support_file}, [0.0, 5.0, 10.0])
    assert table["centre_of_resistance_fraction"].to_list() == pytest.approx([0.5] * 6, abs=1e-3)
    assert table["a_times_b_mm2"].to_numpy() == pytest.approx(table["sigma2_mm2"], rel=1e-9)
    # A force alone at mid-crown, 5.25 mm above the cervix, acts 13.25 mm from the centre.
    assert table["a_mm"][0] == pytest.approx(13.25, abs=5e-3)


def titles(figure):
    return [axes.get_title() for axes in figure.axes]


def test_figures_show_their_tables():
    table = pd.DataFrame(
        {
            "tooth": [21, 36, 11],
            "root_area_mm2": [200.0, 400.0, 200.0],
            **{f"{s}_mm2": [210.0, np.nan, 210.0] for s in ("jepsen_1963", "mowry_2002")},
            **{
                f"{r}_gamma_{q}": [0.2, 0.3, 0.2]
                for r in ("ligament", "tooth")
                for q in ("min", "median")
            },
        }
    )
    areas, _ = teeth_figure(table).axes
    assert [bar.get_height() for bar in areas.patches] == [200.0, 400.0]  # left teeth only

    cells = pd.DataFrame(
        [
            {
                "tooth": 21,
                "poisson_ratio": nu,
                "thickness_mm": t,
                **dict.fromkeys(
                    (
                        "buccal_percent",
                        "occlusal_percent",
                        "buccal_tipping_percent",
                        "centre_shift_percent",
                    ),
                    10 * nu - t,
                ),
            }
            for nu in (0.3, 0.45)
            for t in (0.1, 0.2)
        ]
    )
    texts = [text.get_text() for text in thin_layer_figure(cells).axes[0].texts]
    assert texts == ["+2.9", "+2.8", "+4.4", "+4.3"]


def test_cost_of_rigidity_has_a_line_for_each_assumption():
    columns = (
        "occlusal_N_per_mm_percent",
        "buccal_tipping_Nmm_per_rad_percent",
        "buccal_depth_mm_percent",
    )
    rows = [
        {
            "tooth": 21,
            "youngs_modulus_MPa": E,
            "elastic_tooth": tooth,
            "elastic_bone": bone,
            **dict.fromkeys(columns, E * (2 - tooth - bone)),
        }
        for E in (0.05, 1.0)
        for tooth in (False, True)
        for bone in (False, True)
    ]
    axes = rigidity_figure(pd.DataFrame(rows)).axes[0]
    ends = {line.get_label(): line.get_ydata()[-1] for line in axes.lines[:3]}
    assert ends == {"tooth and bone rigid": 2.0, "tooth rigid": 1.0, "bone rigid": 1.0}


def test_a_law_outside_the_measured_band_is_shown_as_such():
    table = pd.DataFrame(
        {
            "law": ["a_law", "other"],
            "kind": ["bilinear", "linear"],
            "moved_um": [60.0, 3.0],
            "measured_low_um": 12.0,
            "measured_high_um": 133.0,
            "inside": [True, False],
        }
    )
    axes = mobility_figure(table, 0.39, 21).axes[0]
    assert [text.get_text() for text in axes.texts] == ["60 µm", "3 µm, outside"]


def test_centre_of_rotation_jumps_where_the_tooth_translates(support_file):
    table = rotation_table({21: support_file}, np.arange(0.0, 20.0, 0.5))
    figure = rotation_figure(table)
    assert titles(figure) == ["force buccolingual", "force mesiodistal"]
    above, below = figure.axes[0].lines[:2]
    assert np.nanmax(above.get_ydata()) < 0.5 < np.nanmin(below.get_ydata())


def test_study_file_has_no_key_that_is_not_read():
    assert set(read_mapping(FILE)) == set(type(load_support_study(FILE)).model_fields)
