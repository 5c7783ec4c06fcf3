"""A wire held at two points on both units: two couples, statically indeterminate.

The wire of a cantilever goes on straight beyond its last leg and is seated in a bracket on the
other unit instead of being hooked. Forces and couples then depend on the angle of that bracket and
on how the units give way, which those of a one-couple appliance do not.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Equilibrium
from fem.appliance_system import solve_equilibrium
from fem.attachment import Contact, PointContact, TurnContact, two_point_contact
from fem.cantilever import ONE_POINT, TWO_POINT, Cantilever, passive_path
from fem.rod import RodState, passive_rod
from geometry.sites import Tube
from geometry.wire import CantileverWire

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Seated:
    """A wire in a tube and a bracket.

    Attributes
    ----------
    path
        The passive wire.
    equilibrium
        The engaged state.
    middles
        Middles of tube and bracket, (2, 3), mm.
    """

    path: CantileverWire
    equilibrium: Equilibrium
    middles: Array

    @property
    def loads(self) -> Array:
        """Force and couple on both units about the middles of tube and bracket, (2, 6)."""
        wrenches = zip((TWO_POINT, ONE_POINT), self.middles, strict=True)
        return np.array([self.equilibrium.wrench_on(unit, at) for unit, at in wrenches])


def seat(cantilever: Cantilever, offset_mm: float, bracket: Tube) -> Seated:
    """Engage the wire of a cantilever in its tube and in a bracket.

    Parameters
    ----------
    cantilever
        Sites, wire and units; its hook is not used.
    offset_mm
        Distance, along the activation, at which the passive wire passes the bracket's nearer mouth.
    bracket
        Its mouths, nearer one first, and its axes, the first along the wire.

    Raises
    ------
    fem.appliance.EquilibriumError
        If no equilibrium is found.
    ValueError
        If the wire cannot be bent so.
    """
    near, far = bracket.mouths
    sites = replace(cantilever.sites, hook=near)
    width = float(np.linalg.norm(far - near))
    path = passive_path(replace(cantilever, sites=sites), offset_mm, beyond_mm=width)
    rod = passive_rod(path.points, path.axes, path.lengths_mm, cantilever.wire.law)
    contacts = (
        *two_point_contact(TWO_POINT, path.mouths, sites.mouths, sites.tube_axes),
        *_bracket(path, bracket),
    )
    appliance = Appliance(rod, RodState(path.points, path.axes), cantilever.units, contacts)
    middles = np.array([sites.tube_middle, 0.5 * (near + far)])
    return Seated(path, solve_equilibrium(appliance), middles)


def _bracket(path: CantileverWire, bracket: Tube) -> tuple[Contact, ...]:
    """Two points across the bracket, free along it, and no roll; closed along the activation."""
    across, height = bracket.axes.T[1:], bracket.axes[:, 2]
    nodes = (path.target_node, len(path.points) - 1)
    points = [
        PointContact(node, ONE_POINT, place, across, across @ (path.points[node] - place))
        for node, place in zip(nodes, bracket.mouths, strict=True)
    ]
    roll = float(path.axes[nodes[0]][:, 1] @ height)
    return (*points, TurnContact(nodes[0], ONE_POINT, 1, height, roll))
