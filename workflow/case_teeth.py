"""Config model of a single tooth: where it stands, its shape, its bone."""

from typing import Self

from pydantic import model_validator
from pydantic_core import PydanticCustomError

from workflow.case_keys import Part, key
from workflow.case_tissues import CREST, CrestBySide
from workflow.values import Number, Whole


class ToothPart(Part):
    """One tooth: its place, measured from its ideal one in the arch, its shape and its bone."""

    mesial_tip_deg: Number = key(
        "Mesial crown tip; negative is distal crown tip", 0.0, "deg", ge=-60, le=60
    )
    buccal_tip_deg: Number = key(
        "Buccal crown tip (inclination); negative is lingual crown tip", 0.0, "deg", ge=-60, le=60
    )
    mesial_in_deg: Number = key(
        "Turn about the long axis, mesial side to lingual; negative is mesial-out",
        0.0,
        "deg",
        ge=-120,
        le=120,
    )
    mesial_mm: Number = key("Shift mesially; negative is distally", 0.0, "mm", ge=-15, le=15)
    buccal_mm: Number = key("Shift buccally; negative is lingually", 0.0, "mm", ge=-15, le=15)
    occlusal_mm: Number = key(
        "Shift occlusally; negative is towards the apex", 0.0, "mm", ge=-20, le=20
    )
    dimensions: dict[str, Number] = key(
        "Dimensions instead of those of the table, by name, as root_length_mm: 12.5",
        {},
    )
    roots: Whole | None = key(
        "Number of roots where a tooth comes with more than one; 2 is the default of the upper "
        "first premolar, 1 its other form",
        None,
        "1",
        "Dababneh and Rodan 2013: one root in 37.6 %, two in 60.6 % of 165 upper first premolars",
        ge=1,
        le=3,
    )
    crest_depth_mm: Number | None = key(
        "Depth of the bone crest of this tooth, instead of that of bone", None, "mm", **CREST
    )
    crest_by_side_mm: CrestBySide | None = key(
        "Depth of the bone crest of this tooth by side, instead of one depth", None
    )

    @model_validator(mode="after")
    def _one_crest(self) -> Self:
        if self.crest_depth_mm is not None and self.crest_by_side_mm is not None:
            text = "give either crest_depth_mm or crest_by_side_mm, not both"
            raise PydanticCustomError("two_crests", "{text}", {"text": text})
        return self
