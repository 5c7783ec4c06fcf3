"""Reading the YAML files that a user writes, with one clear error instead of a traceback."""

import re
from collections.abc import Hashable
from pathlib import Path
from typing import Any

import yaml

from workflow.case_errors import CaseError, Problem

MAX_BYTES = 256 * 1024


class _PlainLoader(yaml.SafeLoader):
    """Safe loader with the number rules of YAML 1.2, unique keys and no aliases.

    YAML 1.1 would read ``037`` as thirty-one and ``1e3`` as text: silent mistakes here.
    """

    def compose_node(self, parent: Any, index: Any) -> Any:
        if self.check_event(yaml.AliasEvent):
            raise yaml.composer.ComposerError(
                None, None, "aliases (*name) are not accepted; write the value out",
                self.peek_event().start_mark,
            )  # fmt: skip
        return super().compose_node(parent, index)

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Hashable, Any]:
        seen: set[str] = set()
        for key_node, _ in node.value:
            key = self.construct_object(key_node, deep=True)
            if not isinstance(key, str | int | float):
                raise _error(key_node, "a key must be a word or a number")
            if str(key) in seen:
                raise _error(key_node, f"key {key} is written twice; keep one")
            seen.add(str(key))
        return super().construct_mapping(node, deep)


def _error(node: yaml.Node, text: str) -> yaml.constructor.ConstructorError:
    return yaml.constructor.ConstructorError(None, None, text, node.start_mark)


def _resolvers() -> dict[str, list[tuple[str, re.Pattern[str]]]]:
    kept = {
        first: [(tag, rule) for tag, rule in rules if tag.rsplit(":", 1)[-1] in {"null", "bool"}]
        for first, rules in yaml.SafeLoader.yaml_implicit_resolvers.items()
    }
    number = re.compile(r"[-+]?[0-9]+$")
    real = re.compile(
        r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?$|[-+]?\.inf$|\.nan$", re.I
    )
    for first in "-+.0123456789":
        rules = kept.setdefault(first, [])
        rules.append(("tag:yaml.org,2002:int", number))
        rules.append(("tag:yaml.org,2002:float", real))
    return kept


_PlainLoader.yaml_implicit_resolvers = _resolvers()
_PlainLoader.add_constructor("tag:yaml.org,2002:int", lambda loader, node: int(node.value))


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
    text = _read_text(path)
    try:
        data = yaml.load(text, Loader=_PlainLoader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark
        place = f"line {mark.line + 1}, column {mark.column + 1}" if mark else ""
        raise _refusal(path, f"not valid YAML: {error.problem}", place) from None
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        first_line = str(error).splitlines()[0]
        raise _refusal(path, f"not valid YAML: {first_line}") from None
    if data is None:
        raise _refusal(path, "the file is empty; copy one from configs/cases and change it")
    if not isinstance(data, dict):
        kind = "a list" if isinstance(data, list) else "a single value"
        raise _refusal(path, f"holds {kind}; it must hold keys with values, as `case: my_case`")
    return data


def _read_text(path: Path) -> str:
    try:
        if path.is_dir():
            raise _refusal(path, "is a folder; name a .yaml file in it")
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise _refusal(path, "no such file; check the folder and the spelling") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _refusal(path, f"cannot be read: {reason}") from None
    if len(raw) > MAX_BYTES:
        raise _refusal(path, f"larger than {MAX_BYTES // 1024} KiB; that is no case file")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _refusal(path, "not a UTF-8 text file; save it as UTF-8") from None


def _refusal(path: Path, message: str, place: str = "") -> CaseError:
    return CaseError([Problem(str(path), place, message)])
