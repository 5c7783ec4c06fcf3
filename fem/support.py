"""The support of a rigid body by the elastic layer around it: 6×6 stiffness and stress basis.

The inner face of the layer moves rigidly with the tooth, the outer face (socket wall) is fixed.
One factorisation serves six unit motions; every later load is a combination of them:

    ``u = Σ q_k u_k``,  ``K_jk = r_jᵀ 𝐊 u_k``  (reactions taken from the residual 𝐊 u).

In a nearly incompressible layer the dilatation is projected prism by prism
(`fem.assembly.LayerDilatation`), for quadratic tetrahedra alone are too stiff there: at ν = 0.499 a
bush of two layers comes out some 20 % too stiff, with the projection within 0.5 %, on one mesh.
With elements 2.75 times as long as the layer is thick, a tooth's default, a bush is off by up to
6 % at ν = 0.49 and 26 % at 0.499, with the projection by 2 and 4 %.

Not valid where the tooth's own bending or the bone's compliance matters (they soften a stiff
layer most), nor for a layer that stiffens with strain.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.assembly import Assembler, LayerDilatation
from fem.blocks import part
from fem.material import Elastic
from fem.solver import Solution, solve_spd
from fem.space import QuadraticSpace, dof_nodes, node_dofs
from geometry.mesh import TetMesh

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

# Up to here the tetrahedra's own dilatation serves as well, and needs no layered mesh.
PROJECTED_ABOVE_POISSON_RATIO = 0.4
VOLUMETRIC = ("auto", "exact", "projected")

# Components kept of a symmetric tensor, in the order of `QuadraticSpace.strains`.
COMPONENTS = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))


@dataclass(frozen=True)
class StressBasis:
    """Stress of six unit motions at the quadrature points of a layer.

    Attributes
    ----------
    values
        (6 motions, 6 components xx yy zz yz xz xy, elements, points), MPa per mm or rad.
    volumes
        Volume each quadrature point stands for, (elements, points), mm³.
    """

    values: Array
    volumes: Array

    def combine(self, motion: Array) -> Array:
        """Stress tensors (elements, points, 3, 3) of a motion (6,), MPa."""
        parts = np.tensordot(motion, self.values, axes=1)
        tensor = np.empty((*parts.shape[1:], 3, 3))
        for component, (i, j) in zip(parts, COMPONENTS, strict=True):
            tensor[..., i, j] = tensor[..., j, i] = component
        return tensor


@dataclass(frozen=True)
class Support:
    """Support of one tooth in its own axes.

    Attributes
    ----------
    point
        Point the stiffness is stated about, (3,), mm.
    stiffness
        6×6, symmetric (N/mm, N, N·mm); force and moment that hold the tooth at a motion.
    asymmetry
        Largest departure of the computed 6×6 from symmetry over its largest entry.
    basis
        Stress of the six unit motions about `point`.
    displacements
        Displacements of the six unit motions at the vertices, (6, n, 3).
    unknowns
        Size of the linear system.
    solution
        Method, residual and time of the solve; its `x` is dropped.
    volumetric
        How the dilatation was taken: ``"exact"`` or ``"projected"``.
    """

    point: Array
    stiffness: Array
    asymmetry: float
    basis: StressBasis
    displacements: Array
    unknowns: int
    solution: Solution
    volumetric: str = "exact"


def rigid_body_support(
    layer: TetMesh,
    material: Elastic,
    point: Array,
    inner: str = "root",
    outer: str = "socket",
    *,
    volumetric: str = "auto",
) -> Support:
    """Support of a rigid body by a bonded elastic layer with its outer face fixed.

    Parameters
    ----------
    layer
        Mesh of the layer alone.
    material
        Elastic constants of the layer.
    point
        Point for motions and moments, (3,), mm.
    inner, outer
        Facet sets bonded to the body and to the fixed wall.
    volumetric
        ``"exact"`` takes the dilatation of the tetrahedra as it is, ``"projected"`` that of
        `fem.assembly.LayerDilatation`, for which the mesh must be one of
        `geometry.ligament.ligament_layer`; ``"auto"`` the second above ν = 0.4.

    Raises
    ------
    ValueError
        If a facet set is missing or does not belong to the mesh, `volumetric` is none of the
        three, or the dilatation is to be projected on a mesh that is no layer of prisms.
    fem.solver.SolverError
        If the system cannot be solved.
    """
    for name in (inner, outer):
        if name not in layer.facets:
            raise ValueError(f"the layer has no facet set {name!r}")
    space = QuadraticSpace.on(layer.points, layer.tets)
    projection = LayerDilatation.on(space) if projects(volumetric, material) else None
    K = _stiffness(space, material, projection)
    moved_nodes = space.facet_nodes(layer.facets[inner])
    moved, fixed = node_dofs(moved_nodes), node_dofs(space.facet_nodes(layer.facets[outer]))
    free = np.setdiff1d(np.arange(K.shape[0]), np.concatenate([moved, fixed]))
    motions = space.rigid_motions(np.asarray(point, dtype=float), moved_nodes).reshape(-1, 6)

    U = np.zeros((K.shape[0], 6))
    U[moved] = motions
    nodes = dof_nodes(free)
    solution = solve_spd(part(K, nodes, nodes), -(K @ U)[free])
    U[free] = solution.x
    stiffness = motions.T @ (K @ U)[moved]
    symmetric = 0.5 * (stiffness + stiffness.T)
    return Support(
        point=np.asarray(point, dtype=float),
        stiffness=symmetric,
        asymmetry=asymmetry(stiffness, layer.points),
        basis=stress_basis(space, material, U, projection),
        displacements=U[: 3 * len(space.points)].reshape(-1, 3, 6).transpose(2, 0, 1),
        unknowns=len(free),
        solution=replace(solution, x=np.empty((0, 6))),
        volumetric="exact" if projection is None else "projected",
    )


def projects(volumetric: str, material: Elastic) -> bool:
    """Whether the dilatation is to be projected (see `rigid_body_support`).

    Raises
    ------
    ValueError
        If `volumetric` is unknown.
    """
    if volumetric not in VOLUMETRIC:
        raise ValueError(f"volumetric = {volumetric!r}: must be one of {', '.join(VOLUMETRIC)}")
    if volumetric == "auto":
        return material.poisson_ratio > PROJECTED_ABOVE_POISSON_RATIO
    return volumetric == "projected"


def _stiffness(
    space: QuadraticSpace, material: Elastic, projection: LayerDilatation | None
) -> sp.bsr_matrix:
    assembler, shear = Assembler.on(space), material.shear_modulus_MPa
    if projection is None:
        return assembler.stiffness(material.lame_MPa, shear)
    return assembler.stiffness(0.0, shear) + projection.stiffness(material.lame_MPa)


def stress_basis(
    space: QuadraticSpace, material: Elastic, U: Array, projection: LayerDilatation | None = None
) -> StressBasis:
    """Stress ``λ Πθ 1 + 2μ ε``: the one whose virtual work gives the forces of the solution."""
    strains = space.strains(U.reshape(-1, 3, 6))
    dilatation = strains[:, :3].sum(axis=1) if projection is None else projection.at_points(U)
    values = 2 * material.shear_modulus_MPa * strains
    values[:, :3] += material.lame_MPa * dilatation[:, None]
    return StressBasis(values, np.repeat(space.volumes[:, None] / 4, 4, axis=1))


def asymmetry(stiffness: Array, points: Array) -> float:
    """Largest departure of a 6×6 from symmetry over its largest entry, made dimensionless."""
    scaled = dimensionless(stiffness, points)
    return float(np.abs(scaled - scaled.T).max() / np.abs(scaled).max())


def dimensionless(stiffness: Array, points: Array) -> Array:
    """Stiffness with rotations measured by the displacement at the layer's own size."""
    size = np.ptp(points, axis=0).max()
    scale = np.array([1.0, 1.0, 1.0, 1 / size, 1 / size, 1 / size])
    return stiffness * np.outer(scale, scale)
