"""One couple: statics of solved appliances."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Unit
from fem.cantilever import SolvedCantilever, solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.engage import Setup, engage_for_couple
from fem.material import Elastic
from fem.rigid import shift_wrench
from fem.section import rectangular_section
from workflow.units import GF_PER_N, N_PER_GF
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table

Array = NDArray[np.float64]

ALONG, _ASIDE, UP = np.eye(3)
FLAT = rectangular_section(0.635, 0.4318)  # 0.017 × 0.025 in
STEEL, TITANIUM = Elastic(170e3, 0.3), Elastic(65e3, 0.3)
BASE_MM, _SPAN_MM = 4.0, 20.0
MOLAR = np.diag([500.0, 300, 250, 4500, 7000, 5000])
SKEWED_BAR = np.array([0.9, 0.3, 0.2])


def _tipped(degrees: float) -> Array:
    """Axes (along, width, height) of a tube whose mesial end points down by an angle."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.column_stack([[c, 0, -s], _ASIDE, [s, 0, c]])


def cantilever(
    bar: Array | None = ALONG,
    tip_deg: float = 0.0,
    span_mm: float = _SPAN_MM,
    material: Elastic = TITANIUM,
    supports: tuple[Array | None, Array | None] = (None, None),
    pull: bool = False,
) -> Cantilever:
    """Straight wire from a tube to a hook ahead of its mesial mouth, activated upwards."""
    axes = _tipped(tip_deg)
    mouths = (np.zeros(3), BASE_MM * axes[:, 0])
    hook = mouths[1] + span_mm * ALONG
    sites = CantileverSites(mouths, axes, hook, bar, UP, pull=pull)
    points = (np.array([2.0, 4, -8]), hook - 9 * UP)
    units = tuple(Unit(n, p, K) for n, p, K in zip("ab", points, supports, strict=True))
    return Cantilever(sites, WireDesign(FLAT, material, 1.0, 40), units)


def _exercise() -> Compared:
    force = 100 * np.array([np.cos(np.pi / 6), np.sin(np.pi / 6), 0])
    place = np.array([-np.sqrt(14.0**2 - 9**2), -9, 0])

    def moment(f: Array) -> float:
        return float(shift_wrench(np.concatenate([f, np.zeros(3)]), place, np.zeros(3))[5])

    across, up = moment(force * ALONG), -moment(force * _ASIDE)
    return Compared(
        [across, up, moment(force)],
        [779.4, 536.2, 243.2],
        labels=["86.6 gf × 9 mm", "50 gf × 10.72 mm", "sum"],
        note="The page prints 770.42 for 86.60 × 9, which is 779.4; its other numbers stand.",
    )


def _force_times_distance() -> Compared:
    """Tied wires hold no force along the tube: the distance is that of tube and hook."""
    table, forces = reference_table("force_times_distance"), []
    for distance_mm, couple_gfmm in zip(table.distance_mm, table.couple_gfmm, strict=True):
        design = cantilever(None, span_mm=distance_mm - BASE_MM / 2, material=STEEL)
        found = engage_for_couple(Setup(design), couple_gfmm * N_PER_GF)
        forces.append(found.force_N * GF_PER_N)
    pairs = zip(table.couple_gfmm, table.distance_mm, strict=True)
    labels = [f"{couple} gf·mm over {distance} mm" for couple, distance in pairs]
    return Compared(forces, table.force_gf, labels=labels)


def _newtons() -> Compared:
    table = reference_table("force_times_distance")
    return Compared(table.couple_gfmm * N_PER_GF, table.couple_Nmm, 1.0)


def _kinds() -> dict[str, SolvedCantilever]:
    """Cantilevers of all kinds of hook, on teeth that give way."""
    supports = (MOLAR, 0.5 * MOLAR)
    solved = {}
    for name, bar, pull in (
        ("bar", SKEWED_BAR, False),
        ("tied", None, False),
        ("pull", None, True),
    ):
        for tip in (0.0, 20.0, 35.0):
            design = cantilever(bar, tip, supports=supports, pull=pull)
            solved[f"{name}, tube tipped {tip:g}°"] = solve_for_offset(design, 6.0)
    return solved


