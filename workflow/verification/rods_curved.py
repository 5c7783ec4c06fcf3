"""Curved and looped wires under small loads, against closed forms of thin beams."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fem.rigid import rotation
from fem.rod import RodState, passive_rod
from geometry.wire_features import Helix
from geometry.wire_path import Bend, Feature, Straight, SweptWire, section_axes
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table
from workflow.verification.rods_elastica import bent_by_end_moment
from workflow.verification.rods_linear import (
    EI_IN,
    EI_OUT,
    GJ,
    LAW,
    ROUND_LAW,
    STIFF,
    swept,
    thin_compliance,
    tip_compliance,
)

Array = NDArray[np.float64]

X, Y, Z, RZ = 0, 1, 2, 5
_PLANE = np.ix_([X, Y, RZ], [X, Y, RZ])
UPPER_NAMES = ("C_xx", "C_xy", "C_xm", "C_yy", "C_ym", "C_mm")
# EI times C_xx, C_xy, C_xm, C_yy, C_ym, C_mm.
FOURTH = "0.1 rad an element, fourth order"


def quarter_circle(pieces: int, radius: float = 1.0) -> SweptWire:
    """From (R, 0) to (0, R), bent about z."""
    axes = section_axes(np.array([0.0, 1, 0]), np.array([0.0, 0, 1]))
    bend = Bend(np.pi / 2, radius, "height")
    start = np.array([radius, 0.0, 0.0])
    return swept([bend], start=start, axes=axes, piece_mm=10.0, turn=np.pi / 2 / pieces)


def quarter_circle_compliance(R: float, EA: float, GA: float) -> dict[tuple[int, int], float]:
    """Castigliano, derived with a computer algebra system; as in Roark (from memory)."""
    both = np.pi * R / 4 * (1 / EA + 1 / GA)
    turned = (3 * np.pi / 4 - 2) * R**3  # of a moment that grows with 1 − cos
    straight = np.pi / 4 * R**3  # with sin
    return {
        (X, X): turned / EI_IN + both,
        (Y, Y): straight / EI_IN + both,
        (X, Y): R**3 / (2 * EI_IN) - R / (2 * EA) + R / (2 * GA),
        (X, RZ): -(np.pi / 2 - 1) * R**2 / EI_IN,
        (Y, RZ): -(R**2) / EI_IN,
        (RZ, RZ): np.pi * R / (2 * EI_IN),
        (Z, Z): straight / EI_OUT + turned / GJ + np.pi / 2 * R / GA,
    }


_ARC_CASES = {
    "R = 1, thin": (1.0, STIFF, STIFF),
    "R = 2.5, thin": (2.5, STIFF, STIFF),
    "R = 1, stretching and shearing": (1.0, 40.0, 15.0),
}


def _quarter_circle() -> Compared:
    found: list[float] = []
    exact: list[float] = []
    labels: list[str] = []
    for name, (R, EA, GA) in _ARC_CASES.items():
        C = tip_compliance(quarter_circle(48, R), [EA, GA, GA, GJ, EI_OUT, EI_IN])
        for place, value in quarter_circle_compliance(R, EA, GA).items():
            found.append(C[place])
            exact.append(value)
            labels.append(f"{name}, C{place}")
    return Compared(found, exact, labels=labels)


def _quarter_circle_numbers() -> Compared:
    law = [STIFF, STIFF, STIFF, 0.8, 1.0, 1.0]
    C = thin_compliance(quarter_circle(48), law)
    return Compared(
        [C[X, X], C[Y, Y], C[X, Y], C[Z, Z]],
        [0.35619449, 0.78539816, 0.5, 1.23064128],
        labels=["C_xx", "C_yy", "C_xy", "C_zz with GJ = 0.8"],
    )


def arc_errors(place: tuple[int, int], stiff: float, pieces: Sequence[int]) -> Array:
    """Error of an entry of the quarter circle's compliance for each number of elements."""
    law = [stiff, stiff, stiff, GJ, EI_OUT, EI_IN]
    exact = quarter_circle_compliance(1.0, stiff, stiff)[place]
    return np.abs([tip_compliance(quarter_circle(n), law)[place] - exact for n in pieces])


