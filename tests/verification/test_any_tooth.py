"""Any tooth meshes: areas of all against two sources, and teeth drawn at random."""

import numpy as np
import pytest

from geometry.anatomy import known_teeth, tooth_dimensions
from geometry.crest import crest_plane
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


def random_tooth(seed, numbers):
    """Every dimension ±20 % by itself, ligament 0.10–0.40 mm, up to half the root's bone lost."""
    rng = np.random.default_rng(seed)
    row = tooth_dimensions(numbers[seed % len(numbers)])
    keys = [*WIDTHS_AND_LENGTHS, *(["trunk_mm"] if row.roots else [])]
    changed = {key: getattr(row, key) * rng.uniform(0.8, 1.2) for key in keys}
    dimensions = tooth_dimensions(row.number, changed)
    thickness, loss = rng.uniform(0.10, 0.40), rng.uniform(0.0, 0.5)
    shortest = min([dimensions.root_length_mm, *(r.length_mm for r in dimensions.roots)])
    return ToothSpec(dimensions, 1.5 + loss * (shortest - 1.5), thickness)


def check(spec):
    built = build_tooth(spec)
    assert_quality(built.mesh)
    assert built.mesh.volumes_mm3().min() > 0.0
    depth = -built.mesh.points[np.unique(built.mesh.facets["rim"]), 2]
    assert depth == pytest.approx(spec.crest_depth_mm - built.crest_shift_mm, abs=1e-9)
    assert abs(built.crest_shift_mm) <= 0.6
    assert bool(built.note) == (built.crest_shift_mm != 0 or built.root_size_mm < spec.root_size_mm)
    if built.note:
        print(f"tooth {spec.dimensions.number}: {built.note}")


def test_a_dozen_random_teeth():
    for seed in range(6):
        check(random_tooth(seed, LEFT))
        check(random_tooth(100 + seed, SEVERAL_ROOTS))


@pytest.mark.slow
@pytest.mark.parametrize("chunk", range(10))
def test_two_hundred_random_teeth(chunk):
    for seed in range(1000 + 10 * chunk, 1010 + 10 * chunk):
        check(random_tooth(seed, LEFT))
        check(random_tooth(1000 + seed, SEVERAL_ROOTS))


@pytest.mark.parametrize("number", [36, 26, 24])
@pytest.mark.parametrize("above_mm", [0.1, 0.0, -0.1])
def test_crest_at_the_furcation(number, above_mm):
    dimensions = tooth_dimensions(number)
    assert dimensions.trunk_mm
    check(ToothSpec(dimensions, dimensions.trunk_mm - above_mm, 0.25))


def test_a_ligament_that_cannot_fit_is_refused_with_the_first_reason():
    with pytest.raises(ValueError, match=r"tooth 36: no good mesh within 0\.6 mm.*as asked: "):
        build_tooth(ToothSpec(tooth_dimensions(36), 3.3, 2.5))


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
