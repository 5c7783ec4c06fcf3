"""Bent wires, their records and their bench templates, for tests."""

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.figure import Figure
from matplotlib.path import Path as Outline
from matplotlib.text import Text
from matplotlib.transforms import Affine2D
from numpy.typing import NDArray

from geometry.wire_path import Bend, Feature, Straight, SweptWire, sweep
from workflow.bench_template import template_figure
from workflow.bench_views import WireView, wire_views
from workflow.bench_wire import parts_table, wire_as_bent
from workflow.case_teeth import ToothPart
from workflow.wire_run import BEND, FREE_RUN, TUBE_RUN

Array = NDArray[np.float64]
Part = tuple[str, Feature, str]

MM_PER_POINT = 25.4 / 72
PRINTED_mm = 0.05
TUBE_MM, RADIUS_MM = 4.0, 1.5
IN_TUBE: Part = (TUBE_RUN, Straight(TUBE_MM), "")
SVG = "{http://www.w3.org/2000/svg}"


def tube_axes(left: float = 1.0) -> Array:
    """Tube that runs forward, height superior; left (1) or right (−1) of the mouth; x is left."""
    along, height = np.array([0.0, -1.0, 0.0]), np.array([0.0, 0.0, 1.0])
    return np.column_stack([along, np.cross(height, along), height])


def record_of(parts: Sequence[Part], left: float = 1.0) -> dict[str, Any]:
    """Record of a wire bent to parts, whose nodes are those it is swept to."""
    start = np.array([30.0 * left, 24.0, 0.0])
    path = sweep([feature for _, feature, _ in parts], start, tube_axes(left))
    bent = [
        {
            "part": name,
            "words": words,
            "arcs": [
                {
                    "length_mm": arc.length_mm,
                    "curvature_per_mm": [float(k) for k in arc.curvature_per_mm],
                }
                for arc in feature.arcs()
            ],
        }
        for name, feature, words in parts
    ]
    as_bent = {"start_mm": start.tolist(), "axes": tube_axes(left).tolist(), "parts": bent}
    arc, nodes = path.arc_mm.tolist(), path.points.tolist()
    return {"wire": {"as_bent": as_bent, "arc_mm": arc, "passive_mm": nodes}}


def one_bend(run_mm: float, angle_deg: float, left: float = 1.0) -> dict[str, Any]:
    """Wire bent once, up by an angle and to lingual in the ratio 6 to 5; ends by trigonometry."""
    axes = tube_axes(left)
    along, sideways = axes[:, 0], np.array([-5.0 * left, 0.0, 6.0 * np.sign(angle_deg)]) / 61**0.5
    angle = np.radians(abs(angle_deg))
    about = (np.cross(along, sideways) @ axes[:, 1:]).tolist()
    parts = [IN_TUBE, (BEND, Bend(angle, RADIUS_MM, about), "")]
    record = record_of([*parts, (FREE_RUN, Straight(run_mm), "")], left)
    start = np.array(record["wire"]["as_bent"]["start_mm"])
    x = RADIUS_MM * np.sin(angle) + run_mm * np.cos(angle)
    y = RADIUS_MM * (1 - np.cos(angle)) + run_mm * np.sin(angle)
    tip = start + (TUBE_MM + x) * along + y * sideways
    record["wire"]["passive_mm"] = [start.tolist(), tip.tolist()]
    record["wire"]["arc_mm"] = [0.0, TUBE_MM + RADIUS_MM * angle + run_mm]
    return record


def case_with(tooth: int, shape: str = "rectangular") -> dict[str, Any]:
    section = {"name": f"{shape}_x", "shape": shape, "height_mm": 0.4, "width_mm": 0.6}
    if shape == "round":
        section["width_mm"] = 0.4
    return {
        "case": "example",
        "title": "An example",
        "units": {"molar": {"teeth": [tooth]}},
        "teeth": {str(tooth): ToothPart(crest_depth_mm=1.5).model_dump()},
        "two_point": {"tooth": tooth, "unit": "molar"},
        "one_point": {"unit": "segment", "contact": "bar", "tooth": None, "between": [34, 35]},
        "wire": {"alloy": {"name": "beta_titanium"}, "section": section},
    }


class Template:
    """All that is made for one wire."""

    def __init__(self, case: dict[str, Any], record: dict[str, Any]) -> None:
        self.path: SweptWire = wire_as_bent(case, record)
        self.parts: pd.DataFrame = parts_table(record)
        self.views: tuple[WireView, WireView, WireView] = wire_views(case, self.path, self.parts)
        self.figure: Figure = template_figure(case, self.views, self.parts)


def svg_group(path: Path, name: str) -> ElementTree.Element:
    root = ElementTree.parse(path).getroot()
    (group,) = [g for g in root.iter(f"{SVG}g") if g.get("id") == name]
    return group


def svg_points(path: Path, name: str) -> Array:
    """Points (n, 2) of a named line of the SVG, mm, y downwards."""
    (drawn,) = list(svg_group(path, name))
    numbers = re.findall(r"-?\d+\.?\d*(?:e-?\d+)?", drawn.get("d") or "")
    return np.array(numbers, dtype=float).reshape(-1, 2) * MM_PER_POINT


def length(points: Array) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def box_of(text: Text) -> Outline:
    """Box around a text, turned with it about its anchor."""
    angle = text.get_rotation()
    anchor = text.get_transform().transform(text.get_position())
    text.set_rotation(0)
    corners = text.get_window_extent().corners()[[0, 1, 3, 2, 0]]
    text.set_rotation(angle)
    return Outline(Affine2D().rotate_deg_around(*anchor, angle).transform(corners))


def texts(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.axes[0].texts]
