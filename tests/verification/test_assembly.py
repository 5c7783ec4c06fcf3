"""Block assembly of quadratic tetrahedra: parts, blocks, materials and strains."""

import numpy as np
import pytest
from skfem import MeshTet

from fem.assembly import Assembler
from fem.blocks import diagonal_blocks, part, upper_part
from fem.space import QuadraticSpace, node_dofs


@pytest.fixture(scope="module")
def distorted():
    """A box of tetrahedra with every inner vertex moved."""
    mesh = MeshTet.init_tensor(*(np.linspace(0, 1, n) for n in (4, 5, 3)))
    points = mesh.p.T.copy()
    inside = ((points > 1e-9) & (points < 1 - 1e-9)).all(axis=1)
    points[inside] += 0.05 * np.random.default_rng(0).uniform(-1, 1, (inside.sum(), 3))
    return points, mesh.t.T


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


def test_strains_of_pure_bending(distorted):
    """u = ((z² + ν(x² − y²))/2, νxy, −xz) has the axial strain −x (textbook)."""
    space = QuadraticSpace.on(*distorted)
    nu = 0.3
    x, y, z = space.nodes.T
    u = np.stack([(z**2 + nu * (x**2 - y**2)) / 2, nu * x * y, -x * z], axis=1)
    strain = space.strains(u[..., None])[0]
    at = np.einsum("qm,emi->eqi", np.full((1, 4), 0.25), space.points[space.vertices])[:, 0]
    assert strain[2].mean(axis=1) == pytest.approx(-at[:, 0], abs=1e-12)


def test_six_motions_without_strain(distorted):
    space = QuadraticSpace.on(*distorted)
    motions = space.rigid_motions(np.array([0.3, -0.2, 0.5]))
    assert np.abs(space.strains(motions)).max() < 1e-13


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
