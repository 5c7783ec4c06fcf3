"""Figures: the numbers behind the pictures, and that every picture has its numbers."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from fem.closed_form import TwoPointCantilever, two_point_deflection
from fem.material import Elastic
from fem.section import rectangular_section
from geometry.mesh import TetMesh
from workflow.case_teeth import ToothPart
from workflow.figures import (
    FORCE_COLOUR,
    new_figure,
    nice_at_least,
    save_figure,
    three_digits,
    write_table,
)
from workflow.figures_case_texts import movement_text
from workflow.figures_free_body import _arrow, free_body_table, sums_on, table_scale, with_lengths
from workflow.figures_ligament import LigamentStress
from workflow.figures_loads import Load, arc_points, arrow_table, scale_of
from workflow.figures_mesh import section_table
from workflow.figures_movement import UNMOVED, UnitMotion, movement_figure, movement_table
from workflow.figures_view import Directions, PlacedTooth, View, directions, outline, split_at_zero
from workflow.figures_wire import deflection_table, linear_excess
from workflow.scene import Scene, dashes
from workflow.words import COMPONENTS

ROOT = Path(__file__).resolve().parents[2]
FIGURES = (
    "appliance_3d",
    "free_body",
    "movement",
    "wire_deflection",
    "ligament_stress",
    "mesh_section",
)
TO_PRINT = "bench_template"  # a page of its own size, also as PDF; test_bench_template.py
TUBE, HOOK = np.array([32.0, 27.0, -4.0]), np.array([24.0, 8.0, -3.0])
FORCE = np.array([0.08, -0.03, -0.55])


def balanced_loads() -> list[Load]:
    """A force on the hook and its opposite with the couple that statics demands on the tube."""
    couple = -np.cross(HOOK - TUBE, FORCE)
    return [
        Load("molar", "two-point", TUBE, -FORCE, couple),
        Load("segment", "one-point", HOOK, FORCE, np.zeros(3)),
    ]


# Arrows


def test_arrow_lengths_follow_the_printed_scale() -> None:
    loads = balanced_loads()
    scale = scale_of(loads)
    table = arrow_table(loads, scale)
    printed = [float(number) for number in re.findall(r"= ([0-9.]+) N", scale.text)]
    for row in table.to_dict("records"):
        size = np.linalg.norm([row["vector_x"], row["vector_y"], row["vector_z"]])
        per_10_mm = printed[0] if row["kind"] == "force" else printed[1]
        assert row["length_drawn_mm"] == pytest.approx(10 * size / per_10_mm, rel=1e-12)
    assert list(table["kind"]) == ["force", "couple", "force"]


@pytest.mark.parametrize("factor", [1e-3, 0.7, 40.0])
def test_the_scale_keeps_arrows_on_the_page(factor: float) -> None:
    loads = [
        Load(a.unit, a.contact, a.point_mm, factor * a.force_N, factor * a.couple_Nmm)
        for a in balanced_loads()
    ]
    lengths = arrow_table(loads, scale_of(loads)).groupby("kind")["length_drawn_mm"].max()
    assert 5.9 < lengths["force"] <= 15.0  # steps of 1, 2, 5 leave at least 0.4 of the longest
    assert 11.9 < lengths["couple"] <= 30.0


def test_an_arc_goes_round_its_axis_by_the_right_hand_rule_and_has_its_length() -> None:
    axis = np.array([0.3, -0.9, 0.2])
    arc = arc_points(TUBE, axis, 5.0, 4.0)
    spokes, steps = arc[:-1] - TUBE, np.diff(arc, axis=0)
    assert np.all(np.cross(spokes, steps) @ axis > 0)
    assert np.linalg.norm(steps, axis=1).sum() == pytest.approx(20.0, rel=1e-3)


def test_nice_numbers() -> None:
    assert [nice_at_least(v) for v in (0.011, 0.2, 3.0, 7.0)] == [0.02, 0.2, 5.0, 10.0]
    with pytest.raises(ValueError, match="positive"):
        nice_at_least(0.0)


def test_three_digits_keep_their_zeros() -> None:
    assert [three_digits(v) for v in (2.001, 57.3296, 0.0, 999.7, 1200.4)] == [
        "2.00",
        "57.3",
        "0.00",
        "1000",
        "1200",
    ]


# Views


def test_from_the_left_posterior_is_right_and_a_couple_towards_the_eye_turns_anticlockwise() -> (
    None
):
    view = View.from_direction(np.array([1.0, 0.0, 0.0]))
    assert view.flat(np.array([0.0, 2.0, 3.0])) == pytest.approx([2.0, 3.0])
    arc = view.flat(arc_points(np.zeros(3), view.towards, 1.0, 1.0))
    turned = arc[0, 0] * arc[-1, 1] - arc[0, 1] * arc[-1, 0]
    assert turned > 0
    assert view.turning(np.array([2.5, 9.0, 9.0])) == pytest.approx(2.5)


def case_of(tube_tooth: int, *others: int) -> dict[str, object]:
    upright = ToothPart(crest_depth_mm=1.5).model_dump()
    return {
        "units": {"a": {"teeth": [tube_tooth]}, "b": {"teeth": list(others)}},
        "teeth": {str(tooth): upright for tooth in (tube_tooth, *others)},
        "two_point": {"tooth": tube_tooth},
    }


@pytest.mark.parametrize(("teeth", "left"), [((37, 35, 34), 1.0), ((47, 45, 44), -1.0)])
@pytest.mark.parametrize(("tube", "hook"), [(TUBE, HOOK), (HOOK, TUBE)])
def test_mesial_and_buccal_on_both_sides_whether_the_hook_is_in_front_or_behind(
    teeth: tuple[int, ...], left: float, tube: np.ndarray, hook: np.ndarray
) -> None:
    mirror = np.array([left, 1.0, 1.0])
    solved = {"hook": {"touch_mm": hook * mirror}, "tube": {"middle_mm": tube * mirror}}
    words = directions(case_of(*teeth), solved)
    assert words.mesial[1] < -0.8  # forwards: posterior is +y
    assert words.buccal[0] * left > 0.8  # outwards
    assert words.occlusal == pytest.approx([0, 0, 1])
    assert words.mesial @ words.buccal == pytest.approx(0.0, abs=1e-12)


def test_a_hook_above_its_tube_has_no_mesiodistal_plane() -> None:
    solved = {"hook": {"touch_mm": TUBE + np.array([0, 0, 3])}, "tube": {"middle_mm": TUBE}}
    with pytest.raises(ValueError, match="mesiodistal"):
        directions(case_of(37, 35), solved)


def test_the_outline_of_a_rectangle() -> None:
    points = np.array([[0, 0], [6, 0], [6, 4], [0, 4.0]])
    (line,) = outline(points, np.array([[0, 1, 2], [0, 2, 3]]))
    x, y = line.T
    area = 0.5 * abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1)))
    assert area == pytest.approx(24.0, rel=0.04)  # pixels of 0.08 mm along 20 mm of edge
    assert line.min(axis=0) == pytest.approx([0, 0], abs=0.1)


def test_splitting_a_surface_keeps_its_area_and_separates_the_sides() -> None:
    points = np.array([[0, 0, 1], [2, 0, -1], [0, 2, -1], [2, 2, 3.0]])
    triangles = np.array([[0, 1, 2], [1, 3, 2]])
    cut, above, below = split_at_zero(points, triangles, points[:, 2])

    def vector(p: np.ndarray, t: np.ndarray) -> np.ndarray:
        a, b, c = p[t].transpose(1, 0, 2)
        return np.cross(b - a, c - a).sum(axis=0)

    total = vector(cut, above) + vector(cut, below)
    assert total == pytest.approx(vector(points, triangles))  # orientation kept as well
    assert cut[above][..., 2].min() >= -1e-12
    assert cut[below][..., 2].max() <= 1e-12


# Free bodies: equilibrium of a free body (statics)


def test_the_wire_of_the_free_body_is_in_equilibrium() -> None:
    view = View.from_direction(np.array([0.9, -0.4, 0.0]))
    table = free_body_table(balanced_loads(), view)
    assert np.abs(table["force_up_N"]).max() > 0.5
    assert sums_on(table, "wire") == pytest.approx((0.0, 0.0, 0.0), abs=1e-12)
    table.loc[table["body"] == "wire", "couple_Nmm"] *= 1.01
    assert abs(sums_on(table, "wire")[2]) > 0.05


def test_each_load_on_a_unit_has_its_opposite_on_the_wire() -> None:
    table = free_body_table(balanced_loads(), View.from_direction(np.array([1.0, 0.0, 0.0])))
    numbers = ["force_right_N", "force_up_N", "couple_Nmm", "force_towards_eye_N"]
    for _, pair in table.groupby("contact"):
        assert len(pair) == 2
        assert pair[numbers].sum().to_numpy() == pytest.approx(np.zeros(4))


def test_free_body_lengths_follow_the_scale() -> None:
    table = free_body_table(balanced_loads(), View.from_direction(np.array([1.0, 0.0, 0.0])))
    scale = table_scale(table)
    drawn = with_lengths(table, scale)
    forces = np.hypot(table["force_right_N"], table["force_up_N"])
    assert drawn["force_drawn_mm"].to_numpy() == pytest.approx(10 * forces / scale.bar_N)
    couples = table["couple_Nmm"].abs()
    assert drawn["couple_drawn_mm"].to_numpy() == pytest.approx(10 * couples / scale.bar_Nmm)


# Wire: two-point cantilever, Euler–Bernoulli beam theory


def test_the_beam_shape_fits_its_supports_and_its_closed_form() -> None:
    base, span = 4.0, 18.0
    beam = TwoPointCantilever(rectangular_section(0.635, 0.4318), Elastic(65e3, 0.3), span, base)
    assert two_point_deflection(np.array([0.0, base, base + span]), base, span) == pytest.approx(
        [0, 0, 1]
    )
    # curvature just beyond the mesial contact is M/EI = F L/EI, F = stiffness × 1 mm
    x = base + np.array([0.0, 1e-3, 2e-3])
    second = np.diff(two_point_deflection(x, base, span), 2)[0] / 1e-6
    EI = 65e3 * rectangular_section(0.635, 0.4318).I_height_mm4
    assert second == pytest.approx(beam.stiffness_N_per_mm * span / EI, rel=1e-3)
    slopes = np.diff(two_point_deflection(base + np.array([-1e-6, 0.0, 1e-6]), base, span))
    assert slopes[0] == pytest.approx(slopes[1], rel=1e-4)


def wire_records() -> tuple[dict, dict, pd.DataFrame, dict]:
    offsets = np.linspace(0.0, 10.0, 11)
    rod = {
        "spec": {"span_mm": 20.0, "base_mm": 4.0},
        "curve": {"offset_mm": offsets, "force_N": 0.1 * offsets / (1 + 0.02 * offsets)},
        "closed_form": {"euler_bernoulli_N_per_mm": 0.1},
    }
    path = pd.DataFrame({"passive_x_mm": [0.0, 4, 24], "passive_z_mm": [0.0, 0, -8]})
    path = path.assign(engaged_x_mm=[0.0, 4, 25], engaged_z_mm=[0.0, 0, 0])
    wire = {"linear_theory": {"force_N": 0.5}, "linear_as_bent": {"force_N": 0.5}}
    summary = {"wire": wire | {"activation_mm": [0, 0, 5], "force_N": [0, 0, -0.45]}}
    return rod, {"stiffness_N_per_mm": None}, path, summary


def test_the_excess_of_linear_theory_is_computed_and_a_round_wire_has_no_solid() -> None:
    table = deflection_table(*wire_records())
    # linear over rod is 1 + 0.02 × offset by construction
    assert linear_excess(table, 8.0) == pytest.approx(0.16, rel=1e-6)
    assert "linear 3D solid" not in set(table["series"])


def test_the_linear_shape_ends_at_the_hook() -> None:
    table = deflection_table(*wire_records())
    beam = table[(table["panel"] == "shape") & (table["series"] == "linear beam theory")]
    assert beam["y"].iloc[-1] == pytest.approx(0.0, abs=1e-12)
    assert beam["y"].min() < -0.5


# Ligament, mesh, movement


def test_the_colours_of_stress_are_symmetric_about_nothing() -> None:
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1.0]])
    stress = LigamentStress(points, np.array([[0, 1, 2, 3]] * 2), np.array([-7.0, 3.0]))
    assert stress.limit_kPa == 8.0  # round, and no smaller than the largest size
    assert stress.table.iloc[0].to_list() == pytest.approx([0.25, 0.25, 0.25, -7.0])


def box_of_tets() -> TetMesh:
    """A box 2 × 2 × 4 mm about the origin, cut into six tetrahedra, half of it ligament."""
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-2, 2)], dtype=float)
    paths = [(0, 1, 3, 7), (0, 1, 5, 7), (0, 2, 3, 7), (0, 2, 6, 7), (0, 4, 5, 7), (0, 4, 6, 7)]
    region = np.array([0, 0, 0, 1, 1, 1])
    return TetMesh(corners, np.array(paths), region, ("tooth", "ligament"), {})


@pytest.mark.parametrize("plane_mm", [0.1, -0.4])
def test_the_cut_through_a_box_has_its_area(plane_mm: float) -> None:
    area = 0.0
    for _, part in section_table(box_of_tets(), plane_mm).groupby("polygon"):
        x, y = part[["mesial_mm", "occlusal_mm"]].to_numpy().T
        area += 0.5 * abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1)))
    assert area == pytest.approx(8.0)


def motion_of(
    shift: list[float], turn: list[float], enlargement: float | None = None
) -> UnitMotion:
    points = np.array([[0, 0, 8], [0, 0, -12], [3, 0, 0.0]])
    tooth = PlacedTooth(37, "molar", None, points, np.array([[0, 1, 2]]), np.empty((0, 3), int))  # type: ignore[arg-type]
    axis = np.asarray(turn) / np.linalg.norm(turn)
    at = np.cross(turn, shift) / np.dot(turn, turn)
    words = Directions(np.array([0.0, -1, 0]), np.array([1.0, 0, 0]), np.array([0.0, 0, 1]))
    moved = {37: (np.zeros(3), np.array(shift), np.array(turn))}
    return UnitMotion("molar", (tooth,), np.zeros(3), moved, at, axis, words, enlargement)


def test_the_drawn_movement_is_visible_and_rigid() -> None:
    motion = motion_of([0.0, 1e-4, 2e-3], [-2e-3, 0.0, 0.0])
    points = motion.teeth[0].points
    after = motion.after(motion.teeth[0])
    assert 1.0 <= np.linalg.norm(after - points, axis=1).max() <= 2.6
    assert np.linalg.norm(after[0] - after[1]) == pytest.approx(20.0, rel=1e-12)
    assert after[0, 1] > points[0, 1]  # −x turns the top backwards: the crown tips distally


def test_the_centre_of_rotation_stays_and_is_marked_only_where_its_axis_is_seen_end_on() -> None:
    motion = motion_of([0.0, 0.0, 2e-3], [-2e-3, 0.0, 0.0])
    centre = motion.centre_of_rotation(motion.words.buccal_view)
    assert centre is not None
    # a shift u and turn ω leave the point ω × u/ω² at rest
    _, shift, turn = motion.moved[37]
    assert shift + np.cross(turn, centre) == pytest.approx(np.zeros(3))
    assert motion.centre_of_rotation(motion.words.mesial_view) is None


# A unit that a case holds fixed (support: fixed) moves by nothing, or by rounding


@pytest.mark.parametrize("size_mm", [0.0, 1e-17])
@pytest.mark.parametrize("enlargement", [None, 100.0])
def test_a_fixed_unit_is_drawn_unmoved_and_said_to_be(
    size_mm: float, enlargement: float | None
) -> None:
    motion = replace(
        motion_of([0.0, 0.0, size_mm], [1e-12, 0.0, 0.0], enlargement),
        axis_mm=None,
        axis_direction=None,
    )
    assert not motion.moves
    assert motion.factor == 1.0
    table = movement_table([motion])
    assert np.isfinite(table[["factor", "right_mm", "up_mm"]]).all(axis=None)
    nothing = dict.fromkeys(COMPONENTS, 0.0)
    figure = movement_figure(table, [motion], {"units": {"molar": {"anatomical": nothing}}})
    texts = [text for axes in figure.axes for text in axes.texts]
    assert any(UNMOVED in text.get_text() for text in texts)
    assert not any("enlarged" in text.get_text() or "0.00" in text.get_text() for text in texts)
    assert not any(str(text.get_gid()).startswith("arrow") for text in texts)
    colours = {line.get_color() for axes in figure.axes for line in axes.lines}
    assert FORCE_COLOUR not in colours


def test_the_caption_names_what_is_held_fixed() -> None:
    anatomical = dict.fromkeys(COMPONENTS, 1.0)
    unit = {"anatomical": anatomical, "teeth": [37], "role": "target"}
    summary = {"units": {"molar": unit, "segment": unit}}
    held = {"molar": {"support": "ligament"}, "segment": {"support": "fixed"}}
    text = movement_text({"title": "A case", "units": held}, summary, {"molar": 50.0})
    assert text.caption == (
        "Initial movement, enlarged 50 times (molar); linear ligament. Held fixed and drawn "
        "unmoved: segment."
    )


# Pictures


def test_dashes_cover_half_a_line() -> None:
    pieces = dashes(np.array([[0, 0, 0], [10.0, 0, 0]]), 1.0)
    assert sum(piece[-1, 0] - piece[0, 0] for piece in pieces) == pytest.approx(5.0)


def test_a_rendered_ball_lies_where_its_millimetres_say() -> None:
    scene = Scene()
    scene.add_ball(np.array([5.0, 20.0, 7.0]), 2.0, color="black", lighting=False)
    picture = scene.render(View.from_direction(np.array([1.0, 0.0, 0.0])), 10.0, margin_mm=1.0)
    rows, columns = np.nonzero((picture.pixels < 128).all(axis=2))
    left, right, bottom, top = picture.extent_mm
    height, width = picture.pixels.shape[:2]
    assert left + (columns.mean() + 0.5) / width * (right - left) == pytest.approx(20.0, abs=0.1)
    assert top - (rows.mean() + 0.5) / height * (top - bottom) == pytest.approx(7.0, abs=0.1)
    assert (right - left) / width == pytest.approx(0.1)
    assert np.ptp(rows) == pytest.approx(40, abs=2)  # 4 mm at 10 pixels a millimetre


def test_a_saved_picture_is_wide_enough_and_without_a_date(tmp_path: Path) -> None:
    figure = new_figure(8.0, 1.0)
    figure.subplots().plot([0, 1])
    save_figure(
        figure,
        str(tmp_path / "a.svg"),
        str(tmp_path / "a.png"),
        title="A line",
        description="From 0 to 1.",
    )
    width = int.from_bytes((tmp_path / "a.png").read_bytes()[16:20], "big")  # PNG header
    assert width >= 1600
    assert "<dc:date>" not in (tmp_path / "a.svg").read_text(encoding="utf-8")


def test_tables_keep_six_digits(tmp_path: Path) -> None:
    write_table(pd.DataFrame({"a": [1 / 3]}), str(tmp_path / "a.csv"))
    assert (tmp_path / "a.csv").read_text().split() == ["a", "0.333333"]


@pytest.mark.parametrize("name", [*FIGURES, TO_PRINT])
def test_every_figure_has_a_table_of_the_same_name(name: str) -> None:
    rules = (ROOT / "workflow" / "rules" / "figures.smk").read_text(encoding="utf-8")
    (rule,) = re.findall(rf"^rule {name}:\n(.*?)(?=^rule |\Z)", rules, re.DOTALL | re.MULTILINE)
    for suffix in ("csv", "svg", "png", *(["pdf"] if name == TO_PRINT else [])):
        assert f'figures/{name}.{suffix}"' in rule
    script = (ROOT / "workflow" / "scripts" / f"{name}.py").read_text(encoding="utf-8")
    assert "write_table(" in script
    assert len(script.splitlines()) < 40


def test_no_figure_is_forgotten_here() -> None:
    rules = (ROOT / "workflow" / "rules" / "figures.smk").read_text(encoding="utf-8")
    assert set(re.findall(r"^rule (\w+):", rules, re.MULTILINE)) == {*FIGURES, TO_PRINT}


@pytest.mark.parametrize("length", [0.3, 2.0, 15.0])
def test_an_arrow_is_as_long_as_its_load_however_short(length: float) -> None:
    figure = new_figure(4, 4)
    axes = figure.subplots()
    _arrow(axes, np.array([[1.0, 1.0], [1.0, 1.0 + length]]), "black", "arrow")
    (head,) = axes.patches
    tip = head.get_xy()[:, 1].max()
    shaft = axes.lines[0].get_ydata()
    assert tip == pytest.approx(1.0 + length)
    assert min(shaft) == pytest.approx(1.0)
    assert max(shaft) < tip
