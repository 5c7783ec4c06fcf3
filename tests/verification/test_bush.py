"""A rigid shaft in a bonded bush: closed forms, and finite bushes with free ends.

Sources. Axial and torsion: textbook. Radial, long: attributed to Adkins & Gent 1954 and Hill 1975
(from memory); formula derived independently of this project. Finite bushes: see the head of
``reference/finite_bush.csv``; derived independently, digits as printed. The sphere in its
shell, the fifth shape, has no free end and stands in ``test_support.py``.
"""

import numpy as np
import pytest

from fem.material import Elastic
from fem.support import rigid_body_support
from tests.bushes import bush, stiffness_with_held_ends
from workflow.verification.reference import reference_table

TABLE = reference_table("finite_bush")
NUS = (0.3, 0.45, 0.49, 0.499)
COLUMNS = {"axial": 2, "radial": 0, "tilt": 3, "torsion": 5}


def unit_shear(nu):
    """Material with G = 1."""
    return Elastic(2 * (1 + nu), nu)


def radial_long(a, b, nu):
    """Force per displacement and length in plane strain, G = 1 (see the module's head)."""
    kappa, q = 3 - 4 * nu, np.log(b / a)
    tanh = (b**2 - a**2) / (b**2 + a**2)
    return 2 * np.pi * (1 + kappa) / (kappa * q - tanh / kappa)


@pytest.mark.parametrize(
    ("b", "nu", "printed"),
    [(1.05, 0.49, 3316.058302), (1.25, 0.499, 2332.415991), (2, 0.3, 19.24128951)],
)
def test_closed_form_has_the_printed_digits(b, nu, printed):
    """Independent evaluation of the same formula, ten digits as printed."""
    assert radial_long(1, b, nu) == pytest.approx(printed, rel=1e-9)


@pytest.mark.parametrize("nu", NUS)
@pytest.mark.parametrize(("b", "around", "layers"), [(1.05, 64, 2), (1.25, 48, 2), (2, 32, 3)])
def test_long_bush(b, around, layers, nu):
    """Ends with u_z = 0 make the radial formula exact, ends with u_r = u_θ = 0 the axial one.

    Within 0.5 %, radial at ν = 0.499 within 2 %; what is left is the flat facets.
    """
    length = 2 * b
    layer = bush(1, b, length, around, 4, layers, grading=1)
    material = unit_shear(nu)
    radial = stiffness_with_held_ends(layer, material, [2], volumetric="projected")[0, 0]
    axial = stiffness_with_held_ends(layer, material, [0, 1], volumetric="projected")[2, 2]
    tolerance = 2e-2 if nu > 0.49 else 5e-3
    assert radial == pytest.approx(length * radial_long(1, b, nu), rel=tolerance)
    assert axial == pytest.approx(2 * np.pi * length / np.log(b), rel=5e-3)


@pytest.mark.parametrize("nu", [0.3, 0.499])
@pytest.mark.parametrize("length", [0.4, 1, 3])
def test_torsion_is_exact_for_any_length(length, nu):
    """Free ends carry no stress in torsion, so 4πGL / (1/a² − 1/b²) holds for every L; 0.5 %."""
    support = rigid_body_support(bush(1, 1.25, length, 48, 8, 2), unit_shear(nu), np.zeros(3))
    assert support.stiffness[5, 5] == pytest.approx(4 * np.pi * length / (1 - 0.64), rel=5e-3)


@pytest.mark.parametrize("around", [12, 24, 48])
def test_facets_alone(around):
    """The circumference refined alone: what is off in a thin bush is its facets, not the elements.

    Between n flat facets the layer is cos(π/n) thinner and its inner face n sin(π/n)/π shorter, so
    a thin bush is stiffer by tan(π/n) / (π/n) − 1 (textbook geometry), of second order. The rest is
    below 0.1 %, one fifth of the accuracy asked for.
    """
    layer = bush(1, 1.05, 1, around, 4, 2, grading=1)
    material = unit_shear(0.3)
    radial = stiffness_with_held_ends(layer, material, [2], volumetric="projected")[0, 0]
    axial = stiffness_with_held_ends(layer, material, [0, 1], volumetric="projected")[2, 2]
    facets = np.tan(np.pi / around) / (np.pi / around)
    print(f"{around} facets: {100 * (facets - 1):.2f} %", radial, axial)
    assert axial == pytest.approx(facets * 2 * np.pi / np.log(1.05), rel=1e-3)
    assert radial == pytest.approx(facets * radial_long(1, 1.05, 0.3), rel=1e-3)


