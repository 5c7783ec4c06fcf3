"""Where beam theory holds: formula and rod against a three-dimensional solid on the same path.

Three models of one wire, clamped in the mean of its first section, loaded on its last:

* the formula of a thin wire, bending and twist only, small deflection (`thin_wire_stiffness`);
* the rod of `fem.rod`, which also shears and stretches and may turn as far as it likes;
* the solid of `fem.sweep_solid`.

Loops stand alone, without legs: legs dilute the error.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.integrate import simpson

from fem.fibre import Fibres, FibreSection, rectangular_fibres, round_fibres
from fem.fibre_rod import passive_fibre_rod
from fem.lead import NodeLead
from fem.load_history import Bench, begin, clamped_at, displace_to
from fem.material import Elastic
from fem.section import Section
from fem.sweep_compare import rod_tip_compliance
from fem.sweep_rotation import bend_to
from fem.sweep_solid import tip_response, wire_solid
from fem.uniaxial import LinearElastic
from geometry.wire_features import Helix
from geometry.wire_path import Bend, Feature, Straight, SweptWire, sweep

Array = NDArray[np.float64]

LOOPS = {"u_loop": np.pi, "helix": 2 * np.pi}
SHAPES = ("straight", *LOOPS)

_UP = np.array([0.0, 0.0, 1.0])
_CLEAR_PITCH = 1.2  # over the width, so that the turns of a helix pass each other
# A layer's turn, over the root of radius over height, with which the curve costs 1e-4 of the
# solid's stiffness (measured: as the fourth power of the turn and the square of the radius).
_LAYER_RAD, _LARGEST_LAYER_RAD = 0.17, 0.1
_COARSE, _FINE = (2, 2), (3, 3)  # elements over the section
_LAYER, _BENT_LAYER = 0.5, 1.0  # over the height; a slender straight wire needs fewer
_BENT_ELEMENTS = 60  # of the rod
_STEPS = 2


def beam_theory_table(
    shape: str, section: Section, material: Elastic, sizes: Sequence[float]
) -> pd.DataFrame:
    """Small-deflection stiffness of a straight wire or a loop by formula, rod and solid.

    Parameters
    ----------
    shape
        One of `SHAPES`; loops lie in the plane of the section's height.
    section, material
        The wire.
    sizes
        Span, or radius of the loop's axis, over the height.

    Returns
    -------
    DataFrame
        One row a size and direction of the force: the stiffnesses, the errors of formula and rod
        against the solid, Winkler's estimate of the rod's error in the plane of a loop, and the
        change of the solid's stiffness from a coarser mesh.

    Raises
    ------
    ValueError
        If the shape is not known, or a loop is so tight that the section reaches its centre.
    """
    if shape not in SHAPES:
        raise ValueError(f"shape {shape!r}: give one of {', '.join(SHAPES)}")
    return pd.DataFrame(
        [row for size in sizes for row in _both_directions(shape, section, material, size)]
    )


def _both_directions(
    shape: str, section: Section, material: Elastic, size: float
) -> Iterator[dict[str, float | str]]:
    """Rows of one wire: a force on its tip in the plane of the height, and across it."""
    wire = _path(shape, section, size, 1)
    twice = _path(shape, section, size, 2)
    fine = wire_solid(wire, section, material, _FINE)
    coarse = wire_solid(twice, section, material, _COARSE)
    compliances = [tip_response(solid)[0][:3, :3] for solid in (fine, coarse)]
    compliances.append(rod_tip_compliance(wire, section, material)[:3, :3])
    for direction, axis in (("in_plane", 2), ("out_of_plane", 1)):
        across = wire.axes[-1][:, axis]
        solid, rough, rod = (1 / float(across @ C @ across) for C in compliances)
        formula = thin_wire_stiffness(wire, section, material, across)
        curved = shape in LOOPS and direction == "in_plane"
        yield {
            "shape": shape,
            "direction": direction,
            "height_mm": section.height_mm,
            "size_over_height": size,
            "formula_N_per_mm": formula,
            "rod_N_per_mm": rod,
            "solid_N_per_mm": solid,
            "formula_error_percent": 100 * (formula / solid - 1),
            "rod_error_percent": 100 * (rod / solid - 1),
            "winkler_percent": winkler_percent(section, size) if curved else np.nan,
            "mesh_change_percent": 100 * (solid / rough - 1),
            "unknowns": fine.unknowns,
        }


def thin_wire_stiffness(
    wire: SweptWire, section: Section, material: Elastic, direction: Array
) -> float:
    """Stiffness (N/mm) of a thin wire against a force on its tip, small deflection.

    Castigliano, with the moments M₂, M₃ and T of a unit force about the section's axes,

        ``1/k = ∫ (M₂²/E I₂ + M₃²/E I₃ + T²/G J) ds``,

    which is ``3 E I/L³`` for a straight wire and ``2 E I/(φ R³)`` for a loop of angle φ = π or 2π
    in its plane. Shear, stretch and the curve's own stiffening are left out.

    Parameters
    ----------
    wire
        Path.
    section, material
        The wire.
    direction
        Unit vector of the force, (3,).
    """
    moments = np.cross(wire.tip - wire.points, direction)
    twist, second, third = np.einsum("nij,ni->jn", wire.axes, moments)
    law = section.stiffness(material)[3:]
    return 1 / float(
        simpson(twist**2 / law[0] + second**2 / law[1] + third**2 / law[2], wire.arc_mm)
    )


def winkler_percent(section: Section, radius_over_height: float) -> float:
    """Percent by which the rod is too soft, below zero, in a loop loaded in its plane at its end.

    In a bend the stress is hyperbolic over the height, and bending goes with stretch. Where the
    normal force is ``N = M/R``, as in a loop loaded across its end, Winkler's energy is
    ``M²/2 E I_w`` with ``I_w = ∫ y²/(1 − y/R) dA``; a straight-beam law has
    ``M²/2 E I + N²/2 E A``, so the rod's stiffness over Winkler's is ``(I/I_w)/(1 + I/A R²)``
    (Winkler–Bach theory, textbook; this form derived). With x = h/2R the ratio I_w/I is
    ``3 (artanh x − x)/x³`` for a rectangle, ``(4/x²) [2 (1 − √(1 − x²))/x² − 1]`` for a disc.
    Shear is left out: it is not the same in a bend either.
    """
    x = 0.5 / radius_over_height
    if section.kind == "round":
        ratio = 4 / x**2 * (2 * (1 - np.sqrt(1 - x**2)) / x**2 - 1)
    else:
        ratio = 3 * (np.arctanh(x) - x) / x**3
    radius = radius_over_height * section.height_mm
    stretch = section.I_height_mm4 / (section.area_mm2 * radius**2)
    return float(100 * (1 / (ratio * (1 + stretch)) - 1))


def large_bending_table(
    section: Section, material: Elastic, span_over_height: float, deflections: Sequence[float]
) -> pd.DataFrame:
    """Force that holds a straight cantilever deflected, by formula, rod and solid.

    The tip is moved across the wire and is free along it and to turn. Elastic throughout.

    Parameters
    ----------
    section, material
        The wire.
    span_over_height
        Its slenderness.
    deflections
        Deflection of the tip over the span.

    Returns
    -------
    DataFrame
        One row a deflection; columns as in `beam_theory_table`, and the solid's largest strain.
    """
    span = span_over_height * section.height_mm
    wire = sweep(
        (Straight(span),), np.zeros(3), np.eye(3), piece_mm=_BENT_LAYER * section.height_mm
    )
    rough, fine = (wire_solid(wire, section, material, n) for n in (_COARSE, _FINE))
    stiffness = thin_wire_stiffness(wire, section, material, _UP)
    rows = []
    for share in deflections:
        by = share * span
        bent = bend_to(fine, by, _UP, steps=_STEPS)
        solid, coarse = (
            float(bent.force_N[2]),
            float(bend_to(rough, by, _UP, steps=_STEPS).force_N[2]),
        )
        formula, rod = stiffness * by, rod_force_N(section, material, span, by)
        rows.append(
            {
                "span_mm": span,
                "span_over_height": span_over_height,
                "deflection_over_span": share,
                "formula_N": formula,
                "rod_N": rod,
                "solid_N": solid,
                "formula_error_percent": 100 * (formula / solid - 1),
                "rod_error_percent": 100 * (rod / solid - 1),
                "mesh_change_percent": 100 * (solid / coarse - 1),
                "largest_strain": bent.largest_strain,
                "unknowns": fine.unknowns,
            }
        )
    return pd.DataFrame(rows)


def rod_force_N(section: Section, material: Elastic, span_mm: float, deflection_mm: float) -> float:
    """Force that holds the tip of a straight elastic rod, finite rotation, deflected."""
    x = np.linspace(0.0, span_mm, _BENT_ELEMENTS + 1)
    axes = np.tile(np.eye(3), (len(x), 1, 1))
    law = FibreSection(_elastic_fibres(section), LinearElastic(material.youngs_modulus_MPa))
    points = np.column_stack([x, np.zeros((len(x), 2))])
    wire, state = passive_fibre_rod(points, axes, np.diff(x), law, section.stiffness(material)[1:4])
    bench = Bench(wire, clamped_at(len(x), 0), NodeLead(len(x) - 1, _UP))
    return float(displace_to(bench, begin(bench, state), deflection_mm, _STEPS).force_N[-1])


def _elastic_fibres(section: Section) -> Fibres:
    """Few fibres: second moments are exact whatever their number."""
    if section.kind == "round":
        return round_fibres(section.height_mm, 4, 9)
    return rectangular_fibres(section.width_mm, section.height_mm, across_height=4)


def _path(shape: str, section: Section, size: float, coarser: int) -> SweptWire:
    height, features = section.height_mm, _features(shape, section, size)
    # A short or tight wire still gets layers enough for its ends and its curve.
    longest = coarser * min(_LAYER, size / 8) * height
    turn = coarser * min(_LARGEST_LAYER_RAD, _LAYER_RAD / np.sqrt(size))
    return sweep(features, np.zeros(3), np.eye(3), piece_mm=longest, largest_turn_rad=turn)


def _features(shape: str, section: Section, size: float) -> tuple[Feature, ...]:
    length = size * section.height_mm
    if shape == "straight":
        return (Straight(length),)
    if shape == "u_loop":
        return (Bend(LOOPS[shape], length, "width"),)
    return (Helix(1.0, length, _CLEAR_PITCH * section.width_mm, "height"),)
