"""Error bars of the mesh: the table, where its bars apply, how summary and sheet use them."""

import copy
from dataclasses import fields

import numpy as np
import pytest

from fem.grid_convergence import grid_convergence
from fem.stress import VolumeStatistics
from fem.unit import ToothSupport
from geometry.anatomy import known_teeth
from geometry.frame import ToothFrame
from workflow.case import default_tissues
from workflow.mesh_bars import Bars, bars_of_tooth, load_mesh_error, unit_reason, wire_reason
from workflow.mesh_error import POISSON_RATIOS, rounded_up, table, teeth_studied
from workflow.mesh_study import ToothBars, ToothValues, refined_spec, tooth_bars
from workflow.mesh_summary import Body, body_of, unit_block
from workflow.sheet_bars import movement_bars, percent_text, share_text, stress_bars


@pytest.fixture
def case():
    return default_tissues(known_teeth())


def test_two_grids_take_the_order_they_are_told_and_three_times_the_error():
    """By hand: f = 1 + 0.3 h², h of 1 and 2; the fine grid is off by 0.3, the coarse one by 1.2."""
    found = grid_convergence([1.3, 2.2], [1.0, 2.0], 2.0)
    assert found.extrapolated == pytest.approx(1.0)
    assert found.bounds == pytest.approx([0.9, 3.6])
    assert found.index == pytest.approx(3 * 0.3 / 1.3)
    assert not found.oscillatory
    assert found.doubt == ""


def test_numbers_near_zero_are_measured_by_a_scale():
    found = grid_convergence([1e-6, 4e-6, 1.6e-5], [1.0, 2.0, 4.0], 2.0, scale=10.0)
    assert found.extrapolated_error == pytest.approx(1e-7)
    assert grid_convergence([0.0, 0.0, 0.0], [1.0, 2.0, 4.0], 2.0).bounds.tolist() == [0, 0, 0]


def test_without_an_order_the_spread_is_taken_as_a_first_order_error():
    """By hand: spread 0.2, h from 1 to 2; F h_k/(h_3 − h_1) is 1.25, 1.875 and 2.5."""
    found = grid_convergence([1.0, 1.2, 1.1], [1.0, 1.5, 2.0], 2.0)
    assert found.oscillatory
    assert "swing" in found.doubt
    assert found.bounds == pytest.approx([0.25, 0.375, 0.5])


@pytest.mark.parametrize(
    ("numbers", "sizes"),
    [([1.0], [1.0]), ([1.0, 2.0, 3.0], [1.0, 2.0]), ([1.0, 2.0], [2.0, 1.0]), ([1.0, 2.0], [1, 1])],
)
def test_grids_that_are_no_sequence_are_refused(numbers, sizes):
    with pytest.raises(ValueError, match=r"grids|finest"):
        grid_convergence(numbers, sizes, 2.0)


def values(error, refinement):
    """A tooth whose numbers miss by ``error / refinement²``, each in its own way."""
    off = error / refinement**2
    stiffness = np.diag([100.0, 200.0, 50.0, 1e3, 2e3, 500.0])
    stiffness[2, 2] *= 1 + off
    stress = VolumeStatistics(-1.0 - off, 0.01, 2.0, -3.0, 3.0)
    shear = VolumeStatistics(0.1, 1.0, 4.0 * (1 + off), 0.0, 9.0)
    return ToothValues(
        stiffness,
        np.zeros(3),
        {("occlusal force", "hydrostatic"): stress, ("occlusal force", "von_mises"): shear},
    )


def test_an_error_of_second_order_gets_its_bar():
    """By hand: the default mesh misses by 2 %, so the bar is 1.25 × 2 %."""
    found = tooth_bars({factor: values(0.02, factor) for factor in (1.0, 1.5, 2.0)})
    # entries are measured by the finest mesh's, itself off by a quarter
    assert found.stiffness_percent == pytest.approx(2.5 / 1.005, rel=1e-6)
    assert found.translation_percent == pytest.approx(2.5, rel=0.05)
    assert found.rotation_percent == found.resistance_centre_mm == 0.0
    assert found.stress_percent["von_mises", "p99"] == pytest.approx(2.5 / 1.005, rel=1e-6)
    # hydrostatic stress is small beside von Mises stress here, which it is therefore measured by
    assert found.stress_percent["hydrostatic", "p01"] == pytest.approx(2.5 / 4.02, rel=1e-6)
    assert found.stress_percent["hydrostatic", "p50"] == 0.0


def test_refinement_goes_in_all_directions_alike():
    default, fine = refined_spec(37, 1.0), refined_spec(37, 2.0)
    assert fine.root_size_mm == default.root_size_mm / 2
    assert fine.ligament_layers == 2 * default.ligament_layers
    assert fine.contour_spacing_mm == default.contour_spacing_mm / 2


