"""Block assembly of quadratic tetrahedra against scikit-fem's form and exact fields."""

import numpy as np
import pytest
from scipy.spatial import cKDTree
from skfem import Basis, ElementTetP2, ElementVector, MeshTet

from fem.assembly import Assembler
from fem.blocks import diagonal_blocks, part, upper_part
from fem.elasticity import elastic_energy
from fem.material import Elastic
from fem.space import QuadraticSpace, node_dofs

MATERIAL = Elastic(2.0, 0.3)


@pytest.fixture(scope="module")
def distorted():
    """A box of tetrahedra with every inner vertex moved."""
    mesh = MeshTet.init_tensor(*(np.linspace(0, 1, n) for n in (4, 5, 3)))
    points = mesh.p.T.copy()
    inside = ((points > 1e-9) & (points < 1 - 1e-9)).all(axis=1)
    points[inside] += 0.05 * np.random.default_rng(0).uniform(-1, 1, (inside.sum(), 3))
    return points, mesh.t.T


def oracle(points, tets):
    """scikit-fem's matrix, its degrees of freedom in the order of the space's nodes."""
    space = QuadraticSpace.on(points, tets)
    basis = Basis(
        MeshTet(points.T.copy(), tets.T.copy()), ElementVector(ElementTetP2()), intorder=4
    )
    K = elastic_energy.assemble(basis, lame=MATERIAL.lame_MPa, shear=MATERIAL.shear_modulus_MPa)
    order = np.empty(basis.N, dtype=int)
    for dofs in (basis.nodal_dofs, basis.edge_dofs):
        distance, node = cKDTree(space.nodes).query(basis.doflocs[:, dofs[0]].T)
        assert distance.max() < 1e-12
        for axis in range(3):
            order[3 * node + axis] = dofs[axis]
    return space, K.tocsr()[order][:, order]


def test_same_matrix_as_scikit_fem(distorted):
    space, expected = oracle(*distorted)
    K = Assembler.on(space).stiffness(MATERIAL.lame_MPa, MATERIAL.shear_modulus_MPa)
    difference = abs(K.tocsr() - expected).max()
    assert difference < 1e-13 * abs(expected).max()


def test_parts_of_a_mesh_add_up(distorted):
    """Elements assembled in two parts, each with its own pattern, give the whole matrix."""
    space = QuadraticSpace.on(*distorted)
    first = np.random.default_rng(1).random(len(space.elements)) < 0.4
    parts = [Assembler.on(space, np.flatnonzero(rows)) for rows in (first, ~first)]
    total = parts[0].stiffness(1.0, 0.5) + parts[1].stiffness(1.0, 0.5)
    assert abs(total - Assembler.on(space).stiffness(1.0, 0.5)).max() < 1e-13
    assert Assembler.on(space, np.empty(0, dtype=int)).stiffness(1.0, 0.5).nnz == 0


def test_blocks_of_some_nodes(distorted):
    """`fem.blocks.part` against scipy's own indexing, for rows and columns that differ."""
    space = QuadraticSpace.on(*distorted)
    K = Assembler.on(space).stiffness(1.0, 0.5)
    rows, columns = np.arange(3, space.node_count, 2), np.arange(0, space.node_count, 5)
    expected = K.tocsr()[node_dofs(rows)][:, node_dofs(columns)]
    assert abs(part(K, rows, columns) - expected).max() == 0
    upper = upper_part(K).toarray()
    whole = upper + upper.T
    for node, block in enumerate(diagonal_blocks(K)):
        own = slice(3 * node, 3 * node + 3)
        whole[own, own] = block
    assert np.array_equal(whole, K.toarray())


def test_materials_may_differ_by_element(distorted):
    """The sum of two parts with their own constants is the whole (linearity)."""
    space = QuadraticSpace.on(*distorted)
    assembler = Assembler.on(space)
    half = (np.arange(len(space.elements)) % 2).astype(float)
    mixed = assembler.stiffness(1.0 + half, 0.5 + 2 * half).toarray()
    parts = assembler.stiffness(1.0, 0.5).toarray()
    parts += assembler.stiffness(half, 2 * half).toarray()
    assert mixed == pytest.approx(parts, abs=1e-12)


def test_pure_bending_is_exact(distorted):
    """u = ((z² + ν(x² − y²))/2, νxy, −xz) needs no force inside (textbook)."""
    space = QuadraticSpace.on(*distorted)
    nu = MATERIAL.poisson_ratio
    x, y, z = space.nodes.T
    u = np.stack([(z**2 + nu * (x**2 - y**2)) / 2, nu * x * y, -x * z], axis=1)
    K = Assembler.on(space).stiffness(MATERIAL.lame_MPa, MATERIAL.shear_modulus_MPa)
    forces = (K @ u.ravel()).reshape(-1, 3)
    inner = ((space.nodes > 1e-9) & (space.nodes < 1 - 1e-9)).all(axis=1)
    assert inner.sum() > 20
    assert np.abs(forces[inner]).max() < 1e-14 * abs(K).max() * 10
    strain = space.strains(u[..., None])[0]
    at = np.einsum("qm,emi->eqi", np.full((1, 4), 0.25), space.points[space.vertices])[:, 0]
    assert strain[2].mean(axis=1) == pytest.approx(-at[:, 0], abs=1e-12)


def test_six_motions_without_force(distorted):
    space = QuadraticSpace.on(*distorted)
    K = Assembler.on(space).stiffness(1.0, 0.5)
    motions = space.rigid_motions(np.array([0.3, -0.2, 0.5])).reshape(-1, 6)
    assert np.abs(K @ motions).max() < 1e-12
    assert np.abs(space.strains(motions.reshape(-1, 3, 6))).max() < 1e-13


def test_strain_operator_gives_the_strains(distorted):
    space = QuadraticSpace.on(*distorted)
    u = np.random.default_rng(2).standard_normal(3 * space.node_count)
    local = u[node_dofs(space.elements.ravel()).reshape(-1, 30)]
    vectors = np.einsum("eqvd,ed->veq", space.strain_operator, local)
    expected = space.strains(u.reshape(-1, 3, 1))[0] * np.array([1, 1, 1, 2, 2, 2])[:, None, None]
    assert vectors == pytest.approx(expected, abs=1e-12)


def test_foreign_facets_are_refused(distorted):
    space = QuadraticSpace.on(*distorted)
    with pytest.raises(ValueError, match="1 of 1 boundary triangles"):
        space.facet_nodes(np.array([[0, 1, len(distorted[0]) - 1]]))
