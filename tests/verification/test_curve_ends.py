"""Wires that come to the end of what they can do: at a wall that lets go, in strain, on their way.

Each is the wire of a case between immovable units.
"""

import numpy as np
import pytest

from fem.appliance import EquilibriumError, Unit
from fem.attachment import LimitedContact
from fem.cantilever_contacts import engage_with_play
from fem.cantilever_design import Cantilever
from fem.contact_search import ContactCycleError
from fem.engage import Alloy, Setup, engage
from fem.force_activation import force_activation
from workflow.case import resolved, validate_case
from workflow.equilibrium import case_slot
from workflow.plan import cantilever_sites, wire_design
from workflow.wire_specs import fibre_section

MEASURED_SLOT = "bracket_0.018x0.025_in_measured"
BETWEEN_35_AND_36 = {"contact": "bar", "between": [35, 36]}


def setup_of(rear, front, wire, one_point, **two_point):
    units = {
        "rear": {"teeth": [rear], "role": "anchor"},
        "front": {"teeth": front, "role": "target"},
    }
    content = {
        "schema_version": 1,
        "case": "wire_alone",
        "title": "A wire between immovable teeth",
        "units": units,
        "two_point": {"unit": "rear", "tooth": rear} | two_point,
        "one_point": {"unit": "front"} | one_point,
        "wire": wire,
    }
    case = resolved(validate_case(content, "wire_alone"))
    rigid = tuple(Unit(name, np.zeros(3), None) for name in units)
    cantilever = Cantilever(cantilever_sites(case), wire_design(case), rigid)
    law = case["wire"]["alloy"]
    alloy = Alloy(fibre_section(law, case["wire"]["section"]), law["yield_strength_MPa"])
    return Setup(cantilever, case_slot(case), False, case["one_point"]["friction"], alloy)


def wire_of(alloy, section, pulls, offset_mm, **more):
    activation = {"pulls": pulls, "offset_mm": offset_mm}
    return {"alloy": alloy, "section": section, "activation": activation} | more


def curve_of(setup, working_mm):
    return force_activation(setup, working_mm, setup.alloy.limit_MPa)


def with_play(setup, offset_mm, **more):
    size = setup.slot.height_mm, setup.slot.width_mm
    return engage_with_play(setup.cantilever, offset_mm, *size, **more).solution


@pytest.fixture(scope="module")
def rolling():
    """A round wire bent along the arch and tied: loose in its tube, it rolls before it bends."""
    wire = wire_of("nickel_titanium_stabilised", "round_0.018_in", "apical", 3.5, along_arch=True)
    tied = {"contact": "tied", "between": [24, 25], "height_fraction": 0.62}
    return setup_of(26, [24, 25], wire, tied, attachment=MEASURED_SLOT)


def test_a_wire_that_rolls_over_snaps_across_its_play(rolling):
    """Once the couple turns over, no wall holds the wire where it was: it goes to the others.

    The state found keeps the law of contact (no wall pulls, nothing goes through one) and balances.
    """
    solution = with_play(rolling, 3.5)
    first = {event.contact: event.after for event in reversed(solution.events) if event.after}
    across = [
        contact for contact, side in solution.sides.items() if side * first.get(contact, 0) < 0
    ]
    assert len(across) == 2, "at both mouths"
    contacts = zip(solution.appliance.contacts, solution.equilibrium.multipliers, strict=True)
    walls = [(c, m) for c, m in contacts if isinstance(c, LimitedContact) and c.side]
    assert len(walls) >= 4
    assert all(contact.side * multiplier[0] < 1e-6 for contact, multiplier in walls)
    on_tube, on_hook = (solution.equilibrium.wrench_on(unit, np.zeros(3)) for unit in (0, 1))
    assert np.linalg.norm(on_tube + on_hook) < 1e-8 * np.linalg.norm(on_hook)


def test_past_the_snap_the_force_rises_from_next_to_nothing(rolling):
    before, soon, later = (engage(rolling, a).force_N for a in (2.0, 3.5, 4.5))
    assert before < 1e-3 * soon
    assert later > 1.5 * soon


def test_a_history_ends_where_the_wire_is_strained_beyond_its_law():
    """Known to the working point and a little on; what lies beyond is left out."""
    wire = wire_of("stainless_steel", "round_0.7_mm", "apical", 4.0)
    setup = setup_of(37, [35, 36], wire, BETWEEN_35_AND_36)
    curve = curve_of(setup, 4.0)
    reached = curve.history.activating[-1].activation_mm
    assert 4.0 < reached == curve.end_mm < curve.points[-1].activation_mm
    assert curve.history.letting_back[-1].force_N == 0
    with pytest.raises(EquilibriumError, match="beyond what its law is good for"):
        engage(setup, 1.5 * 4.0)


def test_a_wire_strained_beyond_its_law_at_work_is_refused():
    wire = wire_of("stainless_steel", "round_0.7_mm", "apical", 6.0)
    setup = setup_of(37, [35, 36], wire, BETWEEN_35_AND_36)
    with pytest.raises(EquilibriumError, match="beyond what its law is good for"):
        curve_of(setup, 6.0)


def test_friction_is_found_where_a_wall_closes():
    """There the wall bears nothing yet, and a way from passive with it closed leads nowhere."""
    bar = {"contact": "bar", "between": [33, 34], "friction": 0.12}
    wire = wire_of("beta_titanium", "rectangular_0.018x0.018_in", "lingual", 6.753)
    setup = setup_of(37, [33, 34], wire, bar, attachment="bracket_0.022x0.028_in")
    curve = curve_of(setup, 6.753)
    up, down = (
        np.array([p.force_N for p in branch])
        for branch in (curve.rubbing.activating, curve.rubbing.letting_back)
    )
    free = np.array([p.force_N for p in curve.points])
    assert len(up) == len(free)
    bent = free > 1e-3 * free.max()  # before, the wire lies loose
    assert (down[bent] < free[bent]).all()
    assert (free[bent] < up[bent]).all()


def test_a_path_past_the_engaged_wire_ends_where_none_is_found(rolling, monkeypatch):
    """What was found up to there is kept; short of the engaged wire there is nothing to keep."""
    monkeypatch.setattr("fem.contact_search.product", lambda *_, repeat: ())  # no snap is found
    wire = wire_of("nickel_titanium_stabilised", "round_0.018_in", "apical", 4.0, along_arch=True)
    tied = {"contact": "tied", "tooth": 35}
    setup = setup_of(37, [35, 36], wire, tied, attachment=MEASURED_SLOT)
    onward = with_play(setup, 4.0, until=1.5)
    assert 1.0 <= onward.path[-1][0] < 1.5
    assert onward.equilibrium is onward.path[-1][1]
    assert all(event.activation <= onward.path[-1][0] for event in onward.events)
    with pytest.raises(ContactCycleError):
        with_play(rolling, 3.5)
