"""Reading the YAML files that a user writes: every problem with its line, never a traceback."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

import yaml

from workflow.case_errors import CaseError, Problem
from workflow.yaml_nodes import Parsed, parse

MAX_BYTES = 256 * 1024
_BYTE_ORDER_MARK = "\ufeff"  # one for each programme that saved the file so
_LOOK = "look there and in the line above for a missing colon, bracket or quote, or a wrong indent"
_REMEDIES = {
    "'\\t'": "indent with spaces, not with tabs",
    "mapping values are not allowed": "put text that holds a colon in quotes, and a space after "
    "each colon",
    "another document": "keep one file a document, without a line ---",
    "more than": "flatten it: no file here nests so deeply",
    "undefined alias": "aliases are not accepted; write the value out",
    "duplicate anchor": "anchors (&name) are not accepted; drop them",
    "unknown escape": "write text with backslashes in single quotes, or with /",
    "tag": "tags (!name) are not accepted; write the value alone, or in quotes",
    "'%'": "put text that begins with % in quotes",
    "'@'": "put text that begins with @ in quotes",
    "'`'": "put text that begins with ` in quotes",
}


def read_mapping(path: Path) -> dict[Any, Any]:
    """Read one YAML file whose top level is a mapping.

    Parameters
    ----------
    path
        File of at most 256 KiB, UTF-8.

    Returns
    -------
    dict
        The content, as plain Python values.

    Raises
    ------
    CaseError
        If the file cannot be read, is too large, is not YAML, is empty, repeats a key or is not a
        mapping.
    """
    with reading(path) as content:
        return content


@contextmanager
def reading(path: Path) -> Iterator[dict[Any, Any]]:
    """Content of a YAML file, while it is being checked.

    Problems of the file that are raised inside are given the line of their key, and go together
    with what is wrong with the YAML itself.

    Raises
    ------
    CaseError
        As `read_mapping`, and with every problem raised inside.
    """
    parsed = _parsed(path)
    found = [Problem(str(path), f.key, f.message, line=f.line) for f in parsed.faults]
    try:
        yield parsed.content
    except CaseError as error:
        later = [_located(problem, path, parsed.lines) for problem in error.problems]
        found += [p for p in later if not any(_beneath(p, fault) for fault in found)]
    if found:
        raise CaseError(sorted(found, key=lambda problem: problem.line or MAX_BYTES)) from None


def _beneath(problem: Problem, fault: Problem) -> bool:
    """Whether a problem is but a consequence: it lies at or below a value that was left out."""
    same = problem.source == fault.source and problem.key.startswith(fault.key)
    return same and problem.key[len(fault.key) :][:1] in ("", ".", "[")


def _located(problem: Problem, path: Path, lines: Mapping[str, int]) -> Problem:
    """Problem with the line of its key, or of the innermost part that the file holds."""
    key = problem.key
    if problem.source != str(path) or problem.line is not None:
        return problem
    while key and key not in lines:
        key = key[: max(key.rfind("."), key.rfind("["), 0)]
    return replace(problem, line=lines.get(key))


def _parsed(path: Path) -> Parsed:
    text = _read_text(path)
    try:
        parsed = parse(text)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        place = f"line {mark.line + 1}, column {mark.column + 1}" if mark else ""
        raise _refusal(path, f"not valid YAML: {_in_words(error)}", place) from None
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        code = error.character if isinstance(error.character, int) else ord(error.character)
        sign = f"the sign U+{code:04X}"
        message = f"not valid YAML: holds {sign}, which no text should; delete it"
        raise _refusal(path, message, f"line {line}") from None
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        first_line = str(error).splitlines()[0]
        raise _refusal(path, f"not valid YAML: {first_line}; {_LOOK}") from None
    if not parsed.content and not parsed.faults:
        raise _refusal(path, "the file is empty; copy one of its kind from configs and change it")
    if not isinstance(parsed.content, dict):
        kind = "a list" if isinstance(parsed.content, list) else "a single value"
        raise _refusal(path, f"holds {kind}; it must hold keys with values, as `case: my_case`")
    return parsed


def _in_words(error: yaml.MarkedYAMLError) -> str:
    problem = str(error.problem)
    known = (remedy for sign, remedy in _REMEDIES.items() if sign in problem)
    begun = error.context_mark
    since = f", in what began in line {begun.line + 1}" if begun and error.problem_mark else ""
    return f"{problem}{since}; {next(known, _LOOK)}"


def _read_text(path: Path) -> str:
    try:
        if path.is_dir():
            raise _refusal(path, "is a folder; name a .yaml file in it")
        if path.exists() and not path.is_file():
            raise _refusal(path, "is a device or a pipe; name a .yaml file")
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise _refusal(path, "no such file; check the folder and the spelling") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _refusal(path, f"cannot be read: {reason}; check its name and its rights") from None
    if len(raw) > MAX_BYTES:
        text = f"larger than {MAX_BYTES // 1024} KiB, which no file of settings is; name another"
        raise _refusal(path, text)
    try:
        text = raw.decode("utf-8").lstrip(_BYTE_ORDER_MARK)
    except UnicodeDecodeError as error:
        line = len((raw[: error.start] + b".").splitlines())
        text = "not a UTF-8 text file; save it as UTF-8"
        raise _refusal(path, text, f"line {line}") from None
    return StringIO(text, newline=None).read()  # line ends of other systems become plain ones


def _refusal(path: Path, message: str, place: str = "") -> CaseError:
    return CaseError([Problem(str(path), place, message)])
