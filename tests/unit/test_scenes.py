"""The scenes of a case: what is drawn is what was computed, and small enough to send by mail."""

import json
import re

import numpy as np
import pytest
import pyvista as pv

from geometry.mesh import tet_faces
from tests import scenes as example
from workflow.figures import couple_text, force_text
from workflow.figures_appliance import WIRE_RADIUS_MM
from workflow.plan import frames
from workflow.scenes import scene_values
from workflow.scenes_bodies import (
    MOST_TRIANGLES,
    UNITS_PER_MM,
    couple_arrow,
    force_arrow,
    section,
    thinned,
)
from workflow.scenes_ligament import owners, stressed_surface
from workflow.scenes_record import write_scenes

NASTY = "</script><b>\"molar\" & 'co'</b>"
SURFACE = {"points_10um", "triangles"}
MOTION = {"point_mm", "displacement_mm", "rotation_rad"}


@pytest.fixture(scope="module")
def record():
    return example.record()


def points_mm(flat):
    return np.array(flat).reshape(-1, 3) / UNITS_PER_MM


# Movement


def test_each_tooth_moves_as_the_summary_says_at_the_middle_of_its_crown(record):
    units = example.summary()["units"]
    for tooth in record["teeth"]:
        frame = frames(example.case())[tooth["number"]]
        motion = {key: np.array(vector) for key, vector in tooth["motion"].items()}
        middle = frame.to_patient(np.array([0.0, 0.0, example.CROWN_MM / 2]))
        turned = np.cross(motion["rotation_rad"], middle - motion["point_mm"])
        moved_um = 1e3 * (motion["displacement_mm"] + turned) @ frame.axes
        expected = units[tooth["unit"]]["movement_by_tooth"][str(tooth["number"])]["mid_crown"]
        for part, key in zip(moved_um, ("mesial_um", "buccal_um", "extrusion_um"), strict=True):
            assert part == pytest.approx(expected[key], rel=1e-9)


def test_the_largest_movement_is_drawn_1_to_2_and_a_half_mm_long(record):
    movement = record["movement"]
    largest = 0.0
    for number, motion in example.MOTIONS.items():
        tooth = example.placed_tooth(number, "any")
        moved = motion[:3] + np.cross(motion[3:], tooth.points - tooth.frame.origin)
        largest = max(largest, np.linalg.norm(moved, axis=1).max())
    assert movement["largest_mm"] == pytest.approx(largest, rel=1e-9)
    assert 1.0 <= movement["factor"] * largest <= 2.5


def test_attachments_go_with_their_teeth_and_the_wire_stays(record):
    motions = {tooth["unit"]: tooth["motion"] for tooth in record["teeth"]}
    parts = {part["what"]: part["motion"] for part in record["parts"]}
    assert parts == {"wire": None, "tube": motions["molar"], "hook": motions["premolar"]}


def test_a_hook_between_two_teeth_goes_with_the_unit():
    between = {"unit": "premolar", "tooth": None}
    parts = example.record(case=example.case(one_point=between))["parts"]
    (hook,) = (part["motion"] for part in parts if part["what"] == "hook")
    motion = example.MOTIONS[example.PREMOLAR]
    assert [*hook["displacement_mm"], *hook["rotation_rad"]] == pytest.approx(motion)


def test_nothing_moves_and_no_slider_is_offered_where_all_units_are_fixed():
    still = example.record(summary=example.summary(share=0.0))
    assert still["movement"] == {"factor": 0.0, "largest_mm": 0.0}
    page = example.page_of(still)
    assert 'id="appliance-movement"' not in page
    assert 'id="appliance-movement"' in example.page_of(example.record())


# Loads


