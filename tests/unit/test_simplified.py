"""The study of simplified models: its file, its limits, its words, its maps and its page."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from workflow.case_errors import CaseError
from workflow.figures import new_figure, save_figure
from workflow.figures_simplified import (
    all_teeth_figure,
    bending_figure,
    centre_figure,
    error_map,
    layer_figure,
    loops_figure,
    planar_figure,
    rigidity_figure,
    tube_figure,
)
from workflow.simplified import (
    LAYER_QUANTITIES,
    RIGID_QUANTITIES,
    extreme,
    good_from,
    good_up_to,
    grid,
    load_simplified_study,
    sizes,
    worst,
    worst_row,
)
from workflow.simplified_chapter import and_list, from_on, percent, rounded, signed, up_to
from workflow.simplified_page import Maps, chapters, limits_table, page_html
from workflow.simplified_words_planar import least_turn
from workflow.yaml_files import read_mapping

FILE = Path("configs/studies/simplified.yaml")


# --- the file --------------------------------------------------------------------------------


def test_study_file_has_no_key_that_is_not_read():
    study = load_simplified_study(FILE)
    assert set(read_mapping(FILE)) == set(type(study).model_fields)
    assert max(study.bending.deflection_over_span) == 0.6


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("plays_mm: [0,", "plays_mm: [-1,", "tube.plays_mm[0] = -1"),
        ("target: 37", "target: 38", "planar.target = 38: no published dimensions"),
        ("0.55, 0.6]", "0.55, 0.7]", "bending.deflection_over_span[13] = 0.7: out of range"),
        ("limit_percent", "limit", "limit"),
    ],
)
def test_a_wrong_study_is_refused_in_words(tmp_path, old, new, message):
    text = FILE.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "study.yaml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(CaseError, match=re.escape(message)):
        load_simplified_study(path)


# --- limits ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("errors", "to", "start"),
    [
        ([0, 2, 4, 6, 8], 2.5, np.nan),
        ([0, -2, -4, -6, -8], 2.5, np.nan),
        ([4, -4, 4, -6, 0], 2.9, 3 + 1 / 6),
        ([8, 4, 0, 0, 0], np.nan, 0.75),
        ([1, 1, 1, 1, 5], 4.0, 0.0),
        ([1, np.inf, 1, 1, 1], 0.0, 2.0),
    ],
)
def test_a_limit_lies_on_straight_lines_between_signed_errors(errors, to, start):
    x = np.arange(5.0)
    assert good_up_to(x, errors, 5.0) == pytest.approx(to, nan_ok=True)
    if np.isfinite(errors).all():
        assert good_from(x, errors, 5.0) == pytest.approx(start, nan_ok=True)


def test_sizes_and_signs_of_the_worst():
    table = pd.DataFrame({"by": [1, 1, 2], "e": [3.0, -4.0, 2.0]})
    assert worst(table, "by", "e").to_dict() == {1: -4.0, 2: 2.0}
    assert sizes(table, "by", "e").to_dict() == {1: 4.0, 2: 2.0}
    assert extreme(table["e"]) == -4.0
    assert worst_row(table, "e") == {"by": 1, "e": -4.0}


@pytest.mark.parametrize("value", [0.0123, 0.0999, 1.0, 2.96, 17.4, 99.6, 129.0, 1234.0])
def test_rounding_never_widens_a_limit(value):
    assert float(rounded(value)) <= value * (1 + 1e-12)
    assert float(rounded(value, up=True)) >= value * (1 - 1e-12)
    assert float(rounded(value)) == pytest.approx(value, rel=0.1)
    assert float(rounded(value, up=True)) == pytest.approx(value, rel=0.1)


def test_limits_in_words():
    assert up_to("a span", 17.46, 30, "mm") == "a span up to 17 mm"
    assert up_to("an angle", 45, 45, "°") == "an angle up to 45° (all of the map)"
    assert up_to("a span", np.nan, 30, "mm") == "at no span of the map"
    assert from_on("a ratio", 0.402, 0.3, "") == "a ratio of 0.41 or more"
    assert signed(-12.34) == "−12 %"
    assert percent(-9.94) == "9.9 %"
    assert and_list(["a", "b", "c"]) == "a, b and c"


# --- maps whose limits are known beforehand --------------------------------------------------


def made_up():
    """Error maps as plain functions, so that every limit is known without the code."""
    bending = table(
        span_over_height=[2, 3, 4, 6, 12, 24],
        deflection_percent=[0, 10, 20, 30],
        error_percent=lambda s, d: 72 / s**2 - 0.01 * d**2,
    ).assign(span_mm=lambda t: 0.5 * t["span_over_height"])
    tube = table(
        span_mm=[5.0, 10.0, 20.0, 80.0],
        tube_mm=[2.0, 4.0],
        clamp_error_percent=lambda s, t: 100 * t / s,
        two_point_error_percent=lambda s, t: 10 / s,
    )
    play = table(
        play_mm=[0.0, 0.1, 0.2],
        activation_mm=[1.0, 2.0, 4.0],
        error_percent=lambda p, a: a + 20 * p,
        corrected_error_percent=lambda p, a: 2 * a,
    ).assign(lost_mm=lambda t: t["play_mm"])
    loops = pd.concat(
        [
            table(
                size_over_height=[2.0, 4.0, 8.0],
                formula_error_percent=lambda r: 8 / r,
                rod_error_percent=lambda r, w=w: -w / r,
                winkler_percent=lambda r, w=w: -w / r - 1,
            ).assign(shape=shape, direction="in_plane", section="round_0.018_in")
            for shape, w in (("u_loop", 16.0), ("helix", 12.0), ("straight", 1.0))
        ]
    )
    far = table(deflection_over_span=[0.2, 0.4], rod_error_percent=lambda d: d).assign(
        span_over_height=25.0, largest_strain=lambda t: 0.06 * t["deflection_over_span"]
    )
    centre = pd.concat(
        [
            table(
                crest_depth_mm=[0.0, 2.0, 4.0],
                poisson_ratio=[0.3, 0.4, 0.5],
                moment_to_force_error_percent=lambda c, n, k=k: k * (c + 0 * n),
                centre_error_percent_of_root=lambda c, n: -c + 0 * n,
                sigma2_error_percent=lambda c, n: (100 + 20 * c) * (n - 0.4),
            ).assign(tooth=tooth, roots=roots, direction="mesiodistal")
            for tooth, roots, k in ((21, 1, 2), (36, 2, -9))
        ]
    )
    teeth = centre[centre["poisson_ratio"] == 0.3].drop_duplicates("tooth")
    thin_layer = layers(lambda n, t: 100 * (n - 0.3) + 0 * t)
    winkler = layers(lambda n, t: 100 * (n - 0.46) + 0 * t)
    rigidity = pd.concat(
        [
            table(
                youngs_modulus_MPa=[0.1, 0.5, 1.0],
                **{name: lambda m, k=k: k * m for name in RIGID_QUANTITIES},
            ).assign(tooth=21, elastic_tooth=tooth, elastic_bone=bone)
            for tooth, bone, k in ((False, False, 10), (False, True, 7), (True, False, 3))
        ]
    )
    planar = table(
        angle_deg=[0.0, 20.0, 40.0],
        target_offset_mm=[0.0, 2.0, 4.0],
        anchor_offset_mm=[0.0, 2.0],
        force_error_percent=lambda a, t, h: a / 10,
        couple_error_percent=lambda a, t, h: a / 2,
        projected_couple_error_percent=lambda a, t, h: 0.1 + 0 * a,
        couple_out_of_plane_percent=lambda a, t, h: 2 * a,
        rotation_centre_apart_percent_of_root=lambda a, t, h: a / 20,
        target_out_of_plane_percent=lambda a, t, h: np.abs(10 * t - a),
        anchor_aside_percent=lambda a, t, h: 50 * h + a,
    )
    return Maps(
        bending, tube, play, centre, teeth, winkler, planar, loops, far, thin_layer, rigidity
    )


def table(**columns):
    """Every combination of the lists, and the functions of them."""
    given = {name: value for name, value in columns.items() if not callable(value)}
    mesh = [m.ravel() for m in np.meshgrid(*map(np.array, given.values()), indexing="ij")]
    rows = dict(zip(given, mesh, strict=True))
    rows |= {name: value(*mesh) for name, value in columns.items() if callable(value)}
    return pd.DataFrame(rows)


def layers(error):
    return table(
        poisson_ratio=[0.3, 0.4, 0.5],
        thickness_mm=[0.1, 0.3],
        **dict.fromkeys(LAYER_QUANTITIES, error),
    ).assign(tooth=21)


def study(limit=5.0):
    return {
        "limit_percent": limit,
        "tube": {"play_span_mm": 20.0},
        "planar": {"target": 37, "anchor": 34, "tube_mm": 4.0, "span_mm": 20.0},
    }


def found(limit=5.0):
    return chapters(made_up(), study(limit), {"stainless_steel": 0.01})


def limits(limit=5.0):
    rows = limits_table(found(limit))
    return dict(zip(rows["formula"], rows["you_may_use_it_when"], strict=True))


def test_limits_are_read_from_the_maps():
    """By hand: 72/16 = 4.5, 72/9 = 8 at 3; so the span is 3 + 3/3.5 heights, worst 0.5 − d²/100."""
    at = limits()
    assert at["3EI/L³ of a straight clamped wire"] == (
        "a span of 3.9 wire heights or more and a deflection up to 22 % of the span"
    )
    assert at["a tube taken as a clamp, 3EI/L³"] == "a span of 20 tube lengths or more"
    assert at["slot play left out"].startswith("play up to 0.2 mm (all of the map)")
    assert at["slot play as lost activation, p(½ + L/b)"] == (
        "an activation up to 2.5 mm on a span of 20 mm"
    )
    assert at["straight-beam rod in a U loop"] == "a radius of 3.5 wire heights or more"
    assert at["thin-wire formula in a helix"].endswith("(all of the map)")
    assert "a crest up to 2.5 mm below the cervix" in at["centre of resistance at 0.40 h, for the "
                                                         "couple over force"]  # fmt: skip
    assert at["σ² = 0.0686 h²"] == "one root, crest at 0 mm, Poisson's ratio from 0.35 to 0.45"
    assert at["thin layer, for the axial stiffness"].startswith("Poisson's ratio up to 0.35,")
    assert at["normal springs, for the axial stiffness"] == "Poisson's ratio of 0.45 or more"
    assert at["rigid tooth and bone, for the axial stiffness"].startswith(
        "a Young's modulus of the ligament up to 0.5 MPa"
    )
    assert at["couple = force × distance along the wire"] == "an angle of the wire up to 10°"
    assert at["no rotation of the target out of the plane"] == (
        "an angle up to 5° with the tube on the long axis, or an offset up to 0.5 mm "
        "without an angle"
    )
    assert at["no movement of the anchor's crown aside"].startswith("a hook up to 0.1 mm")


def test_another_limit_gives_other_words():
    loose, tight = limits(10.0), limits(5.0)
    changed = [name for name in tight if loose[name] != tight[name]]
    assert "couple = force × distance along the wire" in changed
    assert loose["couple = force × distance along the wire"] == "an angle of the wire up to 20°"
    assert len(changed) >= 12


def test_the_angle_that_undoes_an_offset():
    assert least_turn(made_up().planar).to_dict() == {0.0: 0.0, 2.0: 20.0, 4.0: 40.0}


def test_every_paragraph_is_a_sentence_with_a_number():
    for chapter in found():
        for said in chapter.said:
            assert said.endswith("."), said
            assert not re.search(r"\b(nan|inf)\b", said)
        assert any(re.search(r"\d", said) for said in chapter.said)


# --- figures: numbers before pictures --------------------------------------------------------


def contours(axes):
    """Vertices of the lines drawn on a map, by level."""
    (lines,) = [c for c in axes.collections if getattr(c, "filled", None) is False]
    return dict(zip(lines.levels, lines.get_paths(), strict=True))


def test_the_contour_lies_where_the_error_is_the_limit():
    cells = grid(
        table(x=[0, 1, 2, 4], y=[0, 1, 2], e=lambda x, y: 4 * x - 8 + 0 * y), "x", "y", "e"
    )
    axes = new_figure(8, 4).subplots()
    error_map(axes, cells, 5.0)
    drawn = contours(axes)
    assert set(drawn) == {-5.0, 5.0}
    assert drawn[5.0].vertices[:, 0] == pytest.approx(3.25)
    assert drawn[-5.0].vertices[:, 0] == pytest.approx(0.75)


@pytest.mark.parametrize(("size", "said"), [(2.0, "within"), (9.0, "beyond")])
def test_a_map_without_a_crossing_says_so(size, said):
    cells = grid(table(x=[0, 1], y=[0, 1], e=lambda x, y: size + 0 * x), "x", "y", "e")
    axes = new_figure(8, 4).subplots()
    error_map(axes, cells, 5.0)
    assert [text.get_text() for text in axes.texts] == [f"{said} 5 % all over"]


def test_all_figures_are_drawn_from_their_tables(tmp_path):
    maps = made_up()
    figures = {
        "bending": bending_figure(maps.bending, {"stainless_steel": 0.01}, 5.0),
        "tube": tube_figure(maps.tube, maps.play, 5.0),
        "loops": loops_figure(maps.small, 5.0),
        "centre": centre_figure(maps.centre, 5.0),
        "teeth": all_teeth_figure(maps.teeth, 5.0),
        "thin_layer": layer_figure(maps.thin_layer, 5.0, "thin layer"),
        "rigidity": rigidity_figure(maps.rigidity, 5.0),
        "planar": planar_figure(maps.planar, 5.0),
    }
    for name, figure in figures.items():
        labels = [axes.get_xlabel() + axes.get_ylabel() for axes in figure.axes]
        assert any(re.search(r"\(.*(mm|%|MPa|°).*\)|over|ratio", label) for label in labels), name
        path = tmp_path / f"{name}.svg"
        save_figure(figure, str(path), title=name, description="Errors of a model.")
        assert path.stat().st_size > 5000
    (lost,) = [
        line for line in figures["tube"].axes[2].lines if line.get_label().startswith("left of it")
    ]
    assert lost.get_xdata() == pytest.approx([0.0, 0.1, 0.2])


# --- the page --------------------------------------------------------------------------------


def page(tmp_path, title="Good enough?"):
    picture = tmp_path / "one.svg"
    picture.write_text("<svg xmlns='http://www.w3.org/2000/svg'/>", encoding="utf-8")
    parts = found()
    return page_html(title, 5.0, parts, {part.name: [str(picture)] for part in parts}), parts


def test_the_page_holds_all_limits_and_words_and_needs_nothing_else(tmp_path):
    text, parts = page(tmp_path)
    plain = text.replace("\u00a0", " ").replace("&#39;", "'")
    for part in parts:
        assert f'id="{part.name}"' in plain
        assert all(said in plain for said in part.said)
        assert all(row.when in plain for row in part.limits)
    assert re.findall(r'(?:src|href)="(?!data:|#)', text) == []
    assert text.count("data:image/svg+xml;base64,") == len(parts)


def test_the_page_escapes_what_the_file_says(tmp_path):
    text, _ = page(tmp_path, "<script>alert(1)</script>")
    assert "<script>" not in text
