"""The explorer as a researcher meets it: opened from disk, network off."""

import numpy as np
import pandas as pd
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from tests.browser.explorer import (
    COLUMNS,
    FACTORS,
    MOST_MS,
    NASTY,
    RESPONSES,
    TITLE,
    as_number,
    body,
    bound,
    choose_axes,
    chosen,
    completed,
    counts,
    digits,
    drawing,
    drawn,
    filtering,
    place,
    toggle,
    written,
)
from workflow.cautions import CAUTION

FAILED = "failed"


def test_opens_and_works_without_network_or_complaint(page):
    assert page.driver.title == TITLE
    for axes in ({"x": "alloy", "y": "couple_Nmm", "colour": "force_N"}, {"colour": "verdict"}):
        choose_axes(page, **axes)
    drawing(page, page.find("#y-log").click)
    bound(page, "span_mm", "low", "15")
    page.find("#runs thead button").click()
    page.find("#runs tbody button").click()
    filtering(page, lambda: page.find("#reset").send_keys(Keys.ENTER))
    assert page.requests() == []
    assert page.messages() == []


def test_chart_does_not_offer_to_send_its_data_away(page):
    names = page.run(
        "return [...document.querySelectorAll('.modebar-btn')].map((b) => b.dataset.title)"
    )
    assert names == ["Zoom", "Pan", "Zoom in", "Zoom out"]


def test_counts_and_tables_equal_the_data(page, table):
    good, failed = completed(table), table[table.note != ""]
    assert counts(page) == (len(table), len(good), len(good), len(failed))
    expected = good.sort_values("run").head(200)
    lines = body(page, "runs")
    assert [line[0] for line in lines] == list(expected.run)
    for name in ("span_mm", "activation_mm", "force_N", "time_s"):
        shown = [as_number(line[place(name)]) for line in lines]
        assert shown == [digits(value) for value in expected[name]]
    assert [line[place("alloy")] for line in lines] == list(expected.alloy.fillna("–"))


def test_every_failed_run_is_listed_with_its_reason(page, table):
    failed = table[table.note != ""]
    assert [line[:2] for line in body(page, "failures")] == failed[
        ["run", "note"]
    ].to_numpy().tolist()
    reasons = failed.note.value_counts()
    assert {text: int(count) for count, text in body(page, "reasons")} == reasons.to_dict()
    bound(page, "span_mm", "low", "29")
    assert len(body(page, "failures")) == len(failed)
    inside = int((failed.span_mm >= 29).sum())
    assert f"({inside} of them within the filters on factors)" in page.text("#counts")


def test_filters_agree_with_pandas_and_can_be_reset(page, table):
    good = completed(table)
    bound(page, "span_mm", "low", "15")
    good = good[good.span_mm >= 15]
    assert counts(page)[1] == len(good)
    bound(page, "activation_mm", "high", "7.25")
    good = good[good.activation_mm <= 7.25]
    assert counts(page)[1] == len(good)
    toggle(page, "alloy", NASTY)
    good = good[good.alloy != NASTY]
    assert counts(page)[1] == len(good)
    toggle(page, "alloy", "no value")
    good = good[good.alloy.notna()]
    assert counts(page)[1] == len(good)
    bound(page, "couple_Nmm", "low", "0.5")
    good = good[good.couple_Nmm >= 0.5]
    assert counts(page)[1] == len(good) > 20
    toggle(page, "verdict", "strong")
    assert counts(page)[1] == (good.verdict != "strong").sum() > 5
    filtering(page, lambda: page.find("#reset").send_keys(Keys.ENTER))
    assert counts(page)[1] == len(completed(table))
    assert not page.run(
        "return [...document.querySelectorAll('input[type=number]')].some((f) => f.value)"
    )


def test_slider_and_field_tell_the_same(page, table):
    good, spans = completed(table), sorted(set(table.span_mm))
    slider = page.find(f"#low-slider-{place('span_mm')}")
    filtering(page, lambda: slider.send_keys(Keys.ARROW_RIGHT))
    filtering(page, lambda: slider.send_keys(Keys.ARROW_RIGHT))
    assert page.run("return arguments[0].getAttribute('aria-valuetext')", slider) == "15"
    assert (
        float(page.run("return arguments[0].value", page.find(f"#low-{place('span_mm')}")))
        == spans[2]
    )
    assert counts(page)[1] == (good.span_mm >= spans[2]).sum()
    bound(page, "span_mm", "high", "25")
    assert (
        page.run("return arguments[0].value", page.find(f"#high-slider-{place('span_mm')}")) == "6"
    )
    assert counts(page)[1] == good.span_mm.between(spans[2], 25).sum()


def test_no_run_left_is_said(page):
    bound(page, "force_N", "low", "1e6")
    assert counts(page)[1] == 0
    assert "No completed run passes the filters" in page.text("#runs-note")
    assert not page.find("#download").is_enabled()


