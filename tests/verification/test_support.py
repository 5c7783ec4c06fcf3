"""The support of a rigid body by a bonded layer, through the code path of a tooth."""

from dataclasses import replace

import numpy as np
import pytest

from fem.assembly import LayerDilatation
from fem.material import Elastic
from fem.solver import SolverError, solve_spd
from fem.space import QUADRATURE, QuadraticSpace
from fem.stress import hydrostatic, principal, volume_statistics, von_mises
from fem.support import rigid_body_support
from geometry.ligament import ligament_layer
from geometry.surface import sphere_surface
from workflow.verification.continuum_bodies import energies_with_the_projection
from workflow.verification.layers_meshes import bush

RADIUS = 3.0


@pytest.fixture(scope="module")
def shell_support():
    layer = ligament_layer(sphere_surface(RADIUS, 3), 0.3, layers=2)
    material = Elastic(0.5, 0.3)
    return layer, material, rigid_body_support(layer, material, np.array([0.2, -0.1, 0.4]))


def test_6x6_is_positive(shell_support):
    """Energy is positive for every motion."""
    _, _, support = shell_support
    assert np.linalg.eigvalsh(support.stiffness).min() > 0


@pytest.mark.parametrize("nu", [0.45, 0.499])
def test_the_two_dilatations_are_not_the_same_thing(nu):
    """θ itself carries a good deal more energy than Πθ (see the check of the same energies)."""
    projected, plain, _ = energies_with_the_projection(nu)
    assert plain > 1.001 * projected


def test_auto_switches_at_0_4_without_a_jump_in_a_shell():
    """Just below and above ν = 0.4 on one sphere: within the 0.5 % asked for in a shell.

    Measured: 0.05 % on this mesh, 0.02 % on that of the test against the exact solution above.
    """
    layer, found = ligament_layer(sphere_surface(RADIUS, 3), 0.3), []
    for nu, volumetric in ((0.4, "exact"), (0.4 + 1e-9, "projected")):
        support = rigid_body_support(layer, Elastic(2 * (1 + nu), nu), np.zeros(3))
        assert support.volumetric == volumetric
        found.append(np.diag(support.stiffness))
    assert found[1] == pytest.approx(found[0], rel=5e-3)


def diagonals_at_the_switch(layer):
    """6×6 diagonals of both formulations at ν = 0.4, G = 1."""
    supports = [
        rigid_body_support(layer, Elastic(2.8, 0.4), np.zeros(3), volumetric=volumetric)
        for volumetric in ("exact", "projected")
    ]
    return [np.diag(support.stiffness) for support in supports]


def test_jump_at_0_4_on_a_mesh_like_that_of_a_tooth():
    """Free rims, elements 2.75 thicknesses long: below 0.5 %, the accuracy asked for."""
    exact, projected = diagonals_at_the_switch(bush(1, 1.1, 3, 23, 11, 2, grading=1))
    print("jump at 0.4:", np.round(100 * (projected / exact - 1), 3))
    assert projected == pytest.approx(exact, rel=5e-3)


def test_jump_at_0_4_is_the_error_of_the_unprojected_form():
    """A bush as short as its shaft's radius, nearly all of it rim.

    Measured: 3.6, 1.5, 0.9 % in 1, 2, 3 layers. Both forms tend to one solution, the jump with the
    order of the corner's singularity (one or more); the projected form is nearly there on two
    layers already, the other comes down to it.
    """
    found = np.array(
        [diagonals_at_the_switch(bush(1, 1.25, 1, 16 * n, 4 * n, n)) for n in (1, 2, 3)]
    )
    exact, projected = found[:, 0], found[:, 1]
    jumps = np.abs(projected / exact - 1).max(axis=1)
    print("largest jump at 0.4 in 1, 2, 3 layers:", [f"{100 * jump:.2f} %" for jump in jumps])
    assert np.log(jumps[1] / jumps[2]) / np.log(1.5) > 1
    assert (projected < exact).all()
    moved = np.abs(found[1] - found[2]).max(axis=1)
    assert moved[1] < 0.5 * moved[0]


def test_pressure_of_a_nearly_incompressible_shell_follows_the_cosine():
    """Translation of the sphere: hydrostatic stress is f(r) cos θ, with no saw-tooth on top.

    Symmetry alone gives the cosine (textbook); it shows that the projected pressure is stable.
    """
    layer = ligament_layer(sphere_surface(RADIUS, 3), 0.3, layers=2)
    support = rigid_body_support(layer, Elastic(0.5, 0.499), np.zeros(3))
    stress = support.basis.combine(np.array([0.0, 0, 1e-3, 0, 0, 0]))
    pressure = hydrostatic(stress)
    corners = layer.points[np.sort(layer.tets, axis=1)]
    at = np.einsum("qm,emi->eqi", QUADRATURE, corners)
    cosine = at[..., 2] / np.linalg.norm(at, axis=2)
    slope = np.sum(pressure * cosine) / np.sum(cosine**2)
    scatter = np.sqrt(np.mean((pressure - slope * cosine) ** 2) / np.mean(pressure**2))
    print(f"scatter of the pressure about the cosine: {100 * scatter:.2f} %")
    assert scatter < 0.05


def test_projection_keeps_linear_fields_and_needs_prisms():
    layer = ligament_layer(sphere_surface(RADIUS, 1), 0.5, layers=2)
    space = QuadraticSpace.on(layer.points, layer.tets)
    gradient = np.array([[0.1, 0.2, -0.3], [0.0, 0.4, 0.1], [0.5, -0.2, 0.3]])
    dilatation = LayerDilatation.on(space).at_points((space.nodes @ gradient.T).reshape(-1, 1))
    assert dilatation == pytest.approx(np.full(dilatation.shape, np.trace(gradient)), abs=1e-12)
    shuffled = replace(layer, tets=np.roll(layer.tets, 1, axis=0))
    with pytest.raises(ValueError, match="no prisms"):
        rigid_body_support(shuffled, Elastic(0.5, 0.49), np.zeros(3))


def test_unknown_volumetric_is_refused(shell_support):
    layer, material, _ = shell_support
    with pytest.raises(ValueError, match="auto, exact, projected"):
        rigid_body_support(layer, material, np.zeros(3), volumetric="reduced")


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


def test_a_pardiso_that_gives_up_hands_over():
    """Its own error is not one of Python's: an indefinite matrix makes its Cholesky fail."""
    import scipy.sparse as sp

    K = sp.diags([1.0, -2.0, 3.0], format="csr")
    F = np.array([[1.0], [2.0], [3.0]])
    solution = solve_spd(K, F)
    assert solution.method == "SuperLU"
    assert solution.x.ravel() == pytest.approx([1.0, -1.0, 1.0])


def test_methods_agree():
    """Direct solvers behind one interface: the same answer from the fallback."""
    import scipy.sparse as sp

    from fem.solver import METHODS

    n = 60
    K = sp.diags([2.1 * np.ones(n), -np.ones(n - 1), -np.ones(n - 1)], [0, 1, -1], format="csr")
    F = np.random.default_rng(0).standard_normal((n, 6))
    answers = [method(K).solve(F) for method in METHODS.values()]
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
