"""The generated files under configs/schema say what the config models say."""

import difflib
import json
from pathlib import Path

import jsonschema
import pytest
import yaml

from workflow.case_models import Case
from workflow.schema import COLUMNS, default_rows, generated, json_schema

GOOD = Path(__file__).resolve().parents[2] / "configs" / "cases" / "lower_molar_uprighting.yaml"
REMEDY = "run `python -m workflow.schema` and keep what it writes"


@pytest.mark.parametrize("path", generated(), ids=lambda path: path.name)
def test_generated_file_is_up_to_date(path: Path) -> None:
    wanted = generated()[path].splitlines()
    found = path.read_text(encoding="utf-8").splitlines()
    diff = list(difflib.unified_diff(found, wanted, path.name, "models", lineterm="", n=1))
    assert not diff, f"{REMEDY}\n" + "\n".join(diff)


def good() -> dict:
    return json.loads(json.dumps(yaml.safe_load(GOOD.read_text(encoding="utf-8"))))


def test_schema_accepts_the_good_case() -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema())
    jsonschema.Draft202012Validator(json_schema()).validate(good())


@pytest.mark.parametrize(
    ("part", "key", "value"),
    [
        ("wire", "spna_mm", 12),
        ("wire", "span_mm", -1),
        ("wire", "span_mm", 0),
        ("wire", "span_mm", 81),
        ("wire", "elements", 7),
        ("wire", "span_mm", "8 mm"),
        ("wire", "activation", {}),
        ("wire", "activation", {"offset_mm": 3, "couple_gfmm": 1200}),
        ("one_point", "contact", "glued"),
    ],
)
def test_schema_refuses(part: str, key: str, value: object) -> None:
    data = good()
    data[part][key] = value
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(json_schema()).validate(data)


def test_every_number_states_its_unit_as_its_key_does() -> None:
    """A key that ends in a unit has that unit in the table; a number without one has unit 1."""
    written = {"N·mm": "Nmm", "gf·mm": "gfmm"}
    for row in default_rows():
        key, kind, unit = row[0].strip("`"), row[1], row[3]
        if unit not in {"", "1"}:
            assert key.endswith("_" + written.get(unit, unit)), key
        if kind in {"number", "list of two numbers"}:
            assert unit, key


def test_every_key_has_meaning_and_source() -> None:
    rows = [dict(zip(COLUMNS, row, strict=True)) for row in default_rows(Case)]
    assert all(row["meaning"] and row["source"] for row in rows)
    assert not [row["key"] for row in rows if any("|" in cell for cell in row.values())]
