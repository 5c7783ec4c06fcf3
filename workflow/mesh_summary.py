"""The ``mesh_error`` blocks of a summary: how far the default mesh is off, beside each number.

Mesh error alone: neither what the ligament is made of nor how thick it is. Bars of a tooth alone
are those of the catalogue (`workflow.mesh_bars`). What a motion or a body of several teeth adds:

* the centre of resistance, off by c, moves a point of it by ``c |θ|``, which adds to the bar of
  displacement;
* the lever b by which a force couples to rotation is off too, and turns the tooth by up to
  ``κ b |F|``, κ its largest rotation per couple; that adds to the bar of rotation, and rules it
  where a force passes near the centre of resistance;
* the 6×6 of teeth that are one body is the sum of theirs, so its share is at most the largest of
  theirs; c and b grow by that share of the mean distance of the teeth's centres from the unit's,
  for the unit's centre is their mean weighted by stiffness; and stress in one tooth's ligament
  takes on that share besides its own, for the load that falls to the tooth.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from fem.resistance import centre_of_resistance
from fem.unit import ToothSupport, join_teeth
from workflow.mesh_bars import (
    Bars,
    MeshErrorTable,
    bars_of_tooth,
    load_mesh_error,
    unit_reason,
    wire_reason,
)
from workflow.plan import frames
from workflow.specs import Spec

_PERCENT, _MRAD = 100.0, 1e3
STRESSES = ("hydrostatic", "von_mises")


@dataclass(frozen=True)
class Body:
    """Teeth of a unit as one body.

    Attributes
    ----------
    turn
        Largest rotation per couple, rad/(N·mm).
    spread_mm
        Mean distance of the teeth's centres of resistance from the unit's, weighted by stiffness.
    """

    turn: float
    spread_mm: float


def with_mesh_error(summary: Spec, case: Spec, solved: Spec, supports: Mapping[int, Spec]) -> Spec:
    """The summary with its blocks: one of the wire, one of each unit, one of each ligament.

    Parameters
    ----------
    supports
        Content of ``support.json`` of each tooth, by number.
    """
    table = load_mesh_error()
    units = {
        name: _unit(unit, case, name, table, supports) for name, unit in summary["units"].items()
    }
    wire = summary["wire"] | {"mesh_error": wire_block(case, solved, table)}
    return summary | {"wire": wire, "units": units}


def wire_block(case: Spec, solved: Spec, table: MeshErrorTable) -> dict[str, Any]:
    """Bar of the wire's stiffness, percent; null and the reason where it was not measured."""
    reason = wire_reason(case, solved, table)
    return {
        "stiffness_percent": None if reason else table.wire.rod_percent,
        "basis": None if reason else table.wire.basis,
        "reason": reason or None,
    }


def _unit(
    unit: Spec, case: Spec, name: str, table: MeshErrorTable, supports: Mapping[int, Spec]
) -> Spec:
    found = {str(tooth): bars_of_tooth(case, tooth, table) for tooth in unit["teeth"]}
    bars = {tooth: row for tooth, row in found.items() if isinstance(row, Bars)}
    reasons = [f"tooth {t}: {row}" for t, row in found.items() if isinstance(row, str)]
    reason = unit_reason(case, name, reasons)
    joined = _share_of_others(bars) if len(found) > 1 else 0.0
    ligament = {
        tooth: stress | {"mesh_error": _ligament(bars.get(tooth), joined, reason)}
        for tooth, stress in unit["ligament"].items()
    }
    body = _body(case, unit, supports)
    block = unit_block(unit, bars, body, reason) | {
        "teeth": {tooth: _tooth(row) for tooth, row in found.items()}
    }
    return unit | {"mesh_error": block, "ligament": ligament}


