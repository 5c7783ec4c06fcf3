"""The sheet of a case: one self-contained page that opens offline and prints on A4."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from fem.material import Elastic
from workflow.cautions import CAUTION, CAUTION_SHORT, named
from workflow.figure_texts import figure_texts
from workflow.pages import data_uri, page
from workflow.scenes import scene_values
from workflow.sheet_answer import full_answer, key_numbers
from workflow.sheet_bars import NOTE, percent_text, unmeasured
from workflow.sheet_records import SheetRecords
from workflow.sheet_setup import setup_table, thickness_text, tissue_sentences
from workflow.sheet_tables import (
    Table,
    bilinear_table,
    checks_table,
    ligament_table,
    loads_table,
    mesh_table,
    movement_table,
    provenance_table,
    supports_table,
    teeth_table,
)
from workflow.sheet_wire import contact_sentences, held_text, wire_table
from workflow.specs import Spec

# The sections by the names of their places on the page, in their order.
_SECTIONS = {
    "answer": "Answer",
    "appliance": "Appliance in space",
    "loads": "Loads on the units",
    "stress": "Ligament stress",
    "wire": "Wire",
    "movement": "Movement",
    "course": "Course of movement",
    "errors": "Error bars, supports, meshes",
    "checks": "Checks",
    "assumptions": "Assumptions",
    "warnings": "Warnings",
    "caution": "Caution",
    "provenance": "Provenance",
}


@dataclass(frozen=True)
class SheetFigure:
    """A picture, or a page to print, embedded in the sheet.

    Attributes
    ----------
    name
        Its place on the page is ``figure-<name>``.
    source
        Data URI.
    alt
        What it shows, with numbers, for those who cannot see it.
    caption
        Line under it.
    """

    name: str
    source: str
    alt: str
    caption: str


def write_sheet(records: SheetRecords, figures: Mapping[str, str], path: str | Path) -> None:
    """Write the page; `figures` are picture files by the name of the figure."""
    Path(path).write_text(sheet_html(records, figures), encoding="utf-8")


def sheet_html(records: SheetRecords, figures: Mapping[str, str]) -> str:
    """The page as text; everything from the case is escaped."""
    texts = figure_texts(records)
    return page(
        "sheet.html.j2",
        title=records.case["title"],
        case=records.summary["case"],
        held=held_text(records.case),
        contents=_contents(figures),
        answer=full_answer(records.case, records.summary, records.solved),
        key_numbers=key_numbers(records.summary, records.case["mirror_image"]),
        figures={
            name: SheetFigure(name, data_uri(file), *texts[name]) for name, file in figures.items()
        },
        tables=_tables(records),
        assumptions=assumptions(records.case, records.solved),
        warnings=[named(text) for text in records.summary["warnings"]],
        mesh_note=[NOTE, *unmeasured(records.summary)],
        caution=CAUTION,
        caution_short=CAUTION_SHORT,
        scenes=scene_values(records.scenes),
        version=records.provenance["code"]["version"],
    )


def assumptions(case: Spec, solved: Spec) -> list[str]:
    """What the numbers rest on, with the values of this case."""
    ligament = case["ligament"]
    material = Elastic(ligament["youngs_modulus_MPa"], ligament["poisson_ratio"])
    return [
        f"Ligament: linear elastic, E = {material.youngs_modulus_MPa:g} MPa, "
        f"ν = {material.poisson_ratio:g}, constrained modulus "
        f"M = E(1−ν)/((1+ν)(1−2ν)) = {material.constrained_modulus_MPa:.3g} MPa, "
        f"{thickness_text(ligament)} thick and bonded. Source: {ligament['source']}.",
        *tissue_sentences(case),
        *contact_sentences(case, solved),
        "Movements are the initial movement in a linear ligament, the instant the wire is "
        "hooked: not the movement over weeks, which bone remodelling brings.",
    ]


def _contents(figures: Mapping[str, str]) -> dict[str, str]:
    """Sections of this case: one without a course has none of it."""
    return {
        name: title for name, title in _SECTIONS.items() if name != "course" or "course" in figures
    }


def _tables(records: SheetRecords) -> dict[str, Table]:
    case, summary = records.case, records.summary
    return {
        "setup": setup_table(case, records.solved),
        "loads": loads_table(case, summary, records.solved),
        "wire": _with_bar(wire_table(case, summary), summary["wire"]["mesh_error"]),
        "movement": movement_table(summary),
        "teeth": teeth_table(summary),
        "bilinear": bilinear_table(records.bilinear),
        "ligament": ligament_table(summary),
        "supports": supports_table(records.supports, summary),
        "mesh": mesh_table(records.supports),
        "checks": checks_table(records.checks),
        "provenance": provenance_table(records.provenance),
    }


def _with_bar(table: Table, bar: Spec) -> Table:
    """Table of the wire with the mesh error of its stiffness."""
    text = bar["reason"] or percent_text(bar["stiffness_percent"]).strip()
    row = ("Mesh error of its stiffness", text, *table.rows[-1][2:])
    return replace(table, rows=(*table.rows, row))
