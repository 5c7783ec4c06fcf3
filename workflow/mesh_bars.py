"""Error bars of the default mesh as the catalogue holds them, and where they apply.

They were measured by `workflow.mesh_error` on teeth of published dimensions with all settings of
tooth, bone and mesh at their defaults. A tooth that differs in anything but its place and the
constants of its ligament was not measured: it has no bar, but a sentence that says why.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from geometry.anatomy import left_twin, tooth_dimensions
from workflow.catalogue import CATALOGUE
from workflow.specs import Spec
from workflow.study import default_specs
from workflow.tooth_specs import support_spec
from workflow.yaml_files import read_mapping

TABLE = CATALOGUE / "mesh_error.yaml"

Kind = Literal["single-rooted", "two-rooted", "three-rooted"]
KINDS: dict[int, Kind] = {1: "single-rooted", 2: "two-rooted", 3: "three-rooted"}

# What of a support spec may differ from the default, and the words for what may not.
_FREE = ("youngs_modulus_MPa", "poisson_ratio", "tooth")
_WORDS = {
    "scan": "the tooth is scanned",
    "dimensions": "its dimensions are not those of the table",
    "roots": "it has another number of roots than its table",
    "crest_depth_mm": "its bone crest is not at the default depth",
    "crest_by_side_mm": "its bone crest is given by side",
    "crest_plane": "its bone crest is a plane of its own",
    "crest_line": "its bone crest is a line of its own",
    "thickness_mm": "the ligament is not of the default thickness",
    "layers": "the ligament has another number of layers",
    "root_size_mm": "the mesh has another element size",
    "tooth_body": "the tooth is elastic",
    "bone": "the bone is elastic",
}


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Percentiles(_Part):
    """Bars of the stress that 1, 50 and 99 % of the volume stay below, percent."""

    p01: float = Field(ge=0)
    p50: float = Field(ge=0)
    p99: float = Field(ge=0)


class Bars(_Part):
    """Bars of one kind of tooth between two Poisson's ratios, the larger of what both gave.

    See `workflow.mesh_study.ToothBars`.
    """

    kind: Kind
    poisson_ratio_from: float = Field(ge=0, lt=0.5)
    poisson_ratio_to: float = Field(ge=0, lt=0.5)
    teeth: tuple[int, ...]
    stiffness_percent: float = Field(ge=0)
    translation_percent: float = Field(ge=0)
    rotation_percent: float = Field(ge=0)
    resistance_centre_mm: float = Field(ge=0)
    coupling_mm: float = Field(ge=0)
    hydrostatic_percent: Percentiles
    von_mises_percent: Percentiles

    @property
    def basis(self) -> str:
        """Where the bars are from, in words."""
        listed = ", ".join(map(str, self.teeth))
        low, high = self.poisson_ratio_from, self.poisson_ratio_to
        ratio = f"{low:g}" if low == high else f"{low:g} to {high:g}"
        return (
            f"{self.kind} teeth ({listed}) on three meshes, Poisson's ratio {ratio}; "
            "configs/catalogue/mesh_error.yaml"
        )


class WireBars(_Part):
    """Bars of a wire's stiffness, from as many rod elements on its free run or more."""

    elements: int = Field(ge=1)
    rod_percent: float = Field(ge=0)
    solid_percent: float = Field(ge=0)

    @property
    def basis(self) -> str:
        """Where the bars are from, in words."""
        return (
            f"wires of this project's cases with {self.elements} rod elements and more; "
            "configs/catalogue/mesh_error.yaml"
        )


class MeshErrorTable(_Part):
    """The catalogue's table."""

    teeth: tuple[Bars, ...]
    wire: WireBars

    def of_tooth(self, kind: Kind, poisson_ratio: float) -> Bars | None:
        """Bars of a kind of tooth in the first band that holds a Poisson's ratio."""
        found = (
            row
            for row in self.teeth
            if row.kind == kind and row.poisson_ratio_from <= poisson_ratio <= row.poisson_ratio_to
        )
        return min(found, key=lambda row: row.poisson_ratio_to, default=None)


@lru_cache
def load_mesh_error(path: Path = TABLE) -> MeshErrorTable:
    """Read the table.

    Raises
    ------
    workflow.case_errors.CaseError
        If the file cannot be read.
    pydantic.ValidationError
        If it is not what `workflow.mesh_error` writes.
    """
    return MeshErrorTable.model_validate(read_mapping(path))


def largest_stress(low: float, high: float, von_mises_high: float, kind: str) -> float:
    """What bars of a ligament's stress are percent of.

    Parameters
    ----------
    low, high, von_mises_high
        Hydrostatic stress at 1 and 99 % of volume, von Mises stress at 99 %.
    kind
        Of the stress in question: ``"hydrostatic"`` or ``"von_mises"``.
    """
    if kind == "hydrostatic":
        return max(abs(low), abs(high), von_mises_high)
    return von_mises_high


def kind_of(tooth: int) -> Kind:
    """Kind of a tooth of published dimensions, by its number of roots."""
    return KINDS[max(1, len(tooth_dimensions(tooth).roots))]


def bars_of_tooth(case: Spec, tooth: int, table: MeshErrorTable) -> Bars | str:
    """Bars of a tooth of a case, or why there are none."""
    standard = default_specs().get(left_twin(tooth))
    if standard is None:
        return "not measured: there are no published dimensions of the tooth"
    own = support_spec(case, tooth)
    differing = [name for name in own if name not in _FREE and own[name] != standard[name]]
    if differing:
        return f"not measured: {' and '.join(_WORDS[name] for name in differing)}"
    bars = table.of_tooth(kind_of(left_twin(tooth)), own["poisson_ratio"])
    if bars is None:
        return "not measured: Poisson's ratio is outside the range that was studied"
    return bars


def unit_reason(case: Spec, name: str, reasons: Sequence[str]) -> str:
    """Why a unit has no bars; empty if it has them.

    Parameters
    ----------
    reasons
        Why teeth of it have none.
    """
    unit = case["units"][name]
    if unit["support"] != "ligament":
        return "not measured: the unit is held still and has no support of its own"
    if unit["joined_by"] is not None and len(unit["teeth"]) > 1:
        return "not measured: teeth joined by a wire were not studied"
    return "; ".join(reasons)


def wire_reason(case: Spec, solved: Spec, table: MeshErrorTable) -> str:
    """Why the wire of a case has no bar; empty if it has one."""
    one, wire = case["one_point"]["contact"], case["wire"]
    if wire["elements"] < table.wire.elements:
        return f"not measured: fewer than {table.wire.elements} rod elements"
    if case["further"] or one == "bracket":
        return "not measured: the wire is held at more than one tube and one point"
    if one == "peg":
        return "not measured: the wire slides lengthwise over its hook"
    if solved["past_limit"] is not None:
        return "not measured: the wire is bent past its elastic limit"
    return ""
