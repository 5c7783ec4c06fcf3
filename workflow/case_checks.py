"""Checks between the parts of a case: each tooth and unit must exist where it is named."""

from collections import Counter
from collections.abc import Iterator

from geometry.anatomy import tooth_dimensions
from workflow.case_errors import Problem, nearest
from workflow.case_models import OnePoint, TwoPoint, Unit
from workflow.case_parts import Parts, arch_order, listed, tooth_in_unit
from workflow.case_teeth import ToothPart
from workflow.case_tissues import Bone
from workflow.case_wire_checks import wire_problems
from workflow.named_files import file_fault

MOST_SCAN_BYTES = 100_000_000  # two million triangles of STL, ten times a fine scan of a tooth
MOST_BYTES = 1_000_000  # of a drawn line
_LEAST_EMBEDDED_MM = 1.5  # of the shortest root below the crest


def cross_problems(parts: Parts) -> list[Problem]:
    """Find every disagreement between the parts that could be read."""
    checks = (
        _name,
        _units,
        _tooth_lists,
        _known_teeth,
        _scans,
        _two_point,
        _one_point,
        wire_problems,
    )
    return [problem for check in checks for problem in check(parts)]


def _name(parts: Parts) -> Iterator[Problem]:
    if parts.case and parts.stem and parts.case != parts.stem:
        yield parts.problem(
            "case", f"must equal the file name; write {parts.stem} or rename the file", parts.case
        )


def _units(parts: Parts) -> Iterator[Problem]:
    if parts.units is None:
        return
    further = {held.unit for held in parts.further or ()}
    if parts.further is not None and len(parts.units) != 2 + len(further):
        yield parts.problem(
            "units",
            f"holds {len(parts.units)}; a one-couple appliance joins exactly two units, and one "
            "more for each of further: add or drop units",
        )
    if parts.units and all(unit.role != "target" for unit in parts.units.values()):
        yield parts.problem("units", "no unit is a target; set role: target on the one to move")


def _tooth_lists(parts: Parts) -> Iterator[Problem]:
    units = parts.units or {}
    owner: dict[int, str] = {}
    for tooth, count in Counter(parts.missing or ()).items():
        if count > 1:
            yield parts.problem("missing", f"tooth {tooth} is written {count} times; keep one")
    for name, unit in units.items():
        key = f"units.{name}.teeth"
        if unit.joined_by is not None and len(unit.teeth) == 1:
            text = "joins teeth to each other, and the unit has one; drop it"
            yield parts.problem(f"units.{name}.joined_by", text)
        for tooth, count in Counter(unit.teeth).items():
            if count > 1:
                yield parts.problem(key, f"tooth {tooth} is written {count} times; keep one")
            if tooth in owner:
                other = owner[tooth]
                yield parts.problem(key, f"tooth {tooth} also belongs to units.{other}; keep one")
            elif tooth in (parts.missing or ()):
                yield parts.problem(key, f"tooth {tooth} is in missing as well; drop it from one")
            owner.setdefault(tooth, name)
    if len({arch_order(tooth)[0] for tooth in owner}) > 1:
        yield parts.problem(
            "units",
            f"teeth of both jaws ({listed(owner)}); one appliance lies in one jaw: correct the "
            "numbers of the others (1 and 2 begin those of the upper jaw, 3 and 4 of the lower)",
        )
    for tooth in parts.teeth or {}:
        if parts.units is not None and tooth not in owner:
            yield parts.problem(
                f"teeth.{tooth}",
                f"tooth {tooth} is in no unit; drop it, or add it to the teeth of a unit "
                f"({listed(owner)})",
            )


def _known_teeth(parts: Parts) -> Iterator[Problem]:
    for name, unit in (parts.units or {}).items():
        for tooth in sorted(set(unit.teeth) - set(parts.missing or ())):
            try:
                tooth_dimensions(tooth)
            except ValueError as error:
                reason = str(error).rstrip(".")
                yield parts.problem(f"units.{name}.teeth", f"tooth {tooth} has no shape: {reason}")
                continue
            yield from _shape(parts, tooth)


def _shape(parts: Parts, tooth: int) -> Iterator[Problem]:
    """Refuse dimensions that make no tooth, and a crest with next to no root below it."""
    own, key = (parts.teeth or {}).get(tooth, ToothPart()), f"teeth.{tooth}"
    if own.scan is not None:
        return
    try:
        tooth_dimensions(tooth, roots=own.roots)
    except ValueError as error:
        yield parts.problem(f"{key}.roots", str(error), own.roots)
        return
    try:
        dimensions = tooth_dimensions(tooth, own.dimensions, own.roots)
    except ValueError as error:
        yield parts.problem(f"{key}.dimensions", str(error))
        return
    bone = parts.bone or Bone()
    name, depth = "bone.crest_depth_mm", bone.crest_depth_mm
    if own.crest_by_side_mm is not None:
        sides = own.crest_by_side_mm.model_dump()
        side = max(sides, key=lambda s: float(sides[s]))
        name, depth = f"{key}.crest_by_side_mm.{side}", sides[side]
    elif own.crest_depth_mm is not None:
        name, depth = f"{key}.crest_depth_mm", own.crest_depth_mm
    deepest = dimensions.shortest_root_mm - _LEAST_EMBEDDED_MM
    if depth > deepest:
        yield parts.problem(
            name,
            f"leaves less than {_LEAST_EMBEDDED_MM} mm of the shortest root of tooth {tooth} in "
            f"bone; give at most {deepest:g} mm",
            depth,
        )


