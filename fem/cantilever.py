"""A one-couple appliance made of one cantilever: from its design to its equilibrium.

Unit 0 is held at two points (it receives a couple and a force), unit 1 at one (a force only).
The passive wire leaves the tube with one bend and runs, straight or over loops, to a point off the
hook by the activation; the hook then catches its end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Equilibrium, Unit
from fem.appliance_system import Iterate, System, solve_equilibrium
from fem.attachment import (
    PointContact,
    bar_contact,
    pull_contact,
    tied_contact,
    two_point_contact,
)
from fem.material import Elastic
from fem.rigid import shift_motion
from fem.rod import RodState, passive_rod
from fem.section import Section
from geometry.wire import CantileverWire, cantilever_wire
from geometry.wire_path import Feature

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
    """

    mouths: tuple[Array, Array]
    tube_axes: Array
    hook: Array
    bar: Array | None
    activation: Array
    pull: bool = False

    @property
    def cinched(self) -> bool:
        """Whether the wire is held along its tube: all but a tied one are."""
        return self.pull or self.bar is not None

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
        Direction along which the wire slides there, (3,), or None if it is tied.
    """

    unit: int
    place: Array
    bar: Array | None


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
    further: tuple[FurtherHold, ...] = ()


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
    cantilever: Cantilever,
    offset_mm: float,
    extra_length_mm: float = 0.0,
    *,
    beyond_mm: float = 0.0,
) -> CantileverWire:
    """Passive wire whose last leg ends a given distance off the hook.

    The leg is longer by an extra length, and straight wire may go on beyond it.

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
        beyond_mm=beyond_mm,
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
    """Passive wire and the appliance to engage it in."""
    sites, wire = cantilever.sites, cantilever.wire
    path = passive_path(cantilever, offset_mm, extra_length_mm)
    rod = passive_rod(path.points, path.axes, path.lengths_mm, wire.law)
    contacts = two_point_contact(
        TWO_POINT, path.mouths, sites.mouths, sites.tube_axes, cinched=sites.cinched
    )
    last = len(path.points) - 1
    if sites.pull:
        hold = pull_contact(ONE_POINT, last, sites.hook, sites.activation, path.tip)
    elif sites.bar is None:
        hold = tied_contact(ONE_POINT, last, sites.hook, path.tip)
    else:
        hold = bar_contact(ONE_POINT, last, sites.hook, sites.bar, path.tip)
    between = [_further_contact(path, held) for held in cantilever.further]
    state = RodState(path.points, path.axes)
    return path, Appliance(rod, state, cantilever.units, (*contacts, *between, hold))


def _further_contact(path: CantileverWire, held: FurtherHold) -> PointContact:
    """Contact at the node that lies as far along the way to the end as the place does."""
    first = path.mouths[1] + 1
    start, way = path.points[first - 1], path.tip - path.points[first - 1]
    shares = (path.points[first:-1] - start) @ way
    node = first + int(np.abs(shares - (held.place - start) @ way).argmin())
    if held.bar is None:
        return tied_contact(held.unit, node, held.place, path.points[node])
    return bar_contact(held.unit, node, held.place, held.bar, path.points[node])


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
