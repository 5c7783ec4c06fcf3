"""Config models of the wire: its alloy, its shape and its activation."""

from typing import Annotated, Literal, Self

from pydantic import ConfigDict, StrictBool, model_validator
from pydantic_core import PydanticCustomError

from workflow.case_keys import PRACTICE, Part, demand_one_key, key, row
from workflow.case_run import RunPart, ThroughPart
from workflow.units import N_PER_GF
from workflow.values import Number, Whole

WAYS_OF_ACTIVATION = ("offset_mm", "couple_Nmm", "couple_gfmm", "force_N", "force_gf")


class Activation(Part):
    """How far the wire is activated: exactly one of the keys, and how far before.

    Before it is hooked, the end of the wire lies to the side that it pulls the one-point unit to;
    the two-point unit gets the opposite force. Pulled apically, the one-point unit is intruded and
    the two-point unit extruded.
    """

    model_config = ConfigDict(
        json_schema_extra={"oneOf": [{"required": [name]} for name in WAYS_OF_ACTIVATION]}
    )

    offset_mm: Number | None = key(
        "Distance that the end of the wire is brought to its hook", None, "mm", gt=0, le=60
    )
    couple_Nmm: Number | None = key(
        "Wanted couple on the two-point unit", None, "N·mm", gt=0, le=100
    )
    couple_gfmm: Number | None = key(
        "Wanted couple on the two-point unit", None, "gf·mm", gt=0, le=10000
    )
    force_N: Number | None = key("Wanted force on the one-point unit", None, "N", gt=0, le=20)
    force_gf: Number | None = key("Wanted force on the one-point unit", None, "gf", gt=0, le=2000)

    pulls: Literal["apical", "occlusal", "buccal", "lingual"] = key(
        "Where the wire pulls the one-point unit; before it is hooked its end lies to that side",
        "apical",
        source=PRACTICE,
    )
    trial_share: Number = key(
        "Largest activation before the wire is let back to the working one, as its share: 1 is "
        "none; matters only past the elastic limit",
        1.0,
        "1",
        PRACTICE,
        ge=1,
        le=2,
    )

    @model_validator(mode="after")
    def _one_key(self) -> Self:
        demand_one_key(self, WAYS_OF_ACTIVATION)
        return self

    @property
    def wanted_couple_Nmm(self) -> float | None:
        """Wanted couple in N·mm (1 gf = 9.80665e-3 N), None if the offset is given."""
        if self.couple_gfmm is not None:
            return self.couple_gfmm * N_PER_GF
        return self.couple_Nmm

    @property
    def wanted_force_N(self) -> float | None:
        """Wanted force in N, None if none is."""
        if self.force_gf is not None:
            return self.force_gf * N_PER_GF
        return self.force_N


class Wire(Part):
    """The cantilever from the tube to the hook; at most one of run, along_arch and through."""

    alloy: Annotated[str, row("alloys")] = key("Row of configs/catalogue/alloys.yaml")
    section: Annotated[str, row("sections")] = key("Row of configs/catalogue/sections.yaml")
    span_mm: Number | None = key(
        "Distance from the mesial mouth of the tube to the hook; if given, it places the hook "
        "and one_point.between is not used",
        None,
        "mm",
        gt=0,
        le=80,
    )
    bend_radius_mm: Number = key(
        "Radius of the wire's axis in its bend at the tube", 1.0, "mm", PRACTICE, gt=0, le=10
    )
    activation: Activation = key("How far the wire is activated")
    run: tuple[RunPart, ...] = key(
        "What the wire is bent to from its bend at the tube on; a last straight leg leads to the "
        "hook",
        (),
        max_length=40,
    )
    along_arch: StrictBool = key(
        "Whether the wire follows the buccal faces of the teeth it passes, instead of run", False
    )
    through: ThroughPart | None = key("A run through given places, instead of run", None)
    inelastic: StrictBool = key(
        "Whether the wire is followed past its elastic limit, where it comes there; false: linear "
        "elastic throughout",
        True,
    )
    elements: Whole = key("Rod elements on the free run", 40, "1", PRACTICE, ge=8, le=2000)

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        ways = [name for name in ("run", "along_arch", "through") if getattr(self, name)]
        if len(ways) > 1:
            raise PydanticCustomError("one_way", f"give one of {' and '.join(ways)}, not both")
        return self
