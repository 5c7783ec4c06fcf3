"""What the tests of the scenes do and read on a page."""

import io

import numpy as np
from matplotlib.image import imread

# The chart library reads its texts back from a canvas; the browser knows a faster way.
SPEED_TALK = "willReadFrequently"


def draw(page, scene):
    page.run("document.getElementById(arguments[0]).scrollIntoView()", f"{scene}-canvas")
    page.wait("return performance.getEntriesByName(arguments[0]).length", f"scene-{scene}-drawn")


def drawing(page, act, scenes=1):
    """Act and wait until what it changes has been painted."""
    before = page.count("scene-drawn")
    act()
    script = "return performance.getEntriesByName('scene-drawn').length >= arguments[0]"
    page.wait(script, before + scenes)


def complaints(page):
    return [text for text in page.messages() if SPEED_TALK not in text]


def picture(page, scene):
    """Pixels of the canvas as they are on the screen, (rows, columns, 3)."""
    pixels = page.find(f"#{scene}-canvas").screenshot_as_png
    return (255 * imread(io.BytesIO(pixels))[..., :3]).astype(int)


def share_of(pixels, colour, within=40):
    return float((np.abs(pixels - np.array(colour)).max(axis=2) < within).mean())


def camera(page, scene):
    script = """const { scene } = document.getElementById(arguments[0])._fullLayout;
      const { eye, center, up } = scene._scene.getCamera();
      return [eye, center, up].map(({ x, y, z }) => [x, y, z])"""
    eye, centre, up = np.array(page.run(script, f"{scene}-canvas"))
    return (eye - centre) / np.linalg.norm(eye - centre), up


def traces(page, scene, *keys):
    """Some keys of all bodies; numbers as lists."""
    script = """const { _fullData } = document.getElementById(arguments[0]);
      const plain = (value) => (ArrayBuffer.isView(value) ? [...value] : value);
      return _fullData.map((trace) => arguments[1].map((key) => plain(trace[key])))"""
    return page.run(script, f"{scene}-canvas", keys)


def labels(page):
    script = """const texts = document.querySelectorAll('#appliance-canvas .annotation-text');
      const lines = (text) => [...text.querySelectorAll('tspan.line')].map((e) => e.textContent);
      return [...texts].map((text) => lines(text).join(' ') || text.textContent)"""
    return page.run(script)


def texts(page, selector):
    script = "return [...document.querySelectorAll(arguments[0])].map((e) => e.textContent)"
    return page.run(script, selector)


def zoomed(page):
    script = "return document.getElementById('appliance-canvas')._fullLayout.scene.aspectratio.x"
    return page.run(script)


def angle_deg(before, after):
    return np.degrees(np.arccos(np.clip(before @ after, -1, 1)))


def changed(before, after):
    """Share of the pixels that look otherwise."""
    return float((np.abs(after - before).max(axis=2) > 30).mean())


def set_slider(page, value):
    script = """const slider = document.getElementById('appliance-movement');
      slider.value = arguments[0]; slider.dispatchEvent(new Event('input'))"""
    drawing(page, lambda: page.run(script, value))
