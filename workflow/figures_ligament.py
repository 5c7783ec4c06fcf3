"""Hydrostatic stress on the ligament of one tooth, seen from two sides."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import meshio
import numpy as np
import pandas as pd
from cmcrameri import cm
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from numpy.typing import NDArray

from workflow.figures import (
    CROWN_COLOUR,
    new_figure,
    nice_limit,
)
from workflow.figures_marks import ScaleBar, direction_marks, scale_bars
from workflow.figures_view import Directions, PlacedTooth, View
from workflow.scene import Scene, pv

Array = NDArray[np.float64]

COLOURS = cm.vik  # diverging, perceptually even, safe for the colour-blind (Crameri 2018)
FIELD = "hydrostatic_kPa"
PIXELS_PER_MM = 45.0
_BAR_MM = 5.0
_BELOW_MM = 5.5  # room for marks, of which one may point down


@dataclass(frozen=True)
class LigamentStress:
    """Hydrostatic stress of a ligament.

    Attributes
    ----------
    points, tets
        Mesh in the patient, (n, 3) mm and (m, 4).
    hydrostatic_kPa
        Mean over each element, tension positive, (m,).
    """

    points: Array
    tets: NDArray[np.int64]
    hydrostatic_kPa: Array

    @property
    def limit_kPa(self) -> float:
        """Round number that holds every stress: the colours run from minus to plus this."""
        return nice_limit(float(np.abs(self.hydrostatic_kPa).max()))

    @property
    def table(self) -> pd.DataFrame:
        """Centroid and stress of each element."""
        centroids = self.points[self.tets].mean(axis=1)
        columns = {f"{axis}_mm": centroids[:, i] for i, axis in enumerate("xyz")}
        return pd.DataFrame(columns | {FIELD: self.hydrostatic_kPa})


def read_stress(path: str | Path) -> LigamentStress:
    """Read the field that the response stage wrote."""
    mesh = meshio.read(path, "vtu")
    return LigamentStress(
        mesh.points.astype(float),
        mesh.cells[0].data.astype(np.int64),
        mesh.cell_data[FIELD][0].astype(float),
    )


def stress_figure(
    stress: LigamentStress, tooth: PlacedTooth, words: Directions, limit_kPa: float
) -> Figure:
    """Two views of the ligament's outside, with one colour bar.

    Parameters
    ----------
    limit_kPa
        The colours run from minus to plus this; stress beyond it has the colour of the end.
    """
    scene = _scene(stress, tooth, limit_kPa)
    figure = new_figure(9.0, 5.4)
    panels = figure.subplots(1, 2)
    aside = 0.8 * words.mesial + words.buccal
    views = {
        "From mesial and buccal": View.from_direction(aside + 0.25 * words.occlusal),
        "From distal and lingual": View.from_direction(-aside + 0.25 * words.occlusal),
    }
    for axes, (title, view) in zip(panels, views.items(), strict=True):
        scene.render(view, PIXELS_PER_MM, margin_mm=1.0).show(axes)
        axes.set_ylim(axes.get_ylim()[0] - _BELOW_MM, axes.get_ylim()[1])
        axes.set_anchor("N")
        axes.set_title(title)
        direction_marks(axes, view, words, length_mm=2.0, corner=(0.8, 0.06))
        scale_bars(axes, (ScaleBar(_BAR_MM, f"{_BAR_MM:g} mm"),), (0.02, 0.05), apart_mm=1.0)
    least, most = float(stress.hydrostatic_kPa.min()), float(stress.hydrostatic_kPa.max())
    below, above = least < -limit_kPa, most > limit_kPa
    ends: Any = {(0, 0): "neither", (1, 0): "min", (0, 1): "max", (1, 1): "both"}
    bar = figure.colorbar(
        ScalarMappable(Normalize(-limit_kPa, limit_kPa), COLOURS),
        ax=list(panels),
        shrink=0.8,
        pad=0.02,
        extend=ends[below, above],
    )
    bar.set_ticks(np.linspace(-limit_kPa, limit_kPa, 9).tolist())
    bar.set_label("hydrostatic stress (kPa): tension positive, compression negative")
    figure.supxlabel(
        f"Tooth {tooth.number}: means over the elements at the socket wall, over all elements "
        f"{least:.1f} to {most:.1f} kPa; colours from −{limit_kPa:g} to {limit_kPa:g} kPa"
        f"{', which leaves some beyond them' if below or above else ''}.\n"
        "Initial movement, linear ligament.".replace(" -", " −")
    )
    return figure


def _scene(stress: LigamentStress, tooth: PlacedTooth, limit_kPa: float) -> Scene:
    cells = np.column_stack([np.full(len(stress.tets), 4), stress.tets]).ravel()
    kinds = np.full(len(stress.tets), pv.CellType.TETRA)
    grid = pv.UnstructuredGrid(cells, kinds, stress.points)
    grid.cell_data[FIELD] = stress.hydrostatic_kPa
    scene = Scene()
    scene.add_polydata(
        grid.extract_surface(algorithm="dataset_surface"),
        scalars=FIELD,
        cmap=COLOURS,
        clim=(-limit_kPa, limit_kPa),
        lighting=False,
        show_scalar_bar=False,
    )
    for triangles in (tooth.crown, tooth.root):
        scene.add_surface(
            tooth.points, triangles, color=CROWN_COLOUR, smooth_shading=True, ambient=0.2
        )
    return scene
