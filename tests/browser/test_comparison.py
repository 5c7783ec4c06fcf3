"""The page of a comparison as a reader meets it: opened from disk, network off."""

import base64
import re

import pytest

from tests.browser.accessibility import barriers, tab_stops
from tests.comparison_example import NASTY, QUESTION, compared_cases, many_cases
from workflow.comparison_page import comparison_html


def _written(folder, cases):
    path = folder / "comparison.html"
    path.write_text(comparison_html("hooks", QUESTION, cases), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def two(tmp_path_factory):
    return _written(tmp_path_factory.mktemp("two"), compared_cases())


@pytest.fixture(scope="module")
def six(tmp_path_factory):
    return _written(tmp_path_factory.mktemp("six"), many_cases(6))


@pytest.fixture
def page(two, browser_page):
    return browser_page(two).open()


def shown(page):
    """Text of the first panel's numbers as it is seen."""
    return page.find(".panel dl").text.replace("\u00a0", " ")


def emulate(page, media="", features=()):
    parameters = {"media": media, "features": list(features)}
    page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", parameters)


def choose(page, units):
    page.find(f"#units input[value={units}]").click()
    page.wait("return document.querySelector(`#units input[value=${arguments[0]}]`).checked", units)


def test_opens_without_network_or_complaint(page):
    assert page.driver.title == QUESTION
    assert page.text("h1") == QUESTION
    widths = page.run("return [...document.images].map((i) => i.complete && i.naturalWidth > 0)")
    assert widths == [True] * 12
    for units in ("si", "gf", "both"):
        choose(page, units)
    assert page.requests() == []
    assert page.messages() == []


def test_nothing_of_a_label_becomes_markup(page):
    assert page.text("#panel-2") == NASTY
    assert page.find_all("#panel-2 b, main script, main i") == []


def test_the_answer_and_the_first_panels_are_seen_without_scrolling(page):
    top = "return document.querySelector(arguments[0]).getBoundingClientRect().top"
    assert page.run(top, ".headlines") < 300
    assert page.run(top, ".panel img") < 900


def test_units_switch_to_newton_to_gram_force_and_back(page):
    assert "0.600 N (61.2 gf)" in shown(page)
    choose(page, "si")
    assert "0.600 N\n" in shown(page)
    assert "gf" not in shown(page)
    choose(page, "gf")
    assert "61.2 gf\n" in shown(page)
    assert not re.search(r"\d N\b", shown(page))
    choose(page, "both")
    assert "12.0 N·mm (1224 gf·mm)" in shown(page)


def test_panels_have_one_size_so_that_arrows_can_be_held_against_each_other(six, browser_page):
    page = browser_page(six).open(1920, 1080)
    sizes = page.run("""return [...document.querySelectorAll('.panel img')].map(
      (i) => [i.getBoundingClientRect().width, i.getBoundingClientRect().height])""")
    assert len(sizes) == 6
    assert all(size == pytest.approx(sizes[0], abs=0.5) for size in sizes)


@pytest.mark.parametrize("width", [390, 768, 1280, 1920])
@pytest.mark.parametrize("name", ["two", "six"])
def test_no_width_overflows(request, browser_page, name, width):
    page = browser_page(request.getfixturevalue(name)).open(width, 900)
    script = """const wide = document.documentElement.clientWidth;
      return [document.documentElement.scrollWidth - wide,
        [...document.querySelectorAll('body *')]
          .filter((e) => !e.closest('.scroll table, .side ol, .skip'))
          .filter((e) => e.getBoundingClientRect().right > wide + 0.5)
          .map((e) => e.outerHTML.slice(0, 80))]"""
    assert page.run(script) == [0, []]


@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_keeps_a_reader_out(two, browser_page, width):
    """WCAG 2.2, levels A and AA, as far as the rules of axe-core tell."""
    assert barriers(browser_page(two).open(width, 900)) == []


@pytest.mark.parametrize("width", [390, 1280])
def test_tab_reaches_every_control_and_focus_shows(two, browser_page, width):
    page = browser_page(two)
    emulate(page, features=[{"name": "prefers-reduced-motion", "value": "reduce"}])
    controls, stops = tab_stops(page.open(width, 900))
    emulate(page)
    # The strip of contents scrolls to its links as they take focus, and takes none itself.
    wanted = [place for place, markup in enumerate(controls) if not markup.startswith("<ol")]
    stops = stops[: len(wanted)]
    assert [place for place, _, _ in stops] == wanted
    assert [controls[place] for place, marked, _ in stops if not marked] == []
    assert [controls[place] for place, _, inside in stops if not inside] == []


PRINTED = """
const wide = arguments[0];
return [...document.querySelectorAll('main *')]
  .filter((e) => e.getBoundingClientRect().right > wide + 0.5)
  .map((e) => e.outerHTML.slice(0, 90));
"""
A4_LANDSCAPE_PX = (297 - 24) / 25.4 * 96


@pytest.mark.parametrize("name", ["two", "six"])
def test_prints_on_a4_with_both_units_and_nothing_cut_off(request, browser_page, name):
    page = browser_page(request.getfixturevalue(name)).open(round(A4_LANDSCAPE_PX), 700)
    choose(page, "si")
    emulate(page, "print")
    try:
        assert page.run(PRINTED, A4_LANDSCAPE_PX) == []
        assert "0.600 N (61.2 gf)" in shown(page)
        assert not page.find(".side").is_displayed()
    finally:
        emulate(page)
    printed = page.driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    sizes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", base64.b64decode(printed["data"]))
    assert sizes
    assert all([float(v) for v in s] == pytest.approx([841.9, 595.3], abs=1) for s in sizes)