def test_chart_shows_the_numbers_with_units_and_says_what_it_leaves_out(page, table):
    choose_axes(page, x="activation_mm", y="couple_Nmm", colour="alloy")
    good = completed(table)
    fits = good[np.isfinite(good.couple_Nmm)]
    points = drawn(page)
    assert sorted(points) == list(fits.index)
    for row, (x, y, _, kind) in points.items():
        assert (x, y, kind) == (table.activation_mm[row], table.couple_Nmm[row], "scatter")
    titles = [page.text(f".{axis}title") for axis in "xy"]
    assert titles == ["activation (mm)", "couple (N·mm)"]
    left_out = len(good) - len(fits)
    assert f"{len(fits)} runs drawn. {left_out} shown runs without a place" in page.text(
        "#chart-note"
    )
    drawing(page, page.find("#y-log").click)
    assert sorted(drawn(page)) == list(fits[fits.couple_Nmm > 0].index)


def test_failed_runs_are_drawn_as_crosses_between_factors(page, table):
    quick = """for (const [id, value] of arguments[0]) {
      const control = document.getElementById(id);
      control.value = value;
      control.dispatchEvent(new Event('change'));
    }"""
    changes = [["x", place("alloy")], ["y", place("activation_mm")], ["colour", place("alloy")]]
    drawing(page, lambda: page.run(quick, changes))
    page.wait("return new Promise((done) => setTimeout(() => done(true), 500))")
    placed = table[table.alloy.notna()]
    crosses = [row for row, (_, _, name, _) in drawn(page).items() if name == FAILED]
    assert crosses == list(placed.index[placed.note != ""])
    good, all_failed = len(completed(placed)), int((table.note != "").sum())
    assert page.text("#chart-note") == (
        f"{good} runs drawn. "
        f"{len(completed(table)) - good} shown runs without a place on these axes not drawn. "
        f"{len(crosses)} failed runs drawn as crosses. "
        f"{all_failed - len(crosses)} failed runs without a place on these axes, listed below."
    )
    assert all_failed > len(crosses) > 5


def test_clicked_point_shows_all_digits(page, table):
    choose_axes(page, x="activation_mm", y="force_N", colour=None)
    row = completed(table).force_N.idxmax()
    script = """const chart = document.querySelector('#chart');
      chart.scrollIntoView();
      const { xaxis, yaxis } = chart._fullLayout;
      const box = chart.getBoundingClientRect();
      return [box.left + xaxis._offset + xaxis.l2p(arguments[0]),
        box.top + yaxis._offset + yaxis.l2p(arguments[1])]"""
    spot = page.run(script, table.activation_mm[row], table.force_N[row])
    mouse = ActionChains(page.driver)
    mouse.w3c_actions.pointer_action.move_to_location(*map(round, spot))
    mouse.pause(0.3).click().perform()
    page.wait("return document.querySelector('#chosen dl') !== null")
    found, expected = chosen(page), table.loc[row]
    assert set(found) == set(COLUMNS)
    for name in COLUMNS:
        value = expected[name]
        assert (float(found[name]) if isinstance(value, float) else found[name]) == value


def test_run_is_chosen_and_left_by_keyboard(page, table):
    first, second = completed(table).sort_values("run").run.head(2)
    page.run("document.querySelector('#runs tbody button').focus()")
    ActionChains(page.driver).send_keys(Keys.ARROW_DOWN, Keys.ENTER).perform()
    assert chosen(page)["run"] == second != first
    assert page.driver.switch_to.active_element.text == "Chosen run"
    ActionChains(page.driver).send_keys(Keys.TAB, Keys.ENTER).perform()
    assert page.driver.switch_to.active_element.text == second


def test_failed_run_tells_why_when_chosen(page, table):
    failed = table[table.note != ""].iloc[0]
    page.find("#failures tbody button").click()
    assert chosen(page)["note"] == failed.note
    assert chosen(page)["force_N"] == "no value"


def test_headings_sort_with_gaps_last(page, table):
    heading = page.find_all("#runs thead button")[place("couple_Nmm")]
    for ascending, word in ((True, "ascending"), (False, "descending")):
        page.run("arguments[0].focus()", heading)
        heading.send_keys(Keys.ENTER)
        assert (
            page.find("#runs th[aria-sort]:not([aria-sort=none])").get_attribute("aria-sort")
            == word
        )
        expected = completed(table).sort_values("couple_Nmm", ascending=ascending).head(200)
        shown = [as_number(line[place("couple_Nmm")]) for line in body(page, "runs")]
        assert shown == [digits(value) for value in expected.couple_Nmm]
    bound(page, "span_mm", "low", "30")
    gaps = [line[place("couple_Nmm")] == "–" for line in body(page, "runs")]
    assert gaps == sorted(gaps)
    assert any(gaps)


def download(page, button, name):
    file = page.driver.downloads / name
    file.unlink(missing_ok=True)
    page.find(button).click()
    page.wait("return true")
    for _ in range(200):
        if file.exists():
            break
        page.run("return new Promise((done) => setTimeout(done, 20))")
    return pd.read_csv(file, dtype={"run": str, "note": str})


