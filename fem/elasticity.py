"""Linear elasticity on quadratic tetrahedra: space, stiffness, boundary sets, rigid motions."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import Basis, BilinearForm, ElementTetP2, ElementVector, MeshTet
from skfem.helpers import ddot, sym_grad, trace

from fem.material import Elastic
from fem.rigid import skew

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

# Two is exact here: the strains of straight quadratic tetrahedra are linear, their product
# quadratic, and the material is constant in each element.
_QUADRATURE_ORDER = 2


@BilinearForm
def elastic_energy(u, v, w):  # type: ignore[no-untyped-def]
    """Bilinear form ``λ tr ε(u) tr ε(v) + 2μ ε(u):ε(v)``; takes ``lame`` and ``shear`` in MPa."""
    eps_u, eps_v = sym_grad(u), sym_grad(v)
    return w.lame * trace(eps_u) * trace(eps_v) + 2 * w.shear * ddot(eps_u, eps_v)


def quadratic_space(points: Array, tets: Ints) -> Basis:
    """Vector-valued quadratic displacement space on straight tetrahedra.

    Parameters
    ----------
    points
        Nodes (n, 3), mm.
    tets
        Tetrahedra (m, 4), positively oriented.
    """
    mesh = MeshTet(np.ascontiguousarray(points.T), np.ascontiguousarray(tets.T))
    return Basis(mesh, ElementVector(ElementTetP2()), intorder=_QUADRATURE_ORDER)


def stiffness_matrix(space: Basis, material: Elastic) -> sp.csr_matrix:
    """Stiffness of ``∫ λ tr ε(u) tr ε(v) + 2μ ε(u):ε(v)``, N/mm, symmetric, (n, n)."""
    return elastic_energy.assemble(
        space, lame=material.lame_MPa, shear=material.shear_modulus_MPa
    ).tocsr()


def facet_dofs(space: Basis, triangles: Ints) -> Ints:
    """Degrees of freedom on a set of facets.

    Parameters
    ----------
    triangles
        Vertex triples (k, 3); each must be a face of the mesh.

    Raises
    ------
    ValueError
        If a triangle is no face of the mesh.
    """
    size = space.mesh.p.shape[1]
    weights = np.array([size * size, size, 1], dtype=np.int64)
    known = weights @ np.sort(space.mesh.facets.astype(np.int64), axis=0)
    wanted = np.sort(np.asarray(triangles, dtype=np.int64), axis=1) @ weights
    order = np.argsort(known)
    place = np.minimum(np.searchsorted(known[order], wanted), len(known) - 1)
    facets = order[place]
    if not np.array_equal(known[facets], wanted):
        missing = int(np.sum(known[facets] != wanted))
        raise ValueError(f"{missing} of {len(wanted)} boundary triangles are no faces of the mesh")
    return np.asarray(space.get_dofs(facets).flatten(), dtype=np.int64)


def rigid_motions(space: Basis, point: Array) -> Array:
    """The six unit rigid motions about a point at every degree of freedom, (n, 6).

    Columns follow (x, y, z, rx, ry, rz): unit translations in mm, unit rotations in rad.
    """
    components = np.zeros(space.N, dtype=int)
    for axis in range(3):
        components[_component_dofs(space, axis)] = axis
    arm = space.doflocs.T - point
    translation = np.eye(3)[components]
    # u = ω × r = −r× ω: row `component` of −skew(r).
    turning = -skew(arm)[np.arange(space.N), components]
    return np.concatenate([translation, turning], axis=1)


def strains(space: Basis, displacement: Array) -> Array:
    """Small strain at the quadrature points, (3, 3, elements, points)."""
    return np.asarray(sym_grad(space.interpolate(displacement)))


def stress(material: Elastic, strain: Array) -> Array:
    """Cauchy stress (3, 3, …) of a small strain (3, 3, …), MPa."""
    volumetric = material.lame_MPa * np.trace(strain)
    identity = np.eye(3).reshape(3, 3, *([1] * (strain.ndim - 2)))
    return volumetric * identity + 2 * material.shear_modulus_MPa * strain


def _component_dofs(space: Basis, axis: int) -> Ints:
    nodal = space.nodal_dofs[axis]
    edges = space.edge_dofs[axis]
    return np.concatenate([nodal, edges])
