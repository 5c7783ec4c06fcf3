"""Stress on the surface of a wire solved as a solid, where it is largest in bending and twist."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skfem import ElementHex2, FacetBasis

from fem.stress import von_mises
from fem.sweep_solid import WireSolid, displacement_gradient, second_piola_MPa, shape_gradients

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_ON_FACET = np.array([[x, y] for x in (0.0, 0.5, 1.0) for y in (0.0, 0.5, 1.0)]).T


@dataclass(frozen=True)
class SurfaceStress:
    """Von Mises stress at the nodes of each surface facet, each facet's own, not averaged.

    Attributes
    ----------
    arc_mm, von_mises_MPa
        (n_facets, 9).
    layer
        Piece of the wire each facet belongs to, (n_facets,).
    """

    arc_mm: Array
    von_mises_MPa: Array
    layer: Ints

    def largest_by_piece_MPa(self) -> Array:
        """Largest stress on the surface of each piece of the wire, (n_pieces,)."""
        largest = np.zeros(self.layer.max() + 1)
        np.maximum.at(largest, self.layer, self.von_mises_MPa.max(axis=1))
        return largest


def surface_stress(solid: WireSolid, u: Array, *, linear: bool = False) -> SurfaceStress:
    """Stress on the wire's surface; Cauchy's, or that of small strains if `linear`.

    At a re-entrant edge or a fully held root the exact stress is unbounded and what is returned
    depends on the mesh.
    """
    swept = solid.swept
    rule = (_ON_FACET, np.ones(9))
    basis = FacetBasis(swept.mesh, ElementHex2(), facets=swept.surface, quadrature=rule)
    nodes = basis.element_dofs.T
    F = np.eye(3) + displacement_gradient(u, nodes, shape_gradients(basis))
    if linear:
        strain = 0.5 * (F + np.swapaxes(F, -1, -2)) - np.eye(3)
        volume = np.trace(strain, axis1=-2, axis2=-1)[..., None, None]
        lame, shear = solid.material.lame_MPa, solid.material.shear_modulus_MPa
        stress = lame * volume * np.eye(3) + 2 * shear * strain
    else:
        S = second_piola_MPa(F, solid.material)
        stress = F @ S @ np.swapaxes(F, -1, -2) / np.linalg.det(F)[..., None, None]
    shapes = np.stack([np.broadcast_to(b[0], basis.dx.shape) for b in basis.basis], axis=-1)
    arc = np.einsum("fqa,fa->fq", shapes, swept.arc_mm[nodes])
    layer = swept.layer[swept.mesh.f2t[0, swept.surface]]
    return SurfaceStress(arc, von_mises(stress), layer)
