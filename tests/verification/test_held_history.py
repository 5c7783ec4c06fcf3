"""A wire held on its way and taken past its limit may pull its hook the other way throughout.

A cantilever that is held down at a share ξ of its span is bent there by the slope 1.5 times what it
was bent to, so that its end comes to lie beyond its hook, by half of the activation (beam theory).
"""

import numpy as np
import pytest

from fem.engage import push_N
from tests.campaigns.solve import stand_ins
from workflow.case import resolved, validate_case
from workflow.case_units import case_units
from workflow.equilibrium import engage_case
from workflow.force_activation import case_curve
from workflow.plan import cantilever_sites

CONTENT = {
    "schema_version": 1,
    "case": "held",
    "title": "A molar next to the tube holds the wire too",
    "units": {
        "rear": {"teeth": [37], "role": "target", "support": "fixed"},
        "front": {"teeth": [33, 34], "role": "anchor", "support": "fixed"},
        "middle": {"teeth": [36], "role": "target", "support": "fixed"},
    },
    "two_point": {"unit": "rear", "tooth": 37},
    "one_point": {"unit": "front", "contact": "bar", "between": [33, 34]},
    "further": [{"unit": "middle", "tooth": 36, "contact": "bar"}],
    "wire": {
        "alloy": "nickel_titanium_stabilised",
        "section": "rectangular_0.021x0.025_in",
        "activation": {"offset_mm": 5.0, "trial_share": 1.6},
        "along_arch": True,
    },
}


@pytest.fixture(scope="module")
def held(tmp_path_factory):
    case = resolved(validate_case(CONTENT, "held"))
    units = case_units(case, stand_ins(case, tmp_path_factory.mktemp("held")))
    engaged = engage_case(case, units)
    return case, engaged, case_curve(case, units, engaged.solved.offset_mm)


def test_its_hook_is_pulled_the_other_way(held):
    case, engaged, _ = held
    assert engaged.past_limit is not None
    assert push_N(cantilever_sites(case), engaged.solved.equilibrium) < 0


def test_it_is_followed_back_until_its_force_is_gone(held):
    _, engaged, curve = held
    back = curve.history.letting_back
    assert back[0].activation_mm == pytest.approx(1.6 * engaged.solved.offset_mm)
    forces = np.array([point.force_N for point in back])
    assert forces[0] > 5 * forces[-1]
    assert (np.diff(forces) < 0).all()
    assert curve.working.force_N == pytest.approx(engaged.force_N, rel=1e-6)
