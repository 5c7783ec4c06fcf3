"""The responses that a parameter study can keep: each with its unit in its name, and what it is.

``python -m workflow.sweep_responses`` lists them. Those of a unit begin with ``target`` or
``anchor``, its role, or ``two_point`` or ``one_point``, its contact; motions are those of its
centre of resistance. Those of a tooth end with its number, as
``resistance_mesiodistal_share_37``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import nan

import numpy as np

from workflow.case_errors import nearest
from workflow.specs import Spec
from workflow.sweep_answer import ANCHOR, ONE_POINT, TARGET, TWO_POINT, Answer, Moved
from workflow.units import GF_PER_N

BODIES = (TARGET, ANCHOR, TWO_POINT, ONE_POINT)
RATE, LIGAMENT, WIRE = "rate", "ligament", "wire"  # what has to be computed for a response
_OF_TOOTH = re.compile(r"(.+)_([1-4][1-8])$")


@dataclass(frozen=True)
class Response:
    """One number of a run.

    Attributes
    ----------
    name
        Its column; ends with its unit, or with ``ratio`` or ``share``.
    meaning
        What it is, in one line.
    value
        The number; NaN where there is none.
    needs
        What has to be computed for it.
    """

    name: str
    meaning: str
    value: Callable[[Answer], float]
    needs: frozenset[str] = frozenset()


def _of_wire(name: str, factor: float = 1.0) -> Callable[[Answer], float]:
    return lambda answer: factor * answer.wire.get(name, nan)


def _peak_stress_MPa(answer: Answer) -> float:
    strength = answer.case["wire"]["alloy"]["yield_strength_MPa"]
    return answer.wire.get("yield_ratio", nan) * float(strength)


_engaged = frozenset({WIRE})
_WIRE = (
    Response("force_N", "force on the one-point unit", _of_wire("force_N"), _engaged),
    Response("force_gf", "force on the one-point unit", _of_wire("force_N", GF_PER_N), _engaged),
    Response(
        "couple_Nmm",
        "moment on the two-point unit about the middle of its attachment",
        _of_wire("couple_Nmm"),
        _engaged,
    ),
    Response(
        "couple_gfmm",
        "moment on the two-point unit about the middle of its attachment",
        _of_wire("couple_Nmm", GF_PER_N),
        _engaged,
    ),
    Response(
        "yield_ratio",
        "peak stress of the wire over its yield strength",
        _of_wire("yield_ratio"),
        _engaged,
    ),
    Response("peak_stress_MPa", "peak stress of the wire", _peak_stress_MPa, _engaged),
    Response(
        "rate_N_per_mm",
        "slope of force over activation of the wire as bent, over the last twentieth of it",
        _of_wire("rate_N_per_mm"),
        frozenset({WIRE, RATE}),
    ),
    Response(
        "span_mm", "distance from the tube's mouth to the hook", _of_wire("span_mm"), _engaged
    ),
    Response(
        "offset_mm",
        "distance that the wire's end is brought to its hook",
        _of_wire("offset_mm"),
        _engaged,
    ),
)


def _ratio_mm(unit: Moved) -> float:
    force, moment = np.linalg.norm(unit.wrench[:3]), np.linalg.norm(unit.wrench[3:])
    return float(moment / force) if force > 0 else nan


def _percentile(number: int) -> Callable[[Moved], float]:
    return lambda unit: nan if unit.hydrostatic_kPa is None else unit.hydrostatic_kPa[number]


_PERCENTILE = "hydrostatic stress of the ligament that {} of its volume stays below"
_COMPONENTS: dict[str, tuple[str, Callable[[Moved], float]]] = {
    "extrusion_um": ("movement occlusally", lambda u: 1e3 * u.anatomical.extrusion_mm),
    "mesial_um": ("movement mesially", lambda u: 1e3 * u.anatomical.mesial_mm),
    "buccal_um": ("movement buccally", lambda u: 1e3 * u.anatomical.buccal_mm),
    "displacement_um": (
        "size of the movement",
        lambda u: 1e3 * float(np.linalg.norm(u.motion[:3])),
    ),
    "mesial_tip_mrad": ("mesial crown tip", lambda u: 1e3 * u.anatomical.mesial_tip_rad),
    "buccal_tip_mrad": ("buccal crown tip", lambda u: 1e3 * u.anatomical.buccal_tip_rad),
    "mesial_in_mrad": ("turn, mesial side to lingual", lambda u: 1e3 * u.anatomical.mesial_in_rad),
    "rotation_mrad": ("size of the rotation", lambda u: 1e3 * float(np.linalg.norm(u.motion[3:]))),
    "moment_to_force_mm": ("moment over force at the centre of resistance", _ratio_mm),
    "ligament_p01_kPa": (_PERCENTILE.format("1 %"), _percentile(0)),
    "ligament_p99_kPa": (_PERCENTILE.format("99 %"), _percentile(1)),
}
_DIRECTIONS = {"mesiodistal": "mesiodistal", "buccolingual": "buccolingual"}


def _of_unit(body: str, component: str) -> Response:
    meaning, read = _COMPONENTS[component]

    def value(answer: Answer) -> float:
        unit = answer.unit(body)
        return nan if unit is None else read(unit)

    needs = {WIRE, LIGAMENT} if component.startswith("ligament") else {WIRE}
    words = f"{body.replace('_', '-')} unit: {meaning}"
    return Response(f"{body}_{component}", words, value, frozenset(needs))


def _of_tooth(direction: str, tooth: int) -> Response:
    def value(answer: Answer) -> float:
        record: Spec | None = answer.supports.get(tooth)
        if record is None:
            return nan
        return float(record["resistance"]["depth_fraction_of_embedded_root"][direction])

    return Response(
        f"resistance_{direction}_share_{tooth}",
        f"depth of the centre of resistance of {tooth} for a {direction} force below the crest, "
        "as a share of the embedded root",
        value,
    )


def known_responses(teeth: Iterable[int]) -> Iterator[Response]:
    """All responses, those of teeth for some teeth."""
    yield from _WIRE
    for body in BODIES:
        for component in _COMPONENTS:
            yield _of_unit(body, component)
    for tooth in teeth:
        for direction in _DIRECTIONS:
            yield _of_tooth(direction, tooth)


def responses(names: Iterable[str]) -> tuple[Response, ...]:
    """Responses by name."""
    names = tuple(names)
    teeth = {int(match[2]) for name in names if (match := _OF_TOOTH.match(name))}
    known = {response.name: response for response in known_responses(sorted(teeth))}
    return tuple(known[name] for name in names)


def response_fault(name: str, roles: Mapping[str, str], teeth: Iterable[int]) -> str:
    """Why a case cannot give a response; empty if it can.

    Parameters
    ----------
    roles
        Role of each unit of the case, by its name.
    teeth
        Teeth of its units.
    """
    known = [response.name for response in known_responses(teeth)]
    if name not in known:
        return f"unknown response; {nearest(name, known)}"
    for role in (TARGET, ANCHOR):
        several = sum(own == role for own in roles.values())
        if name.startswith(f"{role}_") and several != 1:
            return f"the case has {several} units of role {role}; begin with two_point or one_point"
    return ""


if __name__ == "__main__":
    for shown in known_responses([37]):
        print(f"{shown.name:36} {shown.meaning}")
