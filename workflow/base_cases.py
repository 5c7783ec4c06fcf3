"""The base case that a study or a search names."""

from __future__ import annotations

from pathlib import Path

from workflow.case import Case, load_case
from workflow.case_errors import CaseError, Problem, nearest


def base_case_of(name: str, source: str, cases: Path) -> tuple[Case | None, list[Problem]]:
    """Read a base case.

    Parameters
    ----------
    name
        Name of a file in `cases`, without suffix.
    source
        File that names it.
    cases
        Folder of case files.

    Returns
    -------
    tuple
        The case, None if it is not there or wrong; and what to say.
    """
    path = cases / f"{name}.yaml"
    if not path.is_file():
        known = sorted(file.stem for file in cases.glob("*.yaml"))
        text = f"no such file {path}; {nearest(name, known)}"
        return None, [Problem(source, "case", text, name)]
    try:
        return load_case(path), []
    except CaseError as error:
        return None, list(error.problems)
