"""Amounts in both units: each computed from the number, and found again by the page."""

import re

import pytest

from workflow.figures import couple_text, force_text
from workflow.pages import amounts
from workflow.sheet_amounts import amount, four_digits


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        # 1 gf = 9.80665e-3 N by definition; 1 kPa = 0.1 N/cm²
        (1.2, "N", "1.20 N (122 gf)"),
        (-0.05, "N·mm", "−0.0500 N·mm (−5.10 gf·mm)"),
        (548.0, "N/mm", "548 N/mm (55880 gf/mm)"),
        (-12.14, "kPa", "−12.1 kPa (−124 gf/cm²)"),
        (0.0, "kPa", "0.00 kPa (0.00 gf/cm²)"),
    ],
)
def test_both_units_come_from_the_number(value: float, unit: str, text: str) -> None:
    assert amount(value, unit) == text


def test_the_second_number_is_not_made_from_the_rounded_first() -> None:
    """0.5046 N is 51.455 gf; the rounded 0.505 N would be 51.5 gf."""
    assert amount(0.50461, "N") == "0.505 N (51.5 gf)"
    assert amount(0.50454, "N") == "0.505 N (51.4 gf)"


@pytest.mark.parametrize(
    "text",
    [
        force_text(0.546, " "),
        couple_text(11.8, " "),
        amount(-3.2e-7, "N/mm"),
        amount(1.23456e-15, "N", four_digits),
        amount(-12.1, "kPa"),
    ],
)
def test_pages_find_both_halves_and_change_no_character(text: str) -> None:
    html = str(amounts(f"<i> {text}; after"))
    halves = re.findall(r'<span class="(?:si|gf)">(.*?)</span>', html)
    assert " ".join(halves).replace("\u00a0", " ") == re.sub(r"[()]", "", text)
    shown = re.sub(r"<[^>]*>", "", html).replace("\u00a0", " ")
    assert shown == f"&lt;i&gt; {text}; after"


@pytest.mark.parametrize("text", ["5 mm (2 teeth)", "0.5 N and (3 gf)", "830 MPa (75 %)"])
def test_what_is_no_amount_is_left_alone(text: str) -> None:
    assert str(amounts(text)) == text
