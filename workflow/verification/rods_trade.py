"""What the trade teaches about springs, held by the rod and the rows of the catalogue."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from fem.cantilever import SolvedCantilever, solve_for_offset
from fem.engage import Setup, engage_for_couple
from fem.material import Elastic
from fem.rod import RodState, passive_rod, section_resultants
from geometry.wire_path import Straight
from workflow.catalogue import Catalogue, load_catalogue
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table
from workflow.verification.rods_cantilever import hook_force_N, tube_cantilever
from workflow.verification.rods_linear import assembled, held_solve, swept
from workflow.wire_specs import wire_material, wire_section

STEEL, TITANIUM = "stainless_steel", "beta_titanium"
WIDTH, HEIGHT = 1, 2

_SHEAR = "shear, which the rule leaves out, is 1e-3 of the deflection of the thickest wire"


@dataclass(frozen=True)
class Spring:
    """A straight cantilever.

    Attributes
    ----------
    rate_N_per_mm
        Force over deflection.
    strength_N
        Greatest elastic force.
    """

    rate_N_per_mm: float
    strength_N: float

    @property
    def range_mm(self) -> float:
        """Greatest elastic deflection."""
        return self.strength_N / self.rate_N_per_mm


@cache
def catalogue() -> Catalogue:
    """The catalogue of wires."""
    return load_catalogue()


def section_spec(name: str) -> dict[str, Any]:
    """A section of the catalogue as a case writes it."""
    row = catalogue().sections[name]
    sizes = ("height_mm", "width_mm", "corner_radius_mm")
    return {"shape": row.shape} | {size: getattr(row, size) for size in sizes}


@cache
def cantilever(section_name: str, alloy_name: str, length_mm: float, plane: int = HEIGHT) -> Spring:
    """Rod of the catalogue clamped at one end under a small force at the other, across it.

    Parameters
    ----------
    section_name, alloy_name
        Rows of the catalogue.
    length_mm
        Length.
    plane
        Axis of the section along which the force acts.
    """
    section = wire_section(section_spec(section_name))
    alloy = catalogue().alloys[alloy_name].model_dump(mode="json")
    wire = swept([Straight(length_mm)], piece_mm=length_mm / 20)
    law = section.stiffness(wire_material(alloy))
    rod = passive_rod(wire.points, wire.axes, wire.lengths_mm, law)
    state = RodState(wire.points, wire.axes)
    _, K = assembled(rod, state)
    load = np.zeros(K.shape[0])
    load[plane - 6] = force = 1e-6
    step = held_solve(K, load).reshape(-1, 6)
    stress = section.peak_stress_MPa(section_resultants(rod, state.moved(step))).max()
    return Spring(
        float(force / step[-1, plane]), float(force * alloy["yield_strength_MPa"] / stress)
    )


def _ratios(more: Spring, less: Spring) -> list[float]:
    return [
        more.strength_N / less.strength_N,
        more.rate_N_per_mm / less.rate_N_per_mm,
        more.range_mm / less.range_mm,
    ]


def _labels(names: Sequence[str]) -> list[str]:
    return [f"{part}, {name}" for name in names for part in ("strength", "stiffness", "range")]


def _twice_the_diameter() -> Compared:
    found = [
        _ratios(*(cantilever(f"round_{d}_in", alloy, 20.0) for d in ("0.032", "0.016")))
        for alloy in (STEEL, TITANIUM)
    ]
    return Compared(found, [(8, 16, 0.5)] * 2, labels=_labels(("steel", "titanium")))


def _twice_the_length() -> Compared:
    names = ("round_0.7_mm", "rectangular_0.017x0.025_in_rounded")
    found = [_ratios(*(cantilever(name, STEEL, L) for L in (24.0, 12.0))) for name in names]
    return Compared(found, [(0.5, 1 / 8, 4)] * 2, labels=_labels(("round", "rounded rectangle")))


def _on_edge() -> Compared:
    """I goes with the square of the side in the plane of bending at equal area."""
    edge, flat = (
        cantilever("rectangular_0.017x0.025_in", STEEL, 20.0, plane) for plane in (WIDTH, HEIGHT)
    )
    found = [edge.rate_N_per_mm / flat.rate_N_per_mm, edge.strength_N / flat.strength_N]
    return Compared(found, [(25 / 17) ** 2, 25 / 17], labels=["stiffness", "strength"])


def _springs(alloy: str) -> list[Spring]:
    spans = reference_table("cantilever_rates").span_mm
    return [cantilever("rectangular_0.017x0.025_in", alloy, float(L)) for L in spans]


def _known_rates() -> Compared:
    table = reference_table("cantilever_rates")
    found = [[s.rate_N_per_mm for s in _springs(TITANIUM)],
             [s.rate_N_per_mm * 170e3 / _modulus(STEEL) for s in _springs(STEEL)]]  # fmt: skip
    labels = [f"{a}, {L:g} mm" for a in ("titanium", "steel") for L in table.span_mm]
    return Compared(found, [table.titanium_rate, table.steel_rate], labels=labels)


def _known_strengths() -> Compared:
    table = reference_table("cantilever_rates")
    alloys = catalogue().alloys
    found = [
        [s.strength_N * limit / alloys[alloy].yield_strength_MPa for s in _springs(alloy)]
        for alloy, limit in ((TITANIUM, 830.0), (STEEL, 1300.0))
    ]
    labels = [f"{a}, {L:g} mm" for a in ("titanium", "steel") for L in table.span_mm]
    exact = [table.titanium_yield_force, table.steel_yield_force]
    return Compared(found, exact, scale=1.0, labels=labels)


def _modulus(alloy: str) -> float:
    return wire_material(catalogue().alloys[alloy].model_dump(mode="json")).youngs_modulus_MPa


def _titanium_beside_steel() -> Compared:
    """Distance to the published range: rate down to a third, range up to twice steel's."""
    steel, titanium = (cantilever("round_0.018_in", a, 20.0) for a in (STEEL, TITANIUM))
    rate = titanium.rate_N_per_mm / steel.rate_N_per_mm
    reach = titanium.range_mm / steel.range_mm
    nearest = [np.clip(rate, 1 / 3, 0.5), np.clip(reach, 1.0, 2.0)]
    return Compared([rate, reach], nearest, labels=["rate", "range"],
                    note=f"rate {rate:.3f} and range {reach:.2f} times those of steel")  # fmt: skip


