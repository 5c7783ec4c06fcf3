"""Play of a wire in its slot: published torsional play, and the geometry of tipping."""

from __future__ import annotations

import numpy as np

from fem.section import rectangular_section
from fem.slot import Slot, SlotPlay, jamming_angle, slot_play
from workflow.units import MM_PER_INCH
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table


def play(
    height_in: float,
    width_in: float,
    slot_in: float,
    *,
    depth_in: float = 0.030,
    length_mm: float = 4.0,
) -> SlotPlay:
    """Play of a sharp rectangular wire in a slot of the given height."""
    section = rectangular_section(width_in * MM_PER_INCH, height_in * MM_PER_INCH)
    return slot_play(section, Slot(slot_in * MM_PER_INCH, depth_in * MM_PER_INCH, length_mm))


def _torsional(printed: bool) -> Compared:
    table = reference_table("torsional_play")
    table = table[table.printed == int(printed)]
    rows = list(zip(table.height_in, table.width_in, table.slot_in, strict=True))
    found = [np.degrees(play(*row).torsion_rad) for row in rows]
    labels = [f"{h:.3f} × {w:.3f} in {H:.3f} in" for h, w, H in rows]
    return Compared(found, table.play_deg, scale=1.0, labels=labels)


def _jammed() -> Compared:
    """The corners of the turned section stand exactly H apart."""
    w, H, found = 0.025, 0.022, []
    heights = (0.017, 0.018, 0.021)
    for h in heights:
        t = play(h, w, H).torsion_rad
        corners = np.array([[w, h], [w, -h]]) / 2
        turn = np.array([[np.cos(t), -np.sin(t)], [np.sin(t), np.cos(t)]])
        found.append(2 * np.abs(corners @ turn.T)[:, 1].max())
    return Compared(found, H, labels=[f"{h:.3f} in" for h in heights])


def _tipping() -> Compared:
    slots = {0.018: 0.36, 0.022: 1.82}
    found = [np.degrees(np.arctan(play(0.017, 0.025, s).height_mm / 4.0)) for s in slots]
    return Compared(found, list(slots.values()), scale=1.0, labels=[f"{s} in" for s in slots])


def _tipping_exact() -> Compared:
    """A wire tipped by θ in a tube of length b touches both mouths: b sin θ + h cos θ = H."""
    found = []
    for slot in (0.018, 0.020, 0.022):
        t = play(0.017, 0.025, slot).height_rad
        found.append((4.0 * np.sin(t) + 0.017 * MM_PER_INCH * np.cos(t)) / (slot * MM_PER_INCH))
    return Compared(found, 1.0)


def _small_play() -> Compared:
    return Compared(jamming_angle(4.0, 0.45, 0.45 + 1e-4), 1e-4 / 4.0)


def _depth() -> Compared:
    found = play(0.017, 0.025, 0.022, depth_in=0.028).width_mm
    return Compared(found, 0.003 * MM_PER_INCH)


CHECKS = (
    Check(
        id="torsional_play_printed",
        what="torsional play of three wires in a slot of 0.022 inch, degrees",
        code="fem.slot.slot_play",
        kind=Kind.BENCHMARK,
        source="papageorgiou_play",
        place="0.019 × 0.019, 0.019 × 0.022 and 0.019 × 0.025 inch",
        tolerance=5e-3,
        reason="absolute, degrees: two decimals are printed",
        compute=lambda: _torsional(True),
    ),
    Check(
        id="torsional_play_others",
        what="torsional play of six more wires in slots of 0.018 and 0.022 inch, degrees",
        code="fem.slot.slot_play",
        kind=Kind.BENCHMARK,
        source="slot_geometry",
        place="w sin θ + h cos θ = H, which gives the printed three to 0.01°",
        tolerance=5e-3,
        reason="absolute, degrees: two decimals were kept",
        compute=lambda: _torsional(False),
    ),
    Check(
        id="jammed_section",
        what="distance of the corners of a section turned by its play, inch",
        code="fem.slot.slot_play",
        kind=Kind.CODE,
        source="slot_geometry",
        place="corners of three wires, turned",
        tolerance=1e-12,
        reason="rounding",
        compute=_jammed,
    ),
    Check(
        id="tipping_play",
        what="tipping play of 0.017 inch in a tube of 4 mm, degrees",
        code="fem.slot.slot_play",
        kind=Kind.BENCHMARK,
        source="slot_geometry",
        place="atan((H − h)/b), tubes of 0.018 and 0.022 inch",
        tolerance=5e-3,
        reason="absolute, degrees: two decimals were kept",
        compute=_tipping,
    ),
    Check(
        id="tipping_jams",
        what="height that a wire tipped by its play takes up over that of the tube",
        code="fem.slot.slot_play, fem.slot.jamming_angle",
        kind=Kind.CODE,
        source="slot_geometry",
        place="b sin θ + h cos θ = H",
        tolerance=1e-12,
        reason="rounding",
        compute=_tipping_exact,
    ),
    Check(
        id="vanishing_play",
        what="tipping play as the clearance vanishes, rad",
        code="fem.slot.jamming_angle",
        kind=Kind.CODE,
        source="slot_geometry",
        place="θ → (H − h)/b, 4 mm and 1e-4 mm",
        tolerance=1e-5,
        reason="the formula's own error is of the order of θ times h/b",
        compute=_small_play,
    ),
    Check(
        id="play_in_the_depth",
        what="play of a wire's width in the slot's depth, mm",
        code="fem.slot.slot_play",
        kind=Kind.CODE,
        source="slot_geometry",
        place="0.025 inch in 0.028 inch",
        tolerance=1e-12,
        reason="rounding",
        compute=_depth,
    ),
)
