"""From a case to the places of its wire and the specs of its stages."""

from pathlib import Path

import numpy as np
import pytest
import yaml

from workflow.case import CaseError, load_case, resolved, validate_case
from workflow.plan import cantilever_sites, case_run, frames, make_plan, wire_spec
from workflow.selection import CasePlans
from workflow.tooth_specs import support_spec
from workflow.yaml_files import read_mapping

FILE = "configs/cases/lower_molar_uprighting.yaml"


def changed(**parts):
    data = dict(read_mapping(Path(FILE)))
    for key, value in parts.items():
        data[key] = {**data[key], **value} if isinstance(data.get(key), dict) else value
    return resolved(validate_case(data, FILE))


@pytest.fixture(scope="module")
def case():
    return resolved(load_case(FILE))


def test_hook_between_two_brackets(case):
    sites = cantilever_sites(case)
    first, second = (
        cantilever_sites(changed(one_point={"between": None, "tooth": t})).hook for t in (34, 35)
    )
    assert sites.hook == pytest.approx((first + second) / 2)


def test_hook_at_a_tooth_has_a_bar_along_the_arch():
    case = changed(one_point={"between": None, "tooth": 34})
    sites = cantilever_sites(case)
    assert sites.bar == pytest.approx(frames(case)[34].axes[:, 0])


def test_span_places_the_hook(case):
    sites = cantilever_sites(changed(wire={"span_mm": 22.0}))
    assert sites.span_mm == pytest.approx(22.0)
    assert np.linalg.norm(sites.hook - sites.mouths[1]) == pytest.approx(22.0)


def test_a_span_is_measured_along_the_arch_however_teeth_are_listed():
    """The wire runs from bracket to bracket in the order of the arch, not in that of the list."""
    hooks = [
        cantilever_sites(
            changed(
                units={
                    "molar": {"teeth": [37], "role": "target"},
                    "segment": {"teeth": teeth, "role": "anchor"},
                },
                wire={"span_mm": 22.0},
            )
        ).hook
        for teeth in ([35, 34, 33], [33, 34, 35], [34, 33, 35])
    ]
    assert np.ptp(hooks, axis=0) == pytest.approx(0, abs=1e-9)


def test_between_is_not_used_beside_a_span():
    """As DEFAULTS.md has it: neither for the pull nor for the teeth that the wire passes."""
    arch = {"span_mm": 26.0, "along_arch": True, "activation": {"force_gf": 30, "pulls": "buccal"}}
    near, far = (changed(wire=arch, one_point={"between": pair}) for pair in ([34, 35], [33, 34]))
    assert cantilever_sites(near).activation == pytest.approx(cantilever_sites(far).activation)
    tips = [part.feature.arcs() for case in (near, far) for part in case_run(case)]
    assert [arc.length_mm for arc in tips[0]] == pytest.approx([arc.length_mm for arc in tips[1]])


def test_activation_is_upright_and_a_tie_has_no_bar(case):
    assert cantilever_sites(case).activation == pytest.approx([0, 0, 1])
    assert cantilever_sites(changed(one_point={"contact": "tied"})).bar is None


def test_supports_do_not_know_where_their_tooth_stands(case):
    """A tipped tooth, its twin on the other side and another wire share one support."""
    upright = changed(teeth={"37": {"mesial_tip_deg": 0}})
    other_wire = changed(wire={"alloy": "stainless_steel"})
    assert make_plan(upright).supports == make_plan(case).supports == make_plan(other_wire).supports
    mirrored = case | {"teeth": {"47": case["teeth"]["37"]}}
    assert support_spec(case, 37) == support_spec(mirrored, 47)
    assert make_plan(other_wire).wire != make_plan(case).wire


def test_supports_know_shape_bone_and_ligament(case):
    """Whatever changes the support names another stage; other teeth keep theirs."""
    plain = make_plan(case).supports
    sides = {"mesial_mm": 3, "distal_mm": 1, "buccal_mm": 2, "lingual_mm": 2}
    for own in (
        {"dimensions": {"root_length_mm": 12}},
        {"crest_depth_mm": 3},
        {"crest_by_side_mm": sides},
    ):
        other = make_plan(changed(teeth={"37": own})).supports
        assert other[37] != plain[37]
        assert other[35] == plain[35]
    profiled = make_plan(changed(ligament={"profile_mm": [0.2, 0.14, 0.19]})).supports
    assert not set(profiled.values()) & set(plain.values())


def test_shape_and_place_move_the_attachments(case):
    """A longer crown carries its tube higher; a shift moves it along the tooth's own axes."""
    middle = cantilever_sites(case).tube_middle
    longer = cantilever_sites(
        changed(teeth={"37": {"mesial_tip_deg": 25, "dimensions": {"crown_bl_mm": 12}}})
    ).tube_middle
    buccal = frames(case)[37].axes[:, 1]
    assert (longer - middle) @ buccal == pytest.approx(1.0)  # half of 12 − 10 mm
    shifted = changed(teeth={"37": {"mesial_tip_deg": 25, "buccal_mm": -2}})
    assert frames(shifted)[37].origin - frames(case)[37].origin == pytest.approx(-2 * buccal)


def test_wire_does_not_know_its_activation(case):
    assert wire_spec(changed(wire={"activation": {"offset_mm": 3}})) == wire_spec(case)


def test_a_bar_across_the_wire_is_refused(tmp_path):
    """Held lengthwise at both ends a wire buckles: the hook's bar must run along it."""
    data = yaml.safe_load(Path(FILE).read_text(encoding="utf-8"))
    data |= {"case": "across", "missing": [36, 35, 34, 33]}
    data["units"] = {
        "molar": {"teeth": [37], "role": "target"},
        "incisors": {"teeth": [32, 31], "role": "anchor"},
    }
    data["teeth"][31] = {"mesial_in_deg": 50}
    data["one_point"] = {"unit": "incisors", "tooth": 31}
    path = tmp_path / "across.yaml"
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    with pytest.raises(CaseError, match="the wire would meet the bar at"):
        CasePlans(tmp_path, "across")
    data["one_point"]["contact"] = "tied"
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    assert CasePlans(tmp_path, "across").chosen == ("across",)
