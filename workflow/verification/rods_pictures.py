"""Pictures of the elastic rod: the elastica, and how fast the rod converges."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from workflow.figures import COUPLE_COLOUR, FORCE_COLOUR, THIRD_COLOUR, WIRE_COLOUR, new_figure
from workflow.verification.check import Picture
from workflow.verification.reference import reference_table
from workflow.verification.rods_curved import X, Z, arc_errors
from workflow.verification.rods_elastica import dead_load_tips, order_errors, tip_loaded, tip_of
from workflow.verification.rods_peg import peg_errors

_ELEMENTS = (4, 8, 16, 32)
_LOADS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 3.5, 4.5, 5.5, 6.5, 7.5, 8.5, 9.5)
_CASES = {
    "elastica, dead load": (FORCE_COLOUR, "o"),
    "elastica on a peg": (COUPLE_COLOUR, "s"),
    "quarter circle in its plane": (THIRD_COLOUR, "^"),
    "quarter circle out of its plane": (WIRE_COLOUR, "D"),
}


def elastica_table() -> pd.DataFrame:
    """Deflection and shortening over the load: computed, and published where there is a point."""
    published = reference_table("elastica_dead_load")
    computed = pd.DataFrame(
        dead_load_tips()[:, :2], columns=["deflection", "shortening"]
    ).assign(load=published.alpha, published_deflection=published.deflection,
             published_shortening=published.shortening)  # fmt: skip
    between = [(*tip_of(tip_loaded(30, [0, 0, a]))[:2], a) for a in _LOADS]
    more = pd.DataFrame(between, columns=["deflection", "shortening", "load"])
    table = pd.concat([computed, more]).sort_values("load")
    return table[
        ["load", "deflection", "shortening", "published_deflection", "published_shortening"]
    ]


def elastica_figure(table: pd.DataFrame) -> Figure:
    """Computed lines through published points."""
    figure = new_figure(8.4, 4.6)
    axes = figure.subplots()
    looks = {"deflection": (FORCE_COLOUR, "o"), "shortening": (COUPLE_COLOUR, "s")}
    for part, (colour, mark) in looks.items():
        axes.plot(table[part], table["load"], color=colour, lw=1.5, label=f"{part}, computed")
        axes.plot(table[f"published_{part}"], table["load"], mark, ms=5, color=colour,
                  mfc="white", label=f"{part}, reference")  # fmt: skip
    axes.plot(
        [0, 1 / 3], [0, 1], color=WIRE_COLOUR, lw=1, ls=":", label="small deflection, PL³/3EI"
    )
    axes.set(xlabel="deflection or shortening of the tip, over the length", xlim=(0, None),
             ylabel="load PL²/EI", ylim=(0, None))  # fmt: skip
    axes.set_title("A wire bent far: the force grows faster than the deflection")
    axes.legend(frameon=False)
    return figure


def order_table() -> pd.DataFrame:
    """Relative sizes of the error for each number of elements."""
    errors = {
        "elastica, dead load": order_errors(_ELEMENTS),
        "elastica on a peg": peg_errors(_ELEMENTS),
        "quarter circle in its plane": arc_errors((X, X), 1e5, _ELEMENTS),
        "quarter circle out of its plane": arc_errors((Z, Z), 1e5, _ELEMENTS),
    }
    return pd.DataFrame({"elements": _ELEMENTS} | errors)


def order_figure(table: pd.DataFrame) -> Figure:
    """Errors over elements in logarithms, beside the slope of fourth order."""
    figure = new_figure(8.4, 4.6)
    axes = figure.subplots()
    n = table["elements"].to_numpy(dtype=float)
    for name, (colour, mark) in _CASES.items():
        order = float(np.log2(table[name].iloc[1] / table[name].iloc[2]))
        axes.loglog(n, table[name], marker=mark, ms=5, color=colour, lw=1.5,
                    label=f"{name}: order {order:.2f}")  # fmt: skip
    guide = 0.3 * float(table[list(_CASES)].min(axis=1).iloc[0]) * (n / n[0]) ** -4
    axes.loglog(n, guide, color=WIRE_COLOUR, lw=1, ls=":", label="fourth order")
    axes.set(xlabel="elements", ylabel="error (length and bending stiffness of 1)")
    axes.set_xticks(n, [f"{count:.0f}" for count in n])
    axes.minorticks_off()
    axes.set_title("Twice the elements, a sixteenth of the error")
    axes.legend(frameon=False)
    return figure


PICTURES = (
    Picture(
        "elastica",
        "Deflection and shortening of a cantilever under a dead force: the rod's line through the "
        "points of Bisshopp & Drucker and Mattiasson, printed at loads of 1, 2, 5 and 10, "
        "elsewhere from elliptic integrals. The dotted line is small-deflection theory.",
        elastica_table,
        elastica_figure,
    ),
    Picture(
        "rod_order",
        "Error of the rod against closed forms over the number of elements. Every case falls with "
        "the fourth power; orders are those between 8 and 16 elements.",
        order_table,
        order_figure,
    ),
)
