"""A wire in a tube with a hook at its end, and a wire on two supports, against beam theory."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Unit
from fem.cantilever import SolvedCantilever, solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.closed_form import TwoPointCantilever
from fem.fibre import FibreSection, rectangular_fibres, round_strips
from fem.load_history import displace_to
from fem.material import Elastic
from fem.rod import section_resultants
from fem.section import Section, rectangular_section, round_section
from fem.three_point import three_point_bench
from fem.uniaxial import LinearElastic
from fem.wire_solid import SolidWire, solid_two_point_cantilever
from workflow.verification.check import Check, Compared, Kind

Array = NDArray[np.float64]

BASE_MM = 4.0
SECTION = rectangular_section(0.635, 0.4318)  # 0.017 × 0.025 in
BETA_TITANIUM = Elastic(65e3, 0.3)
ALONG, ASIDE, UP = np.eye(3)

_EI = 65e3 * 0.635 * 0.4318**3 / 12
_AREA = 0.635 * 0.4318
_KAPPA_GA = 10 * 1.3 / (12 + 11 * 0.3) * 65e3 / 2.6 * _AREA  # Cowper's factor at ν = 0.3
_SPANS = (6.0, 12.0, 20.0, 30.0)
_SOFT = np.diag([200.0, 200, 100, 3000, 3000, 800])


def tube_cantilever(
    span_mm: float = 20.0,
    *,
    material: Elastic = BETA_TITANIUM,
    bar: Array | None = ALONG,
    tip_deg: float = 0.0,
    stiffness: tuple[Array | None, Array | None] = (None, None),
) -> Cantilever:
    """A wire of 0.017 × 0.025 inch from a tube of 4 mm to a hook that activates it upward.

    Parameters
    ----------
    span_mm
        From the tube's mouth to the hook.
    material
        Of the wire.
    bar
        Direction of the hook's bar, (3,); None for a tied wire.
    tip_deg
        Angle of the tube in the plane of activation.
    stiffness
        Supports of the tube and the hook, (6, 6); None where fixed.
    """
    a = np.radians(tip_deg)
    axes = np.column_stack([[np.cos(a), 0, -np.sin(a)], ASIDE, [np.sin(a), 0, np.cos(a)]])
    mouths = (np.zeros(3), BASE_MM * axes[:, 0])
    hook = mouths[1] + span_mm * ALONG
    sites = CantileverSites(mouths, axes, hook, bar, UP)
    units = (Unit("tooth", np.zeros(3), stiffness[0]), Unit("anchor", hook, stiffness[1]))
    return Cantilever(sites, WireDesign(SECTION, material, 1.0, 40), units)


def hook_force_N(solved: SolvedCantilever) -> float:
    """Size of the force on the hook."""
    return float(np.linalg.norm(solved.force_on_hook_N()))


@cache
def _activated(span_mm: float, shear_rigid: bool = False) -> SolvedCantilever:
    """By a thousandth of the span."""
    design = tube_cantilever(span_mm)
    wire = replace(design.wire, shear_rigid=shear_rigid)
    return solve_for_offset(replace(design, wire=wire), 1e-3 * span_mm)


def _rate(solved: SolvedCantilever) -> float:
    return hook_force_N(solved) / solved.offset_mm


def _thin_rate(L: float) -> float:
    return 3 * _EI / (L**2 * (L + BASE_MM))


def _sheared_rate(L: float) -> float:
    """Shear force F over the span, F L/b over the tube."""
    return 1 / (1 / _thin_rate(L) + L * (1 + L / BASE_MM) / _KAPPA_GA)


def _two_point_rates() -> Compared:
    found = [_rate(_activated(L, True)) for L in (20.0, 30.0)]
    return Compared(found, [_thin_rate(L) for L in (20.0, 30.0)], labels=["L = 20", "L = 30"])


def _sheared_rates() -> Compared:
    found = [_rate(_activated(L)) for L in _SPANS]
    return Compared(
        found, [_sheared_rate(L) for L in _SPANS], labels=[f"L = {L:g}" for L in _SPANS]
    )


def _formulas() -> Compared:
    """The formulas of `fem.closed_form`, which the bilinear model and the reports use."""
    found: list[float] = []
    exact: list[float] = []
    for L in _SPANS:
        beam = TwoPointCantilever(SECTION, BETA_TITANIUM, L, BASE_MM)
        found += [beam.stiffness_N_per_mm, beam.timoshenko_stiffness_N_per_mm]
        found += [*beam.contact_forces_N(0.3), beam.couple_Nmm(0.3), beam.peak_stress_MPa(0.3)]
        exact += [_thin_rate(L), _sheared_rate(L)]
        exact += [0.3 * L / BASE_MM, 0.3 * (L + BASE_MM) / BASE_MM]
        exact += [0.3 * (L + BASE_MM / 2), 0.3 * L / (0.635 * 0.4318**2 / 6)]
    names = ("3EI/(L²(L+b))", "with shear", "F L/b", "F (L+b)/b", "couple", "stress")
    return Compared(found, exact, labels=[f"{n}, L = {L:g}" for L in _SPANS for n in names])


def _contact_forces() -> Compared:
    solved = _activated(20.0)
    across = [np.linalg.norm(load.wrench[:3]) for load in solved.equilibrium.loads[:2]]
    F = hook_force_N(solved)
    return Compared(across, [F * 20 / 4, F * 24 / 4], labels=["distal", "mesial"])


def _mouth_stress() -> Compared:
    solved = _activated(20.0)
    resultants = section_resultants(solved.appliance.rod, solved.equilibrium.state)
    expected = hook_force_N(solved) * 20 / (0.635 * 0.4318**2 / 6)
    return Compared(SECTION.peak_stress_MPa(resultants).max(), expected)


def _tube_wires() -> dict[str, SolvedCantilever]:
    """On a bar and tied, tube level and tipped, both units moving, activated by 5 mm."""
    return {
        f"{name}, {tip:g}°": solve_for_offset(
            tube_cantilever(18.0, bar=bar, tip_deg=tip, stiffness=(_SOFT, 3 * _SOFT)), 5.0
        )
        for name, bar in (("bar", ALONG), ("tied", None))
        for tip in (0.0, 25.0)
    }


def _free_body() -> Compared:
    """Forces over the hook's force, moments over that force at an arm of 10 mm."""
    point, found, labels = np.array([7.0, -3.0, 11.0]), [], []
    for name, solved in _tube_wires().items():
        total = sum((solved.equilibrium.wrench_on(u, point) for u in (0, 1)), np.zeros(6))
        found.append(total / hook_force_N(solved) / [1, 1, 1, 10, 10, 10])
        labels += [f"{part}, {name}" for part in ("Fx", "Fy", "Fz", "Mx", "My", "Mz")]
    return Compared(found, 0.0, scale=1.0, labels=labels)


