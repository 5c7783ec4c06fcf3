"""Elastic tooth and elastic bone: scikit-fem and limits."""

from dataclasses import replace

import numpy as np
import pytest
from skfem import Basis, ElementTetP2, ElementVector, FacetBasis, LinearForm, MeshTet
from skfem.helpers import dot

from fem.deformable import check_balance, deformable_support, linear_system, solve_model
from fem.elastic_model import (
    HARD_TISSUE,
    elastic_model,
    ligament_projection,
    stiffness_parts,
    unit_wrenches,
)
from fem.elasticity import elastic_energy
from fem.material import Elastic
from fem.solver import SolverError
from fem.space import QuadraticSpace
from fem.support import rigid_body_support
from geometry.anatomy import tooth_dimensions
from geometry.bone import BoneSpec, bone_block
from geometry.hard_tissue import with_enamel
from geometry.mesh import TetMesh, lone_faces, tet_volumes
from geometry.tooth_mesh import ToothSpec, build_tooth

LIGAMENT = Elastic(0.68, 0.45)
POINT = np.array([0.2, -0.1, -1.5])
COMBINATIONS = [(False, False), (False, True), (True, False), (True, True)]


def box(*edges):
    """Tetrahedra on a box from the coordinates along its edges, volumes positive."""
    mesh = MeshTet.init_tensor(*edges)
    points, tets = mesh.p.T.copy(), mesh.t.T.astype(np.int64)
    turned = tet_volumes(points, tets) < 0
    tets[turned] = tets[turned][:, [1, 0, 2, 3]]
    return points, tets


def resultant(nodes, forces):
    """Force and moment about the point of nodal forces (n, 3, k), as (6, k)."""
    moments = np.cross((nodes - POINT)[:, :, None], forces, axis=1)
    return np.concatenate([forces.sum(axis=0), moments.sum(axis=0)])


def faces_between(tets, one, other):
    """Faces of the elements `one` that they share with `other`, and those nobody shares."""
    mine, theirs = lone_faces(tets[one]), lone_faces(tets[other])
    known = {tuple(sorted(face)) for face in theirs}
    shared = np.array([tuple(sorted(face)) in known for face in mine])
    return mine[shared], mine[~shared]


# --- scikit-fem ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def blocks():
    """A peg (tooth) that stands out of a socket with ligament and two kinds of bone."""
    xy = np.array([-3.0, -1.6, -1.0, 0.1, 1.0, 1.6, 3.0])
    z = np.array([-4.0, -2.5, -2.0, -1.0, 0.0, 1.3])
    points, tets = box(xy, xy, z)
    centre = points[tets].mean(axis=1)
    across = np.abs(centre[:, :2]).max(axis=1)
    kept = (centre[:, 2] < 0) | (across < 1)
    used, tets = np.unique(tets[kept], return_inverse=True)
    points, tets, centre, across = points[used], tets.reshape(-1, 4), centre[kept], across[kept]
    tooth = (across < 1) & (centre[:, 2] > -2)
    ligament = (across < 1.6) & (centre[:, 2] > -2.5) & ~tooth
    region = np.select([tooth, ligament, centre[:, 0] > 0], [0, 1, 2], 3)
    bone = region > 1
    root, crown = faces_between(tets, tooth, ligament)
    socket, _ = faces_between(tets, ligament, bone)
    skin = lone_faces(tets)
    x, _, low = np.moveaxis(np.abs(points[skin]), 2, 0)
    far = (x > 3 - 1e-9).all(axis=1) | (low > 4 - 1e-9).all(axis=1)
    facets = {"root": root, "crown": crown, "socket": socket, "bone_far": skin[far]}
    names = ("tooth", "ligament", "cortical", "cancellous")
    rng = np.random.default_rng(3)
    inside = np.setdiff1d(np.arange(len(points)), skin)
    points[inside] += 0.05 * rng.uniform(-1, 1, (len(inside), 3))
    return TetMesh(points, tets, region, names, facets)


BLOCK_MATERIALS = {
    "tooth": Elastic(20.0, 0.30),
    "ligament": Elastic(0.5, 0.38),
    "cortical": Elastic(13.0, 0.28),
    "cancellous": Elastic(1.4, 0.35),
}


def named_facets(mesh, triangles):
    """Numbers of the facets of a scikit-fem mesh with the given corners."""
    wanted = {tuple(sorted(face)) for face in triangles.tolist()}
    return np.array([i for i, face in enumerate(mesh.facets.T) if tuple(sorted(face)) in wanted])


