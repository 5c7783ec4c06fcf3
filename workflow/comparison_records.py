"""What the page of a comparison is written from: the records of each of its cases."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import yaml

from workflow.figures_view import PlacedTooth, placed_teeth
from workflow.records import read_json
from workflow.specs import Spec

RECORDS = ("case", "summary", "curve", "solved", "provenance")


@dataclass(frozen=True)
class ComparedCase:
    """One case of a comparison.

    Attributes
    ----------
    label
        What the question calls it.
    case, summary, curve, solved, provenance
        Contents of ``case.resolved.yaml``, ``summary.json``, ``force_activation.json``,
        ``equilibrium.json`` and ``provenance.json``.
    teeth
        Surfaces of its teeth where they stand.
    """

    label: str
    case: Spec
    summary: Spec
    curve: Spec
    solved: Spec
    provenance: Spec
    teeth: Sequence[PlacedTooth]

    @property
    def name(self) -> str:
        """Name of the case."""
        return str(self.summary["case"])

    @classmethod
    def read(
        cls, label: str, files: Mapping[str, str], mesh_files: Mapping[int, str]
    ) -> ComparedCase:
        """Read the files of a case.

        Parameters
        ----------
        files
            File of each of the `RECORDS`.
        mesh_files
            Meshes of the teeth, by number.
        """
        records = {name: read_json(path) for name, path in files.items() if name != "case"}
        case = yaml.safe_load(Path(files["case"]).read_text(encoding="utf-8"))
        return cls(label=label, case=case, teeth=placed_teeth(case, mesh_files), **records)
