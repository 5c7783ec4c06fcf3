"""The first table of the sheet: the case in plain words."""

from __future__ import annotations

from pathlib import Path

from workflow.sheet_amounts import amount
from workflow.sheet_tables import Table
from workflow.sheet_wire import hook_text, shape_text, tube_text
from workflow.specs import Spec

# Key of a tooth's place: words, word if positive and if negative, unit.
_PLACES = {
    "mesial_tip_deg": ("tipped {} by", ("mesially", "distally"), "°"),
    "buccal_tip_deg": ("tipped {} by", ("buccally", "lingually"), "°"),
    "mesial_in_deg": ("turned {} by", ("mesial-in", "mesial-out"), "°"),
    "mesial_mm": ("shifted {} by", ("mesially", "distally"), " mm"),
    "buccal_mm": ("shifted {} by", ("buccally", "lingually"), " mm"),
    "occlusal_mm": ("shifted {} by", ("occlusally", "apically"), " mm"),
}


def setup_table(case: Spec, solved: Spec) -> Table:
    """The case in plain words."""
    wire = case["wire"]
    alloy, section, activation = wire["alloy"], wire["section"], wire["activation"]
    offset = f"{solved['offset_mm']:.3g} mm"
    if activation["couple_Nmm"] is not None:
        offset += f", found for a couple of {amount(activation['couple_Nmm'], 'N·mm')}"
    if activation["force_N"] is not None:
        offset += f", found for a force of {amount(activation['force_N'], 'N')}"
    if activation["trial_share"] > 1:
        offset += f", after a trial of {activation['trial_share']:g} times as much"
    rows = [
        (f"Unit {name}", f"{_teeth(unit)}; {unit['role']}") for name, unit in case["units"].items()
    ]
    rows += [
        ("Missing teeth", _list(case["missing"]) or "none"),
        ("Positions", _positions(case)),
        ("Shapes of the teeth", _shapes(case)),
        ("Two-point contact", tube_text(case)),
        ("One-point contact", hook_text(case, _between(case))),
        (
            "Wire",
            f"{alloy['name'].replace('_', ' ')}, {section['shape']} "
            f"{_size(section)} ({section['name']}), E = {alloy['youngs_modulus_MPa'] / 1e3:g} GPa, "
            f"yield {alloy['yield_strength_MPa']:g} MPa",
        ),
        ("Shape as bent", shape_text(solved)),
        *_further_rows(case),
        *_mirror_rows(case),
        ("Span", f"{solved['span_mm']:.3g} mm from the mouth of the tube to the {_other(case)}"),
        ("Activation", offset),
        (
            "Ligament",
            f"{case['ligament']['law'].replace('_', ' ')}, {thickness_text(case['ligament'])}",
        ),
        ("Bone crest", _crests(case)),
    ]
    return Table("The case", ("", "Value"), tuple(rows))


def _further_rows(case: Spec) -> list[tuple[str, str]]:
    ways = {"bar": "where the wire slides along the arch", "bracket": "in its bracket, by a couple"}
    return [
        (
            f"Further hold on {held['unit']}",
            f"at tooth {held['tooth']}, {ways[held['contact']]}; the loads are no longer couple "
            "and distance alone",
        )
        for held in case["further"]
    ]


def _mirror_rows(case: Spec) -> list[tuple[str, str]]:
    if not case["mirror_image"]:
        return []
    unit = case["one_point"]["unit"]
    text = (
        "a second wire from the other side, the mirror image of this one; force and couple are "
        f"those of each wire, the loads on unit {unit} those of both together"
    )
    return [("Mirror image", text)]


def _other(case: Spec) -> str:
    return "bracket" if case["one_point"]["contact"] == "bracket" else "hook"


def _teeth(unit: Spec) -> str:
    teeth = unit["teeth"]
    fixed = ", held fixed" if unit["support"] == "fixed" else ""
    if len(teeth) == 1:
        return f"tooth {teeth[0]}{fixed}"
    joined = "moving as one body" if unit["joined_by"] is None else "joined by a wire"
    return f"teeth {_list(teeth)}, {joined}{fixed}"


def _list(teeth: list[int]) -> str:
    return ", ".join(map(str, teeth))


def _between(case: Spec) -> str:
    one = case["one_point"]
    if case["wire"]["span_mm"] is not None:
        return ", placed by its span"
    if one["tooth"]:
        return f" at {one['tooth']}"
    return f" between {one['between'][0]} and {one['between'][1]}"


