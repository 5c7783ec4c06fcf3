"""Arrows of figures, measured as drawn, against the scale that is printed in the same figure."""

import re

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Annotation

from tests.unit.test_figures import balanced_loads, motion_of
from workflow.figures import COUPLE_COLOUR, FORCE_COLOUR, new_figure
from workflow.figures_free_body import ARROW, _draw_load, free_body_table, table_scale
from workflow.figures_loads import arrow_scale, arrow_table, scale_of
from workflow.figures_marks import BAR_NAME, scale_bars
from workflow.figures_movement import ARROW as MOVED
from workflow.figures_movement import _draw_arrows, movement_bars
from workflow.figures_view import View
from workflow.scene import Scene

BUCCAL = View.from_direction(np.array([1.0, 0.0, 0.0]))
FIXED = {"force_N": 0.3, "couple_Nmm": 7.0}


def printed(axes: Axes) -> dict[str, tuple[float, float]]:
    """Length of each bar as drawn, and the number printed at it, by the first word."""
    bars = {}
    for line in axes.lines:
        name = str(line.get_gid() or "")
        if name.startswith(BAR_NAME):
            words = name.removeprefix(BAR_NAME)
            assert any(text.get_text() == words for text in axes.texts)
            number = float(re.findall(r"[0-9.]+(?:e-?[0-9]+)?", words)[0])
            bars[words.split()[0]] = float(np.ptp(line.get_xdata())), number
    return bars


def length(path: np.ndarray) -> float:
    return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())


def drawn_arrows(axes: Axes) -> dict[str, float]:
    """Length of each arrow from its tail to the tip of its head."""
    heads = {str(p.get_gid()): p.get_xy()[0] for p in axes.patches}
    found = {}
    for line in axes.lines:
        name = str(line.get_gid() or "")
        if name.startswith(ARROW):
            shaft = np.asarray(line.get_xydata())
            found[name] = length(np.vstack([shaft, heads[name]]))
    return found


def free_bodies(fixed: dict | None) -> tuple[Axes, dict[str, float]]:
    table = free_body_table(balanced_loads(), BUCCAL)
    scale = table_scale(table, fixed)
    axes = new_figure(8.0, 8.0).subplots()
    sizes = {}
    for row in table.to_dict("records"):
        _draw_load(axes, row, np.array([row["right_mm"], row["up_mm"]]), scale, BUCCAL, 1.0)
        named = f"{row['body']} {row['contact']}"
        sizes[f"{ARROW}force {named}"] = np.hypot(row["force_right_N"], row["force_up_N"])
        if row["couple_Nmm"]:
            sizes[f"{ARROW}couple {named}"] = abs(row["couple_Nmm"])
    scale_bars(axes, scale.bars, (0.0, 0.2))
    return axes, sizes


@pytest.mark.parametrize("fixed", [None, FIXED])
def test_free_body_arrows_are_as_long_as_their_printed_scale_says(fixed: dict | None) -> None:
    axes, sizes = free_bodies(fixed)
    bars, arrows = printed(axes), drawn_arrows(axes)
    assert bars["10"] == pytest.approx((10.0, 10.0))
    assert set(arrows) == set(sizes)
    assert any("couple" in name for name in arrows)
    for name, drawn in arrows.items():
        bar_mm, stands_for = bars["couple" if "couple" in name else "force"]
        # an arc is drawn with chords, and its head is straight
        assert drawn == pytest.approx(bar_mm * sizes[name] / stands_for, rel=5e-3)


def test_a_fixed_scale_is_the_printed_one() -> None:
    scale = scale_of(balanced_loads(), FIXED)
    assert (scale.bar_N, scale.bar_Nmm) == (0.3, 7.0)
    half = scale_of(balanced_loads(), {"force_N": 0.3, "couple_Nmm": None})
    assert half.bar_N == 0.3
    assert half.bar_Nmm == scale_of(balanced_loads()).bar_Nmm


def test_the_scale_is_printed_in_both_units() -> None:
    _, force, couple = (bar.words for bar in arrow_scale([0.5], [10.0]).bars)
    assert re.fullmatch(r"force 0\.5 N \(51\.0 gf\)", force)
    assert re.fullmatch(r"couple 5 N·mm \(510 gf·mm\)", couple)


