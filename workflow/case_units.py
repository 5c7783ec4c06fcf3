"""The units of a case: the supports of their teeth, placed and joined."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fem.segment import JoiningWire, join_by_wire
from fem.unit import ToothSupport, UnitSupport, join_teeth
from geometry.frame import ToothFrame, mean_axes
from workflow.case_parts import arch_order
from workflow.plan import brackets_of, cantilever_sites, frames, further_place
from workflow.records import read_json
from workflow.specs import Spec
from workflow.tissues import elastic
from workflow.wire_specs import wire_section

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CaseUnits:
    """The units of a case.

    Attributes
    ----------
    two_point, one_point
        Their names.
    supports
        Their supports, by name.
    further
        Names of further units that hold the wire.
    """

    two_point: str
    one_point: str
    supports: dict[str, UnitSupport]
    further: tuple[str, ...] = ()

    @property
    def in_order(self) -> tuple[str, ...]:
        """Names in the order the appliance knows them."""
        return self.two_point, self.one_point, *self.further


def case_units(case: Spec, support_files: Mapping[int, str]) -> CaseUnits:
    """Join the supports of the teeth of each unit."""
    placed, sites = frames(case), cantilever_sites(case)
    two, one = case["two_point"], case["one_point"]
    supports = {}
    held_at = sites.hook if sites.bracket is None else sites.bracket.middle
    attachments = [(two, sites.tube_middle), (one, held_at)]
    attachments += [(held, further_place(case, held, placed)) for held in case["further"]]
    for attachment, hook in attachments:
        name = attachment["unit"]
        numbers = sorted(case["units"][name]["teeth"], key=arch_order)
        teeth = tuple(load_tooth_support(support_files[t], t, placed[t]) for t in numbers)
        supports[name] = _joined(case, attachment, teeth, hook)
    further = tuple(held["unit"] for held in case["further"])
    return CaseUnits(two["unit"], one["unit"], supports, further)


def _joined(
    case: Spec, attachment: Spec, teeth: tuple[ToothSupport, ...], hook: Array
) -> UnitSupport:
    """Teeth of a unit as one body, or by the wire of their brackets."""
    wire = case["units"][attachment["unit"]]["joined_by"]
    if wire is None or len(teeth) == 1:
        return join_teeth(teeth)
    brackets = brackets_of(case, attachment, {tooth.number: tooth.frame for tooth in teeth})
    joining = JoiningWire(
        brackets=np.array([brackets[tooth.number] for tooth in teeth]),
        upright=mean_axes([tooth.frame for tooth in teeth])[:, 2],
        section=wire_section(wire["section"]),
        material=elastic(wire["alloy"]),
    )
    return join_by_wire(teeth, joining, hook)


def load_tooth_support(path: str | Path, number: int, frame: ToothFrame) -> ToothSupport:
    """Support of a tooth, placed in the patient."""
    record = read_json(path)
    stiffness = np.array(record["stiffness"])
    return ToothSupport(number, frame, np.array(record["point_mm"]), stiffness)
