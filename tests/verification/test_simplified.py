"""Maps of the study of simplified models against closed forms."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc, ellipk, ellipkinc

from fem.closed_form import TwoPointCantilever
from fem.material import Elastic
from fem.section import rectangular_section
from fem.thin_layer import triangle_quadrature
from geometry.surface import sphere_surface
from workflow.records import write_json
from workflow.simplified import worst
from workflow.simplified_beams import bending_map, lost_to_play_mm, play_map, tube_map
from workflow.simplified_planar import HeldTooth, Setup, planar_map, planar_motion, rotation_centre
from workflow.simplified_teeth import (
    PARABOLA_CENTRE,
    PARABOLA_SIGMA2,
    all_teeth_table,
    centre_map,
    normal_springs,
    planar_root,
    winkler_table,
)
from workflow.study import default_specs
from workflow.support_study import thin_layer_table
from workflow.supports import compute_support, support_record
from workflow.tooth_meshes import build_mesh

BETA = Elastic(72.4e3, 0.3)
FLAT = rectangular_section(0.635, 0.4318)


# --- straight wires --------------------------------------------------------------------------


def elastica_force(deflection):
    """F L²/EI of a clamped inextensible wire whose free end is moved across, Bisshopp & Drucker
    1945 (Q Appl Math 3:272), from memory; checked there by the small-deflection limit 3 δ/L."""

    def amplitudes(p):
        first = np.arcsin(1 / (p * np.sqrt(2)))
        return ellipk(p**2) - ellipkinc(first, p**2), ellipe(p**2) - ellipeinc(first, p**2)

    def miss(p):
        alpha, energy = amplitudes(p)
        return 1 - 2 * energy / alpha - deflection

    p = brentq(miss, np.sqrt(0.5) + 1e-9, 0.9999)
    return amplitudes(p)[0] ** 2


def test_the_elastica_begins_as_small_deflection_theory():
    assert elastica_force(0.01) == pytest.approx(0.03, rel=1e-3)


def test_a_slender_wire_bent_far_is_an_elastica():
    shares = [0.05, 0.2, 0.4, 0.6]
    found = bending_map(FLAT, BETA, [60.0], shares)["error_percent"]
    foretold = [100 * (3 * d / elastica_force(d) - 1) for d in shares]
    assert foretold[-1] < -35
    # Shear of a wire of 60 heights softens it by 0.02 %, 60 elements by no more.
    assert found.to_numpy() == pytest.approx(foretold, abs=0.06)


def test_a_short_wire_shears_as_timoshenko_has_it():
    spans = np.array([2.0, 5.0, 20.0])
    found = bending_map(FLAT, BETA, spans, [0.001])["error_percent"]
    shear = FLAT.shear_factor(0.3) * BETA.shear_modulus_MPa * FLAT.area_mm2
    length = spans * FLAT.height_mm
    foretold = 100 * 3 * BETA.youngs_modulus_MPa * FLAT.I_height_mm4 / (shear * length**2)
    assert found.to_numpy() == pytest.approx(foretold, rel=2e-3, abs=0.005)


def test_a_wire_in_a_tube_is_held_at_two_points():
    found = tube_map(FLAT, BETA, [10.0, 30.0], [2.0, 6.0], 0.002)
    closed = [
        TwoPointCantilever(FLAT, BETA, row.span_mm, row.tube_mm).timoshenko_stiffness_N_per_mm
        for row in found.itertuples()
    ]
    assert found["rod_N_per_mm"].to_numpy() == pytest.approx(closed, rel=5e-4)


def test_the_clamp_is_too_stiff_by_the_tube_over_the_span():
    found = tube_map(FLAT, BETA, [20.0, 30.0], [2.0, 6.0], 0.002)
    share = 100 * found["tube_mm"] / found["span_mm"]
    assert found["clamp_error_percent"].to_numpy() == pytest.approx(share.to_numpy(), abs=0.6)


def test_play_costs_the_wire_its_slack():
    span, tube, play = 20.0, 4.0, 0.05
    found = play_map(FLAT, BETA, span, tube, [0.0, play], [0.6, 0.7])
    tight, loose = (found[found["play_mm"] == p]["rod_N"].to_numpy() for p in (0.0, play))
    slope = (tight[1] - tight[0]) / 0.1
    slack = 0.6 - loose[0] / slope
    assert slack == pytest.approx(play / 2 + play * span / tube, rel=0.01)
    assert slack == pytest.approx(lost_to_play_mm(play, span, tube), rel=0.01)


# --- teeth -----------------------------------------------------------------------------------


@pytest.mark.parametrize("power", [0.0, 0.5, 1.0])
def test_a_flat_root_by_the_moments_of_its_outline(power):
    area, first, second = (quad(lambda z, k=k: z ** (power + k), 0, 1)[0] for k in (0, 1, 2))
    mean = first / area
    assert planar_root(power) == pytest.approx((1 - mean, second / area - mean**2))


def test_the_parabola_is_as_published():
    """Christiansen & Burstone 1969 print 0.40, Burstone & Pryputniewicz 1980 0.068 (memory)."""
    assert pytest.approx(0.40) == PARABOLA_CENTRE
    assert pytest.approx(0.068, abs=1e-3) == PARABOLA_SIGMA2


def test_the_table_of_teeth_on_a_support_of_known_centre(tmp_path):
    spec = default_specs()[21]
    resistance = {
        "root_length_mm": 12.0,
        "mean_crest_depth_mm": 2.0,
        "depth_below_crest_mm": {"mesiodistal": 5.0, "buccolingual": 4.0},
        "sigma2_mm2": {"mesiodistal": 8.0, "buccolingual": 12 / 175 * 100},
    }
    path = tmp_path / "support.json"
    write_json(path, {"spec": spec, "resistance": resistance})
    md, bl = all_teeth_table({21: path}).to_dict("records")
    bracket = 10.5 / 2
    assert md["centre_error_percent_of_root"] == pytest.approx(-10.0)
    assert md["sigma2_error_percent"] == pytest.approx(100 * (12 / 175 / 0.08 - 1))
    error = 100 * ((bracket + 2 + 4) / (bracket + 2 + 5) - 1)
    assert md["moment_to_force_error_percent"] == pytest.approx(error)
    assert bl["moment_to_force_error_percent"] == pytest.approx(0, abs=1e-9)
    assert bl["sigma2_error_percent"] == pytest.approx(0, abs=1e-9)


def test_normal_springs_on_a_sphere():
    """∫ n⊗n dA = (4π r²/3) 1, and normal springs do not hold a sphere against turning."""
    radius, thickness, modulus = 3.0, 0.2, 2.0
    sphere = sphere_surface(radius, 4)
    surface = triangle_quadrature(sphere.points, sphere.triangles)
    about = np.array([1.0, 0.0, 0.0])
    found = normal_springs(surface, modulus, thickness, about)
    k = modulus * 4 * np.pi * radius**2 / 3 / thickness
    assert found[:3, :3] == pytest.approx(k * np.eye(3), abs=3e-3 * k)
    # Seen from 1 mm off its centre, only the translation of the centre is resisted.
    assert found[4, 4] == pytest.approx(k, rel=5e-3)
    assert found[3, 3] == pytest.approx(0, abs=5e-3 * k)


def test_springs_without_shear_are_softer_by_what_the_shear_bears():
    """∫ tr(S springs S) over the walls: M alone of M + 2 G in the trace of the translations."""
    nu = 0.3
    thin = thin_layer_table(21, [nu], [0.3])
    row = winkler_table(21, thin).iloc[0]
    names = ("mesial_percent", "buccal_percent", "occlusal_percent")
    ratios = [(100 + row[n]) / (100 + thin[n].iloc[0]) for n in names]
    assert all(ratio < 1 for ratio in ratios)
    assert ratios[2] < min(ratios[:2])
    m_over_g = 2 * (1 - nu) / (1 - 2 * nu)
    # Share of n along each axis from each ratio; the three shares make a unit vector.
    shares = [r / (m_over_g * (1 - r) + r) for r in ratios]
    assert sum(shares) == pytest.approx(1.0, abs=1e-9)


def test_centre_map_agrees_with_the_default_support_of_a_case():
    """Same tooth, same settings by the support stage: crest as meshed, to a tenth of a percent."""
    spec = default_specs()[21]
    mesh, _ = build_mesh(spec)
    record = support_record(mesh, compute_support(mesh, spec), spec, {})
    fraction = record["resistance"]["depth_fraction_of_embedded_root"]
    found = centre_map(21, [spec["poisson_ratio"]], [spec["crest_depth_mm"]])
    for row in found.to_dict("records"):
        assert row["centre_fraction"] == pytest.approx(fraction[row["direction"]], abs=2e-3)


# --- planar statics --------------------------------------------------------------------------

FORCE_STIFFNESS, TURN_STIFFNESS, DEEP_MM = 3000.0, 2.5e5, 6.0


@pytest.fixture(scope="module")
def setup():
    """Two alike teeth on springs equal in all directions at a centre 6 mm below the cervix."""
    stiffness = np.diag([FORCE_STIFFNESS] * 3 + [TURN_STIFFNESS] * 3)
    tooth = HeldTooth(np.array([0.0, 0.0, -DEEP_MM]), stiffness, 4.0, 12.0)
    return Setup(tooth, tooth, FLAT, BETA, span_mm=20.0, tube_mm=4.0, activation_mm=0.2)


@pytest.fixture(scope="module")
def table(setup):
    return planar_map(setup, [0.0, 3.0], [0.0, 15.0, 40.0])


def test_a_planar_appliance_is_planar(table):
    plane = table[(table[["angle_deg", "target_offset_mm", "anchor_offset_mm"]] == 0).all(axis=1)]
    shown = [c for c in table if "error" in c or "percent" in c]
    assert float(plane[shown].abs().to_numpy().max()) < 0.5


def test_couples_are_those_of_statics(setup, table):
    angle = np.radians(table["angle_deg"])
    along, aside = 20 * np.cos(angle) + 2, 20 * np.sin(angle)
    assert table["couple_Nmm"].to_numpy() == pytest.approx(table["force_N"] * along, rel=2e-3)
    assert table["couple_error_percent"].to_numpy() == pytest.approx(
        100 * (22 / along - 1), abs=0.2
    )
    assert table["couple_out_of_plane_percent"].to_numpy() == pytest.approx(
        100 * aside / along, abs=1.0
    )


def test_the_target_turns_about_the_line_of_force(table):
    """On springs equal all round, rotation goes as the moment about the centre of resistance."""
    angle = np.radians(table["angle_deg"])
    along = 20 * np.cos(angle) + 2
    aside = table["target_offset_mm"] - 20 * np.sin(angle)
    assert table["target_out_of_plane_percent"].to_numpy() == pytest.approx(
        100 * np.abs(aside) / along, abs=1.0
    )


def test_the_anchor_tips_by_the_hooks_offset(table):
    straight = table[table["angle_deg"] == 0]
    high = DEEP_MM + 4.0
    foretold = 100 * straight["anchor_offset_mm"] / TURN_STIFFNESS * high * FORCE_STIFFNESS
    assert straight["anchor_aside_percent"].to_numpy() == pytest.approx(foretold, abs=1.0)


def test_planar_centre_of_rotation_in_closed_form(setup):
    """A force F and a couple F d on springs k, c: the centre is c/(k d) beside the centre."""
    found = rotation_centre(planar_motion(setup))
    aside = -TURN_STIFFNESS / (FORCE_STIFFNESS * 22)
    assert found == pytest.approx([aside, -(DEEP_MM + 4.0)], rel=1e-9)


def test_the_worst_keeps_its_sign(table):
    by_angle = worst(table, "angle_deg", "couple_error_percent")
    assert by_angle.loc[40.0] == pytest.approx(100 * (22 / (20 * np.cos(np.radians(40)) + 2) - 1),
                                               abs=0.2)  # fmt: skip