@pytest.mark.parametrize(
    ("value", "shown"), [(1.401, 1.5), (0.02801, 0.029), (11.0, 11.0), (99.1, 100.0), (0.0, 0.0)]
)
def test_bars_are_rounded_up_to_two_digits(value, shown):
    assert rounded_up(value) == pytest.approx(shown, rel=1e-12)


def test_a_row_holds_the_largest_of_its_kind_at_both_ends_of_its_band():
    numbers = [field.name for field in fields(ToothBars) if field.name != "stress_percent"]
    shares = {
        (kind, p): 1.0 for kind in ("hydrostatic", "von_mises") for p in ("p01", "p50", "p99")
    }
    measured = {
        (tooth, nu): ToothBars(**dict.fromkeys(numbers, size), stress_percent=shares)
        for tooth, nu, size in (
            (21, 0.3, 1.0),
            (21, 0.45, 3.0),
            (33, 0.3, 2.0),
            (33, 0.45, 1.0),
            (37, 0.3, 7.0),
            (37, 0.45, 7.0),
            (26, 0.3, 5.0),
            (26, 0.45, 5.0),
        )
    }
    rows = table(measured, 1e-4, 0.1)["teeth"]
    single = [row for row in rows if row["kind"] == "single-rooted"]
    assert [row["stiffness_percent"] for row in single] == [2.0, 3.0]
    assert [row["poisson_ratio_to"] for row in single] == [0.3, 0.45]
    assert single[0]["teeth"] == [21, 33]


def test_the_table_covers_every_tooth_and_every_law_of_the_catalogue(case):
    catalogue = load_mesh_error()
    for tooth in known_teeth():
        for nu in POISSON_RATIOS:
            own = copy.deepcopy(case)
            own["ligament"]["poisson_ratio"] = nu
            assert isinstance(bars_of_tooth(own, tooth, catalogue), Bars)
    studied = {tooth for row in catalogue.teeth for tooth in row.teeth}
    assert studied == set(teeth_studied())
    assert catalogue.of_tooth("two-rooted", 0.3).poisson_ratio_to == 0.3
    assert catalogue.of_tooth("two-rooted", 0.42).poisson_ratio_to == 0.45


@pytest.mark.parametrize(
    ("part", "key", "value", "reason"),
    [
        ("mesh", "root_size_mm", 0.5, "another element size"),
        ("ligament", "layers", 3, "another number of layers"),
        ("ligament", "thickness_mm", 0.25, "not of the default thickness"),
        ("ligament", "profile_mm", [0.2, 0.14, 0.19], "not of the default thickness"),
        ("ligament", "poisson_ratio", 0.2, "outside the range"),
        ("ligament", "poisson_ratio", 0.495, "outside the range"),
        ("tooth", "crest_depth_mm", 4.0, "not at the default depth"),
        ("tooth", "dimensions", {"root_length_mm": 12.5}, "not those of the table"),
        ("tooth", "roots", 1, "another number of roots"),
    ],
)
def test_what_was_not_studied_has_no_bar_and_says_why(case, part, key, value, reason):
    own = case["teeth"]["24"] if part == "tooth" else case[part]
    own[key] = value
    found = bars_of_tooth(case, 24, load_mesh_error())
    assert isinstance(found, str)
    assert found.startswith("not measured: ")
    assert reason in found


def test_elastic_bone_has_no_bar(case):
    case["bone"]["elastic"] = True
    assert "the bone is elastic" in bars_of_tooth(case, 21, load_mesh_error())


def test_a_modulus_of_ones_own_and_the_other_side_keep_their_bar(case):
    case["ligament"]["youngs_modulus_MPa"] = 7.0
    catalogue = load_mesh_error()
    assert bars_of_tooth(case, 47, catalogue) == catalogue.of_tooth("two-rooted", 0.3)


def test_units_that_were_not_studied_say_why():
    joined = {"teeth": [34, 35], "support": "ligament", "joined_by": {"alloy": {}}}
    case = {"units": {"a": joined, "b": joined | {"joined_by": None}}}
    assert "joined by a wire" in unit_reason(case, "a", [])
    assert unit_reason(case, "b", []) == ""
    assert (
        unit_reason(case, "b", ["tooth 34: why", "tooth 35: why"]) == "tooth 34: why; tooth 35: why"
    )


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({}, ""),
        ({"elements": 20}, "fewer than 40"),
        ({"contact": "peg"}, "slides lengthwise"),
        ({"contact": "bracket"}, "more than one tube"),
        ({"past_limit": {}}, "elastic limit"),
    ],
)
def test_wires_that_were_not_studied_say_why(change, reason):
    case = {
        "one_point": {"contact": change.get("contact", "bar")},
        "wire": {"elements": change.get("elements", 40)},
        "further": [],
    }
    found = wire_reason(case, {"past_limit": change.get("past_limit")}, load_mesh_error())
    assert reason in found
    assert bool(found) == bool(reason)


