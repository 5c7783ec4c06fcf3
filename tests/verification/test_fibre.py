"""Sections of fibres against closed forms of plastic and superelastic bending."""

from math import acos, pi, sqrt

import numpy as np
import pytest

from fem.fibre import (
    FibreSection,
    corner_radius_for_area,
    rectangular_fibres,
    round_fibres,
    round_strips,
)
from fem.material import Elastic
from fem.moment_curvature import (
    BendingError,
    bend_to,
    load_to,
    residual_curvature_per_mm,
    virgin,
)
from fem.section import rectangular_section, round_section
from fem.uniaxial import ElasticPlastic, LinearElastic, Superelastic, compression_ratios

INCH = 25.4
WIDTH, HEIGHT, DIAMETER = 0.64, 0.48, 0.40
STEEL = ElasticPlastic(170e3, 1300.0)
NITI = Superelastic(60e3, 520.0, 600.0, 300.0, 200.0, 0.075)

RECTANGLE = (rectangular_fibres(WIDTH, HEIGHT), HEIGHT, WIDTH * HEIGHT**2 / 6)
STRIPS = (round_strips(DIAMETER), DIAMETER, pi * DIAMETER**3 / 32)
POLAR = (round_fibres(DIAMETER), DIAMETER, pi * DIAMETER**3 / 32)

# Curvature over that of first yield, M/M_y and residual curvature: perfectly plastic bending,
# derived by quadrature to 1e-10 for the closed forms of textbooks (shape factor of a circle
# 1.698 in Neal, The Plastic Methods of Structural Analysis, table 2.1).
PLASTIC = (
    (1.25, 1.18, 0.07, 1.2115631989, 0.0384368011),
    (1.5, 1.2777777778, 0.2222222222, 1.3470907818, 0.1529092182),
    (2, 1.375, 0.625, 1.4936600098, 0.5063399902),
    (3, 1.4444444444, 1.5555555556, 1.6049320852, 1.3950679148),
    (5, 1.48, 3.52, 1.6639043717, 3.3360956283),
    (10, 1.495, 8.505, 1.6891772103, 8.3108227897),
)


def rectangle_ratio(K):
    return 1.5 - 0.5 / K**2 if K > 1 else K


def circle_ratio(K):
    eta = min(1 / K, 1.0)
    chord = acos(eta) + eta * sqrt(1 - eta**2) * (1 - 2 * eta**2)
    return K * (1 - 2 / pi * chord + 16 / (3 * pi) * eta * (1 - eta**2) ** 1.5)


def yield_curvature(height, law=STEEL):
    return law.yield_strain / (height / 2)


@pytest.mark.parametrize("row", PLASTIC, ids=lambda row: f"K={row[0]}")
@pytest.mark.parametrize(("section", "column"), [(RECTANGLE, 1), (STRIPS, 3), (POLAR, 3)])
def test_plastic_bending_and_springback(section, column, row):
    """Moment at a curvature and curvature left after release (table above)."""
    fibres, height, modulus = section
    wire = FibreSection(fibres, STEEL)
    K, moment, residual = row[0], row[column], row[column + 1]
    history = bend_to(wire, [K * yield_curvature(height), 0], virgin(wire), steps=4)
    assert history.moment_Nmm[-1, 0] == pytest.approx(
        moment * STEEL.yield_strength_MPa * modulus, rel=1e-4
    )
    left = residual_curvature_per_mm(wire, history, steps=3)[0] / yield_curvature(height)
    # Residual = K − M/M_y: the moment's 1e-4 is all that it can be good to.
    assert left == pytest.approx(residual, abs=1e-4 * moment)


@pytest.mark.parametrize(
    ("section", "exact"),
    [(RECTANGLE, rectangle_ratio), (STRIPS, circle_ratio), (POLAR, circle_ratio)],
)
def test_moment_at_any_curvature(section, exact):
    """The closed forms behind the table, at curvatures where no fibre is meant to sit."""
    fibres, height, modulus = section
    wire = FibreSection(fibres, STEEL)
    for K in np.linspace(0.5, 12, 24):
        history = bend_to(wire, [K * yield_curvature(height), 0], virgin(wire), steps=1)
        ratio = history.moment_Nmm[-1, 0] / (STEEL.yield_strength_MPa * modulus)
        assert ratio == pytest.approx(exact(K), rel=1e-4)