def _couple_over_distance() -> Compared:
    forces, quotients, solved = [], [], _kinds()
    for found in solved.values():
        force = found.force_on_hook_N()
        size = np.linalg.norm(force)
        middle = 0.5 * (
            found.path.points[found.path.mouths[0]] + found.path.points[found.path.mouths[1]]
        )
        arm = found.touch_mm - middle
        distance = np.linalg.norm(arm - (arm @ force) * force / size**2)
        forces.append(size)
        quotients.append(np.linalg.norm(found.couple_on_tube_Nmm(middle)) / distance)
    return Compared(forces, quotients, labels=list(solved))


def _balance() -> Compared:
    place, solved = np.array([7.0, -3, 11]), _kinds()
    left = []
    for found in solved.values():
        first, second = (found.equilibrium.wrench_on(unit, place) for unit in (0, 1))
        sizes = np.linalg.norm(first.reshape(2, 3), axis=1)
        left.append(np.linalg.norm((first + second).reshape(2, 3), axis=1) / sizes)
    labels = [f"{what}, {name}" for name in solved for what in ("force", "moment")]
    return Compared(left, 0.0, 1.0, labels)


def _units_obey_their_supports() -> Compared:
    """``q = K⁻¹ w`` of both units with the load that the wire gives them."""
    computed, expected = [], []
    for found in _kinds().values():
        for index, unit in enumerate(found.appliance.units):
            assert unit.stiffness is not None
            wrench = found.equilibrium.wrench_on(index, unit.point)
            computed.append(unit.stiffness @ found.equilibrium.motions[index])
            expected.append(wrench)
    return Compared(computed, expected, float(np.abs(expected).max()))


_ROUNDING = "an identity: only rounding is left"

CHECKS = (
    Check(
        id="exercise_in_statics",
        what="moments of 100 gf at 30°, 9 and 14 mm from the centre of resistance, gf·mm",
        code="fem.rigid.shift_wrench",
        kind=Kind.BENCHMARK,
        source="exercise",
        place="solution to exercise 1: 779.4 (printed 770.42), 536.2 and 243.2",
        tolerance=2e-4,
        reason="four digits are printed",
        compute=_exercise,
    ),
    Check(
        id="force_times_distance",
        what="force at the hook of solved appliances activated to a given couple, gf",
        code="fem.engage.engage_for_couple, fem.cantilever.solve_for_offset",
        kind=Kind.CODE,
        source="statics",
        place="force = couple/distance: six pairs from 25 gf × 20 mm to 100 gf × 30 mm",
        tolerance=1e-6,
        reason="the wire's length is fitted to a slip of 1e-6 mm",
        compute=_force_times_distance,
    ),
    Check(
        id="couples_in_newton_millimetres",
        what="couples of the same appliances, N·mm",
        code="workflow.units.N_PER_GF",
        kind=Kind.CODE,
        source="statics",
        place="1 gf = 9.80665 mN",
        tolerance=0.005,
        reason="two decimals are written down",
        compute=_newtons,
    ),
    Check(
        id="force_is_couple_over_distance",
        what="force at the hook of appliances of all kinds, tube tipped up to 35°, N",
        code="fem.cantilever.solve_for_offset",
        kind=Kind.CODE,
        source="statics",
        place="F = C/d, d from the middle of the tube to the line of the force",
        tolerance=1e-6,
        reason="the wire's length is fitted to a slip of 1e-6 mm",
        compute=_couple_over_distance,
    ),
    Check(
        id="action_and_reaction",
        what="sum of all forces and moments on both units, over those on one",
        code="fem.cantilever.solve_for_offset, fem.appliance_system.solve_equilibrium",
        kind=Kind.CODE,
        source="statics",
        place="Newton's third law, about a point off the appliance",
        tolerance=1e-8,
        reason="residual of the equilibrium",
        compute=_balance,
    ),
    Check(
        id="units_give_way_as_held",
        what="load of the wire on units that give way, over the largest",
        code="fem.appliance_system.solve_equilibrium",
        kind=Kind.CODE,
        source="statics",
        place="6×6 times the motion that the solution gives",
        tolerance=1e-7,
        reason="residual of the equilibrium, moments with forces of a tenth of their size",
        compute=_units_obey_their_supports,
    ),
)