def test_loads_are_those_of_the_contacts_and_their_lengths_follow_the_scale(record):
    scale = record["scale"]
    per_unit = {"force": scale["force_mm_per_N"], "couple": scale["couple_mm_per_Nmm"]}
    assert per_unit["force"] * scale["bar_N"] == pytest.approx(10.0)
    assert per_unit["couple"] * scale["bar_Nmm"] == pytest.approx(10.0)
    wrenches = {c["unit"]: np.array(c["wrench"]) for c in example.solved()["contacts"]}
    found = {(load["unit"], load["kind"]): load for load in record["loads"]}
    assert set(found) == {("molar", "force"), ("molar", "couple"), ("premolar", "force")}
    for (unit, kind), load in found.items():
        expected = wrenches[unit][:3] if kind == "force" else wrenches[unit][3:]
        assert load["vector"] == pytest.approx(expected)
        assert load["length_mm"] == pytest.approx(per_unit[kind] * np.linalg.norm(expected))


def test_a_drawn_force_reaches_as_far_as_its_length():
    point, vector = np.array([3.0, 1.0, 2.0]), np.array([0.0, 3.0, -4.0])
    along = (force_arrow(point, vector, 12.0).points - point) @ vector / 5.0
    assert along.min() == pytest.approx(0.0, abs=1e-6)
    assert along.max() == pytest.approx(12.0, abs=1e-6)


def test_a_drawn_couple_goes_round_its_axis_and_has_its_radius():
    point, axis = np.array([3.0, 1.0, 2.0]), np.array([0.0, 0.0, 2.0])
    spokes = couple_arrow(point, axis, 5.0, 4.0).points - point
    assert np.abs(spokes[:, 2]).max() < 1.0  # the head's radius is 0.85 mm
    assert np.median(np.hypot(*spokes.T[:2])) == pytest.approx(5.0, abs=0.1)


def test_labels_tell_a_load_in_either_unit(record):
    for load in scene_values(record)["data"]["loads"]:
        whole = {"force": force_text, "couple": couple_text}[load["kind"]](load["size"])
        label = load["label"]
        assert label["both"] == whole == f"{label['si']}\n({label['gf']})".replace("((", "(")
        assert label["si"].endswith(" N" if load["kind"] == "force" else " N·mm")
        assert label["gf"].endswith(" gf" if load["kind"] == "force" else " gf·mm")


# Bodies


def test_a_thinned_surface_keeps_its_border_and_nearly_its_place():
    points, triangles = example.ellipsoid(11.0)
    half = triangles[(points[triangles][..., 2] >= -1e-9).all(axis=1)]
    surface = thinned(points, half, most=300)
    assert len(surface.triangles) <= 300 < len(half)
    fine = pv.PolyData.from_regular_faces(points, half).clean()
    coarse = pv.PolyData.from_regular_faces(surface.points, surface.triangles)
    border = {"boundary_edges": True, "feature_edges": False, "manifold_edges": False}
    before, after = (body.extract_feature_edges(**border).points for body in (fine, coarse))
    assert len(before) == len(after) > 20
    gaps = np.linalg.norm(before[:, None] - after, axis=2)
    assert gaps.min(axis=0).max() < 1e-6 > gaps.min(axis=1).max()
    away = coarse.compute_implicit_distance(fine)["implicit_distance"]
    assert np.abs(away).max() < 1e-6  # the points that stay are points of the surface
    assert coarse.area == pytest.approx(fine.area, rel=0.03)


def test_a_small_surface_stays_as_it_is():
    points, triangles = example.ellipsoid(11.0)
    surface = thinned(points, triangles)
    assert len(surface.triangles) == len(triangles) < MOST_TRIANGLES


def test_the_outline_of_a_section_lies_in_its_plane_and_on_the_surface():
    points, triangles = example.ellipsoid(11.0)
    pieces = np.array(section(points, triangles, np.zeros(3), np.array([1.0, 0.0, 0.0])))
    assert np.abs(pieces[..., 0]).max() < 1e-6
    radii = np.hypot(pieces[..., 1] / 3.5, pieces[..., 2] / 11.0)
    assert radii.max() <= 1 + 1e-6
    assert radii.min() > 0.98


