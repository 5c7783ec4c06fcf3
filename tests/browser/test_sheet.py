"""The sheet of a case as an orthodontist meets it: opened from disk, network off, and on paper."""

import base64
import re
import statistics

import pytest
from selenium.webdriver.common.keys import Keys

from tests.browser.accessibility import barriers
from tests.sheet_numbers import numbers

GF_PER_N = 1 / 9.80665e-3  # standard gravity, exact by definition
MOST_MB, MOST_MS = 15, 10_000
A4_MM, MARGIN_MM = (210, 297), 15
PX_PER_MM = 96 / 25.4
WIDTHS = (390, 1280, 1920)
PAIRS = """return [...document.querySelectorAll('.si')].map((half) => [
  half.textContent, half.nextElementSibling.nextElementSibling.textContent])"""
# Text that can be read: of elements that take up room, not of scripts; figures show both units.
READ = "return document.body.innerText"
IN_NEWTON = re.compile(r"\d\s?(N·mm|N/mm|N|kPa)(?![\w/])")
IN_GRAM_FORCE = re.compile(r"\d\s?gf")
# Quoted from a publication, in its unit.
QUOTED = ("4 to 13 kPa",)


@pytest.fixture(scope="session")
def sheet_file(finished):
    return finished.results / "sheet.html"


@pytest.fixture
def sheet(sheet_file, browser_page):
    return browser_page(sheet_file).open(1280, 800)


def choose(page, units):
    page.find(f"#units input[value='{units}']").click()


def box(page, element):
    return page.run(
        """const b = arguments[0].getBoundingClientRect();
        return [b.left, b.top, b.right, b.bottom]""",
        element,
    )


def scroll_to(page, selector):
    page.run("document.querySelector(arguments[0]).scrollIntoView({behavior: 'instant'})", selector)


def drawn(page, scene):
    """Bring a scene near and wait until it has drawn something."""
    scroll_to(page, f"#{scene}-scene")
    page.wait("return !!document.querySelector(arguments[0])", f"#{scene}-canvas canvas")


def test_opens_from_disk_without_network_or_complaint(sheet):
    for scene in ("appliance", "ligament"):
        drawn(sheet, scene)
    for units in ("si", "gf", "both"):
        choose(sheet, units)
    assert sheet.requests() == []
    log = sheet.driver.get_log("browser")
    assert [entry["message"] for entry in log if entry["level"] == "SEVERE"] == []


def test_is_light_and_soon_ready(sheet_file, browser_page, record_property):
    assert sheet_file.stat().st_size < MOST_MB * 1e6
    times = []
    for _ in range(3):
        page = browser_page(sheet_file).open(1280, 800)
        times.append(page.run("return performance.getEntriesByName('ready')[0].startTime"))
    record_property("ready_ms", statistics.median(times))
    assert statistics.median(times) < MOST_MS


def test_the_first_screen_holds_the_answer_the_five_numbers_and_the_drawing(sheet):
    shown = [sheet.find("h1"), *sheet.find_all(".first dd"), sheet.find(".first img")]
    assert len(shown) == 1 + 5 + 1
    shown += [*sheet.find_all("p.answer"), sheet.find("a[href='#caution']")]
    for element in shown:
        left, top, right, bottom = box(sheet, element)
        assert 0 <= left < right <= 1280, element.text
        assert 0 <= top < bottom <= 800, element.text
    drawing = box(sheet, sheet.find(".first img"))
    numbers_at = box(sheet, sheet.find(".first .numbers"))
    assert drawing[0] >= numbers_at[2]  # beside, not below
    assert drawing[2] - drawing[0] > 400


def test_both_halves_of_every_amount_agree(sheet):
    pairs = sheet.run(PAIRS)
    assert len(pairs) > 100
    for si, gf in pairs:
        (in_newton,), (in_gram_force,) = numbers(si), numbers(gf)
        factor = GF_PER_N / 10 if in_newton.unit == "kPa" else GF_PER_N
        off = abs(in_gram_force.value - factor * in_newton.value)
        assert off <= 1.001 * (factor * in_newton.half_step + in_gram_force.half_step), (si, gf)


@pytest.mark.parametrize(
    ("units", "gone", "there"),
    [("si", IN_GRAM_FORCE, IN_NEWTON), ("gf", IN_NEWTON, IN_GRAM_FORCE)],
)
def test_one_unit_is_shown_everywhere_and_the_other_nowhere(sheet, units, gone, there):
    choose(sheet, units)
    text = sheet.run(READ)
    for quoted in QUOTED:
        text = text.replace(quoted, "")
    found = [text[max(0, m.start() - 60) : m.end() + 20] for m in gone.finditer(text)]
    assert found == []
    assert len(there.findall(text)) > 100
    choose(sheet, "both")
    text = sheet.run(READ)
    assert min(len(unit.findall(text)) for unit in (IN_NEWTON, IN_GRAM_FORCE)) > 100


def test_scenes_follow_the_units(sheet):
    drawn(sheet, "appliance")
    heard = """window.heard = [];
      document.addEventListener('units', (event) => window.heard.push(event.detail))"""
    sheet.run(heard)
    for units in ("si", "gf", "both"):
        choose(sheet, units)
    assert sheet.run("return window.heard") == ["si", "gf", "both"]


