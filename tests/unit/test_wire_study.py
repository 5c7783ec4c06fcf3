"""The study of wires: its file, its tables and its figures."""

import re
from math import log, pi
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from fem.material import Elastic
from fem.section import rectangular_section, round_section
from fem.three_point import ThreePointTest
from geometry.wire_features import Helix
from geometry.wire_path import Bend, Straight, sweep
from workflow.beam_theory import (
    beam_theory_table,
    large_bending_table,
    rod_force_N,
    thin_wire_stiffness,
    winkler_percent,
)
from workflow.bending_test import bending_test_tables, curve_table, summary_of
from workflow.case_errors import CaseError
from workflow.figures_beam_theory import beam_theory_figure, reach
from workflow.figures_wire_study import bending_test_figure, section_text, stiffness_figure
from workflow.wire_stiffness import ladder, section_numbers, stiffness_table
from workflow.wire_study import load_wire_study, section_row
from workflow.yaml_files import read_mapping

FILE = Path("configs/studies/wires.yaml")
STEEL = Elastic(170e3, 0.3)
ROUND = round_section(0.4572)
FLAT = rectangular_section(0.635, 0.4572)
AXES = np.eye(3)


def path(*features):
    return sweep(features, np.zeros(3), AXES, piece_mm=0.5, largest_turn_rad=0.05)


# --- the file --------------------------------------------------------------------------------


def test_study_file_has_no_key_that_is_not_read():
    study = load_wire_study(FILE)
    assert set(read_mapping(FILE)) == set(type(study).model_fields)
    assert study.three_point.span_mm == 10


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("step_mm", "steps_mm", "three_point.steps_mm"),
        ("alloy: stainless_steel", "alloy: steel", "beam_theory.alloy"),
        ("0.3, 0.4]", "0.3, 0.6]", "deflection_over_span[5] = 0.6: out of range"),
        ("span_mm: 10", "span_mm: 10 mm", "the key already carries the unit"),
    ],
)
def test_a_wrong_study_is_refused_in_words(tmp_path, old, new, message):
    text = FILE.read_text(encoding="utf-8")
    assert old in text
    wrong = tmp_path / "study.yaml"
    wrong.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(CaseError, match=re.escape(message)) as caught:
        load_wire_study(wrong)
    assert str(wrong) in str(caught.value)


# --- where beam theory holds -----------------------------------------------------------------


def test_thin_wire_stiffness_is_that_of_the_handbook():
    """3EI/L³; semicircle and ring by Castigliano (Roark's Formulas, from memory; derived)."""
    E, R = STEEL.youngs_modulus_MPa, 2.0
    EI, EI_width = E * FLAT.I_height_mm4, E * FLAT.I_width_mm4
    GJ = STEEL.shear_modulus_MPa * FLAT.torsion_mm4
    straight = path(Straight(10.0))
    assert thin_wire_stiffness(straight, FLAT, STEEL, AXES[2]) == pytest.approx(3 * EI / 1e3)
    assert thin_wire_stiffness(straight, FLAT, STEEL, AXES[1]) == pytest.approx(3 * EI_width / 1e3)
    loops = ((path(Bend(pi, R, "width")), pi), (path(Helix(1.0, R, 0.0, "height")), 2 * pi))
    for wire, angle in loops:
        across, along = wire.axes[-1][:, 1], wire.axes[-1][:, 2]
        in_plane = 2 * EI / (angle * R**3)
        out_of_plane = 2 / (angle * R**3 * (1 / EI_width + 3 / GJ))
        found = thin_wire_stiffness(wire, FLAT, STEEL, along)
        assert found == pytest.approx(in_plane, rel=1e-5)
        found = thin_wire_stiffness(wire, FLAT, STEEL, across)
        assert found == pytest.approx(out_of_plane, rel=1e-5)


@pytest.mark.parametrize("section", [ROUND, FLAT], ids=["round", "flat"])
def test_formula_misses_the_shear_of_a_short_wire(section):
    """Timoshenko: ``1 + 3EI/(κGA L²)`` too stiff, Cowper's κ (1966)."""
    table = beam_theory_table("straight", section, STEEL, [4.0, 8.0])
    law = section.stiffness(STEEL)
    for _, row in table[table["direction"] == "in_plane"].iterrows():
        length = row["size_over_height"] * section.height_mm
        shear = 100 * 3 * law[4] / (law[1] * length**2)
        assert row["formula_error_percent"] == pytest.approx(shear, abs=0.25)
        assert abs(row["rod_error_percent"]) < 0.25


