import json

import numpy as np
import pytest

from tests.campaigns import random_cases
from tests.campaigns.random_cases import (
    FINDING,
    NAMED,
    SOLVED,
    campaign,
    foreseen,
    imbalance,
    kind_of,
    limited,
    outcome,
    report,
    smallest,
)
from tests.campaigns.sampled_cases import WAYS, accepted, sampled_cases
from workflow.plan import make_plan

COUNT, SEED = 20, 7


@pytest.mark.timeout(600)
def test_random_cases_go_from_file_to_summary_and_on_where_they_ended(tmp_path, monkeypatch):
    output = tmp_path / "two.jsonl"
    first = campaign(1, SEED, output, processes=1, few_teeth=True)
    assert (first["cases"], first["solved"]) == (1, 1)
    again = campaign(2, SEED, output, processes=1, few_teeth=True)
    assert (again["cases"], again["solved"]) == (2, 2)
    assert 0 < again["largest_imbalance"] < 1e-8
    monkeypatch.setattr(random_cases, "outcomes", lambda samples, *_: iter(samples))
    assert campaign(2, SEED, output, processes=1, few_teeth=True)["solved"] == 2


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_random_cases_are_solved_or_fail_for_a_named_reason(tmp_path):
    """Twenty cases on the teeth of one side."""
    output = tmp_path / "few.jsonl"
    summary = campaign(COUNT, SEED, output, few_teeth=True)
    records = [json.loads(line) for line in output.read_text("utf-8").splitlines()]
    assert len(records) == COUNT
    assert [r["traceback"] for r in records if "traceback" in r] == []
    assert summary["findings"] == 0
    assert summary["solved"] >= COUNT - 1
    assert 0 < summary["largest_imbalance"] < 1e-8
    assert summary["teeth_that_could_not_be_made"] == {}


def test_the_same_seed_samples_the_same_cases_whatever_their_number():
    first, more = (list(sampled_cases(n, SEED)) for n in (4, 8))
    assert [s.content for s in first] == [s.content for s in more[:4]]
    assert len({json.dumps(s.content["wire"]) for s in more}) == 8


def test_samples_hold_what_a_case_may_hold():
    samples = list(sampled_cases(60, SEED))
    contents = [sample.content for sample in samples]
    contacts = {"bar", "tied", "peg", "dead_force", "bracket"}
    assert {c["one_point"]["contact"] for c in contents} == contacts
    assert set().union(*(c["wire"]["activation"] for c in contents)) >= set(WAYS)
    for part in ("further", "mirror_image", "missing"):
        assert any(part in c for c in contents)
    assert {tooth // 10 for s in samples for tooth in make_plan(s.case).supports} == {1, 2, 3, 4}


EQUILIBRIUM = {
    "contacts": [
        {"point_mm": [1.0, 0.0, 0.0], "wrench": [0.0, 0.0, 2.0, 0.0, 0.0, 0.0]},
        {"point_mm": [3.0, 0.0, 0.0], "wrench": [0.0, 0.0, -2.0, 0.0, 4.0 * -1, 0.0]},
    ],
    "units": {
        "rear": {"centre_mm": [0.0, 0.0, 0.0], "wrench_at_centre": [0.0, 0.0, 2.0, 0.0, -2.0, 0.0]},
        "front": {"centre_mm": [3.0, 0.0, 0.0], "wrench_at_centre": [0, 0, -2.0, 0.0, -4.0, 0.0]},
    },
}
CASE = {"mirror_image": False, "one_point": {"unit": "front"}}


def test_loads_that_balance_leave_nothing():
    """Two forces a couple apart, and the couple that holds them."""
    assert imbalance(CASE, EQUILIBRIUM) < 1e-15


@pytest.mark.parametrize(("part", "place"), [("contacts", 0), ("units", "front")])
@pytest.mark.parametrize("component", [0, 2, 4])
def test_a_load_that_is_off_is_noticed(part, place, component):
    off = json.loads(json.dumps(EQUILIBRIUM))
    name = "wrench" if part == "contacts" else "wrench_at_centre"
    off[part][place][name][component] += 1e-6
    assert imbalance(CASE, off) > 1e-8


def test_of_two_mirror_image_wires_both_are_counted():
    """A force on each side and both of them between, where sideways parts cancel."""
    side = {"centre_mm": [5.0, 1.0, 2.0], "wrench_at_centre": [0.3, 0.1, 1.0, 0, 0, 0]}
    moment = np.cross(side["centre_mm"], side["wrench_at_centre"][:3])
    both = [0.0, -0.2, -2.0, -2 * moment[0], 0.0, 0.0]
    units = {"rear": side, "front": {"centre_mm": [0.0, 0.0, 0.0], "wrench_at_centre": both}}
    mirrored = CASE | {"mirror_image": True}
    contacts = EQUILIBRIUM["contacts"]
    assert imbalance(mirrored, {"contacts": contacts, "units": units}) < 1e-15
    assert imbalance(CASE, {"contacts": contacts, "units": units}) > 0.1


def raised(call):
    try:
        call()
    except Exception as error:
        return error
    raise AssertionError("nothing was raised")


def test_only_what_our_code_foresaw_is_a_named_reason():
    case = next(iter(sampled_cases(1, SEED))).case
    misplaced = json.loads(json.dumps(case))
    misplaced["wire"]["span_mm"], misplaced["one_point"]["between"] = 79.0, None
    misplaced["one_point"]["tooth"] = None
    ours = raised(lambda: make_plan(misplaced))
    assert isinstance(ours, ValueError)
    assert foreseen(ours)
    assert not foreseen(raised(lambda: np.linalg.inv(np.zeros((2, 2)))))  # also a ValueError
    assert not foreseen(raised(lambda: make_plan({})))


def test_what_takes_too_long_is_stopped_and_is_a_finding(tmp_path, monkeypatch):
    monkeypatch.setattr(random_cases, "MOST_S", 1)

    def endless(*_):
        while True:
            pass

    monkeypatch.setattr(random_cases, "solved", endless)
    found = outcome({"case": "x"}, {}, tmp_path)
    assert (found["outcome"], found["reason"]) == (
        FINDING,
        "TooSlowError: more than 1 s of processor time",
    )
    with limited(5):
        pass


def test_reasons_are_counted_without_their_numbers():
    solved = {"outcome": SOLVED, "imbalance": 1e-12, "processor_s": 1.0}
    failed = [
        {"outcome": NAMED, "reason": f"EquilibriumError: no force at {x} mm", "processor_s": 2.0}
        for x in (3, 4.5e-3)
    ]
    found = report([solved | {"reason": ""}, *failed])
    assert found["reasons"] == {"EquilibriumError: no force at # mm": 2}
    assert found["failure_rate"] == pytest.approx(2 / 3)
    assert kind_of("tooth 37: 1e-8") == "tooth #: #"


def test_a_failing_case_is_cut_down_to_what_fails():
    content = {"a": {"b": 1, "c": [1, 2, {"d": 3}]}, "e": 4, "f": {"g": 5}}
    assert smallest(content, lambda c: c.get("f", {}).get("g") == 5) == {"f": {"g": 5}}


def test_what_validation_refuses_is_no_sample():
    content = next(iter(sampled_cases(1, SEED))).content
    assert accepted(content) is not None
    assert accepted(content | {"units": {}}) is None
