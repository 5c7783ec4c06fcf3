"""Config model of the course of movement: how far and how finely it is followed."""

from pydantic import StrictBool

from workflow.case_keys import PRACTICE, Part, key
from workflow.values import Number


class Course(Part):
    """What happens as the teeth move on: computed only where a case has this part."""

    step_mm: Number = key(
        "Path of the most moved point (mid-crowns and apices) in one step; less where the force "
        "fades fast",
        0.1,
        "mm",
        "Halving it must change the end by less than 1 %, which every run checks",
        ge=0.02,
        le=0.5,
    )
    most_mm: Number = key(
        "Path of the most moved point after which to end", 5.0, "mm", PRACTICE, gt=0, le=20
    )
    force_floor_gf: Number = key(
        "Force on the one-point unit at which to end before that",
        10.0,
        "gf",
        "Least force that Proffit gives, for intrusion of one tooth (from memory)",
        gt=0,
        le=500,
    )
    reactivate_share: Number = key(
        "Share of the first force at which to reactivate the wire",
        0.5,
        "1",
        PRACTICE,
        gt=0,
        lt=1,
    )
    anchors_move: StrictBool = key(
        "Whether anchor units move on as readily as the targets; false: they only give way in "
        "their ligaments",
        True,
    )
