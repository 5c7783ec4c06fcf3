"""Support of a tooth where tooth, bone or both deform along with the ligament.

A rigid tooth is moved by its root's surface, as in `fem.support`. A tooth that deforms has no one
motion; here a wrench w = (f, m) about the point O is spread over the crown's free surface S as

    ``t(x) = a + b × (x − O) = R(x) G⁻¹ w``,  ``G = ∫_S Rᵀ R dA``,  ``R(x) = [1, −(x − O)×]``,

the traction that varies like a rigid motion and is statically equal to w. The motion that goes
with it is the area-weighted mean rigid motion of S,

    ``q = G⁻¹ ∫_S Rᵀ u dA``,  so that  ``w · q = ∫_S t · u dA``.

Six unit wrenches give the compliance ``q = C w``, symmetric by Betti's theorem, and ``K = C⁻¹``.
For a rigid tooth q is its motion and K that of `fem.support`.

Not valid for the dent under a bracket or a hook, which is local to where the load enters; nor for
the strain of the bone far from the tooth, since the block ends within the jaw: its mesial, distal
and apical faces are held.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.blocks import part
from fem.elastic_model import (
    LIGAMENT,
    TOOTH_REGIONS,
    ElasticModel,
    elastic_model,
    ligament_projection,
    stiffness_parts,
)
from fem.material import Elastic
from fem.multigrid import Levels, solve_layered
from fem.solver import Solution, SolverError, solve_spd
from fem.space import QuadraticSpace, dof_nodes, rigid_motions
from fem.support import Support, asymmetry, dimensionless, stress_basis
from geometry.mesh import TetMesh

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_BALANCE = 1e-6


@dataclass(frozen=True)
class Response:
    """Fields of the six unit motions.

    Attributes
    ----------
    fields
        Displacements of all degrees of freedom of the part, (all, 6).
    forces
        Forces at them, (all, 6): loads and reactions.
    stiffness
        6×6 as computed, symmetric but for the solver's error.
    solution
        Of the linear system, with its `x` dropped.
    """

    fields: Array
    forces: Array
    stiffness: Array
    solution: Solution


def deformable_support(
    mesh: TetMesh,
    materials: Mapping[str, Elastic],
    point: Array,
    *,
    elastic_tooth: bool = True,
    elastic_bone: bool = True,
    volumetric: str = "auto",
) -> Support:
    """Support of a tooth with elastic ligament, and elastic tooth and bone where asked.

    Equation and limits stand at the head of the module. With both rigid the answer is that of
    `fem.support.rigid_body_support`. A tooth of default size with its bone has some 110 000 to
    210 000 unknowns when all is elastic. Those are solved by multigrid (see `fem.multigrid`), whose
    time and memory grow a little faster than their number; where it fails the direct solution
    takes over, whose time and memory grow with their power 2.0 and 1.5.

    Parameters
    ----------
    mesh
        Region ``"ligament"`` with facets ``"root"`` and ``"socket"``; for an elastic tooth
        ``"tooth"`` or ``"dentine"`` and ``"enamel"`` with the facet ``"crown"``; for elastic
        bone ``"cortical"`` and ``"cancellous"`` with ``"bone_far"`` (see `geometry.bone`).
    materials
        Elastic constants by region; those of rigid regions are not needed.
    point
        Point for motions and moments, (3,), mm.
    elastic_tooth, elastic_bone
        What deforms besides the ligament.
    volumetric
        How the ligament's dilatation is taken, as in `fem.support.rigid_body_support`.

    Returns
    -------
    Support
        `basis` covers the elements of the ligament alone, per unit motion (the mean motion of
        the crown for an elastic tooth); `displacements` the vertices of the whole mesh, where a
        rigid tooth moves as a body and rigid bone stands still.

    Raises
    ------
    ValueError
        If a region, facet set or material is missing, or the ligament's dilatation is to be
        projected on a mesh that is no layer of prisms.
    fem.solver.SolverError
        If the system cannot be solved or the reactions do not balance the load.
    """
    model = elastic_model(mesh, point, elastic_tooth=elastic_tooth, elastic_bone=elastic_bone)
    projection = ligament_projection(model, materials, volumetric)
    parts = stiffness_parts(model, materials, projection)
    system = linear_system(model, parts.matrix(materials[LIGAMENT]))
    del parts
    response = solve_model(model, system)
    check_balance(model, response)
    return Support(
        point=model.point,
        stiffness=0.5 * (response.stiffness + response.stiffness.T),
        asymmetry=asymmetry(response.stiffness, mesh.points),
        basis=stress_basis(
            _ligament_space(model), materials[LIGAMENT], response.fields, projection
        ),
        displacements=_whole_displacements(mesh, model, response.fields),
        unknowns=len(model.free),
        solution=response.solution,
        volumetric="exact" if projection is None else "projected",
    )


@dataclass(frozen=True)
class LinearSystem:
    """What is to be solved, and the rows of the matrix that give the forces where it is held.

    Attributes
    ----------
    matrix, right
        Of the free degrees of freedom, (free, free) and (free, 6).
    fixed
        Degrees of freedom held, or driven with a rigid tooth, rising.
    border
        The whole matrix's rows at those, (fixed, all).
    """

    matrix: sp.bsr_matrix
    right: Array
    fixed: Ints
    border: sp.bsr_matrix


def linear_system(model: ElasticModel, K: sp.bsr_matrix) -> LinearSystem:
    """Split a model's matrix for six unit motions or loads.

    Parameters
    ----------
    model
    K
        Matrix of the part (see `fem.blocks`); not needed any more afterwards.
    """
    free = dof_nodes(model.free)
    known = np.ones(K.shape[0], dtype=bool)
    known[model.free] = False
    fixed = np.flatnonzero(known)
    border = part(K, dof_nodes(fixed), None)
    right = model.loads
    if len(model.driven):
        moved = np.zeros((K.shape[0], 6))
        moved[model.driven] = model.motions
        right = right - border.T @ moved[fixed]
    return LinearSystem(part(K, free, free), right[model.free], fixed, border)


def solve_model(model: ElasticModel, system: LinearSystem) -> Response:
    """Fields and 6×6 of the six unit motions.

    With elastic hard tissue by `fem.multigrid.solve_layered`, which solves small systems directly
    and falls back on that; the ligament alone directly, being one layer from face to face.

    Raises
    ------
    fem.solver.SolverError
        If no method solves the system.
    """
    if model.ligament.all():
        solution = solve_spd(system.matrix, system.right)
    else:
        levels = Levels.on(model.space, model.free, model.ligament)
        solution = solve_layered(system.matrix, system.right, levels)
    fields = np.zeros((len(model.loads), 6))
    fields[model.driven] = model.motions
    fields[model.free] = solution.x
    forces = model.loads.copy()
    forces[system.fixed] = system.border @ fields
    if len(model.driven):
        stiffness = model.motions.T @ forces[model.driven]
    else:
        stiffness = np.asarray(np.linalg.inv(model.loads.T @ fields), dtype=np.float64)
        fields, forces = fields @ stiffness, forces @ stiffness
    proof = replace(solution, x=np.empty((0, 6)))
    return Response(fields, forces, np.asarray(stiffness), proof)


def check_balance(model: ElasticModel, response: Response) -> None:
    """See that the reactions at the held faces balance the wrench on the tooth.

    Raises
    ------
    fem.solver.SolverError
        If force or moment is left over.
    """
    held_motions = model.space.rigid_motions(model.point).reshape(-1, 6)[model.held]
    reaction = held_motions.T @ response.forces[model.held]
    left = dimensionless(reaction + response.stiffness, model.mesh.points)
    scale = np.abs(dimensionless(response.stiffness, model.mesh.points)).max()
    if not np.abs(left).max() <= _BALANCE * scale:
        raise SolverError(
            f"the reactions miss the load by {np.abs(left).max() / scale:.1e} of it; "
            "look for elements of poor shape or for parts that hang loose"
        )


def _ligament_space(model: ElasticModel) -> QuadraticSpace:
    """The part's numbering with the ligament's elements alone."""
    space, kept = model.space, model.ligament
    return replace(space, vertices=space.vertices[kept], elements=space.elements[kept])


def _whole_displacements(mesh: TetMesh, model: ElasticModel, fields: Array) -> Array:
    """Displacements of the six unit motions at all vertices of the whole mesh, (6, n, 3)."""
    whole = np.zeros((len(mesh.points), 3, 6))
    if len(model.driven):
        regions = [i for i, name in enumerate(mesh.region_names) if name in TOOTH_REGIONS]
        body = np.unique(mesh.tets[np.isin(mesh.region, regions)])
        whole[body] = rigid_motions(mesh.points[body], model.point)
    whole[model.vertices] = fields[: 3 * len(model.vertices)].reshape(-1, 3, 6)
    return whole.transpose(2, 0, 1)
