"""Runs to explore, and what a reader does with a page of them."""

import re

import numpy as np
import pandas as pd
from selenium.webdriver.support.select import Select

from workflow.explorer import explorer_html

FACTORS = ["span_mm", "height_mm", "activation_mm", "alloy"]
RESPONSES = ["force_N", "couple_Nmm", "verdict"]
COLUMNS = ["run", *FACTORS, *RESPONSES, "time_s"]
WORDS = {"force_N": "force on the one-point unit"}
NASTY = "</script><b>\"nickel\" & 'titanium'</b>"
TITLE = f"Wires of {NASTY}"
ALLOYS = [NASTY, "stainless steel", "titanium molybdenum"]
REASONS = ["no equilibrium at step 7: residual <3e-3 N>", "the arch, as drawn, is too short"]
MOST_MS = 200


def runs(count):
    """Runs with all that is awkward: few and many values, gaps, infinities, failures."""
    rng = np.random.default_rng(20240229)
    table = pd.DataFrame(
        {
            "run": [f"{i * 2654435761 % 2**40:010x}" for i in range(count)],
            "span_mm": rng.choice(np.arange(10, 31, 2.5), count),
            "height_mm": rng.choice([0.406, 0.457, 0.1 + 0.2], count),
            "activation_mm": rng.uniform(-2, 12, count),
            "alloy": rng.choice([*ALLOYS, None], count, p=[0.3, 0.3, 0.35, 0.05]),
        }
    )
    table["force_N"] = 1e3 * table.activation_mm / table.span_mm**3
    table["couple_Nmm"] = (table.force_N * table.span_mm).where(rng.random(count) > 0.03)
    table["verdict"] = np.where(table.force_N > 1, "strong", "gentle")
    table["time_s"] = rng.uniform(0.1, 1, count)
    table.loc[5, "couple_Nmm"] = np.inf
    lost = rng.random(count) < 0.04
    table.loc[lost, RESPONSES] = np.nan
    table["note"] = np.where(lost, rng.choice(REASONS, count), "")
    return table


def written(table, folder):
    path = folder / "explorer.html"
    path.write_text(explorer_html(table, FACTORS, RESPONSES, TITLE, WORDS), encoding="utf-8")
    return path


def completed(table):
    return table[table.note == ""]


def place(column):
    return COLUMNS.index(column)


def filtering(page, action):
    """Do something that filters, and wait until it is drawn."""
    before = page.count("filter")
    action()
    page.wait("return performance.getEntriesByName('filter').length > arguments[0]", before)


def bound(page, column, side, value):
    field = page.find(f"#{side}-{place(column)}")
    page.run("arguments[0].closest('details').open = true", field)
    filtering(page, lambda: field.send_keys(value))
    # Each digit filters; the last one has when a frame after it was drawn.
    frames = "requestAnimationFrame(() => requestAnimationFrame(() => done(true)))"
    page.run(f"return new Promise((done) => {frames})")


def toggle(page, column, text):
    """Click the level of a column that reads so."""
    for level in page.find_all(f"input[type=checkbox][data-column='{place(column)}']"):
        page.run("arguments[0].closest('details').open = true", level)
        if page.run("return arguments[0].parentElement.textContent", level) == text:
            filtering(page, level.click)
            return
    raise AssertionError(f"no level of {column} reads {text}")


def counts(page):
    """Runs, shown, completed and failed, as the page says."""
    text = page.text("#counts").replace(",", "")
    return tuple(
        map(int, re.match(r"(\d+) runs: (\d+) shown of (\d+) completed (\d+) f", text).groups())
    )


def drawing(page, action):
    """Do something that draws the chart anew, and wait for it."""
    before = page.count("drawn")
    action()
    page.wait("return performance.getEntriesByName('drawn').length > arguments[0]", before)


def choose_axes(page, **choices):
    for control, column in choices.items():
        value = "" if column is None else str(place(column))
        select = Select(page.find(f"#{control}"))
        if select.first_selected_option.get_attribute("value") != value:
            drawing(page, lambda s=select, v=value: s.select_by_value(v))


def open_filters(page):
    page.run("document.querySelectorAll('details').forEach((panel) => { panel.open = true; })")


def drawn(page):
    """All points of the chart, by row: (x, y, name of the trace)."""
    script = """return document.querySelector('#chart').data.flatMap((trace) =>
      trace.customdata.map((row, i) => [row, trace.x[i], trace.y[i], trace.name, trace.type]))"""
    return {row: (x, y, name, kind) for row, x, y, name, kind in page.run(script)}


def body(page, table_id):
    """Cells of a table that is listed to its end."""
    page.wait("return document.getElementById(arguments[0]).ariaBusy !== 'true'", table_id)
    script = """return [...document.querySelectorAll(`#${arguments[0]} tbody tr`)].map(
      (line) => [...line.cells].map((cell) => cell.textContent))"""
    return page.run(script, table_id)


def digits(value):
    return "–" if pd.isna(value) else float(f"{value:.5g}") if np.isfinite(value) else value


def as_number(text):
    return text if text == "–" else float(text)


def chosen(page):
    script = """return Object.fromEntries([...document.querySelectorAll('#chosen dd')].map(
      (value) => [value.dataset.name, value.textContent]))"""
    return page.run(script)
