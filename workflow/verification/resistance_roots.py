"""Planar roots, a paraboloid and real teeth: where they are held and about what they turn."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import quad

from fem.material import Elastic
from fem.resistance import (
    rotation_centre_depth_mm,
    rotation_parameter_mm2,
    textbook_depth_mm,
)
from fem.support import rigid_body_support
from fem.thin_layer import SurfacePoints, thin_layer_stiffness
from geometry.anatomy import tooth_dimensions
from geometry.tooth_mesh import ToothSpec, build_tooth_mesh
from workflow.verification.check import Check, Compared, Kind

Array = NDArray[np.float64]

_MESIAL, _BUCCAL, _OCCLUSAL = np.eye(3)
_LIGAMENT = Elastic(0.05, 0.30)
_THICKNESS_MM = 0.2
_H_MM = 15.0  # embedded length of the planar roots and the paraboloid
_WIDEST_MM = 3.5
_POWERS = {"rectangle": 0.0, "parabola": 0.5, "triangle": 1.0}
_CREST = _H_MM * _OCCLUSAL
_BRACKET = _CREST + 6.0 * _OCCLUSAL
_RATIOS_MM = np.array([-2.0, 0.0, 3.0, 6.0, 9.0, 14.0, 18.0])


def _unit_gauss(n: int = 24) -> tuple[Array, Array]:
    """Points and weights on (0, 1)."""
    x, w = np.polynomial.legendre.leggauss(n)
    return 0.5 * (x + 1), 0.5 * w


@cache
def _planar_root(power: float) -> Array:
    """6×6 about the apex of a flat root of half width ``w ∝ zᵖ``, facing buccally.

    With s = √(z/h) the widths are polynomials and Gauss points integrate them exactly.
    """
    s, weight = _unit_gauss()
    z = _H_MM * s**2
    half = _WIDEST_MM * (z / _H_MM) ** power
    side = np.array([-1.0, 1.0]) / np.sqrt(3)  # two Gauss points across
    positions = np.stack([np.outer(half, side), 0 * np.outer(z, side), np.outer(z, side**0)], -1)
    areas = np.outer(half * 2 * _H_MM * s * weight, np.ones(2))
    normals = np.broadcast_to(_BUCCAL, (areas.size, 3))
    surface = SurfacePoints(positions.reshape(-1, 3), normals, areas.ravel())
    return thin_layer_stiffness(surface, _LIGAMENT, _THICKNESS_MM, _CREST)


def _planar_law(power: float) -> tuple[float, float]:
    """Centre from the crest and σ², over h and h²: moments of a width ``zᵖ``."""
    mean, square = (power + 1) / (power + 2), (power + 1) / (power + 3)
    return 1 - mean, square - mean**2


def _planar_centres() -> Compared:
    found = [
        textbook_depth_mm(_planar_root(p), _CREST, _BUCCAL, _OCCLUSAL) / _H_MM
        for p in _POWERS.values()
    ]
    return Compared(
        found,
        [1 / 2, 2 / 5, 1 / 3],
        labels=list(_POWERS),
        note="0.40 of the parabola is published; the others follow from the same theory.",
    )


def _planar_sigma2() -> Compared:
    found = [
        rotation_parameter_mm2(_planar_root(p), _CREST, _BUCCAL, _OCCLUSAL) / _H_MM**2
        for p in _POWERS.values()
    ]
    return Compared(
        found,
        [1 / 12, 12 / 175, 1 / 18],
        labels=list(_POWERS),
        note="Published for the parabola: σ² = 0.068 h²; theory gives 0.0686 h², 12/175.",
    )


def _planar_rotation_centres() -> Compared:
    found = [
        rotation_centre_depth_mm(_planar_root(p), _CREST, _BUCCAL, _OCCLUSAL, np.zeros(1))[0]
        for p in _POWERS.values()
    ]
    expected = [c + s / c for c, s in map(_planar_law, _POWERS.values())]
    return Compared(np.array(found) / _H_MM, expected, labels=list(_POWERS))


@cache
def _paraboloid(material: Elastic) -> Array:
    """6×6 about the bracket of a round root ``r = r₀ √(z/h)`` by the code under test."""
    s, weight = _unit_gauss(120)
    phi = 2 * np.pi * np.arange(16) / 16
    along = np.hypot(_WIDEST_MM, 2 * _H_MM * s)  # length of the meridian per s
    r, z, ones = _WIDEST_MM * s, _H_MM * s**2, np.ones((len(s), len(phi)))
    out, up = 2 * _H_MM * s / along, -_WIDEST_MM / along

    def turned(radial: Array, axial: Array) -> Array:
        parts = (
            np.outer(radial, np.cos(phi)),
            np.outer(radial, np.sin(phi)),
            axial[:, None] * ones,
        )
        return np.stack(parts, axis=-1).reshape(-1, 3)

    areas = ((r * along * weight)[:, None] * ones * 2 * np.pi / len(phi)).ravel()
    surface = SurfacePoints(turned(r, z), turned(out, up), areas)
    return thin_layer_stiffness(surface, material, _THICKNESS_MM, _BRACKET)


def _paraboloid_moments(material: Elastic) -> tuple[float, float, float]:
    """K_lat, centre above the apex and K_rot by quadrature of the closed integrals.

    ``K_lat = ∫ πr/cosβ [(kₙ − kₜ) cos²β + 2kₜ] dz`` and its moments about z + r tan β.
    """
    kn = material.constrained_modulus_MPa / _THICKNESS_MM
    kt = material.shear_modulus_MPa / _THICKNESS_MM

    def over_root(of_normal: int, centre: float) -> float:
        def density(s: float) -> float:
            r, z, slope = _WIDEST_MM * s, _H_MM * s**2, _WIDEST_MM / (2 * _H_MM * s)
            cos2 = 1 / (1 + slope**2)
            arm, zeta = z + r * slope - centre, z - centre
            normal = (kn - kt) * cos2 * arm**of_normal
            tangent = kt * (2 * zeta**of_normal + (r**2 if of_normal == 2 else 0.0))
            return float(np.pi * r / np.sqrt(cos2) * (normal + tangent) * 2 * _H_MM * s)

        return float(quad(density, 0, 1, epsabs=0, epsrel=1e-12)[0])

    lateral = over_root(0, 0.0)
    centre = over_root(1, 0.0) / lateral
    return lateral, centre, over_root(2, centre)


_MATERIALS = (_LIGAMENT, Elastic(0.05, 0.45), Elastic(0.68, 0.49))


def _paraboloid_rotation() -> Compared:
    """Depth below the bracket of the centre of rotation, ``c + σ²/(c − M/F)``."""
    computed, expected, labels = [], [], []
    for material in _MATERIALS:
        K = _paraboloid(material)
        computed += list(rotation_centre_depth_mm(K, _BRACKET, _MESIAL, _OCCLUSAL, _RATIOS_MM))
        lateral, centre, rotational = _paraboloid_moments(material)
        depth = _BRACKET[2] - centre
        expected += list(depth + rotational / lateral / (depth - _RATIOS_MM))
        labels += [f"ν = {material.poisson_ratio}, M/F = {ratio:g} mm" for ratio in _RATIOS_MM]
    return Compared(computed, expected, labels=labels)


def _paraboloid_translation() -> Compared:
    """At M/F equal to the centre's depth nothing turns: the moment of that load at the centre."""
    computed, expected = [], []
    for material in _MATERIALS:
        computed.append(textbook_depth_mm(_paraboloid(material), _BRACKET, _MESIAL, _OCCLUSAL))
        expected.append(_BRACKET[2] - _paraboloid_moments(material)[1])
    return Compared(computed, expected, labels=[f"ν = {m.poisson_ratio}" for m in _MATERIALS])


