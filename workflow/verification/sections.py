"""Wire sections against torsion tables, shear factors and stiffness numbers."""

from __future__ import annotations

from fem.section import rectangular_section, round_section
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table

_INCH_MM = 25.4
_HEIGHT_MM = 0.4
_SERIES = "the table has twelve digits; the series is summed to rounding"


def _torsion_constant() -> Compared:
    table = reference_table("rectangle_torsion")
    shapes = [rectangular_section(ratio * _HEIGHT_MM, _HEIGHT_MM) for ratio in table.a_over_b]
    return Compared(
        [shape.torsion_mm4 for shape in shapes],
        table.beta * table.a_over_b * _HEIGHT_MM**4,
        labels=[f"a/b = {ratio:g}" for ratio in table.a_over_b],
    )


def _torsion_modulus() -> Compared:
    table = reference_table("rectangle_torsion")
    shapes = [rectangular_section(ratio * _HEIGHT_MM, _HEIGHT_MM) for ratio in table.a_over_b]
    return Compared(
        [shape.torsion_modulus_mm3 for shape in shapes],
        table.alpha * table.a_over_b * _HEIGHT_MM**3,
        labels=[f"a/b = {ratio:g}" for ratio in table.a_over_b],
    )


def _shear_factors() -> Compared:
    shapes = (rectangular_section(1, 2), round_section(1))
    return Compared(
        [shape.shear_factor(0.3) for shape in shapes],
        [0.8496732026, 0.8863636364],
        labels=["rectangle", "circle"],
    )


def _cross_section_numbers() -> Compared:
    unit = round_section(0.004 * _INCH_MM).I_height_mm4
    shapes = [rectangular_section(w * _INCH_MM, h * _INCH_MM) for w, h in _STIFFNESS_NUMBERS]
    computed = [(s.I_height_mm4 / unit, s.I_width_mm4 / unit) for s in shapes]
    labels = [
        f"{h:.3f} × {w:.3f} in, {order} order"
        for w, h in _STIFFNESS_NUMBERS
        for order in ("second", "first")
    ]
    return Compared(computed, list(_STIFFNESS_NUMBERS.values()), labels=labels)


_STIFFNESS_NUMBERS = {(0.022, 0.016): (597.57, 1129.79), (0.025, 0.017): (814.51, 1761.48)}

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
        what="shear factor κ at ν = 0.3",
        code="fem.section.Section.shear_factor",
        kind=Kind.BENCHMARK,
        source="cowper",
        place="formulas for the rectangle and the circle",
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
        place="cross-section stiffness numbers of 0.016 × 0.022 and 0.017 × 0.025 inch",
        tolerance=1e-5,
        reason="two decimals of numbers above 597",
        compute=_cross_section_numbers,
    ),
)
