"""The sheet: words that match signs, one page without outside references, everything escaped."""

import copy
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from workflow.case_teeth import ToothPart
from workflow.cautions import CAUTION
from workflow.sheet import sheet_html
from workflow.sheet_answer import answer, key_numbers
from workflow.sheet_records import SheetRecords
from workflow.sheet_setup import setup_table, tissue_sentences
from workflow.sheet_tables import checks_table, loads_table, supports_table, teeth_table
from workflow.sheet_wire import contact_sentences
from workflow.words import leading, load_words, movement_words

ANATOMICAL = {
    "extrusion_um": 2.0,
    "mesial_um": -1.04,
    "buccal_um": -0.06,
    "mesial_tip_mrad": -2.06,
    "buccal_tip_mrad": -0.39,
    "mesial_in_mrad": 0.28,
}
STRESS = {"p01": -12.2, "p50": 0.3, "p99": 13.8, "min": -17.1, "max": 22.0}
WARNING = "yield exceeded: the wire is stressed to 1.20 of its yield strength (limit 1)."
REASON = "not measured: the tooth is scanned"
PIXEL = bytes.fromhex("89504e470d0a1a0a")
FIGURES = (
    "free_body",
    "appliance_3d",
    "movement",
    "wire_deflection",
    "force_activation",
    "ligament_stress",
    "mesh_section",
)


def unit_of(teeth: list[int], role: str, contact: str, sign: float) -> dict[str, Any]:
    couple = [-11.0, 4.0, 0.0] if contact == "two-point" else [0.0, 0.0, 0.0]
    unmeasured = {"hydrostatic_percent": None, "von_mises_percent": None, "reason": REASON}
    ligament = {"hydrostatic_kPa": STRESS, "von_mises_kPa": STRESS, "mesh_error": unmeasured}
    return {
        "teeth": teeth,
        "role": role,
        "contact": contact,
        "force_N": [0.0, 0.0, 0.5 * sign],
        "moment_at_attachment_Nmm": couple,
        "moment_at_resistance_Nmm": [-13.0, 4.0, 0.0],
        "resistance_centre_mm": [28.0, 32.0, -13.0],
        "centre_of_rotation_mm": [28.0, 33.0, -13.0],
        "moment_to_force_mm": 27.2,
        "displacement_at_resistance_um": [0.0, 1.0, 2.0],
        "rotation_mrad": [-2.0, 0.0, 0.5],
        "mesh_error": {
            "displacement_percent": None,
            "rotation_percent": None,
            "resistance_centre_mm": None,
            "reason": REASON,
            "teeth": {
                str(tooth): {"stiffness_percent": None, "resistance_centre_mm": None}
                for tooth in teeth
            },
        },
        "anatomical": {key: sign * value for key, value in ANATOMICAL.items()},
        "movement_by_tooth": {
            str(tooth): {
                "anatomical": {key: sign * value for key, value in ANATOMICAL.items()},
                "mid_crown": {"extrusion_um": 2.0, "mesial_um": -17.0 * sign, "buccal_um": 0.5},
            }
            for tooth in teeth
        },
        "ligament": {str(tooth): ligament for tooth in teeth},
    }


BILINEAR = {
    "law": {
        "name": "poppe_2002",
        "initial_MPa": 0.05,
        "stiff_MPa": 0.28,
        "knee_strain": 0.075,
        "poisson_ratio": 0.3,
    },
    "units": {"molar": {"anatomical": ANATOMICAL, "largest_strain": 0.249}},
}

CURVE = {
    "working_point": {
        "activation_mm": 5.8,
        "force_N": 0.5,
        "couple_Nmm": 11.7,
        "stress_MPa": 625.0,
    },
    "first_yield": {"activation_mm": 7.91, "force_N": 0.7, "couple_Nmm": 15.0, "stress_MPa": 830.0},
    "band": {"share": 0.25, "lower": {"activation_mm": 4.5}, "upper": {"activation_mm": 7.12}},
    "rate_N_per_mm": 0.09,
    "rate_gf_per_mm": 9.18,
    "linear_theory": {"rate_N_per_mm": 0.1, "rate_gf_per_mm": 10.2},
    "superelastic": False,
    "history": None,
    "curve_end_mm": 8.7,
}