def test_error_of_the_front_falls_with_the_square_of_the_spacing():
    """Worst of many curvatures, so that no lucky position of the front decides."""

    def worst(n):
        fibres = rectangular_fibres(WIDTH, HEIGHT, across_height=n)
        wire = FibreSection(fibres, STEEL)
        curvature = np.linspace(1.05, 8, 400)
        bent = np.stack([curvature * yield_curvature(HEIGHT), np.zeros(400)], axis=-1)
        moment = wire.response(np.zeros(400), bent, wire.initial_state((400,))).resultants[:, 1]
        exact = [rectangle_ratio(K) for K in curvature]
        return np.abs(moment / (STEEL.yield_strength_MPa * RECTANGLE[2]) - exact).max()

    assert np.log2(worst(36) / worst(144)) / 2 == pytest.approx(2.0, abs=0.3)


def test_residual_stress_after_springback():
    """Rectangle released from K = 2: −0.375 σ_y at the surface, +0.3125 σ_y at the core's edge.

    Textbook (elastic unloading from the plastic stress), values derived.
    """
    wire = FibreSection(rectangular_fibres(WIDTH, HEIGHT, across_height=200), STEEL)
    history = bend_to(wire, [2 * yield_curvature(HEIGHT), 0], virgin(wire), steps=1)
    free = load_to(wire, [0, 0], history, steps=2)
    x3 = wire.fibres.x3_mm
    strain = free.axial_strain[-1] + free.curvature_per_mm[-1, 0] * x3
    stress = STEEL.update(strain, free.state)[0] / STEEL.yield_strength_MPa
    order = np.argsort(x3)
    at = np.interp([HEIGHT / 4, HEIGHT / 2], x3[order], stress[order])
    assert at == pytest.approx([0.3125, -0.375], abs=3e-3)


def test_reverse_bending_yields_early_and_closes():
    """Perfectly plastic rectangle bent to K, back to −K and forward: Masing's rule.

    A branch is the first loading stretched by two: ``ΔM(Δκ) = 2 M(Δκ/2)`` (Masing 1926, from
    memory), so the loop from K to −K and back closes.
    """
    wire = FibreSection(RECTANGLE[0], STEEL)
    K, yield_moment = 3.0, STEEL.yield_strength_MPa * RECTANGLE[2]
    kappa = yield_curvature(HEIGHT)
    top = bend_to(wire, [K * kappa, 0], virgin(wire))
    part = bend_to(wire, [-K * kappa / 2, 0], top, steps=7)
    drop = (top.moment_Nmm[-1, 0] - part.moment_Nmm[-1, 0]) / yield_moment
    assert drop == pytest.approx(2 * rectangle_ratio(0.75 * K), rel=1e-4)
    closed = bend_to(wire, [K * kappa, 0], bend_to(wire, [-K * kappa, 0], part))
    assert closed.moment_Nmm[-1, 0] == pytest.approx(top.moment_Nmm[-1, 0], rel=1e-8)


# Curvature in 1/mm and moment in N mm of the rectangle 0.64 × 0.48 mm and the circle 0.40 mm:
# derived by quadrature to 1e-8. Law: 60 GPa, 520/600/300/200 MPa (Auricchio & Taylor 1997,
# Auricchio 2001), uniaxial transformation strain 0.075.
LOADING = (
    (0.02, 7.07788800, 1.50796447),
    (0.0361111, 12.77952000, 2.72271363),
    (0.0433333, 14.74248776, 3.26725636),
    (0.05, 15.86881025, 3.72698414),
    (0.1, 18.63392326, 5.08456114),
    (0.2, 19.86608815, 5.58616894),
    (0.3, 20.59794963, 5.78820723),
    (0.35, 20.93116108, 5.86905841),
    (0.4, 23.89042667, 5.94465823),
)
UNLOADING = {
    0.2: (
        (0.15, 10.59811, 3.12200),
        (0.10, 9.18600, 2.63081),
        (0.05, 7.80187, 2.15625),
        (0.02, 6.22947, 1.47969),
        (0.0, 0.0, 0.0),
    ),
    0.4: (
        (0.3, 10.41697, 3.02747),
        (0.2, 9.26893, 2.66763),
        (0.1, 8.12788, 2.31210),
        (0.04, 7.25777, 1.98699),
        (0.0, 0.0, 0.0),
    ),
}


@pytest.mark.parametrize("column", [1, 2], ids=["rectangle", "circle"])
def test_superelastic_loading(column):
    """Monotone bending through both ends of the plateau (table above)."""
    wire = FibreSection((RECTANGLE, STRIPS)[column - 1][0], NITI)
    history = virgin(wire)
    for row in LOADING:
        history = bend_to(wire, [row[0], 0], history, steps=2)
        assert history.moment_Nmm[-1, 0] == pytest.approx(row[column], rel=1e-4)


