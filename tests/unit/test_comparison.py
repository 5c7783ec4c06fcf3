"""Cases beside each other: numbers taken over, words made of them, statics said and met."""

import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.comparison_example import (
    COUPLE_NMM,
    LABELS,
    NASTY,
    QUESTION,
    WARNINGS,
    compared,
    compared_cases,
)
from tests.sheet_example import Page
from workflow.case_errors import CaseError
from workflow.cautions import CAUTION
from workflow.comparison import comparison_table, mesh_errors, statements
from workflow.comparison_file import load_comparison
from workflow.comparison_page import comparison_html
from workflow.comparison_panels import panel_figure, panels, panels_table
from workflow.comparison_setup import alike, differing
from workflow.comparison_words import change_text, headlines
from workflow.figures_comparison import comparison_figure, quantity_figure

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
    none = pd.DataFrame(index=range(2))
    figure = comparison_figure(table(), none, "Which?")
    titles = [axes.get_title(loc="left") for axes in figure.axes if axes.axison]
    assert len(titles) == 10
    assert any("load-deflection rate" in title.replace("\n", " ") for title in titles)
    gone = table().assign(anchor_um=pd.NA, anchor_mrad=pd.NA)
    figure = comparison_figure(gone, none, "Which?")
    assert len([axes for axes in figure.axes if axes.axison]) == 8


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


# The page


@pytest.fixture(scope="module")
def cases():
    return compared_cases()


@pytest.fixture(scope="module")
def page(cases):
    return comparison_html("hooks", QUESTION, cases)


def numbers_table(cases):
    return comparison_table(LABELS, [c.summary for c in cases], [c.curve for c in cases])


def rows_of(page):
    """Cells of the table of all cases by heading, one mapping a case."""
    (table,) = re.findall(r'<table class="all">.*?</table>', page, re.S)
    heads = [Page(cell).text for cell in re.findall(r"<th scope=\"col\">.*?</th>", table)]
    rows = re.findall(r"<tr data-case.*?</tr>", table, re.S)
    texts = [[Page(c).text for c in re.findall(r"<t[hd].*?</t[hd]>", row, re.S)] for row in rows]
    return [dict(zip(heads, row, strict=True)) for row in texts]


def test_every_number_of_the_table_is_that_of_its_summary(cases, page):
    for row, compared_case in zip(rows_of(page), cases, strict=True):
        wire, units = compared_case.summary["wire"], compared_case.summary["units"]
        size = np.linalg.norm(wire["force_N"])
        assert row["Force at the hook"] == f"{size:#.3g} N ({size / GF:#.3g} gf)"
        size = np.linalg.norm(wire["couple_Nmm"])
        assert row["Couple at the tube"] == f"{size:#.3g} N·mm ({size / GF:.0f} gf·mm)"
        assert row["Span"] == f"{wire['span_mm']:#.3g} mm"
        assert (
            row["Peak stress, share of the elastic limit"] == f"{100 * wire['yield_ratio']:#.3g} %"
        )
        for unit in units.values():
            moved = np.linalg.norm(unit["displacement_at_resistance_um"])
            turned = np.linalg.norm(unit["rotation_mrad"])
            assert row[f"Movement of the {unit['role']}"] == f"{moved:#.3g} µm ± 2.5 %"
            assert row[f"Turn of the {unit['role']}"] == f"{turned:#.3g} mrad ± 1.5 %"
        rate = compared_case.curve["rate_gf_per_mm"]
        assert row["Load-deflection rate"] == f"{rate * GF:#.3g} N/mm ({rate:#.3g} gf/mm)"
        named = [text.partition(":")[0] for text in compared_case.summary["warnings"]]
        assert row["Warnings"] == ("; ".join(named) or "none")


def test_below_each_panel_stand_the_numbers_of_its_own_case(cases, page):
    articles = re.findall(r"<article.*?</article>", page, re.S)
    for article, compared_case in zip(articles, cases, strict=True):
        text, wire = Page(article).text, compared_case.summary["wire"]
        size = np.linalg.norm(wire["force_N"])
        assert f"Force on each unit {size:#.3g} N ({size / GF:#.3g} gf)" in text
        assert f"{100 * wire['yield_ratio']:#.3g} % of its elastic limit" in text
        for unit in compared_case.summary["units"].values():
            moved = np.linalg.norm(unit["displacement_at_resistance_um"])
            assert f"{moved:#.3g} µm ± 2.5 %, mostly" in text
        assert f'href="../../cases/{compared_case.name}/sheet.html"' in article


