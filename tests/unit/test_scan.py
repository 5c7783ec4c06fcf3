"""Reading and mending scans: damaged copies of a tooth whose shape is known."""

from dataclasses import dataclass

import numpy as np
import pytest
import pyvista as pv

from geometry.anatomy import tooth_dimensions
from geometry.mesh import TriSurface
from geometry.scan.mend import mend_scan, read_scan
from geometry.scan.rebuild import deviations
from geometry.tooth import tooth_surface

PLACE = np.array([61.0, 14.0, 48.0])


def at(m, b, o):
    """A place given in the tooth's coordinates."""
    return PLACE + np.array([m, b, o])


@dataclass(frozen=True)
class Soup:
    """Points in mm and triangles, to be spoilt."""

    points: np.ndarray
    triangles: np.ndarray


@pytest.fixture(scope="module")
def tooth():
    surface = tooth_surface(tooth_dimensions(33), 0.35)
    clean = poly(surface).clean(tolerance=1e-3, absolute=True)  # the contour has a few slivers
    return Soup(np.asarray(clean.points, dtype=float) + PLACE, clean.regular_faces.astype(int))


def centres(soup):
    return soup.points[soup.triangles].mean(axis=1)


def without_disc(soup, centre, radius):
    far = np.linalg.norm(centres(soup) - centre, axis=1) > radius
    return Soup(soup.points, soup.triangles[far])


def joined(*soups):
    starts = np.cumsum([0, *(len(s.points) for s in soups[:-1])])
    return Soup(
        np.vstack([s.points for s in soups]),
        np.vstack([s.triangles + k for s, k in zip(soups, starts, strict=True)]),
    )


def sphere(radius, centre, subdivisions=3):
    ball = pv.Icosphere(radius=radius, center=centre, nsub=subdivisions)
    return Soup(np.asarray(ball.points, dtype=float), ball.regular_faces.astype(int))


def mended(soup, **options):
    return mend_scan(soup.points, soup.triangles, name="copy", **options)


def volume(soup):
    return TriSurface.one_patch(soup.points - PLACE, soup.triangles, "t").enclosed_volume_mm3()


def check_same_shape(scan, tooth, largest_mm=0.2):
    """Closed, outward, its volume within 1 % and every node of the sound tooth near it."""
    assert scan.surface.is_closed()
    assert volume(scan.surface) == pytest.approx(volume(tooth), rel=0.01)
    assert np.abs(deviations(tooth.points, scan.surface)).max() < largest_mm


def test_a_sound_scan_needs_no_mending(tooth):
    scan = mended(tooth)
    check_same_shape(scan, tooth, 0.15)
    report = scan.report
    assert report.notes == ()
    assert (report.unit, report.holes_filled, report.triangles_turned) == ("mm", 0, 0)
    assert report.length_mm == pytest.approx(27.0, abs=0.3)  # 11 + 16, Wheeler
    assert report.deviation_p95_mm < 0.03
    assert report.tunnels == 0


def test_small_holes_are_filled(tooth):
    holes = [at(2.7, 0.0, -4.0), at(0.0, -3.0, -9.0)]
    open_tooth = without_disc(without_disc(tooth, holes[0], 0.9), holes[1], 1.0)
    report = (scan := mended(open_tooth)).report
    assert report.holes_filled == 2
    assert 1.2 < report.widest_hole_mm < 2.6
    assert any("2 holes filled" in note for note in report.notes)
    check_same_shape(scan, tooth, 0.3)


def test_a_wide_hole_is_refused(tooth):
    with pytest.raises(ValueError, match=r"copy: a hole about [4-7]\.\d mm wide.*close it first"):
        mended(without_disc(tooth, at(0.0, 3.5, -2.0), 2.5))


def test_a_tooth_without_its_apex_is_refused(tooth):
    kept = centres(tooth)[:, 2] > PLACE[2] - 8.0
    with pytest.raises(ValueError, match="whole tooth with its root"):
        mended(Soup(tooth.points, tooth.triangles[kept]))


