"""A one-couple appliance made of one cantilever: from its design to its equilibrium.

Unit 0 is held at two points (it receives a couple and a force), unit 1 at one (a force only).
The passive wire leaves the tube with one bend and runs, straight or over loops, to a point off the
hook by the activation; the hook then catches its end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Equilibrium
from fem.appliance_system import Iterate, System, solve_equilibrium
from fem.attachment import (
    Contact,
    bar_contact,
    bracket_contact,
    pull_contact,
    tied_contact,
    two_point_contact,
)
from fem.cantilever_design import (
    ONE_POINT,
    TWO_POINT,
    Cantilever,
    CantileverSites,
    FurtherBracket,
    FurtherHold,
)
from fem.rigid import shift_motion
from fem.rod import RodState, passive_rod
from geometry.wire import CantileverWire, cantilever_wire
from geometry.wire_path import with_nodes

Array = NDArray[np.float64]

TUBE_PIECES, BEND_PIECES = 4, 4  # rod elements in the tube and in the bend

_SLIP_TOLERANCE_MM = 1e-6
_MAX_FITS = 20
_LEAST_SLOPE = -0.1  # of the slip over the wire's length: keeps a secant step within bounds


@dataclass(frozen=True)
class SolvedCantilever:
    """An engaged cantilever.

    Attributes
    ----------
    path
        The passive wire.
    appliance
        Rod, units and contacts.
    equilibrium
        The engaged state.
    offset_mm
        Distance between the passive wire's end and the hook, along the activation.
    """

    path: CantileverWire
    appliance: Appliance
    equilibrium: Equilibrium
    offset_mm: float

    @property
    def touch_mm(self) -> Array:
        """Where the engaged wire touches the one-point unit, (3,)."""
        return self.equilibrium.loads[-1].point

    def force_on_hook_N(self) -> Array:
        """Force on the one-point unit, (3,)."""
        return self.equilibrium.wrench_on(ONE_POINT, np.zeros(3))[:3]

    def couple_on_tube_Nmm(self, middle: Array) -> Array:
        """Moment on the two-point unit about the middle of its attachment, (3,)."""
        return self.equilibrium.wrench_on(TWO_POINT, middle)[3:]


def solve_for_offset(
    cantilever: Cantilever, offset_mm: float, *, steps: int = 4
) -> SolvedCantilever:
    """Engage a cantilever whose passive end lies a given distance off the hook.

    Over a bar, or pulled, the end slides and the tube is cinched. At a tie the end is held in all
    directions and the wire slides in the tube instead: its free run is fitted so that it needs no
    hold there.

    Raises
    ------
    fem.appliance.EquilibriumError
        If no equilibrium is found.
    ValueError
        If the bend cannot reach the passive end.
    """
    if cantilever.sites.cinched:
        return _solve(cantilever, offset_mm, 0.0, steps)
    return _solve_sliding(cantilever, offset_mm, steps)


def passive_path(
    cantilever: Cantilever, offset_mm: float, extra_length_mm: float = 0.0
) -> CantileverWire:
    """Passive wire whose last leg ends a given distance off the hook.

    The leg is longer by an extra length. For a bracket in place of the hook the wire goes on
    straight beyond it, as far as the bracket is wide.

    Raises
    ------
    ValueError
        If the bend cannot reach the passive end.
    """
    sites, wire = cantilever.sites, cantilever.wire
    return cantilever_wire(
        sites.mouths,
        sites.tube_axes,
        sites.hook - offset_mm * sites.activation,
        run=wire.run,
        bend_radius_mm=wire.bend_radius_mm,
        extra_length_mm=extra_length_mm,
        beyond_mm=0.0 if sites.bracket is None else sites.bracket.width_mm,
        pieces=(TUBE_PIECES, BEND_PIECES, wire.elements),
    )


def _solve(
    cantilever: Cantilever, offset_mm: float, extra_length_mm: float, steps: int
) -> SolvedCantilever:
    path, appliance = _passive(cantilever, offset_mm, extra_length_mm)
    return SolvedCantilever(path, appliance, solve_equilibrium(appliance, steps=steps), offset_mm)


def _passive(
    cantilever: Cantilever, offset_mm: float, extra_length_mm: float
) -> tuple[CantileverWire, Appliance]:
    """Passive wire and the appliance to engage it in; the contact at the hook is the last."""
    sites, wire = cantilever.sites, cantilever.wire
    path, between = _held_on_its_way(
        passive_path(cantilever, offset_mm, extra_length_mm), cantilever.further
    )
    rod = passive_rod(path.points, path.axes, path.lengths_mm, wire.law)
    contacts = two_point_contact(
        TWO_POINT, path.mouths, sites.mouths, sites.tube_axes, cinched=sites.cinched
    )
    state = RodState(path.points, path.axes)
    held = (*contacts, *between, *_hold(sites, path))
    return path, Appliance(rod, state, cantilever.units, held)


def _hold(sites: CantileverSites, path: CantileverWire) -> tuple[Contact, ...]:
    """What the one-point unit holds the wire with."""
    if sites.bracket is not None:
        nodes = path.target_node, len(path.points) - 1
        return bracket_contact(ONE_POINT, nodes, sites.bracket, path.points, path.axes)
    last = len(path.points) - 1
    if sites.pull:
        return (pull_contact(ONE_POINT, last, sites.hook, sites.activation, path.tip),)
    if sites.bar is None:
        return (tied_contact(ONE_POINT, last, sites.hook, path.tip),)
    return (bar_contact(ONE_POINT, last, sites.hook, sites.bar, path.tip),)


def _held_on_its_way(
    path: CantileverWire, further: Sequence[FurtherHold | FurtherBracket]
) -> tuple[CantileverWire, list[Contact]]:
    """The wire with nodes where further units touch it, and their contacts."""
    arcs = [[_arc_at(path, held.place) + on for on in held.along_mm] for held in further]
    swept, nodes = with_nodes(path.swept, [arc for own in arcs for arc in own])
    path, waiting = replace(path, swept=swept), iter(nodes)
    return path, [
        contact
        for held in further
        for contact in held.contacts([next(waiting) for _ in held.along_mm], path)
    ]


def _arc_at(path: CantileverWire, place: Array) -> float:
    """Length along the wire at which it has come as far on its way to the end as a place lies.

    Of several such lengths, as on a loop, the one nearest to the place.
    """
    first = path.mouths[1]
    start, way = path.points[first], path.points[path.target_node] - path.points[first]
    ahead = (path.points[first:] - place) @ way
    crossing = np.flatnonzero((ahead[:-1] <= 0) & (ahead[1:] > 0))
    if not len(crossing):
        raise ValueError(
            f"the wire does not pass the further unit at {np.round(place, 2).tolist()} mm, which "
            f"lies {(place - start) @ way / (way @ way):.2f} of the way from tube to hook: name a "
            "tooth between them"
        )
    off = np.linalg.norm(path.points[first:][crossing] - place, axis=1)
    piece = int(crossing[off.argmin()])
    share = ahead[piece] / (ahead[piece] - ahead[piece + 1])
    return float(path.swept.arc_mm[first + piece] + share * path.lengths_mm[first + piece])


def _solve_sliding(cantilever: Cantilever, offset_mm: float, steps: int) -> SolvedCantilever:
    """Free run fitted until the wire, free to slide in its tube, stays where it was cut.

    Secant method on the slip, begun with a wire longer by what it slips.
    """
    extra, slope = 0.0, -1.0
    solved = _solve(cantilever, offset_mm, extra, steps)
    slip = _slip(cantilever, solved)
    for _ in range(_MAX_FITS):
        if abs(slip) < _SLIP_TOLERANCE_MM:
            return solved
        step, before = -slip / slope, slip
        extra += step
        solved = _solve_near(cantilever, solved, extra, steps)
        slip = _slip(cantilever, solved)
        slope = min((slip - before) / step, _LEAST_SLOPE)
    raise ValueError(f"the tied wire found no length at rest in its tube: it slips {slip:.2g} mm")


def _solve_near(
    cantilever: Cantilever, near: SolvedCantilever, extra_length_mm: float, steps: int
) -> SolvedCantilever:
    """The wire with another extra length, from its equilibrium with one not far from it."""
    path, appliance = _passive(cantilever, near.offset_mm, extra_length_mm)
    found = near.equilibrium
    solved = None
    if len(path.points) == len(near.path.points):
        system = System(appliance)
        start = Iterate(found.state, found.motions, np.concatenate(found.multipliers))
        solved = system.newton(start, 1.0)
    if solved is None:
        return _solve(cantilever, near.offset_mm, extra_length_mm, steps)
    equilibrium = system.result(solved, found.iterations + solved.iterations)
    return SolvedCantilever(path, appliance, equilibrium, near.offset_mm)


def _slip(cantilever: Cantilever, solved: SolvedCantilever) -> float:
    """How far the wire's first node has slid in the tube, along it, mm."""
    mouth, along = cantilever.sites.mouths[0], cantilever.sites.tube_axes[:, 0]
    motion = solved.equilibrium.motions[TWO_POINT]
    moved = shift_motion(motion, cantilever.units[TWO_POINT].point, mouth)[:3]
    return float((solved.equilibrium.state.points[0] - mouth - moved) @ along)
