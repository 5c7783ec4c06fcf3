"""The explorer for everyone: narrow and wide screens, keyboard, screen reader, weak sight."""

from itertools import pairwise

import pytest
from selenium.webdriver.common.keys import Keys

from tests.browser.explorer import (
    NASTY,
    WORDS,
    open_filters,
)
from workflow.columns import column_text


@pytest.mark.parametrize("size", [(390, 844), (768, 1024), (1280, 800), (1920, 1080)])
def test_no_width_overflows(page, size):
    page.open(*size)
    page.find("#runs tbody button").click()
    open_filters(page)
    script = """const wide = document.documentElement.clientWidth;
      return [document.documentElement.scrollWidth - wide,
        [...document.querySelectorAll('body *')]
          .filter((e) => !e.closest('.scroll table, svg, .gl-container'))
          .filter((e) => e.getBoundingClientRect().right > wide + 0.5)
          .map((e) => e.outerHTML.slice(0, 80))]"""
    assert page.run(script) == [0, []]
    cut_off = """return [...document.querySelectorAll('.scroll')].filter((region) => {
      region.scrollLeft = 1e6;
      return region.scrollLeft + region.clientWidth < region.firstElementChild.offsetWidth - 1;
    }).map((region) => region.ariaLabel)"""
    assert page.run(cut_off) == []


def test_keyboard_reaches_every_control(page):
    open_filters(page)
    wanted = page.run("""
      const kinds = 'a[href], button, input, select, summary, [tabindex]';
      window.controls = [...document.querySelectorAll(kinds)]
        .filter((e) => e.tabIndex >= 0 && !e.disabled && e.checkVisibility());
      return window.controls.map((e) => e.id || e.getAttribute('aria-label') || e.textContent)""")
    reached, hidden = set(), set()
    page.run("document.activeElement.blur()")
    steps = len(wanted) + 2
    for key in [Keys.TAB] * steps + [Keys.SHIFT + Keys.TAB] * steps:
        page.driver.switch_to.active_element.send_keys(key)
        reached.add(page.run("return window.controls.indexOf(document.activeElement)"))
        if page.run("""return document.activeElement.getBoundingClientRect().top
          < document.querySelector('header').getBoundingClientRect().bottom - 1"""):
            hidden.add(page.run("return document.activeElement.outerHTML.slice(0, 80)"))
    assert [name for i, name in enumerate(wanted) if i not in reached] == []
    assert {element for element in hidden if not element.startswith("<body")} == set()
    mouse_only = page.run("""return [...document.querySelectorAll('main button')].filter(
      (b) => b.tabIndex < 0 && !b.closest('tbody')).map((b) => b.outerHTML.slice(0, 80))""")
    assert mouse_only == []


def test_controls_have_names_and_headings_are_in_order(page):
    open_filters(page)
    nodes = page.driver.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    roles = {
        "button",
        "checkbox",
        "combobox",
        "slider",
        "spinbutton",
        "region",
        "DisclosureTriangle",
    }
    controls = [n for n in nodes if not n["ignored"] and n["role"]["value"] in roles]
    assert [n["role"]["value"] for n in controls if not n["name"]["value"].strip()] == []
    names = {n["name"]["value"] for n in controls}
    assert {
        f"{column_text('span_mm', WORDS)}, at least",
        "Horizontal",
        "Reset all filters",
        NASTY,
    } <= names
    levels = page.run(
        "return [...document.querySelectorAll('h1, h2, h3, h4')].map((h) => Number(h.tagName[1]))"
    )
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


CONTRAST = """
const linear = (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
const light = (rgb) => [0.2126, 0.7152, 0.0722]
  .reduce((sum, share, i) => sum + share * linear(rgb[i] / 255), 0);
const ratio = (a, b) => {
  const [dark, bright] = [light(a), light(b)].sort((p, q) => p - q);
  return (bright + 0.05) / (dark + 0.05);
};
const parse = (colour) => colour.match(/[\\d.]+/g).map(Number);
const ground = (e) => {
  const colour = parse(getComputedStyle(e).backgroundColor);
  if (colour.length === 3 || colour[3] === 1) return colour;
  return e.parentElement ? ground(e.parentElement) : [255, 255, 255];
};
const ink = (e, part) => {
  const style = getComputedStyle(e, part);
  return parse(e.closest('svg') ? style.fill : style.color);
};
const hasText = (e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
const texts = [...document.querySelectorAll('body *')]
  .filter((e) => e.checkVisibility() && !e.disabled && hasText(e));
const fields = [...document.querySelectorAll('input[type=number]')];
return [...texts.map((e) => [ratio(ink(e), ground(e)), e.outerHTML.slice(0, 90)]),
  ...fields.map((e) => [ratio(ink(e, '::placeholder'), ground(e)), e.outerHTML.slice(0, 90)])];
"""


def test_texts_stand_out_from_their_ground(page):
    """At least 4.5 to 1, success criterion 1.4.3 of WCAG 2.2."""
    open_filters(page)
    page.find("#failures tbody button").click()
    ratios = page.run(CONTRAST)
    assert len(ratios) > 100
    assert [text for ratio, text in ratios if ratio < 4.5] == []
