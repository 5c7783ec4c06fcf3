"""The same tooth and the same wire by FElupe, a finite-element library written in Python.

FElupe gets nodes, elements, materials, held nodes and nodal loads, in the order of its own
elements, and does shape functions, quadrature and assembly. SciPy's direct solver solves.
"""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu
from skfem import ElementHex2

from fem.elastic_model import ElasticModel
from fem.material import Elastic
from fem.space import EDGE_ENDS, QuadraticSpace
from fem.sweep_solid import WireSolid
from geometry.mesh import tet_volumes
from workflow.verification.peers_models import Answer

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

MISSING = "FElupe is not installed; `./workflow/test` installs it with all that the checks need"


def solve_tooth(model: ElasticModel, materials: Mapping[str, Elastic]) -> Answer:
    """Displacements and mean motions of six unit wrenches on an elastic tooth."""
    felupe = _library()
    space, mesh = model.space, model.mesh
    cells = _positive(space)[:, _tetra_order(felupe)]
    parts = (
        (felupe.RegionQuadraticTetra, "tetra10", cells[mesh.region == index], materials[name])
        for index, name in enumerate(mesh.region_names)
    )
    K = _stiffness(felupe, space.nodes, parts)
    u = direct_solution(K, model.free, model.loads)
    return _answer(u, model.loads, len(mesh.points))


def solve_wire(solid: WireSolid) -> Answer:
    """Displacements at vertices and mean motions of six unit wrenches on a wire's last section."""
    felupe = _library()
    mesh = solid.swept.mesh
    element = felupe.TriQuadraticHexahedron()
    places = element.points / 2 + 0.5
    if _left_handed(solid):
        places[:, 0] = 1 - places[:, 0]
    cells = solid.nodes[:, _same_places(places, ElementHex2.doflocs)]
    region = felupe.RegionTriQuadraticHexahedron
    parts = [(region, "VTK_LAGRANGE_HEXAHEDRON", cells, solid.material)]
    K = _stiffness(felupe, np.asarray(mesh.doflocs.T), parts)
    free = np.flatnonzero(np.repeat(solid.swept.arc_mm > 0, 3))
    return _answer(direct_solution(K, free, solid.last.T), solid.last.T, int(mesh.nvertices))


def direct_solution(K: sp.spmatrix, free: Ints, loads: Array) -> Array:
    """Displacements of all degrees of freedom by SciPy's direct solver, the rest held at zero."""
    u = np.zeros(loads.shape)
    matrix = sp.csc_matrix(sp.csr_matrix(K)[free][:, free])
    u[free] = splu(matrix, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve(
        loads[free]
    )
    return u


def _library() -> Any:
    if importlib.util.find_spec("felupe") is None:
        raise ModuleNotFoundError(MISSING)
    return importlib.import_module("felupe")


def _answer(u: Array, loads: Array, vertices: int) -> Answer:
    return Answer(u.reshape(-1, 3, 6)[:vertices], loads.T @ u)


def _stiffness(
    felupe: Any, nodes: Array, parts: Iterable[tuple[Any, str, Ints, Elastic]]
) -> sp.csr_matrix:
    """Sum over regions, each with its kind, cells and material."""
    size = 3 * len(nodes)
    total = sp.csr_matrix((size, size))
    for region, cell_type, cells, material in parts:
        mesh = felupe.Mesh(nodes, cells, cell_type)
        field = felupe.FieldContainer([felupe.Field(region(mesh), dim=3)])
        law = felupe.LinearElastic(E=material.youngs_modulus_MPa, nu=material.poisson_ratio)
        total = total + felupe.SolidBody(law, field).assemble.matrix()
    return total


def _positive(space: QuadraticSpace) -> Ints:
    """Elements (m, 10) with their vertices in an order of positive volume."""
    swapped = tet_volumes(space.points, space.vertices) < 0
    elements = space.elements.copy()
    # Third and fourth vertex change places, and the edges that end at one of them.
    elements[swapped] = elements[swapped][:, [0, 1, 3, 2, 4, 6, 5, 8, 7, 9]]
    return elements


def _left_handed(solid: WireSolid) -> bool:
    """Whether the elements mirror scikit-fem's unit cube, which FElupe's may not."""
    corners = np.vstack([np.zeros(3), np.eye(3)])
    origin, *ends = np.asarray(solid.swept.mesh.doflocs.T)[
        solid.nodes[0, _same_places(corners, ElementHex2.doflocs)]
    ]
    return bool(np.linalg.det(np.array(ends) - origin) < 0)


def _tetra_order(felupe: Any) -> Ints:
    """Which of our ten nodes each of FElupe's is."""
    corners = np.vstack([np.zeros(3), np.eye(3)])
    ours = np.vstack([corners, corners[EDGE_ENDS].mean(axis=1)])
    return _same_places(felupe.QuadraticTetra().points, ours)


def _same_places(places: Array, among: Array) -> Ints:
    """Row of `among` at each place.

    Raises
    ------
    ValueError
        If one is missing.
    """
    distance = np.linalg.norm(places[:, None] - among[None], axis=2)
    if not distance.min(axis=1).max() < 1e-12:
        raise ValueError("the nodes of the two elements lie in different places")
    return np.asarray(distance.argmin(axis=1))
