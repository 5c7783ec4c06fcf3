"""Checks between a wire and what holds it, before anything is computed."""

from collections.abc import Iterator

from workflow.case_errors import Problem, nearest
from workflow.case_models import Further, OnePoint
from workflow.case_parts import Parts, mirrored, tooth_in_unit
from workflow.catalogue import load_catalogue
from workflow.units import GF_PER_N
from workflow.wire_run import part_fault


def wire_problems(parts: Parts) -> Iterator[Problem]:
    """Find what cannot be computed together, or does not fit."""
    for check in (_contacts, _brackets, _trial, _run, _midline, _further, _course):
        yield from check(parts)


def _contacts(parts: Parts) -> Iterator[Problem]:
    """What cannot be computed together, and a wire that does not enter its tube."""
    hook, tube, wire = parts.one_point, parts.two_point, parts.wire
    if hook and hook.friction and hook.contact not in ("bar", "peg"):
        yield parts.problem(
            "one_point.friction",
            f"is not computed at contact {hook.contact}; drop it, or use bar or peg",
            hook.friction,
        )
    if tube is None or tube.attachment is None:
        return
    if hook and hook.contact in ("peg", "bracket"):
        yield parts.problem(
            "two_point.attachment",
            f"play is not computed together with contact {hook.contact}; drop it, or use contact "
            "bar or tied",
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


def _brackets(parts: Parts) -> Iterator[Problem]:
    """Brackets that have no tooth, and widths of brackets that are none."""
    hook = parts.one_point
    if hook and hook.contact == "bracket" and hook.tooth is None:
        yield parts.problem(
            "one_point.tooth",
            "missing; contact bracket is that of a tooth: name it, and drop between and "
            "wire.span_mm",
        )
    named: list[tuple[str, OnePoint | Further]] = [("one_point", hook)] if hook else []
    named += [(f"further[{i}]", held) for i, held in enumerate(parts.further or ())]
    for name, held in named:
        if held.bracket_width_mm is not None and held.contact != "bracket":
            yield parts.problem(
                f"{name}.bracket_width_mm",
                f"says nothing at contact {held.contact}; drop it, or write contact: bracket",
                held.bracket_width_mm,
            )


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
            yield from tooth_in_unit(parts, f"{name}.tooth", held.tooth, unit, "hold")
        taken.add(held.unit)
    if not parts.further:
        return
    if two and two.attachment is not None:
        yield parts.problem(
            "two_point.attachment", "play is not computed with further; drop one", two.attachment
        )
    if one and one.contact == "peg":
        yield parts.problem(
            "one_point.contact", "peg is not computed with further; drop one", "peg"
        )


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
                "lie on both sides of the midline, which is computed with mirror_image: true only; "
                "write it, or keep the teeth of one side",
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
    if one and one.contact == "bracket":
        found.append("one_point.contact: bracket")
    if parts.further:
        found.append("further")
    if found:
        yield parts.problem("course", f"is not computed with {' and '.join(found)}; drop one")
    force = parts.wire and parts.wire.activation.wanted_force_N
    if force and force * GF_PER_N <= course.force_floor_gf:
        yield parts.problem(
            "course.force_floor_gf",
            f"is not below the wanted force, {force * GF_PER_N:.3g} gf, so that the course ends "
            "where it begins; give less",
            course.force_floor_gf,
        )
    if units and not any(
        unit.support == "ligament" and (unit.role == "target" or course.anchors_move)
        for unit in units.values()
    ):
        yield parts.problem(
            "course", "no unit can move; drop it, or give a target support: ligament"
        )