def test_long_bush_converges_with_the_second_order():
    """No corner, so the flat facets and the projection leave an error of second order in the size.

    A rate and a bound, at ν = 0.499, where the tetrahedra without the projection are some 10 % off
    even on the finest of these meshes.
    """
    errors = {"projected": [], "exact": []}
    exact = radial_long(1, 1.25, 0.499)
    for n in (1, 2, 3):
        layer = bush(1, 1.25, 1, 16 * n, 2 * n, n, grading=1)
        for name, found in errors.items():
            K = stiffness_with_held_ends(layer, unit_shear(0.499), [2], volumetric=name)
            found.append(abs(K[0, 0] / exact - 1))
    print({name: [f"{100 * e:.2f} %" for e in found] for name, found in errors.items()})
    orders = -np.diff(np.log(errors["projected"])) / np.diff(np.log([1, 2, 3]))
    assert (orders > 1.7).all()
    assert errors["projected"][2] < 2e-2
    assert errors["exact"][2] > 4 * errors["projected"][2]


def relative_errors(layer, row):
    K = np.diag(rigid_body_support(layer, unit_shear(row.nu), np.zeros(3)).stiffness)
    found = {name: K[i] / getattr(row, name) - 1 for name, i in COLUMNS.items()}
    print(row.a, row.b, row.L, row.nu, {name: f"{100 * e:+.2f} %" for name, e in found.items()})
    return found


def cases(*shapes):
    """Rows of the table for some shapes (a, b, L)."""
    rows = [r for r in TABLE.itertuples() if (r.a, r.b, r.L) in shapes and r.nu in NUS]
    assert len(rows) == len(NUS) * len(shapes)
    return [pytest.param(r, id=f"{r.b}-{r.L}-{r.nu}") for r in rows]


@pytest.fixture(scope="module")
def layers():
    """Two layers, rows narrowing to the free ends; four where the bush is as thick as the shaft."""
    return {
        (1, 1.25, 2): bush(1, 1.25, 2, 32, 12, 2),
        (1, 1.25, 4): bush(1, 1.25, 4, 40, 16, 2),
        (1, 1.1, 3): bush(1, 1.1, 3, 48, 20, 2),
        (1, 2, 2): bush(1, 2, 2, 32, 8, 4),
    }


@pytest.mark.parametrize("row", cases((1, 1.25, 2), (1, 1.25, 4), (1, 1.1, 3)))
def test_finite_bush(layers, row):
    """Free ends: within 0.5 %, at ν = 0.499 within 2 %."""
    errors = relative_errors(layers[row.a, row.b, row.L], row)
    tolerance = 2e-2 if row.nu > 0.49 else 5e-3
    assert max(map(abs, errors.values())) < tolerance


@pytest.mark.parametrize("row", cases((1, 2, 2)))
def test_thick_finite_bush(layers, row):
    """A layer as thick as the shaft: within 1 %, at ν = 0.499 within 2 %.

    Four layers miss 0.5 % at ν = 0.49 (radial −0.53 %, tilt −0.70 %): the stress is singular where
    the free end meets the bonded faces, and the pressure that is constant across each prism is too
    soft there; six layers reach 0.5 % (slow test). No ligament is as thick as this.
    """
    errors = relative_errors(layers[row.a, row.b, row.L], row)
    assert max(map(abs, errors.values())) < (2e-2 if row.nu > 0.49 else 1e-2)