def test_points_are_rounded_to_10_um(record):
    for tooth, number in zip(record["teeth"], example.MOTIONS, strict=True):
        placed = example.placed_tooth(number, "any")
        for name in ("crown", "root"):
            found = points_mm(tooth[name]["points_10um"])
            gaps = np.linalg.norm(found[:, None] - placed.points, axis=2).min(axis=1)
            assert gaps.max() <= np.sqrt(3) * 0.5 / UNITS_PER_MM + 1e-9


# Ligament


def test_each_triangle_has_the_stress_of_the_element_behind_it(record):
    count = len(example.layer().facets["socket"])
    for tooth, entry in zip(record["teeth"], example.teeth(), strict=True):
        field = entry.stress.hydrostatic_kPa
        shown = tooth["ligament"]
        # The third tetrahedron of each prism has its outside; the last triangle is of the rim.
        values = np.array(shown["hydrostatic_kPa"])[:-1]
        assert values == pytest.approx(field[2 * count :], abs=0.005 + 1e-9)
        tets = entry.stress.points[entry.stress.tets[2 * count :]]
        corners = points_mm(shown["points_10um"])[np.array(shown["triangles"]).reshape(-1, 3)]
        assert corners[:-1].mean(axis=1) == pytest.approx(tets[:, 1:].mean(axis=1), abs=0.01)


def test_stress_ranges_are_those_of_the_fields(record):
    fields = [entry.stress.hydrostatic_kPa for entry in example.teeth()]
    for tooth, field in zip(record["teeth"], fields, strict=True):
        assert tooth["hydrostatic_kPa"]["min"] == field.min()
        assert tooth["hydrostatic_kPa"]["max"] == field.max()
        assert tooth["hydrostatic_kPa"]["limit_kPa"] >= np.abs(field).max()
    limits = [tooth["hydrostatic_kPa"]["limit_kPa"] for tooth in record["teeth"]]
    assert record["stress"]["limit_kPa"] == max(limits) > min(limits)


