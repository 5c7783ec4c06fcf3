"""Picture of how the numbers of teeth approach their limits as the mesh is refined."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from workflow.figures import COUPLE_COLOUR, FORCE_COLOUR, THIRD_COLOUR, WIRE_COLOUR, new_figure
from workflow.mesh_study import ORDER, REFINEMENTS, tooth_values
from workflow.verification.check import Picture
from workflow.verification.solution_teeth import limit

_NU = 0.30
_TICKS = (0.05, 0.1, 0.2, 0.5)
_TEETH = {
    21: ("upper central incisor", FORCE_COLOUR, "o"),
    33: ("lower canine", WIRE_COLOUR, "D"),
    37: ("lower second molar", COUPLE_COLOUR, "s"),
    26: ("upper first molar", THIRD_COLOUR, "^"),
}


def convergence_table() -> pd.DataFrame:
    """Largest error of a diagonal entry of the 6×6 by refinement, percent."""
    rows = []
    for tooth in _TEETH:
        diagonals = {
            factor: np.diag(tooth_values(tooth, _NU, factor).stiffness) for factor in REFINEMENTS
        }
        exact = limit(diagonals[REFINEMENTS[0]], diagonals[REFINEMENTS[-1]])
        rows += [
            {
                "tooth": tooth,
                "size_over_default": 1 / factor,
                "error_percent": 100 * float(np.abs(found / exact - 1).max()),
            }
            for factor, found in diagonals.items()
        ]
    return pd.DataFrame(rows)


def convergence_figure(table: pd.DataFrame) -> Figure:
    """Error over element size, with the slope of the second order."""
    figure = new_figure(8.2, 4.4)
    axes = figure.subplots()
    for tooth, (name, colour, mark) in _TEETH.items():
        own = table[table.tooth == tooth]
        axes.loglog(
            own.size_over_default, own.error_percent, mark + "-", color=colour, label=name, ms=5
        )
    sizes = np.array([0.5, 1.0])
    axes.loglog(sizes, 0.4 * sizes**ORDER, ":", color=WIRE_COLOUR, label="second order")
    axes.set(
        xlabel="element size over the default", ylabel="largest error of a stiffness, %",
        xticks=sorted(1 / f for f in REFINEMENTS), xticklabels=["1/2", "2/3", "1"],
        yticks=_TICKS, yticklabels=[f"{tick:g}" for tick in _TICKS],
    )  # fmt: skip
    axes.minorticks_off()
    axes.legend(frameon=False)
    axes.set_title("A tooth's stiffnesses approach their limits as the mesh is refined")
    return figure


PICTURES = (
    Picture(
        "mesh_convergence",
        "Largest error of six stiffnesses of four teeth over the size of their elements, ν = 0.3, "
        "from the limit that the coarsest and the finest mesh foretell by the second order. The "
        "mesh between them, which has no part in that, lies on the line or below: errors fall with "
        "the second order or faster.",
        convergence_table,
        convergence_figure,
    ),
)
