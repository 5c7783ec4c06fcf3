"""Refusals of a wire, its run and its contacts: one line with file, key, value and remedy."""

import copy
from pathlib import Path
from typing import Any

import pytest
import yaml

from workflow.case import CaseError, validate_case
from workflow.study import load_support_study
from workflow.wire_study import load_wire_study

ROOT = Path(__file__).resolve().parents[2]
GOOD = ROOT / "configs" / "cases" / "lower_molar_uprighting.yaml"
STUDIES = ROOT / "configs" / "studies"

JOINING = {"alloy": "stainless_steel", "section": "rectangular_0.019x0.025_in"}
PEG, TIED, BAR = ({"contact": contact} for contact in ("peg", "tied", "bar"))


def case(*, wire: Any = None, one_point: Any = None, two_point: Any = None) -> dict[str, Any]:
    """The good case with some values of three parts changed."""
    data = copy.deepcopy(yaml.safe_load(GOOD.read_text(encoding="utf-8")))
    for name, values in (("wire", wire), ("one_point", one_point), ("two_point", two_point)):
        data[name] |= values or {}
    return data


def complaint(data: dict[str, Any]) -> str:
    with pytest.raises(CaseError) as caught:
        validate_case(data, "x.yaml", GOOD.stem)
    return str(caught.value)


def run(**part: Any) -> dict[str, Any]:
    return {"run": [{"straight_mm": 3}, part]}


