"""Layers around bodies of revolution with exact normals, and their 6×6 with held ends."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from fem.assembly import Assembler, LayerDilatation
from fem.material import Elastic
from fem.solver import solve_spd
from fem.space import QuadraticSpace, node_dofs
from geometry.ligament import ligament_layer
from geometry.mesh import TetMesh, TriSurface
from geometry.surface import Plane

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


def unit_shear(nu: float) -> Elastic:
    """Material with G = 1 MPa."""
    return Elastic(2 * (1 + nu), nu)


def ring_triangles(rings: int, around: int) -> Ints:
    """Triangles between rings of nodes, diagonals alternating; outwards if rings rise along z."""
    k, i = np.divmod(np.arange((rings - 1) * around), around)
    p, q = k * around + i, k * around + (i + 1) % around
    r, s = p + around, q + around
    even = ((i + k) % 2 == 0)[:, None, None]
    one = np.stack([np.stack([p, q, s], 1), np.stack([p, s, r], 1)], 1)
    two = np.stack([np.stack([p, q, r], 1), np.stack([q, s, r], 1)], 1)
    return np.asarray(np.where(even, one, two).reshape(-1, 3))


def _around(count: int) -> Array:
    return np.asarray(2 * np.pi * np.arange(count) / count)


def bush(
    a: float,
    b: float,
    length: float,
    around: int,
    along: int,
    layers: int,
    grading: float = 1.6,
) -> TetMesh:
    """Bush a < r < b, −L/2 < z < L/2, its rows narrowing towards both ends as |s|^grading."""
    s = np.linspace(-1, 1, along + 1)
    z = np.sign(s) * (1 - (1 - np.abs(s)) ** grading) * length / 2
    phi = _around(around)
    normals = np.tile(np.stack([np.cos(phi), np.sin(phi), 0 * phi], axis=1), (along + 1, 1))
    points = a * normals + np.outer(np.repeat(z, around), [0, 0, 1])
    surface = TriSurface.one_patch(points, ring_triangles(along + 1, around), "root")
    return ligament_layer(surface, b - a, layers, normals=normals)


def paraboloid_layer(
    height: float,
    radius: float,
    thickness: float,
    layers: int = 2,
    around: int = 40,
    rows: tuple[int, int] = (12, 14),
) -> TetMesh:
    """Layer on r = R √(z/h), apex at z = 0, its free rim in the plane z = h.

    Rows are even in s = √(z/h) up to 0.8, then narrow by a constant ratio to one thickness.
    """
    even, graded = rows
    steps = _narrowing(0.2, thickness / (2 * height), graded)
    s = np.concatenate([np.linspace(0, 0.8, even + 1)[1:], 0.8 + np.cumsum(steps)])
    s[-1] = 1.0
    s, phi = (grid.ravel() for grid in np.meshgrid(s, _around(around), indexing="ij"))
    rings = np.stack([radius * s * np.cos(phi), radius * s * np.sin(phi), height * s**2], axis=1)
    slopes = np.stack(
        [2 * height * s * np.cos(phi), 2 * height * s * np.sin(phi), -radius + 0 * s], axis=1
    )
    normals = slopes / np.linalg.norm(slopes, axis=1, keepdims=True)
    surface = TriSurface.one_patch(
        np.vstack([np.zeros(3), rings]), _capped(even + graded, around), "root"
    )
    rim = Plane((0, 0, height), (0, 0, 1))
    return ligament_layer(surface, thickness, layers, rim, normals=np.vstack([[0, 0, -1], normals]))


def disc_layer(
    radius: float, thickness: float, layers: int, around: int, rows: tuple[int, int]
) -> TetMesh:
    """Disc between two plates, its rings even up to one and a half thicknesses from the rim.

    From there they narrow by a constant ratio to a fifth of an element across. The polygon has the
    area of the circle.
    """
    even, graded = rows
    radius *= np.sqrt(2 * np.pi / (around * np.sin(2 * np.pi / around)))
    near = min(1.5 * thickness, 0.5 * radius)
    steps = _narrowing(near, 0.2 * thickness / layers, graded)
    inner = np.linspace(0, radius - near, even + 1)[1:]
    r = np.concatenate([inner, radius - near + np.cumsum(steps)])
    r[-1] = radius
    r, phi = (grid.ravel() for grid in np.meshgrid(r, _around(around), indexing="ij"))
    rings = np.stack([r * np.cos(phi), r * np.sin(phi), 0 * r], axis=1)
    points = np.vstack([np.zeros(3), rings])
    normals = np.tile([0.0, 0.0, -1.0], (len(points), 1))
    surface = TriSurface.one_patch(points, _capped(even + graded, around), "root")
    return ligament_layer(surface, thickness, layers, normals=normals)


def _narrowing(length: float, last: float, count: int) -> Array:
    """Steps that add up to a length, each in a constant ratio to the next, and end on `last`."""
    ratio = brentq(lambda q: last * np.sum(q ** np.arange(float(count))) - length, 1.0 + 1e-9, 10.0)
    return np.asarray(last * ratio ** np.arange(count)[::-1])


def _capped(rings: int, around: int) -> Ints:
    """Triangles of a pole, node 0, and the rings around it."""
    fan = 1 + np.arange(around)
    cap = np.stack([0 * fan, np.roll(fan, -1), fan], axis=1)
    return np.concatenate([cap, 1 + ring_triangles(rings, around)])


def stiffness_with_held_ends(
    layer: TetMesh, material: Elastic, held_components: Sequence[int], *, volumetric: str
) -> Array:
    """6×6 about the origin with some displacement components zero on the rim besides.

    The free rim of `fem.support` is the case without held components.
    """
    space = QuadraticSpace.on(layer.points, layer.tets)
    lame, shear = material.lame_MPa, material.shear_modulus_MPa
    if volumetric == "projected":
        K = Assembler.on(space).stiffness(0.0, shear)
        K = (K + LayerDilatation.on(space).stiffness(lame)).tocsr()
    else:
        K = Assembler.on(space).stiffness(lame, shear).tocsr()
    root, socket, rim = (space.facet_nodes(layer.facets[n]) for n in ("root", "socket", "rim"))
    moved = node_dofs(root)
    held = (3 * rim[:, None] + np.asarray(held_components, dtype=int)).ravel()
    free = np.setdiff1d(np.arange(K.shape[0]), np.concatenate([moved, node_dofs(socket), held]))
    U = np.zeros((K.shape[0], 6))
    U[moved] = space.rigid_motions(np.zeros(3), root).reshape(-1, 6)
    U[free] = solve_spd(K[free][:, free], -(K[free] @ U)).x
    return np.asarray(U.T @ (K @ U))
