"""Teeth joined as one body or by a wire: statics of the whole against that of its parts."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fem.material import Elastic
from fem.rigid import from_local, shift_wrench
from fem.section import round_section
from fem.segment import JoiningWire, join_by_wire
from fem.unit import ToothSupport, UnitSupport, join_teeth, tooth_motion
from geometry.arch import tooth_frame
from geometry.frame import ToothFrame
from workflow.verification.check import Check, Compared, Kind

Array = NDArray[np.float64]

_ORIGIN = np.zeros(3)
_X, _Y, _Z = np.eye(3)
_STEEL = Elastic(170000.0, 0.3)
_POINT = np.array([0.0, 0.0, -7.0])
_LOAD = np.array([0.2, -0.1, 0.5, 3.0, 1.0, -2.0])
_IN_A_ROW = np.column_stack([-_Y, _X, _Z])


def _support(seed: int, scale: float = 1.0) -> Array:
    """Positive definite 6×6 at random, of the size of a tooth's."""
    root = np.random.default_rng(seed).standard_normal((6, 6))
    sizes = np.array([1, 1, 1, 5, 5, 5.0])
    return scale * 30 * (root @ root.T + 6 * np.eye(6)) * np.outer(sizes, sizes)


def _teeth(numbers: tuple[int, ...], scale: float = 1.0) -> tuple[ToothSupport, ...]:
    return tuple(ToothSupport(n, tooth_frame(n), _POINT, _support(n, scale)) for n in numbers)


def _brackets(teeth: tuple[ToothSupport, ...]) -> Array:
    return np.array([tooth.frame.to_patient(np.array([0, 6.0, 4.0])) for tooth in teeth])


def _wired(teeth: tuple[ToothSupport, ...], diameter_mm: float, material: Elastic) -> UnitSupport:
    brackets = _brackets(teeth)
    wire = JoiningWire(brackets, _Z, round_section(diameter_mm), material)
    return join_by_wire(teeth, wire, brackets[:2].mean(axis=0))


def _in_a_row(sizes: tuple[float, ...]) -> UnitSupport:
    """Teeth 7 mm apart along y, each the first one's support times a size."""
    local = np.diag([300.0, 300, 300, 3000, 4000, 900])
    return join_teeth(
        tuple(
            ToothSupport(33 + n, ToothFrame(7.0 * n * _Y, _IN_A_ROW), _ORIGIN, size * local)
            for n, size in enumerate(sizes)
        )
    )


def _three_move_a_third() -> Compared:
    one, three = _in_a_row((1.0,)), _in_a_row((1.0, 1.0, 1.0))
    down = np.array([0, 0, -1.0, 0, 0, 0])
    moved = [np.linalg.solve(unit.centre.stiffness, down)[2] for unit in (three, one)]
    return Compared(moved[0], moved[1] / 3)


def _mean_of_centres() -> Compared:
    """Alike in all directions at their own centres: the weighted mean (textbook)."""
    sizes = (1.0, 2.0, 0.5)
    mean = 7.0 * float(np.dot(range(3), sizes)) / sum(sizes)
    return Compared(_in_a_row(sizes).centre.point, [0, mean, 0], 1.0, ["x", "y", "z"])


def _parallel_axes() -> Compared:
    """Turning stiffness about the joint centre: own ones and ``k d²`` (Steiner)."""
    sizes = np.array([1.0, 2.0, 0.5])
    places = 7.0 * np.arange(3)
    arms = places - places @ sizes / sizes.sum()
    found = np.diag(_in_a_row(tuple(sizes)).centre.stiffness)[3:]
    apart = 300.0 * float(sizes @ arms**2)
    # the teeth's mesial axis lies along −y, their buccal one along x
    own = sizes.sum() * np.array([4000.0, 3000.0, 900.0])
    return Compared(
        found, own + np.array([apart, 0, apart]), labels=["about x", "about y", "about z"]
    )


def _sum_on_teeth(unit: UnitSupport) -> Array:
    """What the supports return to their teeth, summed at the unit's centre."""
    motion = np.linalg.solve(unit.centre.stiffness, _LOAD)
    total = np.zeros(6)
    for tooth in unit.teeth:
        own = tooth.stiffness @ tooth_motion(unit, motion, tooth)
        in_patient = from_local(tooth.frame.axes) @ own
        total += shift_wrench(in_patient, tooth.place, unit.centre.point)
    return total


def _load_on_teeth() -> Compared:
    teeth = _teeth((35, 34, 33))
    units = (join_teeth(teeth), _wired(teeth, 0.4, _STEEL))
    return Compared([_sum_on_teeth(unit) for unit in units], _LOAD, 3.0)


