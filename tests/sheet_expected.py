"""Which numbers of the records each part of a sheet has to show, computed anew."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.sheet_blocks import Block
from workflow.figures_view import directions
from workflow.sheet_records import SheetRecords

GF_PER_N = 1 / 9.80665e-3  # standard gravity, exact by definition
_SUFFIXES = {
    "N_per_mm": "N/mm",
    "Nmm": "N·mm",
    "N": "N",
    "um": "µm",
    "mrad": "mrad",
    "deg": "°",
    "mm": "mm",
    "kPa": "kPa",
    "MPa": "MPa",
    "percent": "%",
    "mm3": "mm³",
}
_SHARES = {"yield_ratio", "share", "largest_strain", "knee_strain", "reactivate_share"}
_MOVEMENT = ("extrusion_um", "mesial_um", "buccal_um", "mesial_tip_mrad", "buccal_tip_mrad")
_MOVEMENT += ("mesial_in_mrad",)
_ROWS = ("Along the tooth", "Along the arch", "Across the arch", "Tip along the arch")
_ROWS += ("Tip across the arch", "Turn about the long axis")
_SHOWN_PART = 0.02


@dataclass(frozen=True)
class Quantity:
    """A number of the records with its unit."""

    value: float
    unit: str


def leaves(record: Any, unit: str = "") -> Iterator[Quantity]:
    """All numbers below a record with the units in their keys; of vectors their lengths too."""
    if isinstance(record, dict):
        for key, value in record.items():
            yield from leaves(value, "share" if key in _SHARES else _unit(str(key), unit))
    elif isinstance(record, (list, tuple)):
        if len(record) == 3 and all(isinstance(v, (int, float)) for v in record):
            yield Quantity(norm(record), unit)
        for value in record:
            yield from leaves(value, unit)
    elif isinstance(record, (int, float)) and not isinstance(record, bool):
        yield from _ways(float(record), unit)


def _ways(value: float, unit: str) -> Iterator[Quantity]:
    """A number as it may be written: by its size, a share in percent, mrad in degrees."""
    if unit == "share":
        yield from (Quantity(value, ""), Quantity(100 * value, "%"))
        return
    yield from (Quantity(value, unit), Quantity(abs(value), unit))
    if unit == "mrad":
        yield Quantity(abs(degrees(value)), "°")


def _unit(key: str, above: str) -> str:
    for suffix, unit in _SUFFIXES.items():
        if key == suffix or key.endswith(f"_{suffix}"):
            return unit
    return above


def norm(vector: Any) -> float:
    """Length of a vector."""
    return float(np.linalg.norm(np.asarray(vector, dtype=float)))


def degrees(mrad: float) -> float:
    """Angle in degrees."""
    return float(np.degrees(1e-3 * mrad))


def teeth_of(records: SheetRecords) -> list[int]:
    """Numbers of all teeth of a case, missing ones too."""
    return [*map(int, records.case["teeth"]), *records.case["missing"]]


def _axes(records: SheetRecords) -> np.ndarray:
    words = directions(records.case, records.solved)
    return np.column_stack([words.mesial, words.buccal, words.occlusal])


def _unit_of(records: SheetRecords, block: Block) -> dict[str, Any]:
    return records.summary["units"][block.column.rsplit(" (", 1)[0]]


def _motion(unit: dict[str, Any], kind: str) -> float:
    return max(abs(v) for k, v in unit["anatomical"].items() if k.endswith(kind))


# The answer


def answer(records: SheetRecords, block: Block) -> list[Quantity] | None:
    """One paragraph a unit, one of the wire; five numbers."""
    units = list(records.summary["units"].values())
    wire = records.summary["wire"]
    if block.kind == "dd":
        first = [
            [Quantity(norm(wire["force_N"]), "N")],
            [Quantity(norm(wire["couple_Nmm"]), "N·mm")],
            [Quantity(100 * wire["yield_ratio"], "%")],
        ]
        return [*first, *map(_leading, units)][block.number]
    if block.kind == "p" and block.number < len(units):
        unit = units[block.number]
        couple, moment = (
            norm(unit[f"moment_at_{place}_Nmm"]) for place in ("attachment", "resistance")
        )
        has_couple = couple > 1e-6 * moment
        loads = [Quantity(couple, "N·mm")] if has_couple else []
        return [*_leading(unit), *loads, Quantity(norm(unit["force_N"]), "N")]
    if block.kind == "p" and block.number == len(units):
        left = wire["permanent_set_mm"]
        kept = [Quantity(left, "mm")] if left is not None and left >= 5e-4 else []
        return [Quantity(100 * wire["yield_ratio"], "%"), *kept]
    return []


def _leading(unit: dict[str, Any]) -> list[Quantity]:
    shift, turn = _motion(unit, "_um"), _motion(unit, "_mrad")
    return [Quantity(shift, "µm"), Quantity(turn, "mrad"), Quantity(degrees(turn), "°")]


# Loads


def loads(records: SheetRecords, block: Block) -> list[Quantity]:
    """Cells of the loads on the units."""
    unit, axes = _unit_of(records, block), _axes(records)
    force, couple, moment = (
        np.array(unit[key])
        for key in ("force_N", "moment_at_attachment_Nmm", "moment_at_resistance_Nmm")
    )
    if norm(couple) <= 1e-6 * norm(moment):
        couple = np.zeros(3)
    across = records.summary["wire"]["contact_forces_N"]
    return {
        "Force": [Quantity(norm(force), "N")],
        "Force, in parts": _parts(axes.T @ force, "N"),
        "Couple at the attachment": [Quantity(norm(couple), "N·mm")] if couple.any() else [],
        "Couple, in parts": _parts(axes.T @ couple, "N·mm"),
        "Moment about the centre of resistance": [Quantity(norm(moment), "N·mm")],
        "Moment, in parts": _parts(axes.T @ moment, "N·mm"),
        "Moment-to-force ratio there": [Quantity(unit["moment_to_force_mm"], "mm")],
        "Forces across the two mouths of the tube": [Quantity(f, "N") for f in across]
        if unit["contact"] == "two-point"
        else [],
    }[block.row]


def _parts(components: np.ndarray, unit: str) -> list[Quantity]:
    sizes = sorted(np.abs(components), reverse=True)
    return [Quantity(float(size), unit) for size in sizes if size > _SHOWN_PART * sizes[0]]


# Wire


def wire(records: SheetRecords, block: Block) -> list[Quantity] | None:
    """Cells of the engaged wire."""
    wire = records.summary["wire"]
    keys = {"Force": ("force_N", "N"), "Couple": ("couple_Nmm", "N·mm")}
    if block.row in keys:
        key, unit = keys[block.row]
        exact = norm(wire[key])
        if block.column == "Finite rotations":
            return [Quantity(exact, unit)]
        model = "linear_as_bent" if "as bent" in block.column else "linear_theory"
        other = wire[model][key]
        return [Quantity(other, unit), Quantity(abs(100 * (other / exact - 1)), "%")]
    if block.column != "Finite rotations":
        return []
    strength = records.case["wire"]["alloy"]["yield_strength_MPa"]
    share = [Quantity(100 * wire["yield_ratio"], "%"), Quantity(strength, "MPa")]
    left, play = wire["permanent_set_mm"], wire["play"]
    rows = {
        "Length along the wire": [Quantity(wire["length_mm"], "mm")],
        "Peak stress": [Quantity(wire["peak_stress_MPa"], "MPa")],
        "Share of yield": share,
        "Share of the plateau's start": share,
        "Permanent set": [] if left is None or left < 5e-4 else [Quantity(left, "mm")],
        "Mesh error of its stiffness": _bar(wire["mesh_error"]["stiffness_percent"]),
    }
    if play is not None:
        torsion = play["torsion_deg"]
        angles = [play["height_deg"], play["width_deg"], *([] if torsion is None else [torsion])]
        rows["Play in the tube, to each side"] = [Quantity(angle, "°") for angle in angles]
        *walls, last = [0.0, *play["closings_mm"]]
        listed = [*(Quantity(at, "") for at in walls[1:]), Quantity(last, "mm")]
        rows["Walls reached at an activation of"] = listed
    if wire["friction"] is not None:
        for name, way in (("activating", "activating"), ("letting back", "letting_back")):
            rubbed = wire["friction"].get(way) or {"force_N": 0.0, "couple_Nmm": 0.0}
            force, couple = rubbed["force_N"], rubbed["couple_Nmm"]
            rows[f"With friction, {name}"] = [Quantity(force, "N"), Quantity(couple, "N·mm")]
            rows["With friction"] = [Quantity(force, "N")]
    return rows[block.row]


def _bar(percent: float | None) -> list[Quantity]:
    return [] if percent is None else [Quantity(percent, "%")]


# Movement


def movement(records: SheetRecords, block: Block) -> list[Quantity]:
    """Cells of the movement of units and teeth, in the linear and in the bilinear ligament."""
    if block.caption.startswith("The same loads"):
        unit = records.bilinear["units"][block.column]
        if block.row not in _ROWS:
            return [Quantity(100 * unit["largest_strain"], "%")]
        return _component(unit["anatomical"], _ROWS.index(block.row))[:1]
    if block.caption.startswith("Initial movement of each tooth"):
        tooth, name = block.row.rstrip(")").split(" (")
        unit = records.summary["units"][name]
        own = unit["movement_by_tooth"][tooth]
        index = _ROWS.index(block.column)
        shown = _component(own["anatomical"] | own["mid_crown"], index)[:1]
        return shown + _crown_bar(unit, own, index, shown[0].value)
    unit = _unit_of(records, block)
    if block.row not in _ROWS:
        centre = unit["centre_of_rotation_mm"]
        if centre is None:
            return []
        return [Quantity(norm(np.subtract(centre, unit["resistance_centre_mm"])), "mm")]
    index = _ROWS.index(block.row)
    shown = _component(unit["anatomical"], index)
    key, whole = _whole(unit, index)
    return shown + _share(unit["mesh_error"][key], whole, shown[0].value)


def _component(anatomical: dict[str, float], index: int) -> list[Quantity]:
    value = abs(anatomical[_MOVEMENT[index]])
    if index < 3:
        return [Quantity(value, "µm")]
    return [Quantity(value, "mrad"), Quantity(degrees(value), "°")]


def _whole(unit: dict[str, Any], index: int) -> tuple[str, float]:
    if index < 3:
        return "displacement_percent", norm(unit["displacement_at_resistance_um"])
    return "rotation_percent", norm(unit["rotation_mrad"])


def _share(percent: float | None, whole: float, part: float) -> list[Quantity]:
    return [] if percent is None or part == 0 else [Quantity(percent * whole / abs(part), "%")]


def _crown_bar(
    unit: dict[str, Any], own: dict[str, Any], index: int, part: float
) -> list[Quantity]:
    bars = unit["mesh_error"]
    if index >= 3:
        return _share(bars["rotation_percent"], norm(unit["rotation_mrad"]), part)
    if bars["displacement_percent"] is None or bars["rotation_percent"] is None:
        return []
    shift, crown = (
        norm(unit["displacement_at_resistance_um"]),
        norm(list(own["mid_crown"].values())),
    )
    error = bars["displacement_percent"] * shift + bars["rotation_percent"] * (crown + shift)
    return _share(error, 1.0, part)


# Stress, supports, checks


def stress(records: SheetRecords, block: Block) -> list[Quantity]:
    """Cells of the ligament's stress."""
    label, kind = block.row.split("), ")
    tooth, name = label.split(" (")
    record = records.summary["units"][name]["ligament"][tooth]
    key = {"hydrostatic": "hydrostatic", "von Mises": "von_mises"}[kind]
    heads = {"1 % of volume": "p01", "50 %": "p50", "99 %": "p99"}
    share = heads.get(block.column, {"Lowest": "min", "Highest": "max"}.get(block.column, ""))
    value = record[f"{key}_kPa"][share]
    percents = record["mesh_error"][f"{key}_percent"]
    if percents is None or share not in percents:
        return [Quantity(value, "kPa")]
    whole = abs(record["von_mises_kPa"]["p99"])
    if key == "hydrostatic":
        whole = max(whole, *(abs(record["hydrostatic_kPa"][end]) for end in ("p01", "p99")))
    return [Quantity(value, "kPa"), *_share(percents[share], whole, value)]


