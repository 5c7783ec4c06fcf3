"""The equilibrium stage: a resolved case and its supports to the engaged appliance."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from fem.appliance import Equilibrium, Unit
from fem.cantilever import solve_for_offset
from fem.cantilever_design import ONE_POINT, TWO_POINT, Cantilever, FurtherBracket, FurtherHold
from fem.closed_form import TwoPointCantilever
from fem.engage import (
    Alloy,
    Engaged,
    Setup,
    engage,
    engage_for_couple,
    engage_for_force,
    loads_N_Nmm,
)
from fem.mirror import felt_by_one, from_both
from fem.rigid import shift_motion, shift_wrench
from fem.slot import Slot, slot_play
from fem.unit_load import linear_force
from geometry.wire_touch import near_pieces
from workflow.case_units import CaseUnits
from workflow.plan import (
    bar_angle_deg,
    bracket_of,
    cantilever_sites,
    case_run,
    frames,
    further_place,
    wire_design,
)
from workflow.specs import Spec
from workflow.wire_run import as_bent
from workflow.wire_specs import fibre_section

Array = NDArray[np.float64]

_SMALL_SHARE = 1e-4  # of the span


def case_cantilever(case: Spec, units: CaseUnits) -> Cantilever:
    """The cantilever of a case on its units."""
    bodies = tuple(_body(case, units, name) for name in units.in_order)
    return Cantilever(cantilever_sites(case), wire_design(case), bodies, _further(case))


def _further(case: Spec) -> tuple[FurtherHold | FurtherBracket, ...]:
    """Further holds of the wire, in the order of the units after the first two."""
    placed, tube = frames(case), cantilever_sites(case).tube_middle
    found: list[FurtherHold | FurtherBracket] = []
    for number, held in enumerate(case["further"], start=2):
        place, frame = further_place(case, held, placed), placed[held["tooth"]]
        if held["contact"] == "bracket":
            found.append(FurtherBracket(number, bracket_of(held, place, frame, tube)))
        else:
            found.append(FurtherHold(number, place, frame.axes[:, 0]))
    return tuple(found)


def _body(case: Spec, units: CaseUnits, name: str) -> Unit:
    centre = units.supports[name].centre
    if case["units"][name]["support"] == "fixed":
        return Unit(name, centre.point, None)
    if case["mirror_image"] and name == units.one_point:
        return Unit(name, *felt_by_one(centre.stiffness, centre.point))
    return Unit(name, centre.point, centre.stiffness)


def case_setup(case: Spec, units: CaseUnits) -> Setup:
    """The cantilever of a case with what its contacts and its alloy do."""
    one, wire = case["one_point"], case["wire"]
    over_peg = one["contact"] == "peg"
    alloy = None
    if wire["inelastic"] and not over_peg:
        alloy = Alloy(
            fibre_section(wire["alloy"], wire["section"]),
            wire["alloy"]["yield_strength_MPa"],
            wire["activation"]["trial_share"],
        )
    return Setup(case_cantilever(case, units), case_slot(case), over_peg, one["friction"], alloy)


def case_slot(case: Spec) -> Slot | None:
    """Inner size of the tube of a case, None without play."""
    two = case["two_point"]
    if two["slot"] is None:
        return None
    return Slot(two["slot"]["height_mm"], two["slot"]["width_mm"], two["tube_length_mm"])


def engage_case(case: Spec, units: CaseUnits) -> Engaged:
    """Solve the appliance of a case for its offset, or for that of its wanted couple or force."""
    setup, activation = case_setup(case, units), case["wire"]["activation"]
    if activation["couple_Nmm"] is not None:
        return engage_for_couple(setup, activation["couple_Nmm"])
    if activation["force_N"] is not None:
        return engage_for_force(setup, activation["force_N"])
    return engage(setup, activation["offset_mm"])


def equilibrium_record(case: Spec, units: CaseUnits, engaged: Engaged) -> dict[str, Any]:
    """The content of ``equilibrium.json``: wire, contacts, and load and motion of each unit."""
    sites, solved = cantilever_sites(case), engaged.solved
    equilibrium = solved.equilibrium
    indices = {name: index for index, name in enumerate(units.in_order)}
    return {
        "offset_mm": solved.offset_mm,
        "span_mm": sites.span_mm,
        "bend_deg": np.degrees(solved.path.bend.angle_rad),
        "tube": {
            "mouths_mm": sites.mouths,
            "middle_mm": sites.tube_middle,
            "axes": sites.tube_axes,
        },
        "hook": {
            "point_mm": sites.hook,
            "bar": sites.bar,
            "bracket_mm": None if sites.bracket is None else sites.bracket.mouths,
            "touch_mm": solved.touch_mm,
            "force_N": solved.force_on_hook_N(),
            "bar_angle_deg": bar_angle_deg(sites),
        },
        "activation_mm": solved.offset_mm * sites.activation,
        "wire": _wire_record(case, engaged),
        "contacts": _contacts(units, engaged),
        "play": _play_record(case, engaged),
        "friction": _friction_record(case, engaged),
        "past_limit": _past_limit_record(case, engaged),
        "units": {
            name: {
                "centre_mm": units.supports[name].centre.point,
                "attachment_mm": _attachment(case, engaged, index),
                "wrench_at_centre": _wrench(case, units, name, equilibrium, index),
                "motion_at_centre": _motion(case, units, name, equilibrium, index),
            }
            for name, index in indices.items()
        },
        "residual_N": equilibrium.residual_N,
        "iterations": equilibrium.iterations,
    }


def _attachment(case: Spec, engaged: Engaged, index: int) -> Array:
    """What the moment on a unit is stated about: middle of its tube or bracket, or where it hooks.

    Of the wire of one side where there are two.
    """
    sites = cantilever_sites(case)
    if index == TWO_POINT:
        return sites.tube_middle
    if index == ONE_POINT and sites.bracket is not None:
        return sites.bracket.middle
    held = {hold.unit: hold for hold in _further(case)}.get(index)
    if isinstance(held, FurtherBracket):
        return held.bracket.middle
    touched = [load.point for load in engaged.solved.equilibrium.loads if load.unit == index]
    return np.asarray(touched[-1])  # a tied wire past its limit is held there by two contacts


def _wrench(case: Spec, units: CaseUnits, name: str, equilibrium: Equilibrium, index: int) -> Array:
    """Load on a unit about its centre of resistance, of both wires where there are two."""
    centre = units.supports[name].centre.point
    if not (case["mirror_image"] and name == units.one_point):
        return equilibrium.wrench_on(index, centre)
    middle = centre * [0.0, 1.0, 1.0]
    return shift_wrench(from_both(equilibrium.wrench_on(index, middle)), middle, centre)


def _motion(case: Spec, units: CaseUnits, name: str, equilibrium: Equilibrium, index: int) -> Array:
    """Motion of a unit at its centre of resistance."""
    centre, motion = units.supports[name].centre.point, equilibrium.motions[index]
    if not (case["mirror_image"] and name == units.one_point):
        return motion
    return shift_motion(0.5 * from_both(motion), centre * [0.0, 1.0, 1.0], centre)


def _contacts(units: CaseUnits, engaged: Engaged) -> list[dict[str, Any]]:
    """What the wire gives each unit where it touches it: both mouths of the tube, and the hook."""
    equilibrium, contacts = engaged.solved.equilibrium, engaged.solved.appliance.contacts
    touching: dict[tuple[int, int], list[Array]] = {}
    points: dict[tuple[int, int], Array] = {}
    for contact, load in zip(contacts, equilibrium.loads, strict=True):
        place = (load.unit, contact.node)
        touching.setdefault(place, []).append(load.wrench)
        points[place] = load.point
    return [
        {
            "unit": units.in_order[place[0]],
            "point_mm": points[place],
            "wrench": np.sum(wrenches, axis=0),
        }
        for place, wrenches in touching.items()
    ]


def _wire_record(case: Spec, engaged: Engaged) -> dict[str, Any]:
    design, sites, solved = wire_design(case), cantilever_sites(case), engaged.solved
    stress, path = engaged.stress_MPa, solved.path
    yield_strength = case["wire"]["alloy"]["yield_strength_MPa"]
    simple = TwoPointCantilever(design.section, design.material, sites.span_mm, sites.base_mm)
    simple_force = simple.stiffness_N_per_mm * solved.offset_mm
    cantilever = Cantilever(sites.hooked, design, solved.appliance.units[:2])
    linear = linear_force(cantilever, solved.offset_mm)
    smaller = min(design.section.width_mm, design.section.height_mm)
    near = near_pieces(path.swept, smaller).distance_mm
    return {
        "arc_mm": path.swept.arc_mm,
        "passive_mm": path.points,
        "engaged_mm": solved.equilibrium.state.points,
        "as_bent": as_bent(path, case_run(case)),
        "nearest_itself_mm": near[0] if len(near) else None,
        "element_stress_MPa": stress.max(axis=1),
        "peak_stress_MPa": stress.max(),
        "yield_ratio": stress.max() / yield_strength,
        "permanent_set_mm": _set(engaged, yield_strength),
        "linear_theory": {
            "force_N": simple_force,
            "couple_Nmm": simple.couple_Nmm(simple_force),
        },
        "linear_as_bent": {
            "force_N": np.linalg.norm(linear),
            "couple_Nmm": np.linalg.norm(np.cross(path.tip - sites.tube_middle, linear)),
        },
        "small_activation": _small_activation(cantilever, solved.offset_mm),
    }


def _small_activation(cantilever: Cantilever, offset_mm: float) -> dict[str, float]:
    """Rate of the wire as bent, its units immovable: by the rod and by linear theory, N/mm."""
    sites = cantilever.sites
    small = _SMALL_SHARE * sites.span_mm
    near = sites.moved_hook((small - offset_mm) * sites.activation)
    fixed = [replace(unit, stiffness=None) for unit in cantilever.units]
    first = replace(cantilever, sites=near, units=(fixed[TWO_POINT], fixed[ONE_POINT]))
    rod = solve_for_offset(first, small).force_on_hook_N()
    return {
        "rod_N_per_mm": float(np.linalg.norm(rod)) / small,
        "unit_load_N_per_mm": float(np.linalg.norm(linear_force(first, small))) / small,
    }


def _set(engaged: Engaged, yield_strength: float) -> float | None:
    """Permanent set, mm: none below the limit, unknown above it of a wire taken as elastic."""
    if engaged.past_limit is not None:
        return engaged.past_limit.set_mm
    return 0.0 if engaged.stress_MPa.max() < yield_strength else None


def _play_record(case: Spec, engaged: Engaged) -> dict[str, Any] | None:
    slot = case_slot(case)
    if slot is None:
        return None
    play = slot_play(wire_design(case).section, slot)
    torsion = float(np.degrees(play.torsion_rad)) if np.isfinite(play.torsion_rad) else None
    first = min(engaged.closings_mm.values(), default=None)
    return {
        "attachment": case["two_point"]["slot"]["name"],
        "height_mm": play.height_mm,
        "width_mm": play.width_mm,
        "height_deg": np.degrees(play.height_rad),
        "width_deg": np.degrees(play.width_rad),
        "torsion_deg": torsion,
        "first_contact_mm": first,
        "closings_mm": sorted(engaged.closings_mm.values()),
    }


def _friction_record(case: Spec, engaged: Engaged) -> dict[str, Any] | None:
    if case["one_point"]["friction"] == 0.0:
        return None
    rubbing = engaged.rubbing
    if rubbing is None:
        return {"coefficient": case["one_point"]["friction"], "computed": False}
    middle = cantilever_sites(case).tube_middle

    def both(equilibrium: Equilibrium) -> dict[str, float]:
        force, couple = loads_N_Nmm(equilibrium, middle)
        return {"force_N": force, "couple_Nmm": couple}

    return {
        "coefficient": case["one_point"]["friction"],
        "computed": True,
        "sticks": rubbing.sticks,
        "activating": both(rubbing.activating),
        "letting_back": both(rubbing.deactivating),
    }


def _past_limit_record(case: Spec, engaged: Engaged) -> dict[str, Any] | None:
    past = engaged.past_limit
    if past is None:
        return None
    force, _ = loads_N_Nmm(past.trial.equilibrium, cantilever_sites(case).tube_middle)
    return {
        "trial_share": case["wire"]["activation"]["trial_share"],
        "trial_force_N": force,
        "set_mm": past.set_mm,
        "resting_mm": past.resting.equilibrium.state.points,
    }


def wire_table(record: dict[str, Any]) -> pd.DataFrame:
    """Nodes of the wire, passive and engaged, in the patient frame."""
    wire = record["wire"]
    columns: dict[str, Any] = {"arc_mm": wire["arc_mm"]}
    for name in ("passive", "engaged"):
        points = np.asarray(wire[f"{name}_mm"])
        columns |= {f"{name}_{axis}_mm": points[:, i] for i, axis in enumerate("xyz")}
    return pd.DataFrame(columns)
