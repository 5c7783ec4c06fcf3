"""Checks between the parts of a case: each tooth and unit must exist where it is named."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geometry.anatomy import tooth_dimensions
from workflow.case_course import Course
from workflow.case_errors import Problem, nearest
from workflow.case_models import Further, OnePoint, TwoPoint, Unit
from workflow.case_teeth import ToothPart
from workflow.case_tissues import Bone
from workflow.case_wire import Wire
from workflow.catalogue import load_catalogue
from workflow.wire_run import part_fault

_LEAST_EMBEDDED_MM = 1.5  # of the shortest root below the crest
_QUADRANTS_BY_JAW = {"upper": (1, 2), "lower": (4, 3)}  # patient's right first


@dataclass(frozen=True)
class Parts:
    """The parts that could be read; None stands for one that has problems of its own."""

    source: str
    stem: str | None
    case: str | None
    teeth: Mapping[int, ToothPart] | None
    missing: tuple[int, ...] | None
    units: Mapping[str, Unit] | None
    two_point: TwoPoint | None
    one_point: OnePoint | None
    further: tuple[Further, ...] | None
    wire: Wire | None
    mirror_image: bool | None
    course: Course | None
    bone: Bone | None

    def problem(self, key: str, message: str, *value: Any) -> Problem:
        """Problem of this file."""
        return Problem(self.source, key, message, *value)


def arch_order(tooth: int) -> tuple[str, int]:
    """Jaw of a tooth and its place along the arch, counted from the patient's right.

    Parameters
    ----------
    tooth
        ISO 3950 number of a permanent tooth.

    Returns
    -------
    tuple
        ``("upper", n)`` or ``("lower", n)`` with n from 1 to 16.
    """
    quadrant, place = divmod(tooth, 10)
    jaw = "upper" if quadrant in _QUADRANTS_BY_JAW["upper"] else "lower"
    right_side = quadrant == _QUADRANTS_BY_JAW[jaw][0]
    return jaw, 9 - place if right_side else 8 + place


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
        _contacts,
        _trial,
        _run,
        _midline,
        _further,
        _course,
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
            "more for each of further",
        )
    if parts.units and all(unit.role != "target" for unit in parts.units.values()):
        yield parts.problem("units", "no unit is a target; set role: target on the one to move")


def _tooth_lists(parts: Parts) -> Iterator[Problem]:
    units = parts.units or {}
    owner: dict[int, str] = {}
    for name, unit in units.items():
        key = f"units.{name}.teeth"
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
            "units", f"teeth of both jaws ({_listed(owner)}); one appliance lies in one jaw"
        )
    for tooth in parts.teeth or {}:
        if parts.units is not None and tooth not in owner:
            yield parts.problem(
                f"teeth.{tooth}", f"tooth {tooth} is in no unit; {nearest(tooth, owner)}"
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
        for name, file in (("file", scan.file), ("crest_line", scan.crest_line)):
            if file is not None and not Path(file).is_file():
                yield parts.problem(
                    f"teeth.{tooth}.scan.{name}",
                    "no such file; give its path from the folder in which the workflow is run",
                    file,
                )
    used = [tooth for unit in (parts.units or {}).values() for tooth in unit.teeth]
    in_place = [t for t in used if t in scans and scans[t].placed == "as_scanned"]
    others = [t for t in used if t not in in_place]
    if in_place and others:
        yield parts.problem(
            f"teeth.{in_place[0]}.scan.placed",
            f"as_scanned needs scans of all teeth in one set of coordinates; {_listed(others)} "
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
        yield from _tooth_in_unit(parts, "two_point.tooth", parts.two_point.tooth, unit, "tube")


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
            for problem in _tooth_in_unit(parts, "one_point.between", tooth, unit, "hook")
        ]
        yield from found or _neighbours(parts, hook.between)
    elif hook.tooth and unit:
        yield from _tooth_in_unit(parts, "one_point.tooth", hook.tooth, unit, "hook")
    elif hook.between is None and parts.wire and parts.wire.span_mm is None:
        yield parts.problem(
            "one_point.between",
            "missing; name two teeth, as [34, 35], or give one_point.tooth or wire.span_mm",
        )


def _contacts(parts: Parts) -> Iterator[Problem]:
    """What cannot be computed together, and a wire that does not enter its tube."""
    hook, tube, wire = parts.one_point, parts.two_point, parts.wire
    if hook and hook.friction and hook.contact not in ("bar", "peg"):
        yield parts.problem(
            "one_point.friction",
            f"the wire does not slide at contact {hook.contact}; drop it, or use bar or peg",
            hook.friction,
        )
    if tube is None or tube.attachment is None:
        return
    if hook and hook.contact == "peg":
        yield parts.problem(
            "two_point.attachment",
            "play is not computed together with contact peg; drop it, or use contact bar or tied",
            tube.attachment,
        )
    if wire is None:
        return
    slot = load_catalogue().attachments[tube.attachment]
    section = load_catalogue().sections[wire.section]
    for name in ("height", "width"):
        size, room = getattr(section, f"{name}_mm"), getattr(slot, f"slot_{name}_mm")
        if size > room:
            yield parts.problem(
                "two_point.attachment",
                f"wire {name} {size:.3g} mm does not enter a slot {name} of {room:.3g} mm; choose "
                "a larger attachment or a smaller wire.section",
                tube.attachment,
            )


def _trial(parts: Parts) -> Iterator[Problem]:
    """A trial activation, which leaves its mark only where the wire is followed past its limit."""
    wire, hook = parts.wire, parts.one_point
    if wire is None or wire.activation.trial_share == 1.0:
        return
    over_peg = hook is not None and hook.contact == "peg"
    if over_peg or not wire.inelastic:
        elastic = "one_point.contact: peg" if over_peg else "wire.inelastic: false"
        yield parts.problem(
            "wire.activation.trial_share",
            f"changes nothing with {elastic}, by which the wire stays elastic; drop one of them",
            wire.activation.trial_share,
        )


def _course(parts: Parts) -> Iterator[Problem]:
    """What the course of movement is not computed with, and a course on which nothing moves."""
    course, units = parts.course, parts.units
    if course is None:
        return
    one, two = parts.one_point, parts.two_point
    found = [f"units.{name}.joined_by" for name, unit in (units or {}).items() if unit.joined_by]
    if two and two.attachment is not None:
        found.append("two_point.attachment")
    if one and one.friction:
        found.append("one_point.friction")
    if one and one.contact == "peg":
        found.append("one_point.contact: peg")
    if found:
        yield parts.problem("course", f"is not computed with {' and '.join(found)}; drop one")
    if units and not any(
        unit.support == "ligament" and (unit.role == "target" or course.anchors_move)
        for unit in units.values()
    ):
        yield parts.problem(
            "course", "no unit can move; drop it, or give a target support: ligament"
        )


def _further(parts: Parts) -> Iterator[Problem]:
    """Further units: each its own, its tooth there, and nothing that is not computed with them."""
    two, one = parts.two_point, parts.one_point
    taken = {part.unit for part in (two, one) if part is not None}
    for number, held in enumerate(parts.further or ()):
        name = f"further[{number}]"
        unit = (parts.units or {}).get(held.unit)
        if held.unit in taken:
            yield parts.problem(f"{name}.unit", "holds the wire already; name another", held.unit)
        elif unit is None and parts.units is not None:
            remedy = f"no such unit; {nearest(held.unit, parts.units)}"
            yield parts.problem(f"{name}.unit", remedy, held.unit)
        elif unit is not None:
            yield from _tooth_in_unit(parts, f"{name}.tooth", held.tooth, unit, "hold")
        taken.add(held.unit)
    if not parts.further:
        return
    if two and two.attachment is not None:
        yield parts.problem(
            "two_point.attachment", "play is not computed with further; drop one", two.attachment
        )
    if one and one.contact == "peg":
        yield parts.problem("one_point.contact", "peg is not computed with further", "peg")
    if parts.course is not None:
        yield parts.problem("course", "is not computed with further; drop one")


def _midline(parts: Parts) -> Iterator[Problem]:
    """A unit across the midline needs a mirror image of the wire, and the same teeth both sides."""
    units = parts.units or {}
    across = {
        name for name, unit in units.items() if len({t // 10 in (1, 4) for t in unit.teeth}) > 1
    }
    if parts.mirror_image is None:
        return
    for name in sorted(across):
        teeth = set(units[name].teeth)
        if not parts.mirror_image:
            yield parts.problem(
                f"units.{name}.teeth",
                "lie on both sides of the midline, which is computed with mirror_image: true only",
            )
        elif teeth != {mirrored(tooth) for tooth in teeth}:
            yield parts.problem(
                f"units.{name}.teeth",
                "are not the same on both sides; a mirror image needs each tooth and its twin",
            )
        elif units[name].joined_by is not None:
            yield parts.problem(
                f"units.{name}.joined_by", "is not computed across the midline; drop it"
            )
    if parts.mirror_image and parts.one_point and across != {parts.one_point.unit}:
        yield parts.problem(
            "mirror_image",
            "joins two wires at one unit: one_point.unit must lie on both sides of the midline, "
            "the other unit on one",
        )


def mirrored(tooth: int) -> int:
    """ISO 3950 number of the same tooth on the other side."""
    return 10 * {1: 2, 2: 1, 3: 4, 4: 3}[tooth // 10] + tooth % 10


def _run(parts: Parts) -> Iterator[Problem]:
    """Loops and steps whose measures do not go together."""
    if parts.wire is None:
        return
    section = load_catalogue().sections[parts.wire.section]
    size = {"height_mm": section.height_mm, "width_mm": section.width_mm}
    for number, part in enumerate(parts.wire.run):
        fault = part_fault(part.model_dump(), size)
        if fault is not None:
            yield parts.problem(f"wire.run[{number}]", fault)


def _tooth_in_unit(parts: Parts, key: str, tooth: int, unit: Unit, part: str) -> Iterator[Problem]:
    if tooth in (parts.missing or ()):
        yield parts.problem(
            key, f"the {part} is on a missing tooth; use one of {_listed(unit.teeth)}", tooth
        )
    elif tooth not in unit.teeth:
        yield parts.problem(
            key, f"tooth {tooth} is not in the unit; use one of {_listed(unit.teeth)}", tooth
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


def _listed(teeth: Any) -> str:
    return ", ".join(str(tooth) for tooth in teeth)
