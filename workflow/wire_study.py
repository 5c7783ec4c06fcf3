"""The study of wires: its config models, and the wires of the catalogue it is about."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import Field

from workflow.case_keys import Part, key, row
from workflow.catalogue import load_catalogue
from workflow.specs import Spec
from workflow.study import read_study
from workflow.values import Name, Number

AlloyName = Annotated[str, row("alloys")]
SectionName = Annotated[str, row("sections")]
Positive = Annotated[Number, Field(gt=0)]
_WORDS = {"source", "certainty", "notes"}
Slenderness = Annotated[Number, Field(ge=1, le=100)]
Tightness = Annotated[Number, Field(ge=1, le=20)]
Deflection = Annotated[Number, Field(gt=0, le=0.5)]


class BeamTheory(Part):
    """Wires and loops for which formula and rod are held against a solid."""

    alloy: AlloyName = key("Alloy; only its Poisson's ratio matters")
    sections: tuple[SectionName, ...] = key("Sections", min_length=1)
    span_over_height: tuple[Slenderness, ...] = key("Spans over height", unit="1", min_length=2)
    radius_over_height: tuple[Tightness, ...] = key(
        "Radii of loops over height", unit="1", min_length=2
    )
    bent_span_over_height: Slenderness = key("Span of the wire that is bent far", unit="1", ge=10)
    deflection_over_span: tuple[Deflection, ...] = key(
        "Deflections over span", unit="1", min_length=2
    )


class ThreePoint(Part):
    """Three-point bending."""

    section: SectionName = key("Section")
    alloys: tuple[AlloyName, ...] = key("Alloys", min_length=1)
    span_mm: Number = key("Distance of the supports", unit="mm", gt=0)
    deflection_mm: Number = key("Largest deflection", unit="mm", gt=0)
    step_mm: Number = key("Step of the deflection", unit="mm", gt=0)


class Stiffness(Part):
    """Wires whose stiffness is compared."""

    alloys: tuple[AlloyName, ...] = key("Alloys", min_length=1)
    shown: tuple[SectionName, ...] = key("Sections in the figure", min_length=1)
    reference_alloy: AlloyName = key("Alloy of the wire that counts as 1")
    reference_section: SectionName = key("Section of the wire that counts as 1")
    published_material_numbers: dict[AlloyName, Positive] = key("Material numbers as published")
    source: str = key("Where the material numbers are from", min_length=3)


class WireStudy(Part):
    """The study of wires."""

    study: Name = key("Name of the study")
    title: str = key("What it shows, in one line", min_length=1, max_length=200)
    beam_theory: BeamTheory = key("Formula and rod against a solid")
    three_point: ThreePoint = key("Three-point bending")
    stiffness: Stiffness = key("Cross-section and material numbers")


def load_wire_study(path: str | Path) -> WireStudy:
    """Read and check the file of the study of wires; see `workflow.study.read_study`."""
    return read_study(path, WireStudy)


def alloy_row(name: str) -> Spec:
    """Values of an alloy in the catalogue."""
    return load_catalogue().alloys[name].model_dump(mode="json", exclude=_WORDS)


def section_row(name: str) -> Spec:
    """Values of a section in the catalogue, sizes in mm."""
    row = load_catalogue().sections[name]
    sizes = {"height_mm": row.height_mm, "width_mm": row.width_mm}
    return {"shape": row.shape, **sizes, "corner_radius_mm": row.corner_radius_mm}
