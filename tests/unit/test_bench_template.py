"""The page of the bench template, and the wire of one bend: printed as it measures.

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
import pytest

from tests.bench import (
    MM_PER_POINT,
    RADIUS_MM,
    TUBE_MM,
    PRINTED_mm,
    Template,
    box_of,
    case_with,
    length,
    one_bend,
    svg_points,
    texts,
)
from workflow.bench_template import PAGES, page_for, save_template
from workflow.bench_wire import wire_as_bent
from workflow.cautions import CAUTION
from workflow.wire_run import BEND, FREE_RUN, TUBE_RUN

RUN_MM, ANGLE_deg = 22.0, 17.0


@pytest.fixture(scope="module")
def record() -> dict[str, Any]:
    return one_bend(RUN_MM, -ANGLE_deg)


@pytest.fixture(scope="module")
def template(record: dict[str, Any]) -> Template:
    return Template(case_with(37), record)


@pytest.fixture(scope="module")
def files(template: Template, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("template")
    paths = {suffix: folder / f"page.{suffix}" for suffix in ("pdf", "svg")}
    save_template(template.figure, *map(str, paths.values()), title="A", description="A wire.")
    return paths


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
    ("run_mm", "angle_deg", "name"), [(22, 7, "A4"), (150, 2, "A3"), (250, 1, "A3, turned")]
)
def test_the_paper_is_the_smallest_that_holds_the_wire(
    run_mm: float, angle_deg: float, name: str
) -> None:
    made = Template(case_with(37), one_bend(run_mm, angle_deg))
    page = page_for(made.views, made.parts)
    assert page.name == name
    inches = made.figure.get_size_inches()
    assert inches * 25.4 == pytest.approx([page.width_mm, page.height_mm])
    assert any(f"Paper {name}, " in text for text in texts(made.figure))


def test_a_wire_longer_than_the_largest_paper_is_refused() -> None:
    with pytest.raises(ValueError, match="more than A3"):
        Template(case_with(37), one_bend(500.0, 1.0))
    assert max(page.width_mm for page in PAGES) == 420


def test_nothing_leaves_the_page_and_no_two_texts_meet(template: Template) -> None:
    for made in (
        template,
        Template(case_with(37), one_bend(22.0, 15.0)),
        Template(case_with(17), one_bend(12.0, -34.0, left=-1.0)),
    ):
        made.figure.draw_without_rendering()
        boxes = [box_of(text) for text in made.figure.axes[0].texts]
        for index, box in enumerate(boxes):
            assert np.all(box.vertices > made.figure.bbox.min)
            assert np.all(box.vertices < made.figure.bbox.max)
            assert not any(box.intersects_path(other, filled=True) for other in boxes[:index])


def test_the_page_says_what_it_is_and_cautions(template: Template) -> None:
    words = " ".join(" ".join(texts(template.figure)).split())
    for expected in ("An example", "beta titanium", "0.4 × 0.6 mm", "tube end", "hook end"):
        assert expected in words
    assert "This bar must measure 50 mm" in words
    assert CAUTION in words


# The wire of one bend


@pytest.mark.parametrize(
    ("line", "part", "true_mm"),
    [("free-run", FREE_RUN, RUN_MM), ("run-in-the-tube", TUBE_RUN, TUBE_MM)],
)
def test_runs_are_drawn_as_long_as_they_are(
    template: Template, files: dict[str, Path], line: str, part: str, true_mm: float
) -> None:
    table = template.parts.set_index("part")
    assert table.loc[part, "length_mm"] == pytest.approx(true_mm, abs=1e-9)
    assert length(svg_points(files["svg"], line)) == pytest.approx(true_mm, abs=PRINTED_mm)


def test_the_axis_in_the_plane_of_the_bend_is_as_long_as_the_wire(
    template: Template, files: dict[str, Path]
) -> None:
    true = TUBE_MM + RADIUS_MM * np.radians(ANGLE_deg) + RUN_MM
    assert length(svg_points(files["svg"], "view-0-axis")) == pytest.approx(true, abs=PRINTED_mm)
    assert template.parts["to_mm"].iloc[-1] == pytest.approx(true)


def test_the_bend_is_that_between_the_runs(template: Template, files: dict[str, Path]) -> None:
    bend = template.parts.set_index("part").loc[BEND]
    assert bend["angle_deg"] == pytest.approx(ANGLE_deg, abs=1e-9)
    assert bend["length_mm"] == pytest.approx(np.radians(ANGLE_deg) * RADIUS_MM, rel=1e-9)
    assert bend["radius_mm"] == pytest.approx(RADIUS_MM, rel=1e-9)
    drawn = svg_points(files["svg"], "view-0-axis")
    start, end = drawn[1] - drawn[0], drawn[-1] - drawn[-2]
    turned = start @ end / np.linalg.norm(start) / np.linalg.norm(end)
    assert np.degrees(np.arccos(turned)) == pytest.approx(ANGLE_deg, abs=0.05)


def test_outlines_are_as_thick_as_the_section_shows(files: dict[str, Path]) -> None:
    """In the tube 0.4 mm from buccal and 0.6 mm from occlusal: height and width of the section."""
    for view, thickness in (("view-1", 0.4), ("view-2", 0.6)):
        outline = svg_points(files["svg"], f"{view}-wire-0")
        end = outline[np.abs(outline[:, 0] - outline[:, 0].max()) < PRINTED_mm]
        assert np.ptp(end[:, 1]) == pytest.approx(thickness, abs=0.01)


def test_a_round_wire_is_as_thick_from_everywhere() -> None:
    """Within what a polygon of 24 corners leaves of the circle, 0.9 % at most."""
    made = Template(case_with(37, "round"), one_bend(RUN_MM, -ANGLE_deg))
    for view in made.views:
        along = np.diff(view.axis, axis=0)
        for outline, way in zip(view.silhouettes, along, strict=True):
            across = outline @ [-way[1], way[0]] / np.linalg.norm(way)
            assert 0.4 * np.cos(np.pi / 24) - 1e-9 <= np.ptp(across) <= 0.4 + 2e-3


@pytest.mark.parametrize(
    ("tooth", "left", "angle_deg", "side", "way"),
    [
        (37, 1.0, -15.0, -1, "gingival"),
        (47, -1.0, 15.0, 1, "occlusal"),
        (27, 1.0, -15.0, -1, "occlusal"),
        (17, -1.0, 15.0, 1, "gingival"),
    ],
)
def test_views_are_not_mirrored_and_name_the_way_of_the_bend(
    tooth: int, left: float, angle_deg: float, side: int, way: str
) -> None:
    """Seen from the patient's left, the front is at the left of the page."""
    flat, buccal, occlusal = Template(case_with(tooth), one_bend(22.0, angle_deg, left)).views
    for view in (flat, buccal, occlusal):
        assert np.sign(view.axis[-1, 0]) == side
    assert np.sign(buccal.axis[-1, 1]) == np.sign(angle_deg)
    assert way in buccal.last_text
    assert "lingual" in occlusal.last_text


@pytest.mark.parametrize(
    ("key", "value"), [("arc_mm", [0.0, 27.9]), ("passive_mm", [[30.0, 24.0, 0.0]] * 2)]
)
def test_a_wire_other_than_the_one_in_equilibrium_is_refused(
    record: dict[str, Any], key: str, value: list[Any]
) -> None:
    other = copy.deepcopy(record)
    other["wire"][key] = value
    with pytest.raises(ValueError, match=r"equilibrium\.json of case example.*run the equil"):
        wire_as_bent(case_with(37), other)