def oracle(part, point, loaded, fixed, driven):
    """6×6 by scikit-fem's mesh, elements, forms and condensation."""
    skmesh = MeshTet(part.points.T.copy(), part.tets.T.copy())
    element = ElementVector(ElementTetP2())
    basis = Basis(skmesh, element, intorder=4)
    quadrature = basis.dx.shape
    listed = [BLOCK_MATERIALS[name] for name in part.region_names]

    def constants(values):
        return np.broadcast_to(np.array(values)[part.region][:, None], quadrature).copy()

    K = elastic_energy.assemble(
        basis,
        lame=constants([material.lame_MPa for material in listed]),
        shear=constants([material.shear_modulus_MPa for material in listed]),
    ).tocsr()
    x = basis.doflocs - point[:, None]
    axis = np.empty(basis.N, dtype=int)
    for dofs in (basis.nodal_dofs, basis.edge_dofs):
        for i in range(3):
            axis[dofs[i]] = i
    rigid = np.empty((basis.N, 6))
    for k in range(6):
        unit = np.eye(3)[k % 3][:, None]
        field = np.broadcast_to(unit, x.shape) if k < 3 else np.cross(unit, x, axis=0)
        rigid[:, k] = field[axis, np.arange(basis.N)]
    held = basis.get_dofs(named_facets(skmesh, part.facets[fixed])).all()
    U = np.zeros((basis.N, 6))
    if driven:
        moved = basis.get_dofs(named_facets(skmesh, part.facets[loaded])).all()
        U[moved] = rigid[moved]
        free = np.setdiff1d(np.arange(basis.N), np.concatenate([moved, held]))
        U[free] = np.linalg.solve(K[free][:, free].toarray(), -(K[free] @ U))
        return U.T @ (K @ U)
    surface = FacetBasis(
        skmesh, element, facets=named_facets(skmesh, part.facets[loaded]), intorder=6
    )
    pulls = np.stack([rigid_load(surface, point, k) for k in range(6)], axis=1)
    F = pulls @ np.linalg.inv(rigid.T @ pulls)
    free = np.setdiff1d(np.arange(basis.N), held)
    U[free] = np.linalg.solve(K[free][:, free].toarray(), F[free])
    return np.linalg.inv(F.T @ U)


def rigid_load(surface, point, k):
    @LinearForm
    def work(v, w):
        arm = w.x - point.reshape(3, *[1] * (w.x.ndim - 1))
        unit = np.eye(3)[k % 3].reshape(3, *[1] * (w.x.ndim - 1))
        field = unit + 0 * arm if k < 3 else np.cross(unit, arm, axis=0)
        return dot(field, v)

    return work.assemble(surface)


@pytest.mark.parametrize(("tooth", "bone"), COMBINATIONS)
def test_6x6_by_scikit_fem_with_several_materials(blocks, tooth, bone):
    """Load, mean motion, holding and materials built a second time in a general-purpose library."""
    support = deformable_support(
        blocks, BLOCK_MATERIALS, POINT, elastic_tooth=tooth, elastic_bone=bone
    )
    names = [
        name
        for name in blocks.region_names
        if name == "ligament" or (tooth if name == "tooth" else bone)
    ]
    expected = oracle(
        blocks.submesh(names),
        POINT,
        "crown" if tooth else "root",
        "bone_far" if bone else "socket",
        driven=not tooth,
    )
    assert support.stiffness == pytest.approx(expected, rel=1e-7, abs=1e-8 * abs(expected).max())


def test_wrenches_enter_by_the_crown_alone(blocks):
    space = QuadraticSpace.on(blocks.points, blocks.tets)
    forces = unit_wrenches(space, blocks.facets["crown"], POINT).reshape(-1, 3, 6)
    away = np.setdiff1d(np.arange(len(space.nodes)), space.facet_nodes(blocks.facets["crown"]))
    assert np.abs(forces[away]).max() == 0.0


# --- a tooth -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def tooth_in_bone():
    built = build_tooth(ToothSpec(tooth_dimensions(41), root_size_mm=0.9, crown_size_mm=1.5))
    return bone_block(built.mesh, spec=BoneSpec(2.5, 2.5, 1.2, 2.0, 3.0, far_size_mm=2.0))


MATERIALS = {**HARD_TISSUE, "ligament": LIGAMENT}


def relative_difference(a, b):
    size = np.array([1, 1, 1, 10.0, 10, 10])
    a, b = a / np.outer(size, size), b / np.outer(size, size)
    return np.abs(a - b).max() / np.abs(b).max()


