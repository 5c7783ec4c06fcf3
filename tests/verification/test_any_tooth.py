"""Any tooth meshes: areas of all against two sources, and teeth drawn at random."""

import time
from dataclasses import replace

import numpy as np
import pytest

from geometry.anatomy import known_teeth, tooth_dimensions
from geometry.crest import Plane, crest_plane
from geometry.quality import assert_quality
from geometry.surface import split_surface
from geometry.tooth import tooth_surface
from geometry.tooth_mesh import ToothSpec, build_tooth

LEFT = [n for n in known_teeth() if n // 10 in (2, 3)]
SEVERAL_ROOTS = [n for n in LEFT if tooth_dimensions(n).roots]
WIDTHS_AND_LENGTHS = (
    "crown_length_mm",
    "root_length_mm",
    "crown_md_mm",
    "crown_bl_mm",
    "cervix_md_mm",
    "cervix_bl_mm",
)
FREE_APEX_MM = 2.0


def random_dimensions(rng, number):
    """Every dimension ±20 % by itself."""
    row = tooth_dimensions(number)
    keys = [*WIDTHS_AND_LENGTHS, *(["trunk_mm"] if row.roots else [])]
    return tooth_dimensions(
        number, {key: getattr(row, key) * rng.uniform(0.8, 1.2) for key in keys}
    )


def tipped_crest(dimensions, depth_mm, tip_rad, way_rad):
    """Level bone around a tooth tipped by an angle towards a side (0 mesial, 90° buccal).

    Bone stays level when a tooth tips, so that its crest lies askew to the tooth's axis. It must
    not rise above the cervix and must leave `FREE_APEX_MM` of every root: its depth on the axis is
    clipped to that, and where no depth does, the tip is lessened by tenths.
    """
    half = np.hypot(
        dimensions.cervix_md_mm / 2.0 * np.cos(way_rad),
        dimensions.cervix_bl_mm / 2.0 * np.sin(way_rad),
    )
    straight = [(0.0, 0.0, -dimensions.root_length_mm)]
    apices = np.array([root.apex_mm() for root in dimensions.roots] or straight)
    while True:
        m, b = (float(x) for x in np.tan(tip_rad) * np.array([np.cos(way_rad), np.sin(way_rad)]))
        least = abs(np.tan(tip_rad)) * half
        most = (-apices[:, 2] - FREE_APEX_MM + apices[:, :2] @ (m, b)).min()
        if least <= most:
            break
        tip_rad *= 0.9
    depth_mm = float(np.clip(depth_mm, least, most))
    return Plane((0.0, 0.0, -depth_mm), (-m, -b, 1.0))


def random_tooth(seed, numbers):
    """Every dimension ±20 %, up to half the root's bone lost, ligament 0.10–0.40 mm.

    One in five has a ligament of varying thickness; one in three a crest by side, up to 1.5 mm
    higher or lower at each, the others a tip of up to 30°.
    """
    rng = np.random.default_rng(seed)
    dimensions = random_dimensions(rng, numbers[seed % len(numbers)])
    shortest = min([dimensions.root_length_mm, *(r.length_mm for r in dimensions.roots)])
    depth = 1.5 + rng.uniform(0.0, 0.5) * (shortest - 1.5)
    even, varying = rng.uniform(0.10, 0.40), tuple(rng.uniform(0.10, 0.40, 3))
    thickness = varying if seed % 5 == 0 else even
    tip, way = np.radians(rng.uniform(-30.0, 30.0)), rng.uniform(0.0, np.pi)
    sides = np.clip(depth + rng.uniform(-1.5, 1.5, 4), 0.5, shortest - FREE_APEX_MM)
    if seed % 3 == 0:
        return ToothSpec(dimensions, ligament_thickness_mm=thickness, crest_sides_mm=tuple(sides))
    crest = tipped_crest(dimensions, depth, tip, way)
    return ToothSpec(dimensions, ligament_thickness_mm=thickness, crest=crest)


def check(spec):
    """Return the mesh, which must be good, with what gave way for it."""
    built = build_tooth(spec)
    assert_quality(built.mesh)
    assert built.mesh.volumes_mm3().min() > 0.0
    rim = built.mesh.points[np.unique(built.mesh.facets["rim"])]
    height = spec.crest_surface.moved(built.crest_shift_mm).height(rim)
    assert np.abs(height).max() == pytest.approx(built.rim_off_mm, abs=1e-9)
    assert abs(built.crest_shift_mm) <= 0.6
    changed = built.crest_shift_mm != 0 or built.rim_off_mm > 0
    assert bool(built.note) == (changed or built.root_size_mm < spec.root_size_mm)
    if built.note:
        print(f"tooth {spec.dimensions.number}: {built.note}")
    return built


def check_many(seeds):
    """Build teeth drawn at random; only a furcation makes one give way, and its crest rarely."""
    notes, moved, seconds = 0, 0, []
    for seed in seeds:
        start = time.process_time()
        spec = random_tooth(seed, SEVERAL_ROOTS if seed % 2 else LEFT)
        built = check(spec)
        seconds.append(time.process_time() - start)
        assert spec.dimensions.roots or not built.note
        notes += bool(built.note)
        moved += built.crest_shift_mm != 0.0
    print(
        f"{notes} of {len(seconds)} gave way, {moved} of them with the crest moved; "
        f"{np.median(seconds):.1f} s each, at most {max(seconds):.1f} s"
    )
    return notes, moved


def test_a_dozen_random_teeth():
    assert check_many(range(1030, 1042))[1] <= 1


@pytest.mark.slow
def test_two_hundred_random_teeth():
    notes, moved = check_many(range(1000, 1200))
    assert notes <= 20  # one in ten, all with a crest at a furcation
    assert moved <= 4


@pytest.mark.parametrize("number", [23, 26, 37])
@pytest.mark.parametrize("profile_mm", [(0.10, 0.50, 0.10), (0.50, 0.10, 0.30), (0.30, 0.15, 0.5)])
def test_thickness_profiles_mesh(number, profile_mm):
    spec = ToothSpec(tooth_dimensions(number), ligament_thickness_mm=profile_mm)
    check(replace(spec, crest_sides_mm=(1.5, 2.0, 2.5, 1.5)))


@pytest.mark.parametrize("number", [36, 26, 24])
@pytest.mark.parametrize("above_mm", [0.1, 0.0, -0.1])
def test_crest_at_the_furcation(number, above_mm):
    dimensions = tooth_dimensions(number)
    assert dimensions.trunk_mm
    check(ToothSpec(dimensions, dimensions.trunk_mm - above_mm, 0.25))


def test_a_ligament_that_cannot_fit_is_refused_with_the_first_reason():
    reason = r"tooth 36: no good mesh within 0\.6 mm.*as asked: .*the worst is \d+ at \(.*take a th"
    with pytest.raises(ValueError, match=reason):
        build_tooth(ToothSpec(tooth_dimensions(36), 3.3, 2.5))


def test_a_mesh_below_the_gate_is_refused_with_tooth_element_and_remedy():
    spec = ToothSpec(tooth_dimensions(31), ligament_thickness_mm=0.01)
    reason = r"tooth 31: .*element \d+ at \(.*has quality 0\.0\d+, below 0\.1; take smaller tri"
    with pytest.raises(ValueError, match=reason):
        build_tooth(spec)


def test_right_teeth_are_the_left_ones():
    """What is held for the 14 left teeth holds for all 28: a right tooth is its mirror image."""
    right = [number for number in known_teeth() if number not in LEFT]
    assert len(LEFT) == len(right) == 14
    for number in right:
        left = number + (10 if number < 20 else -10)  # ISO 3950: quadrants 1 and 2, 4 and 3
        assert replace(tooth_dimensions(number), number=left) == tooth_dimensions(left)


def test_a_tooth_that_gives_way_says_so():
    # A crest that runs along the roof of the furcation and cuts it at a small angle.
    dimensions = tooth_dimensions(36)
    sides = (1.0, 5.0, 2.0, 3.0)
    spec = ToothSpec(dimensions, crest_sides_mm=sides, root_size_mm=0.7)
    built = build_tooth(spec)
    assert "because: " in built.note
    assert built.rim_off_mm > 0.0
    assert f"rim leaves the crest by up to {built.rim_off_mm:.2f} mm" in built.note
    strict = build_tooth(replace(spec, loose_rim=False))
    assert strict.rim_off_mm == 0.0
    check(spec)


def test_areas_of_all_teeth():
    """Root areas within 20 % of each source and 10 % of Jepsen 1963 on average.

    Jepsen 1963 from memory; Mowry et al. 2002 read. The trunks, widths and tapers of the table
    were chosen before, from Wheeler's measures and common practice, and hold for either source;
    the two differ from each other by up to 40 % (lower first premolar).
    """
    ratios = []
    for number in LEFT:
        dimensions = tooth_dimensions(number)
        surface = tooth_surface(dimensions)
        area = split_surface(surface, crest_plane(0.0)).area_mm2("root")
        line = f"{number} {dimensions.name:24} {area:6.1f} mm²"
        for source, published in dimensions.root_area_mm2:
            line += f"   {source} {published:.1f} ({area / published - 1.0:+.1%})"
            assert area == pytest.approx(published, rel=0.20), source
            ratios += [area / published] if source.startswith("Jepsen") else []
        print(line)
    print(f"mean against Jepsen 1963: {np.mean(ratios) - 1.0:+.1%}")
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.10)
