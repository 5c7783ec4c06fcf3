"""Ranges that a user fixes for figures: what the file says, and how a wrong one is refused."""

from pathlib import Path

import pytest

from workflow.case_errors import CaseError
from workflow.figure_ranges import CONFIG, FigureRanges, load_ranges

ROOT = Path(__file__).resolve().parents[2]


def written(folder: Path, text: str) -> Path:
    path = folder / "figures.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_file_of_the_project_names_every_key_and_fixes_none() -> None:
    path = ROOT / CONFIG
    assert load_ranges(path) == FigureRanges()
    text = path.read_text(encoding="utf-8")
    for part, fields in FigureRanges().model_dump().items():
        assert f"\n{part}:" in text
        for name in fields:
            assert f"\n  {name}: null" in text


def test_numbers_are_taken(tmp_path: Path) -> None:
    found = load_ranges(written(tmp_path, "arrows: {force_N: 0.5}\nmovement: {enlargement: 100}"))
    assert found.arrows.force_N == 0.5
    assert found.arrows.couple_Nmm is None
    assert found.movement.enlargement == 100


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("arrows: {force_N: -1}", ["arrows.force_N = -1", "must be at least 1e-06"]),
        ("ligament_stress: {limit_kPa: 0}", ["ligament_stress.limit_kPa = 0", "at least 1e-06"]),
        ("ligament_stress: {limit_kPa: 20 kPa}", ["limit_kPa = '20 kPa'", "write 20"]),
        ("movement: {enlargment: 50}", ["movement.enlargment", "did you mean enlargement?"]),
        ("arows: {force_N: 1}", ["arows", "did you mean arrows?"]),
        ("movement: {enlargement: .inf}", ["movement.enlargement", "finite number"]),
    ],
)
def test_a_mistake_is_one_line_with_file_key_value_and_remedy(
    tmp_path: Path, text: str, said: list[str]
) -> None:
    path = written(tmp_path, text)
    with pytest.raises(CaseError) as raised:
        load_ranges(path)
    (line,) = str(raised.value).splitlines()
    for part in (str(path), *said):
        assert part in line
