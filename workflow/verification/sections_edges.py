"""Rounded edges, fibres and stresses of sections against areas, moments and textbooks."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fem.fibre import corner_radius_for_area, rectangular_fibres, round_fibres, round_strips
from fem.section import Section, rectangle_moments, rectangular_section, round_section
from workflow.units import MM_PER_INCH
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table

_BEVELLED = ((0.025, 0.019), (0.022, 0.016), (0.025, 0.017))


def _fibre_numbers() -> Compared:
    unit = round_strips(0.004 * MM_PER_INCH).I_height_mm4
    table = reference_table("wire_sections").dropna()
    sides = zip(table.width_in * MM_PER_INCH, table.height_in * MM_PER_INCH, strict=True)
    fibres = [rectangular_fibres(w, h) for w, h in sides]
    return Compared(
        [(f.I_height_mm4 / unit, f.I_width_mm4 / unit) for f in fibres],
        table[["number_second", "number_first"]],
        scale=1.0,
    )


def _bevels() -> Compared:
    """Distance of the lost stiffness to the published range, where 7.5 % of the area is lost."""
    found: list[float] = []
    for sides in _BEVELLED:
        width, height = (side * MM_PER_INCH for side in sides)
        radius = corner_radius_for_area(width, height, 0.075)
        sharp = rectangular_section(width, height)
        real = rectangular_section(width, height, radius)
        fibres = rectangular_fibres(width, height, corner_radius_mm=radius)
        found += [1 - real.I_height_mm4 / sharp.I_height_mm4]
        found += [1 - real.I_width_mm4 / sharp.I_width_mm4]
        found += [1 - fibres.I_height_mm4 / sharp.I_height_mm4]
        found += [1 - fibres.I_width_mm4 / sharp.I_width_mm4]
    labels = [
        f"{h:.3f} × {w:.3f} in, {model}, {plane}"
        for w, h in _BEVELLED
        for model in ("section", "fibres")
        for plane in ("height", "width")
    ]
    note = f"{100 * min(found):.1f} to {100 * max(found):.1f} % of the stiffness"
    return Compared(found, np.clip(found, 0.15, 0.19), scale=1.0, labels=labels, note=note)


def _bevel_area() -> Compared:
    found = []
    for sides in _BEVELLED:
        width, height = (side * MM_PER_INCH for side in sides)
        radius = corner_radius_for_area(width, height, 0.075)
        found.append(rectangular_section(width, height, radius).area_mm2 / (width * height))
        fibres = rectangular_fibres(width, height, corner_radius_mm=radius)
        found.append(fibres.area_mm2.sum() / (width * height))
    return Compared(found, 0.925)


def _round_ends() -> Compared:
    """A square between two half circles: second moments by parallel axes."""
    r, side = 0.2, 0.4
    centroid = 4 * r / (3 * np.pi)
    half = np.pi * r**4 / 8 - np.pi * r**2 / 2 * centroid**2
    ends = 2 * (half + np.pi * r**2 / 2 * (side / 2 + centroid) ** 2)
    exact = [
        side**2 + np.pi * r**2,
        side**4 / 12 + np.pi * r**4 / 4,
        side**4 / 12 + ends,
    ]
    return Compared(rectangle_moments(0.8, 0.4, r), exact, labels=["area", "I height", "I width"])


def _full_round() -> Compared:
    """A square rounded to the full, by the series of rounded corners, is a circle."""
    s, d = rectangular_section(0.5, 0.5, 0.25), 0.5
    found = [s.area_mm2, s.I_height_mm4, s.I_width_mm4, s.torsion_mm4, s.torsion_modulus_mm3]
    inertia = np.pi * d**4 / 64
    exact = [np.pi * d**2 / 4, inertia, inertia, 2 * inertia, np.pi * d**3 / 16]
    return Compared(found, exact, labels=["A", "I height", "I width", "J", "torsion modulus"])


def _round_fibre_ends() -> Compared:
    found, exact, r = [], [], 0.2
    circle, square = np.pi * r**4 / 4, (2 * r) ** 4 / 12
    for n in (32, 33, 144):
        for width, inertia in ((2 * r, circle), (4 * r, circle + square)):
            fibres = rectangular_fibres(width, 2 * r, across_height=n, corner_radius_mm=r)
            found.append(fibres.I_height_mm4)
            exact.append(inertia)
    return Compared(found, exact)


def _round_fibres() -> Compared:
    """Area and both second moments, exact whatever the number of fibres."""
    found, exact, d = [], [], 0.4
    inertia = np.pi * d**4 / 64
    for fibres in (round_fibres(d), round_fibres(d, 4, 9), round_strips(d)):
        found.append((fibres.area_mm2.sum(), fibres.I_height_mm4, fibres.I_width_mm4))
        exact.append((np.pi * d**2 / 4, inertia, inertia))
    return Compared(found, exact)


def _inertia(base: float, side: float, radius: float) -> float:
    """Second moment in the plane of the side: strips of the straight part, then of the corners."""
    t, weight = np.polynomial.legendre.leggauss(40)
    t, weight = np.pi / 4 * (1 + t), np.pi / 4 * weight
    straight = 2 * base * (side / 2 - radius) ** 3 / 3
    half = base / 2 - radius + radius * np.cos(t)
    away = side / 2 - radius + radius * np.sin(t)
    return float(straight + 4 * weight @ (half * away**2 * radius * np.cos(t)))


def _extreme_fibres() -> Compared:
    """Greatest of M₂ x₃/I₂ + M₃ x₂/I₃ over points of the edge, second moments by quadrature."""
    found, exact, labels = [], [], []
    t = np.linspace(0, np.pi / 2, 2001)
    for radius in (0.0, 0.1, 0.2):
        section = rectangular_section(0.6, 0.4, radius)
        I_height, I_width = _inertia(0.6, 0.4, radius), _inertia(0.4, 0.6, radius)
        x2, x3 = 0.3 - radius + radius * np.cos(t), 0.2 - radius + radius * np.sin(t)
        for degrees in (0, 20, 45, 70, 90):
            M2, M3 = 3 * np.cos(np.radians(degrees)), 3 * np.sin(np.radians(degrees))
            found.append(section.peak_stress_MPa(np.array([0, 0, 0, 0, M2, M3])))
            exact.append((M2 * x3 / I_height + M3 * x2 / I_width).max())
            labels.append(f"r = {radius}, {degrees}°")
    return Compared(found, exact, labels=labels)


def _textbook_stress() -> Compared:
    rectangle, circle = rectangular_section(0.6, 0.4), round_section(0.5)

    def stress(section: Section, resultants: ArrayLike) -> float:
        return float(section.peak_stress_MPa(np.asarray(resultants, dtype=float)))

    found = [
        stress(rectangle, [0, 0, 0, 0, 2, 0]),
        stress(circle, [0, 0, 0, 0, 3, 4]),
        stress(circle, [0, 0, 0, 1, 0, 0]),
    ]
    d3 = np.pi * 0.5**3
    exact = [6 * 2 / (0.6 * 0.4**2), 32 * 5 / d3, np.sqrt(3) * 16 / d3]
    labels = ["6M/(b h²)", "32M/(π d³)", "√3 · 16T/(π d³)"]
    return Compared(found, exact, labels=labels)


CHECKS = (
    Check(
        id="cross_section_numbers_fibres",
        what="second moments of fibre sections relative to those of 0.004 inch round",
        code="fem.fibre.rectangular_fibres, fem.fibre.round_strips",
        kind=Kind.BENCHMARK,
        source="burstone_1981",
        place="cross-section stiffness numbers of six rectangular wires",
        tolerance=5e-3,
        reason="absolute: two decimals are given",
        compute=_fibre_numbers,
    ),
    Check(
        id="rounded_edges_stiffness",
        what="share of the bending stiffness that rounded edges cost",
        code="fem.section.rectangular_section, fem.fibre.rectangular_fibres",
        kind=Kind.BENCHMARK,
        source="rucker_kusy",
        place="rectangular wires lose 7 to 8 % of the area and 15 to 19 % of the stiffness",
        tolerance=0.0,
        reason="within the published range the error is 0",
        compute=_bevels,
    ),
    Check(
        id="rounded_edges_area",
        what="area of wires rounded to lose 7.5 % of it, over the sharp area",
        code="fem.fibre.corner_radius_for_area, fem.section.rectangular_section",
        kind=Kind.CODE,
        source="section_geometry",
        place="section and fibres of three wires",
        tolerance=1e-12,
        reason="rounding",
        compute=_bevel_area,
    ),
    Check(
        id="round_ends",
        what="area and second moments of a wire with round ends, mm² and mm⁴",
        code="fem.section.rectangle_moments",
        kind=Kind.CODE,
        source="section_geometry",
        place="half circles on a square, parallel axes",
        tolerance=1e-12,
        reason="rounding",
        compute=_round_ends,
    ),
    Check(
        id="square_rounded_to_a_circle",
        what="all constants of a square whose corners are rounded to the full",
        code="fem.section.rectangular_section",
        kind=Kind.CODE,
        source="section_geometry",
        place="π d²/4, π d⁴/64, π d⁴/32 and π d³/16 of the circle",
        tolerance=1e-10,
        reason="the series for rounded corners, summed to rounding",
        compute=_full_round,
    ),
    Check(
        id="fibres_with_round_ends",
        what="second moments of fibre sections with round ends and of the full circle, mm⁴",
        code="fem.fibre.rectangular_fibres",
        kind=Kind.CODE,
        source="section_geometry",
        place="circle, and half circles on a square; 32, 33 and 144 fibres",
        tolerance=1e-9,
        reason="fibres are placed so that second moments are exact",
        compute=_round_fibre_ends,
    ),
    Check(
        id="round_fibres",
        what="area and second moments of round fibre sections, mm² and mm⁴",
        code="fem.fibre.round_fibres, fem.fibre.round_strips",
        kind=Kind.CODE,
        source="section_geometry",
        place="π d²/4 and π d⁴/64, few fibres and many",
        tolerance=1e-9,
        reason="fibres are placed so that second moments are exact",
        compute=_round_fibres,
    ),
    Check(
        id="extreme_fibre_stress",
        what="greatest bending stress of sharp and rounded wires in oblique bending, MPa",
        code="fem.section.Section.peak_stress_MPa",
        kind=Kind.CODE,
        source="beam",
        place="M₂ x₃/I₂ + M₃ x₂/I₃ along the edge",
        tolerance=1e-6,
        reason="the edge is walked in 2000 steps",
        compute=_extreme_fibres,
    ),
    Check(
        id="textbook_stresses",
        what="greatest stress of a rectangle and a circle in bending and torsion, MPa",
        code="fem.section.Section.peak_stress_MPa",
        kind=Kind.CODE,
        source="beam",
        place="6M/(b h²), 32M/(π d³), √3 · 16T/(π d³) (von Mises)",
        tolerance=1e-12,
        reason="rounding",
        compute=_textbook_stress,
    ),
)
