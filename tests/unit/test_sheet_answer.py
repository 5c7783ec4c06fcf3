"""The answer of a sheet: what each unit gets and does, and the five numbers."""

import pytest

from tests.sheet_example import example_records
from workflow.sheet_answer import answer, full_answer, key_numbers
from workflow.sheet_records import SheetRecords


@pytest.fixture
def records() -> SheetRecords:
    return example_records()


def test_the_answer_says_what_each_unit_does(records: SheetRecords) -> None:
    molar, segment = answer(records.summary)
    assert "extrudes by 2.00 µm" in molar
    assert "its crown tips distally by 2.06 mrad (0.12°)" in molar
    assert "intrudes by 2.00 µm" in segment
    assert "its crowns tip mesially" in segment


def test_five_key_numbers_in_both_units(records: SheetRecords) -> None:
    numbers = dict(key_numbers(records.summary))
    assert len(numbers) == 5
    assert "force of each of the two wires, at the hook on segment" in dict(
        key_numbers(records.summary, mirror_image=True)
    )
    text = " ".join(numbers.values())
    # 0.5 N / 9.80665e-3 N per gf, and |(−11, 4, 0)| N·mm in gf·mm
    assert "0.500 N (51.0 gf)" in text
    assert "11.7 N·mm (1194 gf·mm)" in text
    assert "75 %" in text


def test_the_full_answer_says_what_each_unit_gets(records: SheetRecords) -> None:
    molar, segment, wire = full_answer(records.case, records.summary, records.solved)
    assert molar.startswith("Unit molar (target, tooth 37) extrudes by 2.00 µm")
    assert "a couple of 11.7 N·mm (1194 gf·mm), mostly towards distal crown tip" in molar
    assert "a force of 0.500 N (51.0 gf), mostly towards extrusion" in molar
    assert segment.endswith("(51.0 gf), mostly towards intrusion, and no couple.")
    assert wire == "The wire comes to 75 % of its elastic limit and springs back in full."


@pytest.mark.parametrize(
    ("left_mm", "words"),
    [(0.062, "keeps a set of 0.062 mm"), (None, "is computed as if it sprang back")],
)
def test_the_answer_says_whether_the_wire_springs_back(
    records: SheetRecords, left_mm: float | None, words: str
) -> None:
    records.summary["wire"]["permanent_set_mm"] = left_mm
    *_, wire = full_answer(records.case, records.summary, records.solved)
    assert wire.endswith(f"{words}.")
