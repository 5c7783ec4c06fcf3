"""Caption and alternative text of the figures of a case, with its own numbers."""

from __future__ import annotations

from workflow.course_words import course_texts
from workflow.figures_case_texts import (
    appliance_text,
    deflection_text,
    free_body_text,
    ligament_text,
    movement_text,
    section_text,
    template_text,
)
from workflow.figures_force_activation import curve_texts
from workflow.sheet_records import SheetRecords


def figure_texts(records: SheetRecords) -> dict[str, tuple[str, str]]:
    """Alternative text and caption of each figure, from the functions its files get theirs from."""
    case, summary, solved = records.case, records.summary, records.solved
    tooth = int(case["two_point"]["tooth"])
    said = {
        "free_body": free_body_text(case, summary, solved),
        "appliance_3d": appliance_text(case, summary, solved),
        "movement": movement_text(case, summary),
        "wire_deflection": deflection_text(case, summary, solved),
        "ligament_stress": ligament_text(case, summary),
        "mesh_section": section_text(tooth, records.supports[tooth]),
        "bench_template": template_text(case, solved),
    }
    roles = {name: unit["role"] for name, unit in summary["units"].items()}
    course = {} if records.course is None else {"course": course_texts(records.course, roles)}
    pairs = {name: (text.shows, text.caption) for name, text in said.items()}
    return course | pairs | {"force_activation": curve_texts(records.curve)}