def test_the_answer_comes_first_and_says_what_became_less(cases, page):
    text = Page(page).text
    assert text.index("couple at the tube the same") < text.index("Side by side All panels")
    assert "force on each unit 33 % less, 0.400 N (40.8 gf) for 0.600 N (61.2 gf)" in text
    assert "warned: wire deforms, force below the stated range." in text
    assert "1.000 / 1.500 = 0.667; computed 0.667" in text


def test_a_couple_on_the_other_unit_is_shown_where_there_is_one(cases):
    assert "Couple at another unit" not in rows_of(comparison_html("hooks", QUESTION, cases))[0]
    seated = compared("seated", 0.5, name="seated", hook=(24.0, 8.0, -4.0))
    segment = seated.summary["units"]["segment"]
    segment |= {"contact": "bracket", "moment_at_attachment_Nmm": [-3.0, 4.0, 0.0]}
    html = comparison_html("hooks", QUESTION, [cases[0], seated])
    assert rows_of(html)[1]["Couple at another unit"] == "5.00 N·mm (510 gf·mm) on segment"
    assert "Couple on segment, at its bracket" in Page(html).text


@pytest.mark.parametrize(
    ("force", "words"),
    [(0.604, "the same"), (0.9, "50 % more"), (0.3, "50 % less"), (1.5, "2.50 times")],
)
def test_change_is_told_in_percent_or_in_times(cases, force, words):
    other = compared("other", force, name="other", hook=(24.0, 8.0, -4.0))
    (said,) = statements(numbers_table([cases[0], other]))
    assert change_text(said.changes[0]).replace("\u00a0", " ") == words


def test_a_warning_of_the_first_case_is_not_news_of_another(cases):
    said = statements(numbers_table(cases))
    assert headlines(said, "")[0].points[-1].startswith("warned: wire deforms, force")
    assert headlines(said, "wire deforms")[0].points[-1] == "warned: force below the stated range"


def test_panels_have_one_scale_of_length_and_one_of_loads(cases):
    loads, scale = panels_table(cases)
    sizes = np.hypot(loads["force_right_N"], loads["force_up_N"])
    assert np.asarray(loads["force_drawn_mm"] / sizes) == pytest.approx(10 / scale.bar_N)
    found = panels(cases, loads, scale)
    drawn = [panel_figure(panel, found[0], scale) for panel in found]
    spans = []
    for figure in drawn:
        (axes,) = figure.axes
        limits = np.ptp([axes.get_xlim(), axes.get_ylim()], axis=1)
        spans.append([*limits, *figure.get_size_inches()])
        assert limits[0] / limits[1] == pytest.approx(np.divide(*figure.get_size_inches()))
    assert spans[0] == pytest.approx(spans[1])


def test_arrows_are_as_long_as_the_scale_says_and_bands_as_in_the_first_case(cases):
    loads, scale = panels_table(cases)
    first, other = panels(cases, loads, scale)
    (axes,) = panel_figure(other, first, scale).axes
    # The forces of these cases are upright.
    arrows = sorted(
        height_of(patch.get_path()) for patch in axes.patches if patch.get_gid() == "force"
    )
    bands = sorted(float(np.ptp(line.get_ydata())) for line in bands_of(axes, "force"))
    # The outline of a head ends where its stroke, some 0.3 mm, still has to be added.
    assert arrows == pytest.approx([10 * 0.4 / scale.bar_N] * 2, abs=0.35)
    assert bands == pytest.approx([10 * 0.6 / scale.bar_N] * 2)
    assert len(bands_of(axes, "couple")) == 1
    (own,) = panel_figure(first, first, scale).axes
    assert bands_of(own, "force") == bands_of(own, "couple") == []


def height_of(path):
    return float(np.ptp(path.vertices[path.codes != path.CLOSEPOLY, 1]))


def bands_of(axes, kind):
    return [line for line in axes.lines if line.get_gid() == f"{kind} of the first case"]


def test_nothing_that_is_drawn_lies_outside_a_panel(cases):
    loads, scale = panels_table(cases)
    for panel in panels(cases, loads, scale):
        view = panel.plane.view
        drawn = [view.flat(tooth.points) for tooth in panel.compared.teeth]
        drawn += [view.flat(panel.compared.solved["wire"][n]) for n in ("passive_mm", "engaged_mm")]
        points = np.concatenate(drawn)
        assert np.all(points >= panel.low_mm)
        assert np.all(points <= panel.low_mm + panel.size_mm)


