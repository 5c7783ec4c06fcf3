"""Wires of several alloys in three-point bending, loading and unloading (`fem.three_point`)."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from fem.fibre import FibreSection
from fem.three_point import ThreePointTest, three_point_bench, three_point_test
from workflow.specs import Spec
from workflow.units import GF_PER_N
from workflow.wire_specs import fibre_section, wire_material, wire_section

DECLARED_MM = (3.0, 2.0, 1.0, 0.5)  # deflections whose unloading force ISO 15841 has declared


def bending_test_tables(
    alloys: Mapping[str, Spec],
    section: Spec,
    span_mm: float,
    deflection_mm: float,
    step_mm: float,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Curves and summary of one section in several alloys.

    Parameters
    ----------
    alloys
        Catalogue rows by name.
    section
        Catalogue row of the section.
    span_mm, deflection_mm, step_mm
        Distance of the supports, largest deflection and step of it.

    Returns
    -------
    curves, summary
        One row a point, and one row an alloy.

    Raises
    ------
    fem.load_history.LoadHistoryError
        If a step finds no equilibrium.
    """
    curves, summary = [], []
    for name, alloy in alloys.items():
        wire = fibre_section(alloy, section)
        shear_torsion = wire_section(section).stiffness(wire_material(alloy))[1:4]
        bench, history = three_point_bench(wire, shear_torsion, span_mm=span_mm)
        test = three_point_test(bench, history, to_mm=deflection_mm, step_mm=step_mm)
        curves.append(curve_table(name, test))
        sizes = {key: section[key] for key in ("height_mm", "width_mm")}
        row = {"alloy": name, **sizes, "span_mm": span_mm}
        summary.append(row | summary_of(test, formula_slope_N_per_mm(wire, span_mm)))
    return pd.concat(curves, ignore_index=True), pd.DataFrame(summary)


def formula_slope_N_per_mm(wire: FibreSection, span_mm: float) -> float:
    """``48 E I/L³`` of a simply supported beam, textbook: small deflection, at first contact."""
    return 48 * wire.law.initial_modulus_MPa * wire.fibres.I_height_mm4 / span_mm**3


def curve_table(alloy: str, test: ThreePointTest) -> pd.DataFrame:
    """Load–deflection curve of one alloy, one row a point."""
    loading = np.arange(len(test.force_N)) < test.loading_points
    return pd.DataFrame(
        {
            "alloy": alloy,
            "branch": np.where(loading, "loading", "unloading"),
            "deflection_mm": test.deflection_mm,
            "force_N": test.force_N,
            "force_gf": test.force_N * GF_PER_N,
        }
    )


def summary_of(test: ThreePointTest, formula_N_per_mm: float) -> dict[str, float]:
    """Slope by formula and of the first step, largest force, unloading forces, permanent set."""
    loading = slice(1, test.loading_points)
    force, deflection = test.force_N[loading], test.deflection_mm[loading]
    unloading = {f"unloading_{d:g}_mm": test.unloading_force_N(d) for d in DECLARED_MM}
    return {
        "slope_48EI_per_L3_N_per_mm": formula_N_per_mm,
        "slope_first_step_N_per_mm": float(force[0] / deflection[0]),
        "largest_force_N": float(force.max()),
        **{f"{name}_N": value for name, value in unloading.items()},
        **{f"{name}_gf": value * GF_PER_N for name, value in unloading.items()},
        "permanent_set_mm": test.set_mm,
    }
