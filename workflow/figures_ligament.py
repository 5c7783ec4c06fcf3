"""Hydrostatic stress on the ligament of one tooth, seen from two sides."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import meshio
import numpy as np
import pandas as pd
from cmcrameri import cm
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from numpy.typing import NDArray

from workflow.figures import CROWN_COLOUR, new_figure
from workflow.figures_appliance import direction_marks
from workflow.figures_view import Directions, PlacedTooth, View
from workflow.scene import Scene, pv

Array = NDArray[np.float64]

COLOURS = cm.vik  # diverging, perceptually even, safe for the colour-blind (Crameri 2018)
FIELD = "hydrostatic_kPa"
PIXELS_PER_MM = 45.0


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
        """Largest size of the stress: the colours run from minus to plus this."""
        return float(np.abs(self.hydrostatic_kPa).max())

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


def stress_figure(stress: LigamentStress, tooth: PlacedTooth, words: Directions) -> Figure:
    """Two views of the ligament's outside, with one colour bar."""
    scene = _scene(stress, tooth)
    figure = new_figure(9.0, 5.4)
    panels = figure.subplots(1, 2)
    aside = 0.8 * words.mesial + words.buccal
    views = {
        "From mesial and buccal": View.from_direction(aside + 0.25 * words.occlusal),
        "From distal and lingual": View.from_direction(-aside + 0.25 * words.occlusal),
    }
    for axes, (title, view) in zip(panels, views.items(), strict=True):
        scene.render(view, PIXELS_PER_MM, margin_mm=1.0).show(axes)
        axes.set_ylim(axes.get_ylim()[0] - 3.0, axes.get_ylim()[1])
        axes.set_anchor("N")
        axes.set_title(title)
        direction_marks(axes, view, words, length_mm=2.2, corner=(0.78, 0.06))
    limit = stress.limit_kPa
    bar = figure.colorbar(
        ScalarMappable(Normalize(-limit, limit), COLOURS), ax=list(panels), shrink=0.8, pad=0.02
    )
    bar.set_label("hydrostatic stress (kPa): tension positive, compression negative")
    figure.supxlabel(
        f"Tooth {tooth.number}: means over the elements at the socket wall. Over all elements "
        f"{stress.hydrostatic_kPa.min():.1f} to {stress.hydrostatic_kPa.max():.1f} kPa. Initial "
        "movement, linear ligament.",
        fontsize=9,
    )
    return figure


def _scene(stress: LigamentStress, tooth: PlacedTooth) -> Scene:
    cells = np.column_stack([np.full(len(stress.tets), 4), stress.tets]).ravel()
    kinds = np.full(len(stress.tets), pv.CellType.TETRA)
    grid = pv.UnstructuredGrid(cells, kinds, stress.points)
    grid.cell_data[FIELD] = stress.hydrostatic_kPa
    scene = Scene()
    scene.add_polydata(
        grid.extract_surface(algorithm="dataset_surface"),
        scalars=FIELD,
        cmap=COLOURS,
        clim=(-stress.limit_kPa, stress.limit_kPa),
        lighting=False,
        show_scalar_bar=False,
    )
    for triangles in (tooth.crown, tooth.root):
        scene.add_surface(
            tooth.points, triangles, color=CROWN_COLOUR, smooth_shading=True, ambient=0.2
        )
    return scene