def errors(records: SheetRecords, block: Block) -> list[Quantity]:
    """Cells of supports and meshes."""
    if block.caption.startswith("Meshes"):
        tooth, region = block.row.split(", ")
        support = records.supports[int(tooth)]
        row = next(row for row in support["mesh"] if row["region"] == region)
        return {
            "Elements": [Quantity(row["elements"], "")],
            "Volume, mm³": [Quantity(row["volume_mm3"], "")],
            "Smallest gamma": [Quantity(row["gamma_min"], "")],
            "Median gamma": [Quantity(row["gamma_median"], "")],
            "Unknowns of the support": [Quantity(support["unknowns"], "")],
        }[block.column]
    tooth = int(block.column)
    support = records.supports[tooth]
    bars = next(
        unit["mesh_error"]["teeth"][str(tooth)]
        for unit in records.summary["units"].values()
        if str(tooth) in unit["mesh_error"]["teeth"]
    )
    way = block.row.split(",")[0]
    axis = {"Mesially": 0, "Buccally": 1, "Occlusally": 2}.get(way)
    if axis is not None and "thin-layer" in block.row:
        return [Quantity(support["thin_layer"]["difference_percent"][axis], "%")]
    if axis is not None:
        rate = support["stiffness"][axis][axis]
        return [Quantity(rate, "N/mm"), *_bar(bars["stiffness_percent"])]
    if block.row.startswith("Translation"):
        return [Quantity(support["resistance"]["coupling_mm"], "mm")]
    force = "mesiodistal" if "mesiodistal" in block.row else "buccolingual"
    off = bars["resistance_centre_mm"]
    depth = support["resistance"]["depth_fraction_of_embedded_root"][force]
    return [Quantity(depth, ""), *([] if off is None else [Quantity(off, "mm")])]