def test_downloaded_files_equal_the_data(page, table):
    bound(page, "span_mm", "low", "15")
    shown = completed(table)
    shown = shown[shown.span_mm >= 15]
    for button, name, expected in (
        ("#download", "runs.csv", shown),
        ("#download-failed", "failed_runs.csv", table[table.note != ""]),
    ):
        found = download(page, button, name)
        expected = expected[[*COLUMNS, "note"]].reset_index(drop=True).replace({"note": {"": None}})
        pd.testing.assert_frame_equal(
            found.astype(object).where(found.notna(), None),
            expected.astype(object).where(expected.notna(), None),
            check_exact=True,
        )


def test_page_ends_with_what_to_be_careful_about(page):
    assert page.text(".caution p") == CAUTION
    assert page.run("""return document.querySelector('.caution').getBoundingClientRect().top
      >= document.querySelector('.failures').getBoundingClientRect().bottom""")


def test_texts_are_shown_as_they_are(page):
    assert page.text("h1") == TITLE
    choose_axes(page, x="alloy", y="force_N", colour="alloy")
    for part in (".legendtext", ".xtick text"):
        texts = page.run(
            "return [...document.querySelectorAll(arguments[0])].map((t) => t.textContent)", part
        )
        assert NASTY.replace(" ", "") in [text.replace(" ", "") for text in texts]
    assert page.run("return document.querySelectorAll('main b, main i, h1 *').length") == 0


def test_lines_in_view_are_there_at_once_and_the_rest_soon(many, many_file, browser_page):
    page = browser_page(many_file).open()
    slider = page.find(f"#low-slider-{place('activation_mm')}")
    filtering(page, lambda: slider.send_keys(Keys.ARROW_RIGHT))
    seen, region = page.run("""const region = document.querySelector('.runs .scroll');
      return [document.querySelector('#runs tbody').offsetHeight, region.clientHeight]""")
    assert seen >= region
    low = float(page.run("return arguments[0].value", page.find(f"#low-{place('activation_mm')}")))
    good = completed(many)
    expected = good[good.activation_mm >= low].sort_values("run").head(200)
    assert [line[0] for line in body(page, "runs")] == list(expected.run)
    bound(page, "span_mm", "low", "30")
    bound(page, "activation_mm", "high", "-1")
    page.run("window.dispatchEvent(new Event('beforeprint'))")
    printed = page.run("return document.querySelectorAll('#runs tbody tr').length")
    few = good[(good.span_mm >= 30) & good.activation_mm.between(low, -1)]
    assert printed == len(few) > 30
    page.run("return new Promise((done) => setTimeout(done, 500))")
    assert len(body(page, "runs")) == printed


def test_many_runs_answer_fast(many, many_file, browser_page, record_property):
    page = browser_page(many_file).open()
    loaded_ms = page.run("return performance.getEntriesByName('ready')[0].startTime")
    assert {kind for *_, kind in drawn(page).values()} == {"scattergl"}
    assert counts(page)[1] == len(completed(many))
    slider = page.find(f"#low-slider-{place('activation_mm')}")
    for _ in range(15):
        filtering(page, lambda: slider.send_keys(Keys.ARROW_RIGHT))
    took_ms = page.run(
        "return performance.getEntriesByName('filter').map((entry) => entry.duration)"
    )
    for name, value in (
        ("megabytes", many_file.stat().st_size / 1e6),
        ("loaded_ms", loaded_ms),
        ("filter_ms", np.median(took_ms)),
        ("slowest_filter_ms", max(took_ms)),
    ):
        record_property(name, f"{value:.1f}")
        print(f"{name}: {value:.1f}")
    low = float(page.run("return arguments[0].value", page.find(f"#low-{place('activation_mm')}")))
    assert counts(page)[1] == (completed(many).activation_mm >= low).sum() < len(completed(many))
    assert min(took_ms) < MOST_MS  # other work on the machine only adds
    assert loaded_ms < 20_000
    assert page.messages() == []


def test_many_runs_without_webgl_are_drawn_and_said(many_file, browser_page, driver):
    block = "HTMLCanvasElement.prototype.getContext = () => null"
    added = driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": block})
    try:
        page = browser_page(many_file).open()
        assert {kind for *_, kind in drawn(page).values()} == {"scatter"}
        assert "lacks WebGL" in page.text("#chart-note")
    finally:
        driver.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", added)


def test_study_in_which_every_run_failed_opens(table, tmp_path, browser_page):
    lost = table[FACTORS].assign(
        run=table.run, note="no mesh", time_s=1.0, **dict.fromkeys(RESPONSES, np.nan)
    )
    page = browser_page(written(lost, tmp_path)).open()
    assert counts(page) == (len(lost), 0, 0, len(lost))
    listed = len(body(page, "failures"))
    page.find("#more-failed").click()
    assert (listed, len(body(page, "failures"))) == (200, 400)
    assert page.messages() == []
