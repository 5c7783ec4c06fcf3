"""Conjugate gradients with p-multigrid against the direct solution, and where it gives up.

The measure is the direct solution of the same system: an exact oracle up to rounding. Bounds on the
count of iterations are the project's own target; no source.
"""

import numpy as np
import pytest
import scipy.sparse as sp
from skfem import MeshTet

import fem.multigrid
from fem.assembly import Assembler
from fem.blocks import part
from fem.deformable import linear_system, solve_model
from fem.elastic_model import HARD_TISSUE, elastic_model, ligament_projection, stiffness_parts
from fem.kernels import Factor, Product, mkl, threads
from fem.material import Elastic
from fem.multigrid import NAME, Cycle, Levels, solve_layered
from fem.solver import SolverError, relative_residual, rounding, solve_spd
from fem.space import QuadraticSpace, node_dofs
from geometry.anatomy import tooth_dimensions
from geometry.bone import BoneSpec, bone_block
from geometry.tooth_mesh import ToothSpec, build_tooth

POINT = np.array([0.2, -0.1, -1.5])
LIGAMENTS = [Elastic(E, nu) for E in (0.05, 0.7) for nu in (0.3, 0.45, 0.49)]
MOST_ITERATIONS = 25


def tooth_and_bone(fdi, size_mm):
    spec = ToothSpec(
        tooth_dimensions(fdi), root_size_mm=size_mm, crown_size_mm=2.5, loose_rim=False
    )
    return bone_block(build_tooth(spec).mesh, spec=BoneSpec(2, 2, 1.2, 2, 2, far_size_mm=3.0))


@pytest.fixture(scope="module", params=[21, 37])
def tooth(request):
    mesh = tooth_and_bone(request.param, 1.8)
    return elastic_model(mesh, POINT, elastic_tooth=True, elastic_bone=True)


@pytest.fixture(scope="module")
def tooth_in_bone():
    return tooth_and_bone(21, 1.8)


@pytest.fixture(scope="module")
def model(tooth_in_bone):
    return elastic_model(tooth_in_bone, POINT, elastic_tooth=True, elastic_bone=True)


def system(model, ligament, **hard_tissue):
    """Matrix, right-hand sides and levels of the unknowns."""
    materials = {**HARD_TISSUE, **hard_tissue, "ligament": ligament}
    projection = ligament_projection(model, materials, "auto")
    K = stiffness_parts(model, materials, projection).matrix(ligament)
    split = linear_system(model, K)
    return split.matrix, split.right, Levels.on(model.space, model.free, model.ligament)


def furthest(x, exact):
    """Largest difference of any column over its largest displacement."""
    return (np.abs(x - exact).max(axis=0) / np.abs(exact).max(axis=0)).max()


@pytest.mark.parametrize("ligament", LIGAMENTS, ids=str)
def test_answer_is_the_direct_one(tooth, ligament):
    """Displacements within 1e-7, compliance within 1e-8, in at most 25 iterations."""
    K, F, levels = system(tooth, ligament)
    solution, direct = solve_layered(K, F, levels, direct_below=0), solve_spd(K, F)
    assert solution.method == NAME
    assert 0 < solution.iterations <= MOST_ITERATIONS
    left = np.linalg.norm(K @ solution.x - F, axis=0) / np.linalg.norm(F, axis=0)
    assert left.max() <= 1e-8
    assert furthest(solution.x, direct.x) < 1e-7
    compliance, exact = F.T @ solution.x, F.T @ direct.x
    assert np.abs(compliance - exact).max() < 1e-8 * np.abs(exact).max()


@pytest.mark.parametrize("ligament", [Elastic(0.68, 0.4999), Elastic(50, 0.4999)], ids=str)
def test_layer_that_locks_joins_the_vertices(tooth, ligament, monkeypatch):
    """At most 30 iterations where linear elements lock, and fewer than with the layer apart."""
    K, F, levels = system(tooth, ligament)
    solution = solve_layered(K, F, levels, direct_below=0)
    assert solution.method == NAME
    assert solution.iterations <= 30
    assert furthest(solution.x, solve_spd(K, F).x) < 1e-7
    monkeypatch.setattr(fem.multigrid, "_LOCKED_ABOVE", np.inf)
    apart = solve_layered(K, F, levels, direct_below=0)
    assert apart.method != NAME or apart.iterations > solution.iterations


