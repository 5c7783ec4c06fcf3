"""Runs that are killed or damaged: nothing lost, nothing wrong in silence, the same bytes again."""

import io
import random

import pandas as pd
import pytest

from tests.campaigns.corruption import FAULTS, may_mount, try_fault
from tests.campaigns.kills import disturbed
from tests.campaigns.runs import REPORT, TARGETS, CoarseProject, different
from tests.project import CASE

CHECKS = f"results/cases/{CASE}/tables/checks.csv"
ERRORS = ["relative_error"]  # of rounding alone where a check is exact
QUICK = (
    "a flipped bit in a table",
    "an emptied record that the plan reads",
    "a flipped bit in a tooth that is read again",
    "another run at work",
    "a disk that is full from the start",
)


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A finished run on coarse meshes, and its tables and seconds as kinds of runs."""
    project = CoarseProject(tmp_path_factory.mktemp("integrity") / "whole")
    status, said, _ = project.run(CHECKS, REPORT)
    assert status == 0, said
    return project


@pytest.mark.parametrize("name", QUICK)
def test_damage_is_named_and_the_named_remedy_mends_it(whole, tmp_path, name):
    (fault,) = (fault for fault in FAULTS if fault.name == name)
    if fault.mounts and not may_mount():
        pytest.skip("no file system may be mounted here")
    record = try_fault(fault, whole, tmp_path)
    assert record["named"], record
    assert record["recovered"], record


def test_a_study_killed_three_times_gives_the_same_tables(tmp_path):
    project = CoarseProject(tmp_path / "undisturbed")
    status, said, seconds = project.run(*TARGETS["study"])
    assert status == 0, said
    reference = {"study": (project.tables(), seconds)}
    record = disturbed(tmp_path, "study", 3, reference, random.Random(1))
    assert record["kills"], "every run ended before it could be killed"
    assert record["passed"], record


def test_tables_are_the_same_bytes_on_one_core_and_on_two(whole, tmp_path):
    two = CoarseProject(tmp_path / "two")
    status, said, _ = two.run(CHECKS, REPORT, cores=2)
    assert status == 0, said
    assert different(two.tables(), whole.tables()) == []


def test_threads_of_the_libraries_change_no_number_by_more_than_1e_9(whole, tmp_path):
    """Snakemake gives its jobs one thread each unless told otherwise."""
    two = CoarseProject(tmp_path / "threads")
    stages = ("tooth_support", "equilibrium", "response", "force_activation")
    threads = [f"{stage}=2" for stage in stages]
    status, said, _ = two.run(CHECKS, "--set-threads", *threads, cores=2)
    assert status == 0, said
    tables, reference = two.tables(), whole.tables()
    assert tables.keys() <= reference.keys()
    for name, content in tables.items():
        new, old = (pd.read_csv(io.BytesIO(c)) for c in (content, reference[name]))
        numbers = old.select_dtypes("number").columns
        pd.testing.assert_frame_equal(new.drop(columns=numbers), old.drop(columns=numbers))
        for column in numbers.difference(ERRORS):
            largest = old[column].abs().max()
            assert new[column].to_numpy() == pytest.approx(
                old[column].to_numpy(), rel=1e-9, abs=1e-9 * largest, nan_ok=True
            ), (name, column)
