"""The free run of an engaged cantilever as a 3D solid, to check its rod.

The solid starts at the tube's second mouth, clamped there as the rod's node is placed and turned,
and its end is brought to where the rod's end is, as far as the hook holds it. What it then needs
as a force is compared with the rod's force at the hook. Where rod and solid agree, so do the
appliances; the wire inside the tube is a straight beam in both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.cantilever import SolvedCantilever
from fem.cantilever_design import ONE_POINT, Cantilever
from fem.rigid import matvec, se3_exp
from fem.rod import relative_twists
from fem.sweep_rotation import bend_across
from fem.sweep_solid import WireSolid, wire_solid
from geometry.wire_path import sweep

Array = NDArray[np.float64]

_LAYER_PER_SIZE = 1.5  # length of a layer over the wire's smaller side
_LAYER_RAD = 0.15
_ACROSS = (2, 2)


@dataclass(frozen=True)
class SolidPoint:
    """The same free run as rod and as solid, between the same ends.

    Attributes
    ----------
    rod_N, solid_N
        Force on the one-point unit, (3,), in global axes.
    unknowns
        Size of the solid's system.
    largest_strain
        Largest component of Green's strain.
    """

    rod_N: Array
    solid_N: Array
    unknowns: int
    largest_strain: float

    @property
    def force_ratio(self) -> float:
        """Size of the solid's force over that of the rod's."""
        return float(np.linalg.norm(self.solid_N) / np.linalg.norm(self.rod_N))


def run_solid(cantilever: Cantilever, solved: SolvedCantilever) -> WireSolid:
    """The passive free run, from the tube's mouth to its end, in the axes it starts with.

    Raises
    ------
    ValueError
        If the section is a rectangle with rounded edges, which the swept mesh does not know.
    """
    wire = cantilever.wire
    if wire.section.kind == "rectangular" and wire.section.corner_radius_mm > 0:
        raise ValueError("a section with rounded edges is not swept: give its sharp twin")
    smaller = min(wire.section.width_mm, wire.section.height_mm)
    layers = sweep(
        solved.path.features[1:],
        np.zeros(3),
        np.eye(3),
        piece_mm=_LAYER_PER_SIZE * smaller,
        largest_turn_rad=_LAYER_RAD,
    )
    return wire_solid(layers, wire.section, wire.material, _ACROSS)


def solid_point(
    cantilever: Cantilever, solved: SolvedCantilever, solid: WireSolid | None = None
) -> SolidPoint:
    """Bend the solid's end to where the rod's end is, seen from the tube's mouth.

    The rod's shape is where the solid's is sought first; if it is not found from there, in steps.

    Parameters
    ----------
    cantilever, solved
        An elastic wire, engaged.
    solid
        From `run_solid`, if it was made before.

    Raises
    ------
    RuntimeError
        If the solid finds no equilibrium.
    """
    solid = solid or run_solid(cantilever, solved)
    mouth, state = solved.path.mouths[1], solved.equilibrium.state
    R = state.axes[mouth]
    engaged = R.T @ (state.points[-1] - state.points[mouth])
    passive = solved.path.axes[mouth].T @ (solved.path.tip - solved.path.points[mouth])
    start = moved_as_rod(solid, solved)
    bent = bend_across(solid, engaged - passive, _held(cantilever) @ R, start=start)
    rod = solved.equilibrium.wrench_on(ONE_POINT, np.zeros(3))[:3]
    return SolidPoint(rod, -R @ bent.force_N, solid.unknowns, bent.largest_strain)


def moved_as_rod(solid: WireSolid, solved: SolvedCantilever) -> Array:
    """Displacements of the solid's nodes if they keep to the engaged rod, (3 n,), mm.

    Seen from the tube's mouth. Each section goes where the rod's is, along the arc of an element,
    and takes the shape that St Venant's pull and bending give it: with the changes of stretch ε
    and of curvature κ₂, κ₃,

        ``v = −ν (ε y + κ₂ y z − κ₃ (y² − z²)/2)``,  ``w = −ν (ε z + κ₂ (z² − y²)/2 − κ₃ y z)``.
    """
    mouth, state = solved.path.mouths[1], solved.equilibrium.state
    points, axes = state.points[mouth:], state.axes[mouth:]
    lengths, twists = solved.path.lengths_mm[mouth:], relative_twists(state)[mouth:]
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    piece = np.clip(np.searchsorted(ends, solid.swept.arc_mm) - 1, 0, len(lengths) - 1)
    share = (solid.swept.arc_mm - ends[piece]) / lengths[piece]
    turned, moved = se3_exp(share[:, None] * twists[piece])
    change = twists / lengths[:, None] - solved.appliance.rod.passive_strain[mouth:]
    in_section = _strained_section(solid, change[piece])
    places = points[piece] + matvec(axes[piece], moved + matvec(turned, in_section))
    return np.ravel((places - points[0]) @ axes[0] - solid.swept.mesh.doflocs.T)


def _strained_section(solid: WireSolid, strain: Array) -> Array:
    """Places of the nodes in their section's axes, (n, 3), under strains of the rod, (n, 6)."""
    nu = solid.material.poisson_ratio
    stretch, (k2, k3), (y, z) = strain[:, 0], strain[:, 4:].T, solid.swept.offsets_mm.T
    v = -nu * (stretch * y + k2 * y * z - k3 * (y**2 - z**2) / 2)
    w = -nu * (stretch * z + k2 * (z**2 - y**2) / 2 - k3 * y * z)
    return np.column_stack([np.zeros_like(y), y + v, z + w])


def _held(cantilever: Cantilever) -> Array:
    """Directions in which the wire's end is held, (k, 3); a tied wire is free along its tube."""
    sites = cantilever.sites
    if sites.pull:
        return sites.activation[None]
    free = sites.bar if sites.bar is not None else sites.tube_axes[:, 0]
    return np.asarray(np.linalg.svd(np.asarray(free, dtype=float)[None])[2][1:])
