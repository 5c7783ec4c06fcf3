import json
import re
import runpy
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from snakemake.iocontainers import Namedlist

from workflow.columns import column_text
from workflow.explorer import explorer_html

FACTORS = ["span_mm", "alloy"]
RESPONSES = ["force_N", "shape"]
NASTY = "</script><b>\"steel\" & 'wire'</b>"


@pytest.fixture
def table():
    return pd.DataFrame(
        {
            "run": ["a1", "b2", "c3", "d4"],
            "span_mm": [20.0, 0.1 + 0.2, 25.0, 20.0],
            "alloy": [NASTY, "titanium", None, "titanium"],
            "force_N": [1 / 3, -np.inf, np.nan, np.nan],
            "shape": ["loop", "straight", None, None],
            "time_s": [1, 2, 3, 4],
            "note": [None, "", "no equilibrium <at> step 3", " "],
        }
    )


def held(html):
    text = re.search(r'<script type="application/json" id="study">(.*?)</script>', html, re.S)
    return json.loads(text[1])


def render(table, **changes):
    given = {"factors": FACTORS, "responses": RESPONSES, "title": "Wires", "words": {}}
    return explorer_html(table, **(given | changes))


def test_page_holds_every_value_at_full_precision(table):
    columns = {column["name"]: column for column in held(render(table))["columns"]}
    assert list(columns) == ["run", "span_mm", "alloy", "force_N", "shape", "time_s", "note"]
    assert columns["span_mm"]["values"] == list(table["span_mm"])
    assert columns["force_N"]["values"] == [1 / 3, "-inf", None, None]
    assert columns["time_s"]["values"] == [1, 2, 3, 4]
    levels = columns["alloy"]["levels"]
    assert [levels[code] if code >= 0 else None for code in columns["alloy"]["values"]] == list(
        table["alloy"].astype(object).where(table["alloy"].notna(), None)
    )
    assert [columns[name]["role"] for name in ("span_mm", "force_N", "time_s")] == [
        "factor",
        "response",
        "other",
    ]


def test_script_makes_the_page_from_the_stored_table(table, tmp_path):
    table.to_parquet(tmp_path / "runs.parquet")
    given = {"factors": FACTORS, "responses": RESPONSES, "title": "Wires", "words": {}}
    stage = SimpleNamespace(
        rule="sweep_explorer",
        wildcards={},
        log=[tmp_path / "explorer.log"],
        input=Namedlist(fromdict={"table": tmp_path / "runs.parquet"}),
        params=SimpleNamespace(**given),
        output=Namedlist(fromdict={"page": tmp_path / "explorer.html"}),
        resources={"mem_mb": 1},
    )
    script = Path(__file__).parents[2] / "workflow/scripts/sweep_explorer.py"
    runpy.run_path(str(script), init_globals={"snakemake": stage})
    assert held(stage.output.page.read_text(encoding="utf-8")) == held(render(table))


def test_a_run_failed_if_a_note_says_so_or_nothing_was_found(table):
    assert held(render(table))["failed"] == [False, False, True, True]


def test_texts_cannot_leave_their_place(table):
    html = render(table.rename(columns={"shape": "<i>shape"}), responses=["<i>shape"], title=NASTY)
    assert html.count("</script>") == 3
    for tag in ("<b>", "<i>", "<at>"):
        outside_library = html[: html.index("plotly.js v")]
        assert tag not in outside_library


def test_page_names_no_address_to_load_from(table):
    html = render(table)
    assert not re.search(r"<(?:script|link|img|iframe)[^>]+(?:src|href)=\"(?!data:)", html)
    assert "default-src 'none'" in html


@pytest.mark.parametrize(
    ("column", "words", "expected"),
    [
        ("span_mm", {}, "span (mm)"),
        ("span_mm", {"span_mm": "span of the wire"}, "span of the wire (mm)"),
        ("couple_Nmm", {}, "couple (N·mm)"),
        ("stiffness_N_per_mm", {}, "stiffness (N/mm)"),
        ("moved_um", {}, "moved (µm)"),
        ("yield_ratio", {}, "yield ratio"),
        ("alloy", {"alloy": "alloy of the wire"}, "alloy of the wire"),
    ],
)
def test_label_gives_the_unit(column, words, expected):
    assert column_text(column, words) == expected


def test_stops_of_a_slider_are_values_that_occur_and_reach_both_ends(table):
    many = pd.concat([table.iloc[[0]]] * 5000, ignore_index=True)
    many["run"] = [f"r{i}" for i in range(5000)]
    many["force_N"] = np.geomspace(1e-3, 1e3, 5000)
    column = next(c for c in held(render(many))["columns"] if c["name"] == "force_N")
    assert len(column["stops"]) == 201
    assert set(column["stops"]) <= set(many["force_N"])
    assert [column["stops"][0], column["stops"][-1]] == [
        many["force_N"].min(),
        many["force_N"].max(),
    ]
    assert held(render(table))["columns"][1]["stops"] == [0.1 + 0.2, 20.0, 25.0]


def test_booleans_integers_with_gaps_and_categories(table):
    table["tied"] = [True, False, True, True]
    table["teeth"] = pd.array([1, None, 3, 4], dtype="Int64")
    table["size"] = pd.Categorical(["L", "S", None, "S"], categories=["S", "L"])
    columns = {
        c["name"]: c for c in held(render(table, factors=["tied", "teeth", "size"]))["columns"]
    }
    assert columns["tied"]["levels"] == ["False", "True"]
    assert columns["teeth"]["values"] == [1, None, 3, 4]
    assert (columns["size"]["levels"], columns["size"]["values"]) == (["S", "L"], [1, 0, -1, 0])


def test_every_run_failed(table):
    failed = table.assign(force_N=np.nan, shape=None)
    data = held(render(failed))
    assert data["failed"] == [True] * 4
    columns = {column["name"]: column for column in data["columns"]}
    assert (columns["shape"]["levels"], columns["shape"]["values"]) == ([], [-1] * 4)
    assert columns["force_N"]["stops"] == []


def test_colours_end_before_they_fade_into_paper(table):
    colours = held(render(table))["colours"]
    red, green, blue = (int(colours[-1][i : i + 2], 16) for i in (1, 3, 5))
    assert colours[0] == "#011959"  # the dark end of batlow, Crameri (2018), as cmcrameri has it
    assert 0.2126 * red + 0.7152 * green + 0.0722 * blue < 200


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda t: t.drop(columns="force_N"), "lacks the columns force_N"),
        (lambda t: t.drop(columns="note"), "lacks the columns note"),
        (lambda t: t.iloc[:0], "holds no runs"),
        (lambda t: t.assign(run="a1"), "two runs are named a1"),
    ],
)
def test_unfit_tables_are_refused(table, change, message):
    with pytest.raises(ValueError, match=message):
        render(change(table))


def test_factors_and_responses_are_needed(table):
    with pytest.raises(ValueError, match="at least one factor"):
        render(table, factors=[])
