"""Linear theory along bent wires: closed forms, and the rod at small activation."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Unit
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.material import Elastic
from fem.section import rectangular_section
from fem.unit_load import linear_force, tip_compliance
from geometry.wire import SHORTEST_BEND_MM, cantilever_wire
from geometry.wire_features import Helix, LLoop, ULoop
from geometry.wire_path import Feature, Straight
from workflow.verification.check import Check, Compared, Kind

Array = NDArray[np.float64]

_WIDTH_MM, _HEIGHT_MM, _E_MPA, _NU = 0.635, 0.4318, 65e3, 0.3
_FLAT, _TITANIUM = rectangular_section(_WIDTH_MM, _HEIGHT_MM), Elastic(_E_MPA, _NU)
_BASE_MM, _SPAN_MM = 4.0, 22.0
_MOUTHS = (np.zeros(3), np.array([_BASE_MM, 0, 0]))
_END = np.array([_BASE_MM + _SPAN_MM, 0, 0])
_ALONG, _, _UP = np.eye(3)
_RUNS: dict[str, tuple[Feature, ...]] = {
    "straight": (),
    "helix": (Straight(4.0), Helix(1.0, 1.25, 0.6, "-height")),
    "U loop": (Straight(6.0), ULoop(5.0, 3.0, 1.0, "-height")),
    "L loop": (Straight(5.0), LLoop(6.0, 6.0, 2.0, 1.5, 0.5, "-height")),
}
_HOLDS = {"bar": (np.array([0.9, 0.3, 0.2]), False), "tied": (None, False), "pull": (None, True)}


def _cantilever(run: tuple[Feature, ...], bar: Array | None, pull: bool) -> Cantilever:
    hook = _END + np.array([0, 2.0, 0.5])
    sites = CantileverSites(_MOUTHS, np.eye(3), hook, bar, _UP, pull=pull)
    units = (Unit("tube", np.zeros(3), None), Unit("hook", hook, None))
    return Cantilever(sites, WireDesign(_FLAT, _TITANIUM, 1.0, 40, run), units)


def _straight_wire() -> Compared:
    """Both planes and along: ``L²(L + b)/(3EI) + L(1 + L/b)/(κGA)``, ``(L + b)/EA``."""
    law = _FLAT.stiffness(_TITANIUM)
    C = tip_compliance(cantilever_wire(_MOUTHS, np.eye(3), _END), law)
    area, kappa = _WIDTH_MM * _HEIGHT_MM, 10 * (1 + _NU) / (12 + 11 * _NU)
    GA = kappa * _E_MPA / (2 * (1 + _NU)) * area
    bent = _SPAN_MM**2 * (_SPAN_MM + _BASE_MM) / (3 * _E_MPA)
    sheared = _SPAN_MM * (1 + _SPAN_MM / _BASE_MM) / GA
    moments = _HEIGHT_MM * _WIDTH_MM**3 / 12, _WIDTH_MM * _HEIGHT_MM**3 / 12
    return Compared(
        np.diag(C),
        [(_SPAN_MM + _BASE_MM) / (_E_MPA * area), *(bent / moment + sheared for moment in moments)],
        labels=["along", "across its width", "across its height"],
    )


def _closed_loop() -> Compared:
    """A loop of n turns at a from the load: ``∫ (a + R sin θ)² R dθ = 2πRn (a² + R²/2)``."""
    lead, R, n = 6.0, 1.25, 2.0
    path = cantilever_wire(
        _MOUTHS, np.eye(3), _END, run=(Straight(lead), Helix(n, R, 0.0, "height"))
    )
    law = _FLAT.stiffness(_TITANIUM)
    law[:3] *= 1e9  # bending alone
    EI = _E_MPA * _WIDTH_MM * _HEIGHT_MM**3 / 12
    plain = _SPAN_MM**2 * (_SPAN_MM + _BASE_MM) / 3
    a = _SPAN_MM - SHORTEST_BEND_MM - lead
    return Compared(
        tip_compliance(path, law)[2, 2], (plain + 2 * np.pi * R * n * (a**2 + R**2 / 2)) / EI
    )


def _rod_at_small_activation() -> Compared:
    offset, errors, labels = 1e-3, [], []
    for name, run in _RUNS.items():
        for held, (bar, pull) in _HOLDS.items():
            design = _cantilever(run, bar, pull)
            linear = linear_force(design, offset)
            rod = -solve_for_offset(design, offset).force_on_hook_N()
            errors.append(np.linalg.norm(rod - linear) / np.linalg.norm(linear))
            labels.append(f"{name}, {held}")
    return Compared(errors, 0.0, 1.0, labels)


CHECKS = (
    Check(
        id="unit_load_of_a_straight_wire",
        what="compliance of the end of a straight wire in its tube, mm/N",
        code="fem.unit_load.tip_compliance",
        kind=Kind.CODE,
        source="beam",
        place="Timoshenko beam on two points, both planes, and stretch",
        tolerance=1e-10,
        reason="Gauss points integrate these polynomials exactly",
        compute=_straight_wire,
    ),
    Check(
        id="unit_load_of_a_closed_loop",
        what="compliance of a cantilever with a loop of two turns, mm/N",
        code="fem.unit_load.tip_compliance, geometry.wire_features.Helix",
        kind=Kind.CODE,
        source="castigliano",
        place="plain wire and 2πRn (a² + R²/2)/EI",
        tolerance=1e-8,
        reason="bending alone, stretch and shear a 1e-9th; four Gauss points on each piece",
        compute=_closed_loop,
    ),
    Check(
        id="looped_wires_at_small_activation",
        what="difference of the rod's force from linear theory, over the force",
        code="fem.cantilever.solve_for_offset, fem.unit_load.linear_force",
        kind=Kind.CODE,
        source="castigliano",
        place="unit load along the passive wire: straight, helix, U and L loop, over a bar, tied, "
        "pulled",
        tolerance=2e-3,
        reason="activation of 0.001 mm; chords of the rod's elements in the loops",
        compute=_rod_at_small_activation,
    ),
)
