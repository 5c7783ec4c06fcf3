"""The support of a rigid body by a bonded layer, through the code path of a tooth."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from fem.material import Elastic
from fem.solver import SolverError, solve_spd
from fem.stress import hydrostatic, principal, volume_statistics, von_mises
from fem.support import rigid_body_support
from geometry.ligament import ligament_layer
from geometry.surface import sphere_surface

SHELL = pd.read_csv(
    Path(__file__).parents[1] / "reference" / "bonded_spherical_shell.csv", comment="#"
)
TESTED = SHELL[SHELL.nu.isin([0.3, 0.45, 0.49]) & (SHELL.b_over_a < 2)]
RADIUS = 3.0


@pytest.fixture(scope="module")
def shells():
    """Layer of two elements around a sphere, for each ratio of radii."""
    sphere = sphere_surface(RADIUS, 4)
    return {
        ratio: ligament_layer(sphere, (ratio - 1) * RADIUS, layers=2)
        for ratio in TESTED.b_over_a.unique()
    }


@pytest.mark.parametrize("row", list(TESTED.itertuples()), ids=lambda r: f"{r.b_over_a}-{r.nu}")
def test_sphere_in_a_bonded_shell(shells, row):
    """Exact three-dimensional solution (see the table's head), within 0.5 %."""
    material = Elastic(0.5, row.nu)
    support = rigid_body_support(shells[row.b_over_a], material, np.zeros(3))
    G = material.shear_modulus_MPa
    stiffness = np.diag(support.stiffness)
    assert stiffness[:3] / (G * RADIUS) == pytest.approx(row.translation, rel=5e-3)
    assert stiffness[3:] / (G * RADIUS**3) == pytest.approx(row.rotation, rel=5e-3)
    off_diagonal = support.stiffness - np.diag(stiffness)
    assert np.abs(off_diagonal[:3, :3]).max() < 1e-4 * stiffness[0]


@pytest.fixture(scope="module")
def shell_support():
    layer = ligament_layer(sphere_surface(RADIUS, 3), 0.3, layers=2)
    material = Elastic(0.5, 0.3)
    return layer, material, rigid_body_support(layer, material, np.array([0.2, -0.1, 0.4]))


def test_6x6_is_symmetric_and_positive(shell_support):
    """Betti's reciprocity; energy is positive for every motion."""
    _, _, support = shell_support
    assert support.asymmetry < 1e-10
    assert np.linalg.eigvalsh(support.stiffness).min() > 0


def test_strain_energy_of_the_stress_basis_is_that_of_the_6x6(shell_support):
    """½ ∫ σ:ε of a motion from the stress basis equals ½ qᵀ K q."""
    _, material, support = shell_support
    motion = np.array([0.01, -0.02, 0.015, 0.004, 0.003, -0.006])
    stress = support.basis.combine(motion)
    E, nu = material.youngs_modulus_MPa, material.poisson_ratio
    trace = np.trace(stress, axis1=-2, axis2=-1)
    density = ((1 + nu) * np.sum(stress**2, axis=(-2, -1)) - nu * trace**2) / (2 * E)
    energy = np.sum(density * support.basis.volumes)
    assert energy == pytest.approx(0.5 * motion @ support.stiffness @ motion, rel=1e-9)


def test_scales_with_the_modulus_alone(shell_support):
    layer, material, support = shell_support
    softer = rigid_body_support(layer, Elastic(0.05, material.poisson_ratio), support.point)
    assert 10 * softer.stiffness == pytest.approx(support.stiffness, rel=1e-9)


def test_missing_facets_are_named(shell_support):
    layer, material, _ = shell_support
    with pytest.raises(ValueError, match="no facet set 'wall'"):
        rigid_body_support(layer, material, np.zeros(3), outer="wall")


def test_solver_reports_every_failed_method():
    import scipy.sparse as sp

    singular = sp.csr_matrix(np.zeros((3, 3)))
    with pytest.raises(SolverError, match="SuperLU"):
        solve_spd(singular, np.ones((3, 1)))


def test_methods_agree():
    """Direct solvers behind one interface: the same answer from the fallback."""
    import scipy.sparse as sp

    from fem.solver import METHODS

    n = 60
    K = sp.diags([2.1 * np.ones(n), -np.ones(n - 1), -np.ones(n - 1)], [0, 1, -1], format="csr")
    F = np.random.default_rng(0).standard_normal((n, 6))
    answers = [method(K, F) for method in METHODS.values()]
    assert len(answers) >= 2
    assert answers[0] == pytest.approx(answers[1], abs=1e-12)
    assert K @ answers[0] == pytest.approx(F, abs=1e-12)


def test_scalars_of_a_known_stress():
    """Uniaxial tension and simple shear (textbook definitions)."""
    tension = np.diag([3.0, 0, 0])
    shear = np.zeros((3, 3))
    shear[0, 1] = shear[1, 0] = 2.0
    stress = np.stack([tension, shear])
    assert hydrostatic(stress) == pytest.approx([1.0, 0.0])
    assert von_mises(stress) == pytest.approx([3.0, 2.0 * np.sqrt(3)])
    assert principal(stress) == pytest.approx(np.array([[3.0, 0, 0], [2.0, 0, -2.0]]))


def test_percentiles_go_by_volume():
    values = np.array([1.0, 2.0, 3.0, 4.0])
    volumes = np.array([1.0, 1.0, 97.0, 1.0])
    statistics = volume_statistics(values, volumes)
    assert (statistics.p01, statistics.p50, statistics.p99) == (1.0, 3.0, 3.0)
    assert (statistics.min, statistics.max) == (1.0, 4.0)
