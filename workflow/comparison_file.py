"""Reading the file of a question: its cases must be there, and each must have its label."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from workflow.case_errors import CaseError, Problem, nearest
from workflow.comparison import Comparison
from workflow.validation import examine
from workflow.yaml_files import reading

CASES = Path("configs/cases")


def load_comparison(path: str | Path, cases: Path = CASES) -> Comparison:
    """Read and check the file of a question.

    Parameters
    ----------
    path
        YAML file.
    cases
        Folder of case files.

    Raises
    ------
    CaseError
        If anything in it is wrong; all problems at once, one line each.
    """
    path = Path(path)
    with reading(path) as content:
        own = {str(name): value for name, value in content.items()}
        found = examine(Comparison, own, str(path), {"question": "-----"})
        problems = list(found.problems)
        if found.rest is not None:
            problems += _problems(found.rest, str(path), cases)
        if problems or found.whole is None:
            raise CaseError(problems)
    return found.whole


def _problems(comparison: Comparison, source: str, cases: Path) -> Iterator[Problem]:
    known = sorted(path.stem for path in cases.glob("*.yaml"))
    for number, name in enumerate(comparison.cases):
        if name not in known:
            text = f"no such case in {cases}; {nearest(name, known)}"
            yield Problem(source, f"cases[{number}]", text, name)
    for key in ("cases", "labels"):
        for name, count in Counter(getattr(comparison, key)).items():
            if count > 1:
                yield Problem(source, key, f"{name} is written {count} times; keep one")
    labels, compared = len(comparison.labels), len(comparison.cases)
    if labels != compared:
        text = f"holds {labels} for {compared} cases; give one for each, in their order"
        yield Problem(source, "labels", text)