def checks(records: SheetRecords, block: Block) -> list[Quantity]:
    """Cells of the checks."""
    check_id = block.row.rsplit(" (", 1)[1].rstrip(")")
    row = next(row for row in records.checks.to_dict("records") if row["id"] == check_id)
    unit = row["what"].rsplit(", ", 1)[-1]
    unit = unit if unit in {"N", "N·mm", "N/mm"} else ""
    return {
        "Computed": [Quantity(row["computed"], unit)],
        "Has to be": [Quantity(row["reference"], unit)],
        "Relative error": [Quantity(row["relative_error"], ""), Quantity(row["tolerance"], "")],
        "Result": [],
        "Source": [],
    }[block.column]


EXACT: dict[str, Callable[[SheetRecords, Block], list[Quantity] | None]] = {
    "answer": answer,
    "loads cell": loads,
    "wire cell": wire,
    "movement cell": movement,
    "stress cell": stress,
    "errors cell": errors,
    "checks cell": checks,
}


# Sentences and captions: the records that belong to them


def _nothing(records: SheetRecords) -> list[list[Quantity]]:
    return []


def _warned(records: SheetRecords) -> list[list[Quantity]]:
    counts = (len(records.summary["warnings"]), len(records.case["further"]))
    return [[Quantity(count, "") for count in counts]]