def _size(section: Spec) -> str:
    if section["shape"] == "round":
        return f"{section['height_mm']:.4g} mm"
    return f"{section['height_mm']:.4g} × {section['width_mm']:.4g} mm"


def _positions(case: Spec) -> str:
    shown = []
    for tooth, place in case["teeth"].items():
        parts = [
            f"{word.format(ways[0] if place[key] > 0 else ways[1])} {abs(place[key]):g}{unit}"
            for key, (word, ways, unit) in _PLACES.items()
            if place[key]
        ]
        shown += [f"{tooth} {', '.join(parts)}"] if parts else []
    return "; ".join(shown) or "all teeth upright in the arch"


def _shapes(case: Spec) -> str:
    shown = []
    for tooth, own in case["teeth"].items():
        if own["scan"]:
            shown.append(f"{tooth}: scan {Path(own['scan']['file']).name}")
            continue
        parts = [f"{key} {value:g}" for key, value in own["dimensions"].items()]
        parts += [f"{own['roots']} root{'s' if own['roots'] > 1 else ''}"] if own["roots"] else []
        shown += [f"{tooth}: {', '.join(parts)}"] if parts else []
    return "; ".join([*shown, "otherwise published means"]) if shown else "published means"


def _crests(case: Spec) -> str:
    """Crest of the bone, teeth of like crests together."""
    teeth: dict[str, list[str]] = {}
    for tooth, own in case["teeth"].items():
        sides, scan = own["crest_by_side_mm"], own["scan"] or {}
        if scan.get("crest_plane"):
            text = "a plane given in its scan"
        elif scan.get("crest_line"):
            text = f"drawn, {Path(scan['crest_line']['file']).name}"
        elif sides is None:
            text = f"{own['crest_depth_mm']:g} mm below the cervix"
        else:
            listed = (f"{name.removesuffix('_mm')}ly {d:g}" for name, d in sides.items())
            text = f"{', '.join(listed)} mm below the cervix"
        teeth.setdefault(text, []).append(tooth)
    if len(teeth) == 1:
        return next(iter(teeth))
    return "; ".join(f"{', '.join(numbers)}: {text}" for text, numbers in teeth.items())


def thickness_text(ligament: Spec) -> str:
    """Thickness of the ligament, one value or three."""
    if ligament["profile_mm"] is None:
        return f"{ligament['thickness_mm']:g} mm"
    crest, middle, apex = ligament["profile_mm"]
    return f"{crest:g} mm at the crest, {middle:g} at mid-root, {apex:g} at the apex"


def tissue_sentences(case: Spec) -> list[str]:
    """What tooth and bone are taken to be."""
    body, bone = case["tooth_body"], case["bone"]
    tooth, socket = "Teeth are rigid.", "The socket wall is rigid."
    if body["elastic"]:
        cap = body["enamel_mm"]
        enamel = f", enamel cap of {cap:g} mm ({_constants(body['enamel'])})" if cap else ""
        tooth = (
            f"Teeth are elastic: dentine ({_constants(body['dentine'])}){enamel}. The load enters "
            "spread over the crown, and a tooth's movement is the mean one of its crown."
        )
    if bone["elastic"]:
        socket = (
            f"Bone is elastic: a block around each socket, cortical ({_constants(bone['cortical'])}"
            f") within {bone['cortical_mm']:g} mm of its buccal, lingual and crestal face, "
            f"cancellous ({_constants(bone['cancellous'])}) inside, held at its mesial, distal and "
            "apical faces."
        )
    if body["elastic"] or bone["elastic"]:
        socket += " In the bilinear ligament tooth and socket wall stay rigid."
    return [tooth, socket, *(_joint(name, unit) for name, unit in case["units"].items())]


def _joint(name: str, unit: Spec) -> str:
    if len(unit["teeth"]) == 1:
        return f"Unit {name} is one tooth."
    wire = unit["joined_by"]
    if wire is None:
        return f"The teeth of unit {name} move as one body."
    return (
        f"The teeth of unit {name} are joined by a wire ({wire['alloy']['name'].replace('_', ' ')},"
        f" {_size(wire['section'])}) that their brackets hold without play; the unit's movement is "
        "that of the place where it is held."
    )


def _constants(row: Spec) -> str:
    return f"E = {row['youngs_modulus_MPa'] / 1e3:.3g} GPa, ν = {row['poisson_ratio']:g}"