POINTS = {"points_mm": [[30.0, 20.0, 5.0]]}
REFUSED: dict[str, tuple[dict[str, Any], str, list[str]]] = {
    "run and along the arch": (
        {"wire": run(straight_mm=3) | {"along_arch": True}},
        "wire",
        ["give one of run and along_arch, not both"],
    ),
    "run and given places": (
        {"wire": run(straight_mm=3) | {"through": POINTS}},
        "wire",
        ["give one of run and through, not both"],
    ),
    "two things in one part": (
        {"wire": run(straight_mm=3, bend={"angle_deg": 30})},
        "wire.run[1]",
        ["give exactly one of straight_mm, bend", "found straight_mm and bend"],
    ),
    "nothing in a part": ({"wire": run()}, "wire.run[1]", ["give exactly one of", "found none"]),
    "half a turn": (
        {"wire": run(helix={"turns": 1.5})},
        "wire.run[1].helix",
        ["turns must be a whole number"],
    ),
    "no turn": (
        {"wire": run(helix={"turns": 0})},
        "wire.run[1].helix.turns = 0",
        ["must be more than 0 and at most 9"],
    ),
    "side that no tooth has": (
        {"wire": run(bend={"angle_deg": 30, "towards": "gingivally"})},
        "wire.run[1].bend.towards = 'gingivally'",
        ["did you mean gingival?"],
    ),
    "kind of part that is unknown": (
        {"wire": run(uloop={"height_mm": 6})},
        "wire.run[1].uloop",
        ["unknown key; did you mean u_loop?"],
    ),
    "corners too large for the loop": (
        {"wire": run(u_loop={"height_mm": 6, "width_mm": 1.5, "radius_mm": 1})},
        "wire.run[1]",
        ["corners of radius 1 mm do not fit leg 2", "the largest radius that fits is 0.75 mm"],
    ),
    "head higher than its loop": (
        {
            "wire": run(
                t_loop={"height_mm": 4, "head_width_mm": 8, "head_height_mm": 5, "gap_mm": 1.5}
            )
        },
        "wire.run[1]",
        ["loop with legs of -1,"],
    ),
    "step too short for its bends": (
        {"wire": run(step={"offset_mm": 2, "length_mm": 1, "radius_mm": 1})},
        "wire.run[1]",
        ["radius 1 mm does not fit a step of 2 mm over 1 mm", "largest that fits is 0.625 mm"],
    ),
    "friction at a tie": (
        {"one_point": TIED | {"friction": 0.1}},
        "one_point.friction = 0.1",
        ["is not computed at contact tied; drop it, or use bar or peg"],
    ),
    "friction of a pull": (
        {"one_point": {"contact": "dead_force", "friction": 0.1}},
        "one_point.friction = 0.1",
        ["is not computed at contact dead_force"],
    ),
    "play and a peg": (
        {"one_point": PEG, "two_point": {"attachment": "tube_0.022x0.028_in"}},
        "two_point.attachment = 'tube_0.022x0.028_in'",
        ["not computed together with contact peg", "use contact bar or tied"],
    ),
    "wire that does not enter its tube": (
        {
            "wire": {"section": "rectangular_0.021x0.025_in"},
            "two_point": {"attachment": "tube_0.018x0.025_in"},
        },
        "two_point.attachment = 'tube_0.018x0.025_in'",
        ["wire height 0.533 mm does not enter a slot height of 0.457 mm", "smaller wire.section"],
    ),
    "attachment that is unknown": (
        {"two_point": {"attachment": "tub_0.022x0.028_in"}},
        "two_point.attachment = 'tub_0.022x0.028_in'",
        ["attachments.yaml; did you mean tube_0.022x0.028_in?"],
    ),
    "couple and force": (
        {"wire": {"activation": {"couple_Nmm": 10, "force_N": 0.4}}},
        "wire.activation",
        ["give exactly one of", "found couple_Nmm and force_N"],
    ),
    "force in two units": (
        {"wire": {"activation": {"force_gf": 40, "force_N": 0.4}}},
        "wire.activation",
        ["found force_N and force_gf"],
    ),
    "force with its unit": (
        {"wire": {"activation": {"force_N": "40 gf"}}},
        "wire.activation.force_N = '40 gf'",
        ["the key already carries the unit N; write the value in N"],
    ),
    "trial shorter than the way": (
        {"wire": {"activation": {"offset_mm": 4, "trial_share": 0.9}}},
        "wire.activation.trial_share = 0.9",
        ["must be at least 1 and at most 2"],
    ),
    "trial of a wire that stays elastic": (
        {"wire": {"inelastic": False, "activation": {"offset_mm": 4, "trial_share": 1.2}}},
        "wire.activation.trial_share = 1.2",
        ["changes nothing with wire.inelastic: false", "drop one of them"],
    ),
    "trial over a peg": (
        {"one_point": PEG, "wire": {"activation": {"offset_mm": 4, "trial_share": 1.2}}},
        "wire.activation.trial_share = 1.2",
        ["changes nothing with one_point.contact: peg"],
    ),
    "span and tooth": (
        {"one_point": {"between": None, "tooth": 34}, "wire": {"span_mm": 20}},
        "wire.span_mm = 20.0",
        ["so does one_point.tooth; drop one of them"],
    ),
    "place of two numbers": (
        {"wire": {"through": {"points_mm": [[30.0, 20.0]]}}},
        "wire.through.points_mm[0][2]",
        ["missing; add it"],
    ),
    "place in words": (
        {"wire": {"through": {"points_mm": [[30.0, 20.0, "5 mm"]]}}},
        "wire.through.points_mm[0][2] = '5 mm'",
        ["the key already carries the unit; write 5"],
    ),
    "no places": (
        {"wire": {"through": {"points_mm": []}}},
        "wire.through.points_mm = []",
        ["must hold at least 1, holds 0"],
    ),
}


@pytest.mark.parametrize(("change", "key", "fragments"), REFUSED.values(), ids=REFUSED.keys())
def test_refused_in_one_line(change: dict[str, Any], key: str, fragments: list[str]) -> None:
    text = complaint(case(**change))
    assert len(text.splitlines()) == 1
    assert text.startswith((f"x.yaml: {key}: ", f"x.yaml: {key} = "))
    for fragment in fragments:
        assert fragment in text


@pytest.mark.parametrize(
    "change",
    [
        {"wire": run(helix={"turns": 2.0})},
        {"wire": run(u_loop={"height_mm": 6, "width_mm": 2, "radius_mm": 1})},
        {"one_point": BAR | {"friction": 0.1}, "two_point": {"attachment": "tube_0.022x0.028_in"}},
        {"one_point": PEG | {"friction": 0.1}},
        {"one_point": TIED, "two_point": {"attachment": "tube_0.022x0.028_in"}},
        {"wire": {"along_arch": True, "run": []}},
    ],
)
def test_what_goes_together_is_not_refused(change: dict[str, Any]) -> None:
    validate_case(case(**change), "x.yaml", GOOD.stem)


