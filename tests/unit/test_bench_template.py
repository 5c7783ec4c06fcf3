"""The bench template: what is printed measures what the wire measures.

Lengths and angles are held against the points of the wire's axis (Euclidean geometry), paper
against ISO 216, and points of the page against 72 to the inch (PDF 1.7, 8.3.2.3, from memory).
"""

import copy
import re
import xml.etree.ElementTree as ElementTree
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure
from matplotlib.path import Path as Outline
from matplotlib.text import Text
from matplotlib.transforms import Affine2D
from numpy.typing import NDArray

from geometry.wire import WirePath, cantilever_path
from workflow.bench_template import PAGES, page_for, save_template, template_figure
from workflow.bench_wire import (
    BEND,
    FREE_RUN,
    TUBE_RUN,
    WireView,
    parts_table,
    wire_as_bent,
    wire_views,
)
from workflow.case_teeth import ToothPart
from workflow.cautions import CAUTION

Array = NDArray[np.float64]

MM_PER_POINT = 25.4 / 72
RADIUS_MM = 1.5
PRINTED_mm = 0.05


def record_of(length_mm: float, up_mm: float, left: float = 1.0) -> dict[str, Any]:
    """A tube 4 mm long that runs forward, wire as tall as occlusal; left or right of the mouth."""
    axes = np.array([[0.0, left, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    axes[:, 1] = np.cross(axes[:, 2], axes[:, 0])
    second = np.array([30.0 * left, 20.0, 0.0])
    mouths = (second - 4.0 * axes[:, 0], second)
    tip = second + np.array([-5.0 * left, -length_mm, up_mm])
    path = cantilever_path(mouths, axes, tip, bend_radius_mm=RADIUS_MM)
    return {
        "tube": {"mouths_mm": [list(m) for m in mouths], "axes": axes.tolist()},
        "wire": {
            "passive_mm": path.points.tolist(),
            "arc_mm": np.concatenate([[0.0], np.cumsum(path.lengths_mm)]).tolist(),
        },
        "bend_deg": float(np.degrees(path.bend_rad)),
    }


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
        "one_point": {"unit": "segment", "tooth": None, "between": [34, 35]},
        "wire": {
            "alloy": {"name": "beta_titanium"},
            "section": section,
            "bend_radius_mm": RADIUS_MM,
        },
    }


class Template:
    """All that is made for one wire."""

    def __init__(self, case: dict[str, Any], record: dict[str, Any]) -> None:
        self.path: WirePath = wire_as_bent(case, record)
        self.parts: pd.DataFrame = parts_table(self.path, RADIUS_MM)
        self.views: tuple[WireView, WireView, WireView] = wire_views(case, self.path)
        self.figure: Figure = template_figure(case, self.views, self.parts)


@pytest.fixture(scope="module")
def record() -> dict[str, Any]:
    return record_of(22.0, -6.0)


@pytest.fixture(scope="module")
def template(record: dict[str, Any]) -> Template:
    return Template(case_with(37), record)


@pytest.fixture(scope="module")
def files(template: Template, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("template")
    paths = {suffix: folder / f"page.{suffix}" for suffix in ("pdf", "svg")}
    save_template(template.figure, *map(str, paths.values()))
    return paths


def svg_points(path: Path, name: str) -> Array:
    """Points (n, 2) of a named line of the SVG, mm."""
    root = ElementTree.parse(path).getroot()
    (group,) = [g for g in root.iter("{http://www.w3.org/2000/svg}g") if g.get("id") == name]
    (drawn,) = list(group)
    numbers = re.findall(r"-?\d+\.?\d*(?:e-?\d+)?", drawn.get("d") or "")
    return np.array(numbers, dtype=float).reshape(-1, 2) * MM_PER_POINT


def length(points: Array) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


# The page


def test_the_page_is_a4_in_both_files(files: dict[str, Path]) -> None:
    """ISO 216: A4 is 210 × 297 mm."""
    root = ElementTree.parse(files["svg"]).getroot()
    size = [float((root.get(key) or "").removesuffix("pt")) for key in ("width", "height")]
    box = [float(number) for number in (root.get("viewBox") or "").split()]
    assert box == pytest.approx([0, 0, *size])
    assert np.array(size) * MM_PER_POINT == pytest.approx([210, 297], abs=1e-3)
    media = re.search(rb"/MediaBox \[ ([\d. ]+) \]", files["pdf"].read_bytes())
    assert media is not None
    corners = np.array(media[1].split(), dtype=float) * MM_PER_POINT
    assert corners == pytest.approx([0, 0, 210, 297], abs=1e-3)


def test_the_scale_bar_measures_50_mm_in_both_files(files: dict[str, Path]) -> None:
    assert length(svg_points(files["svg"], "scale-bar")) == pytest.approx(50, abs=PRINTED_mm)
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", files["pdf"].read_bytes(), re.DOTALL)
    content = zlib.decompress(streams[0])
    lines = re.findall(rb"\n([\d.]+) ([\d.]+) m\n([\d.]+) ([\d.]+) l\n+S", content)
    points = np.array(lines, dtype=float) * MM_PER_POINT
    level = points[np.abs(points[:, 1] - points[:, 3]) < 1e-6]
    spans = np.abs(level[:, 2] - level[:, 0])
    assert np.sum(np.abs(spans - 50) < PRINTED_mm) == 1


@pytest.mark.parametrize(
    ("length_mm", "up_mm", "name"), [(22, 3, "A4"), (150, 5, "A3"), (250, 5, "A3, turned")]
)
def test_the_paper_is_the_smallest_that_holds_the_wire(
    length_mm: float, up_mm: float, name: str
) -> None:
    made = Template(case_with(37), record_of(length_mm, up_mm))
    page = page_for(made.views)
    assert page.name == name
    inches = made.figure.get_size_inches()
    assert inches * 25.4 == pytest.approx([page.width_mm, page.height_mm])
    assert any(f"Paper {name}, " in text for text in texts(made.figure))


def test_a_wire_longer_than_the_largest_paper_is_refused() -> None:
    with pytest.raises(ValueError, match="more than A3"):
        Template(case_with(37), record_of(500.0, 5.0))
    assert max(page.width_mm for page in PAGES) == 420


def test_nothing_leaves_the_page_and_no_two_texts_meet(template: Template) -> None:
    for made in (
        template,
        Template(case_with(37), record_of(22.0, 6.0)),
        Template(case_with(17), record_of(12.0, -8.0, left=-1.0)),
    ):
        made.figure.draw_without_rendering()
        boxes = [box_of(text) for text in made.figure.axes[0].texts]
        for index, box in enumerate(boxes):
            assert np.all(box.vertices > made.figure.bbox.min)
            assert np.all(box.vertices < made.figure.bbox.max)
            assert not any(box.intersects_path(other, filled=True) for other in boxes[:index])


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


def test_the_page_says_what_it_is_and_cautions(template: Template) -> None:
    words = " ".join(" ".join(texts(template.figure)).split())
    for expected in ("An example", "beta titanium", "0.4 × 0.6 mm", "tube end", "hook end"):
        assert expected in words
    assert "This bar must measure 50 mm" in words
    assert CAUTION in words


# The wire


@pytest.mark.parametrize(("name", "part"), [("free-run", FREE_RUN), ("run-in-the-tube", TUBE_RUN)])
def test_runs_are_drawn_as_long_as_they_are(
    template: Template, files: dict[str, Path], name: str, part: str
) -> None:
    points = template.path.points
    ends = points[-2:] if part == FREE_RUN else points[:2]
    true = length(ends)
    table = template.parts.set_index("part")
    assert table.loc[part, "length_mm"] == pytest.approx(true, abs=1e-9)
    assert length(svg_points(files["svg"], name)) == pytest.approx(true, abs=PRINTED_mm)


def test_the_axis_in_the_plane_of_the_bend_is_as_long_as_the_wire(
    template: Template, files: dict[str, Path], record: dict[str, Any]
) -> None:
    drawn = length(svg_points(files["svg"], "view-0-axis"))
    assert drawn == pytest.approx(record["wire"]["arc_mm"][-1], abs=PRINTED_mm)
    assert template.parts["to_mm"].iloc[-1] == pytest.approx(record["wire"]["arc_mm"][-1])


def test_the_bend_is_that_between_the_runs(
    template: Template, files: dict[str, Path], record: dict[str, Any]
) -> None:
    points = np.array(record["wire"]["passive_mm"])
    first, last = points[1] - points[0], points[-1] - points[-2]
    cosine = first @ last / np.linalg.norm(first) / np.linalg.norm(last)
    angle = float(np.degrees(np.arccos(cosine)))
    bend = template.parts.set_index("part").loc[BEND]
    assert bend["angle_deg"] == pytest.approx(angle, abs=1e-6)
    assert bend["length_mm"] == pytest.approx(np.radians(angle) * RADIUS_MM, rel=1e-6)
    assert bend["radius_mm"] == RADIUS_MM
    drawn = svg_points(files["svg"], "view-0-axis")
    start, end = drawn[1] - drawn[0], drawn[-1] - drawn[-2]
    turned = start @ end / np.linalg.norm(start) / np.linalg.norm(end)
    assert np.degrees(np.arccos(turned)) == pytest.approx(angle, abs=0.05)


def test_outlines_are_as_thick_as_the_section_shows(files: dict[str, Path]) -> None:
    """In the tube 0.4 mm from buccal and 0.6 mm from occlusal: height and width of the section."""
    for view, thickness in (("view-1", 0.4), ("view-2", 0.6)):
        outline = svg_points(files["svg"], f"{view}-outline")
        assert length(outline[-2:]) == pytest.approx(thickness, abs=0.01)


def test_a_round_wire_is_as_thick_from_everywhere() -> None:
    made = Template(case_with(37, "round"), record_of(22.0, -6.0))
    for view in made.views:
        assert np.linalg.norm(view.sides[0] - view.sides[1], axis=1) == pytest.approx(0.4)


@pytest.mark.parametrize(
    ("tooth", "left", "up_mm", "side", "way"),
    [
        (37, 1.0, -6.0, -1, "gingival"),
        (47, -1.0, 6.0, 1, "occlusal"),
        (27, 1.0, -6.0, -1, "occlusal"),
        (17, -1.0, 6.0, 1, "gingival"),
    ],
)
def test_views_are_not_mirrored_and_name_the_way_of_the_bend(
    tooth: int, left: float, up_mm: float, side: int, way: str
) -> None:
    """Seen from the patient's left, the front is at the left of the page. 5 mm go to lingual."""
    flat, buccal, occlusal = Template(case_with(tooth), record_of(22.0, up_mm, left)).views
    for view in (flat, buccal, occlusal):
        assert np.sign(view.axis[-1, 0]) == side
    assert np.sign(buccal.axis[-1, 1]) == np.sign(up_mm)
    assert way in buccal.bend_text
    assert "lingual" in occlusal.bend_text


def test_a_record_of_another_case_is_refused(record: dict[str, Any]) -> None:
    case = copy.deepcopy(case_with(37))
    case["wire"]["bend_radius_mm"] = 3.0
    with pytest.raises(ValueError, match=r"equilibrium\.json"):
        wire_as_bent(case, record)
