"""Files of cases and of the catalogue: what cannot be read, numbers, the command line."""

import re
import unicodedata
from codecs import BOM_UTF8
from pathlib import Path
from typing import Literal

import pytest

from workflow.case import Case, CaseError, load_case
from workflow.case_command import main
from workflow.catalogue import CATALOGUE, Alloy, read_rows
from workflow.named_files import file_fault
from workflow.yaml_files import read_mapping

GOOD = Path(__file__).resolve().parents[2] / "configs" / "cases" / "lower_molar_uprighting.yaml"

BAD_FILES = {
    "broken": ("case: [1, 2", "not valid YAML"),
    "tab": ("case:\n\t- 1", "not valid YAML"),
    "empty": ("", "the file is empty"),
    "comment_only": ("# nothing\n", "the file is empty"),
    "list": ("- 1\n- 2\n", "holds a list; it must hold keys"),
    "word": ("hello", "holds a single value"),
    "twice": (
        "case: a\ntitle: x\ncase: b\n",
        "line 3: case: key case is written twice (first in line 1); keep one",
    ),
    "twice_quoted": ("teeth: {37: {}, '37': {}}", "line 1: teeth.37: key 37 is written twice"),
    "alias": ("a: &x [1]\nb: *x\n", "line 2: b: aliases (*x) are not accepted; write it out"),
    "object": ("a: !!python/object/apply:os.getcwd []\n", "line 1: a: tags (!!python/object"),
    "list_as_key": ("[1, 2]: 3\n", "a key must be a word or a number"),
    "huge_number": ("a: " + "9" * 6000, "line 1: a: is a number of 6000 digits; write one of"),
    "deep": ("[" * 5000, "nested more than 20 deep; flatten it"),
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
    assert all(line.startswith(f"{path}: ") for line in str(caught.value).splitlines())


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
            "yield_strength_MPa: 830", "yield_strength_MPa: 1830"
        ),
        encoding="utf-8",
    )
    with pytest.raises(CaseError) as caught:
        read_rows(path, Alloy)
    for row in ("nickel_titanium_stabilised", "nickel_titanium_superelastic"):
        assert re.search(rf"line \d+: {row}.poisson_ratio = 0.6: out of range", str(caught.value))
    assert ": beta_titanium: " in str(caught.value)
    assert "yield_strength_MPa lies outside yield_strength_range_MPa" in str(caught.value)


def test_case_models_have_no_default_that_they_would_refuse() -> None:
    """Defaults are not validated by themselves: write each out and read it back."""
    case = load_case(GOOD)
    assert Case.model_validate(case.model_dump(mode="json")) == case


def test_every_problem_of_a_file_is_told_at_once_with_its_line(tmp_path: Path) -> None:
    """Of the YAML itself, of single values, between values of one part, and between parts."""
    path = tmp_path / "lower_molar_uprighting.yaml"
    text = GOOD.read_text(encoding="utf-8")
    text = text.replace("missing: [36]", "missing: [36]\nmissing: [35]")
    text = text.replace("tooth: 37}", "tooth: 35}").replace("alloy: b", "aloy: b")
    text += "limits: {force_range_gf: [75, 15], yield_ratio: 90}\nmesh: !fine {}\n"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_case(path)
    lines = text.splitlines()
    found = {problem.key: problem.line for problem in caught.value.problems}
    assert set(found) == {
        "missing", "two_point.tooth", "wire.aloy", "wire.alloy", "limits", "limits.yield_ratio",
        "mesh",
    }  # fmt: skip
    for key, line in found.items():
        word = "wire" if key == "wire.alloy" else key.split(".")[-1]  # missing: line of its part
        assert line is not None
        assert word in lines[line - 1], key


OTHER_SYSTEMS = {
    "carriage returns and line feeds": lambda raw: raw.replace(b"\n", b"\r\n"),
    "carriage returns": lambda raw: raw.replace(b"\n", b"\r"),
    "a byte order mark": lambda raw: BOM_UTF8 + raw,
    "a byte order mark of each of two programmes": lambda raw: 2 * BOM_UTF8 + raw,
}
BROKEN = {
    "a wrong value": ("alloy: b", "alloy: c"),
    "a bracket that is not closed": ("missing: [36]", "missing: [36"),
    "a hidden sign": ("missing: [36]", "missing: [36]\x00"),
    "a sign of another encoding": ("missing: [36]", "missing: [36] # \udce4"),
}


@pytest.mark.parametrize("way", OTHER_SYSTEMS)
def test_line_ends_and_marks_of_other_systems_change_nothing(tmp_path: Path, way: str) -> None:
    path = tmp_path / GOOD.name
    path.write_bytes(OTHER_SYSTEMS[way](GOOD.read_bytes()))
    assert load_case(path) == load_case(GOOD)


@pytest.mark.parametrize("way", OTHER_SYSTEMS)
@pytest.mark.parametrize("fault", BROKEN)
def test_line_ends_and_marks_of_other_systems_change_no_message(
    tmp_path: Path, way: str, fault: str
) -> None:
    path = tmp_path / GOOD.name
    raw = GOOD.read_text(encoding="utf-8").replace(*BROKEN[fault]).encode(errors="surrogateescape")
    said = []
    for content in (raw, OTHER_SYSTEMS[way](raw)):
        path.write_bytes(content)
        with pytest.raises(CaseError) as caught:
            load_case(path)
        said.append(str(caught.value))
    assert said[0] == said[1]
    assert "line " in said[0]


@pytest.mark.parametrize("form", ["NFC", "NFD"])
def test_letters_with_marks_are_kept_as_they_are_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, form: Literal["NFC", "NFD"]
) -> None:
    """Some systems write é as two signs, and a file is found by the signs of its name alone."""
    monkeypatch.chdir(tmp_path)
    name = unicodedata.normalize(form, "prémolaire.stl")
    Path(name).write_bytes(b"x")
    path = tmp_path / "written.yaml"
    path.write_text(f"title: {name}\n", encoding="utf-8")
    title = read_mapping(path)["title"]
    assert title == name
    assert file_fault(title, 10) is None


def test_a_path_that_leads_out_must_be_written_in_full(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    project, outside = tmp_path / "project", tmp_path / "tooth.stl"
    project.mkdir()
    outside.write_bytes(b"x" * 10)
    (project / "link.stl").symlink_to(outside)
    (project / "own.stl").write_bytes(b"x" * 10)
    monkeypatch.chdir(project)
    for name in ("../tooth.stl", "link.stl", "./../project/../tooth.stl"):
        assert "leads out of the folder" in str(file_fault(name, 100))
    for name in ("own.stl", "../project/own.stl", str(outside)):
        assert file_fault(name, 100) is None
    assert "at most 0 MB are read" in str(file_fault("own.stl", 9))
    assert "no such file" in str(file_fault("other.stl", 9))
    assert file_fault("a\0b", 9) == "is no path of a file; correct it"
