"""Config models of a case: every key, its default, unit, range and source.

Teeth and tissues have models of their own beside this. The documented defaults and the JSON schema
under ``configs/schema`` are generated from the models by ``python -m workflow.schema``.
"""

from typing import Annotated, Literal, Self

from pydantic import Field, StrictBool, model_validator
from pydantic_core import PydanticCustomError

from workflow.case_course import Course
from workflow.case_keys import PRACTICE, Part, key, row
from workflow.case_teeth import ToothPart
from workflow.case_tissues import Bone, LigamentPart, MeshPart, ToothBody
from workflow.case_wire import Wire
from workflow.values import Line, Name, Number, Tooth

CROWN = "Wheeler, Dental Anatomy (dimensions from memory); position common practice, no source"
DEFAULT_TUBE_MM = 4.0
DEFAULT_BRACKET_MM = 3.2
BRACKET = "Common catalogue values of twin brackets 2.8 to 3.5 mm (from memory)"
TUBE = "Common catalogue values 3.5 to 4.5 mm (from memory)"


class JoiningWire(Part):
    """A wire held by the brackets of all teeth of a unit, without play."""

    alloy: Annotated[str, row("alloys")] = key("Row of configs/catalogue/alloys.yaml")
    section: Annotated[str, row("sections")] = key("Row of configs/catalogue/sections.yaml")


class Unit(Part):
    """Teeth that move together."""

    teeth: tuple[Tooth, ...] = key("Teeth of the unit, ISO 3950 numbers", min_length=1)
    role: Literal["target", "anchor"] = key("target is to be moved, anchor is to stay")
    support: Literal["ligament", "fixed"] = key(
        "ligament lets the teeth move in their ligaments; fixed holds them where they are",
        "ligament",
    )
    joined_by: JoiningWire | None = key(
        "Wire from bracket to bracket that joins the teeth; left out, they move as one body", None
    )


class OnCrowns(Part):
    """How a wire runs along the buccal crown faces of a unit."""

    height_fraction: Number = key(
        "Height of the wire above the cervix as a share of crown length",
        0.5,
        "1",
        CROWN,
        ge=0,
        le=1,
    )
    stand_off_mm: Number = key(
        "Distance of the wire's axis from the buccal crown face", 1.5, "mm", PRACTICE, ge=0, le=5
    )


class TwoPoint(OnCrowns):
    """Tube on the buccal crown face of one tooth: the wire gives it a couple and a force."""

    unit: Name = key("Unit that carries the tube")
    tooth: Tooth = key("Tooth that carries the tube; must belong to the unit")
    attachment: Annotated[str, row("attachments")] | None = key(
        "Row of configs/catalogue/attachments.yaml: its slot leaves the wire play; left out, the "
        "wire has none",
        None,
    )
    tube_length_mm: Number | None = key(
        "Length of the tube; left out, that of the attachment or 4 mm",
        None,
        "mm",
        TUBE,
        gt=0,
        le=15,
    )


class Bracketed(OnCrowns):
    """A contact that may be a bracket."""

    bracket_width_mm: Number | None = key(
        "Width of the bracket at contact bracket; left out, 3.2 mm", None, "mm", BRACKET, gt=0, le=8
    )


class OnePoint(Bracketed):
    """Hook of the wire on another unit: the wire gives it a force and no couple."""

    unit: Name = key("Unit that takes the hook")
    between: tuple[Tooth, Tooth] | None = key(
        "Neighbouring teeth of the unit between which the hook rests; "
        "left out if tooth or wire.span_mm is given",
        None,
    )
    tooth: Tooth | None = key(
        "Tooth of the unit at whose bracket the hook rests, instead of between", None
    )
    contact: Literal["bar", "tied", "peg", "dead_force", "bracket"] = key(
        "bar rests on the wire of the unit and slides along it; tied holds in every direction; "
        "peg lets a longer wire slide through lengthwise; dead_force pulls with a given force; "
        "bracket takes the wire at two points, for comparison: both units then get a couple",
        "bar",
        source=PRACTICE,
    )
    friction: Number = key(
        "Coefficient of friction at a bar or peg: force while activating and while letting back",
        0.0,
        "1",
        "Steel on steel dry 0.1 to 0.2; common practice, no source",
        ge=0,
        le=1,
    )


