"""Config models of what a wire is bent to between its tube and its hook."""

from typing import Literal, Self

from pydantic import ConfigDict, model_validator
from pydantic_core import PydanticCustomError

from workflow.case_keys import PRACTICE, Part, demand_one_key, key
from workflow.values import Number, Point

Side = Literal["gingival", "occlusal", "buccal", "lingual"]

_RADIUS = "About the wire's own size or more; common practice, no source"


def _towards() -> Side:
    side: Side = key("Where it goes to or lies, from the line of the wire", "gingival")
    return side


def _radius(meaning: str, default: float = 1.0) -> Number:
    radius: Number = key(meaning, default, "mm", _RADIUS, gt=0, le=10)
    return radius


class BendPart(Part):
    """A bend in a plane."""

    angle_deg: Number = key("Angle of the bend", unit="deg", gt=0, lt=180)
    radius_mm: Number = _radius("Radius of the wire's axis")
    towards: Side = _towards()


class StepPart(Part):
    """Two equal and opposite bends."""

    offset_mm: Number = key("Distance between the lines before and after", unit="mm", gt=0, le=20)
    length_mm: Number | None = key(
        "Length the step takes along the wire; left out, the shortest", None, "mm", gt=0, le=40
    )
    radius_mm: Number = _radius("Radius of both bends")
    towards: Side = _towards()


class HelixPart(Part):
    """A closed loop of one or more turns."""

    turns: Number = key(
        "Whole turns; the wire goes on in its first direction", unit="1", gt=0, le=9
    )
    radius_mm: Number = _radius("Radius of the wire's axis about the axis of the helix", 1.25)
    pitch_mm: Number | None = key(
        "Advance in a turn, away from the teeth; left out, 1.1 times the size of the wire there",
        None,
        "mm",
        PRACTICE,
        gt=0,
        le=5,
    )
    towards: Side = _towards()

    @model_validator(mode="after")
    def _whole_turns(self) -> Self:
        if self.turns != round(self.turns):
            raise PydanticCustomError(
                "whole_turns",
                "turns must be a whole number: after any other the wire runs off to the side",
            )
        return self


class ULoopPart(Part):
    """An open loop with two legs and a crown."""

    height_mm: Number = key("Height of the legs", unit="mm", gt=0, le=20)
    width_mm: Number = key("Width of the crown", unit="mm", gt=0, le=20)
    radius_mm: Number = _radius("Radius of the corners")
    towards: Side = _towards()


class LLoopPart(Part):
    """An open loop whose head points towards the hook."""

    height_mm: Number = key("Height of the loop", unit="mm", gt=0, le=20)
    head_length_mm: Number = key("Length of the head from the first leg", unit="mm", gt=0, le=20)
    head_height_mm: Number = key("Height of the head", unit="mm", gt=0, le=20)
    gap_mm: Number = key("Distance between the legs", unit="mm", gt=0, le=20)
    radius_mm: Number = _radius("Radius of the corners", 0.5)
    towards: Side = _towards()


class TLoopPart(Part):
    """An open loop with a head to both sides."""

    height_mm: Number = key("Height of the loop", unit="mm", gt=0, le=20)
    head_width_mm: Number = key("Width of the head", unit="mm", gt=0, le=20)
    head_height_mm: Number = key("Height of the head", unit="mm", gt=0, le=20)
    gap_mm: Number = key("Distance between the legs", unit="mm", gt=0, le=20)
    radius_mm: Number = _radius("Radius of the corners", 0.5)
    towards: Side = _towards()


class BoxLoopPart(Part):
    """A closed rectangular loop."""

    height_mm: Number = key("Height of the loop", unit="mm", gt=0, le=20)
    width_mm: Number = key("Width of the loop", unit="mm", gt=0, le=20)
    radius_mm: Number = _radius("Radius of the corners")
    towards: Side = _towards()


class RunPart(Part):
    """One thing the wire is bent to: exactly one of the keys."""

    model_config = ConfigDict(json_schema_extra={"minProperties": 1, "maxProperties": 1})

    straight_mm: Number | None = key("Straight run of this length", None, "mm", gt=0, le=80)
    bend: BendPart | None = key("Bend in a plane", None)
    step: StepPart | None = key("Two equal and opposite bends", None)
    helix: HelixPart | None = key("Closed loop of one or more turns", None)
    u_loop: ULoopPart | None = key("Open loop with two legs and a crown", None)
    l_loop: LLoopPart | None = key("Open loop whose head points towards the hook", None)
    t_loop: TLoopPart | None = key("Open loop with a head to both sides", None)
    box_loop: BoxLoopPart | None = key("Closed rectangular loop", None)

    @model_validator(mode="after")
    def _one_key(self) -> Self:
        demand_one_key(self, type(self).model_fields)
        return self


class ThroughPart(Part):
    """A run through given places."""

    points_mm: tuple[Point, ...] = key(
        "Corners between the tube's mouth and the hook, in patient coordinates "
        "(left, posterior, superior)",
        unit="mm",
        min_length=1,
        max_length=40,
    )
    radius_mm: Number = _radius("Radius of the wire's axis in the corners")
