"""Which cases a run is about, and the plans of their stages."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from workflow.case_errors import CaseError
from workflow.case_places import load_placed_case
from workflow.plan import Plan, make_plan, teeth_of, wire_spec
from workflow.specs import Spec
from workflow.tooth_specs import support_spec


class CasePlans:
    """Plans by case name; read strictly for the chosen cases, on demand for the others.

    Attributes
    ----------
    chosen
        Names of the chosen cases.
    supports, wires
        Specs of all stages met so far, by id.
    """

    def __init__(self, folder: Path, cases: str | Sequence[str]) -> None:
        """Read the chosen cases.

        Parameters
        ----------
        folder
            Where case files live.
        cases
            Names of cases in `folder` or paths of case files, as a list or separated by commas.

        Raises
        ------
        CaseError
            With every problem of every chosen file.
        """
        self._folder = folder
        self._files: dict[str, Path] = {}
        self._plans: dict[str, Plan] = {}
        self.supports: dict[str, Spec] = {}
        self.wires: dict[str, Spec] = {}
        problems: list[Any] = []
        for word in _words(cases):
            path = Path(word) if word.endswith((".yaml", ".yml")) else folder / f"{word}.yaml"
            self._files[path.stem] = path
            try:
                self[path.stem]
            except CaseError as error:
                problems += error.problems
        if problems:
            raise CaseError(problems)
        self.chosen = tuple(self._files)

    def __getitem__(self, name: str) -> Plan:
        """Plan of a case."""
        if name not in self._plans:
            path = self._files.get(name, self._folder / f"{name}.yaml")
            case = load_placed_case(path)
            plan = self._plans[name] = make_plan(case)
            self.supports |= {plan.supports[t]: support_spec(case, t) for t in teeth_of(case)}
            self.wires[plan.wire] = wire_spec(case)
        return self._plans[name]


def _words(cases: str | Sequence[str]) -> list[str]:
    words = cases.split(",") if isinstance(cases, str) else list(cases)
    return [str(word).strip() for word in words if str(word).strip()]
