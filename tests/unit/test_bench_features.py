"""The bench template of wires with loops, steps and bends out of plane, measured on the page.

What is drawn is held against the numbers the wire was bent to, by plane trigonometry and the
circle; the helix against the screw line: a turn advances by its pitch along the helix axis, which
leans by α = atan(pitch / 2πr) from the section's plane (do Carmo, Differential Geometry of Curves
and Surfaces, section 1-5, exercise 1, from memory).
"""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.path import Path as Outline
from numpy.typing import NDArray

from geometry.wire_course import along_curve
from geometry.wire_features import BoxLoop, Helix, LLoop, Step, TLoop, ULoop
from geometry.wire_path import Bend, Straight, sweep
from tests.bench import (
    IN_TUBE,
    Part,
    PRINTED_mm,
    Template,
    box_of,
    case_with,
    length,
    record_of,
    svg_points,
    texts,
    tube_axes,
)
from workflow.bench_template import page_for, save_template
from workflow.bench_wire import parts_table

Array = NDArray[np.float64]

GINGIVAL = "-height"  # of a lower tooth
TURN_RADIUS, PITCH = 1.25, 0.5
LEAN = np.arctan(PITCH / (2 * np.pi * TURN_RADIUS))
HEIGHT, WIDTH, CORNER = 7.0, 3.0, 1.0
FIRST_deg, OFFSET, SECOND_deg, RADIUS = 15.0, 2.0, 20.0, 0.8


def helix(pitch: float) -> list[Part]:
    return [
        IN_TUBE,
        ("straight run", Straight(2.0), ""),
        ("helix", Helix(1, TURN_RADIUS, pitch, GINGIVAL), "1 turn, radius 1.25 mm"),
        ("last run", Straight(20.0), ""),
    ]


U_LOOP: list[Part] = [
    IN_TUBE,
    ("straight run", Straight(3.0), ""),
    ("U loop", ULoop(HEIGHT, WIDTH, CORNER, GINGIVAL), "height 7 mm, towards gingival"),
    ("last run", Straight(12.0), ""),
]
STEP: list[Part] = [
    IN_TUBE,
    ("bend", Bend(np.radians(FIRST_deg), RADIUS, "-width"), ""),
    ("straight run", Straight(8.0), ""),
    ("step", Step(OFFSET, RADIUS, "width"), "2 mm"),
    ("straight run", Straight(6.0), ""),
    ("bend", Bend(np.radians(SECOND_deg), RADIUS, "height"), "20°"),
    ("last run", Straight(9.0), ""),
]
CROWDED: list[Part] = [
    IN_TUBE,
    ("helix", Helix(2, 1.25, 0.45, GINGIVAL), "2 turns, radius 1.25 mm, pitch 0.45 mm " * 2),
    ("bend", Bend(0.5, 1.0, "width"), ""),
    ("straight run", Straight(1.0), ""),
    ("T loop", TLoop(7.0, 9.0, 2.5, 1.0, 0.5, GINGIVAL), ""),
    ("straight run", Straight(4.0), ""),
    ("L loop", LLoop(6.0, 5.0, 2.5, 1.0, 0.5, "height"), ""),
    ("straight run", Straight(2.5), ""),
    ("box loop", BoxLoop(4.0, 3.0, 0.5, "width"), ""),
    ("bend", Bend(np.pi / 2, 0.0, "height"), ""),
    ("last run", Straight(6.0), ""),
]


def along_the_arch() -> list[Part]:
    bend = Bend(np.radians(10), 1.0, "-width")
    before = sweep([IN_TUBE[1], bend], np.array([30.0, 24.0, 0.0]), tube_axes())
    t = np.linspace(0, 1, 12)
    ahead = np.column_stack([30 * t, 8 * t**2 + 4 * t**4, 0 * t]) @ before.axes[-1].T
    course = along_curve(before.tip + ahead, before.axes[-1])
    parts: list[Part] = [IN_TUBE, ("bend", bend, ""), ("along the arch", course, "from 37 to 33")]
    return [*parts, ("last run", Straight(5.0), "")]


WIRES: dict[str, list[Part]] = {
    "helix": helix(PITCH),
    "U loop": U_LOOP,
    "step": STEP,
    "crowded": CROWDED,
    "arch": along_the_arch(),
}


@pytest.fixture(scope="module")
def made() -> dict[str, Template]:
    return {name: Template(case_with(37), record_of(parts)) for name, parts in WIRES.items()}


