"""A small parameter study and teeth on springs, for tests."""

import copy

import numpy as np
import yaml

from geometry.anatomy import tooth_dimensions
from workflow.digest import spec_id
from workflow.plan import teeth_of
from workflow.records import write_json
from workflow.sweep_config import load_parameter_study
from workflow.sweep_design import design_points
from workflow.sweep_runs import make_run
from workflow.tooth_specs import support_spec

BED_MPa = 26.0  # lateral force per length and movement

SMALL = {
    "study": "small",
    "title": "A small study",
    "case": "lower_molar_uprighting",
    "factors": [
        {"name": "alloy", "key": "wire.alloy", "levels": ["beta_titanium", "stainless_steel"]},
        {"name": "set_span_mm", "key": "wire.span_mm", "range": {"from": 18, "to": 24, "steps": 3}},
    ],
    "design": "grid",
    "responses": ["force_N", "couple_Nmm"],
}


def written(folder, **changes):
    data = copy.deepcopy(SMALL) | changes
    path = folder / "small.yaml"
    path.write_text(yaml.safe_dump(data, sort_keys=False), encoding="utf-8")
    return path


def loaded(folder, **changes):
    return load_parameter_study(written(folder, **changes))


def make_supports(folder, study):
    """Supports of all teeth of a study: a straight root in a uniform bed, every stress its own."""
    for point in design_points(study.study):
        case = make_run(study, point).case
        for tooth in teeth_of(case) if case else ():
            spec = support_spec(case, tooth)
            place = folder / spec_id(spec)
            if not place.is_dir():
                place.mkdir(parents=True)
                write_support(place, spec)
    return folder


def write_support(place, spec):
    h = tooth_dimensions(spec["tooth"]).root_length_mm - 1.5
    k = BED_MPa * spec["youngs_modulus_MPa"] / 0.7
    tip = k * h**3 / 12
    record = {
        "spec": spec,
        "stiffness": np.diag([k * h, k * h, k * h / 2, tip, tip, k * h * 4.0]),
        "point_mm": [0.0, 0.0, -1.5 - h / 2],
        "resistance": {
            "depth_fraction_of_embedded_root": {"mesiodistal": 0.41, "buccolingual": 0.43}
        },
    }
    write_json(place / "support.json", record)
    drawn = np.random.default_rng(spec["tooth"])
    np.savez(
        place / "stress_basis.npz",
        values=drawn.normal(size=(6, 6, 60, 4)),
        volumes=drawn.uniform(0.5, 1.0, size=(60, 4)),
        displacements=np.zeros((6, 1, 3)),
    )
