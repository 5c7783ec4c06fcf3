"""The cost of a rigid tooth or rigid bone: a table of few full solutions, held to all of them."""

import numpy as np
import pytest

from fem.deformable import deformable_support
from fem.elastic_model import HARD_TISSUE
from fem.material import Elastic
from fem.rigidity_study import COMBINATIONS, MEASURES, rigidity_study
from geometry.anatomy import tooth_dimensions
from geometry.bone import BoneSpec, bone_block
from geometry.tooth_mesh import ToothSpec, build_tooth

CREST = np.array([0.0, 0.0, -1.5])
NU = 0.45
MODULI = (0.05, 0.1, 0.2, 0.4, 0.7, 1.0)


@pytest.fixture(scope="module")
def mesh():
    spec = ToothSpec(tooth_dimensions(41), root_size_mm=1.1, crown_size_mm=1.8, ligament_layers=1)
    return bone_block(build_tooth(spec).mesh, spec=BoneSpec(2.5, 2.5, 1.2, 2.0, 3.0, 1.2, 2.5))


@pytest.fixture(scope="module")
def study(mesh):
    return rigidity_study(mesh, HARD_TISSUE, NU, CREST, MODULI)


def test_all_rigid_goes_with_the_modulus(study):
    rows = [row for row in study.rows if not (row.elastic_tooth or row.elastic_bone)]
    assert len(rows) == len(MODULI)
    ratio = [row.mesial_N_per_mm / row.youngs_modulus_MPa for row in rows]
    assert ratio == pytest.approx(np.full(len(rows), ratio[0]), rel=1e-9)
    depth = [row.buccal_depth_mm for row in rows]
    assert depth == pytest.approx(np.full(len(rows), depth[0]), rel=1e-9)


def test_rows_are_measures_of_the_whole_solution(mesh, study):
    """Bodily translation, tipping and depth by solving for the loads directly."""
    row = next(
        r for r in study.rows if r.elastic_tooth and r.elastic_bone and r.youngs_modulus_MPa == 0.4
    )
    materials = {**HARD_TISSUE, "ligament": Elastic(0.4, NU)}
    K = deformable_support(mesh, materials, CREST).stiffness
    held = K @ np.array([0, 1.0, 0, 0, 0, 0])
    assert row.buccal_N_per_mm == pytest.approx(held[1], rel=1e-5)
    turned = np.linalg.solve(K, [0, 0, 0, 0, 1.0, 0])
    assert 1 / row.mesial_tipping_Nmm_per_rad == pytest.approx(turned[4], rel=1e-5)
    # A mesial force at the textbook depth does not tip the tooth mesially: its moment about the
    # crest is r × f with r = (0, 0, −depth).
    at_depth = np.linalg.solve(K, [1.0, 0, 0, 0, -row.mesial_depth_mm, 0])
    by_force = np.linalg.solve(K, [1.0, 0, 0, 0, 0, 0])
    assert abs(at_depth[4]) < 1e-4 * abs(by_force[4])


def test_only_depths_depend_on_the_point(mesh, study):
    """Moved up the long axis by 3 mm, depths grow by 3 mm and nothing else changes."""
    moved = rigidity_study(mesh, HARD_TISSUE, NU, CREST + np.array([0, 0, 3.0]), MODULI[:2])
    for row in moved.rows:
        same = next(
            r
            for r in study.rows
            if (r.youngs_modulus_MPa, r.elastic_tooth, r.elastic_bone)
            == (row.youngs_modulus_MPa, row.elastic_tooth, row.elastic_bone)
        )
        for name in MEASURES:
            shift = 3.0 if name.endswith("depth_mm") else 0.0
            assert getattr(row, name) == pytest.approx(getattr(same, name) + shift, rel=1e-4)


def test_what_a_rigid_part_costs(study):
    """Rigid parts only stiffen, more so with a stiffer ligament; nothing where all is elastic."""
    by_combination = {
        key: [r for r in study.rows if (r.elastic_tooth, r.elastic_bone) == key]
        for key in COMBINATIONS
    }
    for row in by_combination[True, True]:
        assert list(row.difference_percent.values()) == pytest.approx(np.zeros(7), abs=1e-12)
    for key in COMBINATIONS[:3]:
        for name in MEASURES[:5]:
            cost = [row.difference_percent[name] for row in by_combination[key]]
            assert cost[0] > 0
            assert (np.diff(cost) > 0).all()
    rigid = by_combination[False, False][3], by_combination[True, True][3]
    stated = rigid[0].difference_percent["mesial_N_per_mm"]
    assert stated == pytest.approx(
        100 * (rigid[0].mesial_N_per_mm / rigid[1].mesial_N_per_mm - 1), rel=1e-12
    )
