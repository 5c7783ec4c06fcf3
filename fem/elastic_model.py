"""The part of a tooth's mesh that deforms: how it is held, loaded and made of which materials.

A rigid tooth is moved by its root's surface. On a tooth that deforms a wrench w = (f, m) about the
point O is spread over the crown's free surface S as ``t(x) = R(x) G⁻¹ w`` (see `fem.deformable`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.assembly import Assembler, LayerDilatation
from fem.material import Elastic
from fem.space import QuadraticSpace, node_dofs
from fem.support import projects
from geometry.mesh import TetMesh

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

TOOTH_REGIONS = ("tooth", "dentine", "enamel")
BONE_REGIONS = ("bone", "cortical", "cancellous")
LIGAMENT = "ligament"

# Constants with their sources; cortical and cancellous bone as in HeadFaceMed 2017, table 1,
# enamel and dentine as in Moga et al. 2023 (IJERPH 20:1889), the whole tooth as in Papageorgiou
# et al. 2017 (Prog Orthod 18:6).
HARD_TISSUE: Mapping[str, Elastic] = {
    "tooth": Elastic(20_000.0, 0.30),
    "dentine": Elastic(18_600.0, 0.31),
    "enamel": Elastic(80_000.0, 0.33),
    "cortical": Elastic(13_700.0, 0.30),
    "cancellous": Elastic(1_370.0, 0.30),
}

# ∫ N_A N_B dA over a triangle, over its area: vertices a, b, c, then the middles of ab, ac, bc.
_VERTICES = np.array([[6, -1, -1], [-1, 6, -1], [-1, -1, 6]])
_OPPOSITE = np.array([[0, 0, -4], [0, -4, 0], [-4, 0, 0]])
FACET_MASS = np.block([[_VERTICES, _OPPOSITE], [_OPPOSITE.T, 16 + 16 * np.eye(3)]]) / 180


@dataclass(frozen=True)
class ElasticModel:
    """The part of a mesh that deforms, how it is held and how it is moved.

    Attributes
    ----------
    mesh, vertices
        That part, and the numbers of its vertices in the whole mesh.
    space
        Numbering of the part.
    point
        Point of motions and moments, (3,), mm.
    free, driven, held
        Degrees of freedom: unknown, moved with a rigid tooth (none if it is elastic), fixed.
    motions
        The six unit rigid motions at the driven ones, (d, 6).
    loads
        Nodal forces of the six unit wrenches on an elastic tooth, (all, 6); zero for a rigid one.
    """

    mesh: TetMesh
    vertices: Ints
    space: QuadraticSpace
    point: Array
    free: Ints
    driven: Ints
    held: Ints
    motions: Array
    loads: Array

    @property
    def ligament(self) -> NDArray[np.bool_]:
        """Which elements of the part are ligament, (m,)."""
        return np.asarray(self.mesh.region == self.mesh.region_names.index(LIGAMENT))


@dataclass(frozen=True)
class StiffnessParts:
    """A model's matrix as ``A₀ + λ A_λ + μ A_μ`` with the ligament's Lamé constants.

    Attributes
    ----------
    hard, volumetric, shear
        A₀, A_λ and A_μ by 3×3 blocks (see `fem.blocks`).
    """

    hard: sp.bsr_matrix
    volumetric: sp.bsr_matrix
    shear: sp.bsr_matrix

    def matrix(self, ligament: Elastic) -> sp.bsr_matrix:
        """Matrix for a ligament, N/mm."""
        soft = ligament.lame_MPa * self.volumetric + ligament.shear_modulus_MPa * self.shear
        return self.hard + soft


def elastic_model(
    mesh: TetMesh, point: Array, *, elastic_tooth: bool, elastic_bone: bool
) -> ElasticModel:
    """Take the elastic part of a mesh, number it, hold it and load it.

    Parameters and errors as for `deformable_support`.
    """
    names = _elastic_regions(mesh, elastic_tooth, elastic_bone)
    part = mesh.submesh(names)
    loaded, fixed = "crown" if elastic_tooth else "root", "bone_far" if elastic_bone else "socket"
    for name in (loaded, fixed):
        if name not in part.facets:
            raise ValueError(
                f"the mesh has no facet set {name!r} on its elastic regions {', '.join(names)}"
            )
    space = QuadraticSpace.on(part.points, part.tets)
    point = np.asarray(point, dtype=float)
    held = node_dofs(space.facet_nodes(part.facets[fixed]))
    loads = np.zeros((3 * space.node_count, 6))
    driven, motions = np.empty(0, dtype=np.int64), np.empty((0, 6))
    if elastic_tooth:
        loads = unit_wrenches(space, part.facets[loaded], point)
    else:
        moved = space.facet_nodes(part.facets[loaded])
        driven, motions = node_dofs(moved), space.rigid_motions(point, moved).reshape(-1, 6)
    unknown = np.ones(len(loads), dtype=bool)
    unknown[driven] = unknown[held] = False
    free = np.flatnonzero(unknown)
    kept = np.isin(mesh.region, [mesh.region_names.index(name) for name in names])
    vertices = np.flatnonzero(np.bincount(mesh.tets[kept].ravel()))
    return ElasticModel(part, vertices, space, point, free, driven, held, motions, loads)


def ligament_projection(
    model: ElasticModel, materials: Mapping[str, Elastic], volumetric: str
) -> LayerDilatation | None:
    """Projection of the ligament's dilatation, if it is to be projected.

    Parameters and errors as for `deformable_support`.
    """
    if LIGAMENT not in materials:
        raise ValueError(f"no material for the elastic region {LIGAMENT}; state one")
    if not projects(volumetric, materials[LIGAMENT]):
        return None
    return LayerDilatation.on(model.space, np.flatnonzero(model.ligament))


def stiffness_parts(
    model: ElasticModel, materials: Mapping[str, Elastic], projection: LayerDilatation | None
) -> StiffnessParts:
    """Matrices of the hard tissue and of a ligament of unit Lamé constants.

    Parameters
    ----------
    model
    materials
        Of every elastic region; that of the ligament is not needed.
    projection
        See `ligament_projection`.

    Raises
    ------
    ValueError
        If a region of hard tissue has no material.
    """
    hard = [name for name in model.mesh.region_names if name != LIGAMENT]
    missing = [name for name in hard if name not in materials]
    if missing:
        raise ValueError(f"no material for the elastic region {', '.join(missing)}; state one")
    constants = {
        name: (materials[name].lame_MPa, materials[name].shear_modulus_MPa) for name in hard
    }
    listed = [constants.get(name, (0.0, 0.0)) for name in model.mesh.region_names]
    stiff = np.flatnonzero(~model.ligament)
    lame, shear = np.array(listed).T[:, model.mesh.region[stiff]]
    layer = Assembler.on(model.space, np.flatnonzero(model.ligament))
    return StiffnessParts(
        hard=Assembler.on(model.space, stiff).stiffness(lame, shear),
        volumetric=layer.stiffness(1.0, 0.0) if projection is None else projection.stiffness(1.0),
        shear=layer.stiffness(0.0, 1.0),
    )


def unit_wrenches(space: QuadraticSpace, triangles: Ints, point: Array) -> Array:
    """Nodal forces of six unit wrenches spread over some facets, (all, 6).

    Columns f = ∫ Nᵀ R dA G⁻¹; the same columns give the mean rigid motion ``q = fᵀ u``. Exact on
    flat facets, where R is linear and the shape functions are quadratic.

    Parameters
    ----------
    space
    triangles
        Facets (k, 3), which must not lie on one line.
    point
        (3,), mm.
    """
    table = space.facet_table(triangles)
    corners = space.points[table[:, :3]]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    areas = 0.5 * np.linalg.norm(normals, axis=1)
    motions = space.rigid_motions(point)
    local = np.einsum("k,ab,kbim->kaim", areas, FACET_MASS, motions[table])
    weighted = np.zeros_like(motions)
    np.add.at(weighted, table, local)
    columns = weighted.reshape(-1, 6)
    gram = motions.reshape(-1, 6).T @ columns
    return np.asarray(np.linalg.solve(gram, columns.T).T)


def _elastic_regions(mesh: TetMesh, elastic_tooth: bool, elastic_bone: bool) -> tuple[str, ...]:
    if LIGAMENT not in mesh.region_names:
        raise ValueError(f"the mesh has no region {LIGAMENT!r}")
    known = {LIGAMENT, *TOOTH_REGIONS, *BONE_REGIONS}
    strange = sorted(set(mesh.region_names) - known)
    if strange:
        raise ValueError(
            f"region {', '.join(strange)} is neither tooth nor ligament nor bone; the names are "
            f"{', '.join(sorted(known))}"
        )
    parts = {"tooth": (elastic_tooth, TOOTH_REGIONS), "bone": (elastic_bone, BONE_REGIONS)}
    wanted = {LIGAMENT}
    for what, (elastic, regions) in parts.items():
        if elastic and not set(regions) & set(mesh.region_names):
            raise ValueError(f"an elastic {what} needs a region of it in the mesh; it has none")
        wanted |= set(regions) if elastic else set()
    return tuple(name for name in mesh.region_names if name in wanted)
