"""What axe-core and the Tab key say of a page.

axe-core's rules are those of WCAG 2.2, levels A and AA, and its own of good practice.
"""

import time
from importlib.resources import files

from selenium.webdriver.common.keys import Keys

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
RUN = """
const done = arguments[arguments.length - 1];
const options = {rules: {"target-size": {enabled: true}}};
axe.run(document, options).then(done, (error) => done(String(error)));
"""
BARRIERS = ("serious", "critical")
OF_COLOUR = ("color-contrast", "link-in-text-block")


def findings(page):
    """All that axe finds wrong: (impact, rule, element, what to do)."""
    page.run(AXE)
    page.driver.set_script_timeout(180)  # a page that draws in space without a graphics card
    found = page.driver.execute_async_script(RUN)
    assert not isinstance(found, str), found
    assert found["passes"], "no rule was applied"
    return [
        (result["impact"], result["id"], node["html"][:160], node["failureSummary"])
        for result in found["violations"]
        for node in result["nodes"]
    ]


def barriers(page):
    """What keeps someone out: serious and critical findings, and all of contrast."""
    return [f for f in findings(page) if f[0] in BARRIERS or f[1] in OF_COLOUR]


# A disabled control, one in a closed panel and all but one of several that arrow keys move between
# take no focus, and need not. What scrolls takes it if nothing inside does.
CONTROLS = """
const kinds = 'a[href], button, input, select, textarea, summary, [tabindex], [contenteditable]';
const stops = (e) => e.matches(kinds) && e.tabIndex >= 0 && !e.disabled && e.checkVisibility();
const scrolls = (e) => /auto|scroll/.test(getComputedStyle(e).overflow)
  && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1)
  && ![...e.querySelectorAll(kinds)].some(stops);
const passed = (e) => e.type === 'radio' && !e.checked
  && document.querySelector(`input[type=radio][name="${e.name}"]:checked`);
window.controls = [...document.querySelectorAll('body *')]
  .filter((e) => (stops(e) && !passed(e)) || (e.checkVisibility() && scrolls(e)));
return window.controls.map((e) => e.outerHTML.slice(0, 120));
"""
# An outline, or any change of border, ground or shadow against the same element without focus.
MARKED = """
const e = document.activeElement;
const look = () => {
  const s = getComputedStyle(e);
  const outline = s.outlineStyle === 'none' || parseFloat(s.outlineWidth) === 0 ? 'none'
    : [s.outlineStyle, s.outlineWidth, s.outlineColor].join(' ');
  return [outline, s.borderColor, s.backgroundColor, s.boxShadow].join('; ');
};
const seen = look();
e.blur();
const marked = seen !== look();
e.focus({focusVisible: true, preventScroll: true});
return marked;
"""
IN_VIEW = """
const box = document.activeElement.getBoundingClientRect();
return box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth;
"""


def _in_view(page):
    """Whether the focused element is in view once scrolling has ended."""
    for _ in range(40):
        if page.run(IN_VIEW):
            return True
        time.sleep(0.05)
    return False


def tab_stops(page):
    """Press Tab through the page.

    Returns
    -------
    controls
        Markup of everything that can be worked or scrolled, in the order of the page.
    stops
        Where each press led: place in `controls` (-1 elsewhere), whether focus shows, whether the
        element is in view.
    """
    controls = page.run(CONTROLS)
    page.run("document.activeElement.blur(); window.scrollTo(0, 0)")
    stops = []
    for _ in controls:
        page.driver.switch_to.active_element.send_keys(Keys.TAB)
        place = page.run("return window.controls.indexOf(document.activeElement)")
        in_view = _in_view(page)
        stops.append((place, page.run(MARKED), in_view))
    return controls, stops