@pytest.mark.parametrize("top", list(UNLOADING))
@pytest.mark.parametrize("column", [1, 2], ids=["rectangle", "circle"])
def test_superelastic_unloading(column, top):
    """Partial and complete transformation, back to zero without a set (table above)."""
    # 160 strips leave 1.1e-4 at one point of the circle, 240 leave 5e-5.
    wire = FibreSection((RECTANGLE[0], round_strips(DIAMETER, 240))[column - 1], NITI)
    history = bend_to(wire, [top, 0], virgin(wire), steps=3)
    for row in UNLOADING[top]:
        history = bend_to(wire, [row[0], 0], history, steps=2)
        assert history.moment_Nmm[-1, 0] == pytest.approx(row[column], rel=1e-4, abs=1e-9)


def test_asymmetry_shifts_the_neutral_axis():
    """Tension and compression carry the same force; stronger in compression, the axis moves there.

    Plastic limit of a rectangle whose compressive strength is c times the tensile: with plateaus
    made all but flat, ``M = σ_t b h² c / (2 (1 + c))`` (stress blocks, textbook statics).
    """
    stress_ratio, _ = compression_ratios(0.15)
    flat = Superelastic(2e6, 520.0, 520.1, 300.0, 200.0, 0.5, compression_stress_ratio=stress_ratio)
    wire = FibreSection(RECTANGLE[0], flat)
    bent = bend_to(wire, [0.2, 0], virgin(wire), steps=5)
    c = stress_ratio
    expected = 520.0 * WIDTH * HEIGHT**2 * c / (2 * (1 + c))
    assert bent.moment_Nmm[-1, 0] == pytest.approx(expected, rel=1e-3)
    # Tension needs the larger part of the height, c/(1 + c) of it: the axis is strained.
    shift = HEIGHT * (c / (1 + c) - 0.5)
    assert bent.axial_strain[-1] == pytest.approx(0.2 * shift, rel=2e-2)


def test_round_wire_bends_alike_in_every_plane():
    """Moment stays in the plane of bending and has one size, elastic and far beyond."""
    wire = FibreSection(POLAR[0], STEEL)
    kappa = 3 * yield_curvature(DIAMETER)
    moments = []
    for angle in np.linspace(0, pi, 9):
        way = np.array([np.cos(angle), np.sin(angle)])
        bent = bend_to(wire, kappa * way, virgin(wire), steps=2)
        moments.append([bent.moment_Nmm[-1] @ way, bent.moment_Nmm[-1] @ [-way[1], way[0]]])
    along, across = np.array(moments).T
    assert along == pytest.approx(along.mean(), rel=1e-4)
    assert np.abs(across).max() < 2e-4 * along.mean()


@pytest.mark.parametrize(
    ("fibres", "section"),
    [
        (round_fibres(DIAMETER), round_section(DIAMETER)),
        (round_strips(DIAMETER), round_section(DIAMETER)),
        (rectangular_fibres(WIDTH, HEIGHT), rectangular_section(WIDTH, HEIGHT)),
        (
            rectangular_fibres(HEIGHT, WIDTH, across_width=7, across_height=9),
            rectangular_section(HEIGHT, WIDTH),
        ),
    ],
)
def test_elastic_sections_are_those_of_the_elastic_rod(fibres, section):
    """(EA, EI₂, EI₃) of fem.section, and no coupling between them."""
    wire = FibreSection(fibres, LinearElastic(170e3))
    answer = wire.response(np.array(1e-3), np.array([2e-3, -3e-3]), wire.initial_state())
    law = section.stiffness(Elastic(170e3, 0.3))[[0, 4, 5]]
    assert np.diag(answer.tangent) == pytest.approx(law, rel=1e-12)
    assert answer.tangent - np.diag(np.diag(answer.tangent)) == pytest.approx(
        np.zeros((3, 3)), abs=1e-9 * law.min()
    )
    assert answer.resultants == pytest.approx(law * [1e-3, 2e-3, -3e-3], rel=1e-12)