def test_softest_ligament_is_solved_to_rounding(tooth):
    """The tooth moves so far that rounding alone leaves more than the tolerance of the load."""
    K, F, levels = system(tooth, Elastic(0.01, 0.3))
    solution, direct = solve_layered(K, F, levels, direct_below=0), solve_spd(K, F)
    assert solution.method == NAME
    assert 1e-8 < direct.relative_residual <= rounding(K, direct.x, F)
    assert furthest(solution.x, direct.x) < 1e-7
    compliance, exact = F.T @ solution.x, F.T @ direct.x
    assert np.abs(compliance - exact).max() < 1e-8 * np.abs(exact).max()


def test_rounding_is_far_below_a_wrong_digit(model):
    """An answer that is wrong in the ninth digit, on a matrix where rounding shows in the tenth."""
    K, F, _ = system(model, LIGAMENTS[0])
    right = solve_spd(K, F)
    wrong = right.x * (1 + 1e-9 * np.random.default_rng(2).standard_normal(F.shape))
    assert relative_residual(K, wrong, F) > 100 * rounding(K, right.x, F)


@pytest.mark.parametrize("tooth", [False, True])
def test_rigid_tooth_or_bone(tooth_in_bone, tooth):
    """The layer bonded to a rigid face on one side: driven or held nodes are no unknowns."""
    part = elastic_model(tooth_in_bone, POINT, elastic_tooth=tooth, elastic_bone=not tooth)
    K, F, levels = system(part, LIGAMENTS[-1])
    solution = solve_layered(K, F, levels, direct_below=0)
    assert solution.method == NAME
    assert solution.iterations <= MOST_ITERATIONS
    assert furthest(solution.x, solve_spd(K, F).x) < 1e-7


def test_layer_as_stiff_as_bone(model):
    K, F, levels = system(model, HARD_TISSUE["cancellous"])
    solution = solve_layered(K, F, levels, direct_below=0)
    assert solution.method == NAME
    assert solution.iterations <= MOST_ITERATIONS
    assert furthest(solution.x, solve_spd(K, F).x) < 1e-7


@pytest.fixture(scope="module")
def stack():
    """Matrix, right-hand sides and levels of a soft slab between two stiff ones, held below."""
    mesh = MeshTet.init_tensor(np.linspace(0, 4, 5), np.linspace(0, 4, 5), [0, 1, 2, 2.2, 3, 4])
    space = QuadraticSpace.on(mesh.p.T, mesh.t.T)
    height = mesh.p.T[mesh.t.T][:, :, 2].mean(axis=1)
    layer = (height > 2) & (height < 2.2)
    hard, soft = HARD_TISSUE["cancellous"], LIGAMENTS[-1]
    lame = np.where(layer, soft.lame_MPa, hard.lame_MPa)
    shear = np.where(layer, soft.shear_modulus_MPa, hard.shear_modulus_MPa)
    nodes = np.flatnonzero(space.nodes[:, 2] > 0)
    free = node_dofs(nodes)
    K = part(Assembler.on(space).stiffness(lame, shear), nodes, nodes)
    F = np.random.default_rng(5).standard_normal((len(free), 6))
    return K, F, Levels.on(space, free, layer)


def test_without_mkl(stack):
    """scipy's kernels give the same count of iterations but for rounding, and the same answer."""
    K, F, levels = stack
    plain = solve_layered(K, F, levels, direct_below=0, use_mkl=False)
    other = solve_layered(K, F, levels, direct_below=0)
    assert plain.method == NAME
    assert abs(plain.iterations - other.iterations) <= 1
    assert furthest(plain.x, other.x) < 1e-7


def test_columns_of_nothing_stay_nothing(model):
    K, F, levels = system(model, LIGAMENTS[0])
    padded = np.hstack([np.zeros((len(F), 1)), F[:, :1]])
    solution = solve_layered(K, padded, levels, direct_below=0)
    assert solution.method == NAME
    assert not solution.x[:, 0].any()
    assert solution.relative_residual <= 1e-8


def test_preconditioner_is_symmetric_and_positive(model):
    """Conjugate gradients need both; symmetric to the rounding of single precision."""
    K, _, levels = system(model, LIGAMENTS[-1])
    rng = np.random.default_rng(1)
    columns = rng.standard_normal((K.shape[0], 4))
    gram = columns.T @ Cycle(K, levels)(columns).astype(float)
    size = np.sqrt(np.outer(np.diag(gram), np.diag(gram)))
    assert np.abs((gram - gram.T) / size).max() < 1e-5
    assert np.linalg.eigvalsh(0.5 * (gram + gram.T)).min() > 0


# --- giving up -----------------------------------------------------------------------------------


def test_incompressible_bone_falls_back_on_the_direct_method(model):
    """Linear elements lock in it, so that the vertices' part is of no use; the answer stands."""
    solid = Elastic(1370.0, 0.499999)
    K, F, levels = system(model, LIGAMENTS[-1], cancellous=solid, cortical=solid)
    solution = solve_layered(K, F, levels, direct_below=0)
    assert "since multigrid failed" in solution.method
    assert solution.relative_residual <= 1e-8
    assert furthest(solution.x, solve_spd(K, F).x) < 1e-9


