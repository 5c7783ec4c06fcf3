"""A one-couple appliance made of one cantilever: from its design to its equilibrium.

Unit 0 is held at two points (it receives a couple and a force), unit 1 at one (a force only).
The passive wire leaves the tube with one bend and runs, straight or over loops, to a point off the
hook by the activation; the hook then catches its end.

Unit 1 may have a bracket instead of the hook, and further units may hold the wire on its way, at
one point or in a bracket. Then it is no longer statically determinate: forces and couples depend on
the angles of the brackets and on how the units give way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Equilibrium, Unit
from fem.appliance_system import Iterate, System, solve_equilibrium
from fem.attachment import (
    Contact,
    bar_contact,
    bracket_contact,
    pull_contact,
    tied_contact,
    two_point_contact,
)
from fem.material import Elastic
from fem.rigid import shift_motion
from fem.rod import RodState, passive_rod
from fem.section import Section
from geometry.sites import Tube
from geometry.wire import CantileverWire, cantilever_wire
from geometry.wire_path import Feature, with_nodes

Array = NDArray[np.float64]

TWO_POINT, ONE_POINT = 0, 1

TUBE_PIECES, BEND_PIECES = 4, 4  # rod elements in the tube and in the bend

_SHEAR_RIGID = 1e3  # leaves a thousandth of the shear deflection, itself a thousandth
_SLIP_TOLERANCE_MM = 1e-6
_MAX_FITS = 20
_LEAST_SLOPE = -0.1  # of the slip over the wire's length: keeps a secant step within bounds


@dataclass(frozen=True)
class CantileverSites:
    """Where the wire is held.

    Attributes
    ----------
    mouths
        Distal (cinched) and mesial mouth of the tube, (3,) each, mm.
    tube_axes
        Columns along the tube (distal to mesial mouth), width and height of the wire, (3, 3).
    hook
        The one-point contact, (3,), mm.
    bar
        Direction of the bar the wire hooks over, (3,), or None if it is tied at the hook.
    activation
        Unit vector from the passive wire's end to the hook, (3,).
    pull
        Whether the one-point unit gets a force along the activation alone, as from a weight or a
        long thread, and neither a bar nor a tie holds the wire across it.
    bracket
        A bracket of the one-point unit that takes the wire at two points, its first mouth in the
        place of the hook; None without.
    """

    mouths: tuple[Array, Array]
    tube_axes: Array
    hook: Array
    bar: Array | None
    activation: Array
    pull: bool = False
    bracket: Tube | None = None

    @property
    def cinched(self) -> bool:
        """Whether the wire is held along its tube: all but a tied one are."""
        return self.pull or self.bar is not None or self.bracket is not None

    @property
    def hooked(self) -> CantileverSites:
        """The same with a hook over a bar in place of the bracket, if there is one."""
        if self.bracket is None:
            return self
        return replace(self, bar=self.bracket.axes[:, 0], bracket=None)

    def moved_hook(self, shift_mm: Array) -> CantileverSites:
        """The same with its hook or bracket elsewhere."""
        bracket = None if self.bracket is None else self.bracket.moved(shift_mm)
        return replace(self, hook=self.hook + shift_mm, bracket=bracket)

    @property
    def tube_middle(self) -> Array:
        """Middle of the two-point attachment, (3,), mm."""
        return 0.5 * (self.mouths[0] + self.mouths[1])

    @property
    def base_mm(self) -> float:
        """Tube length."""
        return float(np.linalg.norm(self.mouths[1] - self.mouths[0]))

    @property
    def span_mm(self) -> float:
        """Straight distance from the mesial mouth to the hook."""
        return float(np.linalg.norm(self.hook - self.mouths[1]))


@dataclass(frozen=True)
class WireDesign:
    """What the wire is made of and how finely it is cut.

    Attributes
    ----------
    section, material
        Section and elastic constants.
    bend_radius_mm
        Radius of the bend at the tube.
    elements
        Rod elements on the free run; more where loops turn.
    run
        What the free run is bent to between its bend at the tube and its last leg.
    shear_rigid
        Whether shear deformation is suppressed, as Euler–Bernoulli theory assumes: to compare
        with its formulas.
    """

    section: Section
    material: Elastic
    bend_radius_mm: float
    elements: int
    run: tuple[Feature, ...] = ()
    shear_rigid: bool = False

    @property
    def law(self) -> Array:
        """Diagonal of the section law, (6,)."""
        law = self.section.stiffness(self.material)
        if self.shear_rigid:
            law[1:3] *= _SHEAR_RIGID
        return law


@dataclass(frozen=True)
class FurtherHold:
    """A place between tube and hook where a further unit holds the wire at one point.

    Attributes
    ----------
    unit
        Index of the unit, 2 or more.
    place
        Where the wire is held, (3,), mm.
    bar
        Direction along which the wire slides there, (3,). It is held at its tube and its hook; tied
        lengthwise in between as well, it would be strained by the smallest misfit.
    """

    unit: int
    place: Array
    bar: Array

    @property
    def along_mm(self) -> tuple[float, ...]:
        """Where along the wire it is touched, from the place on."""
        return (0.0,)

    def contacts(self, nodes: Sequence[int], path: CantileverWire) -> tuple[Contact, ...]:
        """Contact at a node of the passive wire."""
        (node,) = nodes
        return (bar_contact(self.unit, node, self.place, self.bar, path.points[node]),)


@dataclass(frozen=True)
class FurtherBracket:
    """A bracket of a further unit between tube and hook, which takes the wire at two points.

    Attributes
    ----------
    unit
        Index of the unit, 2 or more.
    bracket
        Its mouths, the one nearer to the tube first, and its axes, the first along the wire.
    """

    unit: int
    bracket: Tube

    @property
    def place(self) -> Array:
        """Middle of the bracket, (3,), mm."""
        return self.bracket.middle

    @property
    def along_mm(self) -> tuple[float, ...]:
        """Where along the wire it is touched, from the middle on."""
        half = 0.5 * self.bracket.width_mm
        return -half, half

    def contacts(self, nodes: Sequence[int], path: CantileverWire) -> tuple[Contact, ...]:
        """Contacts at two nodes of the passive wire."""
        first, second = nodes
        return bracket_contact(self.unit, (first, second), self.bracket, path.points, path.axes)


@dataclass(frozen=True)
class Cantilever:
    """A cantilever's sites, wire and the units it joins.

    Attributes
    ----------
    sites, wire
        Where it is held and what it is made of.
    units
        The two-point unit, the one-point unit, and further ones.
    further
        Where further units hold it: then it is no longer statically determinate.
    """

    sites: CantileverSites
    wire: WireDesign
    units: tuple[Unit, ...]
    further: tuple[FurtherHold | FurtherBracket, ...] = ()

    @property
    def determinate(self) -> bool:
        """Whether statics alone tells the loads: one couple, and nothing that holds it further."""
        return not self.further and self.sites.bracket is None


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
