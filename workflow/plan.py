"""From a checked case to the specs of its stages and the objects the libraries work on.

Specs are plain dictionaries: what a stage depends on and nothing else, so that stages are shared
between cases and rerun only when their own spec changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.cantilever import CantileverSites, WireDesign
from fem.material import Elastic
from fem.section import Section, rectangular_section, round_section
from geometry.anatomy import tooth_dimensions
from geometry.arch import ToothPlacement, is_lower, quadrant, tooth_frame
from geometry.frame import ToothFrame
from geometry.sites import bracket_point, hook_at_span, hook_between, tube_on
from geometry.tooth_mesh import ToothSpec
from workflow.digest import spec_id

Array = NDArray[np.float64]
Spec = dict[str, Any]

_LEFT_TWIN = {1: 2, 4: 3}  # quadrants whose teeth are mirror images of a left one


@dataclass(frozen=True)
class Plan:
    """Stages of one case.

    Attributes
    ----------
    name
        Name of the case.
    case
        The resolved case.
    supports
        Support id of each tooth.
    wire
        Wire id.
    """

    name: str
    case: Spec
    supports: dict[int, str]
    wire: str


def make_plan(case: Spec) -> Plan:
    """Name the stages of a resolved case.

    Raises
    ------
    ValueError
        If the hook or the tube has no place on the arch.
    """
    supports = {tooth: spec_id(support_spec(case, tooth)) for tooth in teeth_of(case)}
    return Plan(case["case"], case, supports, spec_id(wire_spec(case)))


def teeth_of(case: Spec) -> tuple[int, ...]:
    """Teeth of all units."""
    return tuple(tooth for unit in case["units"].values() for tooth in unit["teeth"])


def support_spec(case: Spec, tooth: int) -> Spec:
    """What the support of a tooth depends on: its shape, its ligament, the mesh; not its place."""
    side, position = quadrant(tooth), tooth % 10
    ligament = case["ligament"]
    return {
        "tooth": 10 * _LEFT_TWIN.get(side, side) + position,
        "crest_depth_mm": case["bone"]["crest_depth_mm"],
        "thickness_mm": ligament["thickness_mm"],
        "layers": ligament["layers"],
        "youngs_modulus_MPa": ligament["youngs_modulus_MPa"],
        "poisson_ratio": ligament["poisson_ratio"],
        "root_size_mm": case["mesh"]["root_size_mm"],
    }


def tooth_mesh_spec(spec: Spec) -> ToothSpec:
    """Tooth mesh of a support spec."""
    return ToothSpec(
        dimensions=tooth_dimensions(spec["tooth"]),
        crest_depth_mm=spec["crest_depth_mm"],
        ligament_thickness_mm=spec["thickness_mm"],
        ligament_layers=spec["layers"],
        root_size_mm=spec["root_size_mm"],
    )


def ligament_material(spec: Spec) -> Elastic:
    """Ligament of a support spec."""
    return Elastic(spec["youngs_modulus_MPa"], spec["poisson_ratio"])


def wire_spec(case: Spec) -> Spec:
    """What the straight wire depends on: section, alloy, span and tube; not its activation."""
    sites = cantilever_sites(case)
    section, alloy = case["wire"]["section"], case["wire"]["alloy"]
    return {
        "shape": section["shape"],
        "width_mm": section["width_mm"],
        "height_mm": section["height_mm"],
        "youngs_modulus_MPa": alloy["youngs_modulus_MPa"],
        "poisson_ratio": alloy["poisson_ratio"],
        "base_mm": case["two_point"]["tube_length_mm"],
        "span_mm": round(sites.span_mm, 9),
        "elements": case["wire"]["elements"],
    }


def wire_section(spec: Spec) -> Section:
    """Section of a wire spec."""
    if spec["shape"] == "round":
        return round_section(spec["height_mm"])
    return rectangular_section(spec["width_mm"], spec["height_mm"])


def wire_material(spec: Spec) -> Elastic:
    """Alloy of a wire spec."""
    return Elastic(spec["youngs_modulus_MPa"], spec["poisson_ratio"])


def wire_design(case: Spec) -> WireDesign:
    """The wire of a case."""
    spec = wire_spec(case)
    return WireDesign(
        section=wire_section(spec),
        material=wire_material(spec),
        bend_radius_mm=case["wire"]["bend_radius_mm"],
        elements=spec["elements"],
    )


def frames(case: Spec) -> dict[int, ToothFrame]:
    """Where the teeth of a case stand."""
    return {
        tooth: tooth_frame(tooth, ToothPlacement(**case["teeth"][str(tooth)]))
        for tooth in teeth_of(case)
    }


def cantilever_sites(case: Spec) -> CantileverSites:
    """Where the wire of a case is held.

    Raises
    ------
    ValueError
        If ``wire.span_mm`` leads to no place on the segment's wire.
    """
    placed = frames(case)
    two, one = case["two_point"], case["one_point"]
    height = two["height_fraction"]
    brackets = {t: bracket_point(t, placed[t], height) for t in case["units"][one["unit"]]["teeth"]}
    towards = np.mean(list(brackets.values()), axis=0)
    tube = tube_on(two["tooth"], placed[two["tooth"]], height, two["tube_length_mm"], towards)
    span = case["wire"]["span_mm"]
    if span is None:
        first, second = one["between"]
        hook = hook_between(brackets[first], brackets[second])
    else:
        hook = hook_at_span(tube.mouths[1], list(brackets.values()), span)
    return CantileverSites(
        mouths=tube.mouths,
        tube_axes=tube.axes,
        hook=hook.point,
        bar=hook.bar if one["contact"] == "bar" else None,
        activation=np.array([0.0, 0.0, 1.0 if is_lower(two["tooth"]) else -1.0]),
    )
