"""What the sheet says of the wire: its shape, its contacts, its loads beside simpler theories."""

from __future__ import annotations

import numpy as np

from workflow.figures import three_digits
from workflow.sheet_amounts import amount
from workflow.sheet_answer import NO_SET_MM
from workflow.sheet_tables import Table
from workflow.specs import Spec

_NONE = "not given"
_CONTACTS = {
    "bar": "hook on {}, resting on the unit's wire, free to slide along it",
    "tied": "hook on {}, tied",
    "peg": "hook on {}, the wire passing through it and sliding lengthwise",
    "bracket": "bracket on {}: two points and so a couple there too, statically indeterminate",
    "dead_force": "pull on {}, with a force of one direction, as of a weight or a long thread",
}


def wire_table(case: Spec, summary: Spec) -> Table:
    """The wire by finite rotations beside linear theory, as bent and by the simple formula."""
    wire = summary["wire"]
    force, couple = (float(np.linalg.norm(wire[key])) for key in ("force_N", "couple_Nmm"))
    simpler = [wire["linear_as_bent"], wire["linear_theory"]]
    forces = (f"{amount(t['force_N'], 'N')}, {_difference(t['force_N'], force)}" for t in simpler)
    couples = (
        f"{amount(t['couple_Nmm'], 'N·mm')}, {_difference(t['couple_Nmm'], couple)}"
        for t in simpler
    )
    strength = case["wire"]["alloy"]["yield_strength_MPa"]
    rows = [
        ("Force", amount(force, "N"), *forces),
        ("Couple", amount(couple, "N·mm"), *couples),
    ]
    own = [
        ("Length along the wire", f"{wire['length_mm']:.3g} mm"),
        ("Peak stress", f"{wire['peak_stress_MPa']:.0f} MPa"),
        (_limit(case), f"{100 * wire['yield_ratio']:.0f} % of {strength:g} MPa"),
        ("Permanent set", _set(wire["permanent_set_mm"])),
        *_friction_rows(wire["friction"]),
        *_play_rows(wire["play"]),
    ]
    rows += [(name, text, _NONE, _NONE) for name, text in own]
    head = ("", "Finite rotations", "Linear theory, as bent", "Simple formula, straight wire")
    return Table("The engaged wire", head, tuple(rows))


def shape_text(solved: Spec) -> str:
    """What the wire is bent to, from the tube on."""
    parts = solved["wire"]["as_bent"]["parts"][1:]
    shown = []
    for part in parts:
        length = sum(arc["length_mm"] for arc in part["arcs"])
        words = part["words"] or f"{three_digits(length)} mm"
        shown.append(f"{part['part']} ({words})")
    shown[0] = f"bend at the tube ({solved['bend_deg']:.3g}°)"
    return ", ".join(shown)


def tube_text(case: Spec) -> str:
    """The two-point contact in words."""
    two = case["two_point"]
    text = f"tube {two['tube_length_mm']:g} mm long on tooth {two['tooth']} of {two['unit']}"
    if two["slot"] is None:
        return f"{text}, no play"
    slot = two["slot"]
    size = f"{slot['height_mm']:.3g} × {slot['width_mm']:.3g} mm"
    return f"{text}, slot {size} ({slot['name'].replace('_', ' ')})"


def hook_text(case: Spec, where: str) -> str:
    """The one-point contact in words."""
    one = case["one_point"]
    text = _CONTACTS[one["contact"]].format(f"{one['unit']}{where}")
    return f"{text}, friction {one['friction']:g}" if one["friction"] else text


def held_text(case: Spec) -> str:
    """How the wire is held, in one line."""
    if case["one_point"]["contact"] == "bracket":
        return "a wire held at two points on both units"
    further = len(case["further"])
    more = f", held further by {further} more" if further else ""
    return f"a wire held at two points on one unit and at one point on another{more}"


def contact_sentences(case: Spec, solved: Spec) -> list[str]:
    """What the contacts and the wire are taken to be."""
    one, two, wire = case["one_point"], case["two_point"], case["wire"]
    play = (
        "The wire has no play in its tube"
        if two["slot"] is None
        else "The wire has play in its tube and is held at the walls it reaches"
    )
    rub = "all contacts are without friction"
    if solved["friction"] is not None:
        rub = f"friction of {one['friction']:g} at the hook is left out"
        if solved["friction"]["computed"]:
            rub = (
                f"with friction of {one['friction']:g} at the hook, loads while activating and "
                "while letting back stand beside those given, which are without friction"
            )
    law = (
        "The wire is linear elastic and turns by finite rotations."
        if solved["past_limit"] is None
        else "Bending of the wire follows its alloy past the elastic limit; its torsion and shear "
        "stay elastic."
    )
    if not wire["inelastic"]:
        law = "The wire is taken as linear elastic, whatever its stress."
    return [f"{play}; {rub}.", law]


def _limit(case: Spec) -> str:
    transforms = case["wire"]["alloy"]["superelastic"] is not None
    return "Share of the plateau's start" if transforms else "Share of yield"


def _set(permanent_mm: float | None) -> str:
    if permanent_mm is None:
        return "unknown above yield"
    return "none" if permanent_mm < NO_SET_MM else f"{permanent_mm:.2g} mm at the wire's end"


def _friction_rows(friction: Spec | None) -> list[tuple[str, str]]:
    if friction is None or not friction["computed"]:
        return []
    if friction["sticks"]:
        force = amount(friction["activating"]["force_N"], "N")
        return [("With friction", f"the wire sticks where it first touches: {force}")]
    return [
        (
            name,
            f"{amount(friction[k]['force_N'], 'N')}, {amount(friction[k]['couple_Nmm'], 'N·mm')}",
        )
        for name, k in (
            ("With friction, activating", "activating"),
            ("With friction, letting back", "letting_back"),
        )
    ]


def _play_rows(play: Spec | None) -> list[tuple[str, str]]:
    if play is None:
        return []
    turn = "turns freely" if play["torsion_deg"] is None else f"{play['torsion_deg']:.3g}°"
    angles = (
        f"{play['height_deg']:.2g}° in height, {play['width_deg']:.2g}° in width, torsion {turn}"
    )
    rows = [("Play in the tube, to each side", angles)]
    if play["closings_mm"]:
        listed = ", ".join(f"{at:.2g}" for at in play["closings_mm"])
        rows.append(("Walls reached at an activation of", f"{listed} mm"))
    return rows


def _difference(linear: float, exact: float) -> str:
    share = 100 * (linear / exact - 1)
    return f"{abs(share):.1f} % {'more' if share >= 0 else 'less'}"