def test_a_tooth_turned_inside_out_is_turned_back(tooth):
    scan = mended(Soup(tooth.points, tooth.triangles[:, ::-1]))
    assert scan.report.triangles_turned == len(tooth.triangles)
    assert any("turned to face outwards" in note for note in scan.report.notes)
    check_same_shape(scan, tooth)


def test_some_triangles_turned_are_turned_back(tooth):
    triangles = tooth.triangles.copy()
    chosen = np.random.default_rng(1).choice(len(triangles), 200, replace=False)
    triangles[chosen] = triangles[chosen][:, ::-1]
    scan = mended(Soup(tooth.points, triangles))
    assert scan.report.triangles_turned == 200
    check_same_shape(scan, tooth)


@pytest.mark.parametrize(("unit", "mm"), [("m", 1000.0), ("inch", 25.4), ("um", 1e-3)])
def test_other_units_are_seen_from_the_size(tooth, unit, mm):
    scan = mended(Soup(tooth.points / mm, tooth.triangles))
    assert scan.report.unit == unit
    assert any(f"in {unit} from its length" in note for note in scan.report.notes)
    check_same_shape(scan, tooth)


def test_a_size_that_fits_two_units_must_be_stated():
    """A tooth of 19 mm is 0.75 inch; one of 33 mm is 1.3 inch but would be 13 mm if in cm."""
    surface = tooth_surface(tooth_dimensions(33), 0.4)
    soup = Soup(surface.points * 33.0 / 27.0 / 25.4, surface.triangles)
    with pytest.raises(ValueError, match="in cm and in inch; state the unit"):
        mended(soup)
    assert mended(soup, unit="inch").report.length_mm == pytest.approx(33.0, abs=0.5)


def test_sizes_of_no_tooth_are_refused(tooth):
    with pytest.raises(ValueError, match=r"give one whole tooth with its root"):
        mended(Soup(tooth.points * 3.0, tooth.triangles))
    with pytest.raises(ValueError, match=r"in m, but a tooth .* it would be one in mm"):
        mended(tooth, unit="m")
    with pytest.raises(ValueError, match="unit 'parsec' is unknown; choose mm"):
        mended(tooth, unit="parsec")
    with pytest.raises(ValueError, match=r"spacing_mm is 2.0; choose 0.1 to 0.5"):
        mended(tooth, spacing_mm=2.0)


def test_two_teeth_in_one_file_are_refused(tooth):
    other = Soup(tooth.points + np.array([7.5, 0.0, 0.0]), tooth.triangles)
    with pytest.raises(ValueError, match=r"2 separate pieces, with 50%, 50%.*its own file"):
        mended(joined(tooth, other))


def test_crumbs_and_inner_shells_are_left_out(tooth):
    crumbs = [sphere(0.3, at(0.0, 9.0, z), 1) for z in (0.0, 5.0)]
    pulp = sphere(1.5, at(0.0, 0.0, 1.0))
    scan = mended(joined(tooth, *crumbs, pulp))
    assert (scan.report.pieces_removed, scan.report.cavities_removed) == (2, 1)
    assert any("2 loose pieces" in note for note in scan.report.notes)
    assert any("1 shells inside" in note for note in scan.report.notes)
    check_same_shape(scan, tooth)


def test_little_noise_is_kept_within_the_limit(tooth):
    noise = np.random.default_rng(2).normal(0.0, 0.03, tooth.points.shape)
    scan = mended(Soup(tooth.points + noise, tooth.triangles))
    assert 0.02 < scan.report.deviation_p95_mm < 0.1
    check_same_shape(scan, tooth, 0.3)


def test_much_noise_is_refused(tooth):
    noise = np.random.default_rng(3).normal(0.0, 0.25, tooth.points.shape)
    with pytest.raises(ValueError, match=r"copy: too rough or folded: .*smooth it first"):
        mended(Soup(tooth.points + noise, tooth.triangles))


