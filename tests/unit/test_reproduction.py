"""Agreement of tables with their references: arithmetic, what counts as different, its words."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from workflow.case_errors import CaseError
from workflow.provenance import made_by
from workflow.reproduction import (
    agreement,
    agreement_table,
    differences_table,
    renew,
    rules_of,
    touched,
    verdict,
)
from workflow.reproduction_compare import ROWS, Rules, compare
from workflow.reproduction_config import Closeness, Reproduction, load_reproduction
from workflow.reproduction_page import agreement_html
from workflow.reproduction_tables import DIGEST, digest, read_cells, rounded, sampled_rows

EXACT = Rules(1e-6)
LISTED = load_reproduction()


def cells(**columns):
    return pd.DataFrame({name: [str(v) for v in values] for name, values in columns.items()})


def differing(reference, computed, rules=EXACT):
    found = compare(reference, computed, rules)
    return [(d.column, d.row, d.reference, d.computed) for c in found for d in c.differences]


def one(reference, computed, rules=EXACT):
    found = compare(cells(x=[reference]), cells(x=[computed]), rules)
    return next(column for column in found if column.column == "x")


@pytest.mark.parametrize(
    ("reference", "computed", "agrees"),
    [
        ("2.5", "2.5000025", True),  # 1e-6 of 2.5 exactly
        ("2.5", "2.5000026", False),
        ("-2.5", "-2.4999975", True),
        ("-2.5", "2.5", False),
        ("0", "1e-300", False),  # no size and no floor: only the same agrees
        ("1", "1.0", True),
        ("", "", True),
        ("", "0", False),
        ("0", "", False),
        ("inf", "inf", True),
        ("inf", "1e300", False),
        ("-inf", "inf", False),
        ("beta", "beta", True),
        ("beta", "Beta", False),
        ("1", "one", False),
        ("True", "False", False),
    ],
)
def test_one_value(reference, computed, agrees):
    assert one(reference, computed).agrees is agrees


def test_relative_difference_is_of_the_reference():
    column = one("4.0", "4.1", Rules(0.03))
    assert column.largest_relative_difference == pytest.approx(0.025)
    assert column.agrees
    assert not one("4.0", "4.1", Rules(0.024)).agrees


@pytest.mark.parametrize(
    ("reference", "computed", "agrees"),
    [
        ("1.00000", "1.00001", True),  # one step of the sixth digit, ten times the tolerance
        ("1.00000", "1.00002", False),
        ("123456", "123457", True),
        ("9.99999e-05", "0.0001", True),
        ("4947", "4948", False),  # a whole number of four digits
    ],
)
def test_one_step_of_the_last_printed_digit_agrees(reference, computed, agrees):
    assert one(reference, computed, Rules(1e-7, digits=6)).agrees is agrees


def test_a_floor_is_absolute_and_by_column_or_pattern():
    rules = Rules(1e-6, floors={"*_percent": 1e-4})
    old, new = cells(a_percent=[0, 50], b=[0, 50]), cells(a_percent=[9e-5, 50], b=[9e-5, 50])
    assert [d[:2] for d in differing(old, new, rules)] == [("b", "row 1")]
    new = cells(a_percent=[1.1e-4, 50], b=[0, 50])
    assert [d[:2] for d in differing(old, new, rules)] == [("a_percent", "row 1")]
    assert one("0", "0.5", Rules(0.0, floors={"x": 0.5})).agrees


def test_noise_is_a_share_of_the_largest_of_the_column():
    old = cells(x=[100, 0])
    assert not differing(old, cells(x=[100, 9e-7]), Rules(1e-6, noise=1e-8))
    assert differing(old, cells(x=[100, 1.1e-6]), Rules(1e-6, noise=1e-8))


def test_missing_and_extra_rows_and_columns_are_differences():
    old = cells(name=["a", "b", "c"], x=[1, 2, 3], lost=[1, 1, 1])
    new = cells(name=["c", "a", "d"], x=[3, 1, 4], more=[1, 1, 1])
    assert differing(old, new, Rules(1e-6, keys=("name",))) == [
        (ROWS, "b", "there", "missing"),
        (ROWS, "d", "missing", "there"),
        ("lost", "(all)", "there", "no such column"),
        ("more", "(all)", "no such column", "there"),
    ]


def test_without_keys_rows_go_by_their_order():
    old, new = cells(x=[1, 2]), cells(x=[2, 1, 5])
    assert [d[:2] for d in differing(old, new)] == [
        (ROWS, "row 3"),
        ("x", "row 1"),
        ("x", "row 2"),
    ]


def test_rows_of_one_name_are_counted_and_keys_are_numbers_where_they_can_be():
    old = cells(series=["rod", "rod", "solid"], at=["0.5", "0.5", "1"], y=[1, 2, 3])
    new = cells(series=["solid", "rod", "rod"], at=["1.0", "0.50", "0.5"], y=[3, 1, 7])
    assert differing(old, new, Rules(1e-6, keys=("series", "at"))) == [
        ("y", "rod, 0.5, no. 2", "2", "7")
    ]


def test_a_column_left_out_is_not_looked_at():
    old, new = cells(x=[1], words=["more"]), cells(x=[1], words=["less"])
    assert differing(old, new)
    assert not differing(old, new, Rules(1e-6, left_out={"words"}))


def test_nan_is_read_as_an_empty_cell(tmp_path):
    path = tmp_path / "table.csv"
    pd.DataFrame({"x": [1.0, np.nan], "word": ["NA", None]}).to_csv(path, index=False)
    assert read_cells(path)["x"].to_list() == ["1.0", ""]
    assert read_cells(path)["word"].to_list() == ["NA", ""]
    path.write_text("x\nnan\nNaN\n", encoding="utf-8")
    assert read_cells(path)["x"].to_list() == ["", ""]


def test_references_have_nine_digits():
    table = cells(x=["0.12345678912", "3", "12345678901", "2.5"], word=["a" * 12, "", "7", "1e5"])
    assert rounded(table)["x"].to_list() == ["0.123456789", "3", "12345678901", "2.5"]
    assert rounded(table)["word"].to_list() == ["a" * 12, "", "7", "1e5"]


@pytest.fixture
def large():
    values = np.random.default_rng(5).normal(0.0, 3.0, 1000)
    return cells(x=values, word=["a", "b"] * 500, few=[""] * 999 + ["2"])


def test_digest_holds_the_statistics_of_its_columns(large):
    made = digest(large).set_index(DIGEST)
    x = large["x"].astype(float)
    assert made.loc["filled"].to_list() == ["1000 of 1000", "1000 of 1000", "1 of 1000"]
    assert float(made.loc["mean", "x"]) == pytest.approx(x.mean(), rel=1e-12)
    assert float(made.loc["standard deviation", "x"]) == pytest.approx(x.std(ddof=0), rel=1e-12)
    assert float(made.loc["25 %", "x"]) == pytest.approx(x.quantile(0.25), rel=1e-12)
    assert float(made.loc["greatest", "x"]) == x.max()
    assert made.loc["SHA-256", "word"].startswith("sha256:")
    assert made.loc["mean", "word"] == ""
    assert sum(name.startswith("row ") for name in made.index) == 40
    row = next(name for name in made.index if name.startswith("row "))
    assert made.loc[row, "x"] == large["x"][int(row.split()[1]) - 1]


def test_sampled_rows_depend_on_the_length_alone():
    assert sampled_rows(1000) == sampled_rows(1000)
    assert len({*sampled_rows(1000)}) == 40
    assert sampled_rows(3) == [0, 1, 2]


def by_digest(large, changed):
    figure = LISTED.chosen("uprighting_movement")[0]
    reference = digest(large)
    rules = rules_of(figure, LISTED.closeness, reference)
    return {d[:2] for d in differing(reference, digest(changed), rules)}


def test_a_digest_notices_a_value_a_word_a_row_and_an_empty_cell(large):
    assert by_digest(large, large) == set()
    changed = large.copy()
    changed.loc[0, "word"] = "c"
    assert by_digest(large, changed) == {("word", "SHA-256")}
    changed = large.copy()
    changed["x"] = (changed["x"].astype(float) * 1.0001).map(str)
    assert {("x", "standard deviation"), ("x", "greatest"), ("x", "95 %")} <= by_digest(
        large, changed
    )
    changed = large.copy()
    changed.loc[17, "x"] = ""
    assert ("x", "filled") in by_digest(large, changed)
    assert ("x", "filled") in by_digest(large, large.iloc[:-1])


LIST = """
closeness: {because: for these tests}
figures:
  - number: 1
    name: forces
    title: Forces of two wires.
    figure: results/forces.svg
    table: results/forces.csv
    keys: [wire]
    left_out: {words: sentences}
  - number: 2
    name: field
    title: A field.
    figure: results/field.png
    table: results/field.csv
    compared: digest
