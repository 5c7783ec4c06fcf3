"""Config model of a single tooth: where it stands, its shape, its bone."""

from typing import Literal, Self

from pydantic import StrictBool, model_validator
from pydantic_core import PydanticCustomError

from workflow.case_keys import Part, key
from workflow.case_tissues import CREST, CrestBySide
from workflow.values import Direction, Number, Point, Whole


class CrestPlane(Part):
    """A bone crest as a plane in the coordinates of a scan's file."""

    point_mm: Point = key("A point of the plane", unit="mm")
    normal: Direction = key("Direction square to it, of any length", unit="1")


class Scan(Part):
    """A scanned tooth; what is not given is found from its shape.

    Directions and points are in the coordinates of its file. Files are given by their path from
    the folder in which the workflow is run.
    """

    file: str = key("STL, PLY or VTP file of one whole tooth, crown and roots", min_length=1)
    unit: Literal["mm", "cm", "inch", "m", "um"] | None = key(
        "Unit of its coordinates; left out, judged from the tooth's length", None
    )
    patient_coordinates: StrictBool = key(
        "Whether its axes are the patient's: +x left, +y posterior, +z superior", True
    )
    placed: Literal["arch", "as_scanned"] = key(
        "arch puts the tooth on the mean arch, as_scanned leaves it where the file has it", "arch"
    )
    long_axis: Direction | None = key("Long axis towards the crown", None, "1")
    buccal: Direction | None = key("Buccal direction", None, "1")
    crown_length_mm: Number | None = key(
        "Length of the crown, from its highest point to the cervix", None, "mm", gt=0, le=20
    )
    cervix_point_mm: Point | None = key(
        "A point at the level of the cervix, instead of crown_length_mm", None, "mm"
    )
    crest_plane: CrestPlane | None = key("Bone crest as a plane in the file's coordinates", None)
    crest_line: str | None = key(
        "CSV file (x_mm, y_mm, z_mm) of a closed line drawn round the root as its bone crest", None
    )


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

    scan: Scan | None = key("A scanned tooth instead of one of published dimensions", None)

    @model_validator(mode="after")
    def _one_crest(self) -> Self:
        scan = self.scan
        crests = {
            "crest_depth_mm": self.crest_depth_mm,
            "crest_by_side_mm": self.crest_by_side_mm,
            "scan.crest_plane": scan and scan.crest_plane,
            "scan.crest_line": scan and scan.crest_line,
        }
        given = [name for name, value in crests.items() if value is not None]
        if len(given) > 1:
            text = f"give one crest; found {' and '.join(given)}"
            raise PydanticCustomError("two_crests", "{text}", {"text": text})
        return self

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        if self.scan is not None and (self.dimensions or self.roots is not None):
            text = "a scan has its own shape; drop dimensions and roots, or drop scan"
            raise PydanticCustomError("two_shapes", "{text}", {"text": text})
        return self