def _arc_order() -> Compared:
    """In the arc's plane and out of it, where bending passes into twist along each piece."""
    places = {"C_xx": (X, X), "C_yy": (Y, Y), "C_xy": (X, Y), "C_zz": (Z, Z)}
    found, labels = [], []
    for stiff, kind in ((1e5, "thin"), (40.0, "stretching")):
        for name, place in places.items():
            coarse, fine = arc_errors(place, stiff, (6, 12))
            found.append(np.log2(coarse / fine))
            labels.append(f"{name}, {kind}")
    return Compared(found, 4.0, scale=1.0, labels=labels)


def looped(
    length: float, place: float, radius: float, turns: float, side: str | Sequence[float] = "width"
) -> SweptWire:
    """Straight wire with closed turns, without pitch."""
    before = (Straight(place),) if place > 0 else ()
    return swept((*before, Helix(turns, radius, 0.0, side), Straight(length - place)))


@cache
def _loop_compliances() -> Array:
    table = reference_table("closed_loop")
    rows = zip(table.length, table.place, table.radius, table.turns, strict=True)
    return np.array([thin_compliance(looped(*row)) for row in rows])


def _closed_loops() -> Compared:
    table = reference_table("closed_loop")
    found = []
    for L, C in zip(table.length, _loop_compliances(), strict=True):
        guided = C[Y, Y] - C[Y, RZ] ** 2 / C[RZ, RZ]
        locked = np.linalg.inv(C[_PLANE])[1, 1] * L**3 / 12
        found.append((EI_IN * C[Y, Y], L**3 / 3 / C[Y, Y], L**3 / 12 / guided, locked))
    names = ("C_yy", "k free", "k guided", "k locked")
    cases = [f"a = {a:g}, R = {R:g}, n = {n}" for a, R, n in
             zip(table.place, table.radius, table.turns, strict=True)]  # fmt: skip
    labels = [f"{name}, {case}" for case in cases for name in names]
    return Compared(found, table.iloc[:, 4:], labels=labels)


def _closed_loop_matrix() -> Compared:
    L, a, R, n = 10.0, 3.0, 0.5, 2
    D = L - a
    C = thin_compliance(looped(L, a, R, n))
    bending = (L**3 / 3 + np.pi * n * R * (D**2 + R**2)) / EI_OUT
    exact = {
        (X, X): 3 * np.pi * n * R**3 / EI_IN,
        (X, Y): 2 * np.pi * n * R**2 * D / EI_IN,
        (X, RZ): 2 * np.pi * n * R**2 / EI_IN,
        (Y, Y): (L**3 / 3 + np.pi * n * R * (2 * D**2 + R**2)) / EI_IN,
        (Y, RZ): (L**2 / 2 + 2 * np.pi * n * R * D) / EI_IN,
        (RZ, RZ): (L + 2 * np.pi * n * R) / EI_IN,
        (Z, Z): bending + np.pi * n * R * (D**2 + 3 * R**2) / GJ,
    }
    return Compared([C[at] for at in exact], list(exact.values()),
                    labels=[*UPPER_NAMES, "C_zz"])  # fmt: skip


_PITCHES = {0.0: 487.66422, 0.05: 487.70590, 0.1: 487.83090, 0.2: 488.33050}


def pitched(pitch: float) -> SweptWire:
    """Loop whose axis is square to the legs, which are bent at its ends, one pitch apart (mm)."""
    lead = np.arctan2(pitch, np.pi)  # of a loop of radius 0.5
    turn = Helix(1, 0.5, pitch, "width")
    bends = (Bend(-lead, 0.0, "width"), Bend(lead, 0.0, "width"))
    helix: tuple[Feature, ...] = (bends[0], turn, bends[1]) if pitch else (turn,)
    loop = swept((Straight(3), *helix), turn=0.02)
    return swept((Straight(3), *helix, Straight(10 - loop.tip[X])), turn=0.02)


def _pitched_loops() -> Compared:
    found = [thin_compliance(pitched(p), ROUND_LAW)[Y, Y] for p in _PITCHES]
    return Compared(found, list(_PITCHES.values()), labels=[f"pitch {p:g}" for p in _PITCHES])


def _leaning_loop() -> Compared:
    plain, angle = thin_compliance(looped(10, 3, 0.5, 2), ROUND_LAW), 0.7
    side = (np.cos(angle), np.sin(angle))
    leaning = thin_compliance(looped(10, 3, 0.5, 2, side), ROUND_LAW)
    turn = np.kron(np.eye(2), rotation(np.array([angle, 0, 0])))
    return Compared(leaning, turn @ plain @ turn.T, scale=float(plain.max()))


