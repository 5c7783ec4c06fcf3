"""Thin-layer theory against closed integrals: paraboloid, cylinder, hemisphere, capsule."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.material import Elastic
from fem.resistance import centre_of_resistance, rotation_parameter_mm2
from fem.thin_layer import SurfacePoints, thin_layer_stiffness, triangle_quadrature
from geometry.surface import sphere_surface
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table

Array = NDArray[np.float64]

_THEORY = "fem.thin_layer.thin_layer_stiffness"
_PRINTED = "four digits are given"
# M/t = 3 and G/t = 1 in a layer of 1 mm.
_SPRINGS = Elastic(2.5, 0.25)


def gauss(count: int, low: float = 0.0, high: float = 1.0) -> tuple[Array, Array]:
    """Points and weights of Gauss and Legendre on an interval."""
    points, weights = np.polynomial.legendre.leggauss(count)
    return 0.5 * (high - low) * (points + 1) + low, 0.5 * (high - low) * weights


def revolved(r: Array, z: Array, normal: Array, weights: Array, around: int = 16) -> SurfacePoints:
    """Surface of revolution about z by its meridian.

    Parameters
    ----------
    r, z
        Places along the meridian, (n,), mm.
    normal
        Radial and axial part of the unit normal there, (n, 2).
    weights
        Length of meridian that each stands for, (n,), mm.
    around
        Points on each circle: exact for the trigonometric polynomials of a 6×6.
    """
    phi = 2 * np.pi * np.arange(around) / around
    out = np.stack([np.cos(phi), np.sin(phi), 0 * phi], axis=1)
    up = np.array([0.0, 0.0, 1.0])
    positions = r[:, None, None] * out + z[:, None, None] * up
    normals = normal[:, :1, None] * out + normal[:, 1:, None] * up
    areas = np.repeat(weights * r * 2 * np.pi / around, around)
    return SurfacePoints(positions.reshape(-1, 3), normals.reshape(-1, 3), areas)


def paraboloid(height: float, radius: float, offset: float = 0.0) -> SurfacePoints:
    """``r = R √(z/h)``, apex at z = 0, or what lies `offset` outwards of it.

    Gauss points in s = √(z/h), which takes out the root at the apex; areas grow by both curvatures.
    """
    s, weights = gauss(120)
    length = np.hypot(radius, 2 * height * s)  # of the tangent d(r, z)/ds
    normal = np.stack([2 * height * s, np.full_like(s, -radius)], axis=1) / length[:, None]
    meridian, circle = 2 * height * radius / length**3, 2 * height / (length * radius)
    r, z = radius * s, height * s**2
    widened = (1 + offset * meridian) * (1 + offset * circle)
    # Areas go with the radius of the paraboloid itself, places with that of the offset surface.
    surface = revolved(r, z, normal, weights * length * widened)
    return SurfacePoints(
        surface.positions + offset * surface.normals, surface.normals, surface.areas
    )


def _rows() -> list[Any]:
    return list(reference_table("thin_layer_paraboloid").itertuples())


def _table_stiffness() -> Compared:
    found, expected = {}, []
    for row in _rows():
        K = _row_stiffness(row)
        centre = centre_of_resistance(K, np.zeros(3))
        values = {
            "lateral": (K[0, 0], row.K_lat),
            "axial": (K[2, 2], row.K_ax),
            "rotation": (centre.stiffness[3, 3], row.K_rot),
        }
        for name, (value, reference) in values.items():
            found[f"{name}, {_row_name(row)}"] = value
            expected.append(reference)
    return Compared(list(found.values()), expected, labels=list(found))


def _row_stiffness(row: Any) -> Array:
    surface = paraboloid(row.h_mm, row.r0_mm)
    material = Elastic(row.E_MPa, row.nu)
    return thin_layer_stiffness(surface, material, row.t_mm, np.zeros(3))


def _row_name(row: Any) -> str:
    return f"h = {row.h_mm:g} mm, E = {row.E_MPa:g} MPa, ν = {row.nu:g}"


def _table_centre() -> Compared:
    found, expected = {}, []
    for row in _rows():
        K = _row_stiffness(row)
        centre = centre_of_resistance(K, np.zeros(3))
        found[f"centre, {_row_name(row)}"] = 1 - centre.point[2] / row.h_mm
        sigma2 = rotation_parameter_mm2(K, np.zeros(3), np.eye(3)[0], np.eye(3)[2])
        found[f"σ²/h², {_row_name(row)}"] = sigma2 / row.h_mm**2
        expected += [row.centre_from_crest, row.sigma2_over_h2]
    return Compared(list(found.values()), expected, 1.0, list(found))


def _areas() -> Compared:
    return Compared(
        [paraboloid(15, 3.5).areas.sum(), paraboloid(11.5, 3.2).areas.sum()],
        [224.1, 158.2],
        1.0,
        ["h = 15 mm, r = 3.5 mm", "h = 11.5 mm, r = 3.2 mm"],
    )


def _cylinder(a: float, low: float, high: float) -> SurfacePoints:
    z, weights = gauss(6, low, high)
    normal = np.tile([1.0, 0.0], (len(z), 1))
    return revolved(np.full_like(z, a), z, normal, weights)


def _hemisphere(a: float) -> SurfacePoints:
    """Half a sphere about the origin, pointing to −z."""
    angle, weights = gauss(24, 0, np.pi / 2)
    normal = np.stack([np.sin(angle), -np.cos(angle)], axis=1)
    return revolved(a * normal[:, 0], a * normal[:, 1], normal, a * weights)


def _winkler() -> Compared:
    a, L, k_n, k_t = 1.3, 3.0, 3.0, 1.0
    side = thin_layer_stiffness(_cylinder(a, -L / 2, L / 2), _SPRINGS, 1.0, np.zeros(3))
    cap = thin_layer_stiffness(_hemisphere(a), _SPRINGS, 1.0, np.zeros(3))
    found = {
        "cylinder, lateral": (side[0, 0], np.pi * a * L * (k_n + k_t)),
        "cylinder, axial": (side[2, 2], 2 * np.pi * a * L * k_t),
        "cylinder, torsion": (side[5, 5], 2 * np.pi * a**3 * L * k_t),
        "cylinder, tilt": (
            side[3, 3],
            np.pi * a * L**3 * (k_n + k_t) / 12 + np.pi * a**3 * L * k_t,
        ),
        "hemisphere, lateral": (cap[0, 0], 2 * np.pi * a**2 / 3 * (k_n + 2 * k_t)),
        "hemisphere, axial": (cap[2, 2], 2 * np.pi * a**2 / 3 * (k_n + 2 * k_t)),
        "hemisphere, tilt": (cap[3, 3], 4 / 3 * np.pi * a**4 * k_t),
        "hemisphere, torsion": (cap[5, 5], 4 / 3 * np.pi * a**4 * k_t),
        "hemisphere, coupling": (cap[0, 4], -np.pi * a**3 * k_t),
    }
    computed, expected = zip(*found.values(), strict=True)
    return Compared(computed, expected, labels=list(found))


def _capsule_centre() -> Compared:
    """Cylinder of length 3 on a hemisphere, both of radius 1; depth from the sphere's centre."""
    parts = (_cylinder(1.0, 0.0, 3.0), _hemisphere(1.0))
    K = sum(thin_layer_stiffness(part, _SPRINGS, 1.0, np.zeros(3)) for part in parts)
    centre = centre_of_resistance(np.asarray(K), np.zeros(3))
    return Compared(centre.point[2], 1.10869565)