@pytest.fixture
def records() -> SheetRecords:
    summary = {
        "case": "example",
        "warnings": [],
        "wire": {
            "length_mm": 23.3,
            "activation_mm": [0, 0, 5.8],
            "force_N": [0.0, 0.0, -0.5],
            "couple_Nmm": [-11.0, 4.0, 0.0],
            "contact_forces_N": [2.7, 3.2],
            "peak_stress_MPa": 625.0,
            "yield_ratio": 0.75,
            "permanent_set_mm": 0.0,
            "linear_theory": {"force_N": 0.55, "couple_Nmm": 12.0},
            "linear_as_bent": {"force_N": 0.54, "couple_Nmm": 11.9},
            "play": None,
            "friction": None,
            "mesh_error": {"stiffness_percent": 0.0005, "reason": None},
        },
        "units": {
            "molar": unit_of([37], "target", "two-point", 1.0),
            "segment": unit_of([35, 34], "anchor", "one-point", -1.0),
        },
    }
    case = {
        "title": "An example",
        "teeth": {t: ToothPart(crest_depth_mm=1.5).model_dump() for t in ("37", "35", "34")},
        "missing": [36],
        "units": {
            "molar": {
                "teeth": [37],
                "role": "target",
                "joined_by": None,
                "support": "ligament",
            },
            "segment": {
                "teeth": [35, 34],
                "role": "anchor",
                "joined_by": None,
                "support": "ligament",
            },
        },
        "mirror_image": False,
        "further": [],
        "two_point": {"unit": "molar", "tooth": 37, "tube_length_mm": 4.0, "slot": None},
        "one_point": {
            "unit": "segment",
            "between": [34, 35],
            "tooth": None,
            "contact": "bar",
            "friction": 0.0,
        },
        "wire": {
            "alloy": {
                "name": "beta_titanium",
                "youngs_modulus_MPa": 65000.0,
                "yield_strength_MPa": 830.0,
                "superelastic": None,
            },
            "section": {"name": "r", "shape": "round", "height_mm": 0.4, "width_mm": 0.4},
            "activation": {
                "offset_mm": None,
                "couple_Nmm": 11.7,
                "force_N": None,
                "pulls": "apical",
                "trial_share": 1.0,
            },
            "inelastic": True,
            "span_mm": None,
        },
        "ligament": {
            "law": "poppe_2002_stiff",
            "source": "Poppe 2002",
            "youngs_modulus_MPa": 0.28,
            "poisson_ratio": 0.3,
            "thickness_mm": 0.2,
            "profile_mm": None,
        },
        "tooth_body": {"elastic": False},
        "bone": {"crest_depth_mm": 1.5, "elastic": False},
    }
    region = {"elements": 100, "gamma_min": 0.2, "gamma_median": 0.6, "volume_mm3": 12.5}
    support = {
        "mesh": [region | {"region": "tooth"}, region | {"region": "ligament"}],
        "stiffness": np.diag([100.0, 110.0, 50.0, 1e3, 1e3, 1e3]).tolist(),
        "thin_layer": {"difference_percent": [1.2, -0.4, 2.0, 0.0, 0.0, 0.0]},
        "resistance": {
            "depth_fraction_of_embedded_root": {"mesiodistal": 0.4, "buccolingual": 0.41},
            "coupling_mm": 0.07,
        },
        "unknowns": 300,
    }
    check = {
        "id": "force_balance",
        "what": "sum of forces",
        "computed": 1e-14,
        "reference": 0.0,
        "relative_error": 1e-14,
        "tolerance": 1e-8,
        "passed": True,
        "source": "statics",
    }
    provenance = {
        "code": {"version": "0.1.0", "commit": "abc"},
        "stages": {"supports": {"37": "s"}, "wire": "w", "code": {"wire_rod": "c"}},
        "python": "3.11",
        "platform": "any",
        "libraries": {"numpy": "2"},
    }
    solved = {
        "offset_mm": 5.8,
        "span_mm": 18.8,
        "tube": {"middle_mm": [32.0, 27.0, -4.0]},
        "hook": {"touch_mm": [24.0, 8.0, -4.0]},
        "bend_deg": 27.0,
        "wire": {
            "as_bent": {
                "parts": [
                    {"part": part, "words": words, "arcs": [{"length_mm": length}]}
                    for part, words, length in (
                        ("run in the tube", "", 4.0),
                        ("bend at the tube", "", 0.5),
                        ("helix", "1 turn", 8.0),
                        ("last run", "", 15.0),
                    )
                ]
            }
        },
        "past_limit": None,
        "friction": None,
    }
    supports = dict.fromkeys((37, 35, 34), support)
    return SheetRecords(
        case, summary, solved, BILINEAR, provenance, supports, pd.DataFrame([check]), CURVE
    )


