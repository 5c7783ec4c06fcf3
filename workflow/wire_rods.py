"""The straight wire of a case as a rod with finite rotations, beside the closed-form beam."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from fem.appliance import Unit
from fem.cantilever import SolvedCantilever, solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.closed_form import TwoPointCantilever
from workflow.specs import Spec
from workflow.wire_specs import wire_material, wire_section

SMALL_OFFSET = 1e-3  # of the span
OFFSETS = np.linspace(0.0, 0.5, 11)  # of the span
SHAPE_OFFSET = 0.4  # of the span: where the deflected shapes are compared


def straight_cantilever(spec: Spec) -> Cantilever:
    """The wire along +x from the tube at the origin to a hook on a bar, both immovable."""
    base, span = spec["base_mm"], spec["span_mm"]
    along, _, up = np.eye(3)
    sites = CantileverSites(
        mouths=(np.zeros(3), base * along),
        tube_axes=np.eye(3),
        hook=(base + span) * along,
        bar=along,
        activation=up,
    )
    wire = WireDesign(wire_section(spec), wire_material(spec), 1.0, spec["elements"])
    fixed = (Unit("tube", np.zeros(3), None), Unit("hook", sites.hook, None))
    return Cantilever(sites, wire, fixed)


def closed_form(spec: Spec) -> TwoPointCantilever:
    """The wire as a beam."""
    return TwoPointCantilever(
        wire_section(spec), wire_material(spec), spec["span_mm"], spec["base_mm"]
    )


def rod_record(spec: Spec) -> dict[str, Any]:
    """Stiffness at a small offset, and force and couple over offsets up to half the span."""
    cantilever, span = straight_cantilever(spec), spec["span_mm"]
    small = solve_for_offset(cantilever, SMALL_OFFSET * span)
    curve = [solve_for_offset(cantilever, r * span) for r in OFFSETS[1:]]
    plain = replace(cantilever, wire=replace(cantilever.wire, shear_rigid=True))
    unsheared = solve_for_offset(plain, SMALL_OFFSET * span)
    beam = closed_form(spec)
    return {
        "spec": spec,
        "stiffness_without_shear_N_per_mm": _force(unsheared) / unsheared.offset_mm,
        "stiffness_N_per_mm": _force(small) / small.offset_mm,
        "closed_form": {
            "euler_bernoulli_N_per_mm": beam.stiffness_N_per_mm,
            "timoshenko_N_per_mm": beam.timoshenko_stiffness_N_per_mm,
        },
        "curve": {
            "offset_mm": OFFSETS * span,
            "force_N": [0.0, *(_force(s) for s in curve)],
            "couple_Nmm": [0.0, *(_couple(s, cantilever) for s in curve)],
        },
    }


def path_table(spec: Spec) -> pd.DataFrame:
    """Nodes of the straight wire and its shape when engaged over a hook at a large offset."""
    solved = solve_for_offset(straight_cantilever(spec), SHAPE_OFFSET * spec["span_mm"])
    arc = np.concatenate([[0.0], np.cumsum(solved.path.lengths_mm)])
    passive, engaged = solved.path.points, solved.equilibrium.state.points
    columns = {"node": np.arange(len(arc)), "arc_mm": arc}
    for name, points in (("passive", passive), ("engaged", engaged)):
        columns |= {f"{name}_{axis}_mm": points[:, i] for i, axis in enumerate("xyz")}
    return pd.DataFrame(columns)


def _force(solved: SolvedCantilever) -> float:
    return float(np.linalg.norm(solved.force_on_hook_N()))


def _couple(solved: SolvedCantilever, cantilever: Cantilever) -> float:
    return float(np.linalg.norm(solved.couple_on_tube_Nmm(cantilever.sites.tube_middle)))
