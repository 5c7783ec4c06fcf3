"""Equilibrium of a wire with play: which contacts are closed, found along the activation.

Each contact with play follows the law, g from the middle of its play, λ on the wire,

    loose:    |g| < most,       λ = −k g           (k: weak centring spring)
    at wall:  g = side · most,  side · (λ + k g) ≤ 0   (a wall pushes, never pulls)

The activation grows in steps with the contacts kept as they are. Where a step breaks the law, the
first activation at which it breaks is located, that one contact is switched, and the path goes on
from there: an active-set search in which every state on the way is an equilibrium. Contacts that
open and close without end at one activation tell that the path ends there, as where a round wire
has rolled in its tube until the couple turns over: the wire snaps. Then every arrangement of the
contacts that have closed so far is tried, and of those that keep the law the nearest is taken.
Frictionless; where there is none, the contacts are named.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Equilibrium, EquilibriumError
from fem.appliance_system import Iterate, Solved, System, no_equilibrium
from fem.attachment import LimitedContact
from fem.contact_equation import limited_value

Array = NDArray[np.float64]

_TOLERANCE_MM = 1e-8  # through a wall; also of the sine of a turn
_TOLERANCE_N = 1e-6  # pull of a wall; also N·mm
_EVENT_WIDTH = 1e-10  # of the activation
_SMALLEST_STEP = 1e-9
_MAX_LOCATE = 80
_VISITS = 4  # switches of each contact at one activation before the wire is taken to snap
_LEAST_BETWEEN_SNAPS = 1e-6  # of the activation
_MOST_STEPS = 600  # tried; few wires take a hundred, and one that creeps would go on for hours


class ContactCycleError(EquilibriumError):
    """Contacts open and close without end at one activation."""


@dataclass(frozen=True)
class ContactEvent:
    """One contact that closed or opened.

    Attributes
    ----------
    activation
        Share of the activation at which it did, 0 to 1.
    contact
        Index of the contact in the appliance.
    before, after
        Side it lay at: −1, +1, or 0 for loose.
    """

    activation: float
    contact: int
    before: int
    after: int


@dataclass(frozen=True)
class PlaySolution:
    """An engaged wire with play.

    Attributes
    ----------
    appliance
        The appliance with every contact on the side it was found at.
    equilibrium
        The engaged state.
    events
        Which contact closed or opened when, in order.
    path
        Share of the activation and equilibrium after every step, the engaged one last.
    """

    appliance: Appliance
    equilibrium: Equilibrium
    events: tuple[ContactEvent, ...]
    path: tuple[tuple[float, Equilibrium], ...]

    @property
    def sides(self) -> dict[int, int]:
        """Side of every contact with play, by its index."""
        contacts = enumerate(self.appliance.contacts)
        return {k: c.side for k, c in contacts if isinstance(c, LimitedContact)}

    def closing(self, contact: int) -> float | None:
        """Share of the activation at which a contact first closed; None if it never did."""
        shut = (e.activation for e in self.events if e.contact == contact and e.after != 0)
        return next(shut, None)


def solve_with_play(appliance: Appliance, *, steps: int = 8, until: float = 1.0) -> PlaySolution:
    """Engage a wire whose contacts may have play, and tell which of them close when.

    Parameters
    ----------
    appliance
        Wire, units and contacts; contacts with play start on the side they are given.
    steps
        Number of equal steps from passive to engaged; a step that fails is halved.
    until
        Share of the activation to go to: 1 is engaged, more goes on in the same steps as far as
        there is an equilibrium.

    Raises
    ------
    EquilibriumError
        If Newton's method fails however short the step.
    ContactCycleError
        If contacts switch back and forth at one activation.
    """
    return _Search(appliance, steps, until).run()


class _Search:
    """Path of equilibria from passive to engaged."""

    def __init__(self, appliance: Appliance, steps: int, until: float) -> None:
        self.until = until
        self.longest = self.step = 1.0 / steps
        self.system = System(appliance)
        self.followed = appliance
        self.current = Solved(self.system.passive(), 0.0, 0)
        self.reached = 0.0
        self.events: list[ContactEvent] = []
        self.path: list[tuple[float, Equilibrium]] = []
        self.stalled = self.tried = 0
        self.snapped = -np.inf
        self.iterations = 0

    def run(self) -> PlaySolution:
        try:
            self.follow()
        except EquilibriumError:
            if not self.path or self.path[-1][0] < 1.0:
                raise
            return self.solution(self.followed, *self.path[-1])
        equilibrium = self.system.result(self.current, self.iterations)
        self.path[-1:] = [(self.reached, equilibrium)]
        return self.solution(self.system.appliance, self.reached, equilibrium)

    def solution(self, at: Appliance, share: float, equilibrium: Equilibrium) -> PlaySolution:
        """What is known up to the end of the path."""
        events = tuple(event for event in self.events if event.activation <= share)
        return PlaySolution(at, equilibrium, events, tuple(self.path))

    def follow(self) -> None:
        """Go on along the path to its end."""
        while self.reached < self.until or self.breach(self.current.iterate)[0] > 0:
            self.tried += 1
            if self.tried > _MOST_STEPS:
                raise EquilibriumError(
                    f"{no_equilibrium(self.reached)}: {_MOST_STEPS} steps led no further, the wire "
                    "lies too loosely in its tube"
                )
            target = min(self.until, self.reached + self.step)
            solved = self.solve(target)
            if solved is None:
                self.shorten()
            elif self.breach(solved.iterate)[0] > 0:
                self.switch(*self.locate(target, solved))
            else:
                self.current, self.reached, self.stalled = solved, target, 0
                self.path.append((target, self.system.result(solved, self.iterations)))
                self.followed = self.system.appliance
                self.step = min(2 * self.step, self.longest)

    def solve(self, tau: float) -> Solved | None:
        """Equilibrium at one activation with the contacts as they are."""
        solved = self.system.newton(self.current.iterate, tau)
        self.iterations += solved.iterations if solved else 0
        return solved

    def shorten(self) -> None:
        """Halve the step."""
        self.step /= 2
        if self.step < _SMALLEST_STEP:
            raise EquilibriumError(no_equilibrium(self.reached))

    def breach(self, it: Iterate) -> tuple[float, int]:
        """Worst breach of the law of contact beyond its tolerance, and the contact's index."""
        worst = (-np.inf, -1)
        for index, contact in enumerate(self.system.appliance.contacts):
            if isinstance(contact, LimitedContact):
                value = limited_value(contact, self.system.touch(contact, it))
                excess = contact.excess(value, float(self.system.multiplier(it, index)[0]))
                tolerance = _TOLERANCE_N if contact.side else _TOLERANCE_MM
                worst = max(worst, (excess / tolerance - 1, index))
        return worst

    def locate(self, high: float, solved: Solved) -> tuple[float, Solved]:
        """First activation at which the law breaks, from just beyond it (regula falsi, halved)."""
        low = self.reached
        at_low, at_high = self.breach(self.current.iterate)[0], self.breach(solved.iterate)[0]
        if at_low > 0:
            return low, self.current
        for turn in range(_MAX_LOCATE):
            if high - low < _EVENT_WIDTH or at_high < 1:
                break
            share = 0.5 if turn % 3 == 2 else at_low / (at_low - at_high)
            middle = low + np.clip(share, 1e-3, 1 - 1e-3) * (high - low)
            trial = self.solve(middle)
            if trial is None:
                break
            breach = self.breach(trial.iterate)[0]
            if breach > 0:
                high, at_high, solved = middle, breach, trial
            else:
                low, at_low = middle, breach
        return high, solved

    def switch(self, tau: float, solved: Solved) -> None:
        """Open or close the contact that breaks the law, and settle."""
        _, index = self.breach(solved.iterate)
        contacts = list(self.system.appliance.contacts)
        contact = contacts[index]
        assert isinstance(contact, LimitedContact)
        value = limited_value(contact, self.system.touch(contact, solved.iterate))
        self.stalled = self.stalled + 1 if tau - self.reached <= _EVENT_WIDTH else 1
        side = 0 if contact.side else int(np.sign(value))
        self.events.append(ContactEvent(tau, index, contact.side, side))
        if self.stalled > _VISITS * len(contacts):
            self.snap(tau)
            return
        self.system = self.arranged({index: side})
        self.current, self.reached = solved, tau
        settled = self.solve(tau)
        if settled is None:
            raise EquilibriumError(
                f"no equilibrium after the contact at node {contact.node} "
                f"{'closed' if side else 'opened'} at {100 * tau:.2f} % of the activation; use "
                "more rod elements or a stronger centring spring"
            )
        self.current = settled

    def arranged(self, sides: Mapping[int, int]) -> System:
        """The system with some contacts at other sides."""
        contacts = list(self.system.appliance.contacts)
        for index, side in sides.items():
            contact = contacts[index]
            assert isinstance(contact, LimitedContact)
            contacts[index] = replace(contact, side=side)
        return System(replace(self.system.appliance, contacts=tuple(contacts)))

    def snap(self, tau: float) -> None:
        """Go to the nearest arrangement of the contacts that keeps the law."""
        closed = sorted({event.contact for event in self.events})
        cycling, start = self.system, self.current.iterate
        found: list[tuple[float, System, Solved]] = []
        for sides in product((0, -1, 1), repeat=len(closed)):
            self.system = self.arranged(dict(zip(closed, sides, strict=True)))
            solved = self.system.newton(start, tau)
            if solved is not None and self.breach(solved.iterate)[0] <= 0:
                moved = np.abs(solved.iterate.state.points - start.state.points).max()
                found.append((float(moved), self.system, solved))
        self.system = cycling
        if not found or tau - self.snapped < _LEAST_BETWEEN_SNAPS:
            raise ContactCycleError(self.cycle_message(tau))
        before = cycling.appliance.contacts
        _, self.system, self.current = min(found, key=lambda one: one[0])
        self.reached = self.snapped = tau
        self.stalled = 0
        for index in closed:
            old, new = before[index], self.system.appliance.contacts[index]
            assert isinstance(old, LimitedContact)
            assert isinstance(new, LimitedContact)
            if old.side != new.side:
                self.events.append(ContactEvent(tau, index, old.side, new.side))

    def cycle_message(self, tau: float) -> str:
        """Which contacts go back and forth."""
        contacts = self.system.appliance.contacts
        recent = {e.contact for e in self.events[-self.stalled :]}
        nodes = ", ".join(f"{k} (node {contacts[k].node})" for k in sorted(recent))
        return (
            f"contacts {nodes} open and close without end at {100 * tau:.2f} % of the activation: "
            "two of them may limit the same motion; drop one or change the play slightly"
        )
