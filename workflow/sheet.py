"""The sheet of a case: one self-contained page that opens offline and prints on A4."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from fem.material import Elastic
from workflow.cautions import CAUTION
from workflow.course_words import course_texts
from workflow.figures import couple_text, force_text, three_digits
from workflow.figures_force_activation import curve_texts
from workflow.pages import data_uri, page
from workflow.sheet_bars import NOTE, percent_text, unmeasured
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
from workflow.words import leading, movement_words


@dataclass(frozen=True)
class SheetRecords:
    """What a sheet is written from.

    Attributes
    ----------
    case, summary, solved, bilinear, provenance
        Contents of ``case.resolved.yaml``, ``summary.json``, ``equilibrium.json``,
        ``bilinear.json`` and ``provenance.json``.
    supports
        Content of ``support.json`` of each tooth, by number.
    checks
        ``tables/checks.csv``.
    curve
        Content of ``force_activation.json``.
    course
        Content of ``course.json``; None of a case without a course.
    """

    case: Spec
    summary: Spec
    solved: Spec
    bilinear: Spec
    provenance: Spec
    supports: Mapping[int, Spec]
    checks: pd.DataFrame
    curve: Spec
    course: Spec | None = None


@dataclass(frozen=True)
class SheetFigure:
    """A picture, or a page to print, embedded in the sheet.

    Attributes
    ----------
    source
        Data URI.
    alt
        What it shows, with numbers, for those who cannot see it.
    caption
        Line under it.
    """

    source: str
    alt: str
    caption: str


def write_sheet(records: SheetRecords, figures: Mapping[str, str], path: str | Path) -> None:
    """Write the page; `figures` are picture files by the name of the figure."""
    Path(path).write_text(sheet_html(records, figures), encoding="utf-8")


def sheet_html(records: SheetRecords, figures: Mapping[str, str]) -> str:
    """The page as text; everything from the case is escaped."""
    return page(
        "sheet.html.j2",
        title=records.case["title"],
        case=records.summary["case"],
        held=held_text(records.case),
        answer=answer(records.summary),
        key_numbers=key_numbers(records.summary, records.case["mirror_image"]),
        figures={name: _figure(records, name, file) for name, file in figures.items()},
        tables=_tables(records),
        assumptions=assumptions(records.case, records.solved),
        warnings=[_named(text) for text in records.summary["warnings"]],
        mesh_note=[NOTE, *unmeasured(records.summary)],
        caution=CAUTION,
    )


def answer(summary: Spec) -> list[str]:
    """One sentence a unit: how it starts to move."""
    return [_sentence(name, unit) for name, unit in summary["units"].items()]


def key_numbers(summary: Spec, mirror_image: bool = False) -> list[tuple[str, str]]:
    """The five numbers a reader looks for first, each with its meaning."""
    wire = summary["wire"]
    moved = [
        (f"initial movement of {name} ({unit['role']})", _motion(unit))
        for name, unit in summary["units"].items()
    ]
    force, couple = (float(np.linalg.norm(wire[key])) for key in ("force_N", "couple_Nmm"))
    who = "of each of the two wires" if mirror_image else "on each unit"
    tube, other, *_ = summary["units"]
    hook = "bracket" if summary["units"][other]["contact"] == "bracket" else "hook"
    return [
        (f"force {who}, at the {hook} on {other}", force_text(force, " ")),
        (f"couple on {tube} at its tube", couple_text(couple, " ")),
        ("peak wire stress as a share of yield", f"{100 * wire['yield_ratio']:.0f} %"),
        *moved,
    ]


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


def _sentence(name: str, unit: Spec) -> str:
    words = movement_words(unit["anatomical"])
    shift, tip = leading(words, "µm"), leading(words, "mrad")
    teeth = ", ".join(map(str, unit["teeth"]))
    several = len(unit["teeth"]) > 1
    noun = "teeth" if several else "tooth"
    return (
        f"Unit {name} ({unit['role']}, {noun} {teeth}) {shift.verb(several)} by "
        f"{three_digits(shift.size)} µm at its centre of resistance, and {tip.verb(several)} by "
        f"{three_digits(tip.size)} mrad "
        f"({np.degrees(tip.size * 1e-3):.2g}°)."
    )


def _plane(case: Spec) -> str:
    """Plane of the free-body diagram in words."""
    if case["wire"]["activation"]["pulls"] in ("buccal", "lingual"):
        return "horizontal plane, seen from occlusal"
    return "mesiodistal vertical plane, seen from buccal"


def _motion(unit: Spec) -> str:
    words = movement_words(unit["anatomical"])
    return f"{leading(words, 'µm').text}, {leading(words, 'mrad').text}"


def _named(warning: str) -> tuple[str, str]:
    """Name of a warning and the rest of it."""
    name, _, rest = warning.partition(": ")
    return name, rest


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


def _figure(records: SheetRecords, name: str, file: str) -> SheetFigure:
    alt, caption = _texts(records)[name]
    return SheetFigure(data_uri(file), alt, caption)


def _texts(records: SheetRecords) -> dict[str, tuple[str, str]]:
    """Alternative text and caption of each figure."""
    summary = records.summary
    force = force_text(float(np.linalg.norm(summary["wire"]["force_N"])), " ")
    couple = couple_text(float(np.linalg.norm(summary["wire"]["couple_Nmm"])), " ")
    tooth = str(records.case["two_point"]["tooth"])
    unit = summary["units"][records.case["two_point"]["unit"]]
    stress = unit["ligament"][tooth]["hydrostatic_kPa"]
    linear = summary["wire"]["linear_theory"]["force_N"]
    moves = " ".join(answer(summary))
    ligament = (
        f"hydrostatic stress on the ligament of tooth {tooth} from {stress['min']:.1f} kPa "
        f"(compression) to {stress['max']:.1f} kPa (tension)"
    )
    elements = sum(region["elements"] for region in records.supports[int(tooth)]["mesh"])
    roles = {name: unit["role"] for name, unit in summary["units"].items()}
    return {
        **({} if records.course is None else {"course": course_texts(records.course, roles)}),
        "free_body": (
            f"Free-body diagram: the wire between the two units, with a force of {force} at each "
            f"attachment, opposite on the two units, and a couple of {couple} at the tube; the "
            "loads on the wire sum to zero.",
            f"Free bodies in the {_plane(records.case)}.",
        ),
        "appliance_3d": (
            f"Teeth, tube, hook and the wire, passive and engaged, in two views, with the force of "
            f"{force} on each unit and the couple of {couple} on tooth {tooth}.",
            "The appliance in space with the loads it exerts on the units.",
        ),
        "movement": (
            f"Outlines of the units before and after their enlarged movement. {moves}",
            "Initial movement, enlarged by the printed factor; linear ligament.",
        ),
        "wire_deflection": (
            f"Force against activation of the straight wire by finite rotations and by linear "
            f"theory, and the deflected shapes; this case has {force}, linear theory "
            f"{linear:.3g} N.",
            "Force and shape of the straight wire by finite rotations and by linear theory.",
        ),
        "force_activation": curve_texts(records.curve),
        "ligament_stress": (
            f"Two views: {ligament}.",
            f"Hydrostatic stress on the ligament of tooth {tooth}; tension positive. Element "
            "means; the table has the values at quadrature points.",
        ),
        "mesh_section": (
            f"Cut through the mesh of tooth {tooth}, {elements} elements, with the layers of the "
            "ligament enlarged.",
            f"Mesh of tooth {tooth}, cut in its mesiodistal plane.",
        ),
        "bench_template": (
            "The passive wire in true size, in three views, with a bar of 50 mm.",
            "Bench template (print at 100 %)",
        ),
    }