@cache
def _tooth(number: int) -> Array:
    """6×6 about the middle of the crown of a tooth in a meshed ligament."""
    dimensions = tooth_dimensions(number)
    layer = build_tooth_mesh(ToothSpec(dimensions, root_size_mm=0.8)).submesh(["ligament"])
    crown = dimensions.crown_length_mm / 2 * _OCCLUSAL
    return rigid_body_support(layer, _LIGAMENT, crown).stiffness


def _product_on_a_tooth() -> Compared:
    """a·b from the six equations solved for forces along the tooth, beside σ² of the function."""
    computed, products, labels = [], [], []
    for number in (21, 36):
        K = _tooth(number)
        crown = tooth_dimensions(number).crown_length_mm / 2 * _OCCLUSAL
        for name, force in (("mesiodistal", _MESIAL), ("buccolingual", _BUCCAL)):
            centre = _still_under_couple(K, force)
            sigma2 = rotation_parameter_mm2(K, crown, force, _OCCLUSAL)
            for depth in (0.0, 4.0, 18.0):
                turn, rest = _turn_and_rest(K, force, depth)
                assert abs(turn) > 0
                computed.append(sigma2)
                products.append((centre - depth) * (rest - centre))
                labels.append(f"tooth {number}, {name}, force {depth:g} mm below the bracket")
    return Compared(computed, products, labels=labels)


def _turn_and_rest(K: Array, force: Array, depth: float) -> tuple[float, float]:
    """Turn in the plane of the force, and depth of the axis' point that it leaves at rest."""
    place = -depth * _OCCLUSAL
    motion = np.linalg.solve(K, np.concatenate([force, np.cross(place, force)]))
    return _turn(motion, force), _rest(motion, force)


def _still_under_couple(K: Array, force: Array) -> float:
    """Depth of the point of the axis that a couple in the plane of the force leaves at rest."""
    motion = np.linalg.solve(K, np.concatenate([np.zeros(3), np.cross(_OCCLUSAL, force)]))
    return _rest(motion, force)