@pytest.fixture(scope="module")
def supports(tooth_in_bone):
    """The four combinations, by (elastic tooth, elastic bone)."""
    return {
        (tooth, bone): deformable_support(
            tooth_in_bone, MATERIALS, POINT, elastic_tooth=tooth, elastic_bone=bone
        )
        for tooth, bone in COMBINATIONS
    }


def test_all_rigid_is_the_rigid_body_support(tooth_in_bone, supports):
    mesh, support = tooth_in_bone, supports[False, False]
    rigid = rigid_body_support(mesh.submesh(["ligament"]), LIGAMENT, POINT)
    assert relative_difference(support.stiffness, rigid.stiffness) < 1e-11
    assert np.allclose(support.basis.values, rigid.basis.values, rtol=1e-7, atol=1e-9)
    moved = np.unique(mesh.region_tets("ligament"))
    assert np.allclose(support.displacements[:, moved], rigid.displacements, rtol=0, atol=1e-10)


@pytest.mark.parametrize("volumetric", ["exact", "projected"])
def test_dilatation_is_taken_as_in_the_rigid_body_support(tooth_in_bone, volumetric):
    layer, material = tooth_in_bone.submesh(["ligament"]), Elastic(0.68, 0.49)
    rigid = rigid_body_support(layer, material, POINT, volumetric=volumetric)
    support = deformable_support(
        tooth_in_bone,
        {"ligament": material},
        POINT,
        elastic_tooth=False,
        elastic_bone=False,
        volumetric=volumetric,
    )
    assert support.volumetric == volumetric
    assert relative_difference(support.stiffness, rigid.stiffness) < 1e-10
    assert np.allclose(support.basis.values, rigid.basis.values, rtol=1e-7, atol=1e-8)


@pytest.mark.parametrize(("tooth", "bone"), COMBINATIONS[1:])
def test_stiff_hard_tissue_is_rigid_in_the_limit(blocks, tooth, bone):
    """The difference falls as 1/E: by ten for each tenfold modulus, rate −1 within 0.02."""
    ligament = BLOCK_MATERIALS["ligament"]
    rigid = rigid_body_support(blocks.submesh(["ligament"]), ligament, POINT)
    errors = []
    for factor in (1e3, 1e4, 1e5):
        stiff = {
            name: Elastic(factor * m.youngs_modulus_MPa, m.poisson_ratio)
            for name, m in BLOCK_MATERIALS.items()
        }
        materials = {**stiff, "ligament": ligament}
        support = deformable_support(
            blocks, materials, POINT, elastic_tooth=tooth, elastic_bone=bone
        )
        errors.append(relative_difference(support.stiffness, rigid.stiffness))
    assert np.diff(np.log10(errors)) == pytest.approx([-1, -1], abs=0.02)
    assert errors[-1] < 1e-4


@pytest.fixture(scope="module", params=COMBINATIONS, ids=lambda c: f"tooth{c[0]}-bone{c[1]}")
def solved(request, tooth_in_bone):
    tooth, bone = request.param
    model = elastic_model(tooth_in_bone, POINT, elastic_tooth=tooth, elastic_bone=bone)
    parts = stiffness_parts(model, MATERIALS, ligament_projection(model, MATERIALS, "auto"))
    K = parts.matrix(MATERIALS["ligament"])
    response = solve_model(model, linear_system(model, K))
    return model, K, (K - parts.hard).tocsr(), response


def test_6x6_is_symmetric_and_positive(solved):
    """Betti's reciprocity; energy is positive for every motion."""
    stiffness = solved[3].stiffness
    assert relative_difference(stiffness, stiffness.T) < 1e-8
    assert np.linalg.eigvalsh(0.5 * (stiffness + stiffness.T)).min() > 0


def test_energy_of_the_whole_is_that_of_the_6x6(solved):
    """½ uᵀ K u over ligament, tooth and bone equals ½ qᵀ K q."""
    _, K, _, response = solved
    motion = np.array([0.01, -0.02, 0.015, 0.004, 0.003, -0.006])
    u = response.fields @ motion
    assert u @ (K @ u) == pytest.approx(motion @ response.stiffness @ motion, rel=1e-7)


