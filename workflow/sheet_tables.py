"""Tables of the sheet: the records of a case in plain words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from workflow.figures import three_digits
from workflow.figures_view import directions
from workflow.sheet_amounts import BESIDE, amount, four_digits
from workflow.sheet_answer import NO_COUPLE
from workflow.sheet_bars import crown_bars, movement_bars, percent_text, stress_bars
from workflow.specs import Spec
from workflow.words import COMPONENTS, Component, load_words, movement_words

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
    tube = " and ".join(amount(force, "N") for force in summary["wire"]["contact_forces_N"])
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
    has_couple = np.linalg.norm(couple) > NO_COUPLE * np.linalg.norm(moment)
    return {
        "Force": amount(float(np.linalg.norm(force)), "N"),
        "Force, in parts": _parts(at_tube, "N"),
        "Couple at the attachment": amount(float(np.linalg.norm(couple)), "N·mm")
        if has_couple
        else "none",
        "Couple, in parts": _parts(at_tube, "N·mm") if has_couple else "none",
        "Moment about the centre of resistance": amount(float(np.linalg.norm(moment)), "N·mm"),
        "Moment, in parts": _parts(at_centre, "N·mm"),
        "Moment-to-force ratio there": f"{three_digits(unit['moment_to_force_mm'])} mm",
    }


def _parts(words: list[Component], unit: str) -> str:
    chosen = [word for word in words if word.unit == unit]
    largest = max(word.size for word in chosen)
    shown = [word for word in chosen if word.size > _SHOWN * largest]
    ordered = sorted(shown, key=lambda word: -word.size)
    return "; ".join(f"{word.word} {amount(word.size, unit)}" for word in ordered)


def movement_table(summary: Spec) -> Table:
    """Initial movement of each unit in anatomical words."""
    units = summary["units"].values()
    columns = [
        [_in_degrees(word) + bar for word, bar in zip(words, movement_bars(unit), strict=True)]
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


def _in_degrees(word: Component) -> str:
    """A component in words, a rotation in degrees too."""
    if word.unit != "mrad":
        return word.text
    return f"{word.text}, {three_digits(np.degrees(1e-3 * word.size))}°"


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
                    amount(record[key][s], "kPa") + bars.get(s, "")
                    for s in ("p01", "p50", "p99", "min", "max")
                )
                rows.append((f"{tooth} ({name}), {kind}", *values))
    head = ("Tooth", "1 % of volume", "50 %", "99 %", "Lowest", "Highest")
    caption = (
        "Ligament stress at quadrature points; tension positive; ± mesh error alone (no mesh "
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
    columns = {
        str(tooth): _support_column(support, bars[tooth]) for tooth, support in supports.items()
    }
    names = next(iter(columns.values()))
    rows = tuple((name, *(column[name] for column in columns.values())) for name in names)
    caption = (
        "Supports of the teeth: force for a translation without rotation, per millimetre; depth of "
        "the centre of resistance below the crest, as a share of the embedded root; ± mesh error "
        "alone"
    )
    return Table(caption, ("Tooth", *columns), rows)


def _support_column(support: Spec, bars: Spec) -> dict[str, str]:
    stiffness = np.diag(np.array(support["stiffness"]))
    thin = support["thin_layer"]["difference_percent"]
    fractions = support["resistance"]["depth_fraction_of_embedded_root"]
    bar, off_mm = percent_text(bars["stiffness_percent"]), bars["resistance_centre_mm"]
    off = "" if off_mm is None else f" ±\u00a0{off_mm:.2g}\u00a0mm"
    column = {}
    for axis, way in enumerate(("Mesially", "Buccally", "Occlusally")):
        column[way] = amount(stiffness[axis], "N/mm") + bar
        column[f"{way}, by thin-layer theory"] = _signed_percent(thin[axis])
    for way in ("mesiodistal", "buccolingual"):
        column[f"Centre of resistance, {way} force"] = f"{fractions[way]:.2f}{off}"
    left_over = f"{support['resistance']['coupling_mm']:.2f} mm"
    return column | {"Translation a pure couple leaves, per radian": left_over}


def _signed_percent(percent: float) -> str:
    """By how much something differs, with its sign."""
    return f"{percent:+.1f} %".replace("-", "−")


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
            f"{what} ({row['id']})",
            show(row["computed"]),
            show(row["reference"]),
            f"{row['relative_error']:.1e} (at most {row['tolerance']:.0e})",
            "passed" if row["passed"] else "FAILED",
            str(row["source"]),
        )
        for row in checks.to_dict("records")
        for what, show in [_checked(row["what"])]
    ]
    head = ("Check", "Computed", "Has to be", "Relative error", "Result", "Source")
    return Table("Checks of this case", head, tuple(rows))


def _checked(what: str) -> tuple[str, Callable[[float], str]]:
    """What a check compares, without its unit, and how its numbers are written with it."""
    name, _, unit = what.rpartition(", ")
    if unit in BESIDE:
        return name, lambda value: amount(value, unit, four_digits)
    return what, four_digits


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
