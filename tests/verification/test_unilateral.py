"""A wire with play in its slot: free turn, closing of the contacts, and what the walls bear."""

from dataclasses import replace

import numpy as np
import pytest

from fem.appliance import Appliance, EquilibriumError, Unit
from fem.appliance_system import solve_equilibrium
from fem.attachment import (
    DeadForce,
    LimitedContact,
    PointContact,
    TurnContact,
    bar_contact,
    two_point_contact,
)
from fem.closed_form import TwoPointCantilever
from fem.contact_search import ContactCycleError, solve_with_play
from fem.material import Elastic
from fem.rigid import rotation
from fem.rod import RodState, passive_rod
from fem.section import rectangular_section
from fem.slot import Slot, slot_contacts, slot_play

INCH = 25.4
SECTION = rectangular_section(0.025 * INCH, 0.017 * INCH)
BETA_TI = Elastic(65e3, 0.3)
SPAN, BASE, N_TUBE, N_RUN = 20.0, 4.0, 4, 20
SLOT = Slot(0.022 * INCH, 0.028 * INCH, BASE)
PLAY = slot_play(SECTION, SLOT)
WALLS = (Unit("tooth", np.zeros(3), None), Unit("anchor", np.array([BASE + SPAN, 0, 0]), None))
TIP = N_TUBE + N_RUN
PLACES = (np.zeros(3), np.array([BASE, 0.0, 0.0]))
# contacts of the slot in order: cinch; height, width at the distal mouth; at the mesial; turns
DISTAL, MESIAL, DISTAL_WIDE, MESIAL_WIDE, TURNS = 1, 3, 2, 4, (5, 6)


def wire():
    x = np.concatenate([np.linspace(0, BASE, N_TUBE + 1), BASE + np.linspace(0, SPAN, N_RUN + 1)])
    x = np.delete(x, N_TUBE)
    points = np.stack([x, 0 * x, 0 * x], axis=1)
    axes = np.broadcast_to(np.eye(3), (len(x), 3, 3))
    rod = passive_rod(points, axes, np.diff(x), SECTION.stiffness(BETA_TI))
    return rod, RodState(points, axes)


def held_tip(offset, *, play=PLAY, units=WALLS):
    """Wire in the slot, its end hooked over a bar along the span, off by `offset` (3,)."""
    rod, passive = wire()
    slot = slot_contacts(0, (0, N_TUBE), PLACES, np.eye(3), play)
    hook = passive.points[TIP] + offset
    bar = bar_contact(1, TIP, hook, np.array([1.0, 0, 0]), passive.points[TIP])
    return Appliance(rod, passive, units, (*slot, bar))


def force(solution):
    return np.linalg.norm(solution.equilibrium.loads[-1].wrench[:3])


def no_slack(play):
    return replace(play, height_mm=0.0, width_mm=0.0, torsion_rad=0.0)


@pytest.mark.parametrize(
    ("direction", "room", "distal", "mesial"),
    [
        ([0.0, 0, 1], PLAY.height_mm, DISTAL, MESIAL),
        ([0.0, 1, 0], PLAY.width_mm, DISTAL_WIDE, MESIAL_WIDE),
    ],
    ids=["height", "width"],
)
@pytest.mark.parametrize("sign", [1, -1])
def test_second_contact_closes_at_the_play_over_the_base(direction, room, distal, mesial, sign):
    """Geometry of a straight wire.

    Centred by equal springs at both mouths, the loose wire shares the tip's travel d so that the
    mesial mouth closes first, at (p/2)(1 + 2r + 2r²)/(1 + r) with r = L/b; the distal one, on the
    other wall, at p/2 + p r, when the wire is turned by p/b.
    """
    most = 2.0
    solution = solve_with_play(held_tip(sign * most * np.array(direction)))
    r = SPAN / BASE
    first = room / 2 * (1 + 2 * r + 2 * r**2) / (1 + r)
    second = room / 2 + room * r
    assert [e.contact for e in solution.events] == [mesial, distal]
    assert most * solution.closing(mesial) == pytest.approx(first, rel=1e-3)
    assert most * solution.closing(distal) == pytest.approx(second, rel=1e-3)
    assert solution.sides[mesial] == sign
    assert solution.sides[distal] == -sign