def test_tight_loop_has_the_stiffness_of_the_exact_curved_bar():
    """Narrow semicircular bar, plane stress: twice Golovin's quarter, D = (a² + b²)/N.

    ``N = (a² + b²) ln(b/a) − (b² − a²)``, deflection ``2πD F/(E t)`` (Timoshenko & Goodier,
    Theory of Elasticity, bending of a curved bar by a force at the end; from memory).
    """
    narrow = rectangular_section(0.05, 0.4572)
    table = beam_theory_table("u_loop", narrow, STEEL, [1.5, 3.0])
    for _, row in table[table["direction"] == "in_plane"].iterrows():
        a, b = ((row["size_over_height"] + side) * 0.4572 for side in (-0.5, 0.5))
        N = (a**2 + b**2) * log(b / a) - (b**2 - a**2)
        exact = STEEL.youngs_modulus_MPa * 0.05 / (2 * pi * (a**2 + b**2) / N)
        assert row["solid_N_per_mm"] == pytest.approx(exact, rel=0.005)
        assert row["formula_error_percent"] > 0 > row["rod_error_percent"]


@pytest.mark.parametrize("section", [ROUND, FLAT], ids=["round", "flat"])
def test_winkler_by_quadrature(section):
    """``∫ y²/(1 − y/R) dA`` over the width of the section, midpoint rule."""
    R, half = 1.5 * section.height_mm, section.height_mm / 2
    angle = (np.arange(20000) + 0.5) * pi / 20000
    y = half * np.cos(angle)
    width = 2 * half * np.sin(angle) if section.kind == "round" else section.width_mm
    area = width * half * np.sin(angle) * pi / 20000
    I_w = np.sum(y**2 / (1 - y / R) * area)
    rod = 1 / section.I_height_mm4 + 1 / (section.area_mm2 * R**2)
    assert winkler_percent(section, 1.5) == pytest.approx(100 * (1 / I_w / rod - 1), rel=1e-5)


def test_rod_bent_far_is_the_elastica():
    """Bisshopp & Drucker 1945; Mattiasson 1981: PL²/EI = 1.4 at δ/L = 0.391465722235."""
    thin = round_section(0.1)
    EI = STEEL.youngs_modulus_MPa * thin.I_height_mm4
    force = rod_force_N(thin, STEEL, 10.0, 3.91465722235)
    assert force * 100 / EI == pytest.approx(1.4, rel=1e-3)


def test_linear_formula_and_the_elastica():
    """At the same point the formula carries 3 · 0.39147/1.4 of the force: 16.1 % too little."""
    row = large_bending_table(FLAT, STEEL, 25.0, [0.391465722235]).iloc[0]
    expected = 100 * (3 * 0.391465722235 / 1.4 - 1)
    assert row["formula_error_percent"] == pytest.approx(expected, abs=0.3)
    assert abs(row["rod_error_percent"]) < 0.1
    assert row["largest_strain"] < 0.03


def test_unknown_shape_is_refused():
    with pytest.raises(ValueError, match="shape 'spiral'"):
        beam_theory_table("spiral", ROUND, STEEL, [2.0])


def test_reach_finds_where_an_error_falls_below_a_limit():
    """Error 100/size² passes 1 % at 10, and 5 % at √20; its sign does not matter."""
    sizes = pd.Series([1.0, 2.0, 8.0, 32.0])
    errors = -100 / sizes**2
    assert reach(sizes, errors, 1.0) == pytest.approx(10.0)
    assert reach(sizes, errors, 5.0) == pytest.approx(np.sqrt(20))
    assert reach(sizes, errors, 200.0) == 1.0
    assert reach(sizes, errors, 0.01) == np.inf


def test_figure_of_beam_theory_says_what_its_tables_say():
    small = pd.DataFrame(
        [
            {
                "section": "round_0.018_in",
                "shape": shape,
                "direction": "in_plane",
                "height_mm": 0.4572,
                "size_over_height": size,
                "formula_error_percent": 100 / size**2,
                "rod_error_percent": -(10 if shape != "straight" else 0.1) / size**2,
                "winkler_percent": -9 / size**2,
            }
            for shape in ("straight", "u_loop", "helix")
            for size in (2.0, 8.0, 32.0)
        ]
    )
    far = pd.DataFrame(
        {
            "section": "round_0.018_in",
            "span_mm": 11.43,
            "span_over_height": 25.0,
            "deflection_over_span": [0.02, 0.4],
            "formula_error_percent": [0.1, -16.0],
            "rod_error_percent": [0.02, 0.2],
        }
    )
    figure = beam_theory_figure(small, far)
    straight, bent, u_loop, _ = figure.axes
    assert "formula from a span of 10 heights,\nrod always" in straight.get_title()
    assert "at 40 % of the span: formula 16 % off, rod 0.2 %" in bent.get_title()
    assert "rod from a radius of 3.2 heights" in u_loop.get_title()
    assert "within 0.2 % on straight wire" in figure.get_suptitle()


