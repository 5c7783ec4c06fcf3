"""Every mistake of the corpus is refused in the words that stand beside it."""

from collections import Counter
from pathlib import Path

import pytest

from tests.corpus.entries import CONFIGS, entries, refusal

ENTRIES = entries()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An empty project, in which the workflow would be run."""
    project = tmp_path / "project"
    project.mkdir()
    (project / "configs").symlink_to(CONFIGS)
    return project


@pytest.mark.filterwarnings("ignore")  # of VTK, which reads scans of no numbers
@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.name)
def test_a_mistake_is_told_with_its_remedy(entry, folder):
    assert refusal(entry, folder) == entry.given["says"]


def test_the_mistakes_are_many_and_different():
    kinds = Counter(entry.kind for entry in ENTRIES)
    assert len({entry.name for entry in ENTRIES}) == len(ENTRIES) >= 150
    assert set(kinds) == {
        "case", "text", "scan", "study", "search", "choice", "comparison", "catalogue",
        "figures",
    }  # fmt: skip
    assert len({tuple(entry.given["says"]) for entry in ENTRIES}) >= 200
