"""Every number of a sheet comes from the records, and a wrong one is noticed."""

import copy
from pathlib import Path
from typing import Any

import pytest

from tests.sheet_example import example_figures, example_records
from tests.sheet_expected import teeth_of
from tests.sheet_numbers import (
    complaints,
    is_checked,
    noticed,
    numbers,
    perturbed,
    texts_with_digits,
)
from workflow.sheet import sheet_html
from workflow.sheet_records import SheetRecords


@pytest.fixture
def records() -> SheetRecords:
    """The example with bars, play, friction and a warning, so that all rows are there."""
    found = example_records()
    molar = found.summary["units"]["molar"]
    molar["mesh_error"] |= {"displacement_percent": 2.0, "rotation_percent": 1.0, "reason": None}
    molar["mesh_error"]["teeth"]["37"] = {"stiffness_percent": 1.5, "resistance_centre_mm": 0.029}
    shares = {"p01": 1.0, "p50": 2.0, "p99": 3.0}
    bars = {"hydrostatic_percent": shares, "von_mises_percent": shares}
    molar["ligament"]["37"] = molar["ligament"]["37"] | {"mesh_error": bars}
    rubbed: dict[str, Any] = {"computed": True, "sticks": False, "coefficient": 0.2}
    rubbed["activating"] = {"force_N": 0.61, "couple_Nmm": 12.3}
    rubbed["letting_back"] = {"force_N": 0.43, "couple_Nmm": 10.9}
    play = {"height_deg": 1.82, "width_deg": 1.04, "torsion_deg": 12.5, "closings_mm": [0.7, 1.1]}
    found.summary["wire"] |= {"friction": rubbed, "play": play}
    found.solved["friction"] = {"coefficient": 0.2, "computed": True}
    found.case["one_point"]["friction"] = 0.2
    found.summary["warnings"] = [
        "force above the stated range: 1.31 N (133 gf) on segment, range 0.147 N (15 gf) to "
        "0.735 N (75 gf). Lengthen the span."
    ]
    return found


@pytest.fixture
def html(records: SheetRecords, tmp_path: Path) -> str:
    return sheet_html(records, example_figures(tmp_path))


def test_every_number_has_its_source(html: str, records: SheetRecords) -> None:
    assert complaints(html, records) == []


def test_another_result_is_noticed(html: str, records: SheetRecords) -> None:
    other = copy.deepcopy(records)
    other.summary["wire"]["force_N"] = [0.0, 0.0, -0.51]
    found = complaints(html, other)
    assert any("0.500 N is not 0.51 N" in text for text in found)


def test_a_changed_digit_of_any_number_is_noticed(html: str, records: SheetRecords) -> None:
    """All where labels say which number belongs there; of those in sentences nine in ten.

    A sentence may show any number of its records, and the changed one may be among them. Numbers
    of teeth and bounds ("< 0.01 %") are left out.
    """
    teeth = {str(tooth) for tooth in teeth_of(records)}
    texts = texts_with_digits(records)
    told: dict[bool, list[bool]] = {True: [], False: []}
    for block, number, changed in perturbed(html):
        if number.text not in teeth and not number.bound:
            told[is_checked(block, records)].append(noticed(block, changed, records, texts))
    assert len(told[True]) > 150
    assert all(told[True])
    assert len(told[False]) > 50
    assert sum(told[False]) / len(told[False]) > 0.9


def test_numbers_are_read_with_units_signs_and_bounds() -> None:
    read = numbers("−12.1 kPa (−124 gf/cm²) ± >100 %, 4.66 to 7.61 mm; 1.2e-15 at 3.0°")
    assert [(n.value, n.unit, n.bound) for n in read] == [
        (-12.1, "kPa", ""),
        (-124.0, "gf/cm²", ""),
        (100.0, "%", ">"),
        (4.66, "mm", ""),
        (7.61, "mm", ""),
        (1.2e-15, "", ""),
        (3.0, "°", ""),
    ]