# --- three-point bending ---------------------------------------------------------------------


def test_elastic_wire_slides_over_its_supports():
    """Beam over a fixed peg, d/L = 0.2: F L²/EI = 0.54221 (elastica with sliding, derived)."""
    section = section_row("round_0.012_in")
    endless = {"youngs_modulus_MPa": 170e3, "poisson_ratio": 0.3, "yield_strength_MPa": 1e6}
    curves, summary = bending_test_tables({"endless": endless}, section, 10.0, 1.0, 0.25)
    EI = 170e3 * pi * 0.3048**4 / 64
    force = curves[curves["branch"] == "loading"]["force_N"].iloc[-1]
    assert force == pytest.approx(2 * 0.54220834875 * EI / 25, rel=2e-3)
    row = summary.iloc[0]
    assert row["slope_48EI_per_L3_N_per_mm"] == pytest.approx(48 * EI / 1000, rel=1e-6)
    assert row["slope_first_step_N_per_mm"] == pytest.approx(48 * EI / 1000, rel=0.02)
    assert row["permanent_set_mm"] == pytest.approx(0.0, abs=1e-6)


CURVE = ThreePointTest(np.array([0, 1, 2, 1, 0.6]), np.array([0.0, 8, 10, 4, 0]), 3, 0.6)


def test_summary_reads_the_way_back():
    row = summary_of(CURVE, 8.5)
    assert row["unloading_1_mm_N"] == 4.0
    assert row["unloading_0.5_mm_N"] == 0.0
    assert row["unloading_2_mm_gf"] == pytest.approx(10 / 9.80665e-3)  # definition of gf
    assert (row["largest_force_N"], row["permanent_set_mm"]) == (10.0, 0.6)


def test_figure_of_the_bending_test_shows_both_ways_and_the_set():
    name = "nickel_titanium_superelastic"
    summary = pd.DataFrame(
        [{"alloy": name, "span_mm": 10.0, "height_mm": 0.4} | summary_of(CURVE, 8.5)]
    )
    figure = bending_test_figure(curve_table(name, CURVE), summary)
    there, back, slope, left = figure.axes[0].lines
    assert there.get_ydata().tolist() == [0, 8, 10]
    assert back.get_ydata().tolist() == [10, 4, 0]
    assert slope.get_ydata()[1] / slope.get_xdata()[1] == pytest.approx(8.5)
    assert left.get_xdata()[0] == 0.6
    assert "Springs back in full: none" in figure.get_suptitle()


# --- stiffness -------------------------------------------------------------------------------


def test_cross_section_numbers_are_burstones():
    """0.016 × 0.022 in: 597.57 and 1129.79, printed in Burstone 1981 (from memory); 4⁴ round."""
    flat = section_numbers(rectangular_section(0.022 * 25.4, 0.016 * 25.4))
    assert flat["height"] == pytest.approx(597.57, abs=0.01)
    assert flat["width"] == pytest.approx(1129.79, abs=0.01)
    assert section_numbers(round_section(0.016 * 25.4))["height"] == pytest.approx(256)


def example():
    sections = {"round_0.016_in": round_section(0.4064), "round_0.020_in": round_section(0.508)}
    moduli = {"stainless_steel": 170e3, "beta_titanium": 68e3}
    reference = ("stainless_steel", "round_0.016_in")
    return stiffness_table(sections, moduli, reference, {"beta_titanium": 0.42}), reference


def test_relative_load_grows_with_modulus_and_fourth_power_of_diameter():
    table, _ = example()
    loads = ladder(
        table, ["round_0.020_in", "round_0.016_in"], ["stainless_steel", "beta_titanium"]
    )
    assert list(loads.index) == ["round_0.016_in", "round_0.020_in"]
    assert loads.to_numpy() == pytest.approx(np.outer([1, 1.25**4], [1, 0.4]))
    published = table.groupby("alloy")["material_number_published"].first()
    assert published["beta_titanium"] == 0.42
    assert np.isnan(published["stainless_steel"])


def test_figure_of_stiffness_names_the_nearest_wire():
    table, reference = example()
    names = ["round_0.016_in", "round_0.020_in"]
    figure = stiffness_figure(ladder(table, names, ["stainless_steel", "beta_titanium"]), reference)
    assert "β-titanium: 0.020 in round (98 %)" in figure.get_suptitle()
    texts = [text.get_text() for text in figure.axes[1].texts]
    assert texts == ["100", "244", "40", "98"]


def test_names_of_sections_are_written_out():
    assert section_text("rectangular_0.016x0.022_in_rounded") == "0.016 × 0.022 in rounded"
    assert section_text("round_0.7_mm") == "0.7 mm round"