@cache
def _solid(span_mm: float) -> SolidWire:
    return solid_two_point_cantilever(SECTION, BETA_TITANIUM, span_mm, BASE_MM)


def _solid_rates() -> Compared:
    found = [_solid(L).stiffness_N_per_mm for L in (10.0, 20.0)]
    return Compared(found, [_sheared_rate(L) for L in (10.0, 20.0)], labels=["L = 10", "L = 20"])


def _solid_line() -> Compared:
    solid = _solid(20.0)
    inside = (solid.positions_mm > 0.5) & (solid.positions_mm < BASE_MM - 0.5)
    x = solid.positions_mm[inside]
    expected = -20.0 * x * (BASE_MM**2 - x**2) / (6 * _EI * BASE_MM)
    largest = float(np.abs(solid.deflection_mm_per_N).max())
    labels = [f"x = {place:.2f} mm" for place in x]
    return Compared(solid.deflection_mm_per_N[inside], expected, scale=largest, labels=labels)


def three_point_stiffness(section: Section, E: float, shear_rigid: bool) -> float:
    """Force of the indenter over its deflection, small, on a span of 10 mm (N/mm)."""
    size = (section.width_mm, section.height_mm)
    round_wire = section.kind == "round"
    fibres = round_strips(section.height_mm) if round_wire else rectangular_fibres(*size)
    law = section.stiffness(Elastic(E, 0.3)) * [1, *[1e4 if shear_rigid else 1] * 2, 1, 1, 1]
    bench, history = three_point_bench(FibreSection(fibres, LinearElastic(E)), law[1:4])
    history = displace_to(bench, history, 1e-3, 1)
    return float(2 * history.force_N[-1] / history.displacement_mm[-1])


def _three_point() -> Compared:
    E, G, d, w, h = 170e3, 170e3 / 2.6, 0.4572, 0.5588, 0.4064
    found = [
        three_point_stiffness(section, E, False)
        for section in (round_section(d), rectangular_section(w, h))
    ]
    shapes = (
        (np.pi * d**4 / 64, 7.8 / 8.8, np.pi * d**2 / 4),  # I, κ of Cowper at ν = 0.3, A
        (w * h**3 / 12, 13 / 15.3, w * h),
    )
    exact = [1 / (1000 / (48 * E * inertia) + 10 / (4 * k * G * A)) for inertia, k, A in shapes]
    return Compared(found, exact, labels=["0.018 in round", "0.016 × 0.022 in"])


def _three_point_numbers() -> Compared:
    numbers = {
        "steel 0.016 × 0.022 in": (rectangular_section(0.5588, 0.4064), 170e3, 25.5),
        "steel 0.018 in round": (round_section(0.4572), 170e3, 17.5),
        "steel 0.019 × 0.025 in": (rectangular_section(0.635, 0.4826), 170e3, 48.5),
        "titanium–molybdenum 0.017 × 0.025 in": (SECTION, 65e3, 13.3),
    }
    found = [three_point_stiffness(section, E, True) for section, E, _ in numbers.values()]
    return Compared(found, [k for _, _, k in numbers.values()], scale=1.0, labels=list(numbers))


