"""The page of a sheet: nothing from outside, everything escaped, open to all readers."""

import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from tests.sheet_example import FIGURES, WARNING, Page, example_figures, example_records
from workflow.cautions import CAUTION
from workflow.sheet import sheet_html
from workflow.sheet_records import SheetRecords


@pytest.fixture
def records() -> SheetRecords:
    return example_records()


@pytest.fixture
def figures(tmp_path: Path) -> dict[str, str]:
    return example_figures(tmp_path)


def test_the_page_needs_nothing_from_outside(
    records: SheetRecords, figures: dict[str, str]
) -> None:
    html = sheet_html(records, figures)
    page = Page(html)
    for tag, attributes in page.tags:
        assert tag not in {"iframe", "object", "base"}
        for name in ("src", "href", "srcset", "action"):
            value = attributes.get(name)
            assert value is None or value.startswith(("data:", "#")), (tag, value)
    styles = re.sub(r"<script.*?</script>", "", html, flags=re.S)
    assert not re.search(r"url\(|@import", styles)
    policy = next(a["content"] for _, a in page.tags if "http-equiv" in a)
    assert policy is not None
    assert policy.startswith("default-src 'none'; script-src 'unsafe-inline'")
    pictures = [attributes for tag, attributes in page.tags if tag == "img"]
    assert len(pictures) == len(FIGURES)
    (printed,) = [attributes for tag, attributes in page.tags if "download" in attributes]
    assert (printed["href"] or "").startswith("data:application/pdf;base64,")


def test_the_page_is_accessible(records: SheetRecords, figures: dict[str, str]) -> None:
    page = Page(sheet_html(records, figures))
    tags = [tag for tag, _ in page.tags]
    assert ("html", {"lang": "en"}) in page.tags
    levels = [int(tag[1]) for tag in tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert tags.count("table") == tags.count("caption") == 11
    assert all(a.get("scope") in {"col", "row"} for tag, a in page.tags if tag == "th")
    for tag, attributes in page.tags:
        if tag == "img":
            assert re.search(r"\d", attributes["alt"] or "")


def relative_luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return float(np.dot(linear, [0.2126, 0.7152, 0.0722]))


def test_text_colours_stand_out() -> None:
    """WCAG 2.1, success criterion 1.4.3: contrast of text at least 4.5 to 1."""
    folder = Path(__file__).resolve().parents[2] / "workflow/report"
    css = "".join((folder / name).read_text() for name in ("sheet.css", "sheet_page.css"))
    variables = dict(re.findall(r"--(\w+): (#\w{6});", css))
    texts = [variables["ink"], variables["quiet"], *re.findall(r"[ {]color: (#\w{6})", css)]
    for ground in (variables["paper"], variables["tint"]):
        for text in texts:
            light, dark = relative_luminance(ground), relative_luminance(text)
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (text, ground)


def test_warnings_are_named_or_none(records: SheetRecords, figures: dict[str, str]) -> None:
    assert "Warnings None." in Page(sheet_html(records, figures)).text
    records.summary["warnings"] = [WARNING]
    html = sheet_html(records, figures)
    assert "<strong>yield exceeded</strong>: the wire is stressed" in html
    assert "1 warning: read it" in Page(html).text


def test_the_page_carries_caution_and_assumptions(
    records: SheetRecords, figures: dict[str, str]
) -> None:
    text = Page(sheet_html(records, figures)).text
    assert CAUTION in text
    assert "Initial movement, linear ligament." in text
    # M = E(1−ν)/((1+ν)(1−2ν)) = 0.28 × 0.7 / (1.3 × 0.4)
    assert "0.377 MPa" in text


def test_text_from_a_case_is_escaped(records: SheetRecords, figures: dict[str, str]) -> None:
    records.case["title"] = "<script>alert(1)</script>"
    records.summary["units"] = {
        ("<x-y>" if name == "molar" else name): unit
        for name, unit in records.summary["units"].items()
    }
    records.case["two_point"]["unit"] = "<x-y>"
    html = sheet_html(records, figures)
    assert "<script>alert" not in html
    assert "<x-y>" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html


def test_contents_lead_to_every_section(records: SheetRecords, figures: dict[str, str]) -> None:
    page = Page(sheet_html(records, figures))
    sections = [a["id"] for tag, a in page.tags if tag == "section"]
    links = [a["href"] for tag, a in page.tags if tag == "a" and "href" in a]
    assert links[0] == "#content"
    for name in sections:
        assert f"#{name}" in links
    assert "course" not in sections
    assert [tag for tag, _ in page.tags if tag in {"header", "nav", "main", "footer"}] == [
        "header",
        "nav",
        "main",
        "footer",
    ]
    tables = [a for tag, a in page.tags if tag == "div" and a.get("class") == "scroll"]
    assert tables
    assert all(a["tabindex"] == "0" and a["aria-label"] for a in tables)