def test_colours_mean_nothing_in_the_middle_and_differ_in_both_directions(record):
    shades = [[int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in record["stress"]["colours"]]
    low, middle, high = np.array(shades)[[8, len(shades) // 2, -9]]
    assert len(shades) % 2 == 1
    assert middle.min() > 200  # pale
    assert low[2] > low[0]  # compression blue
    assert high[0] > high[2]  # tension red


def test_a_face_of_two_elements_belongs_to_the_first_and_a_stranger_is_refused():
    tets = np.array([[0, 1, 2, 3], [1, 2, 3, 4]])
    assert list(owners(tets, np.array([[3, 1, 2], [4, 2, 1]]))) == [0, 1]
    assert list(owners(tets, tet_faces(tets))) == [0, 0, 0, 0, 1, 1, 1, 0]
    with pytest.raises(ValueError, match="no face"):
        owners(tets, np.array([[0, 1, 4]]))


def test_a_field_of_another_mesh_is_refused():
    entry, mesh = example.teeth()[0], example.layer()
    stranger = type(entry.stress)(
        entry.stress.points, entry.stress.tets[::-1], entry.stress.hydrostatic_kPa
    )
    with pytest.raises(ValueError, match="not that of this mesh"):
        stressed_surface(mesh, stranger)


# Record and page


def test_the_record_has_its_keys_and_only_whole_points(record, tmp_path):
    write_scenes(tmp_path / "scenes.json", record)
    read = json.loads((tmp_path / "scenes.json").read_text(encoding="utf-8"))
    assert read == record
    assert set(read) == {
        "case",
        "view",
        "label_side",
        "directions",
        "movement",
        "scale",
        "loads",
        "units",
        "teeth",
        "parts",
        "passive_wire_10um",
        "stress",
    }
    for tooth in read["teeth"]:
        assert len(tooth["crown"]["triangles"]) <= 3 * MOST_TRIANGLES
        assert len(tooth["root"]["triangles"]) <= 3 * MOST_TRIANGLES
        assert set(tooth) == {
            "number",
            "unit",
            "directions",
            "label_10um",
            "crown",
            "root",
            "sections_10um",
            "motion",
            "ligament",
            "hydrostatic_kPa",
        }
        assert set(tooth["motion"]) == MOTION
        assert set(tooth["ligament"]) == SURFACE | {"hydrostatic_kPa"}
    surfaces = [tooth[name] for tooth in read["teeth"] for name in ("crown", "root", "ligament")]
    surfaces += [part["surface"] for part in read["parts"] + read["loads"]]
    for surface in surfaces:
        assert set(surface) >= SURFACE
        assert all(type(number) is int for key in SURFACE for number in surface[key])
        assert min(surface["triangles"]) >= 0
        assert max(surface["triangles"]) < len(surface["points_10um"]) // 3


def test_a_record_that_is_no_number_is_not_written(record, tmp_path):
    with pytest.raises(ValueError, match="JSON compliant"):
        write_scenes(tmp_path / "scenes.json", record | {"movement": {"factor": float("nan")}})


def test_further_holds_brackets_and_the_other_side_are_drawn():
    solved = example.solved()
    tube = solved["tube"]["middle_mm"]
    solved["hook"]["bracket_mm"] = [tube, tube + 2]
    case = example.case(
        mirror_image=True, further=[{"unit": "premolar", "tooth": example.PREMOLAR}]
    )
    parts = example.record(solved=solved, case=case)["parts"]
    kinds = [part["what"] for part in parts]
    assert kinds == ["wire", "tube", "bracket", "hook", "mirrored wire", "hook"]
    here, there = (points_mm(parts[i]["surface"]["points_10um"]) for i in (0, 4))
    assert there[:, 0].mean() == pytest.approx(-here[:, 0].mean(), abs=WIRE_RADIUS_MM)
    assert "The wire of the other side is drawn" in example.page_of(
        example.record(solved=solved, case=case)
    )


def test_a_wire_across_the_arch_is_first_seen_from_occlusal(record):
    across = example.case(wire={"activation": {"pulls": "buccal"}})
    assert example.record(case=across)["view"] == "occlusal"
    assert record["view"] == "buccal"


def test_texts_of_a_case_are_escaped(record):
    names = {"units": {NASTY: {"teeth": [37]}, "premolar": {"teeth": [35]}}}
    nasty = json.loads(json.dumps(record))
    for part in (*nasty["teeth"], *nasty["loads"]):
        part["unit"] = NASTY if part["unit"] == "molar" else part["unit"]
    nasty["units"][0]["name"] = next(iter(names["units"]))
    page = example.page_of(nasty)
    without_library = re.sub(r'<script type="text/plain".*?</script>', "", page, flags=re.S)
    assert "<b>" not in without_library.replace("`<b>$", "")
    held = re.search(r'<script type="application/json" id="scene-data">(.*?)</script>', page, re.S)
    assert json.loads(held[1])["units"][0]["name"] == NASTY


def test_the_page_asks_for_nothing_and_tells_the_numbers_in_words(record):
    page = example.page_of(record)
    shown = re.sub(r"<script.*?</script>", "", page, flags=re.S)
    assert not re.search(r"""(?:src|href)=["'](?!data:|#)""", shown)
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", shown).replace("\xa0", " "))
    assert "molar (tooth 37): force 0.503 N (51.3 gf), couple 10.7 N·mm (1086 gf·mm)" in words
    assert "tooth 35 (premolar): −3.00 kPa (−30.6 gf/cm²) to" in words
    assert "drawn up to 50 times as large" in words


def test_the_tooth_under_most_stress_is_shown_first(record):
    assert scene_values(record)["first_tooth"] == example.MOLAR
    turned = record | {"teeth": record["teeth"][::-1]}
    assert scene_values(turned)["first_tooth"] == example.MOLAR
