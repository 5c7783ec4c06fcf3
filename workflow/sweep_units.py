"""The supports and units of many runs, each made once for all runs that share it."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

from workflow.case_units import CaseUnits, case_units
from workflow.digest import spec_id
from workflow.records import read_json
from workflow.specs import Spec
from workflow.sweep_modulus import factor_of, made_ids, stiffened
from workflow.tooth_store import reason_against

_OF_ONE_BODY = ("teeth", "units")
_OF_JOINED = ("two_point", "one_point", "further", "wire")  # where the appliance takes hold matters


class Supports:
    """The supports under a folder.

    Attributes
    ----------
    folder
        Holds ``<id>/support.json`` and ``<id>/stress_basis.npz``.
    at_MPa
        Modulus of the ligament that all of them are made at, see `workflow.sweep_modulus`; None
        where each is made at its own.
    """

    def __init__(self, folder: str | Path, at_MPa: float | None = None) -> None:
        self.folder, self.at_MPa = Path(folder), at_MPa
        self._units: dict[str, CaseUnits] = {}
        self._record = cache(read_json)
        self._reason = cache(reason_against)

    def ids(self, case: Spec) -> dict[int, str]:
        """Support of each tooth of a case."""
        return made_ids(case, self.at_MPa)

    def factor(self, case: Spec) -> float:
        """Stiffness and stress of a case over those in the files of its supports."""
        return factor_of(case, self.at_MPa)

    def fault(self, case: Spec) -> str:
        """Why a tooth of a case could not be made; empty if all were."""
        for tooth, support in self.ids(case).items():
            if reason := self._reason(self.folder, support):
                return f"tooth {tooth} could not be made: {reason}"
        return ""

    def file(self, support: str, name: str) -> str:
        """A file of a support."""
        return str(self.folder / support / name)

    def record(self, support: str) -> Spec:
        """Content of its ``support.json``; its stiffness is that of the modulus it is made at."""
        record: Spec = self._record(self.file(support, "support.json"))
        return record

    def fingerprint(self, case: Spec) -> str:
        """Digest of what runs of a case take from its supports."""
        taken = ("stiffness", "point_mm", "resistance")
        records = {tooth: self.record(support) for tooth, support in self.ids(case).items()}
        return spec_id(
            {str(t): [record.get(name) for name in taken] for t, record in records.items()}
        )

    def units(self, case: Spec) -> CaseUnits:
        """Units of a case."""
        ids = self.ids(case)
        joined = any(unit["joined_by"] for unit in case["units"].values())
        parts = (*_OF_ONE_BODY, *(_OF_JOINED if joined else ()))
        owners = [case["two_point"]["unit"], case["one_point"]["unit"]]
        owners += [held["unit"] for held in case["further"]]
        name = json.dumps([owners, ids, {part: case[part] for part in parts}], sort_keys=True)
        if name not in self._units:
            files = {tooth: self.file(support, "support.json") for tooth, support in ids.items()}
            self._units[name] = case_units(case, files)
        return self._at_modulus(case, self._units[name])

    def _at_modulus(self, case: Spec, units: CaseUnits) -> CaseUnits:
        factor = self.factor(case)
        if factor == 1.0:
            return units
        own = {name: stiffened(unit, factor) for name, unit in units.supports.items()}
        return replace(units, supports=own)