def _case(records: SheetRecords) -> list[list[Quantity]]:
    ligament, solved = records.case["ligament"], records.solved
    modulus, ratio = ligament["youngs_modulus_MPa"], ligament["poisson_ratio"]
    constrained = modulus * (1 - ratio) / ((1 + ratio) * (1 - 2 * ratio))
    lengths = [
        sum(arc["length_mm"] for arc in part["arcs"]) for part in solved["wire"]["as_bent"]["parts"]
    ]
    lengths.append(sum(lengths))
    sizes = [Quantity(size, unit) for size in lengths for unit in ("", "mm")]
    plain = [Quantity(q.value, "") for q in leaves(records.case)]
    return [
        list(leaves(records.case)),
        list(leaves(_chosen(solved))),
        plain,
        sizes,
        [Quantity(constrained, "MPa")],
    ]


def _chosen(solved: dict[str, Any]) -> dict[str, Any]:
    return {key: solved[key] for key in ("offset_mm", "span_mm", "bend_deg")}


def _loads(records: SheetRecords) -> list[list[Quantity]]:
    axes = _axes(records)
    summary = records.summary
    vectors = [summary["wire"]["force_N"], *(u["force_N"] for u in summary["units"].values())]
    parts = [Quantity(float(abs(v)), "N") for f in vectors for v in axes.T @ np.array(f)]
    force, linear = norm(summary["wire"]["force_N"]), summary["wire"]["linear_theory"]["force_N"]
    more = [Quantity(abs(100 * (linear / force - 1)), "%")]
    own = list(leaves(_chosen(records.solved)))
    return [list(leaves(summary["wire"])), _whole_loads(summary), parts, own, more]