"""


def two_tables(folder):
    """Two tables, their list, and references renewed from them."""
    (folder / "results").mkdir()
    (folder / "list.yaml").write_text(LIST, encoding="utf-8")
    forces = {"wire": ["thin", "thick"], "force_N": [0.5, 2.0], "words": ["less", "more"]}
    pd.DataFrame(forces).to_csv(folder / "results" / "forces.csv", index=False)
    field = {"at": np.arange(500.0), "kPa": np.sin(np.arange(500.0))}
    pd.DataFrame(field).to_csv(folder / "results" / "field.csv", index=False)
    listed = load_reproduction(folder / "list.yaml")
    renew(listed, listed.figures, folder)
    return folder, listed


@pytest.fixture
def project(tmp_path):
    return two_tables(tmp_path)


def records_of(project):
    folder, listed = project
    return agreement(listed.figures, listed.closeness, folder)


def edit(project, old, new, name="forces.csv"):
    path = project[0] / "results" / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_floors_of_a_figure_come_before_those_of_all():
    own = {"relative": 2e-3, "floors": {"*_percent": 0.2}}
    figure = LISTED.figures[0].model_copy(update=own)
    general = Closeness(because="for these tests", floors={"*_percent": 1e-4, "x": 3.0})
    rules = rules_of(figure, general, pd.DataFrame())
    assert rules.relative == figure.relative
    assert rules.floor("mesial_N_per_mm_percent", 1.0) == figure.floors["*_percent"] > 1e-4
    assert rules.floor("x", 1.0) == 3.0
    assert rules.floor("y", 7.0) == 7.0 * general.noise


def test_what_was_renewed_agrees(project):
    records = records_of(project)
    assert touched(records) == []
    # force_N of two wires; two columns of a digest of 11 statistics and 40 rows
    assert verdict(records).startswith("2 of 2 figures agree with their references; 104 values")
    table = agreement_table(records)
    assert table["agrees"].all()
    assert "words" not in set(table["column"])
    assert differences_table(records).empty


def test_a_changed_number_is_named_with_figure_title_column_row_and_both_values(project):
    edit(project, "2.0", "2.04")
    records = records_of(project)
    assert touched(records) == [
        "figure 1 (Forces of two wires): force_N; force_N, thick: reference 2.0, computed 2.04 "
        "(0.02)"
    ]
    row = differences_table(records).iloc[0]
    assert row["figure"] == 1
    assert row["title"] == "Forces of two wires."
    assert (row["column"], row["row"]) == ("force_N", "thick")
    assert (row["reference"], row["computed"]) == ("2.0", "2.04")
    assert row["relative_difference"] == pytest.approx(0.02)
    table = agreement_table(records).set_index(["figure", "column"])["agrees"]
    assert not table[1, "force_N"]
    assert table.drop((1, "force_N")).all()


def test_of_many_changed_numbers_the_largest_is_named(project):
    edit(project, "2.0", "2.04")
    edit(project, "0.5", "0.55")
    (line,) = touched(records_of(project))
    assert line.endswith("force_N, thin: reference 0.5, computed 0.55 (0.1)")
    edit(project, "0.55", "0.505")
    (line,) = touched(records_of(project))
    assert line.endswith("force_N, thick: reference 2.0, computed 2.04 (0.02)")


def test_the_page_names_what_differs(project):
    edit(project, "thick", "thick & <stiff>")
    listed, records = project[1], records_of(project)
    html = agreement_html(records, 5, listed.closeness.model_dump(), made_by())
    assert "Figure 1 differs: Forces of two wires." in html
    assert "thick &amp; &lt;stiff&gt;" in html
    assert "1 of 2 figures agree" in html
    assert "3 figures of the list were not asked for" in html
    assert "sentences" in html
    edit(project, "thick & <stiff>", "thick")
    html = agreement_html(records_of(project), 2, listed.closeness.model_dump(), made_by())
    assert "2 of 2 figures agree" in html
    assert "differs:" not in html
    assert "DIFFER" not in html


def test_a_figure_without_reference_does_not_pass(project):
    (project[0] / "results" / "reference" / "forces.csv").unlink()
    (line,) = touched(records_of(project))
    assert "figure 1" in line
    assert "--renew" in line


def test_renewal_says_what_changed_and_keeps_what_was_not_made(project, capsys):
    folder, listed = project
    reference = folder / "results" / "reference"
    capsys.readouterr()
    renew(listed, listed.figures, folder)
    assert "figure 1, forces: unchanged" in capsys.readouterr().out
    edit(project, "2.0", "2.04")
    (folder / "results" / "field.csv").unlink()
    (reference / "older.csv").write_text("x\n1\n", encoding="utf-8")
    before = (reference / "field.digest.csv").read_bytes()
    renew(listed, listed.figures, folder)
    said = capsys.readouterr().out
    assert "figure 1, forces: force_N: 1 changed, by up to 0.02 of the old" in said
    assert "no results/field.csv was made, its reference stays" in said
    assert "older.csv: no figure of the list has it" in said
    assert (reference / "field.digest.csv").read_bytes() == before
    assert touched(agreement(listed.figures[:1], listed.closeness, folder)) == []


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("number: 2", "number: 3", ": field has number 3; in this order make it 2"),
        ("name: field", "name: forces", ": forces names 2 figures; give each"),
        ("table: results/field.csv", "table: results/field.txt", "must be a .csv file"),
        ("results/field.png", "configs/field.png", "must lie in results/"),
        ("results/field.png", "results/../field.png", "must lie in results/"),
        ("keys: [wire]", "keys: [words]", "words: names the rows and is left out"),
        ("keys: [wire]", "relative: 0.01", "say why in because"),
        ("keys: [wire]", "keyz: [wire]", "did you mean keys?"),
        ("compared: digest", "compared: digests", "did you mean digest?"),
        ("compared: digest", "full_precision: 12 mm", "must be true or false"),
        ("compared: digest", "compared: digest\n    keys: [at]", "a digest takes rows"),
        ("left_out: {words: sentences}", "left_out: {words: no}", "figures"),
    ],
)
def test_a_wrong_list_is_refused_in_words(tmp_path, old, new, message):
    assert old in LIST
    path = tmp_path / "list.yaml"
    path.write_text(LIST.replace(old, new), encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_reproduction(path)
    assert message in str(caught.value)
    assert f"{path}: line " in str(caught.value)


def test_a_figure_left_out_for_its_mistakes_shifts_no_number(tmp_path):
    path = tmp_path / "list.yaml"
    path.write_text(LIST.replace("number: 1", "number: none"), encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_reproduction(path)
    assert [problem.key for problem in caught.value.problems] == ["figures[0].number"]


def test_figures_are_chosen_by_number_or_name():
    assert [f.number for f in LISTED.chosen("3, uprighting_free_body")] == [1, 3]
    assert [f.number for f in LISTED.chosen(2)] == [2]
    assert [f.number for f in LISTED.chosen(["2", "1,3"])] == [1, 2, 3]
    assert LISTED.chosen(None) == LISTED.figures
    with pytest.raises(CaseError, match="did you mean uprighting_movement"):
        LISTED.chosen("uprigthing_movement")


@pytest.mark.parametrize("folder", ["comparisons", "studies", "searches", "choices"])
def test_everything_that_ships_is_in_the_list(folder):
    shown = " ".join(f"{figure.table} {figure.figure}" for figure in LISTED.figures)
    for path in Path("configs", folder).glob("*.yaml"):
        assert f"results/{folder}/{path.stem}/" in shown, path


@pytest.mark.parametrize("figure", LISTED.figures, ids=lambda figure: figure.name)
def test_every_figure_has_a_reference_with_the_columns_that_the_list_names(figure):
    reference = read_cells(figure.reference)
    assert len(reference) > 0
    assert {*figure.keys, *figure.left_out} <= set(reference)
    if figure.compared == "digest":
        assert {"filled", "mean", "greatest"} <= set(reference[DIGEST])


def test_references_are_small():
    """At most 1.5 MB, so that they can be tracked (the project's own limit)."""
    files = Path("results/reference").glob("*.csv")
    assert sum(path.stat().st_size for path in files) <= 1_500_000


def test_models_stand_alone():
    assert Closeness(because="for these tests").relative == 1e-6
    assert Reproduction.model_validate(LISTED.model_dump()) == LISTED
