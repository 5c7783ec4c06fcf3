"""Branches of a force–activation curve: past the elastic limit, and with friction at the hook."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from fem.appliance import Appliance, Equilibrium, EquilibriumError
from fem.attachment import LimitedContact
from fem.cantilever import solve_for_offset
from fem.cantilever_contacts import LooseCantilever, engage_with_play
from fem.cantilever_design import Cantilever
from fem.contact_search import solve_with_play
from fem.engage import Setup, engage, fibre_rod, loads_N_Nmm, push_N, releasable
from fem.inelastic import InelasticPoint, follow, followed
from fem.rod import Rod, section_resultants

Array = NDArray[np.float64]

FINE_STEPS = 16  # to the working point, of a wire with a history, play or further holds
_WALL_TOLERANCE_N = 1e-6  # also N·mm
_SLIP_TOLERANCE = 1e-4
_SAME_SHARE = 1e-6
_LEAST_POINTS = 2  # of a curve


@dataclass(frozen=True)
class CurvePoint:
    """The wire at one activation.

    Attributes
    ----------
    activation_mm
        Distance from the passive wire's end to the hook, along the activation.
    force_N
        Size of the force on the one-point unit.
    couple_Nmm
        Size of the moment on the two-point unit about the middle of its attachment.
    stress_MPa
        Greatest stress of the wire.
    """

    activation_mm: float
    force_N: float
    couple_Nmm: float
    stress_MPa: float


PASSIVE = CurvePoint(0.0, 0.0, 0.0, 0.0)
Points = tuple[CurvePoint, ...]
At = Callable[[float], CurvePoint]


@dataclass(frozen=True)
class History:
    """A wire taken past its elastic limit.

    Attributes
    ----------
    activating
        From the passive wire on.
    letting_back
        From its greatest activation before the working point back to no force, by falling
        activation; in a tube with play only as far as the walls stay closed. Empty where the wire
        comes to its limit beyond that activation only: then it goes back as it came.
    """

    activating: Points
    letting_back: Points


@dataclass(frozen=True)
class RubbingCurves:
    """The elastic wire with friction at its hook.

    Attributes
    ----------
    activating, letting_back
        By growing activation; alike where the wire sticks.
    first_slip
        Where it begins to slip; None if it slips from the start or never.
    sticks
        Whether it sticks all along.
    """

    activating: Points
    letting_back: Points
    first_slip: CurvePoint | None
    sticks: bool


def interpolated(points: Points) -> At:
    """Curve through points, by a monotone cubic in every quantity (PCHIP)."""
    ordered = sorted(points, key=lambda point: point.activation_mm)
    table = np.array([[p.activation_mm, p.force_N, p.couple_Nmm, p.stress_MPa] for p in ordered])
    smooth = PchipInterpolator(table[:, 0], table[:, 1:])
    return lambda activation_mm: CurvePoint(activation_mm, *map(float, smooth(activation_mm)))


def moved_hook(setup: Setup, working_mm: float, activation_mm: float) -> Setup:
    """The set-up with its hook at another activation, its wire elastic."""
    sites = setup.cantilever.sites
    away = sites.moved_hook((activation_mm - working_mm) * sites.activation)
    moved = replace(setup.cantilever, sites=away)
    return replace(setup, cantilever=moved, alloy=None)


def history_of(setup: Setup, working_mm: float, reach: float, *, let_back: bool) -> History:
    """Both branches of a wire with a history, followed on the appliance of the working point.

    Parameters
    ----------
    setup, working_mm
        As for `fem.force_activation.force_activation`.
    reach
        How far to activate, as a share of the working activation.
    let_back
        Whether to follow it back.

    Raises
    ------
    fem.appliance.EquilibriumError
        If there is none up to the working point, or nothing to follow back.
    """
    sites, alloy = setup.cantilever.sites, setup.alloy
    assert alloy is not None
    elastic = engage(replace(setup, alloy=None, friction=0.0), working_mm).solved
    appliance, wire = releasable(sites, elastic.appliance), fibre_rod(setup, elastic)

    def point(found: InelasticPoint) -> CurvePoint:
        force, couple = loads_N_Nmm(found.equilibrium, sites.tube_middle)
        return CurvePoint(found.share * working_mm, force, couple, float(found.stress_MPa.max()))

    shares = np.arange(1, round(reach * FINE_STEPS) + 1) / FINE_STEPS
    activating = [PASSIVE]
    try:
        for found in followed(appliance, wire, list(shares)):
            activating.append(point(found))
    except EquilibriumError:
        if activating[-1].activation_mm < working_mm:
            raise
    if not let_back:
        return History(tuple(activating), ())
    trial = max(1.0, alloy.trial_share)
    steps = np.arange(ceil(trial * FINE_STEPS) - 1, -1, -1) / FINE_STEPS
    letting_back: list[CurvePoint] = []
    sense = 1.0
    for found in follow(appliance, wire, [trial, *steps]):
        push = push_N(sites, found.equilibrium)
        if not letting_back:  # held further on its way, a wire may pull the other way throughout
            sense = -1.0 if push < 0 else 1.0
        push *= sense
        if push <= 0 and letting_back:
            letting_back.append(_released(letting_back[-1], found, working_mm, push))
            break
        if _wall_pulls(appliance, found):
            break
        letting_back.append(point(found))
    if len(letting_back) < _LEAST_POINTS:
        raise EquilibriumError(
            f"the wire, taken past its elastic limit at {trial:.3g} times its activation, gives no "
            "force to follow as it is let back: choose a smaller trial_share or less activation"
        )
    return History(tuple(activating), tuple(letting_back))


def _wall_pulls(appliance: Appliance, found: InelasticPoint) -> bool:
    """Whether a wall of the tube would have to hold the wire back to stay closed."""
    return any(
        contact.side and contact.excess(0.0, float(multiplier[0])) > _WALL_TOLERANCE_N
        for contact, multiplier in zip(
            appliance.contacts, found.equilibrium.multipliers, strict=True
        )
        if isinstance(contact, LimitedContact)
    )


def _released(
    last: CurvePoint, found: InelasticPoint, working_mm: float, push_N: float
) -> CurvePoint:
    """Where the force comes to nothing, between the last point and one that pulls back."""
    end = found.share * working_mm
    share = last.force_N / (last.force_N - push_N)
    return CurvePoint(last.activation_mm + share * (end - last.activation_mm), 0.0, 0.0, 0.0)


def rubbing_curves(setup: Setup, working_mm: float, points: Points) -> RubbingCurves:
    """Both curves of an elastic wire with friction at the activations of the frictionless one.

    They end before where none is found past the working point. The stress is that of the
    frictionless wire.
    """
    middle = setup.cantilever.sites.tube_middle
    start = points[0]
    up, down, sticking = [start], [start], [True]

    def sticks(activation_mm: float) -> bool:
        found = engage(moved_hook(setup, working_mm, activation_mm), activation_mm).rubbing
        assert found is not None
        return found.sticks

    for free in points[1:]:
        a = free.activation_mm
        try:
            found = engage(moved_hook(setup, working_mm, a), a).rubbing
        except (EquilibriumError, ValueError):
            if a <= working_mm:
                raise
            break
        assert found is not None
        for branch, equilibrium in ((up, found.activating), (down, found.deactivating)):
            branch.append(CurvePoint(a, *loads_N_Nmm(equilibrium, middle), free.stress_MPa))
        sticking.append(found.sticks)
    first_slip, slips = None, len(sticking) if all(sticking) else sticking.index(False)
    if 1 < slips < len(sticking):
        a = _last_true(sticks, points[slips - 1].activation_mm, points[slips].activation_mm)
        first_slip = interpolated(tuple(up))(a)
    return RubbingCurves(tuple(up), tuple(down), first_slip, all(sticking))


def _last_true(holds: Callable[[float], bool], low: float, high: float) -> float:
    """Activation up to which something holds, by halving."""
    while high - low > _SLIP_TOLERANCE * high:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def held_curve(setup: Setup, working_mm: float, reach: float) -> Points:
    """Points of an elastic wire held further or in a second bracket, all engaged in proportion."""
    cantilever = setup.cantilever
    solved = solve_for_offset(cantilever, working_mm)
    followed = solve_with_play(solved.appliance, steps=FINE_STEPS, until=reach)
    rod = solved.appliance.rod
    path = (_elastic_point(cantilever, rod, share * working_mm, at) for share, at in followed.path)
    return (PASSIVE, *path)


def play_curve(setup: Setup, working_mm: float, reach: float) -> Points:
    """Points of an elastic wire with play, followed from passive on.

    At sixteenths of the working activation or closer, at the working point, and where walls close.
    """
    slot, cantilever = setup.slot, setup.cantilever
    assert slot is not None

    def followed(until: float) -> LooseCantilever:
        size = slot.height_mm, slot.width_mm
        return engage_with_play(cantilever, working_mm, *size, steps=FINE_STEPS, until=until)

    whole = followed(reach)
    marks = {1.0, *(float(a) / working_mm for a in whole.closings_mm.values())}
    path = [(share, followed(share).solution.equilibrium) for share in marks]
    path += whole.solution.path
    rod, points = whole.solution.appliance.rod, [PASSIVE]
    for share, found in sorted(path, key=lambda pair: pair[0]):
        if (share - _SAME_SHARE) * working_mm < points[-1].activation_mm:
            continue
        points.append(_elastic_point(cantilever, rod, share * working_mm, found))
    return tuple(points)


def _elastic_point(
    cantilever: Cantilever, rod: Rod, activation_mm: float, found: Equilibrium
) -> CurvePoint:
    loads = loads_N_Nmm(found, cantilever.sites.tube_middle)
    resultants = section_resultants(rod, found.state)
    stress = float(cantilever.wire.section.peak_stress_MPa(resultants).max())
    return CurvePoint(activation_mm, *loads, stress)