# --- the course of movement --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("part", "values", "key", "fragment"),
    [
        ("two_point", {"attachment": "tube_0.022x0.028_in"}, "course", "two_point.attachment"),
        ("one_point", PEG, "course", "one_point.contact: peg"),
        ("one_point", {"friction": 0.1}, "course", "one_point.friction"),
        ("wire", {"activation": {"force_gf": 10}}, "course.force_floor_gf = 10.0", "10 gf"),
    ],
)
def test_a_course_that_is_not_computed_is_refused(
    part: str, values: dict[str, Any], key: str, fragment: str
) -> None:
    data = case(**{part: values}) | {"course": {"force_floor_gf": 10}}
    text = complaint(data)
    assert len(text.splitlines()) == 1
    assert text.startswith((f"x.yaml: {key}: ", f"x.yaml: {key} = "))
    assert fragment in text


@pytest.mark.parametrize(
    ("molar", "segment", "fragment"),
    [
        ({}, {"joined_by": JOINING}, "units.segment.joined_by"),
        ({"support": "fixed"}, {"support": "fixed"}, "no unit can move"),
    ],
)
def test_a_course_of_units_that_do_not_move_as_bodies_is_refused(
    molar: dict[str, Any], segment: dict[str, Any], fragment: str
) -> None:
    data = case() | {"course": {}}
    data["units"]["molar"] |= molar
    data["units"]["segment"] |= segment
    assert fragment in complaint(data)


def test_a_span_to_a_single_tooth_is_refused() -> None:
    """There is no wire between two teeth on which it could place the hook."""
    data = case(wire={"span_mm": 20}, one_point={"between": None})
    data["units"]["segment"]["teeth"] = [35]
    assert "give one_point.tooth: 35 instead" in complaint(data)


# --- ranges of numbers inside lists ------------------------------------------------------------


BRACKET = {"contact": "bracket", "between": None, "tooth": 34}


@pytest.mark.parametrize(
    ("change", "key", "fragment"),
    [
        ({"one_point": {"contact": "bracket"}}, "one_point.tooth", "missing; contact bracket is"),
        (
            {"one_point": {"bracket_width_mm": 3.0}},
            "one_point.bracket_width_mm = 3.0",
            "says nothing at contact bar; drop it, or write contact: bracket",
        ),
        (
            {"one_point": BRACKET, "two_point": {"attachment": "tube_0.018x0.025_in"}},
            "two_point.attachment",
            "play is not computed together with contact bracket",
        ),
        (
            {"one_point": BRACKET | {"friction": 0.1}},
            "one_point.friction = 0.1",
            "is not computed at contact bracket",
        ),
    ],
)
def test_a_bracket_that_is_not_computed_is_refused(
    change: dict[str, Any], key: str, fragment: str
) -> None:
    text = complaint(case(**change))
    assert f"x.yaml: {key}" in text
    assert fragment in text


def test_a_course_of_two_couples_is_refused() -> None:
    data = case(one_point=BRACKET) | {"course": {}}
    assert "course: is not computed with one_point.contact: bracket" in complaint(data)


def test_range_of_a_number_in_a_list_is_told() -> None:
    data = case()
    data["limits"] = {"force_range_gf": [-15, 75]}
    text = complaint(data)
    assert "limits.force_range_gf[0] = -15: out of range" in text
    assert text.endswith("must be more than 0 and at most 2000 gf")


@pytest.mark.parametrize(
    ("name", "old", "new", "message"),
    [
        ("wires", "0.3, 0.4]", "0.3, 0.6]", "[5] = 0.6: out of range; must be more than 0 and at "),
        ("wires", "bent_span_over_height: ", "bent_span_over_height: -", "must be at least 10 and"),
        ("supports", "measured_um: [", "measured_um: [-", "more than 0 and at most 5000 µm"),
    ],
)
def test_range_of_a_number_in_a_study_is_told(
    tmp_path: Path, name: str, old: str, new: str, message: str
) -> None:
    text = (STUDIES / f"{name}.yaml").read_text(encoding="utf-8")
    assert old in text
    wrong = tmp_path / "study.yaml"
    wrong.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        {"wires": load_wire_study, "supports": load_support_study}[name](wrong)
    assert message in str(caught.value)
    assert not str(caught.value).endswith("must be")


def test_a_word_of_another_kind_gets_all_choices_not_a_false_friend() -> None:
    text = complaint(case(wire={"activation": {"offset_mm": 4, "pulls": "gingival"}}))
    assert "known: apical, occlusal, buccal, lingual" in text
    assert "did you mean" not in text