def moved_unit(stiffness, load, point):
    """What the summary says of a tooth alone, from its 6×6 about a point in patient axes."""
    motion = np.linalg.solve(stiffness, load)
    return {
        "displacement_at_resistance_um": 1e3 * (motion[:3] + np.cross(motion[3:], point)),
        "rotation_mrad": 1e3 * motion[3:],
        "force_N": load[:3],
    }


BARS = load_mesh_error().of_tooth("two-rooted", 0.3)


def test_the_bar_of_a_motion_holds_what_its_parts_allow():
    """A tooth wrong by the bars of translation, rotation and centre, under many loads."""
    rng = np.random.default_rng(3)
    right = np.diag([500.0, 300.0, 250.0, 4e3, 5e3, 3e3])
    softer = np.array([BARS.translation_percent] * 3 + [BARS.rotation_percent] * 3) / 100
    away = BARS.resistance_centre_mm * np.array([0.6, 0.0, 0.8])
    carry = np.eye(6)
    carry[:3, 3:] = [[0, away[2], -away[1]], [-away[2], 0, away[0]], [away[1], -away[0], 0]]
    wrong = carry.T @ np.diag(np.diag(right) / (1 + softer)) @ carry
    body = Body(np.linalg.eigvalsh(np.linalg.inv(wrong)[3:, 3:]).max(), 0.0)
    for _ in range(200):
        load = np.concatenate(
            [rng.normal(size=3), rng.choice([0.0, 1.0, 20.0]) * rng.normal(size=3)]
        )
        exact = moved_unit(right, load, np.zeros(3))
        shown = moved_unit(wrong, load, np.zeros(3))
        block = unit_block(shown, {"37": BARS}, body)
        for key, bar in (
            ("displacement_at_resistance_um", "displacement_percent"),
            ("rotation_mrad", "rotation_percent"),
        ):
            error = np.linalg.norm(shown[key] - exact[key])
            # the bars are first order in errors of a percent
            assert error <= 1.05 * block[bar] / 100 * np.linalg.norm(shown[key])


def test_teeth_of_one_body_share_their_stiffness_and_widen_the_centre():
    """Two equal teeth 10 mm apart: the body's centre lies between them, 5 mm from each."""
    alone = np.diag([100.0, 100.0, 100.0, 800.0, 800.0, 400.0])
    places = np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0]])
    teeth = tuple(
        ToothSupport(number, ToothFrame(place, np.eye(3)), np.zeros(3), alone)
        for number, place in zip((36, 37), places, strict=True)
    )
    body = body_of(teeth)
    assert body.spread_mm == pytest.approx(5.0)
    assert body.turn == pytest.approx(1 / 1600)  # about the line of the teeth distance is no help
    unit = moved_unit(alone, np.ones(6), np.zeros(3))
    one, both = (
        unit_block(unit, dict.fromkeys(names, BARS), body) for names in (["36"], ["36", "37"])
    )
    grown = BARS.stiffness_percent / 100 * 5.0
    assert both["resistance_centre_mm"] == pytest.approx(BARS.resistance_centre_mm + grown)
    assert both["displacement_percent"] > one["displacement_percent"]
    assert both["rotation_percent"] > one["rotation_percent"]


def shown(size):
    return f" ±\u00a0{size}\u00a0%"


def test_percents_on_the_sheet_belong_to_the_number_beside_them():
    assert percent_text(1.44) == shown("1.4")
    assert percent_text(0.0005) == shown("<0.01")
    assert percent_text(None) == ""
    assert share_text(1.0, 10.0, -2.0) == shown("5")
    assert share_text(1.0, 10.0, 0.01) == shown(">100")
    unit = {
        "mesh_error": {"displacement_percent": 2.0, "rotation_percent": 1.0},
        "displacement_at_resistance_um": [3.0, 0.0, 4.0],
        "rotation_mrad": [0.0, 2.0, 0.0],
        "anatomical": {"extrusion_um": 4.0, "mesial_um": -3.0, "mesial_tip_mrad": 2.0},
    }
    assert movement_bars(unit) == [shown("2.5"), shown("3.3"), shown("1")]
    record = {
        "hydrostatic_kPa": {"p01": -4.0, "p50": 0.1, "p99": 5.0},
        "von_mises_kPa": {"p01": 1.0, "p50": 4.0, "p99": 8.0},
        "mesh_error": {"hydrostatic_percent": {"p01": 1.0, "p50": 1.0, "p99": 2.0}},
    }
    assert stress_bars(record, "hydrostatic") == {
        "p01": shown("2"),
        "p50": shown("80"),
        "p99": shown("3.2"),
    }
