"""Files of cases and of the catalogue: what cannot be read, numbers, the command line."""

from pathlib import Path

import pytest

from workflow.case import Case, CaseError, load_case, main
from workflow.catalogue import CATALOGUE, Alloy, read_rows

GOOD = Path(__file__).resolve().parents[2] / "configs" / "cases" / "lower_molar_uprighting.yaml"

BAD_FILES = {
    "broken": ("case: [1, 2", "not valid YAML"),
    "tab": ("case:\n\t- 1", "not valid YAML"),
    "empty": ("", "the file is empty"),
    "comment_only": ("# nothing\n", "the file is empty"),
    "list": ("- 1\n- 2\n", "holds a list; it must hold keys"),
    "word": ("hello", "holds a single value"),
    "twice": ("case: a\ntitle: x\ncase: b\n", "line 3, column 1: not valid YAML: key case is"),
    "twice_quoted": ("teeth: {37: {}, '37': {}}", "key 37 is written twice"),
    "alias": ("a: &x [1]\nb: *x\n", "aliases"),
    "object": ("a: !!python/object/apply:os.getcwd []\n", "not valid YAML"),
    "list_as_key": ("[1, 2]: 3\n", "a key must be a word or a number"),
    "huge_number": ("a: " + "9" * 6000, "not valid YAML"),
    "deep": ("[" * 5000, "not valid YAML"),
    "two_documents": ("a: 1\n---\nb: 2\n", "not valid YAML"),
    "large": ("a: " + "x" * 300_000, "larger than 256 KiB"),
}


@pytest.mark.parametrize(("text", "fragment"), BAD_FILES.values(), ids=BAD_FILES.keys())
def test_bad_file(tmp_path: Path, text: str, fragment: str) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_case(path)
    assert fragment in str(caught.value)
    assert str(caught.value).startswith(f"{path}: ")
    assert "\n" not in str(caught.value)


def test_file_missing_folder_or_not_text(tmp_path: Path) -> None:
    picture = tmp_path / "picture.yaml"
    picture.write_bytes(b"\x89PNG\xff\xfe\x00")
    for path, fragment in [
        (tmp_path / "none.yaml", "no such file"),
        (tmp_path, "is a folder"),
        (picture, "not a UTF-8 text file"),
    ]:
        with pytest.raises(CaseError, match=fragment):
            load_case(path)


def test_numbers_follow_yaml_1_2(tmp_path: Path) -> None:
    """YAML 1.1 would read 1e1 as text and 040 as thirty-two."""
    path = tmp_path / "lower_molar_uprighting.yaml"
    text = GOOD.read_text(encoding="utf-8") + "  span_mm: 1e1\n  elements: 040\n"
    path.write_text(text, encoding="utf-8")
    wire = load_case(path).wire
    assert (wire.span_mm, wire.elements) == (10.0, 40)


def test_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text("case: bad\n", encoding="utf-8")
    assert main([str(GOOD)]) == 0
    assert capsys.readouterr().out == "OK lower_molar_uprighting\n"
    assert main([str(bad), str(GOOD)]) == 1
    shown = capsys.readouterr()
    assert "bad.yaml: wire: missing; add it" in shown.err
    assert shown.out == "OK lower_molar_uprighting\n"


def test_a_bad_catalogue_row_names_file_row_and_key(tmp_path: Path) -> None:
    text = (CATALOGUE / "alloys.yaml").read_text(encoding="utf-8")
    path = tmp_path / "alloys.yaml"
    path.write_text(
        text.replace("poisson_ratio: 0.33", "poisson_ratio: 0.6").replace(
            "yield_strength_MPa: 830", "yield_strength_MPa: 8300"
        ),
        encoding="utf-8",
    )
    with pytest.raises(CaseError) as caught:
        read_rows(path, Alloy)
    for row in ("nickel_titanium_stabilised", "nickel_titanium_superelastic"):
        assert f"{path}: {row}: poisson_ratio = 0.6: out of range" in str(caught.value)
    assert f"{path}: beta_titanium: " in str(caught.value)
    assert "yield_strength_MPa lies outside yield_strength_range_MPa" in str(caught.value)


def test_case_models_have_no_default_that_they_would_refuse() -> None:
    """Defaults are not validated by themselves: write each out and read it back."""
    case = load_case(GOOD)
    assert Case.model_validate(case.model_dump(mode="json")) == case
