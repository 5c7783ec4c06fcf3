"""Slot play: how far a straight wire is free in a bracket slot or tube, and at which angle it jams.

A stiff wire of height h in a slot of height H turns until two opposite corners touch. Over a
length c of contact (the slot's length b for tipping, the wire's width w for torsion),

    ``c sin θ + h cos θ = H``,  so ``θ = asin(H / √(h² + c²)) − atan(h / c)``,

and for small play ``θ ≈ (H − h) / c``. The angles are one-sided: from the middle of the slot to
contact in one direction. Sharp corners, exact sizes are assumed; real slots are oversize and real
wires bevelled, so measured play is larger (Meling et al. 1997, AJODO: 18.5° measured against 5.4°
by this formula for 0.016 × 0.022 in in 0.018 in).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, atan, hypot

import numpy as np
from numpy.typing import NDArray

from fem.attachment import Contact, LimitedContact, PointContact, TurnContact
from fem.section import Section

Array = NDArray[np.float64]

_CENTRING_N_PER_MM = 1e-4
_CENTRING_NMM_PER_RAD = 1e-4
_NO_TURN_RAD = 1e-9


@dataclass(frozen=True)
class Slot:
    """Inner size of a slot or tube, straight and with sharp edges.

    Attributes
    ----------
    height_mm
        Size along the wire's height.
    width_mm
        Size along the wire's width: the depth of a slot closed by a ligature or door.
    length_mm
        Distance b between the two mouths: bracket width or tube length.

    Raises
    ------
    ValueError
        If a size is not positive.
    """

    height_mm: float
    width_mm: float
    length_mm: float

    def __post_init__(self) -> None:
        for name in ("height_mm", "width_mm", "length_mm"):
            if not getattr(self, name) > 0:
                raise ValueError(f"slot {name} = {getattr(self, name)}: must be positive")


@dataclass(frozen=True)
class SlotPlay:
    """Free play of a wire in a slot.

    Attributes
    ----------
    height_mm, width_mm
        Slot minus wire, from wall to wall.
    height_rad, width_rad
        One-sided angle at which the second contact closes when the wire tips in the plane of its
        height or of its width.
    torsion_rad
        One-sided angle at which the wire jams when it turns about its own axis; infinite for a
        round wire or one that turns over freely.
    """

    height_mm: float
    width_mm: float
    height_rad: float
    width_rad: float
    torsion_rad: float


def slot_play(section: Section, slot: Slot) -> SlotPlay:
    """Play of a wire in a slot, in its height, its width, and in torsion.

    Torsion is stopped by the walls of the slot's height or of its width, whichever comes first.

    Raises
    ------
    ValueError
        If the wire is larger than the slot.
    """
    h, w = section.height_mm, section.width_mm
    for name, wire, room in (("height", h, slot.height_mm), ("width", w, slot.width_mm)):
        if wire > room:
            raise ValueError(
                f"wire {name} {wire:.4g} mm in a slot {name} of {room:.4g} mm: it does not enter; "
                "choose a smaller wire or a larger slot"
            )
    round_wire = section.kind == "round"
    torsion = min(jamming_angle(w, h, slot.height_mm), jamming_angle(h, w, slot.width_mm))
    return SlotPlay(
        height_mm=slot.height_mm - h,
        width_mm=slot.width_mm - w,
        height_rad=jamming_angle(slot.length_mm, h, slot.height_mm),
        width_rad=jamming_angle(slot.length_mm, w, slot.width_mm),
        torsion_rad=np.inf if round_wire else torsion,
    )


def jamming_angle(contact_mm: float, wire_mm: float, slot_mm: float) -> float:
    """Angle at which a stiff wire touches both walls: ``c sin θ + h cos θ = H``, rad.

    Infinite if the slot is wider than the diagonal, where no angle jams.

    Parameters
    ----------
    contact_mm
        Length c along the walls: slot length for tipping, wire width for torsion.
    wire_mm, slot_mm
        Wire h and slot H square to the walls.
    """
    diagonal = hypot(wire_mm, contact_mm)
    if slot_mm > diagonal:
        return np.inf
    return max(0.0, asin(slot_mm / diagonal) - atan(wire_mm / contact_mm))


def slot_contacts(
    unit: int,
    nodes: tuple[int, int],
    places: tuple[Array, Array],
    axes: Array,
    play: SlotPlay,
    *,
    cinched: bool = True,
    centring_N_per_mm: float = _CENTRING_N_PER_MM,
    centring_Nmm_per_rad: float = _CENTRING_NMM_PER_RAD,
) -> tuple[Contact, ...]:
    """Contacts of a slot or tube with play: the wire's axis may move within limits at each mouth.

    At both mouths the wire's axis keeps within half the play of the middle, in height and in
    width, and its section within the torsional play; without play in a direction it is held. A
    loose wire is centred by springs so weak that they bear no load worth naming: they stand for
    whatever keeps a loose wire from rattling and make its place unique. Height, width and
    torsion are limited each by itself: that a turned section has less room in height is left out.

    Parameters
    ----------
    unit, nodes, places, axes, cinched
        As for `fem.attachment.two_point_contact`.
    play
        From `slot_play`.
    centring_N_per_mm, centring_Nmm_per_rad
        Springs that centre a loose wire at each mouth.
    """
    along, width, height = axes.T
    contacts: list[Contact] = []
    if cinched:
        contacts.append(PointContact(nodes[0], unit, places[0], along[None], np.zeros(1)))
    for node, place in zip(nodes, places, strict=True):
        for direction, room in ((height, play.height_mm), (width, play.width_mm)):
            point = PointContact(node, unit, place, direction[None], np.zeros(1))
            contacts.append(_limited(point, room / 2, centring_N_per_mm))
    if play.torsion_rad < _NO_TURN_RAD:
        contacts.append(TurnContact(nodes[0], unit, 1, height))
        return tuple(contacts)
    most = float(np.sin(min(play.torsion_rad, np.pi / 2)))
    for node in nodes:
        turn = TurnContact(node, unit, 1, height)
        contacts.append(LimitedContact(turn, most, centring_Nmm_per_rad))
    return tuple(contacts)


def _limited(contact: PointContact, most: float, spring: float) -> Contact:
    return LimitedContact(contact, most, spring) if most > 0 else contact