def test_an_arrow_in_space_is_as_long_in_the_picture_as_its_scale_says() -> None:
    loads = balanced_loads()
    scale = scale_of(loads)
    row = arrow_table(loads, scale).iloc[-1]  # the force on the hook
    vector = row[["vector_x", "vector_y", "vector_z"]].to_numpy(dtype=float)
    across = np.cross(vector, [0.0, 1.0, 0.3])
    view = View.from_direction(across)
    scene = Scene()
    scene.add_force(np.zeros(3), vector, row["length_drawn_mm"], color="black", lighting=False)
    picture = scene.render(view, 20.0, margin_mm=1.0)
    dark = np.argwhere((picture.pixels < 128).all(axis=2))
    along = view.flat(vector) / np.linalg.norm(view.flat(vector))
    reach = dark @ np.array([-along[1], along[0]])  # rows count downwards
    size = float(np.linalg.norm(vector))
    assert np.ptp(reach) / 20.0 == pytest.approx(10.0 * size / scale.bar_N, abs=0.3)


def test_large_and_small_scales_are_printed_as_numbers() -> None:
    _, force, couple = (bar.words for bar in arrow_scale([0.03], [50.0]).bars)
    assert force == "force 0.02 N (2.04 gf)"
    assert couple == "couple 20 N·mm (2039 gf·mm)"


def test_a_contact_without_load_has_no_arrow() -> None:
    table = free_body_table(balanced_loads(), BUCCAL)
    scale = table_scale(table)
    axes = new_figure(8.0, 8.0).subplots()
    numbers = ["force_right_N", "force_up_N", "couple_Nmm"]
    idle = table.iloc[0].to_dict() | dict.fromkeys(numbers, 0.0)
    _draw_load(axes, idle, np.zeros(2), scale, BUCCAL, 1.0)
    assert not drawn_arrows(axes)
    assert not axes.texts


# Movement


def annotations(axes: Axes) -> dict[str, np.ndarray]:
    return {
        str(text.get_gid()): np.subtract(text.xy, text.xyann)
        for text in axes.texts
        if isinstance(text, Annotation) and str(text.get_gid()).startswith(MOVED)
    }


@pytest.mark.parametrize("enlargement", [None, 70.0])
def test_arrows_of_movement_are_as_long_as_their_printed_scale_says(
    enlargement: float | None,
) -> None:
    motion = motion_of([0.0, 1e-4, 2e-3], [-2e-3, 0.0, 0.0], enlargement)
    axes = new_figure(8.0, 8.0).subplots()
    view = motion.words.buccal_view
    _draw_arrows(axes, motion, view)
    axes.set(xlim=(-20, 20), ylim=(-20, 20))
    scale_bars(axes, movement_bars(motion.factor), (0.0, 0.1))
    bars, arrows = printed(axes), annotations(axes)
    assert bars["teeth"] == pytest.approx((5.0, 5.0))
    bar_mm, stands_for_um = bars["movement"]
    _, shift, turn = motion.moved[37]
    for name, point in (("crown", 0), ("apex", 1)):
        moved = shift + np.cross(turn, motion.teeth[0].points[point])
        drawn = arrows[f"{MOVED}37 {name}"] * stands_for_um / bar_mm
        # a rigid turn by up to 0.14 rad is drawn, the movement itself is small
        assert drawn == pytest.approx(1e3 * view.flat(moved), abs=0.08 * 1e3 * np.abs(moved).max())


@pytest.mark.parametrize("factor", [0.5, 50.0, 70.0, 2000.0])
def test_the_bar_of_movement_prints_its_enlargement(factor: float) -> None:
    _, bar = movement_bars(factor)
    moved_um, times = map(float, re.findall(r"[0-9.]+(?:e\+?[0-9]+)?", bar.words))
    assert times == pytest.approx(factor)
    assert bar.length_mm == pytest.approx(1e-3 * moved_um * times)
    assert bar.colour == FORCE_COLOUR


def test_bars_have_the_colours_of_their_arrows() -> None:
    _, force, couple = arrow_scale([0.5], [10.0]).bars
    assert (force.colour, couple.colour) == (FORCE_COLOUR, COUPLE_COLOUR)


def test_bars_leave_the_axes_as_they_are() -> None:
    figure: Figure = new_figure(8.0, 8.0)
    axes = figure.subplots()
    axes.set(xlim=(-3, 4), ylim=(2, 9))
    scale_bars(axes, movement_bars(50.0), (0.5, 0.5))
    assert (axes.get_xlim(), axes.get_ylim()) == ((-3, 4), (2, 9))