@pytest.mark.slow
def test_thick_finite_bush_meets_half_a_percent_in_the_end():
    """ν = 0.49 with the circumference kept at 48: 4, 6, 8 layers, first order or better.

    Measured: radial −0.74, −0.44, −0.28 %, tilt −0.62, −0.49, −0.40 %. The axial and radial errors
    fall with the order of the corner, above one; tilt has the facets' share besides, so of it only
    the fall and the bound are asserted.
    """
    (row,) = (r for r in TABLE.itertuples() if (r.b, r.L, r.nu) == (2, 2, 0.49))
    found = [relative_errors(bush(1, 2, 2, 48, 2 * n, n), row) for n in (4, 6, 8)]
    errors = np.abs([[e["axial"], e["radial"], e["tilt"]] for e in found])
    assert (np.diff(errors, axis=0) < 0).all()
    orders = -np.diff(np.log(errors[:, :2]), axis=0) / np.diff(np.log([4, 6, 8]))[:, None]
    assert (orders > 1).all()
    assert errors[-1].max() < 5e-3


@pytest.mark.slow
@pytest.mark.parametrize("row", cases((1, 2, 2)))
def test_thick_finite_bush_in_six_layers(row):
    errors = relative_errors(bush(1, 2, 2, 48, 12, 6), row)
    assert max(map(abs, errors.values())) < (2e-2 if row.nu > 0.49 else 5e-3)


@pytest.mark.parametrize("nu", [0.45, 0.49, 0.499])
def test_free_ends_need_the_projection(layers, nu):
    """The same mesh without it is too stiff, the more the nearer to ν = 1/2."""
    row = next(r for r in TABLE.itertuples() if (r.a, r.b, r.L, r.nu) == (1, 1.25, 2, nu))
    support = rigid_body_support(
        layers[1, 1.25, 2], unit_shear(nu), np.zeros(3), volumetric="exact"
    )
    error = support.stiffness[0, 0] / row.radial - 1
    print(f"nu {nu}: {100 * error:+.1f} %")
    assert error > {0.45: 5e-3, 0.49: 2e-2, 0.499: 0.1}[nu]


def tooth_like(finer):
    """Bush of two layers with elements 2.75 thicknesses long, as a tooth's by default; or finer."""
    return bush(1, 1.1, 3, round(23 * finer), round(11 * finer), 2, grading=1)


@pytest.mark.parametrize("nu", [0.45, 0.49, 0.499])
def test_mesh_as_coarse_as_that_of_a_tooth(nu):
    """Elements 0.55 mm long in a layer of 0.2 mm: what they miss, and that it goes away.

    Rows are even, so the free ends are seen by elements 2.75 times as long as the layer is thick,
    and this shaft is only 2 mm in radius, so that its 23 facets alone make 0.6 %. Measured
    (axial, radial, tilt, torsion): +1.1, +0.9, +1.9, +2.2 % at ν = 0.49 and +1.1, +3.3, +3.8,
    +3.2 % at 0.499; without the projection +1.3, +1.7, +3.2, +6.1 % and +1.4, +14, +14, +26 %.

    The bound is that of the grid convergence index (Celik et al. 2008, J. Fluids Eng. 130:078001):
    the order observed on three meshes, each √2 finer than the one before, foretells the error of
    the coarsest within a quarter, without a look at the exact value. Torsion passes through zero
    error, so for it only the projection's gain is asserted.
    """
    row = next(r for r in TABLE.itertuples() if (r.a, r.b, r.L, r.nu) == (1, 1.1, 3, nu))
    exact = np.array([getattr(row, name) for name in COLUMNS])
    found = {}
    for volumetric in ("exact", "projected"):
        found[volumetric] = np.array(
            [diagonal(tooth_like(finer), nu, volumetric) for finer in (1, 2**0.5, 2)]
        )
        print(nu, volumetric, np.round(100 * (found[volumetric] / exact - 1), 2).tolist())
    coarse, middle, fine = found["projected"][:, :3]
    ratio = (coarse - middle) / (middle - fine)
    assert (ratio > 2**0.5).all()  # first order at least, that of a corner's singularity
    foretold = (coarse - middle) / (1 - 1 / ratio)
    assert (np.abs(coarse - exact[:3]) < 1.25 * foretold).all()
    errors = {name: np.abs(K / exact - 1).max(axis=1) for name, K in found.items()}
    assert (errors["projected"] < (0.25 if nu > 0.49 else 1) * errors["exact"]).all()


def diagonal(layer, nu, volumetric):
    K = rigid_body_support(layer, unit_shear(nu), np.zeros(3), volumetric=volumetric).stiffness
    return np.diag(K)[list(COLUMNS.values())]
