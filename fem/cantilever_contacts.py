"""A cantilever whose tube has play, whose hook has friction, or whose hook it may slide over.

Each variant takes the cantilever of `fem.cantilever` and changes one contact of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance
from fem.attachment import LimitedContact
from fem.cantilever import solve_for_offset
from fem.cantilever_design import ONE_POINT, TWO_POINT, Cantilever
from fem.contact_search import PlaySolution, solve_with_play
from fem.friction import FrictionBracket, friction_bracket
from fem.peg import Peg, PegBracket, peg_bracket, straight_cut
from fem.slot import Slot, SlotPlay, slot_contacts, slot_play

Array = NDArray[np.float64]

_HOLD = 1  # contacts at the one-point unit, after those of the tube


@dataclass(frozen=True)
class LooseCantilever:
    """A cantilever in a tube with play.

    Attributes
    ----------
    play
        Free play of the wire in its tube.
    solution
        Equilibrium, contacts and events.
    closings_mm
        Offset at which each wall of the tube is first reached, by contact index.
    """

    play: SlotPlay
    solution: PlaySolution
    closings_mm: dict[int, float]


def engage_with_play(
    cantilever: Cantilever,
    offset_mm: float,
    height_mm: float,
    width_mm: float,
    *,
    steps: int = 8,
    until: float = 1.0,
) -> LooseCantilever:
    """Engage a cantilever whose tube is larger than its wire.

    Parameters
    ----------
    cantilever
        Sites, wire and units; hooked over a bar, or tied with its length as fitted without play.
    offset_mm
        Distance of the passive end from the hook.
    height_mm, width_mm
        Inner size of the tube along the wire's height and width.
    steps, until
        As for `fem.contact_search.solve_with_play`.

    Raises
    ------
    ValueError
        If the wire does not enter the tube.
    fem.appliance.EquilibriumError
        If no equilibrium is found.
    """
    sites = cantilever.sites
    play = slot_play(cantilever.wire.section, Slot(height_mm, width_mm, sites.base_mm))
    tight = solve_for_offset(cantilever, offset_mm)
    tube = slot_contacts(
        TWO_POINT,
        tight.path.mouths,
        sites.mouths,
        sites.tube_axes,
        play,
        cinched=sites.cinched,
    )
    contacts = (*tube, *tight.appliance.contacts[-_HOLD:])
    solution = solve_with_play(
        replace(tight.appliance, contacts=contacts), steps=steps, until=until
    )
    closings = {
        k: offset_mm * share
        for k, contact in enumerate(contacts)
        if isinstance(contact, LimitedContact) and (share := solution.closing(k)) is not None
    }
    return LooseCantilever(play, solution, closings)


def engage_with_friction(
    cantilever: Cantilever, offset_mm: float, coefficient: float
) -> FrictionBracket:
    """Engage a cantilever that slides along a rough bar, while activating and while letting back.

    Raises
    ------
    ValueError
        If the wire is tied at the hook.
    fem.appliance.EquilibriumError
        If no equilibrium is found.
    """
    bar = cantilever.sites.bar
    if bar is None:
        raise ValueError("the wire is tied at its hook: it rubs nowhere; give the hook a bar")
    appliance = solve_for_offset(cantilever, offset_mm).appliance
    return friction_bracket(appliance, len(appliance.contacts) - _HOLD, bar, coefficient)


def engage_over_peg(
    cantilever: Cantilever, offset_mm: float, coefficient: float = 0.0, *, steps: int = 8
) -> PegBracket:
    """Engage a cantilever, longer than needed, that slides lengthwise over its hook.

    The tube is cinched; the hook is a thin peg that holds the wire both ways across it.

    Parameters
    ----------
    cantilever
        Sites, wire and units; the direction of the bar, if any, says only that the end is free.
    offset_mm
        Distance of the passive wire from the hook.
    coefficient
        Coefficient of friction.

    Raises
    ------
    fem.appliance.EquilibriumError
        If no equilibrium is found.
    """
    sites, wire = cantilever.sites, cantilever.wire
    bar = sites.bar if sites.bar is not None else sites.tube_axes[:, 0]
    hooked = replace(cantilever, sites=replace(sites, bar=bar))
    tight = solve_for_offset(hooked, offset_mm)
    tube: Appliance = replace(tight.appliance, contacts=tight.appliance.contacts[:-_HOLD])
    straight = tube.rod.n_elements - tight.path.last_pieces
    cut = straight_cut(tube, straight, wire.law)
    length = float(tube.rod.lengths_mm.sum())
    return peg_bracket(cut, length, Peg(ONE_POINT, sites.hook, coefficient), steps=steps)