@pytest.mark.parametrize("sides", [(0.025, 0.019), (0.022, 0.016), (0.025, 0.017)])
def test_rounded_corners_take_their_area_and_a_published_share_of_stiffness(sides):
    """Area 7–8 % less, bending stiffness 15–19 % less (Rucker & Kusy 2002, AJODO 122:528–541)."""
    width, height = (side * INCH for side in sides)
    sharp = rectangular_section(width, height)
    radius = corner_radius_for_area(width, height, 0.075)
    real = rectangular_fibres(width, height, corner_radius_mm=radius)
    assert real.area_mm2.sum() == pytest.approx(0.925 * sharp.area_mm2, rel=1e-12)
    for less in (real.I_height_mm4 / sharp.I_height_mm4, real.I_width_mm4 / sharp.I_width_mm4):
        assert 0.15 < 1 - less < 0.19


@pytest.mark.parametrize("n", [32, 33, 144])
def test_corners_of_half_the_side_make_a_stadium_and_a_circle(n):
    """Second moments of the circle, and of two half circles on a square (textbook)."""
    r = 0.2
    circle = rectangular_fibres(2 * r, 2 * r, across_height=n, corner_radius_mm=r)
    assert circle.I_height_mm4 == pytest.approx(pi * r**4 / 4, rel=1e-9)
    stadium = rectangular_fibres(4 * r, 2 * r, across_height=n, corner_radius_mm=r)
    assert stadium.I_height_mm4 == pytest.approx(pi * r**4 / 4 + (2 * r) ** 4 / 12, rel=1e-9)


@pytest.mark.parametrize(
    ("width", "height", "second_order", "first_order"),
    [(0.022, 0.016, 597.57, 1129.79), (0.025, 0.017, 814.51, 1761.48)],
)
def test_cross_section_numbers(width, height, second_order, first_order):
    """Burstone 1981, AJO 80:1–16: I relative to 0.004 in round (first row from memory)."""
    unit = round_strips(0.004 * INCH).I_height_mm4
    fibres = rectangular_fibres(width * INCH, height * INCH)
    assert fibres.I_height_mm4 / unit == pytest.approx(second_order, abs=0.01)
    assert fibres.I_width_mm4 / unit == pytest.approx(first_order, abs=0.01)


def test_tangent_is_the_derivative_of_the_resultants():
    """Central differences away from a kink of the sum: a law with hardening, both planes bent."""
    law = ElasticPlastic(65e3, 830.0, 5e3)
    wire = FibreSection(rectangular_fibres(0.6, 0.4, across_width=6, across_height=7), law)
    start = wire.response(np.array(2e-3), np.array([0.11, -0.05]), wire.initial_state()).state
    at = np.array([1e-3, 0.13, -0.06])

    def resultants(e):
        return wire.response(e[0], e[1:], start).resultants

    tangent = wire.response(at[0], at[1:], start).tangent
    steps = np.eye(3) * 1e-7
    numeric = [(resultants(at + step) - resultants(at - step)) / 2e-7 for step in steps]
    assert np.transpose(numeric) == pytest.approx(tangent, rel=1e-6, abs=1e-6 * tangent.max())


def test_many_sections_at_once_answer_as_one_by_one():
    wire = FibreSection(round_fibres(0.4, 4, 7), NITI)
    rng = np.random.default_rng(3)
    axial, bent = rng.normal(0, 0.02, (2, 5)), rng.normal(0, 0.2, (2, 5, 2))
    state = wire.response(axial[::-1], bent[::-1], wire.initial_state((2, 5))).state
    together = wire.response(axial, bent, state)
    one = wire.response(axial[1, 3], bent[1, 3], state[1, 3])
    assert together.resultants[1, 3] == pytest.approx(one.resultants, rel=1e-12)
    assert together.tangent[1, 3] == pytest.approx(one.tangent, rel=1e-9, abs=1e-9)
    assert together.state[1, 3] == pytest.approx(one.state, rel=1e-12)


def test_more_than_the_plastic_moment_is_an_error():
    wire = FibreSection(RECTANGLE[0], STEEL)
    with pytest.raises(BendingError, match="exceed"):
        load_to(wire, [1.51 * STEEL.yield_strength_MPa * RECTANGLE[2], 0], virgin(wire))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: round_fibres(0), "diameter_mm"),
        (lambda: round_fibres(1, rings=1), "rings"),
        (lambda: round_strips(-1), "diameter_mm"),
        (lambda: rectangular_fibres(1, 0), "sides"),
        (lambda: rectangular_fibres(1, 2, corner_radius_mm=0.6), "half the smaller side"),
        (lambda: rectangular_fibres(1, 2, across_height=6, corner_radius_mm=0.1), "2 × 9"),
        (lambda: corner_radius_for_area(1, 1, 0.3), "lost_fraction"),
    ],
)
def test_wrong_sizes_are_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()