def test_too_few_iterations_allowed(model):
    K, F, levels = system(model, LIGAMENTS[0])
    solution = solve_layered(K, F, levels, direct_below=0, most_iterations=3)
    assert "after 3 iterations" in solution.method
    assert solution.relative_residual <= 1e-8


def test_small_systems_are_solved_directly(model):
    K, F, levels = system(model, LIGAMENTS[0])
    solution = solve_layered(K, F, levels, direct_below=K.shape[0] + 1)
    assert solution.method == "PARDISO Cholesky" or solution.method == "SuperLU"
    assert solution.iterations == 0


def test_loose_part_is_reported(stack):
    """Neither method can solve a singular system: an error, and no answer."""
    K, F, levels = stack
    first = sp.diags(np.r_[np.zeros(3), np.ones(K.shape[0] - 3)])
    singular = sp.csr_matrix(first @ K @ first).tobsr((3, 3))
    with pytest.raises(SolverError, match="could not be solved"):
        solve_layered(singular, F, levels, direct_below=0)


def test_body_that_almost_floats_is_reported():
    """Springs of 1e-13 of its stiffness: it moves so far that any residual is one of rounding."""
    mesh = MeshTet.init_tensor(*3 * [np.linspace(0, 1, 4)])
    hard = HARD_TISSUE["cancellous"]
    body = Assembler.on(QuadraticSpace.on(mesh.p.T, mesh.t.T))
    K = body.stiffness(hard.lame_MPa, hard.shear_modulus_MPa)
    K = (K + 1e-13 * K.diagonal().max() * sp.identity(K.shape[0])).tobsr((3, 3))
    F = np.random.default_rng(5).standard_normal((K.shape[0], 2))
    with pytest.raises(SolverError, match="above 1e-06"):
        solve_spd(K, F)


def test_half_free_nodes_are_refused(model):
    with pytest.raises(ValueError, match="all directions"):
        Levels.on(model.space, model.free[1:], model.ligament)


def test_elastic_supports_use_it(model, monkeypatch):
    materials = {**HARD_TISSUE, "ligament": LIGAMENTS[-1]}
    projection = ligament_projection(model, materials, "auto")
    K = stiffness_parts(model, materials, projection).matrix(LIGAMENTS[-1])
    split = linear_system(model, K)
    direct = solve_model(model, split)
    monkeypatch.setattr(fem.multigrid.solve_layered, "__kwdefaults__", KEYWORDS)
    layered = solve_model(model, split)
    assert layered.solution.method == NAME
    assert layered.stiffness == pytest.approx(
        direct.stiffness, rel=1e-7, abs=1e-8 * np.abs(direct.stiffness).max()
    )


KEYWORDS = {**(solve_layered.__kwdefaults__ or {}), "direct_below": 0}


# --- kernels -------------------------------------------------------------------------------------


@pytest.mark.parametrize("use_mkl", [False, True])
@pytest.mark.parametrize("precision", [np.float32, np.float64])
def test_products(use_mkl, precision):
    A = sp.random(40, 30, 0.1, "csr", dtype=precision, rng=np.random.default_rng(2))
    X = np.random.default_rng(3).standard_normal((30, 6)).astype(precision)
    result = Product(A, use_mkl=use_mkl) @ X
    assert result.dtype == precision
    assert result == pytest.approx(A.toarray() @ X, abs=20 * float(np.finfo(precision).eps))


@pytest.mark.parametrize("use_mkl", [False, True])
def test_factors(use_mkl):
    rng = np.random.default_rng(4)
    M = rng.standard_normal((30, 30))
    A = M @ M.T + 30 * np.eye(30)
    X = rng.standard_normal((30, 6)).astype(np.float32)
    factor = Factor(sp.csr_matrix(A), use_mkl=use_mkl)
    assert factor.solve((A @ X).astype(np.float32)) == pytest.approx(X, abs=1e-4)


def test_indefinite_matrix_has_no_factor():
    pytest.importorskip("pypardiso")
    with pytest.raises(RuntimeError, match="refused"):
        Factor(sp.csr_matrix(np.diag([1.0, -1.0, 2.0])))


def test_mkl_keeps_its_threads_after_meshing(tooth_in_bone):
    """The mesher sets OpenMP of the whole process to one thread, which MKL would follow."""
    pytest.importorskip("pypardiso")
    assert len(tooth_in_bone.tets)
    assert mkl().MKL_Get_Max_Threads() == threads()
