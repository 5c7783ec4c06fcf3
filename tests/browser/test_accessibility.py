"""Every page that the project writes, for those who see little, use no mouse or hear pages read."""

import pytest

from tests.browser import pages
from tests.browser.accessibility import barriers, tab_stops
from tests.browser.explorer import open_filters

PAINTED = "first-contentful-paint"
WIDTHS = (390, 1280)
SMALL = ("explorer", "comparison", "choice", "simplified", "verification", "reproduction")


@pytest.fixture(scope="session")
def files(tmp_path_factory):
    return {name: getattr(pages, name)(tmp_path_factory.mktemp(name)) for name in SMALL}


@pytest.fixture
def opened(request, files, browser_page):
    """Open one of the pages with a width; the sheet only where it is asked for."""

    def opened(name, width):
        if name == "sheet":
            path = request.getfixturevalue("finished").results / "sheet.html"
        else:
            path = files[name]
        page = browser_page(path).open(width, 900, ready=PAINTED)
        if name == "explorer":
            open_filters(page)
        return page

    return opened


EVERY = pytest.mark.parametrize("name", ["sheet", *SMALL])
BOTH = pytest.mark.parametrize("width", WIDTHS)


@EVERY
@BOTH
def test_nothing_keeps_a_reader_out(opened, name, width):
    """WCAG 2.2, levels A and AA, as far as the rules of axe-core tell."""
    assert barriers(opened(name, width)) == []


@EVERY
@BOTH
def test_tab_reaches_every_control_in_the_order_of_the_page_and_focus_shows(opened, name, width):
    """Success criteria 2.1.1, 2.4.3, 2.4.7 and 2.4.11 of WCAG 2.2."""
    controls, stops = tab_stops(opened(name, width))
    assert [place for place, _, _ in stops] == list(range(len(controls)))
    assert [controls[place] for place, marked, _ in stops if not marked] == []
    assert [controls[place] for place, _, inside in stops if not inside] == []


FAULTS = {
    "color-contrast": "<p style='color: #999; background: #fff'>Hardly to be read.</p>",
    "image-alt": "<img src='data:image/gif;base64,R0lGODlhAQABAAAAACw='>",
    "label": "<input type='text'>",
    "scrollable-region-focusable": (
        "<div style='overflow: auto; height: 2rem; width: 9rem'><p style='height: 9rem'>x</p></div>"
    ),
}


@pytest.mark.parametrize("rule", FAULTS)
def test_a_planted_fault_is_found(opened, rule):
    page = opened("choice", 1280)
    page.run(
        "document.querySelector('main').insertAdjacentHTML('beforeend', arguments[0])", FAULTS[rule]
    )
    assert {found[1] for found in barriers(page)} == {rule}


def test_a_control_out_of_order_or_without_a_mark_is_found(opened):
    page = opened("simplified", 1280)
    page.run("""
      const links = document.querySelectorAll('main a');
      links[1].style.outline = 'none';
      links[links.length - 1].tabIndex = 1;""")
    controls, stops = tab_stops(page)
    assert stops[0][0] == len(controls) - 1
    second = page.run("return window.controls.indexOf(document.querySelectorAll('main a')[1])")
    assert [place for place, marked, _ in stops if not marked] == [second]
