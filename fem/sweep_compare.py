"""Where the rod holds: its stiffness over that of the solid swept along the same path.

The rod knows a wire by its axis and its section's constants. What it leaves out grows with the
section: in a tight bend the stress is no longer linear over the height (of second order in height
over radius, Winkler), on a short wire the ends matter.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.material import Elastic
from fem.rod import RodState, assemble, internal_forces, passive_rod
from fem.section import Section
from fem.solver import solve_spd
from fem.sweep_solid import tip_response, wire_solid
from geometry.wire_features import Helix
from geometry.wire_path import Bend, Feature, Straight, SweptWire, sweep

Array = NDArray[np.float64]

_LAYER_PER_HEIGHT = 1.0
_LAYER_RAD = 0.1
_CLEAR_PITCH = 1.2  # of a closed loop, over the section's larger side

SHAPES: dict[str, Callable[[float, float], tuple[Feature, ...]]] = {
    "straight": lambda size, _: (Straight(size),),
    "quarter bend": lambda size, _: (Bend(np.pi / 2, size, "height"),),
    "half bend": lambda size, _: (Bend(np.pi, size, "height"),),
    "closed loop": lambda size, pitch: (Helix(1.0, size, pitch, "width"),),
}


@dataclass(frozen=True)
class BeamCheck:
    """One wire as a rod and as a solid.

    Attributes
    ----------
    shape
        ``"straight"`` or a loop; see `SHAPES`.
    size_over_height
        Length of a straight wire, or radius of a loop's axis, over the section's height.
    in_plane, out_of_plane
        Stiffness of the rod over that of the solid, for a force on the free end across the wire
        in the plane of the bend (the width) and across it (the height), 1.
    unknowns
        Size of the solid's system.
    """

    shape: str
    size_over_height: float
    in_plane: float
    out_of_plane: float
    unknowns: int


def rod_tip_compliance(wire: SweptWire, section: Section, material: Elastic) -> Array:
    """Motion of a clamped rod's tip under unit forces and moments there, along x, y, z, (6, 6)."""
    rod = passive_rod(wire.points, wire.axes, wire.lengths_mm, section.stiffness(material))
    _, K = assemble(*internal_forces(rod, RodState(wire.points, wire.axes)))
    turn = np.kron(np.eye(2), wire.axes[-1])
    loads = np.zeros((6 * rod.n_elements, 6))
    loads[-6:] = turn.T
    return turn @ solve_spd(K[6:, 6:], loads).x[-6:]


def rod_against_solid(
    section: Section,
    material: Elastic,
    sizes_over_height: Sequence[float] = (0.75, 1.0, 1.5, 2.0, 3.0, 5.0, 8.0),
    *,
    shapes: Sequence[str] = ("straight", "half bend", "closed loop"),
    across: tuple[int, int] = (2, 2),
) -> list[BeamCheck]:
    """Stiffness of the rod over that of the solid, for tight and wide bends, short and long wires.

    Parameters
    ----------
    section, material
        The wire. Bends lie in the plane of its width and of its axis; a closed loop has a pitch
        of 1.2 times the larger side, so that its turns pass each other.
    sizes_over_height
        Length of a straight wire and radius of a loop, over the section's height.
    shapes
        Names out of `SHAPES`.
    across
        Elements over the section; see `fem.sweep_mesh.swept_mesh`.

    Raises
    ------
    ValueError
        If a shape is not known, or a bend is so tight that the section reaches its centre.
    """
    for shape in shapes:
        if shape not in SHAPES:
            raise ValueError(f"shape {shape!r}: give one of {', '.join(SHAPES)}")
    return [
        _check(shape, size, section, material, across)
        for shape in shapes
        for size in sizes_over_height
    ]


def _check(
    shape: str, size: float, section: Section, material: Elastic, across: tuple[int, int]
) -> BeamCheck:
    height = section.height_mm
    pitch = _CLEAR_PITCH * max(section.width_mm, height)
    features = SHAPES[shape](size * height, pitch)
    start, axes = np.zeros(3), np.eye(3)
    # A short or tight wire still gets layers enough for its ends and its curve.
    longest = min(_LAYER_PER_HEIGHT, size / 4) * height
    layers = sweep(features, start, axes, piece_mm=longest, largest_turn_rad=_LAYER_RAD)
    pieces = sweep(features, start, axes, piece_mm=longest, largest_turn_rad=_LAYER_RAD / 2)
    solid = wire_solid(layers, section, material, across)
    by_solid, _ = tip_response(solid)
    by_rod = rod_tip_compliance(pieces, section, material)
    across_tip = np.zeros((2, 6))
    across_tip[:, :3] = layers.axes[-1][:, 1:].T
    ratio = [float((d @ by_solid @ d) / (d @ by_rod @ d)) for d in across_tip]
    return BeamCheck(shape, size, ratio[0], ratio[1], solid.unknowns)
