"""Axes, cervix and crest of scans, found on teeth whose frame is known."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from geometry.anatomy import tooth_dimensions
from geometry.arch import ToothPlacement, is_lower
from geometry.arch import tooth_frame as arch_frame
from geometry.crest import PolylineCrest
from geometry.mesh import TriSurface
from geometry.scan.crest import local_crest_line, local_plane, read_crest_line
from geometry.scan.directions import GivenFrame
from geometry.scan.frame import scan_frame
from geometry.scan.mend import mend_scan
from geometry.scan.sections import even_heights, sections, solid_axes
from geometry.tooth import tooth_surface

PLACE = np.array([60.0, -20.0, 45.0])
TIPPED = ToothPlacement(mesial_tip_deg=8.0, buccal_tip_deg=-12.0)


def placed(number, roots=None, turn_deg=0.0):
    """Scan of a parametric tooth, tipped on the arch and turned about its long axis, its frame."""
    local = tooth_surface(tooth_dimensions(number, roots=roots), 0.35)
    frame = arch_frame(number, TIPPED)
    turn = Rotation.from_rotvec(np.radians(turn_deg) * np.array([0.0, 0.0, 1.0])).as_matrix()
    frame = type(frame)(frame.origin + PLACE, frame.axes @ turn)
    triangles = local.triangles[:, ::-1] if frame.mirrored else local.triangles
    return mend_scan(frame.to_patient(local.points), triangles, name=f"tooth {number}"), frame


def turned(scan, rotation):
    """The same scan in other coordinates."""
    moved = rotation.apply(scan.surface.points) + PLACE
    return mend_scan(moved, scan.surface.triangles, name="turned")


def angles_deg(found, truth):
    return np.degrees(np.arccos(np.clip(np.sum(found.axes * truth.axes, axis=0), -1, 1)))


@pytest.mark.parametrize("number", [11, 22, 13, 24, 25, 16, 27, 31, 42, 33, 44, 35, 36, 47])
def test_known_frames_are_found(number):
    """Truth: the frame each was placed in. 3° is less than a bracket is set to by hand."""
    scan, truth = placed(number)
    result = scan_frame(scan, number)
    dimensions = tooth_dimensions(number)
    print(number, angles_deg(result.frame, truth), truth.to_tooth(result.frame.origin))
    assert (angles_deg(result.frame, truth) < 3.0).all()
    assert np.abs(truth.to_tooth(result.frame.origin)).max() < 0.5
    assert result.crown_length_mm == pytest.approx(dimensions.crown_length_mm, abs=0.5)
    assert result.root_length_mm == pytest.approx(dimensions.root_length_mm, abs=0.6)
    assert result.frame.mirrored == truth.mirrored
    assert result.fidelity.root_p95_mm < 0.05


def test_first_premolar_with_one_root():
    scan, truth = placed(24, roots=1)
    assert (angles_deg(scan_frame(scan, 24).frame, truth) < 3.0).all()


@pytest.mark.parametrize("number", [11, 35, 44, 25])
def test_a_turned_tooth_is_followed(number):
    """15° about its long axis, told by its own oblong shape."""
    scan, truth = placed(number, turn_deg=15.0)
    result = scan_frame(scan, number)
    assert (angles_deg(result.frame, truth) < 4.0).all()
    assert "principal direction" in result.buccal_by


def test_a_tooth_turned_far_keeps_the_direction_of_the_arch():
    scan, _ = placed(35, turn_deg=40.0)
    result = scan_frame(scan, 35)
    assert (angles_deg(result.frame, arch_frame(35, TIPPED)) < 4.0).all()
    assert "not followed" in result.buccal_by


def test_local_surface_lies_as_parametric_teeth_do():
    """A right lower premolar: crown up, the high cusp buccal, facing outwards, same volume."""
    scan, _ = placed(45)
    local = scan_frame(scan, 45).local_surface(scan.surface)
    wanted = tooth_surface(tooth_dimensions(45), 0.35)
    assert local.enclosed_volume_mm3() == pytest.approx(wanted.enclosed_volume_mm3(), rel=0.01)
    assert local.points.min(axis=0) == pytest.approx(wanted.points.min(axis=0), abs=0.6)
    assert local.points.max(axis=0) == pytest.approx(wanted.points.max(axis=0), abs=0.6)
    highest = local.points[np.argmax(local.points[:, 2])]
    assert highest[1] > 0.5


@pytest.fixture(scope="module")
def premolar():
    return placed(35)


@pytest.fixture(scope="module")
def found(premolar):
    return scan_frame(premolar[0], 35)


def test_a_sense_that_contradicts_the_jaw_is_refused(premolar):
    scan, _ = premolar
    with pytest.raises(ValueError, match="crown points up, but tooth 15 stands in the upper jaw"):
        scan_frame(scan, 15)


def test_a_given_long_axis_is_kept(premolar):
    scan, truth = premolar
    given = GivenFrame(long_axis=tuple(5.0 * truth.axes[:, 2]))
    result = scan_frame(scan, 35, given)
    assert result.frame.axes[:, 2] == pytest.approx(truth.axes[:, 2], abs=1e-12)
    assert (result.long_axis_by, result.notes) == ("given", ())


def test_a_given_long_axis_away_from_the_shape_is_noted(premolar):
    scan, truth = premolar
    given = GivenFrame(long_axis=tuple(-truth.axes[:, 2]), crown_length_mm=14.0)
    notes = scan_frame(scan, 35, given).notes
    assert "180° from that of the shape" in notes[0] or "179°" in notes[0]
    assert "away from the other jaw" in notes[1]


def test_other_coordinates_need_the_buccal_direction(premolar):
    scan, truth = premolar
    rotation = Rotation.from_rotvec([1.0, 2.0, -0.7])
    other = turned(scan, rotation)
    with pytest.raises(ValueError, match="cheek from tongue; give buccal"):
        scan_frame(other, 35, GivenFrame(patient_coordinates=False))
    buccal = rotation.apply(truth.axes[:, 1] + 0.3 * truth.axes[:, 2])
    given = GivenFrame(buccal=tuple(buccal), patient_coordinates=False)
    found = scan_frame(other, 35, given).frame
    assert found.axes == pytest.approx(rotation.as_matrix() @ truth.axes, abs=0.05)
    assert not found.mirrored


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (GivenFrame(long_axis=(0.0, 0.0, 0.0)), "long_axis is .*not all zero"),
        (GivenFrame(buccal=(0.0, 0.0, 1.0)), "buccal is .*square to it"),
        (GivenFrame(crown_length_mm=30.0), r"crown_length_mm 30 puts the cervix 30\.0 mm below"),
        (GivenFrame(crown_length_mm=-2.0), "give a level between crown and root"),
        (GivenFrame(cervix_point_mm=(0.0, 0.0, 500.0)), "cervix_point_mm puts the cervix"),
        (GivenFrame(crown_length_mm=8.0, cervix_point_mm=(0, 0, 0)), "not both"),
    ],
)
def test_what_cannot_be_given(premolar, given, message):
    with pytest.raises(ValueError, match=message):
        scan_frame(premolar[0], 35, given)


def test_a_given_cervix_is_kept(premolar):
    scan, truth = premolar
    result = scan_frame(scan, 35, GivenFrame(crown_length_mm=7.0))
    assert (result.crown_length_mm, result.cervix_by) == (pytest.approx(7.0), "given")
    point = truth.to_patient(np.array([2.5, 0.0, -1.0]))
    by_point = scan_frame(scan, 35, GivenFrame(cervix_point_mm=tuple(point)))
    assert truth.to_tooth(by_point.frame.origin)[2] == pytest.approx(-1.0, abs=0.2)


def capsule(radius, half_length):
    """A rod with round ends: no crown, no cervix."""
    import pyvista as pv

    ball = pv.Icosphere(radius=radius, nsub=4)
    points = np.asarray(ball.points, dtype=float)
    points[:, 2] += half_length * np.clip(points[:, 2] / 0.5, -1.0, 1.0)
    return points, ball.regular_faces.astype(int)


def test_a_shape_without_a_cervix_is_refused():
    points, triangles = capsule(3.0, 8.0)
    points[:, :2] *= 1.0 + 0.02 * points[:, 2:]  # narrower below, evenly
    scan = mend_scan(points, triangles, name="rod")
    with pytest.raises(ValueError, match=r"rod: .*no cervix .*state crown_length_mm \(about 7\.\d"):
        scan_frame(scan, 35)


def test_a_shape_with_two_like_ends_asks_for_the_long_axis():
    scan = mend_scan(*capsule(3.0, 8.0), name="rod")
    with pytest.raises(ValueError, match="does not tell crown from apex; give long_axis"):
        scan_frame(scan, 35, GivenFrame(patient_coordinates=False, buccal=(1.0, 0.0, 0.0)))


def test_a_length_far_from_the_published_is_noted(premolar):
    scan, _ = premolar
    longer = mend_scan(1.45 * scan.surface.points, scan.surface.triangles, name="long")
    assert "by published means 22.5 mm" in scan_frame(longer, 35).notes[-1]


def test_sections_of_an_ellipsoid():
    """Area πab(1 − z²/c²), second moments Aa²/4 of an ellipse, volume 4πabc/3: textbook."""
    import pyvista as pv

    ball = pv.Icosphere(nsub=5)
    size = np.array([2.0, 3.0, 6.0])
    turn = Rotation.from_rotvec([0.4, -0.8, 0.3])
    points = turn.apply(np.asarray(ball.points, dtype=float) * size) + PLACE
    solid = TriSurface.one_patch(points, ball.regular_faces.astype(np.int64), "t")
    axis = turn.apply([0.0, 0.0, 1.0])
    z = np.array([-4.0, 0.0, 3.0])
    cut = sections(solid, axis, PLACE @ axis + z)
    shrink = 1.0 - z**2 / 36.0
    assert cut.area_mm2 == pytest.approx(np.pi * 6.0 * shrink, rel=5e-3)
    assert cut.centre == pytest.approx(PLACE + z[:, None] * axis, abs=5e-3)
    along_b = np.einsum("i,kij,j->k", turn.apply([0, 1, 0]), cut.spread_mm4, turn.apply([0, 1, 0]))
    assert along_b == pytest.approx(np.pi * 6.0 * shrink**2 * 9.0 / 4.0, rel=1e-2)
    assert cut.radius_mm[1] == pytest.approx(15.8654 / (2 * np.pi), rel=5e-3)  # Ramanujan
    centroid, axes = solid_axes(solid)
    assert centroid == pytest.approx(PLACE, abs=1e-6)
    assert np.abs(axes[:, -1] @ axis) == pytest.approx(1.0, abs=1e-6)
    heights = even_heights(solid, axis, 0.1)
    assert np.trapezoid(sections(solid, axis, heights).area_mm2, heights) == pytest.approx(
        solid.enclosed_volume_mm3(), rel=1e-3
    )


def drawn(scan, frame, depth=2.0, wave=0.7, count=24, reach=1.0):
    """A line round the root where the surface meets a wavy level, in the file's coordinates."""
    local = frame.to_tooth(scan.surface.points)
    angle = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    points = []
    for a in angle:
        level = -depth + wave * np.cos(2.0 * a)
        ring = local[np.abs(local[:, 2] - level) < 0.4]
        away = ring[:, :2] @ np.array([np.cos(a), np.sin(a)])
        across = np.abs(ring[:, :2] @ np.array([-np.sin(a), np.cos(a)]))
        best = np.argmin(across + 10.0 * (away < 0.0))
        points.append([reach * ring[best, 0], reach * ring[best, 1], level])
    return frame.to_patient(np.array(points))


