"""Reading a case file, and filling in its defaults.

Run ``python -m workflow.case FILE...`` to check files without computing anything.
"""

import sys
from collections.abc import Iterable, Mapping
from importlib import import_module
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from workflow.case_checks import cross_problems
from workflow.case_errors import CaseError
from workflow.case_models import DEFAULT_TUBE_MM, Case, JoiningWire, TwoPoint
from workflow.case_parts import Parts
from workflow.case_teeth import ToothPart
from workflow.case_tissues import Bone, LigamentPart, MeshPart, ToothBody
from workflow.case_wire import Wire
from workflow.catalogue import load_catalogue
from workflow.scanned import file_digest
from workflow.validation import examine, without
from workflow.yaml_files import reading

__all__ = ["Case", "CaseError", "load_case", "resolved", "validate_case"]

_CROSS_CHECKED = (
    "case",
    "teeth",
    "missing",
    "units",
    "two_point",
    "one_point",
    "wire",
    "mirror_image",
    "bone",
    "further",
    "course",
)
_HOOK_PLACES = {"wire.span_mm", "one_point.tooth"}  # wrong, they are no reason to ask for between


def load_case(path: str | Path) -> Case:
    """Read and check a case file.

    Parameters
    ----------
    path
        YAML file; its name before ``.yaml`` is the name of the case.

    Raises
    ------
    CaseError
        If anything is wrong; all problems at once, one line each.
    """
    path = Path(path)
    with reading(path) as content:
        return validate_case(content, str(path), path.stem)


def validate_case(data: Mapping[Any, Any], source: str, stem: str | None = None) -> Case:
    """Check the content of a case, as a study makes it from a base case and changed values.

    Parameters
    ----------
    data
        Content of a case file.
    source
        File to name in messages.
    stem
        Name that ``case`` must equal; None leaves it free.

    Raises
    ------
    CaseError
        If anything is wrong; all problems at once, one line each.
    """
    content: dict[str, Any] = _text_keys(data)
    found = examine(Case, content, source)
    parts = _readable_parts(without(content, found.wrong), source, stem)
    wrong = {problem.key for problem in found.problems}
    unplaced = "" if _HOOK_PLACES.isdisjoint(wrong) else "one_point.between"
    problems = found.problems + [p for p in cross_problems(parts) if p.key != unplaced]
    if problems or found.whole is None:
        raise CaseError(problems)
    return found.whole


def _text_keys(value: Any) -> Any:
    """Write every key as text, so that tooth numbers are named alike wherever they come from."""
    if isinstance(value, Mapping):
        return {str(key): _text_keys(inner) for key, inner in value.items()}
    return value


def _readable_parts(data: dict[str, Any], source: str, stem: str | None) -> Parts:
    parts: dict[str, Any] = {}
    for name in _CROSS_CHECKED:
        field = Case.model_fields[name]
        try:
            value = data[name] if name in data else field.get_default()
            parts[name] = TypeAdapter[Any](field.annotation or Any).validate_python(value)
        except ValidationError:
            parts[name] = None
    return Parts(source=source, stem=stem, **parts)


def resolved(case: Case) -> dict[str, Any]:
    """Everything a run depends on, with defaults filled in and catalogue rows in full.

    Parameters
    ----------
    case
        A checked case.

    Returns
    -------
    dict
        Plain values that JSON keeps unchanged. Sizes in mm, moduli in MPa; a wanted couple in
        N·mm and a wanted force in N whichever unit was written, None where another key was.
    """
    data: dict[str, Any] = case.model_dump(mode="json")
    data["teeth"] = {
        str(tooth): _tooth(case.teeth.get(tooth, ToothPart()), case.bone.crest_depth_mm)
        for tooth in case.used_teeth
    }

    for name, unit in case.units.items():
        if unit.joined_by is not None:
            data["units"][name]["joined_by"] = _wire_rows(unit.joined_by)
    data["wire"] |= _wire_rows(case.wire) | {
        "activation": {
            "offset_mm": case.wire.activation.offset_mm,
            "couple_Nmm": case.wire.activation.wanted_couple_Nmm,
            "force_N": case.wire.activation.wanted_force_N,
            "pulls": case.wire.activation.pulls,
            "trial_share": case.wire.activation.trial_share,
        },
    }
    data["two_point"] |= _tube(case.two_point)
    return data | _tissues(case.ligament, case.tooth_body, case.bone)