def test_angle_at_the_second_contact():
    """The wire turns freely by (H − h)/b: stopped there, it is straight at that angle."""
    most = 2.0
    closing = solve_with_play(held_tip([0, 0, most])).closing(DISTAL)
    solution = solve_with_play(held_tip(np.array([0, 0, most * closing * (1 + 1e-6)])))
    points = solution.equilibrium.state.points
    tube = (points[N_TUBE] - points[0])[2] / BASE
    run = (points[TIP] - points[N_TUBE])[2] / SPAN
    assert tube == pytest.approx(PLAY.height_mm / BASE, rel=1e-6)
    assert run == pytest.approx(tube, rel=1e-3)
    # corners of the wire, b sin θ + h cos θ = H: the play grows by h θ²/2
    corners = tube * (1 + SECTION.height_mm * tube / (2 * BASE))
    assert PLAY.height_rad == pytest.approx(corners, rel=1e-3)
    assert force(solution) < 1e-3


def test_free_turn_costs_its_share_of_the_activation():
    """Once both walls bear, the force grows as that of a wire without play: 3EI/(L²(L+b))."""
    first, second = (force(solve_with_play(held_tip([0, 0, d]))) for d in (1.0, 1.1))
    beam = TwoPointCantilever(SECTION, BETA_TI, SPAN, BASE)
    slope = (second - first) / 0.1
    assert slope == pytest.approx(beam.timoshenko_stiffness_N_per_mm, rel=5e-3)
    free = PLAY.height_mm * (0.5 + SPAN / BASE)
    assert first == pytest.approx(slope * (1.0 - free), rel=5e-3)


def test_walls_bear_what_statics_says():
    """F·L/b and F·(L + b)/b, a bar on two supports, here walls that only push."""
    solution = solve_with_play(held_tip([0, 0, 1.0]))
    beam = TwoPointCantilever(SECTION, BETA_TI, SPAN, BASE)
    walls = [abs(solution.equilibrium.multipliers[k][0]) for k in (DISTAL, MESIAL)]
    assert walls == pytest.approx(beam.contact_forces_N(force(solution)), rel=5e-3)


def test_law_of_contact_holds():
    """No wall pulls, none is passed (Signorini's conditions), with the wire bent both ways."""
    solution = solve_with_play(held_tip([0.0, 2.0, 3.0]))
    assert sum(abs(side) for side in solution.sides.values()) >= 4
    for index, contact in enumerate(solution.appliance.contacts):
        if isinstance(contact, LimitedContact) and contact.side:
            assert contact.side * solution.equilibrium.multipliers[index][0] < 0
    points = solution.equilibrium.state.points
    for node in (0, N_TUBE):
        assert abs(points[node, 2]) <= PLAY.height_mm / 2 + 1e-7
        assert abs(points[node, 1]) <= PLAY.width_mm / 2 + 1e-7


def test_no_play_is_the_two_sided_tube():
    """With nothing to close, the same numbers as contacts that hold both ways."""
    solution = solve_with_play(held_tip([0, 1.0, 3.0], play=no_slack(PLAY)))
    rod, passive = wire()
    tube = two_point_contact(0, (0, N_TUBE), PLACES, np.eye(3))
    hook = passive.points[TIP] + np.array([0, 1.0, 3.0])
    bar = bar_contact(1, TIP, hook, np.array([1.0, 0, 0]), passive.points[TIP])
    held = solve_equilibrium(Appliance(rod, passive, WALLS, (*tube, bar)))
    expected = np.linalg.norm(held.loads[-1].wrench[:3])
    assert force(solution) == pytest.approx(expected, rel=1e-9)
    assert solution.events == ()


def test_free_body_balances_with_play():
    """What the wire exerts on both units sums to nothing, loose contacts included (statics)."""
    soft = np.diag([200.0, 200, 100, 3000, 3000, 800])
    units = tuple(replace(u, stiffness=soft) for u in WALLS)
    solution = solve_with_play(held_tip([0, 1.0, 3.0], units=units))
    point = np.array([7.0, -3.0, 11.0])
    total = sum(solution.equilibrium.wrench_on(unit, point) for unit in (0, 1))
    assert np.linalg.norm(total[:3]) < 1e-8 * force(solution)
    assert np.linalg.norm(total[3:]) < 1e-8 * force(solution) * SPAN


