"""Teeth segmented from cone-beam CT: from the file to the centre of resistance.

The scans lie beside the repository under a licence that keeps them out of it; without them these
tests are skipped. Any further ``tooth_<ISO 3950 number>.stl`` in patient coordinates is taken up.
"""

import time
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import pyvista as pv

from fem.material import Elastic
from fem.resistance import centre_of_resistance, textbook_depth_mm
from fem.support import rigid_body_support
from geometry.anatomy import tooth_dimensions
from geometry.crest import PolylineCrest, crest_plane
from geometry.scan.crest import local_crest_line
from geometry.scan.frame import scan_frame
from geometry.scan.mend import mend_scan, read_scan
from geometry.scan.rebuild import deviations
from geometry.tooth_mesh import build_from_surface

FOLDER = Path(__file__).parents[2].parent / "shared" / "scans"
FILES = {int(path.stem.split("_")[1]): path for path in sorted(FOLDER.glob("tooth_*.stl"))}
SINGLE = [n for n in FILES if tooth_dimensions(n).root_count == 1]
SEVERAL = [n for n in FILES if n not in SINGLE]
MESIAL, BUCCAL, OCCLUSAL = np.eye(3)
CREST_MM = 1.5  # 1 to 2 mm below the cervix in health, as for the parametric teeth
POPPE = Elastic(0.05, 0.30)  # Poppe et al. 2002

pytestmark = pytest.mark.skipif(not FILES, reason=f"no scans in {FOLDER}, not part of the project")


@cache
def scanned(number):
    start = time.perf_counter()
    scan = read_scan(FILES[number])
    frame = scan_frame(scan, number)
    return scan, frame, time.perf_counter() - start


@cache
def supported(number):
    """Mesh with the crest 1.5 mm below the cervix, its support, centre and textbook fractions."""
    scan, frame, _ = scanned(number)
    local = frame.local_surface(scan.surface)
    built = build_from_surface(local, crest_plane(CREST_MM), root_size_mm=0.7, name=scan.name)
    depth_mm = CREST_MM - built.crest_shift_mm
    point = np.array([0.0, 0.0, -depth_mm])
    support = rigid_body_support(built.mesh.submesh(["ligament"]), POPPE, point)
    centre = centre_of_resistance(support.stiffness, point)
    depths = [textbook_depth_mm(support.stiffness, point, f, OCCLUSAL) for f in (MESIAL, BUCCAL)]
    fractions = np.array(depths) / (frame.root_length_mm - depth_mm)
    print(
        f"tooth {number}: crown {frame.crown_length_mm:.1f}, root {frame.root_length_mm:.1f} mm, "
        f"fractions {fractions.round(3)}, centre {centre.point.round(2)}, "
        f"coupling {centre.coupling_mm:.2f} mm; {built.note}"
    )
    return local, built, centre, fractions


@pytest.mark.parametrize("number", FILES)
def test_import_is_faithful_and_quick(number):
    """Common practice: a quarter of a ligament's width on the root, a few seconds."""
    scan, frame, seconds = scanned(number)
    print(f"tooth {number}: {seconds:.2f} s, {frame.fidelity}")
    assert scan.report.notes == ()
    assert frame.notes == ()
    assert frame.fidelity.root_p95_mm < 0.05
    assert seconds < 5.0
    read = pv.read(FILES[number])
    assert scan.surface.enclosed_volume_mm3() == pytest.approx(read.volume, rel=0.01)


