"""A YAML text as plain values, with the line of every key and whatever in it is not plain.

What is refused does not end the reading: it is kept as a fault and stands for an empty value, so
that one reading finds everything.
"""

import re
from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import yaml

MOST_LEVELS = 20  # a case nests 6 deep, a study whose levels hold runs of a wire 10
MOST_DIGITS = 40  # of a whole number; more is a slip of the keyboard
_NULL = "tag:yaml.org,2002:null"


@dataclass(frozen=True)
class Fault:
    """A place that is valid YAML but no plain value.

    Attributes
    ----------
    key
        Dotted key of the place.
    message
        What is wrong and what to do.
    line
        Line of the file, from 1.
    """

    key: str
    message: str
    line: int


@dataclass(frozen=True)
class Parsed:
    """What a text holds.

    Attributes
    ----------
    content
        Plain Python values.
    lines
        Line of every key and list item, by its dotted key, from 1.
    faults
        What is not plain, in reading order.
    """

    content: Any
    lines: dict[str, int]
    faults: tuple[Fault, ...]


def parse(text: str) -> Parsed:
    """Read one YAML text.

    Raises
    ------
    yaml.YAMLError
        If it is not YAML, or nested too deeply.
    """
    loader = _PlainLoader(text)
    try:
        node = loader.get_single_node()
        content = None if node is None else loader.plain(node, "")
        return Parsed(content, loader.lines, tuple(loader.faults))
    finally:
        loader.dispose()


class _PlainLoader(yaml.SafeLoader):
    """Safe loader with the number rules of YAML 1.2, unique keys, no aliases and no tags.

    YAML 1.1 would read ``037`` as thirty-one and ``1e3`` as text: silent mistakes here.
    """

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.lines: dict[str, int] = {}
        self.faults: list[Fault] = []
        self._refused: dict[int, str] = {}
        self._level = 0

    def compose_node(self, parent: Any, index: Any) -> Any:
        event = self.peek_event()
        if isinstance(event, yaml.AliasEvent):
            self.get_event()
            mark: Any = event.start_mark
            empty: yaml.Node = yaml.ScalarNode(_NULL, "", mark, mark)
            self._refused[id(empty)] = f"aliases (*{event.anchor}) are not accepted; write it out"
            return empty
        tag, event.tag = event.tag, None
        if isinstance(event, yaml.ScalarEvent) and tag is not None:
            event.implicit = (True, True)
        self._level += 1
        if self._level > MOST_LEVELS:
            raise yaml.composer.ComposerError(
                None, None, f"nested more than {MOST_LEVELS} deep", event.start_mark
            )
        node = super().compose_node(parent, index)
        self._level -= 1
        if tag is not None:
            shown = tag.replace("tag:yaml.org,2002:", "!!")
            self._refused[id(node)] = f"tags ({shown}) are not accepted; write the value alone"
        return node

    def plain(self, node: yaml.Node, key: str) -> Any:
        """Value of a node; its keys are noted by the line that they stand in."""
        if id(node) in self._refused:
            self._fault(node, key, self._refused[id(node)])
            return None
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, key)
        if isinstance(node, yaml.SequenceNode):
            items = []
            for number, item in enumerate(node.value):
                place = f"{key}[{number}]"
                self.lines[place] = item.start_mark.line + 1
                items.append(self.plain(item, place))
            return items
        if node.tag.endswith(":int") and len(node.value) > MOST_DIGITS:
            text = f"is a number of {len(node.value)} digits; write one of ordinary size"
            self._fault(node, key, text)
            return None
        return self.construct_object(node)

    def _mapping(self, node: yaml.MappingNode, key: str) -> dict[Hashable, Any]:
        values: dict[Hashable, Any] = {}
        seen: dict[str, int] = {}
        for key_node, value_node in node.value:
            name = self._name(key_node, key)
            if name is None:
                continue
            if isinstance(name, bool):
                name = key_node.value
                text = f"a key {name} is read as true or false; write it in quotes, or rename it"
                self._fault(key_node, f"{key}.{name}".lstrip("."), text)
            place, line = f"{key}.{name}".lstrip("."), key_node.start_mark.line + 1
            if str(name) in seen:
                text = f"key {name} is written twice (first in line {seen[str(name)]}); keep one"
                self._fault(key_node, place, text)
                continue
            seen[str(name)] = self.lines[place] = line
            values[name] = self.plain(value_node, place)
        return values

    def _name(self, node: yaml.Node, key: str) -> Hashable | None:
        """Key of a mapping; None if it is none, which is a fault."""
        before = len(self.faults)
        name = self.plain(node, key)
        if len(self.faults) > before:
            return None
        if isinstance(name, str | int | float):
            return name
        text = "a key must be a word or a number; look for a stray bracket or question mark"
        self._fault(node, key, text)
        return None

    def _fault(self, node: yaml.Node, key: str, text: str) -> None:
        self.faults.append(Fault(key, text, node.start_mark.line + 1))


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