def test_a_drawn_crest_comes_into_the_tooths_frame(premolar, found, tmp_path):
    scan, truth = premolar
    line = drawn(scan, truth)
    path = tmp_path / "crest.csv"
    rows = np.vstack([line, line[:1]])
    np.savetxt(path, rows, delimiter=",", header="x_mm,y_mm,z_mm", comments="")
    local = local_crest_line(scan.surface, found, read_crest_line(path))
    assert len(local) == len(line)
    assert local[:, 2].mean() == pytest.approx(-2.0, abs=0.3)
    crest = PolylineCrest(local)
    assert np.abs(crest.height(local)).max() < 0.05


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda line: line[::4], "6 points are too few"),
        (lambda line: line[:14], "the line is open"),
        (lambda line: line + np.array([0.0, 0.0, 40.0]), "mm from the tooth's surface"),
        (lambda line: line / 25.4, "mm from the tooth's surface"),
        (lambda line: np.vstack([line, line]), "goes 2 times round"),
    ],
)
def test_bad_drawn_crests_are_refused(premolar, found, change, message):
    scan, truth = premolar
    with pytest.raises(ValueError, match=message):
        local_crest_line(scan.surface, found, change(drawn(scan, truth)), "crest")


def test_a_drawn_crest_on_the_crown_or_beside_the_root_is_refused(premolar, found):
    scan, truth = premolar
    with pytest.raises(ValueError, match="above the cervix"):
        local_crest_line(scan.surface, found, drawn(scan, truth, depth=-3.0), "crest")
    ring = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    beside = np.stack([2.6 + 0.5 * np.cos(ring), 0.5 * np.sin(ring), -2.0 + 0 * ring], axis=1)
    with pytest.raises(ValueError, match="goes 0 times round"):
        local_crest_line(scan.surface, found, truth.to_patient(beside), "crest")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("x_mm,y_mm\n1,2\n", "lacks the column z_mm"),
        ("x_mm,y_mm,z_mm\n1,2,3\n1,two,3\n", "point 2 is not three numbers"),
        ("", "cannot be read as a table"),
    ],
)
def test_bad_files_of_crests_are_refused(tmp_path, text, message):
    path = tmp_path / "crest.csv"
    path.write_text(text)
    with pytest.raises(ValueError, match=rf"crest.csv: .*{message}"):
        read_crest_line(path)
    with pytest.raises(ValueError, match="no such file"):
        read_crest_line(tmp_path / "none.csv")