@pytest.mark.parametrize("number", FILES)
def test_mesial_points_to_the_next_tooth(number):
    """Teeth of a quadrant stand in a row; the next one towards the midline lies mesially."""
    nearer = [n for n in FILES if n // 10 == number // 10 and n < number]
    if not nearer:
        pytest.skip("no scan of this quadrant nearer to the midline")
    frame = scanned(number)[1].frame
    away = scanned(max(nearer))[1].frame.origin - frame.origin
    assert frame.axes[:, 0] @ away / np.linalg.norm(away) > np.cos(np.radians(35.0))


@pytest.mark.parametrize("number", FILES)
def test_centre_of_resistance_lies_at_the_root(number):
    """Below the crest, above the apex; inside a single root, or within the outline of several."""
    local, built, centre, _ = supported(number)
    frame = scanned(number)[1]
    assert built.crest_shift_mm == 0.0
    assert -frame.root_length_mm < centre.point[2] < -CREST_MM
    where = centre.point[None]
    if number in SINGLE:
        assert deviations(where, local)[0] < 0.0
    else:
        root = local.points[local.points[:, 2] < -CREST_MM]
        low, high = root.min(axis=0), root.max(axis=0)
        assert ((low < where) & (where < high)).all()


@pytest.mark.parametrize("number", SINGLE)
def test_textbook_depth_of_single_rooted_teeth(number):
    """0.33 to 0.42 of the embedded root below the crest: Papageorgiou 2005; 0.42: Poppe 2002."""
    fractions = supported(number)[3]
    assert (fractions > 0.33).all()
    assert (fractions < 0.42).all()


@pytest.mark.parametrize("number", FILES)
def test_a_crest_drawn_around_the_root_meshes(number):
    """A line on the surface 2 mm below the cervix, higher by 1 mm on two sides."""
    scan, frame, _ = scanned(number)
    axis, origin = frame.frame.axes[:, 2], frame.frame.origin
    shell = pv.PolyData.from_regular_faces(scan.surface.points, scan.surface.triangles.astype(int))
    line = []
    for angle in np.linspace(0.0, 2.0 * np.pi, 20, endpoint=False):
        inside = origin - (2.0 - 0.5 * np.cos(2.0 * angle)) * axis
        out = frame.frame.axes @ np.array([np.cos(angle), np.sin(angle), 0.0])
        line.append(shell.ray_trace(inside, inside + 12.0 * out)[0][0])
    local = local_crest_line(scan.surface, frame, np.array(line))
    crest = PolylineCrest(local)
    built = build_from_surface(frame.local_surface(scan.surface), crest, root_size_mm=0.8)
    ligament = built.mesh.submesh(["ligament"])
    top = built.mesh.points[np.unique(built.mesh.facets["rim"])]
    print(number, built.note)
    assert np.abs(crest.moved(built.crest_shift_mm).height(top)).max() < 0.05
    assert ligament.volumes_mm3().min() > 0.0


def without_disc(points, triangles, radius):
    """Open a hole on the middle of the root."""
    place = points[np.argsort(points[:, 2])[len(points) // 4]]
    far = np.linalg.norm(points[triangles].mean(axis=1) - place, axis=1) > radius
    return points, triangles[far]


def with_crumbs(points, triangles):
    ball = pv.Icosphere(radius=0.4, center=points.max(axis=0) + 2.0, nsub=2)
    far = np.asarray(ball.points, dtype=float)
    return np.vstack([points, far]), np.vstack([triangles, len(points) + ball.regular_faces])


def noisy(points, triangles, size_mm):
    return points + np.random.default_rng(4).normal(0.0, size_mm, points.shape), triangles


def some_turned(points, triangles):
    every_ninth = (np.arange(len(triangles)) % 9 == 0)[:, None]
    return points, np.where(every_ninth, triangles[:, ::-1], triangles)


MENDED = {
    "metres": (lambda p, t: (p / 1000.0, t), "in m from its length"),
    "inside out": (lambda p, t: (p, t[:, ::-1]), "turned to face outwards"),
    "hole": (lambda p, t: without_disc(p, t, 0.8), "holes filled"),
    "crumbs": (with_crumbs, "1 loose pieces"),
    "second copies": (lambda p, t: (p, np.vstack([t, t[::2]])), "second copies"),
    "some turned": (some_turned, "turned to face outwards"),
    "noise": (lambda p, t: noisy(p, t, 0.02), ""),
}
REFUSED = {
    "wide hole": (lambda p, t: without_disc(p, t, 2.6), "close it first"),
    "two teeth": (
        lambda p, t: (np.vstack([p, p + np.array([15.0, 0, 0])]), np.vstack([t, t + len(p)])),
        "2 separate pieces",
    ),
    "crown alone": (
        lambda p, t: (p, t[p[t].mean(axis=1)[:, 2] > np.quantile(p[:, 2], 0.6)]),
        "with its root",
    ),
    "much noise": (lambda p, t: noisy(p, t, 0.2), "too rough"),
}


@pytest.fixture(scope="module", params=[33, 37])
def original(request):
    if request.param not in FILES:
        pytest.skip(f"no scan of tooth {request.param}")
    mesh = pv.read(FILES[request.param])
    return (
        request.param,
        np.asarray(mesh.points, dtype=np.float64),
        mesh.regular_faces.astype(np.int64),
    )


@pytest.mark.parametrize("damage", MENDED)
def test_damaged_copies_give_the_same_frame(original, damage):
    """Within 1° and 0.2 mm, about what a clinician sets by eye: common practice, no source."""
    number, points, triangles = original
    spoil, note = MENDED[damage]
    scan = mend_scan(*spoil(points, triangles), name=damage)
    assert any(note in said for said in scan.report.notes) or not note
    found, sound = scan_frame(scan, number).frame, scanned(number)[1].frame
    turn = np.degrees(np.arccos(np.clip((found.axes * sound.axes).sum(axis=0), -1.0, 1.0)))
    assert turn.max() < 1.0
    assert np.linalg.norm(found.origin - sound.origin) < 0.2


@pytest.mark.parametrize("damage", REFUSED)
def test_copies_damaged_too_much_are_refused(original, damage):
    _, points, triangles = original
    spoil, message = REFUSED[damage]
    with pytest.raises(ValueError, match=message):
        mend_scan(*spoil(points, triangles), name=damage)


@pytest.mark.parametrize("number", FILES)
def test_the_other_jaw_is_refused(number):
    other = {1: 4, 2: 3, 3: 2, 4: 1}[number // 10] * 10 + number % 10
    with pytest.raises(ValueError, match=r"crown points .* give long_axis"):
        scan_frame(scanned(number)[0], other)