def _springback_ranges() -> Compared:
    """σ/E up to 1.8 and range up to 2 times steel's: the rows' published ranges must allow both."""

    def springback(name: str) -> tuple[float, float]:
        row = catalogue().alloys[name]
        moduli, yields = row.youngs_modulus_range_MPa, row.yield_strength_range_MPa
        return yields[0] / moduli[1], yields[1] / moduli[0]

    low, high = springback(TITANIUM)
    least, most = springback(STEEL)
    told = [1.8, 2.0]
    return Compared(told, np.clip(told, low / most, high / least), labels=["springback", "range"],
                    note=f"the rows allow {low / most:.2f} to {high / least:.2f}")  # fmt: skip


@cache
def _for_couple(span_mm: float) -> SolvedCantilever:
    return engage_for_couple(Setup(tube_cantilever(span_mm)), 11.77).solved


def _farther_hook() -> Compared:
    """The couple F (L + b/2) is the same: forces go inversely with the distance to the touch."""
    forces, distances = [], []
    for span in (14.0, 24.0):
        solved = _for_couple(span)
        middle = tube_cantilever(span).sites.tube_middle
        forces.append(hook_force_N(solved))
        distances.append(float(np.linalg.norm(solved.touch_mm - middle)))
    return Compared(forces[1] / forces[0], distances[0] / distances[1])


def _alloys() -> Compared:
    materials = {"nickel–titanium": Elastic(34e3, 0.3), "titanium": Elastic(65e3, 0.3),
                 "steel": Elastic(170e3, 0.3)}  # fmt: skip
    forces = [
        hook_force_N(solve_for_offset(tube_cantilever(20.0, material=m), 5.0))
        for m in materials.values()
    ]
    return Compared(np.array(forces) / forces[1], [34 / 65, 1.0, 170 / 65], labels=list(materials))