def test_bars_end_where_the_numbers_are_and_carry_the_error_of_the_mesh(cases):
    found = numbers_table(cases)
    errors = mesh_errors([c.summary for c in cases])
    quantities = {q.quantity.column: q.quantity for q in statements(found)[0].changes}
    (axes,) = quantity_figure(found, errors, quantities["anchor_um"]).axes
    moved = [5.0 * 0.6, 5.0 * 0.4]
    assert [bar.get_width() for bar in axes.patches] == pytest.approx(moved)
    (segments,) = (c.get_segments() for c in axes.collections)
    assert [np.ptp(s[:, 0]) / 2 for s in segments] == pytest.approx([0.025 * m for m in moved])
    (axes,) = quantity_figure(found, errors, quantities["force_gf"]).axes
    assert [bar.get_width() for bar in axes.patches] == pytest.approx([0.6, 0.4])
    assert axes.get_xlabel() == "N"


def test_what_differs_is_found_in_the_case_files(cases):
    files = [c.case for c in cases]
    assert [(part.key, part.values) for part in differing(files)] == [
        ("one_point.between", ("34, 35", "33, 34"))
    ]
    same = {part.key: part.values for part in alike(files)}
    assert same["one_point.contact"] == ("bar",)
    assert same["missing"] == ("36",)
    assert not {"case", "title", "one_point.between"} & set(same)


def test_loads_of_case_files_are_told_in_both_units(cases):
    stronger = compared("stronger", 0.6, name="far", hook=(24.0, 8.0, -4.0))
    stronger.case["wire"]["activation"]["couple_Nmm"] = 14.0
    (part,) = differing([cases[1].case, stronger.case])
    assert part.key == "wire.activation.couple_Nmm"
    assert part.values == ("11.7 N·mm (1193 gf·mm)", "14.0 N·mm (1428 gf·mm)")


def test_a_row_of_the_catalogue_differs_as_a_whole_and_rounding_does_not_count(cases):
    steel = compared("steel", 0.6, name="steel", hook=(24.0, 8.0, -4.0))
    steel.case["one_point"]["between"] = [34, 35]
    steel.case["wire"]["alloy"] |= {"name": "stainless_steel", "youngs_modulus_MPa": 180000.0}
    steel.case["bone"]["crest_depth_mm"] *= 1 + 1e-12
    (part,) = differing([cases[0].case, steel.case])
    assert (part.key, part.values) == ("wire.alloy", ("beta_titanium", "stainless_steel"))


def test_the_page_says_how_the_cases_differ_and_what_is_equal(page):
    text = Page(page).text
    assert "one_point.between: Neighbouring teeth" in text
    assert re.search(r"Equal in all cases .*missing 36; .*one_point\.contact bar;", text)
    assert CAUTION in text
    assert "abc" in text  # the commit


def test_text_of_questions_labels_and_warnings_is_escaped(page):
    assert "<script>alert" not in page
    assert "<b>far" not in page
    assert "<i>0.3" not in page
    assert NASTY in Page(page).text
    for warning in WARNINGS[1]:
        assert warning in Page(page).text


def test_the_page_asks_for_nothing_and_is_open_to_all_readers(page, cases):
    found = Page(page)
    tags = [tag for tag, _ in found.tags]
    assert ("html", {"lang": "en"}) in found.tags
    for _, attributes in found.tags:
        for name in ("src", "href", "action"):
            value = attributes.get(name)
            assert value is None or value.startswith(("data:", "#", "../../cases/")), value
    policy = next(a["content"] for _, a in found.tags if "http-equiv" in a)
    assert policy.startswith("default-src 'none'; script-src 'unsafe-inline';")
    levels = [int(tag[1]) for tag in tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert tags.count("table") == tags.count("caption") == 3
    assert all(a.get("scope") in {"col", "row"} for tag, a in found.tags if tag == "th")
    pictures = [a["alt"] for tag, a in found.tags if tag == "img"]
    assert len(pictures) == len(cases) + 10
    assert all(re.search(r"\d", alt) for alt in pictures)
    assert f"Couple at the tube: {COUPLE_NMM:#.3g} N·mm" in pictures[0]
