"""A cut through the mesh of one tooth in its mesiodistal plane."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from numpy.typing import NDArray

from geometry.mesh import TetMesh
from workflow.figures import (
    CROWN_COLOUR,
    FORCE_COLOUR,
    OUTLINE_COLOUR,
    TISSUE_COLOURS,
    new_figure,
)

Array = NDArray[np.float64]

COLOURS = {"tooth": CROWN_COLOUR, "dentine": CROWN_COLOUR, **TISSUE_COLOURS}
WINDOW_MM = 0.5  # half the side of the enlarged part
CORNERS = ["mesial_mm", "occlusal_mm"]


def section_table(mesh: TetMesh, plane_mm: float = 0.0) -> pd.DataFrame:
    """Polygons in which the plane ``buccal = plane_mm`` of the tooth cuts the elements.

    Returns
    -------
    DataFrame
        One row a corner: number of the polygon, region, and place in the plane, mm.
    """
    side = mesh.points[:, 1] - plane_mm
    high = side[mesh.tets] > 0.0
    cut = np.flatnonzero(high.any(axis=1) & ~high.all(axis=1))
    parts = []
    for number, element in enumerate(cut):
        corners = _cut(mesh.points[mesh.tets[element]], side[mesh.tets[element]])
        frame = pd.DataFrame(corners[:, [0, 2]], columns=CORNERS)
        frame.insert(0, "polygon", number)
        frame.insert(1, "region", mesh.region_names[mesh.region[element]])
        parts.append(frame)
    return pd.concat(parts, ignore_index=True)


def _cut(corners: Array, side: Array) -> Array:
    """Triangle or quadrangle (k, 3), in order around it, where a tetrahedron meets the plane."""
    above, below = np.flatnonzero(side > 0), np.flatnonzero(side <= 0)
    pairs = [(a, b) for a in above for b in below]
    if len(pairs) == 4:
        pairs = [pairs[0], pairs[1], pairs[3], pairs[2]]
    share = [side[a] / (side[a] - side[b]) for a, b in pairs]
    return np.array(
        [corners[a] + s * (corners[b] - corners[a]) for s, (a, b) in zip(share, pairs, strict=True)]
    )


def section_figure(table: pd.DataFrame, support: dict[str, Any]) -> Figure:
    """Draw the cut, with the layers of the ligament enlarged beside it."""
    figure = new_figure(9.0, 6.4)
    whole, close = figure.subplots(1, 2, width_ratios=[1.5, 1])
    for axes, width in ((whole, 0.25), (close, 0.9)):
        _draw(axes, table, width)
        axes.set_aspect("equal")
        axes.set(xlabel="mesial (mm)", ylabel="occlusal (mm)")
    whole.autoscale_view()
    whole.set_title("Mesiodistal cut through the cervical centre")
    centre = enlarged_centre(table)
    close.set_xlim(centre[0] - WINDOW_MM, centre[0] + WINDOW_MM)
    close.set_ylim(centre[1] - 1.6 * WINDOW_MM, centre[1] + 1.6 * WINDOW_MM)
    close.set_title("Ligament, enlarged")
    close.spines["right"].set_visible(True)
    close.yaxis.tick_right()
    close.yaxis.set_label_position("right")
    whole.indicate_inset(
        (centre[0] - WINDOW_MM, centre[1] - 1.6 * WINDOW_MM, 2 * WINDOW_MM, 3.2 * WINDOW_MM),
        inset_ax=close,
        edgecolor=FORCE_COLOUR,
        alpha=1.0,
    )
    handles = [
        Patch(facecolor=colour, edgecolor=OUTLINE_COLOUR, label=name)
        for name, colour in COLOURS.items()
        if (table["region"] == name).any()
    ]
    whole.legend(handles=handles, loc="center", bbox_to_anchor=(0.5, 0.12))
    figure.supxlabel(_caption(support))
    return figure


def enlarged_centre(table: pd.DataFrame) -> Array:
    """Point (2,) of the ligament on its mesial side, half-way down."""
    ligament = table[table["region"] == "ligament"].groupby("polygon")[CORNERS].mean()
    heights = ligament["occlusal_mm"]
    middle = 0.5 * (heights.min() + heights.max())
    near = ligament[(heights - middle).abs() < 0.5]
    return near.loc[near["mesial_mm"].idxmax()].to_numpy(dtype=float)


def _draw(axes: Axes, table: pd.DataFrame, width: float) -> None:
    for region, colour in COLOURS.items():
        chosen = table[table["region"] == region]
        polygons = [part[CORNERS].to_numpy() for _, part in chosen.groupby("polygon")]
        axes.add_collection(
            PolyCollection(
                polygons,
                facecolor=colour,
                edgecolor=OUTLINE_COLOUR,
                linewidth=width,
                rasterized=True,  # thousands of lines would make files of megabytes
            )
        )


def _caption(support: dict[str, Any]) -> str:
    parts = [
        f"{region['region']} {region['elements']} elements, {region['volume_mm3']:.4g} mm³, "
        f"smallest gamma {region['gamma_min']:.2f}"
        for region in support["mesh"]
    ]
    spec = support["spec"]
    thickness = _thickness(spec["thickness_mm"])
    return (
        f"{'; '.join(parts)}.\nLigament {thickness} in {spec['layers']} layers of "
        f"quadratic tetrahedra, {support['unknowns']} unknowns. gamma = 1: regular tetrahedron, "
        "0: flat."
    )


def _thickness(value: float | list[float]) -> str:
    values = value if isinstance(value, list) else [value]
    return f"{' / '.join(f'{v:g}' for v in values)} mm"
