"""A small part of the campaign of wrong files, and that its judge sees what it is to see."""

from pathlib import Path

import pytest

from tests.campaigns import judge
from tests.campaigns.fuzz import Summary, campaign, draws
from tests.campaigns.solve import meshed
from workflow.case import load_case, resolved
from workflow.case_errors import CaseError, Problem

FOLDERS = ("", "cases", "catalogue", "choices", "comparisons", "searches", "studies")
BY_PROGRAMS = {Path("configs/catalogue/mesh_error.yaml")}


def test_three_hundred_wrong_files_are_refused_in_form_or_carried_on():
    summary = campaign(count=300, seed=7, solve_share=0.1)
    assert not summary.faults
    outcomes = {outcome for _, outcome in summary.counts}
    assert {"refused", "accepted"} <= outcomes
    assert summary.slowest[0] < judge.SLOWEST_S


def test_every_kind_of_file_that_a_user_writes_is_tried(tmp_path, monkeypatch):
    """And what is tried is right now and then, so that it is carried on."""
    kinds = sorted(judge.KINDS)
    written = {path for folder in FOLDERS for path in Path("configs", folder).glob("*.yaml")}
    assert {path for _, path in judge.shipped()} == written - BY_PROGRAMS
    with_scans = Path("results/scans").exists()
    summary = campaign(count=12 * len(kinds), seed=5, kinds=kinds)
    assert not summary.faults
    for kind in kinds:
        assert summary.counts[kind, "refused"], kind
    assert sum(n for (_, outcome), n in summary.counts.items() if outcome == "accepted") > 20
    assert Path("results/scans").exists() == with_scans


def test_a_mesh_that_fails_without_a_reason_is_a_fault(monkeypatch):
    found = Summary()
    case = resolved(load_case("configs/cases/lower_molar_uprighting.yaml"))
    for error in (ValueError("the root is too thin"), ZeroDivisionError("no reason")):
        monkeypatch.setattr("tests.campaigns.solve.build_mesh", raising(error))
        found.tried(1, "case", ["vary"], *meshed(case, 1))
    assert found.solutions == {"no mesh": 1, "input": 1}
    (fault,) = found.faults
    assert "ZeroDivisionError" in fault["note"]


def raising(error):
    def build(spec):
        raise error

    return build


def test_files_of_a_seed_are_the_same_every_time():
    one, other = (list(draws(20, 3)) for _ in range(2))
    assert one == other
    assert one[7] == next(draws(20, 3, only=7))
    assert one != list(draws(20, 4))


@pytest.mark.parametrize(
    ("problem", "lacks"),
    [
        (Problem("x.yaml", "wire.span_mm", "must be less", 3, line=4), "no file"),
        (Problem("FILE", "wire.span_mm", "must be less", 3), "no line"),
        (Problem("FILE", "wire.span_mm", "is wrong", 3, line=4), "no remedy"),
        (Problem("FILE", "", "must be less", line=4), "no key"),
    ],
)
def test_the_judge_sees_a_message_that_lacks_something(tmp_path, monkeypatch, problem, lacks):
    path = tmp_path / "case.yaml"
    path.write_text("wire:\n  span_mm: 3\n", encoding="utf-8")
    source = str(path) if problem.source == "FILE" else problem.source
    told = Problem(source, problem.key, problem.message, problem.value, problem.line)

    def refuse(_: Path) -> None:
        raise CaseError([told])

    monkeypatch.setitem(judge.KINDS, "case", (refuse, lambda found: ""))
    verdict = judge.judged("case", path)
    assert verdict.outcome == "form"
    assert verdict.note.startswith(lacks)


def test_the_judge_sees_what_is_raised_and_what_comes_too_late(tmp_path, monkeypatch):
    path = tmp_path / "case.yaml"
    monkeypatch.setitem(judge.KINDS, "case", (lambda p: {}["x"], lambda found: ""))
    assert judge.judged("case", path).outcome == "traceback"
    monkeypatch.setitem(judge.KINDS, "case", (lambda p: 1, lambda found: "no such cases"))
    assert judge.judged("case", path).outcome == "late"
    monkeypatch.setattr(judge, "SLOWEST_S", -1.0)
    assert judge.judged("case", path).outcome == "slow"