CHECKS = (
    Check(
        id="two_point_cantilever",
        what="force per mm at the hook of a wire held at two points of a tube, N/mm",
        code="fem.cantilever.solve_for_offset",
        kind=Kind.CODE,
        source="beam",
        place="3EI/(L²(L + b)), b = 4 mm, L = 20 and 30 mm; shear suppressed",
        tolerance=1e-4,
        reason="activation of a thousandth of the span; 40 elements",
        compute=_two_point_rates,
    ),
    Check(
        id="two_point_cantilever_with_shear",
        what="the same with shear, N/mm",
        code="fem.cantilever.solve_for_offset, fem.section.Section.stiffness",
        kind=Kind.CODE,
        source="beam",
        place="1/k = L²(L + b)/3EI + L(1 + L/b)/κGA, L = 6 to 30 mm, Cowper's factor",
        tolerance=1e-4,
        reason="activation of a thousandth of the span; 40 elements",
        compute=_sheared_rates,
    ),
    Check(
        id="two_point_formulas",
        what="rates, contact forces, couple and stress that the reports state by formula",
        code="fem.closed_form.TwoPointCantilever",
        kind=Kind.CODE,
        source="beam",
        place="a beam over two supports, L = 6 to 30 mm, written out by hand",
        tolerance=1e-12,
        reason="the same closed forms",
        compute=_formulas,
    ),
    Check(
        id="tube_contact_forces",
        what="forces at both ends of the tube over those of statics",
        code="fem.cantilever.solve_for_offset",
        kind=Kind.CODE,
        source="statics",
        place="F L/b and F (L + b)/b, b = 4 mm, L = 20 mm",
        tolerance=1e-4,
        reason="activation of a thousandth of the span",
        compute=_contact_forces,
    ),
    Check(
        id="stress_at_the_mouth",
        what="greatest bending stress of a wire in a tube, MPa",
        code="fem.rod.section_resultants, fem.section.Section.peak_stress_MPa",
        kind=Kind.CODE,
        source="beam",
        place="6 F L/(w h²) at the mouth",
        tolerance=1e-4,
        reason="activation of a thousandth of the span",
        compute=_mouth_stress,
    ),
    Check(
        id="tube_free_body",
        what="sum of what a wire exerts on tube and hook, over the hook's force (arm 10 mm)",
        code="fem.cantilever.solve_for_offset, fem.appliance.Equilibrium.wrench_on",
        kind=Kind.CODE,
        source="statics",
        place="bar and tie, tube level and tipped by 25°, both units moving, bent by 5 of 18 mm",
        tolerance=1e-7,
        reason="the residual at which Newton's method stops",
        compute=_free_body,
    ),
    Check(
        id="solid_two_point_cantilever",
        what="force per mm of the wire as a three-dimensional solid on the same supports, N/mm",
        code="fem.wire_solid.solid_two_point_cantilever",
        kind=Kind.CODE,
        source="beam",
        place="1/k = L²(L + b)/3EI + L(1 + L/b)/κGA, L = 10 and 20 mm, Cowper's factor",
        tolerance=1e-2,
        reason="beam theory knows no local contraction at supports, a share of order (h/b)²",
        compute=_solid_rates,
    ),
    Check(
        id="solid_deflection_line",
        what="deflection of the solid between the contacts, over that of its tip",
        code="fem.wire_solid.solid_two_point_cantilever",
        kind=Kind.CODE,
        source="beam",
        place="F L x (x² − b²)/(6 E I b)",
        tolerance=1e-3,
        reason="shear, which the formula leaves out, and the supports' own contraction",
        compute=_solid_line,
    ),
    Check(
        id="three_point_bending",
        what="small-deflection stiffness in three-point bending, N/mm",
        code="fem.three_point.three_point_bench, fem.load_history.displace_to",
        kind=Kind.CODE,
        source="beam",
        place="1/k = L³/48EI + L/4κGA, span 10 mm, round and rectangular",
        tolerance=1e-5,
        reason="deflection of a 10000th of the span; fourth order",
        compute=_three_point,
    ),
    Check(
        id="three_point_numbers",
        what="48EI/L³ of four wires in three-point bending, N/mm",
        code="fem.three_point.three_point_bench, fem.load_history.displace_to",
        kind=Kind.BENCHMARK,
        source="iso_15841",
        place="span of 10 mm; numbers by beam theory, one decimal",
        tolerance=0.05,
        reason="absolute, N/mm: one decimal is given; shear is suppressed as the formula does",
        compute=_three_point_numbers,
    ),
)
