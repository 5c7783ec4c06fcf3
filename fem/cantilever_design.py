"""What a cantilever is made of: where it is held, its wire, and the units it joins.

Unit 0 is held at two points (it receives a couple and a force), unit 1 at one (a force only).
Unit 1 may have a bracket instead of the hook, and further units may hold the wire on its way, at
one point or in a bracket. Then it is no longer statically determinate: forces and couples depend
on the angles of the brackets and on how the units give way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Unit
from fem.attachment import Contact, bar_contact, bracket_contact
from fem.material import Elastic
from fem.section import Section
from geometry.sites import Tube
from geometry.wire import CantileverWire
from geometry.wire_path import Feature

Array = NDArray[np.float64]

TWO_POINT, ONE_POINT = 0, 1

_SHEAR_RIGID = 1e3  # leaves a thousandth of the shear deflection, itself a thousandth


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
