"""Thin-layer theory: the support of a rigid tooth as springs spread over its root.

A layer thin against the root's size and not too incompressible answers at each point with the
traction ``[M n⊗n + G (1 − n⊗n)] u / t``, so that the 6×6 is a sum over the root's surface:

    ``K = ∫ Sᵀ [M n⊗n + G (1 − n⊗n)] S dA / t``,  ``S = [1, −(x − O)×]``

with the constrained modulus M, the shear modulus G and the thickness t. An instant support, and a
measure of what three dimensions add. Not valid where ``M/G ≪ 12 (r/t)²`` fails (nearly
incompressible ligament in a thin layer), near a free rim, or where the root curves within a
thickness; there the layer is softer than this.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.material import Elastic
from fem.rigid import skew
from geometry.mesh import TetMesh

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

# Corners' shares in three points of a triangle of equal weight, exact for quadratics.
WEIGHTS = np.array([[4.0, 1, 1], [1, 4, 1], [1, 1, 4]]) / 6


@dataclass(frozen=True)
class SurfacePoints:
    """Quadrature of a surface.

    Attributes
    ----------
    positions
        Points (n, 3), mm.
    normals
        Unit normals (n, 3).
    areas
        Area each point stands for, (n,), mm².
    """

    positions: Array
    normals: Array
    areas: Array


def triangle_quadrature(points: Array, triangles: Ints) -> SurfacePoints:
    """Three points a triangle, exact for quadratic integrands on the flat triangles.

    Parameters
    ----------
    points, triangles
        Nodes (n, 3), mm, and node numbers (k, 3).
    """
    corners = points[triangles]
    area_vectors = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    areas = np.linalg.norm(area_vectors, axis=1)
    return SurfacePoints(
        positions=np.einsum("qc,tcx->tqx", WEIGHTS, corners).reshape(-1, 3),
        normals=np.repeat(area_vectors / areas[:, None], 3, axis=0),
        areas=np.repeat(areas / 3, 3),
    )


def thin_layer_stiffness(
    surface: SurfacePoints, material: Elastic, thickness_mm: float | Array, point: Array
) -> Array:
    """6×6 of a rigid body in a thin bonded layer about a point.

    Parameters
    ----------
    surface
        Quadrature of the bonded surface, best half-way through the layer.
    material
        Elastic constants of the layer.
    thickness_mm
        One thickness, or one for each quadrature point, (n,).
    point
        (3,), mm.
    """
    nn = surface.normals[:, :, None] * surface.normals[:, None, :]
    M, G = material.constrained_modulus_MPa, material.shear_modulus_MPa
    density = (surface.areas / thickness_mm)[:, None, None]
    springs = density * (M * nn + G * (np.eye(3) - nn))
    arms = surface.positions - np.asarray(point, dtype=float)
    S = np.concatenate([np.broadcast_to(np.eye(3), nn.shape), -skew(arms)], axis=2)
    return np.asarray(np.einsum("nia,nij,njb->ab", S, springs, S, optimize=True))


def middle_surface(layer: TetMesh) -> tuple[SurfacePoints, Array]:
    """Quadrature half-way between the two bonded faces of a layer, and its thickness there.

    Parameters
    ----------
    layer
        With the facets ``"root"`` and ``"socket"`` in the same order, as
        `geometry.ligament.ligament_layer` makes them.

    Returns
    -------
    tuple
        The surface, and the thickness across it at its points, (n,), mm.
    """
    inner, outer = (layer.points[layer.facets[name]] for name in ("root", "socket"))
    corners = (0.5 * (inner + outer)).reshape(-1, 3)
    surface = triangle_quadrature(corners, np.arange(len(corners)).reshape(-1, 3))
    across = np.einsum("qc,tcx->tqx", WEIGHTS, outer - inner).reshape(-1, 3)
    return surface, np.asarray((across * surface.normals).sum(axis=1))


def thin_layer_support(layer: TetMesh, material: Elastic, point: Array) -> Array:
    """6×6 of a rigid body in a meshed layer by thin-layer theory on its middle surface."""
    surface, thickness = middle_surface(layer)
    return thin_layer_stiffness(surface, material, thickness, point)
