"""Error bars of the mesh in the tables of the sheet: percent of the number they stand beside."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from workflow.mesh_bars import largest_stress
from workflow.specs import Spec

_LEAST_PERCENT, _LARGEST_PERCENT = 0.01, 100.0

NOTE = (
    "± is the mesh's error alone: how far the default mesh may be from ever finer ones, as a share "
    "of the number beside it, with a factor of safety. It says nothing of the ligament, whose "
    "stiffness is uncertain by far more, nor of any other assumption."
)


def percent_text(percent: float | None) -> str:
    """An error bar to follow a number; empty where there is none."""
    if percent is None:
        return ""
    size = f"{percent:.2g}"
    if percent > _LARGEST_PERCENT:
        size = f">{_LARGEST_PERCENT:g}"
    elif percent < _LEAST_PERCENT:
        size = f"<{_LEAST_PERCENT:g}"
    return f" ±\u00a0{size}\u00a0%"  # no line may end within it


def share_text(percent: float | None, whole: float, part: float) -> str:
    """The bar of one part of a vector, from the bar of its whole length."""
    if percent is None or part == 0.0:
        return ""
    return percent_text(percent * whole / abs(part))


def movement_bars(unit: Spec) -> list[str]:
    """Bars of the six components of a unit's movement, or of a tooth's, in their order."""
    block = unit["mesh_error"]
    sizes = {
        "um": (block["displacement_percent"], _length(unit, "displacement_at_resistance_um")),
        "mrad": (block["rotation_percent"], _length(unit, "rotation_mrad")),
    }
    return [
        share_text(*sizes[key.rsplit("_", 1)[1]], value)
        for key, value in unit["anatomical"].items()
    ]


def crown_bars(unit: Spec, own: Spec) -> list[str]:
    """Bars of a tooth's movement at the middle of its crown, in the order of the words.

    The crown moves by d at the tooth's centre of resistance and by the rotation about it, which is
    at most ``|d_crown| + |d|``.
    """
    block, crown = unit["mesh_error"], own["mid_crown"]
    at_centre, turned = block["displacement_percent"], block["rotation_percent"]
    rotation = _length(unit, "rotation_mrad")
    bars = []
    for key, value in (own["anatomical"] | crown).items():
        if key.endswith("_mrad"):
            bars.append(share_text(turned, rotation, value))
        elif at_centre is None or turned is None:
            bars.append("")
        else:
            d, whole = _length(unit, "displacement_at_resistance_um"), _norm(crown.values())
            error = at_centre * d + turned * (whole + d)
            bars.append(share_text(error, 1.0, value))
    return bars


def stress_bars(record: Mapping[str, Any], kind: str) -> dict[str, str]:
    """Bars of the percentiles of a ligament's stress; the extremes have none."""
    rows = record["mesh_error"][f"{kind}_percent"]
    if rows is None:
        return {}
    mean, shear = record["hydrostatic_kPa"], record["von_mises_kPa"]
    whole = largest_stress(mean["p01"], mean["p99"], shear["p99"], kind)
    values = {"hydrostatic": mean, "von_mises": shear}[kind]
    return {share: share_text(percent, whole, values[share]) for share, percent in rows.items()}


def unmeasured(summary: Spec) -> list[str]:
    """One sentence for every part without a bar, with the reason."""
    blocks = {f"Unit {name}": unit["mesh_error"] for name, unit in summary["units"].items()}
    blocks["Wire"] = summary["wire"]["mesh_error"]
    return [
        f"{name}: mesh error {block['reason']}."
        for name, block in blocks.items()
        if block["reason"]
    ]


def _length(record: Spec, key: str) -> float:
    return _norm(record[key])


def _norm(values: Any) -> float:
    return float(np.linalg.norm(np.fromiter(values, dtype=float)))