@pytest.fixture(scope="module")
def pages(made: dict[str, Template], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("features")
    paths = {name: folder / f"{name}.svg" for name in made}
    for name, path in paths.items():
        save_template(made[name].figure, str(path), title=name, description="A wire.")
    return paths


def stretch(points: Array, from_mm: float, to_mm: float) -> Array:
    """Corners of a drawn line between two lengths along it, as measured on the paper."""
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    return points[(arc > from_mm) & (arc < to_mm)]


def fitted_circle(points: Array) -> tuple[Array, float]:
    """Centre and radius of the circle of least squares, ``2c·p + (r² − c·c) = p·p``."""
    system = np.column_stack([2 * points, np.ones(len(points))])
    x, y, rest = np.linalg.lstsq(system, np.sum(points**2, axis=1), rcond=None)[0]
    return np.array([x, y]), float(np.sqrt(rest + x**2 + y**2))


def tip_by_trigonometry(name: str) -> Array:
    """Hook end from the tube's end: along it, along its width axis and up, mm."""
    if name == "helix":
        advance = PITCH * np.array([np.sin(LEAN), np.cos(LEAN)])
        return np.array([26.0 + advance[0], advance[1], 0.0])
    if name == "U loop":
        return np.array([4.0 + 3.0 + WIDTH + 2 * CORNER + 12.0, 0.0, 0.0])
    second = np.radians(SECOND_deg)
    onwards = 8.0 + 2 * RADIUS + 6.0 + RADIUS * np.sin(second) + 9.0 * np.cos(second)
    aside = OFFSET + RADIUS * (1 - np.cos(second)) + 9.0 * np.sin(second)
    first = np.radians(FIRST_deg)
    along = 4.0 + RADIUS * np.sin(first) + onwards * np.cos(first)
    return np.array([along, aside, RADIUS * (1 - np.cos(first)) + onwards * np.sin(first)])


@pytest.mark.parametrize("name", ["helix", "U loop", "step"])
def test_the_hook_end_is_drawn_where_the_bends_bring_it(pages: dict[str, Path], name: str) -> None:
    """On the left side, ahead is to the left of the page from buccal and from occlusal.

    From buccal, up is up; from occlusal, buccal is down (the lingual side lies across the page's
    top). The tube's width axis points to the patient's left, to buccal; paper counts downwards.
    """
    along, aside, up = tip_by_trigonometry(name)
    for view, expected in (("view-1", [-along, -up]), ("view-2", [-along, aside])):
        axis = svg_points(pages[name], f"{view}-axis")
        assert axis[-1] - axis[0] == pytest.approx(expected, abs=PRINTED_mm)


@pytest.mark.parametrize("name", list(WIRES))
def test_the_parts_add_up_to_the_wire(made: dict[str, Template], name: str) -> None:
    table = made[name].parts
    features = [feature for _, feature, _ in WIRES[name]]
    wire = sum(arc.length_mm for feature in features for arc in feature.arcs())
    assert table["length_mm"].sum() == pytest.approx(wire, rel=1e-12)
    assert table["to_mm"].iloc[-1] == pytest.approx(wire, rel=1e-12)
    assert table["from_mm"].iloc[1:].to_numpy() == pytest.approx(table["to_mm"].iloc[:-1])
    assert table["number"].tolist() == list(range(1, len(features) + 1))
    assert table["part"].tolist() == [part for part, _, _ in WIRES[name]]
    assert table["words"].tolist() == [words for _, _, words in WIRES[name]]


def test_a_helix_and_a_loop_are_as_long_as_their_turns_and_legs(made: dict[str, Template]) -> None:
    """A turn is the hypotenuse of circle and pitch; a corner of radius r saves 2r − πr/2."""
    turn = np.hypot(2 * np.pi * TURN_RADIUS, PITCH)
    assert made["helix"].parts["length_mm"].iloc[2] == pytest.approx(turn)
    legs = 2 * HEIGHT + WIDTH + 2 * CORNER - 4 * (2 - np.pi / 2) * CORNER
    assert made["U loop"].parts["length_mm"].iloc[2] == pytest.approx(legs)


def test_angle_and_radius_are_given_for_single_arcs_of_a_circle(made: dict[str, Template]) -> None:
    table = made["step"].parts
    bends = table["part"] == "bend"
    assert table.loc[bends, "angle_deg"].tolist() == pytest.approx([FIRST_deg, SECOND_deg])
    assert table.loc[bends, "radius_mm"].tolist() == pytest.approx([RADIUS, RADIUS])
    assert table.loc[~bends, ["angle_deg", "radius_mm"]].isna().all(axis=None)
    assert made["helix"].parts[["angle_deg", "radius_mm"]].isna().all(axis=None)
    flat = parts_table(record_of(helix(0.0)))
    assert flat["angle_deg"].iloc[2] == pytest.approx(360)
    assert flat["radius_mm"].iloc[2] == pytest.approx(TURN_RADIUS)


def test_the_corners_of_a_loop_are_drawn_to_their_radius(pages: dict[str, Path]) -> None:
    axis = svg_points(pages["U loop"], "view-0-axis")
    start, quarter = 7.0, np.pi / 2 * CORNER
    leg, crown = HEIGHT - 2 * CORNER, WIDTH - 2 * CORNER
    corners = (0.0, quarter + leg, 2 * quarter + leg + crown, 3 * quarter + 2 * leg + crown)
    for corner in corners:
        arc = stretch(axis, start + corner - 0.01, start + corner + quarter + 0.01)
        assert len(arc) >= 5
        assert fitted_circle(arc)[1] == pytest.approx(CORNER, abs=PRINTED_mm)
    assert np.ptp(axis[:, 1]) == pytest.approx(HEIGHT, abs=PRINTED_mm)
    assert axis[:, 1].max() - axis[0, 1] == pytest.approx(HEIGHT, abs=PRINTED_mm)


def test_a_turn_of_a_helix_is_drawn_to_its_radius_and_below_the_wire(
    pages: dict[str, Path],
) -> None:
    """The lean of its axis shifts one end of the turn by pitch · sin α, 0.03 mm, on the page."""
    axis = svg_points(pages["helix"], "view-0-axis")
    centre, radius = fitted_circle(stretch(axis, 6.0, 6.0 + 2 * np.pi * TURN_RADIUS))
    assert radius == pytest.approx(TURN_RADIUS, abs=PRINTED_mm)
    assert centre - axis[0] == pytest.approx([-6.0, TURN_RADIUS], abs=PRINTED_mm)


@pytest.mark.parametrize(("pitch", "near"), [(PITCH, "last"), (-PITCH, "first")])
def test_the_near_strand_of_a_helix_is_drawn_over_the_far_one(pitch: float, near: str) -> None:
    """0.6 mm past the crossing one sees the outer edge of the near strand, not that of the other.

    On the left side, a turn to gingival with a pitch above 0 advances to buccal, towards the
    reader: the last quarter of the turn then lies over the run that leads into it. Half the
    section's height beside the axes, the edges are at −1.25 + √(1.45² − 0.6²) and at −0.2 mm.
    """
    figure = Template(case_with(37), record_of(helix(pitch))).figure
    axes = figure.axes[0]
    (axis,) = [line for line in axes.lines if line.get_gid() == "view-1-axis"]
    crossing = axis.get_xydata()[0] + [-6.0, 0.0]
    per_mm, half = 100, 2.0
    figure.set_size_inches(2 * half, 2 * half)
    axes.set(xlim=crossing[0] + np.array([-half, half]), ylim=crossing[1] + np.array([-half, half]))
    canvas = FigureCanvasAgg(figure)
    figure.set_dpi(per_mm)
    canvas.draw()
    grey = np.asarray(canvas.buffer_rgba())[..., :3].mean(axis=2)

    def dark(x: float, y: float) -> bool:
        row, column = int((half - y) * per_mm), int((x + half) * per_mm)
        return bool(grey[row - 2 : row + 3, column - 2 : column + 3].min() < 150)

    out = -TURN_RADIUS + np.sqrt((TURN_RADIUS + 0.2) ** 2 - 0.6**2)
    over_the_first, over_the_last = dark(0.6, out), dark(-0.6, out)
    assert (over_the_first, over_the_last) == ((True, False) if near == "last" else (False, True))


@pytest.mark.parametrize(
    ("name", "leaves"),
    [
        ("U loop", None),
        ("helix", PITCH * np.cos(LEAN)),
        ("step", tip_by_trigonometry("step")[2]),
    ],
)
def test_a_wire_that_is_not_flat_says_so_and_by_how_much(
    made: dict[str, Template], name: str, leaves: float | None
) -> None:
    """Helix: seen along its axis, it rises by its pitch. Step: seen from above its two planes."""
    view = made[name].views[0]
    if leaves is None:
        assert "lay the wire flat here" in view.title
        assert "leaves" not in view.remark
        return
    assert view.title.startswith("Not flat")
    assert "lay the wire flat" not in view.title
    assert f"{leaves:.2f} mm" in view.remark


def test_the_end_is_as_steep_as_it_looks(made: dict[str, Template]) -> None:
    """Of a run turned up by α, then aside by β about its height: tan β / cos α from above."""
    _, buccal, occlusal = made["step"].views
    first, second = np.radians(FIRST_deg), np.radians(SECOND_deg)
    from_above = np.degrees(np.arctan2(np.tan(second), np.cos(first)))
    assert buccal.last_text == f"{FIRST_deg:.1f}° towards occlusal"
    assert occlusal.last_text.startswith(f"{from_above:.1f}° towards ")


@pytest.mark.parametrize("name", list(WIRES))
def test_no_text_meets_another_or_the_wire_or_leaves_the_page(
    made: dict[str, Template], name: str
) -> None:
    figure = made[name].figure
    axes = figure.axes[0]
    figure.draw_without_rendering()
    rings = [patch for patch in axes.patches if str(patch.get_gid()).endswith("callout")]
    boxes = [box_of(text) for text in axes.texts if not text.get_text().isdigit()]
    boxes += [ring.get_transform().transform_path(ring.get_path()) for ring in rings]
    wires = [
        Outline(axes.transData.transform(line.get_xydata()))
        for line in axes.lines
        if str(line.get_gid()).endswith("axis")
    ]
    assert len(wires) == 3
    for index, box in enumerate(boxes):
        assert np.all(box.vertices > figure.bbox.min)
        assert np.all(box.vertices < figure.bbox.max)
        assert not any(box.intersects_path(other, filled=True) for other in boxes[:index])
        assert not any(wire.intersects_path(box, filled=True) for wire in wires)


@pytest.mark.parametrize("name", list(WIRES))
def test_every_bend_and_loop_is_numbered_in_every_view(
    made: dict[str, Template], name: str
) -> None:
    axes, table = made[name].figure.axes[0], made[name].parts
    gids = {str(patch.get_gid()) for patch in axes.patches}
    for row in table.to_dict("records"):
        if "run" not in row["part"]:
            assert {f"view-{view}-{row['number']}-callout" for view in range(3)} <= gids
        elif row["length_mm"] >= 2.5:
            assert f"view-0-{row['number']}-callout" in gids
    numbers = [text for text in texts(made[name].figure) if text.isdigit()]
    assert len(numbers) == len(table) + sum(gid.endswith("callout") for gid in gids) + 1


def test_a_single_loop_at_the_mouth_is_not_dimensioned_as_a_bend() -> None:
    _, _, turn, run = helix(PITCH)
    made = Template(case_with(37), record_of([IN_TUBE, turn, run]))
    gids = {str(patch.get_gid()) for patch in made.figure.axes[0].patches}
    assert {f"view-0-{number}-callout" for number in (1, 2, 3)} <= gids
    assert not any("bend" in text for text in texts(made.figure) if "°" in text)


def test_numbers_point_at_their_parts(made: dict[str, Template], pages: dict[str, Path]) -> None:
    axis = svg_points(pages["U loop"], "view-0-axis")
    for row in made["U loop"].parts.to_dict("records"):
        end = svg_points(pages["U loop"], f"view-0-{row['number']}-pointer")[0]
        fine = np.concatenate([np.linspace(a, b, 50) for a, b in pairwise(axis)])
        nearest = int(np.argmin(np.linalg.norm(fine - end, axis=1)))
        assert fine[nearest] == pytest.approx(end, abs=PRINTED_mm)
        assert row["from_mm"] + 1 < length(fine[: nearest + 1]) < row["to_mm"] - 1
    turns, view = made["crowded"].parts.iloc[1], made["crowded"].views[1]
    assert turns["part"] == "helix"
    assert view.axis[view.marks[1].node, 1] == pytest.approx(-2 * 1.25, abs=PRINTED_mm)


def test_a_sharp_corner_is_called_sharp_and_an_end_towards_the_reader_is_drawn(
    made: dict[str, Template],
) -> None:
    assert "sharp" in texts(made["crowded"].figure)
    last = made["crowded"].views[1]
    seen = np.ptp(last.silhouettes[-1], axis=0)
    assert np.all(seen > 0.3)


def test_a_table_that_grows_takes_larger_paper(made: dict[str, Template]) -> None:
    runs: list[Part] = [("straight run", Straight(1.0), "as it says " * 30)] * 8
    grown = Template(case_with(37), record_of([*U_LOOP[:-1], *runs, U_LOOP[-1]]))
    assert page_for(made["U loop"].views, made["U loop"].parts).name == "A4"
    assert page_for(grown.views, grown.parts).name == "A3"