def test_walls_that_cross_are_joined(tooth):
    """A bulge is pushed through the opposite wall; what is enclosed twice is counted."""
    shape = tooth.points - PLACE
    pushed = np.exp(-((shape[:, 0] - 2.7) ** 2 + shape[:, 1] ** 2 + (shape[:, 2] + 4.0) ** 2) / 0.5)
    moved = tooth.points - pushed[:, None] * [8.0, 0.0, 0.0]
    scan = mended(Soup(moved, tooth.triangles))
    assert scan.surface.is_closed()
    assert scan.report.overlap_mm3 > 0.2
    assert any("Walls crossed over" in note for note in scan.report.notes)


def test_overlapping_bodies_of_one_surface_are_joined(tooth):
    """A ball half in the crown, sharing one node with it: the union is what is left."""
    ball = sphere(1.2, at(3.0, 0.0, 5.0))
    ball.points[0] = tooth.points[np.argmax(tooth.points[:, 0])]
    both = joined(tooth, ball)
    scan = mended(both)
    assert scan.surface.is_closed()
    assert scan.report.overlap_mm3 == pytest.approx(0.5 * 7.24, rel=0.5)
    assert volume(tooth) < volume(scan.surface) < volume(both) - 0.5 * scan.report.overlap_mm3


def test_second_copies_of_triangles_are_left_out(tooth):
    again = np.vstack([tooth.triangles, tooth.triangles[::3], tooth.triangles[:50, ::-1]])
    scan = mended(Soup(tooth.points, again))
    assert scan.report.duplicates_removed == len(again) - len(tooth.triangles)
    assert any("second copies" in note for note in scan.report.notes)
    check_same_shape(scan, tooth)


def test_numbers_that_are_none_are_refused(tooth):
    points = tooth.points.copy()
    points[7] = np.nan
    with pytest.raises(ValueError, match="no finite numbers; export the scan anew"):
        mended(Soup(points, tooth.triangles))


def poly(soup):
    return pv.PolyData.from_regular_faces(soup.points, soup.triangles)


@pytest.mark.parametrize("suffix", [".stl", ".ply", ".vtp", ".STL"])
def test_files_of_three_kinds_are_read(tooth, tmp_path, suffix):
    path = tmp_path / f"scan{suffix.lower()}"
    poly(tooth).save(path)
    path = path.rename(tmp_path / f"scan{suffix}")
    scan = read_scan(path)
    assert scan.report.triangles == len(tooth.triangles)
    check_same_shape(scan, tooth)


@pytest.mark.parametrize("binary", [True, False])
def test_stl_cut_short_is_refused(tooth, tmp_path, binary):
    path = tmp_path / "scan.stl"
    poly(tooth).save(path, binary=binary)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 2 // 3])
    with pytest.raises(ValueError, match=r"scan.stl: not a whole STL file.* anew"):
        read_scan(path)


@pytest.mark.parametrize("suffix", [".ply", ".vtp"])
def test_other_files_cut_short_are_refused(tooth, tmp_path, suffix):
    path = tmp_path / f"scan{suffix}"
    poly(tooth).save(path)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 2 // 3])
    with pytest.raises(ValueError, match=rf"scan{suffix}: .*(export|close)"):
        read_scan(path)


@pytest.mark.parametrize("suffix", [".stl", ".ply", ".vtp"])
def test_text_is_no_scan(tmp_path, suffix):
    path = tmp_path / f"notes{suffix}"
    path.write_text("The patient was seen on Monday.\n" * 20)
    with pytest.raises(ValueError, match=rf"notes{suffix}: .*export"):
        read_scan(path)


def test_other_kinds_of_file_are_refused(tmp_path):
    with pytest.raises(ValueError, match=r"scan.obj: a scan must be a file .stl, .ply, .vtp"):
        read_scan(tmp_path / "scan.obj")
    with pytest.raises(ValueError, match="no such file; correct the path"):
        read_scan(tmp_path / "scan.stl")
