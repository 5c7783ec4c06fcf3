"""Files that people get wrong: mutations of good ones, of their values and of their text.

A mutation of values knows what a case holds: keys by their models, teeth, units, catalogue rows. A
mutation of text knows nothing but lines and bytes.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import yaml
from pydantic import BaseModel

from tests.campaigns.drawn import keys_of, pick, value_for
from workflow.case import load_case
from workflow.case_teeth import Scan
from workflow.catalogue import Row, load_catalogue
from workflow.sweep_keys import field_at, known_keys

Rng = np.random.Generator
Path = tuple[Any, ...]

ISO = [10 * q + n for q in (1, 2, 3, 4) for n in range(1, 9)]
NUMBERS: list[Any] = [
    0, -0.0, 1, -1, 2, 0.5, 0.4999, 1e-300, 1e-9, 1e9, 1e15, 1e300, 2**31, 2**63, 10**40,
    math.inf, -math.inf, math.nan, 36, 37.0, 360, 1e-3, 5e-324, 99999999999,
]  # fmt: skip
WORDS: list[Any] = [
    "", " ", "none", "null", "yes", "no", "on", "True", "12 mm", "0,5", "1/2", "0x10", "1_000",
    "ΣΩ", "молар", "牙齿", "moⅼar", "\u202eralom", "mo\u200blar", "🦷", "３７", "tooth 37", "#3",
    "a\nb", "\x1b[31mred", "../../x", "/etc/passwd", "${HOME}", "{{ 1 }}", "<b>x</b>", "a" * 300,
    "C:\\scans\\x.stl", "e\u0301", "\u00a012", "−5", "1e", "--", "~", "lower_molar_uprighting",
]  # fmt: skip
STRUCTURES: list[Any] = [
    None, True, False, [], {}, [None], [[]], {"x": 1}, [1, 2, 3], [37], [[37]], {37: {}},
    {1: {2: 3}}, {"": ""}, {None: 1}, {True: 1},
]  # fmt: skip


def places(data: Any, path: Path = ()) -> list[Path]:
    """Paths of every value inside a tree of mappings and lists."""
    items = data.items() if isinstance(data, dict) else enumerate(data)
    found = []
    for key, value in items:
        found.append((*path, key))
        if isinstance(value, dict | list):
            found += places(value, (*path, key))
    return found


def at(data: Any, path: Path) -> Any:
    for key in path:
        data = data[key]
    return data


def _deleted(data: Any, path: Path, rng: Rng) -> None:
    del at(data, path[:-1])[path[-1]]


def _renamed(data: Any, path: Path, rng: Rng) -> None:
    owner = at(data, path[:-1])
    if isinstance(owner, list):
        owner.insert(0, owner[path[-1]])
        return
    word = str(path[-1]) or "x"
    spot = int(rng.integers(len(word)))
    options = [
        word[:spot] + word[spot + 1 :],
        word[:spot] + word[spot] + word[spot:],
        word.upper(),
        word.replace("_mm", "_cm").replace("_N", "_kg").replace("_gf", "_g"),
        word + "s",
        word.replace("_", "-"),
        f" {word}",
    ]
    owner[pick(rng, options)] = owner.pop(path[-1])


def _retyped(data: Any, path: Path, rng: Rng) -> None:
    value = at(data, path)
    options = [str(value), [value], {"value": value}, *STRUCTURES]
    at(data, path[:-1])[path[-1]] = copy.deepcopy(pick(rng, options))


def _moved(data: Any, path: Path, rng: Rng) -> None:
    value = at(data, path[:-1]).pop(path[-1])
    owners = [p for p in places(data) if isinstance(at(data, p), dict)]
    owner = at(data, pick(rng, owners)) if owners else data
    owner[str(path[-1])] = value


def _swapped(data: Any, path: Path, rng: Rng) -> None:
    other = pick(rng, places(data))
    if path[: len(other)] == other or other[: len(path)] == path:
        return
    one, two = at(data, path), at(data, other)
    at(data, path[:-1])[path[-1]] = two
    at(data, other[:-1])[other[-1]] = one


def _numbered(data: Any, path: Path, rng: Rng) -> None:
    at(data, path[:-1])[path[-1]] = pick(rng, NUMBERS)


def _scaled(data: Any, path: Path, rng: Rng) -> None:
    """A value in another unit, or of another sign."""
    value = at(data, path)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return _toothed(data, path, rng)
    factors = [0.001, 0.01, 0.1, 10, 100, 1000, 25.4, 1 / 25.4, 9.80665, 0.00980665, -1]
    at(data, path[:-1])[path[-1]] = value * pick(rng, factors)
    return None


def _varied(data: Any, path: Path, rng: Rng) -> None:
    """Another value not far off, which is often right."""
    values = [(p, at(data, p)) for p in places(data)]
    numbers = [p for p, v in values if type(v) in (int, float) and v not in ISO]
    path = pick(rng, numbers) if numbers else path
    if numbers:
        at(data, path[:-1])[path[-1]] = float(f"{at(data, path) * rng.uniform(0.3, 2.5):.4g}")


def _toothed(data: Any, path: Path, rng: Rng) -> None:
    options = [*ISO, *ISO, *range(1, 33), 55, 85, 19, 30, 0, -37, "UL3", "A", "37", 3.7, 370]
    teeth = [p for p in places(data) if at(data, p) in ISO]
    path = pick(rng, teeth) if teeth else path
    at(data, path[:-1])[path[-1]] = pick(rng, options)


def _worded(data: Any, path: Path, rng: Rng) -> None:
    at(data, path[:-1])[path[-1]] = pick(rng, WORDS)


def _nested(data: Any, path: Path, rng: Rng) -> None:
    value: Any = at(data, path)
    for _ in range(int(rng.integers(1, 60))):
        value = [value] if rng.random() < 0.5 else {"deep": value}
    at(data, path[:-1])[path[-1]] = value


def _multiplied(data: Any, path: Path, rng: Rng) -> None:
    owner = at(data, path[:-1])
    if isinstance(owner, list):
        owner.extend(copy.deepcopy(owner[path[-1]]) for _ in range(int(rng.integers(1, 50))))
    else:
        number = int(rng.integers(1, 40))
        owner |= {f"{path[-1]}_{k}": copy.deepcopy(owner[path[-1]]) for k in range(number)}


def _row(data: Any, path: Path, rng: Rng) -> None:
    """Another row of the catalogue, or another known word."""
    catalogue = load_catalogue()
    tables = [catalogue.alloys, catalogue.sections, catalogue.attachments, catalogue.ligaments]
    value = at(data, path)
    known = next((list(t) for t in tables if value in list(t)), list(catalogue.alloys))
    at(data, path[:-1])[path[-1]] = pick(rng, known)


_KNOWN = known_keys(load_case("configs/cases/lower_molar_uprighting.yaml"))
_PARTS: dict[str, list[Any]] = {
    "wire.run": [
        [{"straight_mm": 3}], [{"helix": {"turns": 1}}], [{"bend": {"angle_deg": 30}}],
        [{"straight_mm": 30}, {"u_loop": {"height_mm": 6, "width_mm": 3}}],
        [{"step": {"offset_mm": 1}}, {"box_loop": {"height_mm": 4, "width_mm": 3}}],
        [{"t_loop": {"height_mm": 6, "head_width_mm": 8, "head_height_mm": 2, "gap_mm": 1.5}}],
    ],
    "wire.through": [{"points_mm": [[28, 12, 0]]}, {"points_mm": [[0, 0, 0], [0, 0, 0]]}],
    "further": [[{"unit": "segment", "tooth": 34}], [{"unit": "canine", "tooth": 33}]],
    "course": [{}, {"step_mm": 0.05}],
    "one_point.contact": ["bar", "tied", "peg", "dead_force", "bracket"],
    "two_point.attachment": ["tube_0.018x0.025_in", "tube_0.022x0.028_in"],
    "wire.activation.pulls": ["apical", "occlusal", "buccal", "lingual"],
}  # fmt: skip


def _added(data: Any, path: Path, rng: Rng) -> None:
    """A key that a case may hold, at a value that it may have more often than not."""
    key = pick(rng, _KNOWN)
    field = field_at(key)
    if key in _PARTS:
        value: Any = pick(rng, _PARTS[key])
    elif field is None or rng.random() < 0.2:
        value = pick(rng, [True, False, [37], [33, 34], 37, 34, "molar", 0.5, {}, None])
    else:
        value = value_for(key.split(".")[-1], field, rng)
    owner = data.get("base", data) if isinstance(data.get("base", data), dict) else data
    if "fixed" in data or "factors" in data:
        fixed = owner.get("fixed")
        owner["fixed"] = {**(fixed if isinstance(fixed, dict) else {}), key: value}
        return
    _put(owner, key, value)


def _put(owner: Any, key: str, value: Any) -> None:
    *parents, last = key.split(".")
    for part in parents:
        name = int(part) if part.isdigit() and int(part) in owner else part
        if not isinstance(owner.get(name), dict):
            owner[name] = {}
        owner = owner[name]
    owner[last] = value


def _filled(data: Any, model: type[BaseModel], rng: Rng) -> None:
    """A key of the model of a file, or of one of its rows where it is a table of them."""
    owner = data
    if issubclass(model, Row):
        owner = data[pick(rng, list(data))]
    if isinstance(owner, dict):
        known = keys_of(model)
        key = pick(rng, list(known))
        _put(owner, key, value_for(key.split(".")[-1], known[key], rng))


def _filled_scan(data: Any, rng: Rng) -> None:
    """A key of the scan that a case holds."""
    teeth = data.get("teeth")
    for part in teeth.values() if isinstance(teeth, dict) else ():
        if isinstance(part, dict) and isinstance(part.get("scan"), dict):
            _filled(part["scan"], Scan, rng)


VALUES: dict[str, Callable[[Any, Path, Rng], None]] = {
    "delete": _deleted, "rename": _renamed, "retype": _retyped, "move": _moved, "swap": _swapped,
    "number": _numbered, "scale": _scaled, "tooth": _toothed, "word": _worded, "nest": _nested,
    "multiply": _multiplied, "row": _row, "add": _added, "vary": _varied,
}  # fmt: skip
_GENTLE = ("vary", "add", "row", "tooth", "add")  # leave many files right, to be carried on


def _line_dropped(text: bytes, rng: Rng) -> bytes:
    lines = text.split(b"\n")
    del lines[int(rng.integers(len(lines)))]
    return b"\n".join(lines)


def _line_doubled(text: bytes, rng: Rng) -> bytes:
    lines = text.split(b"\n")
    spot = int(rng.integers(len(lines)))
    return b"\n".join([*lines[:spot], lines[spot], *lines[spot:]])


def _inserted(text: bytes, rng: Rng) -> bytes:
    bits = [
        b"\x00", b"\t", b"\xff\xfe", b"&a ", b"*a", b"!!python/object:os.x ", b"!x ", b"%", b"@",
        b"[", b"]", b"{", b"}", b": ", b"- ", b"'", b'"', b"#", b"---\n", b"...\n", b"<<: *a\n",
        b"? ", b"| ", b"> ", b"\r", b"\xc2\xa0", b"\xe2\x80\x8b", b"\xed\xa0\x80", b"9" * 5000,
        b"\x1b", b"\xef\xbf\xbe", b"\xc2\x85", b"\xe2\x80\xa8",
    ]  # fmt: skip
    spot = int(rng.integers(len(text) + 1))
    return text[:spot] + pick(rng, bits) + text[spot:]


def _flipped(text: bytes, rng: Rng) -> bytes:
    raw = bytearray(text)
    for _ in range(int(rng.integers(1, 6))):
        raw[int(rng.integers(len(raw)))] = int(rng.integers(256))
    return bytes(raw)


def _cut(text: bytes, rng: Rng) -> bytes:
    return text[: int(rng.integers(len(text)))]


def _indented(text: bytes, rng: Rng) -> bytes:
    lines = text.split(b"\n")
    spot = int(rng.integers(len(lines)))
    lines[spot] = b" " * int(rng.integers(1, 5)) + lines[spot]
    return b"\n".join(lines)


def _aliased(text: bytes, rng: Rng) -> bytes:
    bomb = b"a: &a [1,1]\n" + b"".join(
        b"%c: &%c [*%c,*%c,*%c]\n" % (c, c, c - 1, c - 1, c - 1) for c in range(98, 110)
    )
    return bomb + text


TEXTS: dict[str, Callable[[bytes, Rng], bytes]] = {
    "drop a line": _line_dropped, "double a line": _line_doubled, "insert": _inserted,
    "flip bytes": _flipped, "cut": _cut, "indent": _indented, "alias bomb": _aliased,
    "crlf": lambda text, rng: text.replace(b"\n", b"\r\n"),
    "cr": lambda text, rng: text.replace(b"\n", b"\r"),
    "bom": lambda text, rng: b"\xef\xbb\xbf" + text,
    "utf-16": lambda text, rng: text.decode("utf-8", "replace").encode("utf-16"),
    "latin-1": lambda text, rng: text.replace(b"molar", b"mol\xe4r"),
    "pad": lambda text, rng: text + b"# " + b"x" * int(rng.integers(2 * 262_144)),
    "tabs": lambda text, rng: text.replace(b"  ", b"\t"),
    "repeat": lambda text, rng: text + b"\n" + text,
}  # fmt: skip


def mutated(text: str, rng: Rng, model: type[BaseModel] | None = None) -> tuple[bytes, list[str]]:
    """A good file with one to four things wrong, and what was done to it.

    `model` is that of the file, or of its rows, where it is none of a case.
    """
    done: list[str] = []
    raw = text.encode()
    if rng.random() < 0.8:
        data = yaml.safe_load(text)
        names = _GENTLE if rng.random() < 0.3 else tuple(VALUES)
        for _ in range(int(rng.integers(1, 4))):
            open_to = places(data)
            name = pick(rng, names)
            if name == "add" and model is not None and rng.random() < 0.7:
                name = "fill"
                _filled_scan(data, rng) if model is Scan else _filled(data, model, rng)
                done.append(name)
            elif open_to:
                VALUES[name](data, pick(rng, open_to), rng)
                done.append(name)
        raw = yaml.safe_dump(data, sort_keys=False, allow_unicode=True).encode("utf-8", "replace")
    if not done or rng.random() < 0.15:
        name = pick(rng, list(TEXTS))
        raw = TEXTS[name](raw or b"x", rng)
        done.append(name)
    return raw, done
