"""Wire sections against torsion tables, shear factors, stiffness numbers and published bevels."""

from __future__ import annotations

import numpy as np

from fem.section import Section, rectangular_section, round_section
from workflow.units import MM_PER_INCH
from workflow.verification import sections_edges, sections_library, sections_slot
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table

_HEIGHT_MM = 0.4
_SERIES = "the table has twelve digits; the series is summed to rounding"
# Ratios of real wires, and β of each.
_WIRE_RATIOS = {
    "25/21": (25 / 21, 0.165016088084),
    "25/19": (25 / 19, 0.178683757906),
    "22/16": (22 / 16, 0.184539661858),
    "25/18": (25 / 18, 0.185860905507),
    "25/17": (25 / 17, 0.193252002999),
    "28/21.5": (28 / 21.5, 0.177300187817),
}


def _torsion_constant() -> Compared:
    table = reference_table("rectangle_torsion")
    shapes = [rectangular_section(ratio * _HEIGHT_MM, _HEIGHT_MM) for ratio in table.a_over_b]
    return Compared(
        [shape.torsion_mm4 for shape in shapes],
        table.beta * table.a_over_b * _HEIGHT_MM**4,
        labels=[f"a/b = {ratio:g}" for ratio in table.a_over_b],
    )


def _torsion_of_wires() -> Compared:
    found = []
    for ratio, _ in _WIRE_RATIOS.values():
        wide = rectangular_section(ratio * _HEIGHT_MM, _HEIGHT_MM).torsion_mm4
        upright = rectangular_section(_HEIGHT_MM, ratio * _HEIGHT_MM).torsion_mm4
        found += [wide / ratio / _HEIGHT_MM**4, upright / ratio / _HEIGHT_MM**4]
    exact = [beta for _, beta in _WIRE_RATIOS.values() for _ in range(2)]
    labels = [f"{name} {way}" for name in _WIRE_RATIOS for way in ("flat", "upright")]
    return Compared(found, exact, labels=labels)


def _torsion_modulus() -> Compared:
    table = reference_table("rectangle_torsion")
    shapes = [rectangular_section(ratio * _HEIGHT_MM, _HEIGHT_MM) for ratio in table.a_over_b]
    return Compared(
        [shape.torsion_modulus_mm3 for shape in shapes],
        table.alpha * table.a_over_b * _HEIGHT_MM**3,
        labels=[f"a/b = {ratio:g}" for ratio in table.a_over_b],
    )


_SHEAR_FACTORS = {  # ν: rectangle, circle
    0.0: (5 / 6, 6 / 7),
    0.3: (0.8496732026, 0.8863636364),
    1 / 3: (0.8510638298, 0.8888888889),
    0.5: (0.8571428571, 0.9),
}


def _shear_factors() -> Compared:
    shapes = (rectangular_section(1, 2), round_section(1))
    return Compared(
        [[shape.shear_factor(nu) for shape in shapes] for nu in _SHEAR_FACTORS],
        list(_SHEAR_FACTORS.values()),
        labels=[
            f"{name}, ν = {nu:.3g}" for nu in _SHEAR_FACTORS for name in ("rectangle", "circle")
        ],
    )


def _section(height_in: float, width_in: float) -> Section:
    if np.isnan(width_in):
        return round_section(height_in * MM_PER_INCH)
    return rectangular_section(width_in * MM_PER_INCH, height_in * MM_PER_INCH)


def _wires() -> tuple[list[Section], list[str]]:
    table = reference_table("wire_sections")
    sides = list(zip(table.height_in, table.width_in, strict=True))
    names = [f"{h:.3f} round" if np.isnan(w) else f"{h:.3f} × {w:.3f}" for h, w in sides]
    return [_section(*side) for side in sides], names


def _cross_section_numbers() -> Compared:
    unit = round_section(0.004 * MM_PER_INCH).I_height_mm4
    wires, names = _wires()
    table = reference_table("wire_sections")
    return Compared(
        [(s.I_height_mm4 / unit, s.I_width_mm4 / unit) for s in wires],
        table[["number_second", "number_first"]],
        scale=1.0,
        labels=[f"{name} in, {order} order" for name in names for order in ("second", "first")],
    )


def _wire_constants() -> Compared:
    wires, names = _wires()
    table = reference_table("wire_sections")
    return Compared(
        [(s.I_height_mm4, s.I_width_mm4) for s in wires],
        table[["I_height_mm4", "I_width_mm4"]],
        labels=[f"{name} in, {part}" for name in names for part in ("I height", "I width")],
    )


CHECKS = (
    Check(
        id="torsion_constant_rectangle",
        what="torsion constant J of rectangles, mm⁴",
        code="fem.section.rectangular_section",
        kind=Kind.BENCHMARK,
        source="timoshenko_goodier",
        place="table of β for a/b of 1 to 10; further digits from the series",
        tolerance=1e-9,
        reason=_SERIES,
        compute=_torsion_constant,
    ),
    Check(
        id="torsion_constant_wires",
        what="β of the side ratios of real wires, lying flat and upright",
        code="fem.section.rectangular_section",
        kind=Kind.BENCHMARK,
        source="saint_venant",
        place="J = β a b³ for six ratios",
        tolerance=1e-9,
        reason=_SERIES,
        compute=_torsion_of_wires,
    ),
    Check(
        id="torsion_modulus_rectangle",
        what="torsion modulus T/τ of rectangles, mm³",
        code="fem.section.rectangular_section",
        kind=Kind.BENCHMARK,
        source="timoshenko_goodier",
        place="table of α for a/b of 1 to 10; further digits from the series",
        tolerance=1e-8,
        reason="the table has ten digits",
        compute=_torsion_modulus,
    ),
    Check(
        id="shear_factors",
        what="shear factor κ at four Poisson's ratios",
        code="fem.section.Section.shear_factor",
        kind=Kind.BENCHMARK,
        source="cowper",
        place="formulas for the rectangle and the circle; ν = 0, 0.3, 1/3 and 0.5",
        tolerance=1e-9,
        reason="a closed form, given to ten digits",
        compute=_shear_factors,
    ),
    Check(
        id="cross_section_numbers",
        what="second moments relative to those of 0.004 inch round",
        code="fem.section.rectangular_section, fem.section.round_section",
        kind=Kind.BENCHMARK,
        source="burstone_1981",
        place="cross-section stiffness numbers of ten wires",
        tolerance=5e-3,
        reason="absolute: two decimals are given",
        compute=_cross_section_numbers,
    ),
    Check(
        id="wire_section_constants",
        what="second moments of ten wires, mm⁴",
        code="fem.section.rectangular_section, fem.section.round_section",
        kind=Kind.BENCHMARK,
        source="beam",
        place="w h³/12 and π d⁴/64, by hand",
        tolerance=5e-5,
        reason="five digits are given",
        compute=_wire_constants,
    ),
    *sections_edges.CHECKS,
    *sections_library.CHECKS,
    *sections_slot.CHECKS,
)