def _sphere_of_triangles() -> Compared:
    a, t, E, nu = 3.0, 0.2, 0.5, 0.3
    sphere = sphere_surface(a, 4)
    surface = triangle_quadrature(sphere.points, sphere.triangles)
    K = np.diag(thin_layer_stiffness(surface, Elastic(E, nu), t, np.zeros(3)))
    k_n = E * (1 - nu) / ((1 + nu) * (1 - 2 * nu)) / t
    k_t = E / (2 * (1 + nu)) / t
    translation = 4 * np.pi * a**2 / 3 * (k_n + 2 * k_t)
    rotation = 8 / 3 * np.pi * a**4 * k_t
    return Compared(
        K,
        3 * [translation] + 3 * [rotation],
        labels=[f"{kind} {axis}" for kind in ("translation", "rotation") for axis in "xyz"],
    )


THIN_CHECKS = (
    Check(
        id="paraboloid_stiffness",
        what="lateral, axial and rotational stiffness of a paraboloid root by thin-layer theory",
        code=f"{_THEORY}, fem.resistance.centre_of_resistance",
        kind=Kind.BENCHMARK,
        source="provatidis",
        place="table of six roots and materials; no published table was found",
        tolerance=5e-4,
        reason=_PRINTED,
        compute=_table_stiffness,
    ),
    Check(
        id="paraboloid_centre",
        what="centre of resistance from the crest over h, and σ²/h²",
        code="fem.resistance.centre_of_resistance, fem.resistance.rotation_parameter_mm2",
        kind=Kind.BENCHMARK,
        source="provatidis",
        place="table of six roots and materials; no published table was found",
        tolerance=6e-5,
        reason="four decimals are given",
        compute=_table_centre,
    ),
    Check(
        id="paraboloid_area",
        what="area of the paraboloids that the other checks integrate over, mm²",
        code="workflow.verification.layers_thin.paraboloid",
        kind=Kind.BENCHMARK,
        source="provatidis",
        place="areas of both roots (Archimedes' paraboloid)",
        tolerance=0.051,
        reason="one decimal is given",
        compute=_areas,
    ),
    Check(
        id="winkler_bodies",
        what="stiffness of a cylinder and a hemisphere on springs, N/mm, N and N·mm/rad",
        code=_THEORY,
        kind=Kind.BENCHMARK,
        source="winkler_layer",
        place="closed integrals",
        tolerance=1e-12,
        reason="the quadrature is exact for cylinder and sphere",
        compute=_winkler,
    ),
    Check(
        id="capsule_centre",
        what="centre of resistance of a capsule above its sphere's centre, mm",
        code=f"{_THEORY}, fem.resistance.centre_of_resistance",
        kind=Kind.BENCHMARK,
        source="winkler_layer",
        place="[(k_n + k_t) π a L²/2 − π a³ k_t] / [π a L (k_n + k_t) + (2πa²/3)(k_n + 2k_t)]",
        tolerance=1e-8,
        reason="nine digits are given",
        compute=_capsule_centre,
    ),
    Check(
        id="sphere_of_triangles",
        what="stiffness of a sphere on springs by flat triangles, N/mm and N·mm/rad",
        code="fem.thin_layer.triangle_quadrature",
        kind=Kind.BENCHMARK,
        source="winkler_layer",
        place="(4πa²/3)(k_n + 2k_t) and (8/3)πa⁴k_t",
        tolerance=1e-2,
        reason="the facets' area and radius, the latter to the fourth power",
        compute=_sphere_of_triangles,
    ),
)