def _turn(motion: Array, force: Array) -> float:
    return float(motion[3:] @ np.cross(_OCCLUSAL, force))


def _rest(motion: Array, force: Array) -> float:
    return float(motion[:3] @ force) / _turn(motion, force)


def _where_the_force_does_not_turn() -> Compared:
    """Bisection for the depth of a force that does not turn the tooth in its plane."""
    computed, expected, labels = [], [], []
    for number in (21, 36):
        K, crown = _tooth(number), tooth_dimensions(number).crown_length_mm / 2 * _OCCLUSAL
        for name, force in (("mesiodistal", _MESIAL), ("buccolingual", _BUCCAL)):
            computed.append(textbook_depth_mm(K, crown, force, _OCCLUSAL))
            expected.append(_bisected(K, force))
            labels.append(f"tooth {number}, {name}")
    return Compared(computed, expected, labels=labels)


def _bisected(K: Array, force: Array) -> float:
    low, high = 0.0, 25.0
    sign = np.sign(_turn_and_rest(K, force, low)[0])
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (
            (middle, high)
            if np.sign(_turn_and_rest(K, force, middle)[0]) == sign
            else (low, middle)
        )
    return low


CHECKS = (
    Check(
        id="centre_of_planar_roots",
        what="depth of the centre of resistance below the crest, over the embedded length",
        code="fem.resistance.textbook_depth_mm, fem.thin_layer.thin_layer_stiffness",
        kind=Kind.BENCHMARK,
        source="burstone_1962",
        place="flat roots of half width ∝ zᵖ, p = 0, 1/2, 1: 1 − (p + 1)/(p + 2)",
        tolerance=1e-12,
        reason="Gauss points integrate these widths exactly",
        compute=_planar_centres,
    ),
    Check(
        id="rotation_parameter_of_planar_roots",
        what="σ² over the square of the embedded length",
        code="fem.resistance.rotation_parameter_mm2, fem.thin_layer.thin_layer_stiffness",
        kind=Kind.BENCHMARK,
        source="burstone_1962",
        place="the same roots: (p + 1)/(p + 3) − ((p + 1)/(p + 2))²",
        tolerance=1e-11,
        reason="Gauss points integrate these widths exactly; a difference of like numbers",
        compute=_planar_sigma2,
    ),
    Check(
        id="rotation_centre_of_planar_roots",
        what="depth of the centre of rotation for a force at the crest, over the embedded length",
        code="fem.resistance.rotation_centre_depth_mm",
        kind=Kind.BENCHMARK,
        source="burstone_1962",
        place="the same roots: 0.667, 0.571 and 0.500",
        tolerance=1e-11,
        reason="Gauss points integrate these widths exactly",
        compute=_planar_rotation_centres,
    ),
    Check(
        id="centre_of_a_paraboloid",
        what="depth of the centre of resistance of a paraboloid below a bracket, mm",
        code="fem.resistance.textbook_depth_mm, fem.thin_layer.thin_layer_stiffness",
        kind=Kind.CODE,
        source="provatidis",
        place="closed integral of z + r tan β over the root, three ligaments",
        tolerance=1e-10,
        reason="the integrals are smooth in √z; both quadratures reach rounding",
        compute=_paraboloid_translation,
    ),
    Check(
        id="rotation_centre_against_moment_to_force",
        what="centre of rotation of a paraboloid against M/F at a bracket, mm below it",
        code="fem.resistance.rotation_centre_depth_mm, fem.thin_layer.thin_layer_stiffness",
        kind=Kind.CODE,
        source="provatidis",
        place="c + K_rot/K_lat/(c − M/F) from the closed integrals, M/F from −2 to 18 mm",
        tolerance=1e-9,
        reason="as above; close to translation c − M/F is small",
        compute=_paraboloid_rotation,
    ),
    Check(
        id="product_a_b_on_teeth",
        what="σ² beside a·b of forces at three heights of an incisor and a molar, mm²",
        code="fem.resistance.rotation_parameter_mm2, fem.support.rigid_body_support",
        kind=Kind.BENCHMARK,
        source="naegerl",
        place="a·b does not depend on the force's place; six equations solved for each force",
        tolerance=1e-9,
        reason="an identity of the 6×6 in one plane: rounding",
        compute=_product_on_a_tooth,
    ),
    Check(
        id="force_that_does_not_turn_a_tooth",
        what="depth of the force that does not turn a tooth in its plane, mm below the bracket",
        code="fem.resistance.textbook_depth_mm, fem.support.rigid_body_support",
        kind=Kind.CODE,
        source="statics",
        place="bisection on the turn of the six equations solved, incisor and molar",
        tolerance=1e-9,
        reason="the bisection ends at rounding",
        compute=_where_the_force_does_not_turn,
    ),
)