def _opened_turn() -> Compared:
    """A turn wound without load is straight under −EI/R."""
    R = 0.8
    wire = swept([Helix(1, R, 0.0, "width")], turn=0.25)
    rod = passive_rod(wire.points, wire.axes, wire.lengths_mm, LAW)
    state = bent_by_end_moment(rod, RodState(wire.points, wire.axes), (0, 0, -EI_IN / R))
    return Compared(state.points[-1] / (2 * np.pi * R), [1.0, 0.0, 0.0], scale=1.0, labels="xyz")


CHECKS = (
    Check(
        id="quarter_circle",
        what="compliances of a quarter-circle cantilever in and out of its plane",
        code="fem.rod.passive_rod, fem.rod.internal_forces, geometry.wire_path.sweep",
        kind=Kind.BENCHMARK,
        source="roark",
        place="curved beams, Castigliano; two radii, thin, and one that stretches and shears",
        tolerance=1e-6,
        reason="0.03 rad an element, fourth order",
        compute=_quarter_circle,
    ),
    Check(
        id="quarter_circle_numbers",
        what="compliances of a thin quarter circle of radius and stiffness 1, GJ 0.8",
        code="fem.rod.passive_rod, fem.rod.internal_forces, geometry.wire_path.sweep",
        kind=Kind.PEER,
        source="frame",
        place="eight digits of straight frame elements and of the closed form",
        tolerance=1e-6,
        reason="0.03 rad an element, fourth order",
        compute=_quarter_circle_numbers,
    ),
    Check(
        id="rod_order_arc",
        what="observed order of convergence on a quarter circle, in plane and out of it",
        code="fem.rod.passive_rod, fem.rod.internal_forces",
        kind=Kind.CODE,
        source="castigliano",
        place="error of four compliances at 6 and 12 elements, thin wire and one that stretches",
        tolerance=0.15,
        reason="absolute; the next term of the error, at six elements",
        compute=_arc_order,
    ),
    Check(
        id="closed_loops",
        what="compliance and stiffness of a cantilever with closed turns at several places",
        code="fem.rod.passive_rod, fem.rod.internal_forces, geometry.wire_features.Helix",
        kind=Kind.BENCHMARK,
        source="castigliano",
        place="k = 3EI/[L³ + 3πnR(2D² + R²)], tip free, guided and locked; four wires",
        tolerance=1e-5,
        reason=FOURTH,
        compute=_closed_loops,
    ),
    Check(
        id="closed_loop_matrix",
        what="compliances of a cantilever with two closed turns in all directions",
        code="fem.rod.passive_rod, fem.rod.internal_forces, geometry.wire_features.Helix",
        kind=Kind.BENCHMARK,
        source="castigliano",
        place="closed forms of C_xx, C_xy, C_xm, C_yy, C_ym, C_mm and C_zz",
        tolerance=1e-5,
        reason=FOURTH,
        compute=_closed_loop_matrix,
    ),
    Check(
        id="loop_with_a_pitch",
        what="compliance across the tip, the legs of a loop set apart by its pitch",
        code="fem.rod.passive_rod, geometry.wire_features.Helix, geometry.wire_path.Bend",
        kind=Kind.PEER,
        source="frame",
        place="L = 10, a = 3, R = 0.5, GJ = 0.8 EI; pitch of 0, 0.05, 0.1 and 0.2",
        tolerance=1e-5,
        reason="the loop's ends are bent as sharply as a path can be; 0.02 rad an element",
        compute=_pitched_loops,
    ),
    Check(
        id="loop_to_another_side",
        what="compliance of a round wire with a loop to another side, over the largest entry",
        code="geometry.wire_features.Helix, fem.rod.passive_rod",
        kind=Kind.CODE,
        source="objectivity",
        place="loop leaning by 0.7 rad: the turned matrix",
        tolerance=1e-8,
        reason="rounding of a matrix with entries from 1 to 1e3 per unit load",
        compute=_leaning_loop,
    ),
    Check(
        id="end_moment_opens_a_turn",
        what="place of the tip of a closed turn opened by an end moment, over its length",
        code="fem.rod.internal_forces, geometry.wire_features.Helix",
        kind=Kind.CODE,
        source="euler",
        place="a turn of radius R is straight under −EI/R",
        tolerance=1e-8,
        reason="elements of constant curvature are exact, whatever their number",
        compute=_opened_turn,
    ),
)
