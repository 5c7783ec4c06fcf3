"""Any bent wire as a 3D solid: what the rod leaves out, the section's own deformation included.

Total Lagrangian, St Venant–Kirchhoff,

    ``E = (FᵀF − 1)/2``,   ``S = λ tr(E) 1 + 2μ E``,   ``∫ F S : ∇v = forces``,

whose tangent at rest is small-strain linear elasticity. Valid for finite rotation at small strain
(a few percent); the law softens in compression and means nothing beyond. Supports and loads act on
whole end sections through mean displacements and rotations, work-conjugate to tractions that are
uniform or grow evenly from the axis, so no point or line support spoils the answer. The means are
linear in the displacement: at the clamp, which does not turn, and at the tip for displacements;
a mean rotation is meant for small turns only.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import Basis, ElementHex2
from skfem.quadrature import get_quadrature

from fem.material import Elastic
from fem.section import Section
from fem.solver import solve_spd
from fem.sweep_mesh import SweptMesh, swept_mesh
from geometry.wire_path import SweptWire

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Hold = Literal["mean", "full"]

_ORDER = 4
_AT_ONCE = 16  # elements whose tangents are found together: few enough for the cache


@dataclass(frozen=True)
class WireSolid:
    """A meshed wire, ready to be loaded.

    Attributes
    ----------
    swept
        Mesh and the place of its nodes in the wire.
    material
        Elastic constants.
    nodes
        Nodes of each element, (m, 27).
    gradients
        Shape function gradients at the quadrature points, (m, q, 27, 3), 1/mm.
    volumes
        Quadrature weights, (m, q), mm³.
    first, last
        Means over the end sections as products with the displacements, (6, 3 n): displacement
        along x, y, z and rotation about x, y, z.
    """

    swept: SweptMesh
    material: Elastic
    nodes: Ints
    gradients: Array
    volumes: Array
    first: Array
    last: Array

    @property
    def unknowns(self) -> int:
        """Displacement components."""
        return int(self.first.shape[1])

    @cached_property
    def _pattern(self) -> tuple[Ints, Ints, Ints, Ints]:
        """Order of the element blocks, where each block of the matrix starts, columns, rows."""
        n = self.unknowns // 3
        keys = (self.nodes[:, :, None] * n + self.nodes[:, None, :]).ravel()
        order = np.argsort(keys, kind="stable")
        blocks, starts = np.unique(keys[order], return_index=True)
        row_starts = np.searchsorted(blocks, n * np.arange(n + 1))
        return order, starts, blocks % n, row_starts

    @cached_property
    def _by_node(self) -> Array:
        """Gradients as (m, 27, 3 q), to sum over quadrature points in one product."""
        return self.gradients.transpose(0, 2, 1, 3).reshape(*self.nodes.shape, -1)

    def internal(self, u: Array) -> tuple[Array, sp.bsr_matrix]:
        """Internal forces (3 n,) and tangent (3 n, 3 n) at displacements u, (3 n,)."""
        return self.forces(u), self.tangent(u)

    def forces(self, u: Array) -> Array:
        """Internal forces (3 n,) at displacements u, (3 n,)."""
        F, S = self._strained(u)
        weighted = self.volumes[..., None, None] * np.swapaxes(F @ S, -1, -2)
        f = np.zeros((self.unknowns // 3, 3))
        np.add.at(f, self.nodes, self._by_node @ weighted.reshape(len(weighted), -1, 3))
        return f.ravel()

    def tangent(self, u: Array) -> sp.bsr_matrix:
        """Derivative (3 n, 3 n) of the internal forces at displacements u, (3 n,)."""
        order, starts, columns, rows = self._pattern
        blocks = self._element_tangents(*self._strained(u))[order]
        data = np.add.reduceat(blocks, starts, axis=0)
        return sp.bsr_matrix((data, columns, rows), shape=(self.unknowns,) * 2)

    def _strained(self, u: Array) -> tuple[Array, Array]:
        """Deformation gradients and second Piola–Kirchhoff stresses, (m, q, 3, 3) each."""
        F = np.eye(3) + displacement_gradient(u, self.nodes, self.gradients)
        return F, second_piola_MPa(F, self.material)

    def _element_tangents(self, F: Array, S: Array) -> Array:
        """Blocks (m · 27 · 27, 3, 3) of ``∫ ∇δu : A : ∇du``, A being `piola_moduli_MPa`."""
        m, q = self.volumes.shape
        K = np.empty((m, 27, 27, 3, 3))
        for first in range(0, m, _AT_ONCE):
            part = slice(first, first + _AT_ONCE)
            A = piola_moduli_MPa(F[part], S[part], self.material)
            A *= self.volumes[part, :, None, None, None, None]
            stress = A.reshape(-1, q, 27, 3) @ np.swapaxes(self.gradients[part], 2, 3)
            summed = self._by_node[part] @ stress.reshape(-1, 3 * q, 243)
            K[part] = summed.reshape(-1, 27, 3, 3, 27).transpose(0, 1, 4, 2, 3)
        return K.reshape(-1, 3, 3)


def wire_solid(
    wire: SweptWire, section: Section, material: Elastic, across: tuple[int, int] = (2, 2)
) -> WireSolid:
    """Mesh a wire and prepare it; see `fem.sweep_mesh.swept_mesh` for the parameters."""
    swept = swept_mesh(wire, section, across)
    basis = Basis(swept.mesh, ElementHex2(), intorder=_ORDER)
    ends = ((swept.first, 0), (swept.last, -1))
    first, last = (_means(basis, f, wire.points[i], wire.axes[i]) for f, i in ends)
    return WireSolid(
        swept=swept,
        material=material,
        nodes=basis.element_dofs.T.astype(np.int64),
        gradients=shape_gradients(basis),
        volumes=np.asarray(basis.dx),
        first=first,
        last=last,
    )


def second_piola_MPa(F: Array, material: Elastic) -> Array:
    """Second Piola–Kirchhoff stress (..., 3, 3) of deformation gradients (..., 3, 3)."""
    E = 0.5 * (np.swapaxes(F, -1, -2) @ F - np.eye(3))
    volume = np.trace(E, axis1=-2, axis2=-1)[..., None, None]
    return material.lame_MPa * volume * np.eye(3) + 2 * material.shear_modulus_MPa * E


def piola_moduli_MPa(F: Array, S: Array, material: Elastic) -> Array:
    """Derivative of the first Piola–Kirchhoff stress ``P = F S`` by F, (..., J, i, j, L).

    ``∂P_iJ/∂F_jL = λ F_iJ F_jL + μ (F_iL F_jJ + (F Fᵀ)_ij δ_JL) + δ_ij S_JL`` at gradients F and
    stresses S, (..., 3, 3).
    """
    G = material.shear_modulus_MPa
    A = np.einsum("...iJ,...jL->...JijL", material.lame_MPa * F, F)
    A += np.einsum("...iL,...jJ->...JijL", G * F, F)
    A += np.einsum("...ij,JL->...JijL", G * F @ np.swapaxes(F, -1, -2), np.eye(3))
    A += np.einsum("...JL,ij->...JijL", S, np.eye(3))
    return A


def held_solve(K: sp.bsr_matrix, C: Array, F: Array, target: Array) -> tuple[Array, Array]:
    """Displacements under loads with linear constraints, and the forces of the constraints.

    ``K u = f + Cᵀ λ`` with ``C u = c``. K + α CᵀC is positive definite though the wire hangs free
    in K, and gives the same answer for every α.

    Parameters
    ----------
    K, C
        Matrix (n, n) and constraints (m, n), which leave no free motion.
    F, target
        Loads (n, k) and constrained values (m, k).

    Returns
    -------
    u, forces
        (n, k) and (m, k).
    """
    if not len(C):
        return solve_spd(K, F).x, np.zeros((0, F.shape[1]))
    alpha = float(K.diagonal().mean() / np.mean(C**2 @ np.ones(C.shape[1])))
    sparse = sp.csr_matrix(C)
    stiff = (K + sp.bsr_matrix(alpha * (sparse.T @ sparse), blocksize=(3, 3))).tobsr((3, 3))
    x = solve_spd(stiff, np.hstack([F, C.T])).x
    loaded, held = x[:, : F.shape[1]], x[:, F.shape[1] :]
    forces = np.linalg.solve(C @ held, target - C @ loaded)
    return loaded + held @ forces, forces - alpha * target


def tip_response(solid: WireSolid, hold: Hold = "mean") -> tuple[Array, Array]:
    """Small motion of the tip section under unit forces and moments there.

    Parameters
    ----------
    solid
        The wire.
    hold
        ``"mean"``: the first section keeps its mean place and turn, free to contract and to warp,
        as beam theory has it. ``"full"``: every point of it is held; the contraction prevented
        there stiffens the root, and the answer does not go to that of beam theory.

    Returns
    -------
    compliance
        Mean displacement (mm) and rotation of the last section, by force (N) and moment (N·mm)
        about its centre along x, y, z, (6, 6).
    displacements
        Of the nodes, a column a load, (3 n, 6).

    Raises
    ------
    fem.solver.SolverError
        If the system cannot be solved to its residual.
    """
    free, C = support(solid, hold)
    _, K = solid.internal(np.zeros(solid.unknowns))
    u = np.zeros((solid.unknowns, 6))
    u[free], _ = held_solve(restricted(K, free), C, solid.last.T[free], np.zeros((len(C), 6)))
    return solid.last @ u, u


def support(solid: WireSolid, hold: Hold) -> tuple[Ints, Array]:
    """Free components (nf,) and constraints on them (m, nf) of a clamp."""
    if hold == "mean":
        return np.arange(solid.unknowns), solid.first
    if hold != "full":
        raise ValueError(f"hold = {hold!r}: give 'mean' or 'full'")
    nodes = np.flatnonzero(solid.swept.arc_mm > 0)
    return (3 * nodes[:, None] + np.arange(3)).ravel(), np.zeros((0, 3 * len(nodes)))


def restricted(K: sp.bsr_matrix, free: Ints) -> sp.bsr_matrix:
    """Rows and columns of whole nodes."""
    if len(free) == K.shape[0]:
        return K
    return K.tocsr()[free][:, free].tobsr((3, 3))


def shape_gradients(basis: Any) -> Array:
    """Shape function gradients (m, q, 27, 3)."""
    return np.stack([b[0].grad for b in basis.basis]).transpose(2, 3, 0, 1).copy()


def displacement_gradient(u: Array, nodes: Ints, G: Array) -> Array:
    """Displacement gradient (m, q, 3, 3) of displacements u (3 n,) on elements (m, 27)."""
    return np.einsum("eai,eqaj->eqij", u.reshape(-1, 3)[nodes], G, optimize=True)


def _means(basis: Basis, facets: Ints, centre: Array, axes: Array) -> Array:
    """Mean displacement and rotation of a plane section, (6, 3 n), along the global axes.

    In section axes the rotation is ``∫(y u₃ − z u₂)/(I₂ + I₃)``, ``∫ z u₁/I₂``, ``−∫ y u₁/I₃``:
    exact for a rigid turn, and the one that Cowper's shear factor goes with.
    """
    elements, shapes, places, dx = _on_facets(basis, facets)
    y, z = ((places - centre) @ axes[:, i] for i in (1, 2))
    weights = np.zeros((3, basis.mesh.doflocs.shape[1]))
    for row, field in zip(weights, (np.ones_like(y), y, z), strict=True):
        np.add.at(row, basis.element_dofs[:, elements], np.einsum("afq,fq->af", shapes, field * dx))
    one, by_y, by_z = weights
    I_2, I_3 = np.sum(z**2 * dx), np.sum(y**2 * dx)
    e1, e2, e3 = axes.T
    turns = np.stack(
        [
            (np.outer(by_y, e3) - np.outer(by_z, e2)) / (I_2 + I_3),
            np.outer(by_z, e1) / I_2,
            -np.outer(by_y, e1) / I_3,
        ]
    )
    shifts = np.stack([np.outer(one, e) for e in np.eye(3)]) / dx.sum()
    return np.concatenate([shifts, np.tensordot(axes, turns, 1)]).reshape(6, -1)


def _on_facets(basis: Basis, facets: Ints) -> tuple[Ints, Array, Array, Array]:
    """Elements (f,), shape functions (27, f, q), points (f, q, 3) and weights (f, q) of facets.

    What a `skfem.FacetBasis` holds but for the gradients, which would take most of its time.
    """
    mapping, elements = basis.mapping, basis.mesh.f2t[0, facets]
    X, W = get_quadrature(basis.mesh.brefdom, _ORDER)
    places = mapping.G(X, find=facets)
    local = mapping.invF(places, tind=elements)
    shapes = np.stack([basis.elem.lbasis(local, a)[0] for a in range(basis.Nbfun)])
    return elements, shapes, places.transpose(1, 2, 0), np.abs(mapping.detDG(X, find=facets)) * W