CHECKS = (
    Check(
        id="twice_the_diameter",
        what="strength, stiffness and range of a wire of twice the diameter",
        code="workflow.wire_specs.wire_section, fem.rod.internal_forces",
        kind=Kind.BENCHMARK,
        source="proffit",
        place="8 times as strong, 1/16 as springy, half the range",
        tolerance=2e-3,
        reason=_SHEAR,
        compute=_twice_the_diameter,
    ),
    Check(
        id="twice_the_length",
        what="strength, stiffness and range of a cantilever of twice the length",
        code="workflow.wire_specs.wire_section, fem.rod.internal_forces",
        kind=Kind.BENCHMARK,
        source="proffit",
        place="half as strong, 8 times as springy, 4 times the range",
        tolerance=5e-3,
        reason="shear, which the rule leaves out, is 3e-3 of the shorter, thicker wire's way",
        compute=_twice_the_length,
    ),
    Check(
        id="wire_on_edge",
        what="stiffness and strength of 0.017 × 0.025 inch bent in its width over its height",
        code="fem.section.rectangular_section, fem.rod.internal_forces",
        kind=Kind.CODE,
        source="beam",
        place="(25/17)² and 25/17",
        tolerance=2e-3,
        reason=_SHEAR,
        compute=_on_edge,
    ),
    Check(
        id="cantilever_rates",
        what="force per mm of 0.017 × 0.025 inch cantilevers of 15 to 30 mm, N/mm",
        code="fem.rod.internal_forces, fem.section.rectangular_section",
        kind=Kind.BENCHMARK,
        source="beam",
        place="3EI/L³, titanium–molybdenum at 65 GPa and steel at 170 GPa, by hand",
        tolerance=3e-3,
        reason="three or four digits were kept, and shear is below 1e-3",
        compute=_known_rates,
    ),
    Check(
        id="cantilever_first_yield",
        what="tip force at first yield of the same cantilevers, N",
        code="fem.section.Section.peak_stress_MPa, fem.rod.section_resultants",
        kind=Kind.BENCHMARK,
        source="beam",
        place="σ w h²/(6 L), 830 and 1300 MPa, by hand",
        tolerance=5e-3,
        reason="absolute, N: two decimals were kept",
        compute=_known_strengths,
    ),
    Check(
        id="titanium_beside_steel",
        what="rate and range of a titanium–molybdenum spring over steel's",
        code="workflow.catalogue.load_catalogue, fem.rod.internal_forces",
        kind=Kind.BENCHMARK,
        source="burstone_goldberg",
        place="rate down to a third (below a half), range above one and up to twice",
        tolerance=0.0,
        reason="within the published range the error is 0",
        compute=_titanium_beside_steel,
    ),
    Check(
        id="titanium_springback",
        what="springback and range of titanium–molybdenum over steel's that the rows allow",
        code="workflow.catalogue.load_catalogue",
        kind=Kind.BENCHMARK,
        source="burstone_goldberg",
        place="springback up to 80 % above that of steel, range up to twice",
        tolerance=0.0,
        reason="within the published range the error is 0",
        compute=_springback_ranges,
    ),
    Check(
        id="farther_hook",
        what="force for the same couple at a hook farther away over that nearer",
        code="fem.engage.engage_for_couple",
        kind=Kind.CODE,
        source="statics",
        place="inverse ratio of the distances to the middle of the tube",
        tolerance=1e-2,
        reason="the force is not quite square to that line on a wire bent far",
        compute=_farther_hook,
    ),
    Check(
        id="alloys_at_equal_activation",
        what="forces of three alloys at one activation, over titanium–molybdenum's",
        code="fem.cantilever.solve_for_offset",
        kind=Kind.CODE,
        source="beam",
        place="ratio of the moduli",
        tolerance=1e-9,
        reason="the residual at which Newton's method stops",
        compute=_alloys,
    ),
)