class Further(Bracketed):
    """A further unit that holds the wire between tube and hook, at one point or at two."""

    unit: Name = key("Unit that holds the wire")
    tooth: Tooth = key("Tooth at whose bracket it does; must belong to the unit")
    contact: Literal["bar", "bracket"] = key(
        "bar holds it at one point, where it slides along the arch; bracket at two, and gives the "
        "unit a couple",
        "bar",
        source=PRACTICE,
    )


LimitForce = Annotated[Number, Field(gt=0, le=2000)]  # as the force that may be wanted


class Limits(Part):
    """Thresholds of the warnings; none of them changes a result."""

    force_range_gf: tuple[LimitForce, LimitForce] = key(
        "Force on the one-point unit, lowest and highest without a warning",
        (15.0, 75.0),
        "gf",
        "Teaching pages: intrusion 15 to 25 gf a tooth, extrusion 50 to 75 gf; Proffit 10 to 20 "
        "and 35 to 60 gf (from memory)",
    )
    ligament_hydrostatic_kPa: Number = key(
        "Hydrostatic stress of the ligament, tension or compression",
        16.0,
        "kPa",
        "Moga et al. 2023, Healthcare 11:2622: 12.8 to 16 kPa, about 80 % of systolic pressure",
        gt=0,
        le=1000,
    )
    yield_ratio: Number = key(
        "Peak wire stress as a share of the yield strength",
        1.0,
        "1",
        "Definition of yield",
        gt=0,
        le=1,
    )

    @model_validator(mode="after")
    def _low_before_high(self) -> Self:
        low, high = self.force_range_gf
        if low >= high:
            text = f"force_range_gf must rise from lowest to highest; found {low:g}, {high:g}"
            raise PydanticCustomError("range_order", "{text}", {"text": text})
        return self


class Case(Part):
    """One appliance in one arch: teeth, units, wire and the assumptions about the tissues."""

    schema_version: Literal[1] = key("Version of this file's layout", source="This project")
    case: Name = key("Name of the case, the same as the file name before .yaml")
    title: Line = key("What the case shows, in one line", min_length=1, max_length=200)
    teeth: dict[Tooth, ToothPart] = key("Single teeth that differ, by ISO 3950 number", {})
    missing: tuple[Tooth, ...] = key("Teeth lost or not erupted", ())
    units: dict[Name, Unit] = key(
        "The two units, and one for each of further, by a name of your choice"
    )
    two_point: TwoPoint = key("Where the wire is held at two points")
    one_point: OnePoint = key("Where the wire is held at one point")
    further: tuple[Further, ...] = key(
        "Further units that hold the wire on its way; loads then depend on all of them, no longer "
        "on couple and distance alone",
        (),
        max_length=8,
    )
    wire: Wire = key("The wire")
    mirror_image: StrictBool = key(
        "Whether a second wire, the mirror image of the first, runs from the other side to the "
        "same unit across the midline",
        False,
    )
    ligament: LigamentPart = key("The periodontal ligament", LigamentPart())
    tooth_body: ToothBody = key("What teeth are made of", ToothBody())
    bone: Bone = key("The bone", Bone())
    mesh: MeshPart = key("The tooth meshes", MeshPart())
    limits: Limits = key("Thresholds of the warnings", Limits())
    course: Course | None = key(
        "The course of movement as the teeth move on; left out, it is not computed", None
    )

    @property
    def used_teeth(self) -> tuple[int, ...]:
        """Teeth of all units, in the order written."""
        return tuple(tooth for unit in self.units.values() for tooth in unit.teeth)