@pytest.fixture
def figures(tmp_path: Path) -> dict[str, str]:
    paths = {name: tmp_path / f"{name}.png" for name in FIGURES}
    paths["bench_template"] = tmp_path / "bench_template.pdf"
    for path in paths.values():
        path.write_bytes(PIXEL)
    return {name: str(path) for name, path in paths.items()}


class Page(HTMLParser):
    """Tags, attributes and text of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.texts).split())


# Words: fem.movement says which sign is which


@pytest.mark.parametrize(
    ("sign", "words"),
    [
        (1.0, ["extrusion", "distal", "lingual", "distal crown tip", "lingual crown tip"]),
        (-1.0, ["intrusion", "mesial", "buccal", "mesial crown tip", "buccal crown tip"]),
    ],
)
def test_words_match_signs(sign: float, words: list[str]) -> None:
    found = movement_words({key: sign * value for key, value in ANATOMICAL.items()})
    assert [component.word for component in found[:5]] == words
    assert found[5].word == ("mesial-in" if sign > 0 else "mesial-out")
    assert all(component.size > 0 for component in found)


def test_the_leading_parts_are_the_largest_in_size() -> None:
    words = movement_words(ANATOMICAL)
    assert leading(words, "µm").text == "extrusion 2.00 µm"
    assert leading(words, "mrad").text == "distal crown tip 2.06 mrad"


def test_a_load_in_words_on_both_sides_of_the_mouth() -> None:
    """Lower left: mesial −y, buccal +x, occlusal +z. A couple about −x lifts the mesial side up."""
    left = np.array([[0.0, 1, 0], [-1, 0, 0], [0, 0, 1]])
    force, couple = np.array([0.0, 0.1, 0.5]), np.array([-11.0, 0, 0])
    words = [w.word for w in load_words(force, couple, left) if w.size > 0]
    assert words == ["extrusion", "distal", "distal crown tip"]
    # the mirror image turns y and z of axial vectors, but not x
    right = left * np.array([[-1.0], [1], [1]])
    mirrored = [w.word for w in load_words(force, couple, right) if w.size > 0]
    assert mirrored == words


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


def test_the_loads_table_names_parts_and_leaves_out_a_couple_that_is_not_there(
    records: SheetRecords,
) -> None:
    table = loads_table(records.case, records.summary, records.solved)
    rows = {row[0]: row[1:] for row in table.rows}
    assert rows["Force, in parts"] == ("extrusion 0.500 N", "intrusion 0.500 N")
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
    (row, *_) = supports_table(records.supports, records.summary).rows
    assert row[1:4] == ("100 (+1.2 %)", "110 (−0.4 %)", "50.0 (+2.0 %)")
    assert row[4] == "0.40 and 0.41"


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
    assert "100 ± 1.5 % (+1.2 %)" in text
    assert "0.40 and 0.41 ± 0.029 mm" in text
    assert "−12.20 ± 1.1 %" in text  # 1 % of 13.8 kPa
    assert "Mesh error of its stiffness ± <0.01 %" in text
    assert "It says nothing of the ligament" in text


def test_a_failed_check_says_so(records: SheetRecords) -> None:
    failed = records.checks.assign(passed=False)
    assert "passed" in checks_table(records.checks).rows[0]
    assert "FAILED" in checks_table(failed).rows[0]


# The page


def test_the_page_needs_nothing_from_outside(
    records: SheetRecords, figures: dict[str, str]
) -> None:
    html = sheet_html(records, figures)
    page = Page(html)
    for tag, attributes in page.tags:
        assert tag not in {"script", "link", "iframe", "object"}
        for name in ("src", "href", "srcset", "action"):
            value = attributes.get(name)
            assert value is None or value.startswith(("data:", "#")), (tag, value)
    assert not re.search(r"url\(|@import", html)
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
    css = (Path(__file__).resolve().parents[2] / "workflow/report/sheet.css").read_text()
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
        ("<b>x</b>" if name == "molar" else name): unit
        for name, unit in records.summary["units"].items()
    }
    records.case["two_point"]["unit"] = "<b>x</b>"
    html = sheet_html(records, figures)
    assert "<script" not in html
    assert "<b>" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html


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
    assert "0.400 N" in text.split("With friction, letting back")[1][:40]
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