def test_a_crest_plane_comes_into_the_tooths_frame(premolar, found):
    truth = premolar[1]
    tilted = truth.axes @ np.array([0.0, 0.3, 1.0])
    point = truth.to_patient(np.array([0.0, 0.0, -2.0]))
    for sense in (1.0, -1.0):
        plane = local_plane(found, tuple(point), tuple(sense * tilted))
        assert plane.unit_normal == pytest.approx(np.array([0, 0.287, 0.958]), abs=0.05)
        assert plane.height(np.zeros((1, 3)))[0] == pytest.approx(2.0 * 0.958, abs=0.3)


@pytest.mark.parametrize(
    ("local", "normal", "message"),
    [
        ((0.0, 0.0, 2.0), (0.0, 0.0, 1.0), "above the cervix"),
        ((0.0, 0.0, -15.5), (0.0, 0.0, 1.0), "below the apex"),
        ((0.0, 0.0, -2.0), (0.0, 1.0, 0.2), "from the long axis"),
        ((0.0, 0.0, -2.0), (0.0, 0.0, 0.0), "not all zero"),
    ],
)
def test_bad_crest_planes_are_refused(premolar, found, local, normal, message):
    truth = premolar[1]
    point, direction = truth.to_patient(np.array(local)), truth.axes @ np.array(normal)
    with pytest.raises(ValueError, match=message):
        local_plane(found, tuple(point), tuple(direction))


def test_upper_teeth_have_their_crowns_down():
    scan, _ = placed(21)
    assert not is_lower(21)
    assert scan_frame(scan, 21).frame.axes[2, 2] < -0.9
