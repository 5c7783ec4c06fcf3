"""Measure the error bars of the default mesh and write them to the catalogue.

Run ``python -m workflow.mesh_error`` after a change of the meshes, the elements or their defaults:
every tooth shape on three meshes at four Poisson's ratios, which takes about an hour on two cores,
and wires of every kind. `workflow.verification.solution` has a check that says when the table is
out of date.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import ROUND_CEILING, Decimal
from itertools import pairwise
from pathlib import Path
from typing import Any

import yaml

from fem.support import PROJECTED_ABOVE_POISSON_RATIO
from geometry.anatomy import known_teeth, left_twin
from workflow.mesh_bars import KINDS, TABLE, kind_of
from workflow.mesh_study import PERCENTILES, REFINEMENTS, ToothBars, tooth_bars, tooth_values
from workflow.mesh_wire_study import rod_percent, solid_percent
from workflow.study import default_specs

# Those of the catalogue's ligaments, and where the dilatation begins to be projected.
POISSON_RATIOS = (0.30, PROJECTED_ABOVE_POISSON_RATIO, 0.45, 0.49)
_DIGITS = 2
_WIRE_ELEMENTS = 40
_HEAD = """\
# Error bars of the default mesh, written by `python -m workflow.mesh_error`: do not edit by hand.
# Mesh error alone, from three meshes refined by 1, 1.5 and 2 and held to each other (Celik et al.
# 2008, J Fluids Eng 130:078001); the largest over the teeth of a kind, rounded up. Stress: percent
# of the von Mises stress at 99 % of volume, or of the hydrostatic stress at 1 or 99 % where larger.
"""

Measured = Mapping[tuple[int, float], ToothBars]


def teeth_studied() -> tuple[int, ...]:
    """Every shape of published dimensions once: those of the patient's left side."""
    return tuple(tooth for tooth in known_teeth() if left_twin(tooth) == tooth)


def measure(
    teeth: Iterable[int], poisson_ratios: Iterable[float]
) -> dict[tuple[int, float], ToothBars]:
    """Error bars of teeth, by tooth and Poisson's ratio."""
    ratios = tuple(poisson_ratios)
    found = {}
    for tooth in teeth:
        for nu in ratios:
            meshes = {factor: tooth_values(tooth, nu, factor) for factor in REFINEMENTS}
            found[tooth, nu] = tooth_bars(meshes)
            print(f"tooth {tooth}, Poisson's ratio {nu:g}: {found[tooth, nu]}")
    return found


def table(measured: Measured, rod: float, solid: float) -> dict[str, Any]:
    """Content of the catalogue's file."""
    ratios = sorted({nu for _, nu in measured})
    bands = [(ratios[0], ratios[0]), *pairwise(ratios)]
    rows = [
        _row(kind, band, {key: row for key, row in measured.items() if kind_of(key[0]) == kind})
        for kind in KINDS.values()
        for band in bands
    ]
    wire = {
        "elements": _WIRE_ELEMENTS,
        "rod_percent": rounded_up(rod),
        "solid_percent": rounded_up(solid),
    }
    return {"teeth": rows, "wire": wire}


def _row(kind: str, band: tuple[float, float], measured: Measured) -> dict[str, Any]:
    """Largest bars of a kind of tooth at both ends of a band."""
    bars = [row for (_, nu), row in measured.items() if nu in band]

    def largest(name: str) -> float:
        return rounded_up(max(getattr(row, name) for row in bars))

    def stress(scalar: str) -> dict[str, float]:
        return {
            share: rounded_up(max(row.stress_percent[scalar, share] for row in bars))
            for share in PERCENTILES
        }

    names = (
        "stiffness_percent",
        "translation_percent",
        "rotation_percent",
        "resistance_centre_mm",
        "coupling_mm",
    )
    ends = {"poisson_ratio_from": band[0], "poisson_ratio_to": band[1]}
    return (
        {"kind": kind, **ends, "teeth": sorted({tooth for tooth, _ in measured})}
        | {name: largest(name) for name in names}
        | {f"{name}_percent": stress(name) for name in ("hydrostatic", "von_mises")}
    )


def rounded_up(value: float) -> float:
    """Two significant digits, never less than the value."""
    number = Decimal(float(value))  # exact, so that no value is rounded down first
    if number == 0:
        return 0.0
    step = Decimal(1).scaleb(number.adjusted() - _DIGITS + 1)
    return float((number / step).to_integral_value(ROUND_CEILING) * step)


def write_table(content: Mapping[str, Any], path: Path = TABLE) -> None:
    """Write the catalogue's file."""
    text = yaml.safe_dump(dict(content), sort_keys=False, default_flow_style=None, width=100)
    path.write_text(_HEAD + text, encoding="utf-8")


def main() -> None:
    """Measure everything and write the table."""
    assert set(teeth_studied()) <= set(default_specs())
    write_table(table(measure(teeth_studied(), POISSON_RATIOS), rod_percent(), solid_percent()))


if __name__ == "__main__":
    main()
