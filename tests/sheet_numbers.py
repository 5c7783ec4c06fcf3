"""Every number of a sheet read beside the records it must come from, to its shown digits.

Cells of tables and the answer have to show exactly the numbers that their labels stand for, in
order. Captions, descriptions and sentences may show any number of the records that belong to them,
with its unit. What is no number is listed in `NAMES` or stands verbatim in the records.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from tests.sheet_blocks import Block, Blocks
from tests.sheet_expected import EXACT, GF_PER_N, POOLS, Quantity, teeth_of
from workflow.sheet_records import SheetRecords

UNITS = ["N·mm", "N/mm", "N", "gf·mm", "gf/mm", "gf/cm²", "gf", "kPa", "MPa", "GPa"]
UNITS += ["µm", "mrad", "°", "mm³", "mm", "%", "weeks", "turns", "turn"]
_NUMBER = re.compile(
    r"(?<![\w.,–-])(?P<bound>[<>]?)(?P<sign>[−+-]?)(?P<digits>\d+(?:\.\d+)?(?:e[+-]?\d+)?)"
    rf"(?:\s?(?P<unit>{'|'.join(map(re.escape, UNITS))})(?![\w/²³]))?(?![\w.]\d|\w)"
)
_RANGE = re.compile(r" to (\S+ ?\S*)")
_LAST_DIGIT = re.compile(r"\d(?=e|[^\d.e]|$)")
# Words with digits that are no results: names of things, and what stands in the text by itself.
NAMES = (
    "E(1−ν)/((1+ν)(1−2ν))",
    "6×6",
    "3D",
    "A4",
    "(print at 100 %)",
    "gamma is 1 for a regular tetrahedron, 0 for a flat one",
    "1 % of volume",
    "in 1 % of its ligament",
    "4 to 13 kPa (Iwasaki et al. 2000)",
    "a bar of 50 mm",
    "10 mm of arrow =",
    "10 mm of arc =",
)
_COLUMN_HEADS = {"50 %", "99 %"}
_OF_GF = {"gf": "N", "gf·mm": "N·mm", "gf/mm": "N/mm"}


@dataclass(frozen=True)
class Shown:
    """A number as the page shows it."""

    text: str
    value: float
    unit: str
    half_step: float
    bound: str
    place: tuple[int, int]

    def shows(self, quantity: Quantity) -> bool:
        """Whether it is the quantity, in the same unit, to its shown digits."""
        unit, value = self.unit, quantity.value
        if unit == "gf/cm²" and quantity.unit == "kPa":
            unit, value = "kPa", value * GF_PER_N / 10
        elif _OF_GF.get(unit) == quantity.unit:
            unit, value = quantity.unit, value * GF_PER_N
        elif unit == "GPa" and quantity.unit == "MPa":
            unit, value = "MPa", value / 1e3
        if unit != quantity.unit:
            return False
        if self.bound:
            return value > self.value if self.bound == ">" else value < self.value
        return abs(self.value - value) <= self.half_step * (1 + 1e-6) + 1e-300


def numbers(text: str) -> list[Shown]:
    """The numbers of a text with their units."""
    return [_shown(match, text) for match in _NUMBER.finditer(text)]


def _shown(match: re.Match[str], text: str) -> Shown:
    digits = Decimal(match["digits"])
    value = float(digits) * (-1 if match["sign"] in ("−", "-") else 1)
    half_step = 0.5 * 10.0 ** int(digits.as_tuple().exponent)
    further = _RANGE.match(text, match.end())  # the first number of "1 to 2 mm" has its unit too
    upper = numbers(further[1]) if further else []
    unit = match["unit"] or (upper[0].unit if upper else "")
    return Shown(match[0], value, unit, half_step, match["bound"], match.span())


def complaints(html: str, records: SheetRecords) -> list[str]:
    """What is wrong with the numbers of a page; nothing if all have their source."""
    verbatim = texts_with_digits(records)
    return [
        f"{block.section}, {block.caption or block.figure or block.kind}, {block.row}, "
        f"{block.column}: {problem} in '{block.text}'"
        for block in Blocks(html).blocks
        for problem in block_complaints(block, records, verbatim)
    ]


def block_complaints(block: Block, records: SheetRecords, verbatim: list[str]) -> Iterator[str]:
    """What is wrong with the numbers of one block."""
    text = _without_names(block, records, verbatim)
    found = numbers(text)
    left = _NUMBER.sub(" ", text)
    if re.search(r"\d", left):
        yield f"digits that are no number ({left.strip()})"
    exact = _exact(block, records)
    if exact is None:
        pool = [quantity for pool in POOLS[_pool_name(block)](records) for quantity in pool]
        for number in found:
            if not any(number.shows(quantity) for quantity in pool):
                yield f"{number.text} has no source"
    else:
        yield from _in_order(found, exact)


def _exact(block: Block, records: SheetRecords) -> list[Quantity] | None:
    """The numbers that a block has to show, each amount twice, where that is told by its labels."""
    rule = EXACT.get(_pool_name(block))
    quantities = None if rule is None else rule(records, block)
    if quantities is None:
        return None
    loads = {"N", "N·mm", "N/mm", "kPa"}
    return [q for quantity in quantities for q in [quantity] * (2 if quantity.unit in loads else 1)]


def _in_order(found: list[Shown], exact: list[Quantity]) -> Iterator[str]:
    if len(found) != len(exact):
        yield f"{len(found)} numbers where {len(exact)} belong: {exact}"
        return
    for number, quantity in zip(found, exact, strict=True):
        if not number.shows(quantity):
            yield f"{number.text} is not {quantity.value:.6g} {quantity.unit}"


def _pool_name(block: Block) -> str:
    if block.figure:
        return block.figure
    return f"{block.section} cell" if block.kind == "td" and block.caption else block.section


def _without_names(block: Block, records: SheetRecords, verbatim: list[str]) -> str:
    text = block.text
    for name in (*verbatim, *NAMES):
        text = text.replace(name, " … ")
    if block.kind == "th" and text in _COLUMN_HEADS:
        return ""
    teeth = "|".join(map(str, teeth_of(records)))
    without_unit = rf"(?<![\w.,−±])(?:{teeth})(?![\w.]\d|\w|\s?(?:{'|'.join(UNITS)})\b|\s?[%°])"
    return re.sub(without_unit, " … ", text)


def texts_with_digits(records: SheetRecords) -> list[str]:
    """Texts with digits that stand in the records themselves, longest first."""
    texts = set(_strings([vars(records)[name] for name in vars(records)]))
    texts |= {text.rpartition(", ")[0] for text in texts if ", " in text}
    texts |= {text.partition(": ")[2] for text in records.summary["warnings"]}
    spoken = {text.replace("_", " ") for text in texts}
    named = {text for text in texts | spoken if re.search(r"\d", text) and re.search(r"\D", text)}
    return sorted(named, key=len, reverse=True)


def _strings(record: Any) -> Iterator[str]:
    if isinstance(record, str):
        yield " ".join(record.split())
    elif isinstance(record, dict):
        yield from _strings(list(record.values()))
    elif isinstance(record, (list, tuple)):
        for part in record:
            yield from _strings(part)
    elif hasattr(record, "to_dict"):
        yield from _strings(record.to_dict("records"))


def perturbed(html: str) -> Iterator[tuple[Block, Shown, Block]]:
    """Every block with a number, the number, and the block with its last digit changed."""
    for block in Blocks(html).blocks:
        for number in numbers(block.text):
            start, end = number.place
            changed = _LAST_DIGIT.sub(lambda found: str((int(found[0]) + 3) % 10), number.text, 1)
            text = block.text[:start] + changed + block.text[end:]
            yield block, number, replace(block, pieces=[text])


def noticed(block: Block, changed: Block, records: SheetRecords, verbatim: list[str]) -> bool:
    """Whether a change of a block is complained of."""
    before, after = (list(block_complaints(b, records, verbatim)) for b in (block, changed))
    return before != after


def is_checked(block: Block, records: SheetRecords) -> bool:
    """Whether a block has to show exactly the numbers its labels stand for."""
    return _exact(block, records) is not None
