"""The same tooth and the same wire by scikit-fem as its documentation has it.

Its own numbering, shape functions, forms and default quadrature, and on the tooth its own load
vector; SciPy's direct solver. The project uses scikit-fem's hexahedra for wires, but its own
tetrahedra, so that the tooth shows more than the wire.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from skfem import (
    Basis,
    ElementHex2,
    ElementTetP2,
    ElementVector,
    FacetBasis,
    LinearForm,
    MeshTet,
    asm,
)
from skfem.helpers import dot
from skfem.models.elasticity import lame_parameters, linear_elasticity

from fem.elastic_model import ElasticModel
from fem.material import Elastic
from fem.sweep_solid import WireSolid
from workflow.verification.peers_felupe import direct_solution
from workflow.verification.peers_models import Answer

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


@LinearForm
def _work(v, w):  # type: ignore[no-untyped-def]
    return dot(w.traction, v)


def solve_tooth(
    model: ElasticModel, materials: Mapping[str, Elastic], loaded: str, held: str
) -> Answer:
    """Displacements and mean motions of six unit wrenches on an elastic tooth."""
    part = model.mesh
    mesh = MeshTet(part.points.T.copy(), part.tets.T.copy())
    element = ElementVector(ElementTetP2())
    whole = Basis(mesh, element)
    K = sp.csr_matrix((whole.N, whole.N))
    for index, name in enumerate(part.region_names):
        own = Basis(mesh, element, elements=np.flatnonzero(part.region == index))
        K = K + asm(_form(materials[name]), own)
    fixed = whole.get_dofs(_facets(mesh, part.facets[held])).all()
    free = np.setdiff1d(np.arange(whole.N), fixed)
    crown = FacetBasis(mesh, element, facets=_facets(mesh, part.facets[loaded]))
    loads = _wrenches(crown, model.point)
    u = direct_solution(K, free, loads)
    return Answer(u[whole.nodal_dofs.T], loads.T @ u)


def solve_wire(solid: WireSolid, order: int | None = None) -> Answer:
    """Displacements at vertices and mean motions of six unit wrenches on a wire's last section.

    Parameters
    ----------
    solid
    order
        Of the quadrature; scikit-fem's default without it.
    """
    mesh = solid.swept.mesh
    basis = Basis(mesh, ElementVector(ElementHex2()), intorder=order)
    parts = (basis.nodal_dofs, basis.edge_dofs, basis.facet_dofs, basis.interior_dofs)
    # Of our nodes one after the other: vertices, edges, facets, cells.
    own = np.concatenate([part.T.ravel() for part in parts])
    loads = np.zeros((basis.N, 6))
    loads[own] = solid.last.T
    fixed = basis.get_dofs(solid.swept.first).all()
    free = np.setdiff1d(np.arange(basis.N), fixed)
    u = direct_solution(asm(_form(solid.material), basis), free, loads)
    return Answer(u[basis.nodal_dofs.T], loads.T @ u)


def _form(material: Elastic) -> Any:
    constants = lame_parameters(material.youngs_modulus_MPa, material.poisson_ratio)
    return linear_elasticity(*constants)


def _wrenches(basis: FacetBasis, point: Array) -> Array:
    """Load vectors (N, 6) of R G⁻¹ w for six unit wrenches (see `fem.deformable`)."""
    x = np.asarray(basis.global_coordinates())
    arm = x - point[:, None, None]
    axes = [np.broadcast_to(axis[:, None, None], x.shape) for axis in np.eye(3)]
    motions = np.stack([*axes, *(np.cross(axis, arm, axis=0) for axis in axes)])
    gram = np.einsum("aifq,bifq,fq->ab", motions, motions, basis.dx)
    tractions = np.einsum("ab,aifq->bifq", np.linalg.inv(gram), motions)
    return np.stack([_work.assemble(basis, traction=t) for t in tractions], axis=1)


def _facets(mesh: MeshTet, triangles: Ints) -> Ints:
    """Numbers of the facets with the given corners."""
    size = int(mesh.nvertices)
    weights = np.array([size * size, size, 1])
    known = np.sort(mesh.facets, axis=0).T @ weights
    return np.flatnonzero(np.isin(known, np.sort(triangles, axis=1) @ weights))
