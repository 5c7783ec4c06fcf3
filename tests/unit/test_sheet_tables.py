"""The tables of a sheet: a case and its records in plain words."""

import copy
from dataclasses import replace
from pathlib import Path

import pytest

from tests.sheet_example import REASON, Page, example_figures, example_records
from workflow.sheet import sheet_html
from workflow.sheet_records import SheetRecords
from workflow.sheet_setup import setup_table, tissue_sentences
from workflow.sheet_tables import checks_table, loads_table, supports_table, teeth_table
from workflow.sheet_wire import contact_sentences


@pytest.fixture
def records() -> SheetRecords:
    return example_records()


@pytest.fixture
def figures(tmp_path: Path) -> dict[str, str]:
    return example_figures(tmp_path)


def test_the_loads_table_names_parts_and_leaves_out_a_couple_that_is_not_there(
    records: SheetRecords,
) -> None:
    table = loads_table(records.case, records.summary, records.solved)
    rows = {row[0]: row[1:] for row in table.rows}
    assert rows["Force, in parts"] == ("extrusion 0.500 N (51.0 gf)", "intrusion 0.500 N (51.0 gf)")
    assert rows["Couple, in parts"][0].startswith("distal crown tip")
    assert rows["Couple at the attachment"][1] == "none"


def test_teeth_that_differ_are_described_in_words(records: SheetRecords) -> None:
    case = copy.deepcopy(records.case)
    case["teeth"]["37"] |= {"mesial_tip_deg": -25.0, "buccal_mm": -1.5, "roots": 1}
    case["teeth"]["37"] |= {"dimensions": {"root_length_mm": 12.5}, "crest_depth_mm": 4.0}
    case["ligament"]["profile_mm"] = [0.2, 0.14, 0.19]
    rows = {row[0]: row[1] for row in setup_table(case, records.solved).rows}
    assert rows["Positions"] == "37 tipped distally by 25°, shifted lingually by 1.5 mm"
    assert rows["Shapes of the teeth"] == (
        "37: root_length_mm 12.5, 1 root; otherwise published means"
    )
    assert rows["Bone crest"] == "37: 4 mm below the cervix; 35, 34: 1.5 mm below the cervix"
    assert rows["Ligament"].endswith("0.2 mm at the crest, 0.14 at mid-root, 0.19 at the apex")
    assert rows["Missing teeth"] == "36"


def test_a_crest_by_side_is_described_in_words(records: SheetRecords) -> None:
    case = copy.deepcopy(records.case)
    sides = {"mesial_mm": 3.0, "distal_mm": 1.5, "buccal_mm": 2.0, "lingual_mm": 2.0}
    for own in case["teeth"].values():
        own |= {"crest_depth_mm": None, "crest_by_side_mm": sides}
    rows = {row[0]: row[1] for row in setup_table(case, records.solved).rows}
    assert (
        rows["Bone crest"]
        == "mesially 3, distally 1.5, buccally 2, lingually 2 mm below the cervix"
    )
    assert rows["Shapes of the teeth"] == "published means"


def test_elastic_tissues_and_a_joining_wire_are_stated(records: SheetRecords) -> None:
    case = copy.deepcopy(records.case)
    assert tissue_sentences(case)[:2] == ["Teeth are rigid.", "The socket wall is rigid."]
    row = {"youngs_modulus_MPa": 18600.0, "poisson_ratio": 0.31}
    case["tooth_body"] = {"elastic": True, "enamel_mm": 1.0, "dentine": row, "enamel": row}
    case["bone"] |= {"elastic": True, "cortical": row, "cancellous": row, "cortical_mm": 1.5}
    wire = {"alloy": {"name": "stainless_steel"}, "section": case["wire"]["section"]}
    case["units"]["segment"]["joined_by"] = wire
    tooth, bone, molar, segment = tissue_sentences(case)
    assert "dentine (E = 18.6 GPa, ν = 0.31), enamel cap of 1 mm" in tooth
    assert "within 1.5 mm" in bone
    assert "bilinear ligament tooth and socket wall stay rigid" in bone
    assert molar == "Unit molar is one tooth."
    assert "joined by a wire (stainless steel, 0.4 mm)" in segment
    rows = {row[0]: row[1] for row in setup_table(case, records.solved).rows}
    assert rows["Unit segment"] == "teeth 35, 34, joined by a wire; anchor"


def test_each_tooth_says_how_its_crown_moves(records: SheetRecords) -> None:
    rows = {row[0]: row[1:] for row in teeth_table(records.summary).rows}
    assert set(rows) == {"37 (molar)", "35 (segment)", "34 (segment)"}
    assert "distal 17.0 µm" in rows["37 (molar)"]
    assert "mesial 17.0 µm" in rows["34 (segment)"]
    assert "distal crown tip 2.06 mrad" in rows["37 (molar)"]


