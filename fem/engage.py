"""Engaging a cantilever with everything its contacts and its alloy do: play, friction, yield.

The plain problem is that of `fem.cantilever`: elastic wire, tube without play, contacts without
friction. A set-up adds play in the tube, a peg that the wire slides over lengthwise, friction, and
an alloy that yields or transforms: the wire is followed through its history beyond its limit only.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from math import ceil

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from fem.appliance import Appliance, Equilibrium, EquilibriumError
from fem.attachment import PointContact
from fem.cantilever import SolvedCantilever, passive_path, solve_for_offset
from fem.cantilever_contacts import engage_over_peg, engage_with_play
from fem.cantilever_design import ONE_POINT, TWO_POINT, Cantilever, CantileverSites
from fem.fibre import FibreSection
from fem.fibre_rod import FibreRod, passive_fibre_rod
from fem.friction import friction_bracket
from fem.inelastic import InelasticPoint, follow, permanent_set_mm, release
from fem.rod import section_resultants
from fem.slot import Slot

Array = NDArray[np.float64]

_FIRST_SHARE = 0.05  # of the span: where the rate is taken to start the search from
_GROWTH = 1.25
_MOST_SHARE = 1.0  # of the span
_ELASTIC_TOLERANCE = 1e-13
_INELASTIC_TOLERANCE = 1e-9


@dataclass(frozen=True)
class Alloy:
    """What a wire does past its elastic limit.

    Attributes
    ----------
    section
        Fibres of the section and their law.
    limit_MPa
        Stress up to which the wire is linear.
    trial_share
        Greatest activation before the wire is let back to the working one, as its share.
    """

    section: FibreSection
    limit_MPa: float
    trial_share: float = 1.0


@dataclass(frozen=True)
class Setup:
    """A cantilever and how it is held.

    Attributes
    ----------
    cantilever
        Sites, wire and units.
    slot
        Inner size of the tube; None: no play.
    over_peg
        Whether the wire is longer than needed and slides lengthwise over its hook.
    friction
        Coefficient of friction where the wire slides over a bar or peg.
    alloy
        What the wire does past its elastic limit; None: linear elastic throughout.

    Raises
    ------
    ValueError
        If the parts cannot be computed together.
    """

    cantilever: Cantilever
    slot: Slot | None = None
    over_peg: bool = False
    friction: float = 0.0
    alloy: Alloy | None = None

    def __post_init__(self) -> None:
        if not self.cantilever.determinate and (self.over_peg or self.slot is not None):
            raise ValueError(
                "a wire held by further units or in a second bracket is computed without play and "
                "peg"
            )
        if self.over_peg and self.slot is not None:
            raise ValueError("a wire over a peg is computed without play in its tube: drop one")
        if self.over_peg and self.alloy is not None:
            raise ValueError("a wire over a peg is computed as elastic: drop the alloy or the peg")
        if self.friction > 0 and self.cantilever.sites.bar is None:
            raise ValueError("friction acts where a wire slides: it needs a bar or a peg")


@dataclass(frozen=True)
class Rubbing:
    """The same activation with friction.

    Where the slip turns back on the way, the wire sticks over a stretch there and the force passes
    from one value to the other.

    Attributes
    ----------
    activating, deactivating
        Reached by activating, and from far enough beyond by letting back; the same where the wire
        sticks.
    sticks
        Whether friction keeps the wire where it first touched.
    """

    activating: Equilibrium
    deactivating: Equilibrium
    sticks: bool


@dataclass(frozen=True)
class PastLimit:
    """A wire that was activated past its elastic limit.

    Attributes
    ----------
    trial, working
        At the greatest activation, and let back to the working one.
    resting
        Released from its hook: what set it has kept.
    set_mm
        Distance of its end from where it was bent to, at rest.
    """

    trial: InelasticPoint
    working: InelasticPoint
    resting: InelasticPoint
    set_mm: float


@dataclass(frozen=True)
class Engaged:
    """An engaged set-up.

    Attributes
    ----------
    solved
        Passive wire, contacts and equilibrium, without friction.
    stress_MPa
        Greatest stress at the ends of each element of an elastic wire, (n, 2). Past the elastic
        limit that of the fibres, in the middle of each element, (n, 1).
    closings_mm
        Activation at which each wall of a tube with play is first reached, by contact.
    rubbing
        The same with friction, where it was asked for and the wire is elastic.
    past_limit
        The history of a wire past its elastic limit.
    """

    solved: SolvedCantilever
    stress_MPa: Array
    closings_mm: dict[int, float]
    rubbing: Rubbing | None = None
    past_limit: PastLimit | None = None

    @property
    def force_N(self) -> float:
        """Size of the force on the one-point unit."""
        return float(np.linalg.norm(self.solved.force_on_hook_N()))

    def couple_Nmm(self, middle: Array) -> float:
        """Size of the moment on the two-point unit about the middle of its attachment."""
        return float(np.linalg.norm(self.solved.couple_on_tube_Nmm(middle)))


def engage(setup: Setup, offset_mm: float) -> Engaged:
    """Engage a set-up whose passive end lies a given distance off the hook.

    Raises
    ------
    fem.appliance.EquilibriumError
        If no equilibrium is found.
    ValueError
        If the wire cannot be bent so, or does not enter its tube.
    """
    if setup.over_peg:
        return _over_peg(setup, offset_mm)
    solved = solve_for_offset(setup.cantilever, offset_mm)
    closings: dict[int, float] = {}
    if setup.slot is not None:
        loose = engage_with_play(
            setup.cantilever, offset_mm, setup.slot.height_mm, setup.slot.width_mm
        )
        solution, closings = loose.solution, loose.closings_mm
        solved = replace(solved, appliance=solution.appliance, equilibrium=solution.equilibrium)
    stress = elastic_stress_MPa(setup.cantilever, solved)
    alloy = setup.alloy
    if alloy is not None and stress.max() * alloy.trial_share > alloy.limit_MPa:
        return _past_limit(setup, alloy, solved, closings)
    return Engaged(solved, stress, closings, _rubbing(setup, solved))


def engage_for_couple(setup: Setup, couple_Nmm: float) -> Engaged:
    """Find the offset at which the two-point unit receives a wanted couple, and engage it.

    The couple is the size of the moment about the middle of the attachment.

    Raises
    ------
    ValueError
        If no offset within the wire's reach gives the couple; says the largest that was found.
    """
    middle = setup.cantilever.sites.tube_middle
    return _engage_for(setup, lambda e: e.couple_Nmm(middle), couple_Nmm, "couple", "N·mm")


def engage_for_force(setup: Setup, force_N: float) -> Engaged:
    """Find the offset at which the one-point unit receives a wanted force, and engage it.

    Raises
    ------
    ValueError
        If no offset within the wire's reach gives the force; says the largest that was found.
    """
    return _engage_for(setup, lambda e: e.force_N, force_N, "force", "N")


def loads_N_Nmm(equilibrium: Equilibrium, middle: Array) -> tuple[float, float]:
    """Sizes of the force at the hook, N, and of the couple at the tube, N·mm."""
    force = np.linalg.norm(equilibrium.wrench_on(ONE_POINT, np.zeros(3))[:3])
    return float(force), float(np.linalg.norm(equilibrium.wrench_on(TWO_POINT, middle)[3:]))


def push_N(sites: CantileverSites, equilibrium: Equilibrium) -> float:
    """Push of the hook on the wire along the activation, N; it pulls the wire back below zero."""
    return float(-equilibrium.wrench_on(ONE_POINT, np.zeros(3))[:3] @ sites.activation)


def elastic_stress_MPa(cantilever: Cantilever, solved: SolvedCantilever) -> Array:
    """Greatest stress of an elastic wire at both ends of every element, (n, 2)."""
    resultants = section_resultants(solved.appliance.rod, solved.equilibrium.state)
    return np.asarray(cantilever.wire.section.peak_stress_MPa(resultants))


def fibre_rod(setup: Setup, solved: SolvedCantilever) -> FibreRod:
    """The passive wire of a solved cantilever, with the fibres of its alloy."""
    assert setup.alloy is not None
    wire, path = setup.cantilever.wire, solved.path
    return passive_fibre_rod(
        path.points, path.axes, path.lengths_mm, setup.alloy.section, wire.law[1:4]
    )[0]


def _engage_for(
    setup: Setup, measure: Callable[[Engaged], float], wanted: float, name: str, unit: str
) -> Engaged:
    """Offset at which a quantity that grows with it has a wanted value."""

    @cache
    def excess(offset: float) -> float:
        return measure(engage(setup, offset)) - wanted

    low, high = _bracket(setup, measure, wanted, name, unit)
    if low == 0.0 and excess(low) >= 0.0:
        raise ValueError(
            f"brackets out of line give a {name} of {wanted + excess(low):.4g} {unit} unactivated, "
            f"no less than the {wanted:.4g} {unit} wanted: give offset_mm instead"
        )
    close = _ELASTIC_TOLERANCE if setup.alloy is None else _INELASTIC_TOLERANCE
    return engage(setup, float(brentq(excess, low, high, xtol=close, rtol=close)))


def _bracket(
    setup: Setup, measure: Callable[[Engaged], float], wanted: float, name: str, unit: str
) -> tuple[float, float]:
    """Two offsets between which a quantity passes the wanted value.

    Sought upwards from where a straight line at the elastic rate has it, then below: that line
    leads too far where play is taken up first, and a wire that yields may give most on the way.
    """
    span, largest, stopped = setup.cantilever.sites.span_mm, 0.0, None
    first = measure(engage(replace(setup, alloy=None), _FIRST_SHARE * span))
    guess = min(_FIRST_SHARE * wanted / first if first > 0 else _FIRST_SHARE, _MOST_SHARE)
    for start, end in ((guess, _MOST_SHARE), (_FIRST_SHARE, guess)):
        low, count = 0.0, 1 + ceil(max(0.0, np.log(end / start) / np.log(_GROWTH)))
        for offset in map(float, span * np.geomspace(start, end, count)):
            try:
                reached = measure(engage(setup, offset))
            except (EquilibriumError, ValueError) as error:
                stopped = error  # out of the wire's reach
                break
            if reached >= wanted:
                return low, offset
            low, largest = offset, max(largest, reached)
    if stopped is not None and largest == 0.0:
        raise stopped
    raise ValueError(
        f"no activation up to the span gives a {name} of {wanted:.4g} {unit}; the largest is "
        f"{largest:.4g} {unit}: choose a stiffer wire, a shorter span or a smaller {name}"
    )


def _rubbing(setup: Setup, solved: SolvedCantilever) -> Rubbing | None:
    bar = setup.cantilever.sites.bar
    if setup.friction == 0.0 or bar is None:
        return None
    wire, hook = solved.appliance, len(solved.appliance.contacts) - 1
    found = friction_bracket(wire, hook, bar, setup.friction, free=solved.equilibrium)
    return _by_push(setup.cantilever.sites, found.activating, found.deactivating, found.sticks)


def _by_push(sites: CantileverSites, one: Equilibrium, other: Equilibrium, sticks: bool) -> Rubbing:
    """Both ways to slip, told apart by the push along the activation.

    Friction takes work on the way in and out, so the way in asks for more push (second law). How
    far the wire has slipped in all does not tell: on a bar it may slip forth and back again.
    """
    less, more = sorted((one, other), key=lambda equilibrium: push_N(sites, equilibrium))
    return Rubbing(more, less, sticks)


def _over_peg(setup: Setup, offset_mm: float) -> Engaged:
    found = engage_over_peg(setup.cantilever, offset_mm, setup.friction)
    path = passive_path(setup.cantilever, offset_mm)
    free = found.frictionless
    solved = SolvedCantilever(path, free.appliance, free.equilibrium, offset_mm)
    rubbing = None
    if setup.friction > 0:
        ways = found.activating.equilibrium, found.deactivating.equilibrium
        rubbing = _by_push(setup.cantilever.sites, *ways, found.sticks)
    return Engaged(solved, elastic_stress_MPa(setup.cantilever, solved), {}, rubbing)


def _past_limit(
    setup: Setup, alloy: Alloy, solved: SolvedCantilever, closings: dict[int, float]
) -> Engaged:
    """Followed to the greatest activation and back to the working one."""
    appliance, wire = (
        releasable(setup.cantilever.sites, solved.appliance),
        fibre_rod(setup, solved),
    )
    shares = (1.0,) if alloy.trial_share == 1.0 else (alloy.trial_share, 1.0)
    *_, working = history = follow(appliance, wire, shares)
    if alloy.trial_share > 1.0 and setup.cantilever.determinate:
        _check_force_left(setup, solved.offset_mm, working)
    resting = release(appliance, wire, working, _let_go(setup.cantilever.sites, appliance))
    end = _set_of_end(setup.cantilever.sites, permanent_set_mm(appliance, resting))
    record = PastLimit(history[0], working, resting, float(np.linalg.norm(end)))
    engaged = replace(solved, appliance=appliance, equilibrium=working.equilibrium)
    return Engaged(engaged, working.stress_MPa[:, None], closings, None, record)


def _check_force_left(setup: Setup, offset_mm: float, working: InelasticPoint) -> None:
    """Refuse a wire that its trial has deformed beyond its working activation."""
    assert setup.alloy is not None
    if push_N(setup.cantilever.sites, working.equilibrium) <= 0:
        raise ValueError(
            f"let back from a trial of {setup.alloy.trial_share:g} times as much, the wire has no "
            f"force left at an activation of {offset_mm:.3g} mm: choose a smaller trial_share, a "
            "smaller activation or a wire that yields later"
        )


def _let_go(sites: CantileverSites, appliance: Appliance) -> list[int]:
    """Contacts that are let go with the hook: those of all units but the two-point one.

    What holds a tied wire lengthwise, the last but one, stays.
    """
    away = [i for i, contact in enumerate(appliance.contacts) if contact.unit != TWO_POINT]
    return away if sites.cinched else [i for i in away if i != len(appliance.contacts) - 2]


def _set_of_end(sites: CantileverSites, moved_mm: Array) -> Array:
    """Permanent set of the wire's end, (3,), seen from its run in the tube.

    Let go, a tied wire lies wherever it has slid to along its tube: that is no set.
    """
    if sites.cinched:
        return moved_mm[-1]
    along = sites.tube_axes[:, 0]
    return np.asarray(moved_mm[-1] - (moved_mm[0] @ along) * along)


def releasable(sites: CantileverSites, appliance: Appliance) -> Appliance:
    """The appliance with a last contact that can be let go without losing hold of the wire.

    A tied wire slides in its tube: only its tie holds it lengthwise, which becomes a contact of
    its own.
    """
    if sites.cinched:
        return appliance
    *others, tie = appliance.contacts
    assert isinstance(tie, PointContact)
    axes, gap = sites.tube_axes.T, tie.directions.T @ tie.gap
    lengthwise, across = (
        replace(tie, directions=held, gap=held @ gap) for held in (axes[:1], axes[1:])
    )
    return replace(appliance, contacts=(*others, lengthwise, across))
