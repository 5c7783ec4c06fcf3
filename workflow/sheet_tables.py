"""Tables of the sheet: the records of a case in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from workflow.figures import couple_text, force_text, three_digits
from workflow.figures_view import directions
from workflow.sheet_bars import crown_bars, movement_bars, percent_text, stress_bars
from workflow.specs import Spec
from workflow.words import COMPONENTS, load_words, movement_words

_SHOWN = 0.02  # share of the largest below which a part is not put into words


@dataclass(frozen=True)
class Table:
    """A table with a caption.

    Attributes
    ----------
    caption
        What it shows.
    head
        Column names.
    rows
        Cells; the first of each row names the row.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def loads_table(case: Spec, summary: Spec, solved: Spec) -> Table:
    """Loads the appliance exerts on each unit, in parts named by what they work towards."""
    words = directions(case, solved)
    axes = np.column_stack([words.mesial, words.buccal, words.occlusal])
    columns = [_load_column(unit, axes) for unit in summary["units"].values()]
    tube = " and ".join(f"{force:.3g} N" for force in summary["wire"]["contact_forces_N"])
    for column, unit in zip(columns, summary["units"].values(), strict=True):
        column["Forces across the two mouths of the tube"] = (
            tube if unit["contact"] == "two-point" else "no tube"
        )
    rows = tuple((name, *(column[name] for column in columns)) for name in columns[0])
    caption = (
        "Loads the appliance exerts on the units; parts along the arch, across it and upright, "
        "named by the movement they work towards"
    )
    return Table(caption, ("", *_unit_heads(summary)), rows)


def _load_column(unit: Spec, axes: np.ndarray) -> dict[str, str]:
    force, couple, moment = (
        np.asarray(unit[key], dtype=float)
        for key in ("force_N", "moment_at_attachment_Nmm", "moment_at_resistance_Nmm")
    )
    at_tube, at_centre = load_words(force, couple, axes), load_words(force, moment, axes)
    has_couple = np.linalg.norm(couple) > 1e-6 * np.linalg.norm(moment)
    return {
        "Force": force_text(float(np.linalg.norm(force)), " "),
        "Force, in parts": _parts(at_tube, "N"),
        "Couple at the attachment": couple_text(float(np.linalg.norm(couple)), " ")
        if has_couple
        else "none",
        "Couple, in parts": _parts(at_tube, "N·mm") if has_couple else "none",
        "Moment about the centre of resistance": couple_text(float(np.linalg.norm(moment)), " "),
        "Moment, in parts": _parts(at_centre, "N·mm"),
        "Moment-to-force ratio there": f"{three_digits(unit['moment_to_force_mm'])} mm",
    }


def _parts(words: list[Any], unit: str) -> str:
    chosen = [word for word in words if word.unit == unit]
    largest = max(word.size for word in chosen)
    shown = [word for word in chosen if word.size > _SHOWN * largest]
    return "; ".join(word.text for word in sorted(shown, key=lambda word: -word.size))


def movement_table(summary: Spec) -> Table:
    """Initial movement of each unit in anatomical words."""
    units = summary["units"].values()
    columns = [
        [word.text + bar for word, bar in zip(words, movement_bars(unit), strict=True)]
        for unit in units
        for words in [movement_words(unit["anatomical"])]
    ]
    rows = []
    for index, (quantity, *_) in enumerate(COMPONENTS.values()):
        rows.append((quantity[0].upper() + quantity[1:], *(c[index] for c in columns)))
    rows.append(
        ("From centre of resistance to axis of rotation", *(_axis_distance(unit) for unit in units))
    )
    caption = (
        "Initial movement, linear ligament: of the centre of resistance, along and about the "
        "unit's own axes; ± mesh error alone"
    )
    return Table(caption, ("", *_unit_heads(summary)), tuple(rows))


def teeth_table(summary: Spec) -> Table:
    """Initial movement of each tooth: the middle of its crown, and how it tips and turns."""
    rows = []
    for name, unit in summary["units"].items():
        for tooth, own in unit["movement_by_tooth"].items():
            words = movement_words(own["anatomical"] | own["mid_crown"])
            bars = crown_bars(unit, own)
            cells = (word.text + bar for word, bar in zip(words, bars, strict=True))
            rows.append((f"{tooth} ({name})", *cells))
    head = ("Tooth", *(quantity[0].upper() + quantity[1:] for quantity, *_ in COMPONENTS.values()))
    caption = (
        "Initial movement of each tooth, linear ligament: of the middle of its crown, along and "
        "about the tooth's own axes; ± mesh error alone"
    )
    return Table(caption, head, tuple(rows))


def bilinear_table(bilinear: Spec) -> Table:
    """The same movement in a ligament that stiffens with strain."""
    law, units = bilinear["law"], bilinear["units"]
    columns = [movement_words(unit["anatomical"]) for unit in units.values()]
    rows = [
        (quantity[0].upper() + quantity[1:], *(c[index].text for c in columns))
        for index, (quantity, *_) in enumerate(COMPONENTS.values())
    ]
    strains = (f"{100 * unit['largest_strain']:.1f} %" for unit in units.values())
    rows.append(("Largest strain of the ligament", *strains))
    caption = (
        f"The same loads in a bilinear ligament ({law['name'].replace('_', ' ')}: "
        f"{law['initial_MPa']:g} MPa up to {100 * law['knee_strain']:g} % of strain, "
        f"{law['stiff_MPa']:g} MPa beyond, Poisson's ratio {law['poisson_ratio']:g})"
    )
    return Table(caption, ("", *units), tuple(rows))


