"""Which cases a run is about, and the plans of their stages."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from fem.cantilever import passive_path
from fem.cantilever_design import Cantilever
from workflow.case import CaseError, load_case, resolved
from workflow.case_errors import Problem
from workflow.plan import (
    MOST_BAR_ANGLE_DEG,
    Plan,
    bar_angle_deg,
    cantilever_sites,
    make_plan,
    teeth_of,
    wire_design,
    wire_spec,
)
from workflow.scanned import measures_of
from workflow.specs import Spec
from workflow.tooth_specs import shape_spec, support_spec

_LEAST_OFFSET_SHARE = 0.02  # of the span: an activation that any wire must be bent for


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
            case = resolved(load_case(path))
            self._read_scans(str(path), case)
            try:
                plan = make_plan(case)
            except ValueError as error:
                span = case["wire"]["span_mm"]
                raise CaseError([Problem(str(path), "wire.span_mm", str(error), span)]) from None
            self._read_run(str(path), case)
            self._check_bar(str(path), case)
            self._plans[name] = plan
            self.supports |= {plan.supports[t]: support_spec(case, t) for t in teeth_of(case)}
            self.wires[plan.wire] = wire_spec(case)
        return self._plans[name]

    @staticmethod
    def _check_bar(source: str, case: Spec) -> None:
        angle = bar_angle_deg(cantilever_sites(case))
        if angle is not None and angle > MOST_BAR_ANGLE_DEG:
            contact = case["one_point"]["contact"]
            text = (
                f"the wire would meet the bar at {angle:.0f}°: held lengthwise at the tube and at "
                f"the hook it buckles; at most {MOST_BAR_ANGLE_DEG:g}°, or use tied or dead_force"
            )
            raise CaseError([Problem(source, "one_point.contact", text, contact)])

    @staticmethod
    def _read_run(source: str, case: Spec) -> None:
        ways = [name for name in ("run", "along_arch", "through") if case["wire"][name]]
        try:
            sites = cantilever_sites(case)
            least = _LEAST_OFFSET_SHARE * sites.span_mm
            passive_path(Cantilever(sites, wire_design(case), ()), least)
        except ValueError as error:
            name = ways[0] if ways else "bend_radius_mm"
            raise CaseError([Problem(source, f"wire.{name}", str(error))]) from None

    @staticmethod
    def _read_scans(source: str, case: Spec) -> None:
        problems = []
        for tooth in teeth_of(case):
            try:
                measures_of(shape_spec(case, tooth))
            except ValueError as error:
                problems.append(Problem(source, f"teeth.{tooth}.scan", str(error)))
        if problems:
            raise CaseError(problems)


def _words(cases: str | Sequence[str]) -> list[str]:
    words = cases.split(",") if isinstance(cases, str) else list(cases)
    return [str(word).strip() for word in words if str(word).strip()]
