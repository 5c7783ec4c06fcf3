"""One support for all moduli of the ligament, against supports made at each modulus."""

import numpy as np
import pytest

from tests.sweeps import loaded, make_supports
from workflow.case import load_case, resolved
from workflow.digest import spec_id
from workflow.records import read_json
from workflow.supports import compute_support
from workflow.sweep_design import design_points
from workflow.sweep_modulus import MODULUS, in_proportion, made_at_MPa, stiffened
from workflow.sweep_runs import make_run
from workflow.sweep_supports import study_supports
from workflow.sweep_table import study_table
from workflow.sweep_units import Supports
from workflow.tooth_meshes import build_mesh
from workflow.tooth_specs import support_spec

RESPONSES = [
    "force_N",
    "couple_Nmm",
    "target_mesial_tip_mrad",
    "target_extrusion_um",
    "anchor_rotation_mrad",
    "target_ligament_p01_kPa",
    "anchor_ligament_p99_kPa",
    "resistance_mesiodistal_share_37",
]
DRAWN = {"name": "e_MPa", "key": MODULUS, "uniform": [0.05, 0.7]}
HELD = {
    "name": "held",
    "levels": [
        {"label": "tied", "values": {"one_point.contact": "tied"}},  # in a batch
        {"label": "rubs", "values": {"one_point.friction": 0.15}},  # alone
    ],
}
OFFSET = {"wire.activation.offset_mm": 3}
TWELVE = {"latin_hypercube": {"runs": 12, "seed": 2}}


def drawn(folder, **changes):
    folder.mkdir(exist_ok=True)
    asked = {"factors": [DRAWN, HELD], "design": TWELVE, "fixed": OFFSET, "responses": RESPONSES}
    return loaded(folder, **asked | changes)


def tables(folder):
    """The same runs with one support for all, and with one for each modulus."""
    study = drawn(folder)
    one = Supports(folder / "one", made_at_MPa(study))
    for case in (make_run(study, point).case for point in design_points(study.study)):
        for tooth, support in one.ids(case).items():
            base = support_spec(case, tooth) | {"youngs_modulus_MPa": one.at_MPa}
            assert support == spec_id(base)
    values = sorted({p[0].shown for p in design_points(study.study)})
    levels = [DRAWN | {"uniform": None, "levels": values}, HELD]
    levels = [{k: v for k, v in factor.items() if v is not None} for factor in levels]
    each = drawn(folder / "each", factors=levels, design="grid")
    make_supports(folder / "many", each)
    _with_stress_in_proportion(folder / "many")
    base = drawn(folder / "base", factors=[HELD], design="grid")
    make_supports(folder / "one", base)
    _with_stress_in_proportion(folder / "one")
    first = study_table(study, folder / "one", folder / "store_one").rows
    second = study_table(each, folder / "many", folder / "store_many").rows
    return first, second


def _with_stress_in_proportion(folder):
    """Stress of made-up teeth at the modulus of their ligament."""
    for place in folder.iterdir():
        with np.load(place / "stress_basis.npz") as data:
            parts = dict(data)
        parts["values"] = (
            parts["values"] * read_json(place / "support.json")["spec"]["youngs_modulus_MPa"]
        )
        np.savez(place / "stress_basis.npz", **parts)


def test_one_support_gives_the_runs_of_many(tmp_path):
    first, second = tables(tmp_path)
    both = first.merge(second, on="run", suffixes=("", "_own"))
    assert len(both) == 12
    assert both["note"].tolist() == 12 * [""]
    assert both["target_extrusion_um"].nunique() == 12
    for name in RESPONSES:
        assert both[name].to_numpy() == pytest.approx(both[f"{name}_own"], rel=1e-9), name


def test_finite_elements_are_in_proportion_to_the_modulus():
    """K(E) and σ(E) of a real tooth at 0.05 and 0.7 MPa: 14 times, to the solver's accuracy."""
    case = resolved(load_case("configs/cases/lower_molar_uprighting.yaml"))
    spec = support_spec(case, 33) | {"root_size_mm": 1.2}
    mesh, _ = build_mesh(spec)
    soft, stiff = (compute_support(mesh, spec | {"youngs_modulus_MPa": e}) for e in (0.05, 0.7))
    scale = np.abs(stiff.stiffness).max()
    assert np.abs(14 * soft.stiffness - stiff.stiffness).max() < 1e-7 * scale
    stress = np.abs(stiff.basis.values).max()
    assert np.abs(14 * soft.basis.values - stiff.basis.values).max() < 1e-6 * stress


def test_a_drawn_modulus_needs_no_supports_of_its_own(tmp_path):
    """Four teeth, those of the base case itself, for twelve moduli; levels have their own."""
    study = drawn(tmp_path)
    base = resolved(load_case("configs/cases/lower_molar_uprighting.yaml"))
    own = {spec_id(support_spec(base, tooth)) for tooth in (37, 35, 34, 33)}
    assert set(study_supports(study)) == own
    levels = {"name": "e_MPa", "key": MODULUS, "levels": [0.05, 0.7]}
    assert len(study_supports(drawn(tmp_path, factors=[levels], design="grid"))) == 8


def test_where_more_deforms_each_modulus_has_its_own_supports(tmp_path):
    elastic = drawn(tmp_path, factors=[DRAWN], fixed=OFFSET | {"tooth_body.elastic": True})
    case = make_run(elastic, ()).case
    assert not in_proportion(case)
    assert len(study_supports(elastic)) == 12 * 4
    bone = {"name": "bone", "key": "bone.elastic", "levels": [False, True]}
    assert made_at_MPa(drawn(tmp_path, factors=[DRAWN, bone])) is None
    joined = {"units.segment.joined_by": {"alloy": "stainless_steel", "section": "round_0.016_in"}}
    assert made_at_MPa(drawn(tmp_path, fixed=OFFSET | joined)) is None
    assert made_at_MPa(drawn(tmp_path)) == 0.28


def test_a_unit_of_another_modulus(tmp_path):
    """Centre and maps stay, every stiffness goes with the modulus."""
    study = drawn(tmp_path)
    folder = make_supports(tmp_path / "teeth", drawn(tmp_path, factors=[HELD], design="grid"))
    case = make_run(study, ()).case
    unit = Supports(folder).units(case).supports["segment"]
    twice = stiffened(unit, 2.0)
    assert np.array_equal(twice.centre.point, unit.centre.point)
    assert np.array_equal(twice.centre.stiffness, 2 * unit.centre.stiffness)
    assert np.array_equal(twice.teeth[1].stiffness, 2 * unit.teeth[1].stiffness)
    assert twice.maps is unit.maps