def default_tissues(teeth: Iterable[int]) -> dict[str, Any]:
    """What supports depend on, as in a resolved case that leaves everything at its default."""
    mesh, bone = MeshPart(), Bone()
    return {
        "teeth": {str(tooth): _tooth(ToothPart(), bone.crest_depth_mm) for tooth in teeth},
        "mesh": mesh.model_dump(mode="json"),
        **_tissues(LigamentPart(), ToothBody(), bone),
    }


def _tissues(ligament: LigamentPart, tooth_body: ToothBody, bone: Bone) -> dict[str, Any]:
    """Ligament, tooth and bone with the rows of the catalogue that they name."""
    data: dict[str, Any] = {
        "ligament": _ligament(ligament),
        "tooth_body": tooth_body.model_dump(mode="json"),
        "bone": bone.model_dump(mode="json"),
    }
    for part, names in (
        ("tooth_body", ("dentine", "enamel")),
        ("bone", ("cortical", "cancellous")),
    ):
        for name in names:
            tissue = data[part][name]
            row = load_catalogue().hard_tissues[tissue].model_dump(mode="json")
            data[part][name] = {"name": tissue} | row
    return data


def _tube(part: TwoPoint) -> dict[str, Any]:
    """Length of the tube, and its slot where an attachment is named."""
    if part.attachment is None:
        return {"tube_length_mm": part.tube_length_mm or DEFAULT_TUBE_MM, "slot": None}
    row = load_catalogue().attachments[part.attachment]
    slot = {"name": part.attachment, "height_mm": row.slot_height_mm, "width_mm": row.slot_width_mm}
    return {"tube_length_mm": part.tube_length_mm or row.length_mm, "slot": slot}


def _wire_rows(part: Wire | JoiningWire) -> dict[str, Any]:
    """Rows of the alloy and the section of a wire."""
    catalogue = load_catalogue()
    section = catalogue.sections[part.section]
    return {
        "alloy": {"name": part.alloy} | catalogue.alloys[part.alloy].model_dump(mode="json"),
        "section": {
            "name": part.section,
            "shape": section.shape,
            "height_mm": section.height_mm,
            "width_mm": section.width_mm,
            "corner_radius_mm": section.corner_radius_mm,
            "source": section.source,
        },
    }


def _tooth(part: ToothPart, crest_depth_mm: float) -> dict[str, Any]:
    """Values of a tooth, its crest that of the bone where it has none of its own."""
    own = part.model_dump(mode="json")
    scan = part.scan
    drawn = scan is not None and (scan.crest_plane is not None or scan.crest_line is not None)
    if part.crest_depth_mm is None and part.crest_by_side_mm is None and not drawn:
        own["crest_depth_mm"] = crest_depth_mm
    if scan is not None:
        own["scan"]["sha256"] = file_digest(scan.file)
        if scan.crest_line is not None:
            line = {"file": scan.crest_line, "sha256": file_digest(scan.crest_line)}
            own["scan"]["crest_line"] = line
    return own


def _ligament(part: LigamentPart) -> dict[str, Any]:
    """Values of the law, replaced by those that the case sets itself."""
    law = load_catalogue().ligaments[part.law].model_dump(mode="json")
    own = part.model_dump(mode="json", exclude_none=True)
    replaced = sorted(set(own) & set(law))
    if replaced:
        law |= {"source": f"{law['source']}; {' and '.join(replaced)} set in the case"}
    bilinear = load_catalogue().bilinear_ligaments[part.bilinear_law].model_dump(mode="json")
    own["profile_mm"] = part.profile_mm and list(part.profile_mm)
    return law | own | {"bilinear_law": {"name": part.bilinear_law} | bilinear}


if __name__ == "__main__":
    # By name: stages that only read cases do not depend on all that the command checks.
    sys.exit(import_module("workflow.case_command").main())