def unit_block(
    unit: Spec, bars: Mapping[str, Bars], body: Body, reason: str = ""
) -> dict[str, Any]:
    """Bars of a unit's motion, percent of its sizes, and of its centre of resistance, mm.

    Parameters
    ----------
    unit
        Its entry in the summary.
    bars
        Of its teeth.
    body
        The unit's teeth as one body.
    reason
        Why it has none; empty if it has.
    """
    if reason:
        empty = dict.fromkeys(("displacement_percent", "rotation_percent", "resistance_centre_mm"))
        return empty | {"basis": None, "reason": reason}
    rows = bars.values()
    translation = max(row.translation_percent for row in rows)
    rotation = max(row.rotation_percent for row in rows)
    centre = max(row.resistance_centre_mm for row in rows)
    lever = max(row.coupling_mm for row in rows)
    if len(bars) > 1:
        share = _share_of_others(bars)
        translation, rotation = max(translation, share), max(rotation, share)
        apart = share / _PERCENT * body.spread_mm
        centre, lever = centre + apart, lever + apart
    moved, turned, force = (
        float(np.linalg.norm(unit[key]))
        for key in ("displacement_at_resistance_um", "rotation_mrad", "force_N")
    )
    return {
        "displacement_percent": _sum(translation, centre * turned, moved),
        "rotation_percent": _sum(rotation, _MRAD * body.turn * lever * force, turned),
        "resistance_centre_mm": centre,
        "basis": "; ".join(sorted({row.basis for row in rows})),
        "reason": None,
    }


def _body(case: Spec, unit: Spec, supports: Mapping[int, Spec]) -> Body:
    """The teeth of a unit as one body."""
    placed = frames(case)
    teeth = tuple(
        ToothSupport(
            tooth,
            placed[tooth],
            np.array(supports[tooth]["point_mm"]),
            np.array(supports[tooth]["stiffness"]),
        )
        for tooth in unit["teeth"]
    )
    return body_of(teeth)


def body_of(teeth: tuple[ToothSupport, ...]) -> Body:
    """What bars need to know of teeth that are one body."""
    joined = join_teeth(teeth)
    weights = np.array([np.trace(tooth.stiffness[:3, :3]) for tooth in teeth])
    centres = [
        tooth.frame.to_patient(centre_of_resistance(tooth.stiffness, tooth.point).point)
        for tooth in teeth
    ]
    apart = [np.linalg.norm(centre - joined.centre.point) for centre in centres]
    return Body(
        turn=float(np.linalg.eigvalsh(np.linalg.inv(joined.centre.stiffness)[3:, 3:]).max()),
        spread_mm=float(np.average(apart, weights=weights)),
    )


def _sum(percent: float, part: float, whole: float) -> float | None:
    """A share and another in percent; None of nothing."""
    return percent + _PERCENT * part / whole if whole > 0.0 else None


def _share_of_others(bars: Mapping[str, Bars]) -> float:
    return max((row.stiffness_percent for row in bars.values()), default=0.0)


def _tooth(bars: Bars | str) -> dict[str, Any]:
    """Bars of a tooth's own support."""
    if isinstance(bars, str):
        return {"stiffness_percent": None, "resistance_centre_mm": None, "reason": bars}
    return {
        "stiffness_percent": bars.stiffness_percent,
        "resistance_centre_mm": bars.resistance_centre_mm,
        "reason": None,
    }


def _ligament(bars: Bars | None, joined: float, reason: str) -> dict[str, Any]:
    """Bars of the stress percentiles, by what is said in ``of``."""
    if reason or bars is None:
        return {f"{kind}_percent": None for kind in STRESSES} | {"of": None, "reason": reason}
    rows = {"hydrostatic": bars.hydrostatic_percent, "von_mises": bars.von_mises_percent}
    return {
        f"{kind}_percent": {share: own + joined for share, own in row.model_dump().items()}
        for kind, row in rows.items()
    } | {
        "of": "von Mises stress at 99 % of volume; hydrostatic stress at 1 or 99 % where larger",
        "reason": None,
    }