def test_dead_force_finds_its_walls():
    """A tip weight on a wire held by nothing but walls: mesial floor, distal ceiling."""
    rod, passive = wire()
    slot = slot_contacts(0, (0, N_TUBE), PLACES, np.eye(3), PLAY)
    weight = (DeadForce(TIP, np.array([0, 0, -0.05])),)
    solution = solve_with_play(Appliance(rod, passive, WALLS, slot, weight))
    assert (solution.sides[MESIAL], solution.sides[DISTAL]) == (-1, 1)
    total = solution.equilibrium.wrench_on(0, np.zeros(3))
    assert total[:3] == pytest.approx([0, 0, -0.05], abs=1e-9)


def test_turns_freely_through_the_torsional_play():
    """A wire twisted by φ at the bench and held straight at its end: T = GJ (φ − θ)/L.

    θ is the play in torsion. The turn is stopped at the mesial mouth, where the moment enters.
    """
    rod, passive = wire()
    twist = 0.5
    angle = np.clip((passive.points[:, 0] - BASE) / SPAN, 0, 1) * twist
    axes = rotation(angle[:, None] * np.array([1.0, 0, 0]))
    law = SECTION.stiffness(BETA_TI)
    twisted = passive_rod(passive.points, axes, rod.lengths_mm, law)
    slot = slot_contacts(0, (0, N_TUBE), PLACES, np.eye(3), PLAY)
    up = np.array([0.0, 0, 1])
    end = (
        PointContact(TIP, 1, passive.points[TIP], np.eye(3)[1:], np.zeros(2)),
        TurnContact(TIP, 1, 1, up, float(axes[TIP][:, 1] @ up)),
    )
    state = RodState(passive.points, axes)
    solution = solve_with_play(Appliance(twisted, state, WALLS, (*slot, *end)))
    moment = abs(solution.equilibrium.loads[-1].wrench[3])
    free = PLAY.torsion_rad
    assert moment == pytest.approx(law[3] * (twist - free) / SPAN, rel=1e-4)
    assert [e.contact for e in solution.events] == [TURNS[1]]
    closing = 1 - np.sin(twist - free) / np.sin(twist)
    # the springs that centre the loose wire twist it first: 1e-5 of the closing activation
    assert solution.events[0].activation == pytest.approx(closing, rel=1e-4)


def test_wrong_walls_at_the_start_are_left():
    """Contacts put at the wrong walls open, and the answer is the one of the loose start."""
    right = solve_with_play(held_tip([0, 0, 2.0]))
    appliance = held_tip([0, 0, 2.0])
    contacts = list(appliance.contacts)
    for index, side in ((DISTAL, 1), (MESIAL, -1)):
        contacts[index] = replace(contacts[index], side=side)
    wrong = solve_with_play(replace(appliance, contacts=tuple(contacts)))
    assert any(e.after == 0 for e in wrong.events)
    assert wrong.sides == right.sides
    assert force(wrong) == pytest.approx(force(right), rel=1e-9)


def test_endless_switching_is_reported(monkeypatch):
    """A law that no state meets: the search stops and names the contacts."""
    monkeypatch.setattr(LimitedContact, "excess", lambda *_: 1.0)
    with pytest.raises(ContactCycleError, match=r"contacts .* \(node \d+\) .* without end"):
        solve_with_play(held_tip([0, 0, 2.0]))


def test_a_wire_that_creeps_is_reported(monkeypatch):
    monkeypatch.setattr("fem.contact_search._MOST_STEPS", 3)
    with pytest.raises(EquilibriumError, match=r"beyond \d+\.\d % .* 3 steps led no further"):
        solve_with_play(held_tip([0, 0, 2.0]))


def test_play_must_be_play():
    point = PointContact(0, 0, np.zeros(3), np.eye(3), np.zeros(3))
    with pytest.raises(ValueError, match="holds 3 directions"):
        LimitedContact(point, 0.1, 1.0)
    with pytest.raises(ValueError, match="must both be positive"):
        LimitedContact(replace(point, directions=np.eye(3)[:1], gap=np.zeros(1)), 0.0, 1.0)
