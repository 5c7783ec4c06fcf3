"""How far the default cut of a wire is from finer ones, against the catalogue's error bars."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from workflow.mesh_bars import load_mesh_error
from workflow.mesh_wire_study import (
    SECTIONS_MM,
    SHARES,
    WIRES,
    percent_of,
    rod_convergence,
    solid_convergence,
)
from workflow.verification.check import Check, Compared, Kind

_WITHIN = "recomputed bar over the catalogue's, 1 where it is no larger"
_REASON = "the catalogue's bars are rounded up"


def _rods() -> Compared:
    computed, labels = [], []
    for name in WIRES:
        for share in SHARES:
            bars = [percent_of(found) for found in rod_convergence(name, share)]
            computed += [bar / load_mesh_error().wire.rod_percent for bar in bars]
            labels += [f"{name}, {share:g} of the span, {what}" for what in ("force", "couple")]
    return Compared(np.maximum(computed, 1.0), 1.0, labels=labels)


def _solids() -> Compared:
    bars = [percent_of(solid_convergence(section)) for section in SECTIONS_MM]
    ratios = np.array(bars) / load_mesh_error().wire.solid_percent
    labels = [f"{width:g} × {height:g} mm" for width, height in SECTIONS_MM]
    return Compared(np.maximum(ratios, 1.0), 1.0, labels=labels)


def _check(name: str, what: str, code: str, compute: Callable[[], Compared]) -> Check:
    return Check(
        id=name,
        what=f"{what}: {_WITHIN}",
        code=code,
        kind=Kind.SOLUTION,
        source="celik",
        place="procedure on three grids, F = 1.25",
        tolerance=0.0,
        reason=_REASON,
        compute=compute,
        slow=compute is _solids,
    )


WIRE_CHECKS = (
    _check(
        "mesh_error_rod",
        "force and couple of straight, looped and arched wires by rod elements",
        "fem.cantilever.solve_for_offset",
        _rods,
    ),
    _check(
        "mesh_error_solid_wire",
        "tip stiffness of the swept solid of a straight wire",
        "fem.wire_solid.solid_two_point_cantilever",
        _solids,
    ),
)