def test_supports_are_told_beside_thin_layer_theory(records: SheetRecords) -> None:
    rows = {row[0]: row[1:] for row in supports_table(records.supports, records.summary).rows}
    assert rows["Mesially"][0] == "100 N/mm (10197 gf/mm)"  # 1 N is 101.97 gf
    assert rows["Buccally, by thin-layer theory"][0] == "−0.4 %"
    assert rows["Centre of resistance, mesiodistal force"][0] == "0.40"
    assert rows["Centre of resistance, buccolingual force"][0] == "0.41"


def test_bars_of_the_mesh_stand_beside_their_numbers_and_say_what_they_are(
    records: SheetRecords, figures: dict[str, str]
) -> None:
    molar = records.summary["units"]["molar"]
    molar["mesh_error"] |= {"displacement_percent": 2.0, "rotation_percent": 1.0, "reason": None}
    molar["mesh_error"]["teeth"]["37"] = {"stiffness_percent": 1.5, "resistance_centre_mm": 0.029}
    shares = {"p01": 1.0, "p50": 2.0, "p99": 3.0}
    molar["ligament"]["37"] = molar["ligament"]["37"] | {
        "mesh_error": {"hydrostatic_percent": shares, "von_mises_percent": shares}
    }
    text = Page(sheet_html(records, figures)).text
    # |(0, 1, 2)| µm × 2 % over 2.00 µm
    assert "extrusion 2.00 µm ± 2.2 %" in text
    assert "intrusion 2.00 µm ±" not in text  # the segment was not measured
    assert f"Unit segment: mesh error {REASON}." in text
    assert "(10197 gf/mm) ± 1.5 %" in text
    assert "0.41 ± 0.029 mm" in text
    assert "−12.2 kPa (−124 gf/cm²) ± 1.1 %" in text  # 1 % of 13.8 kPa
    assert "Mesh error of its stiffness ± <0.01 %" in text
    assert "It says nothing of the ligament" in text


def test_a_failed_check_says_so(records: SheetRecords) -> None:
    failed = records.checks.assign(passed=False)
    assert "passed" in checks_table(records.checks).rows[0]
    assert "FAILED" in checks_table(failed).rows[0]


# The page


def test_the_contacts_are_stated_in_words(records: SheetRecords, figures: dict[str, str]) -> None:
    case, summary = copy.deepcopy(records.case), copy.deepcopy(records.summary)
    case["two_point"]["slot"] = {
        "name": "tube_0.022x0.028_in",
        "height_mm": 0.5588,
        "width_mm": 0.7,
    }
    case["one_point"]["friction"] = 0.2
    loads = {"force_N": 0.6, "couple_Nmm": 12.3}
    solved = records.solved | {"friction": {"coefficient": 0.2, "computed": True}}
    summary["wire"]["friction"] = {
        "coefficient": 0.2,
        "computed": True,
        "sticks": False,
        "activating": loads,
        "letting_back": loads | {"force_N": 0.4},
    }
    summary["wire"]["play"] = {
        "height_deg": 1.82,
        "width_deg": 1.0,
        "torsion_deg": 12.5,
        "closings_mm": [0.7, 1.1],
    }
    shown = replace(records, case=case, summary=summary, solved=solved)
    text = Page(sheet_html(shown, figures)).text
    assert "slot 0.559 × 0.7 mm (tube 0.022x0.028 in)" in text
    assert "helix (1 turn), last run (15.0 mm)" in text
    assert "friction 0.2" in text
    assert "0.400 N (40.8 gf)" in text.split("With friction, letting back")[1][:40]
    assert "1.8° in height" in text
    assert "0.7, 1.1 mm" in text
    assert "letting back stand beside those given, which are without friction" in text
    solved["friction"]["computed"] = False
    text = " ".join(contact_sentences(case, solved))
    assert "stand beside" not in text
    assert "friction of 0.2 at the hook is left out" in text


def test_a_hook_placed_by_its_span_is_not_said_to_lie_between_teeth(records: SheetRecords) -> None:
    """A pair of teeth beside a span is not used (DEFAULTS.md, wire.span_mm)."""
    case = copy.deepcopy(records.case)
    case["one_point"]["between"], case["wire"]["span_mm"] = [34, 35], 22.0
    text = dict(setup_table(case, records.solved).rows)["One-point contact"]
    assert "between" not in text
    assert "placed by its span" in text
