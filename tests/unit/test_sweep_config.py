"""Files of parameter studies: what is read from them, and every refusal in words."""

import copy
from codecs import BOM_UTF8
from pathlib import Path

import pytest

from tests.sweeps import SMALL, written
from workflow.case import CaseError, load_case
from workflow.sweep_config import STUDIES, load_parameter_study, study_names
from workflow.sweep_keys import changed, field_at, known_keys
from workflow.sweep_responses import known_responses, responses
from workflow.yaml_files import read_mapping

CASES = Path("configs/cases")


def refusal(folder, **changes):
    with pytest.raises(CaseError) as caught:
        load_parameter_study(written(folder, **changes))
    return str(caught.value)


def factor(**parts):
    return [SMALL["factors"][0], parts]


@pytest.mark.parametrize("name", study_names())
def test_shipped_studies_are_read(name):
    assert load_parameter_study(STUDIES / f"{name}.yaml").study.study == name


def test_only_files_with_factors_are_parameter_studies():
    assert {"molar_uprighting", "anchor_size", "ligament"} <= set(study_names())
    assert not {"supports", "wires", "simplified"} & set(study_names())


def test_a_study_is_known_by_its_factors_whichever_programme_saved_it(tmp_path):
    """Else it would be left out in silence."""
    ends = {"plain": "\n", "both": "\r\n", "returns": "\r"}
    for name, end in ends.items():
        text = f"study: {name}{end}factors: []{end}"
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8", newline="")
    (tmp_path / "marked.yaml").write_bytes(2 * BOM_UTF8 + b"factors: []\n")
    (tmp_path / "other.yaml").write_bytes(b"study: other\nteeth: {factors: 1}\n# factors: none\n")
    assert set(study_names(tmp_path)) == {*ends, "marked"}


def test_choices_of_levels_and_ranges(tmp_path):
    study = load_parameter_study(written(tmp_path)).study
    assert [c.shown for c in study.factors[0].choices] == ["beta_titanium", "stainless_steel"]
    assert [c.shown for c in study.factors[1].choices] == [18.0, 21.0, 24.0]
    assert study.factors[1].choices[1].values == {"wire.span_mm": 21.0}


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        ({"name": "x", "key": "wire.aloy", "levels": ["a"]}, "did you mean wire.alloy?"),
        ({"name": "x", "key": "units.segmnt.teeth", "levels": [[35]]}, "units.segment.teeth?"),
        ({"name": "x_mm", "key": "wire.span", "levels": [20]}, "did you mean wire.span_mm?"),
        ({"name": "x", "key": "further.contact", "levels": ["bar"]}, "no such key in a case"),
        ({"name": "span", "key": "wire.span_mm", "levels": [20]}, "write span_mm"),
        ({"name": "force_N", "key": "wire.inelastic", "levels": [True]}, "another column"),
        ({"name": "s", "key": "wire.section", "levels": ["round_0.016"]}, "round_0.016_in?"),
        ({"name": "s_mm", "key": "wire.span_mm", "levels": [20, 90]}, "at most 80 mm"),
        ({"name": "s_mm", "key": "wire.span_mm", "levels": [20, 20.0]}, "written twice"),
        ({"name": "s_mm", "key": "wire.span_mm", "uniform": [20, 90]}, "at most 80 mm"),
        ({"name": "s_mm", "key": "wire.span_mm", "uniform": [20, 30]}, "has no levels"),
        ({"name": "s_mm", "key": "wire.span_mm"}, "give exactly one of levels, range"),
        ({"name": "s", "key": "wire.alloy", "levels": ["beta_titanium"]}, "cannot be set beside"),
        ({"name": "t", "key": "title", "levels": ["a", "b"]}, "no value of a run"),
        ({"name": "s", "levels": [{"label": "a", "values": {}}]}, "values must hold keys"),
        ({"name": "s", "levels": [1, 2]}, "give key, or levels that are all"),
    ],
)
def test_a_wrong_factor_is_refused_with_a_remedy(tmp_path, parts, message):
    text = refusal(tmp_path, factors=factor(**parts))
    assert message in text
    assert "small.yaml: " in text


def test_keys_of_which_a_case_holds_one_are_not_set_by_two_factors(tmp_path):
    hook = {"name": "hook", "key": "one_point.tooth", "levels": [33, 34]}
    text = refusal(tmp_path, factors=[*SMALL["factors"], hook])
    assert "one_point.tooth cannot be set beside" in text


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("force", "did you mean force_N?"),
        ("resistance_mesiodistal_share_36", "did you mean"),
        ("target_extrusion_mm", "did you mean target_extrusion_um?"),
    ],
)
def test_a_wrong_response_is_refused_with_a_remedy(tmp_path, name, message):
    assert message in refusal(tmp_path, responses=["force_N", name])


def test_a_case_of_two_targets_has_no_target_response(tmp_path):
    text = refusal(tmp_path, case="lower_canine_and_molar", responses=["target_extrusion_um"])
    assert "2 units of role target; begin with two_point or one_point" in text


def test_all_problems_are_named_at_once(tmp_path):
    wrong = factor(name="x", key="wire.aloy", levels=["a"])
    text = refusal(tmp_path, study="other", factors=wrong, responses=["force"])
    assert len(text.splitlines()) == 3


def test_unknown_designs_and_keys_are_refused(tmp_path):
    assert "did you mean grid?" in refusal(tmp_path, design="gird")
    assert "did you mean factors?" in refusal(tmp_path, factor=[])
    assert "exactly one of" in refusal(tmp_path, design={})
    asked = {"latin_hypercube": {"runs": 1, "seed": 0}}
    assert "at least 2" in refusal(tmp_path, design=asked)


def test_every_known_key_leads_to_a_field():
    case = load_case(CASES / "lower_molar_uprighting.yaml")
    keys = known_keys(case)
    assert {"wire.alloy", "units.segment.teeth", "teeth.37.mesial_tip_deg"} <= set(keys)
    assert all(field_at(path) is not None for path in keys)
    assert field_at("teeth.37.dimensions.root_length_mm") is not None


def test_a_change_drops_the_alternatives_of_the_base_case():
    content = read_mapping(CASES / "lower_molar_uprighting.yaml")
    before = copy.deepcopy(content)
    new = changed(content, {"wire.span_mm": 20, "wire.activation.offset_mm": 3})
    assert new["one_point"] == {"unit": "segment"}
    assert new["wire"]["activation"] == {"offset_mm": 3}
    assert content == before
    tipped = changed(content, {"teeth.37.mesial_tip_deg": 10, "teeth.35.buccal_mm": 1})
    assert tipped["teeth"] == {"37": {"mesial_tip_deg": 10}, "35": {"buccal_mm": 1}}


def test_names_of_responses_end_with_their_unit():
    known = list(known_responses([37]))
    units = ("_N", "_gf", "_Nmm", "_gfmm", "_MPa", "_mm", "_um", "_mrad", "_kPa", "_ratio")
    assert all(r.name.endswith(units) or "_share_" in r.name for r in known)
    assert len({r.name for r in known}) == len(known)
    assert [r.name for r in responses(["couple_Nmm", "force_N"])] == ["couple_Nmm", "force_N"]
