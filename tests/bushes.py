"""Layers around bodies of revolution with exact normals, for tests."""

import numpy as np
from scipy.optimize import brentq

from fem.assembly import Assembler, LayerDilatation
from fem.solver import solve_spd
from fem.space import QuadraticSpace, node_dofs
from geometry.ligament import ligament_layer
from geometry.mesh import TriSurface
from geometry.surface import Plane


def ring_triangles(rings, around):
    """Triangles between rings of nodes, diagonals alternating; outwards if rings rise along z."""
    k, i = np.divmod(np.arange((rings - 1) * around), around)
    p, q = k * around + i, k * around + (i + 1) % around
    r, s = p + around, q + around
    even = ((i + k) % 2 == 0)[:, None, None]
    one = np.stack([np.stack([p, q, s], 1), np.stack([p, s, r], 1)], 1)
    two = np.stack([np.stack([p, q, r], 1), np.stack([q, s, r], 1)], 1)
    return np.where(even, one, two).reshape(-1, 3)


def bush(a, b, length, around, along, layers, grading=1.6):
    """Bush a < r < b, −L/2 < z < L/2, its rows narrowing towards both ends as |s|^grading."""
    s = np.linspace(-1, 1, along + 1)
    z = np.sign(s) * (1 - (1 - np.abs(s)) ** grading) * length / 2
    phi = 2 * np.pi * np.arange(around) / around
    normals = np.tile(np.stack([np.cos(phi), np.sin(phi), 0 * phi], axis=1), (along + 1, 1))
    points = a * normals + np.outer(np.repeat(z, around), [0, 0, 1])
    surface = TriSurface.one_patch(points, ring_triangles(along + 1, around), "root")
    return ligament_layer(surface, b - a, layers, normals=normals)


def paraboloid_layer(height, radius, thickness, layers=2, around=40, rows=(12, 14)):
    """Layer on r = R √(z/h), apex at z = 0, its free rim in the plane z = h.

    Rows are even in s = √(z/h) up to 0.8, then narrow by a constant ratio to one thickness.
    """
    even, graded = rows
    last = thickness / (2 * height)
    ratio = brentq(lambda q: last * (q**graded - 1) / (q - 1) - 0.2, 1.0 + 1e-6, 3.0)
    steps = last * ratio ** np.arange(graded)[::-1]
    s = np.concatenate([np.linspace(0, 0.8, even + 1)[1:], 0.8 + np.cumsum(steps)])
    s[-1] = 1.0
    phi = 2 * np.pi * np.arange(around) / around
    s, phi = (grid.ravel() for grid in np.meshgrid(s, phi, indexing="ij"))
    rings = np.stack([radius * s * np.cos(phi), radius * s * np.sin(phi), height * s**2], axis=1)
    slopes = np.stack(
        [2 * height * s * np.cos(phi), 2 * height * s * np.sin(phi), -radius + 0 * s], axis=1
    )
    normals = slopes / np.linalg.norm(slopes, axis=1, keepdims=True)
    fan = 1 + np.arange(around)
    cap = np.stack([0 * fan, np.roll(fan, -1), fan], axis=1)
    triangles = np.concatenate([cap, 1 + ring_triangles(even + graded, around)])
    surface = TriSurface.one_patch(np.vstack([np.zeros(3), rings]), triangles, "root")
    rim = Plane((0, 0, height), (0, 0, 1))
    return ligament_layer(surface, thickness, layers, rim, normals=np.vstack([[0, 0, -1], normals]))


def stiffness_with_held_ends(layer, material, held_components, *, volumetric):
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
    return U.T @ (K @ U)