def _built_in_beam() -> Compared:
    """Hook in the middle of a wire between two immovable teeth."""
    teeth = _teeth((35, 34), 1e9)
    unit = _wired(teeth, 0.4, _STEEL)
    first, second = _brackets(teeth)
    length = float(np.linalg.norm(second - first))
    along = (second - first) / length
    across = np.cross(along, _Z)
    across /= np.linalg.norm(across)
    area, second_moment, G = np.pi * 0.2**2, np.pi * 0.2**4 / 4, 170000 / 2.6
    shear = 6 * 1.3 / (7 + 6 * 0.3)  # Cowper's factor of a circle
    bent = length**3 / (192 * 170000 * second_moment) + length / (4 * shear * G * area)
    K = unit.centre.stiffness[:3, :3]
    return Compared(
        [across @ K @ across, along @ K @ along],
        [1 / bent, 4 * 170000 * area / length],
        labels=["across", "along"],
    )


def _wire_that_does_not_give() -> Compared:
    """Difference from one body, in inverse proportion to the wire's stiffness."""
    teeth = _teeth((35, 34, 33))
    rigid = join_teeth(teeth)
    at = _brackets(teeth)[:2].mean(axis=0)

    def off(factor: float) -> float:
        unit = _wired(teeth, 1.0, Elastic(factor * 170000.0, 0.3))
        pairs = zip(_motions(unit, at), _motions(rigid, at), strict=True)
        return max(float(np.abs(a - b).max()) for a, b in pairs)

    return Compared(off(1e4) / off(1e6), 100.0)


def _motions(unit: UnitSupport, at: Array) -> list[Array]:
    load = shift_wrench(_LOAD, at, unit.centre.point)
    motion = np.asarray(np.linalg.solve(unit.centre.stiffness, load), dtype=float)
    return [tooth_motion(unit, motion, tooth) for tooth in unit.teeth]


CHECKS = (
    Check(
        id="three_equal_teeth_move_a_third",
        what="movement of three equal teeth in a row as one body, mm/N",
        code="fem.unit.join_teeth",
        kind=Kind.CODE,
        source="statics",
        place="springs in parallel: a third of one tooth's",
        tolerance=1e-12,
        reason="an identity: only rounding is left",
        compute=_three_move_a_third,
    ),
    Check(
        id="centre_of_joined_teeth",
        what="centre of resistance of three teeth as one body, mm",
        code="fem.unit.join_teeth, fem.resistance.centre_of_resistance",
        kind=Kind.CODE,
        source="statics",
        place="mean of the teeth's own centres, by their stiffness",
        tolerance=1e-12,
        reason="an identity: only rounding is left",
        compute=_mean_of_centres,
    ),
    Check(
        id="turning_of_joined_teeth",
        what="turning stiffness of three teeth as one body, N·mm/rad",
        code="fem.unit.join_teeth",
        kind=Kind.CODE,
        source="statics",
        place="theorem of parallel axes: own stiffness and Σ k d²",
        tolerance=1e-12,
        reason="an identity: only rounding is left",
        compute=_parallel_axes,
    ),
    Check(
        id="load_on_joined_teeth",
        what="sum of what three supports bear, as one body and wired, over the load",
        code="fem.unit.tooth_motion, fem.segment.join_by_wire",
        kind=Kind.CODE,
        source="statics",
        place="the load on the unit",
        tolerance=1e-9,
        reason="rounding, in systems whose entries lie 1e4 apart",
        compute=_load_on_teeth,
    ),
    Check(
        id="hook_on_a_built_in_wire",
        what="stiffness at the middle of a wire between immovable brackets, N/mm",
        code="fem.segment.join_by_wire",
        kind=Kind.CODE,
        source="roark",
        place="192 EI/L³ with shear L/(4κGA) across, 4EA/L along",
        tolerance=1e-6,
        reason="brackets held 1e9 times as firmly as teeth are not immovable",
        compute=_built_in_beam,
    ),
    Check(
        id="stiff_wire_makes_one_body",
        what="difference of wired teeth from one body, wire stiffened 1e4 over 1e6 times",
        code="fem.segment.join_by_wire, fem.unit.join_teeth",
        kind=Kind.CODE,
        source="statics",
        place="springs in series: the difference goes with the wire's compliance",
        tolerance=0.01,
        reason="the next term of the series is the difference itself, 5e-3 at 1e4 times",
        compute=_wire_that_does_not_give,
    ),
)