def _scans(parts: Parts) -> Iterator[Problem]:
    scans = {t: own.scan for t, own in (parts.teeth or {}).items() if own.scan is not None}
    for tooth, scan in scans.items():
        kinds = (("file", scan.file, MOST_SCAN_BYTES), ("crest_line", scan.crest_line, MOST_BYTES))
        for name, file, most_bytes in kinds:
            fault = None if file is None else file_fault(file, most_bytes)
            if fault is not None:
                yield parts.problem(f"teeth.{tooth}.scan.{name}", fault, file)
    used = [tooth for unit in (parts.units or {}).values() for tooth in unit.teeth]
    in_place = [t for t in used if t in scans and scans[t].placed == "as_scanned"]
    others = [t for t in used if t not in in_place]
    if in_place and others:
        yield parts.problem(
            f"teeth.{in_place[0]}.scan.placed",
            f"as_scanned needs scans of all teeth in one set of coordinates; {listed(others)} "
            "stand on the mean arch. Write arch",
            "as_scanned",
        )


def _unit_of(
    parts: Parts, key: str, part: TwoPoint | OnePoint | None
) -> tuple[Unit | None, list[Problem]]:
    if part is None or parts.units is None:
        return None, []
    if part.unit in parts.units:
        return parts.units[part.unit], []
    remedy = f"no such unit; {nearest(part.unit, parts.units)}"
    return None, [parts.problem(f"{key}.unit", remedy, part.unit)]


def _two_point(parts: Parts) -> Iterator[Problem]:
    unit, problems = _unit_of(parts, "two_point", parts.two_point)
    yield from problems
    if unit and parts.two_point:
        yield from tooth_in_unit(parts, "two_point.tooth", parts.two_point.tooth, unit, "tube")


def _one_point(parts: Parts) -> Iterator[Problem]:
    hook = parts.one_point
    unit, problems = _unit_of(parts, "one_point", hook)
    yield from problems
    if hook is None:
        return
    if unit and parts.two_point and parts.two_point.unit == hook.unit:
        yield parts.problem(
            "one_point.unit", "is the two_point unit too; the hook needs the other unit", hook.unit
        )
    elif hook.between and hook.tooth:
        yield parts.problem("one_point.tooth", "give either between or tooth, not both", hook.tooth)
    elif hook.tooth and parts.wire and parts.wire.span_mm is not None:
        yield parts.problem(
            "wire.span_mm",
            "places the hook, and so does one_point.tooth; drop one of them",
            parts.wire.span_mm,
        )
    elif parts.wire and parts.wire.span_mm is not None and unit and len(unit.teeth) == 1:
        yield parts.problem(
            "wire.span_mm",
            "places the hook on the wire between two teeth, but the unit has one; give "
            f"one_point.tooth: {unit.teeth[0]} instead",
            parts.wire.span_mm,
        )
    elif hook.between and unit:
        found = [
            problem
            for tooth in dict.fromkeys(hook.between)
            for problem in tooth_in_unit(parts, "one_point.between", tooth, unit, "hook")
        ]
        yield from found or _neighbours(parts, hook.between)
    elif hook.tooth and unit:
        yield from tooth_in_unit(parts, "one_point.tooth", hook.tooth, unit, "hook")
    elif hook.between is None and parts.wire and parts.wire.span_mm is None:
        yield parts.problem(
            "one_point.between",
            "missing; name two teeth, as [34, 35], or give one_point.tooth or wire.span_mm",
        )


def _neighbours(parts: Parts, between: tuple[int, int]) -> Iterator[Problem]:
    """Refuse a pair with a standing tooth between its two (or the same tooth twice)."""
    (jaw, first), (other_jaw, last) = sorted(arch_order(tooth) for tooth in between)
    if jaw != other_jaw:
        return  # already reported as teeth of both jaws
    gone = {arch_order(tooth) for tooth in parts.missing or ()}
    standing = [place for place in range(first + 1, last) if (jaw, place) not in gone]
    if first == last or standing:
        yield parts.problem(
            "one_point.between", "must be two neighbouring teeth, as [34, 35]", between
        )
