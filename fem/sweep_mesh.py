"""Quadratic hexahedra swept along the axis of a wire: any path, round or rectangular section.

One layer of elements for each piece of the path; the nodes halfway along lie on the piece's own
arc. A round section is an O-grid: a square in the middle and a ring of elements round it. A wire
that runs through itself (a loop without pitch) makes a mesh that does too: its turns do not touch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex, MeshHex2

from fem.section import Section
from geometry.wire_path import Arc, SweptWire, along_arc

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_CORE = 0.5  # half side of the square inside the O-grid, over the radius
_CORNERS = (0, 3, 1, 0, 2, 3, 1, 2)  # of a quadrilateral, as scikit-fem numbers a hexahedron
_AT_THE_END = (0, 0, 0, 1, 0, 1, 1, 1)


@dataclass(frozen=True)
class SweptMesh:
    """Hexahedra of a wire and where their nodes lie in it.

    Attributes
    ----------
    mesh
        27-node hexahedra, global coordinates in mm.
    arc_mm
        Length along the wire at each of the n nodes, (n,).
    offsets_mm
        Place of each node in its section along width and height, (n, 2).
    layer
        Piece of the wire that each element belongs to, (n_elements,).
    first, last, surface
        Facets of the two end sections, and those of the wire's surface between them.
    """

    mesh: MeshHex2
    arc_mm: Array
    offsets_mm: Array
    layer: Ints
    first: Ints
    last: Ints
    surface: Ints


def swept_mesh(wire: SweptWire, section: Section, across: tuple[int, int] = (2, 2)) -> SweptMesh:
    """Mesh a wire.

    Parameters
    ----------
    wire
        Path; each of its pieces becomes one layer of elements.
    section
        Round or rectangular section.
    across
        Elements over width and height of a rectangle; of a disc, the first number is that of each
        side of its core, and of each quarter of its rim.

    Raises
    ------
    ValueError
        If the section reaches the centre of a bend, so that the solid would fold over.
    """
    _check_bends(wire, section)
    flat, quads = _disc_grid(across[0]) if section.kind == "round" else _tensor_grid(across)
    n, layers = len(flat), len(wire.lengths_mm)
    levels = np.arange(layers + 1, dtype=float)
    local = np.column_stack([np.repeat(levels, n), np.tile(flat, (layers + 1, 1))])
    one_layer = quads[:, _CORNERS] + n * np.array(_AT_THE_END)
    t = (one_layer[None] + n * np.arange(layers)[:, None, None]).reshape(-1, 8)
    mesh = MeshHex2.from_mesh(MeshHex(local.T.copy(), t.T.astype(np.int32)))
    level, flat = mesh.doflocs[0].copy(), mesh.doflocs[1:].T
    middle = level[mesh.facets].mean(axis=0)
    first, last = np.flatnonzero(middle == 0), np.flatnonzero(middle == layers)
    half = np.array([section.width_mm, section.height_mm]) / 2
    offsets = (_on_disc(flat) if section.kind == "round" else flat) * half
    mesh.doflocs[:] = _in_space(wire, level, offsets).T
    return SweptMesh(
        mesh=mesh,
        arc_mm=np.interp(level, levels, wire.arc_mm),
        offsets_mm=offsets,
        layer=np.repeat(np.arange(layers), len(quads)),
        first=first,
        last=last,
        surface=np.setdiff1d(mesh.boundary_facets(), np.concatenate([first, last])),
    )


def _check_bends(wire: SweptWire, section: Section) -> None:
    """Refuse a section that reaches the axis it is bent about."""
    about = np.abs(wire.curvature_per_mm[:, 1:])
    half = np.array([section.height_mm, section.width_mm]) / 2
    reach = np.hypot(*(about * half).T) if section.kind == "round" else about @ half
    if reach.max() >= 1.0:
        piece = int(reach.argmax())
        radius = 1.0 / np.hypot(*about[piece])
        raise ValueError(
            f"the wire is bent at {radius:.3g} mm in piece {piece}, within half its own size "
            f"({section.width_mm:g} × {section.height_mm:g} mm): the solid would fold over; "
            "bend it at a larger radius"
        )


def _tensor_grid(across: tuple[int, int]) -> tuple[Array, Ints]:
    """Vertices (n, 2) on the square [−1, 1]² and counter-clockwise quadrilaterals (m, 4)."""
    x, y = (np.linspace(-1.0, 1.0, n + 1) for n in across)
    points = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    number = np.arange(len(points)).reshape(len(x), len(y))
    corners = (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:])
    return points, np.stack([c.ravel() for c in corners], axis=1)


def _disc_grid(n: int) -> tuple[Array, Ints]:
    """O-grid drawn as a square within a square, for `_on_disc` to make round."""
    core, quads = _tensor_grid((n, n))
    number = np.arange((n + 1) ** 2).reshape(n + 1, n + 1)
    sides = (number[:-1, 0], number[-1, :-1], number[:0:-1, -1], number[0, :0:-1])
    rim = np.concatenate(sides)  # counter-clockwise from the lower left corner
    outer = len(core) + np.arange(len(rim))
    ring = np.stack([rim, outer, np.roll(outer, -1), np.roll(rim, -1)], axis=1)
    return np.concatenate([_CORE * core, core[rim]]), np.concatenate([quads, ring])


def _on_disc(flat: Array) -> Array:
    """Unit disc from the square [−1, 1]²: the core stays, the ring goes over into the circle."""
    r = np.abs(flat).max(axis=1)
    square = flat / np.where(r > 0, r, 1.0)[:, None]
    upright = np.abs(square[:, 0]) >= np.abs(square[:, 1])
    share = np.where(upright, square[:, 1], square[:, 0]) * np.pi / 4
    side = np.where(upright, square[:, 0], square[:, 1])
    long, short = np.sign(side) * np.cos(share), np.sin(share)
    circle = np.where(upright[:, None], np.stack([long, short], 1), np.stack([short, long], 1))
    blend = np.clip((r - _CORE) / (1 - _CORE), 0.0, 1.0)[:, None]
    ring = (1 - blend) * _CORE * square + blend * circle
    return np.where(r[:, None] > _CORE, ring, flat)


def _in_space(wire: SweptWire, level: Array, offsets: Array) -> Array:
    """Global places (n, 3) of nodes at whole and half pieces along the wire."""
    points, axes = np.asarray(wire.points), np.asarray(wire.axes)
    half = [
        along_arc(Arc(length, curvature), np.array([length / 2]))
        for length, curvature in zip(wire.lengths_mm, wire.curvature_per_mm, strict=True)
    ]
    moved = np.array([m[0] for m, _ in half])
    turned = np.array([R[0] for _, R in half])
    n = len(points)
    places, frames = np.empty((2 * n - 1, 3)), np.empty((2 * n - 1, 3, 3))
    places[::2], frames[::2] = points, axes
    places[1::2] = points[:-1] + np.einsum("nij,nj->ni", axes[:-1], moved)
    frames[1::2] = axes[:-1] @ turned
    at = np.rint(2 * level).astype(int)
    return places[at] + np.einsum("nij,nj->ni", frames[at][:, :, 1:], offsets)