def _axis_distance(unit: Spec) -> str:
    if unit["centre_of_rotation_mm"] is None:
        return "pure translation"
    apart = np.subtract(unit["centre_of_rotation_mm"], unit["resistance_centre_mm"])
    return f"{three_digits(float(np.linalg.norm(apart)))} mm"


def ligament_table(summary: Spec) -> Table:
    """Stress of each tooth's ligament by share of volume, and extremes at quadrature points."""
    rows = []
    for name, unit in summary["units"].items():
        for tooth, record in unit["ligament"].items():
            for kind, key in (("hydrostatic", "hydrostatic_kPa"), ("von Mises", "von_mises_kPa")):
                bars = stress_bars(record, key.removesuffix("_kPa"))
                values = (
                    f"{record[key][s]:.2f}".replace("-", "−") + bars.get(s, "")
                    for s in ("p01", "p50", "p99", "min", "max")
                )
                rows.append((f"{tooth} ({name}), {kind}", *values))
    head = ("Tooth", "1 % of volume", "50 %", "99 %", "Lowest", "Highest")
    caption = (
        "Ligament stress, kPa, at quadrature points; tension positive; ± mesh error alone (no mesh "
        "settles the extremes: they have no bar)"
    )
    return Table(caption, head, tuple(rows))


def supports_table(supports: Mapping[int, Spec], summary: Spec) -> Table:
    """How stiffly each tooth is held, and where its centre of resistance lies."""
    bars = {
        int(tooth): row
        for unit in summary["units"].values()
        for tooth, row in unit["mesh_error"]["teeth"].items()
    }
    rows = []
    for tooth, support in supports.items():
        stiffness = np.diag(np.array(support["stiffness"]))
        thin = support["thin_layer"]["difference_percent"]
        fractions = support["resistance"]["depth_fraction_of_embedded_root"]
        bar = percent_text(bars[tooth]["stiffness_percent"])
        off_mm = bars[tooth]["resistance_centre_mm"]
        rows.append(
            (
                str(tooth),
                *(
                    f"{three_digits(stiffness[i])}{bar} ({thin[i]:+.1f} %)".replace("-", "−")
                    for i in range(3)
                ),
                f"{fractions['mesiodistal']:.2f} and {fractions['buccolingual']:.2f}"
                + ("" if off_mm is None else f" ±\u00a0{off_mm:.2g}\u00a0mm"),
                f"{support['resistance']['coupling_mm']:.2f} mm",
            )
        )
    head = (
        "Tooth",
        "Mesially, N/mm",
        "Buccally, N/mm",
        "Occlusally, N/mm",
        "Centre of resistance, mesiodistal and buccolingual force",
        "Translation a pure couple leaves, per radian",
    )
    caption = (
        "Supports: force for a translation without rotation (in brackets by how much thin-layer "
        "theory differs), and depth of the centre of resistance below the crest as a share of the "
        "embedded root; ± mesh error alone"
    )
    return Table(caption, head, tuple(rows))


def mesh_table(supports: Mapping[int, Spec]) -> Table:
    """Elements and their quality, tooth by tooth and region by region."""
    rows = [
        (
            f"{tooth}, {region['region']}",
            str(region["elements"]),
            f"{region['volume_mm3']:.4g}",
            f"{region['gamma_min']:.2f}",
            f"{region['gamma_median']:.2f}",
            str(support["unknowns"]),
        )
        for tooth, support in supports.items()
        for region in support["mesh"]
    ]
    head = (
        "Tooth and region",
        "Elements",
        "Volume, mm³",
        "Smallest gamma",
        "Median gamma",
        "Unknowns of the support",
    )
    return Table(
        "Meshes; gamma is 1 for a regular tetrahedron, 0 for a flat one", head, tuple(rows)
    )


def checks_table(checks: pd.DataFrame) -> Table:
    """What was computed beside what it has to be."""
    rows = [
        (
            f"{row['what']} ({row['id']})",
            f"{row['computed']:.4g}",
            f"{row['reference']:.4g}",
            f"{row['relative_error']:.1e} (at most {row['tolerance']:.0e})",
            "passed" if row["passed"] else "FAILED",
            str(row["source"]),
        )
        for row in checks.to_dict("records")
    ]
    head = ("Check", "Computed", "Has to be", "Relative error", "Result", "Source")
    return Table("Checks of this case", head, tuple(rows))


def provenance_table(provenance: Spec) -> Table:
    """Code, platform, libraries and stages."""
    code, stages = provenance["code"], provenance["stages"]
    libraries = ", ".join(f"{name} {number}" for name, number in provenance["libraries"].items())
    supports = ", ".join(f"{tooth}: {name}" for tooth, name in stages["supports"].items())
    rows = (
        ("Code", f"version {code['version']}, commit {code['commit']}"),
        ("Supports", supports),
        ("Wire", stages["wire"]),
        ("Code of stages", ", ".join(f"{name} {key}" for name, key in stages["code"].items())),
        ("Python", provenance["python"]),
        ("Platform", provenance["platform"]),
        ("Libraries", libraries),
    )
    return Table("Where these numbers come from", ("", "Value"), rows)


def _unit_heads(summary: Spec) -> list[str]:
    return [f"{name} ({unit['role']})" for name, unit in summary["units"].items()]