def test_the_slider_moves_the_teeth(sheet):
    drawn(sheet, "appliance")
    script = """const slider = document.querySelector('#appliance-movement');
      slider.value = slider.max;
      slider.dispatchEvent(new Event('input', {bubbles: true}));"""
    before = sheet.text("#appliance-factor")
    sheet.run(script)
    sheet.wait(
        "return document.querySelector('#appliance-factor').textContent !== arguments[0]", before
    )


def test_keyboard_reaches_the_answer_first_and_focus_shows(sheet):
    sheet.find("body").send_keys(Keys.TAB)
    link = sheet.driver.switch_to.active_element
    assert link.get_attribute("href").endswith("#content")
    assert box(sheet, link)[0] >= 0
    assert sheet.run("return getComputedStyle(arguments[0]).outlineStyle", link) == "solid"


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_runs_out_of_the_screen(sheet_file, browser_page, width):
    page = browser_page(sheet_file).open(width, 800)
    assert page.run("return document.documentElement.scrollWidth") <= width
    script = """return [...document.querySelectorAll('main *')].filter((e) => {
      const b = e.getBoundingClientRect();
      return b.width && b.right > innerWidth + 1 && !e.closest('.scroll');
    }).map((e) => e.outerHTML.slice(0, 120))"""
    assert page.run(script) == []


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_keeps_a_reader_out(sheet_file, browser_page, width):
    """WCAG 2.1 AA as far as axe-core's rules tell."""
    assert barriers(browser_page(sheet_file).open(width, 800)) == []


def test_a_reader_who_wants_no_motion_gets_none(sheet):
    features = {"features": [{"name": "prefers-reduced-motion", "value": "reduce"}]}
    script = "return getComputedStyle(document.documentElement).scrollBehavior"
    assert sheet.run(script) == "smooth"
    sheet.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", features)
    try:
        assert sheet.run(script) == "auto"
    finally:
        sheet.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


def test_without_scripts_both_units_and_the_still_figures_are_there(sheet_file, browser_page):
    page = browser_page(sheet_file)
    page.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        page.driver.get(sheet_file.as_uri())
        assert not page.find("#units").is_displayed()
        assert page.find("#figure-appliance_3d img").is_displayed()
        assert page.find("#figure-ligament_stress img").is_displayed()
        for half in (".first .si", ".first .gf"):
            assert all(e.is_displayed() for e in page.find_all(half))
    finally:
        page.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


# On paper


@pytest.fixture
def paper(sheet):
    """The page laid out for A4 in CSS pixels, after a reader chose one unit."""
    drawn(sheet, "appliance")
    choose(sheet, "gf")
    wide = round((A4_MM[0] - 2 * MARGIN_MM) * PX_PER_MM)
    size = {"width": wide, "height": 1000, "deviceScaleFactor": 1, "mobile": False}
    sheet.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    sheet.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    yield sheet
    sheet.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_no_figure_is_cut_on_paper(paper):
    """A figure that may not be broken and is no higher than a page is moved to the next whole."""
    script = """return [...document.querySelectorAll('figure')].map((figure) => [
      figure.id, figure.getBoundingClientRect().height, figure.scrollWidth,
      getComputedStyle(figure).breakInside,
      [...figure.querySelectorAll('img')].every((i) => i.complete && i.naturalWidth > 0)])"""
    figures = {name: rest for name, *rest in paper.run(script)}
    assert {"figure-appliance_3d", "figure-ligament_stress", "figure-free_body"} <= figures.keys()
    high, wide = ((size - 2 * MARGIN_MM) * PX_PER_MM for size in reversed(A4_MM))
    for name, (height, width, rule, loaded) in figures.items():
        assert 50 < height <= high, name
        assert width <= wide + 1, name
        assert rule == "avoid", name
        assert loaded, name


def test_paper_has_both_units_and_nothing_to_press(paper):
    for half in (".first .si", ".first .gf"):
        assert all(e.is_displayed() for e in paper.find_all(half))
    for away in (".side", ".skip", ".scene-live"):
        assert not any(e.is_displayed() for e in paper.find_all(away)), away
    assert paper.find("#figure-appliance_3d img").is_displayed()


def test_prints_to_a_few_pages_of_a4_with_the_answer_on_the_first(paper):
    printed = paper.driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    pdf = base64.b64decode(printed["data"])
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", pdf)
    assert 5 <= len(boxes) <= 20
    for size in boxes:
        for points, mm in zip(size, A4_MM, strict=True):
            assert float(points) == pytest.approx(mm * 72 / 25.4, abs=1)
    high = (A4_MM[1] - 2 * MARGIN_MM) * PX_PER_MM
    assert box(paper, paper.find(".first"))[3] + paper.run("return scrollY") <= high


def test_the_rule_prints_the_sheet(finished):
    target = f"results/cases/{finished.results.name}/sheet.pdf"
    assert finished.planned() == {}  # not part of the default run
    finished.snakemake(target)
    pdf = (finished.folder / target).read_bytes()
    assert pdf.startswith(b"%PDF")
    assert len(re.findall(rb"/MediaBox", pdf)) >= 5