def test_reactions_at_the_held_faces_balance_the_load(solved):
    """Sum of nodal forces and of their moments about the point."""
    model, K, _, response = solved
    forces = (K @ response.fields)[model.held].reshape(-1, 3, 6)
    reaction = resultant(model.space.nodes[model.held[::3] // 3], forces)
    assert relative_difference(-reaction, response.stiffness) < 1e-7


@pytest.mark.parametrize(
    ("stiffer", "softer"),
    [
        ((False, False), (False, True)),
        ((False, False), (True, False)),
        ((False, True), (True, True)),
        ((True, False), (True, True)),
    ],
)
def test_freeing_a_part_softens_every_motion(supports, stiffer, softer):
    """Minimum of potential energy: whatever becomes free to deform can only lower the energy."""
    drop = supports[stiffer].stiffness - supports[softer].stiffness
    assert np.linalg.eigvalsh(drop).min() > 0


def test_stress_basis_is_that_of_the_ligament(tooth_in_bone, supports, solved):
    """It covers the ligament's elements alone; ½ ∫ σ:ε is the ligament's share of the energy."""
    model, _, soft, response = solved
    combination = "tooth" in model.mesh.region_names, "cortical" in model.mesh.region_names
    basis = supports[combination].basis
    assert basis.volumes.shape == (len(tooth_in_bone.region_tets("ligament")), 4)
    motion = np.array([0.01, -0.02, 0.015, 0.004, 0.003, -0.006])
    u = response.fields @ motion
    strain = model.space.strains(u.reshape(-1, 3, 1))[0][:, model.ligament]
    stress = basis.combine(motion)
    ends = ((0, 0), (1, 1), (2, 2), (1, 2), (0, 2), (0, 1))
    work = sum(
        (1 if i == j else 2) * np.sum(stress[..., i, j] * part * basis.volumes)
        for part, (i, j) in zip(strain, ends, strict=True)
    )
    assert 0.5 * work == pytest.approx(0.5 * u @ (soft @ u), rel=1e-6)


def test_displacements_cover_the_whole_mesh(tooth_in_bone, supports):
    mesh, support = tooth_in_bone, supports[False, True]
    body = np.unique(mesh.region_tets("tooth"))
    turned = np.cross([0.0, 1.0, 0.0], mesh.points[body] - POINT)
    assert support.displacements[4, body] == pytest.approx(turned, abs=1e-12)
    assert np.abs(support.displacements[:, np.unique(mesh.facets["bone_far"])]).max() == 0.0
    bone = np.unique(mesh.facets["bone_free"])
    assert np.abs(support.displacements[0, bone]).max() > 1e-4


def test_enamel_stiffens_the_tooth(tooth_in_bone):
    """Dentine all through is softer than dentine under enamel, in every motion."""
    mesh = with_enamel(tooth_in_bone)
    dentine = {**MATERIALS, "enamel": HARD_TISSUE["dentine"]}
    plain = deformable_support(mesh, dentine, POINT, elastic_bone=False)
    capped = deformable_support(mesh, MATERIALS, POINT, elastic_bone=False)
    assert np.linalg.eigvalsh(capped.stiffness - plain.stiffness).min() > 0


# --- bad input -----------------------------------------------------------------------------------


def test_missing_material_is_named(tooth_in_bone):
    with pytest.raises(ValueError, match="no material for the elastic region cortical, cancellous"):
        deformable_support(tooth_in_bone, {"ligament": LIGAMENT, "tooth": LIGAMENT}, POINT)


def test_elastic_bone_needs_bone(tooth_in_bone):
    bare = tooth_in_bone.submesh(["tooth", "ligament"])
    with pytest.raises(ValueError, match="an elastic bone needs a region"):
        deformable_support(bare, MATERIALS, POINT)


def test_missing_facets_are_named(tooth_in_bone):
    facets = {k: v for k, v in tooth_in_bone.facets.items() if k != "crown"}
    mesh = TetMesh(
        tooth_in_bone.points,
        tooth_in_bone.tets,
        tooth_in_bone.region,
        tooth_in_bone.region_names,
        facets,
    )
    with pytest.raises(ValueError, match="no facet set 'crown'"):
        deformable_support(mesh, MATERIALS, POINT)


def test_strange_regions_are_named():
    points, tets = box(*3 * [np.linspace(0, 1, 3)])
    gum = (np.arange(len(tets)) % 2).astype(int)
    mesh = TetMesh(points, tets, gum, ("ligament", "gum"), {})
    with pytest.raises(ValueError, match="region gum is neither tooth nor ligament nor bone"):
        deformable_support(mesh, MATERIALS, POINT, elastic_tooth=False)


def test_loads_that_are_not_balanced_are_refused(solved):
    model, _, _, response = solved
    wrong = replace(response, forces=1.001 * response.forces)
    with pytest.raises(SolverError, match="reactions miss the load"):
        check_balance(model, wrong)