def _whole_loads(summary: dict[str, Any]) -> list[Quantity]:
    keys = {"force_N": "N", "moment_at_attachment_Nmm": "N·mm"}
    return [
        Quantity(norm(unit[key]), u)
        for unit in summary["units"].values()
        for key, u in keys.items()
    ]


def _appliance(records: SheetRecords) -> list[list[Quantity]]:
    """Words beside the scene: scale and enlargement are the scene's own."""
    scenes = records.scenes
    scale, moved = scenes["scale"], scenes["movement"]
    own = [Quantity(scale["bar_N"], "N"), Quantity(scale["bar_Nmm"], "N·mm")]
    own += [Quantity(moved["factor"], ""), Quantity(1e3 * moved["largest_mm"], "µm")]
    return [own, *_loads(records), *_moved(records)]


def _coloured(records: SheetRecords) -> list[list[Quantity]]:
    """Means over elements, which only the scene has."""
    return [list(leaves(tooth["hydrostatic_kPa"], "kPa")) for tooth in records.scenes["teeth"]]


def _moved(records: SheetRecords) -> list[list[Quantity]]:
    return [list(leaves(unit["anatomical"])) for unit in records.summary["units"].values()]


def _stressed(records: SheetRecords) -> list[list[Quantity]]:
    return [list(leaves(unit["ligament"])) for unit in records.summary["units"].values()]


def _bilinear(records: SheetRecords) -> list[list[Quantity]]:
    return [list(leaves(records.bilinear["law"]))]


def _curve(records: SheetRecords) -> list[list[Quantity]]:
    curve, upper = records.curve, records.curve["band"]["upper"]
    ends = (
        [] if upper is None else [upper["activation_mm"] - curve["band"]["lower"]["activation_mm"]]
    )
    plain = [Quantity(q.value, "") for q in leaves(curve["band"])]
    return [list(leaves(curve)), plain, [Quantity(width, "mm") for width in ends]]


def _meshes(records: SheetRecords) -> list[list[Quantity]]:
    support = records.supports[int(records.case["two_point"]["tooth"])]
    whole = sum(region["elements"] for region in support["mesh"])
    plain = [Quantity(count, "") for count in (whole, support["unknowns"])]
    return [list(leaves(support["mesh"])), plain]


def _course(records: SheetRecords) -> list[list[Quantity]]:
    if records.course is None:
        return []
    weeks = [
        Quantity(w, u)
        for w in records.course["weeks_at_canine_rates"]["end"]
        for u in ("", "weeks")
    ]
    return [list(leaves(records.course)), weeks]


POOLS: dict[str, Callable[[SheetRecords], list[list[Quantity]]]] = {
    "header": _warned,
    "footer": _nothing,
    "nav": _nothing,
    "": _nothing,
    "answer": _nothing,
    "appliance": _appliance,
    "appliance cell": _case,
    "loads": _nothing,
    "stress": _coloured,
    "wire": _case,
    "movement": _bilinear,
    "course": _nothing,
    "errors": _nothing,
    "checks": _nothing,
    "assumptions": _case,
    "warnings": _nothing,
    "caution": _nothing,
    "provenance": _nothing,
    "provenance cell": _nothing,
    "figure-free_body": _loads,
    "figure-appliance_3d": _loads,
    "figure-movement": _moved,
    "figure-force_activation": _curve,
    "figure-wire_deflection": _loads,
    "figure-ligament_stress": _stressed,
    "figure-mesh_section": _meshes,
    "figure-course": _course,
}
