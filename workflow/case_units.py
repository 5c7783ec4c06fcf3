"""The two units of a case: the supports of their teeth, placed and joined."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fem.unit import ToothSupport, UnitSupport, join_teeth
from geometry.frame import ToothFrame
from workflow.plan import frames
from workflow.records import read_json
from workflow.specs import Spec


@dataclass(frozen=True)
class CaseUnits:
    """The two units of a case.

    Attributes
    ----------
    two_point, one_point
        Their names.
    supports
        Their supports, by name.
    """

    two_point: str
    one_point: str
    supports: dict[str, UnitSupport]

    @property
    def in_order(self) -> tuple[str, str]:
        """Names in the order the appliance knows them."""
        return self.two_point, self.one_point


def case_units(case: Spec, support_files: Mapping[int, str]) -> CaseUnits:
    """Join the supports of the teeth of each unit."""
    placed = frames(case)
    supports = {
        name: join_teeth(
            tuple(load_tooth_support(support_files[t], t, placed[t]) for t in unit["teeth"])
        )
        for name, unit in case["units"].items()
    }
    return CaseUnits(case["two_point"]["unit"], case["one_point"]["unit"], supports)


def load_tooth_support(path: str | Path, number: int, frame: ToothFrame) -> ToothSupport:
    """Support of a tooth, placed in the patient."""
    record = read_json(path)
    stiffness = np.array(record["stiffness"])
    return ToothSupport(number, frame, np.array(record["point_mm"]), stiffness)
