"""Simple formulas of straight wires against the rod: bent far, in a tube, in a tube with play."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from fem.appliance import Unit
from fem.batch import solve_batch
from fem.cantilever_contacts import engage_with_play
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.closed_form import TwoPointCantilever
from fem.material import Elastic
from fem.section import Section
from workflow.beam_theory import rod_force_N

Array = NDArray[np.float64]

_ALONG, _ACROSS, _UP = np.eye(3)
_ELEMENTS = 40
_BEND_RADIUS_MM = 0.5


def clamp_stiffness_N_per_mm(section: Section, material: Elastic, span_mm: float) -> float:
    """Tip stiffness ``3 E I/L³`` of a thin clamped wire, small deflection."""
    return 3 * material.youngs_modulus_MPa * section.I_height_mm4 / span_mm**3


def bending_map(
    section: Section,
    material: Elastic,
    spans_over_height: Sequence[float],
    deflections_over_span: Sequence[float],
) -> pd.DataFrame:
    """Force that holds a clamped straight wire deflected: ``3 E I δ/L³`` against the rod.

    The rod shears, stretches and turns as far as it likes; its tip is moved across the wire and is
    free along it and to turn. Elastic throughout.

    Returns
    -------
    DataFrame
        One row a span and deflection.
    """
    rows = []
    for slenderness in spans_over_height:
        span = slenderness * section.height_mm
        stiffness = clamp_stiffness_N_per_mm(section, material, span)
        for share in deflections_over_span:
            formula = stiffness * share * span
            rod = rod_force_N(section, material, span, share * span)
            rows.append(
                {
                    "span_over_height": slenderness,
                    "span_mm": span,
                    "deflection_percent": 100 * share,
                    "formula_N": formula,
                    "rod_N": rod,
                    "error_percent": 100 * (formula / rod - 1),
                }
            )
    return pd.DataFrame(rows)


def yield_deflection_percent(yield_strain: float, span_over_height: float) -> float:
    """Deflection over span, percent, at which a clamped wire's surface strain reaches a value.

    ``δ/L = (2/3) ε L/h``: small deflection.
    """
    return 100 * 2 / 3 * yield_strain * span_over_height


def straight_in_tube(
    section: Section, material: Elastic, span_mm: float, tube_mm: float
) -> Cantilever:
    """A straight wire in an immovable tube, pulled up square to itself, free to slide lengthwise.

    The mesial mouth is the origin, the wire runs along x and its height along z.
    """
    sites = CantileverSites(
        mouths=(-tube_mm * _ALONG, np.zeros(3)),
        tube_axes=np.eye(3),
        hook=span_mm * _ALONG,
        bar=_ALONG,
        activation=_UP,
    )
    wire = WireDesign(section, material, _BEND_RADIUS_MM, _ELEMENTS)
    units = tuple(Unit(name, np.zeros(3), None) for name in ("tube", "hook"))
    return Cantilever(sites, wire, units)


def tube_map(
    section: Section,
    material: Elastic,
    spans_mm: Sequence[float],
    tubes_mm: Sequence[float],
    activation_over_span: float,
) -> pd.DataFrame:
    """Tip stiffness of a wire in a tube: clamp and two-point formula against the rod.

    Returns
    -------
    DataFrame
        One row a span and tube: force over activation of the rod, ``3 E I/L³``,
        ``3 E I/(L²(L + b))`` and their errors.

    Raises
    ------
    ValueError
        If a wire cannot be engaged.
    """
    pairs = [(span, tube) for span in spans_mm for tube in tubes_mm]
    designs = [straight_in_tube(section, material, *pair) for pair in pairs]
    offsets = activation_over_span * np.array([span for span, _ in pairs])
    found = solve_batch(designs, offsets)
    if not found.converged.all():
        raise ValueError(next(reason for reason in found.reasons if reason))
    rows = []
    for (span, tube), force, offset in zip(pairs, found.forces_on_hook_N, offsets, strict=True):
        rod = abs(float(force[2])) / float(offset)
        clamp = clamp_stiffness_N_per_mm(section, material, span)
        points = TwoPointCantilever(section, material, span, tube).stiffness_N_per_mm
        rows.append(
            {
                "span_mm": span,
                "tube_mm": tube,
                "rod_N_per_mm": rod,
                "clamp_N_per_mm": clamp,
                "two_point_N_per_mm": points,
                "clamp_error_percent": 100 * (clamp / rod - 1),
                "two_point_error_percent": 100 * (points / rod - 1),
            }
        )
    return pd.DataFrame(rows)


def lost_to_play_mm(play_mm: float, span_mm: float, tube_mm: float) -> float:
    """Activation that is gone before both mouths touch: ``p (1/2 + L/b)``, from the middle.

    The mesial mouth is reached after p/2, the distal one on its other side, and between them the
    wire has turned by p/b.
    """
    return play_mm * (0.5 + span_mm / tube_mm)


def play_map(
    section: Section,
    material: Elastic,
    span_mm: float,
    tube_mm: float,
    plays_mm: Sequence[float],
    activations_mm: Sequence[float],
) -> pd.DataFrame:
    """Force of a wire in a tube with play in its height: two-point formula against the rod.

    Returns
    -------
    DataFrame
        One row a play and activation; ``corrected`` is the formula with the activation less what
        the play takes, NaN where it takes all.
    """
    wire = straight_in_tube(section, material, span_mm, tube_mm)
    stiffness = TwoPointCantilever(section, material, span_mm, tube_mm).stiffness_N_per_mm
    rows = []
    for play in plays_mm:
        lost = lost_to_play_mm(play, span_mm, tube_mm)
        for activation in activations_mm:
            slot = section.height_mm + play, section.width_mm
            loose = engage_with_play(wire, activation, *slot).solution.equilibrium
            rod = abs(float(loose.wrench_on(1, np.zeros(3))[2]))
            formula = stiffness * activation
            corrected = stiffness * (activation - lost) if activation > lost else np.nan
            rows.append(
                {
                    "play_mm": play,
                    "activation_mm": activation,
                    "lost_mm": lost,
                    "rod_N": rod,
                    "formula_N": formula,
                    "corrected_N": corrected,
                    "error_percent": 100 * (formula / rod - 1),
                    "corrected_error_percent": 100 * (corrected / rod - 1),
                }
            )
    return pd.DataFrame(rows)
