"""Spring rates of straight wires, alloys, mirror images and friction at the hook."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Appliance, Equilibrium, Unit
from fem.appliance_system import solve_equilibrium
from fem.attachment import DeadForce, clamp_contact
from fem.cantilever import SolvedCantilever, solve_for_offset
from fem.cantilever_contacts import engage_with_friction
from fem.cantilever_design import Cantilever, CantileverSites
from fem.material import Elastic
from fem.mirror import felt_by_one, from_both
from fem.rod import RodState, passive_rod, section_resultants
from workflow.verification.appliances_statics import (
    ALONG,
    BASE_MM,
    FLAT,
    MOLAR,
    SKEWED_BAR,
    STEEL,
    TITANIUM,
    UP,
    cantilever,
)
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.reference import reference_table

Array = NDArray[np.float64]

_I_MM4 = 0.635 * 0.4318**3 / 12
_NICKEL = Elastic(34e3, 0.3)


@dataclass(frozen=True)
class _Spring:
    """A row of the table of spring rates."""

    alloy: str
    E_MPa: float
    yield_MPa: float
    L_mm: float
    rate_N_per_mm: float
    yield_N: float
    yield_mm: float

    @property
    def name(self) -> str:
        """Alloy and length."""
        return f"{self.alloy}, {self.L_mm:g} mm"

    @property
    def material(self) -> Elastic:
        """Elastic constants."""
        return Elastic(self.E_MPa, 0.3)


def _springs() -> Iterator[_Spring]:
    for row in reference_table("cantilever_spring_rates").to_dict("records"):
        yield _Spring(**{str(key): value for key, value in row.items()})


def _force(solved: SolvedCantilever) -> float:
    return float(np.linalg.norm(solved.force_on_hook_N()))


def _clamped(length_mm: float, material: Elastic, force_N: float) -> tuple[Appliance, Equilibrium]:
    """Wire clamped at its first node, a small force across its last."""
    x = np.linspace(0, length_mm, 11)
    points, axes = np.outer(x, ALONG), np.tile(np.eye(3), (11, 1, 1))
    law = FLAT.stiffness(material)
    law[1:3] *= 1e3  # shear, which 3EI/L³ leaves out
    rod = passive_rod(points, axes, np.diff(x), law)
    units = (Unit("clamp", np.zeros(3), None), Unit("none", np.zeros(3), None))
    contacts = clamp_contact(0, 0, np.zeros(3), np.eye(3))
    pulled = (DeadForce(10, force_N * UP),)
    appliance = Appliance(rod, RodState(points, axes), units, contacts, pulled)
    return appliance, solve_equilibrium(appliance)


def _clamped_rates() -> Compared:
    force, computed, expected, labels = 1e-4, [], [], []
    for spring in _springs():
        appliance, found = _clamped(spring.L_mm, spring.material, force)
        rate = force / found.state.points[-1, 2]
        resultants = section_resultants(appliance.rod, found.state)
        most = force * spring.yield_MPa / float(FLAT.peak_stress_MPa(resultants).max())
        computed.append([rate, most, most / rate])
        expected.append([spring.rate_N_per_mm, spring.yield_N, spring.yield_mm])
        labels += [f"{spring.name}, {what}" for what in ("rate", "force", "way")]
    last_digit = np.array([1e-4, 0.01, 0.1])
    return Compared(computed / last_digit, expected / last_digit, 1.0, labels)


def _clamped_rates_exactly() -> Compared:
    springs, force = list(_springs()), 1e-4
    return Compared(
        [force / _clamped(s.L_mm, s.material, force)[1].state.points[-1, 2] for s in springs],
        [3 * s.E_MPa * _I_MM4 / s.L_mm**3 for s in springs],
        labels=[s.name for s in springs],
    )


def _tube_rates() -> Compared:
    """Two points 4 mm apart instead of a clamp: 3EI/(L²(L + b))."""
    springs, rates = list(_springs()), []
    for spring in springs:
        design = cantilever(span_mm=spring.L_mm, material=spring.material)
        design = replace(design, wire=replace(design.wire, shear_rigid=True))
        offset = 1e-3 * spring.L_mm
        rates.append(_force(solve_for_offset(design, offset)) / offset)
    expected = [3 * s.E_MPa * _I_MM4 / (s.L_mm**2 * (s.L_mm + BASE_MM)) for s in springs]
    return Compared(rates, expected, labels=[s.name for s in springs])


def _alloys() -> Compared:
    """The same elastic wire at the same activation, far into large rotation, rigid units."""
    materials = {"steel": STEEL, "titanium-molybdenum": TITANIUM, "nickel-titanium": _NICKEL}
    forces = [_force(solve_for_offset(cantilever(material=m), 6.0)) for m in materials.values()]
    return Compared(
        np.array(forces) / forces[0],
        [1, 65 / 170, 34 / 170],
        labels=list(materials),
        note="Printed material numbers, 0.42 and 0.26 beside steel (from memory), are of other "
        "moduli; see the validation of wire stiffness.",
    )


def _mirror_images() -> Compared:
    """A right appliance is the image of the left one in x = 0 and so is all it does."""
    flip = np.array([-1.0, 1, 1])
    left = cantilever(SKEWED_BAR, 20.0, supports=(MOLAR, 0.5 * MOLAR))
    old = left.sites
    axes = flip[:, None] * old.tube_axes * [1, -1, 1]  # right-handed again
    assert old.bar is not None
    sites = CantileverSites(
        (flip * old.mouths[0], flip * old.mouths[1]), axes, flip * old.hook, flip * old.bar, UP
    )
    units = tuple(replace(u, point=flip * u.point) for u in left.units)
    right = solve_for_offset(Cantilever(sites, left.wire, units), 5.0).equilibrium
    expected = solve_for_offset(left, 5.0).equilibrium
    of_load = np.concatenate([flip, -flip])
    computed = [right.wrench_on(unit, np.zeros(3)) for unit in (0, 1)]
    image = [of_load * expected.wrench_on(unit, np.zeros(3)) for unit in (0, 1)]
    return Compared(computed, image, float(np.abs(image).max()))


def _two_mirrored_wires() -> Compared:
    """A symmetric unit under a load and its image: all six equations, beside half the unit."""
    flip = np.array([-1.0, 1, 1, 1, -1, -1])
    root = np.random.default_rng(8).standard_normal((6, 6))
    half = root @ root.T + np.eye(6)
    K = half + flip[:, None] * half * flip
    point, wrench = np.zeros(3), np.array([0.3, -0.2, 0.5, 2.0, -1.0, 4.0])
    middle, felt = felt_by_one(K, point)
    computed = np.linalg.solve(felt, wrench)
    expected = np.linalg.solve(K, wrench + flip * wrench)
    whole = from_both(wrench)
    assert np.abs(middle).max() == 0
    scale = float(np.abs(expected).max())
    return Compared([computed, np.linalg.solve(K, whole)], expected, scale)


def _friction_on_a_slope() -> Compared:
    """Bar at β to the wire: ``N (cos β ± μ sin β) = k a``, and μN along it."""
    mu, computed, expected, labels = 0.2, [], [], []
    for degrees in (10.0, 25.0, 40.0):
        beta = np.radians(degrees)
        bar = np.array([np.cos(beta), 0, np.sin(beta)])
        design, offset = cantilever(bar), 2e-3
        found = engage_with_friction(design, offset, mu)
        assert not found.sticks
        loads = [e.loads[-1].wrench[:3] for e in (found.activating, found.deactivating)]
        going, coming = (float(np.linalg.norm(load)) for load in loads)
        rubs = [load @ bar / np.linalg.norm(load - load @ bar * bar) for load in loads]
        computed += [going / coming, *rubs]
        # lifted, the wire slips up along the bar and drags it the same way
        lean = mu * np.tan(beta)
        expected += [(1 + lean) / (1 - lean), mu, -mu]
        labels += [f"{degrees:g}°: {what}" for what in ("ratio", "activating", "letting back")]
    return Compared(computed, expected, labels=labels)


CHECKS = (
    Check(
        id="clamped_spring_rates",
        what="rate, and force and way at first yield, of clamped cantilevers, in last digits",
        code="fem.rod.internal_forces, fem.section.Section.peak_stress_MPa",
        kind=Kind.CODE,
        source="beam",
        place="3EI/L³ and σ w h²/(6L) of 0.017 × 0.025 inch, table of 15 to 30 mm",
        tolerance=0.5,
        reason="rounding of 0.0001 N/mm, 0.01 N and 0.1 mm",
        compute=_clamped_rates,
    ),
    Check(
        id="clamped_rates_by_formula",
        what="rate of the same cantilevers, N/mm",
        code="fem.rod.internal_forces",
        kind=Kind.CODE,
        source="beam",
        place="3EI/L³",
        tolerance=3e-5,
        reason="a thousandth of the shear deflection is left, itself below 1e-2 at 15 mm",
        compute=_clamped_rates_exactly,
    ),
    Check(
        id="tube_rates_by_formula",
        what="rate of the same wires in a tube of 4 mm, N/mm",
        code="fem.cantilever.solve_for_offset",
        kind=Kind.CODE,
        source="beam",
        place="3EI/(L²(L + b)) of a wire on two points",
        tolerance=1e-4,
        reason="the square of the slope, a thousandth, and the bend at the tube",
        compute=_tube_rates,
    ),
    Check(
        id="force_goes_with_the_modulus",
        what="force of the same wire in three alloys at the same activation, over that of steel",
        code="fem.cantilever.solve_for_offset",
        kind=Kind.CODE,
        source="beam",
        place="the shape of an elastic wire between immovable units does not depend on its modulus",
        tolerance=1e-8,
        reason="residual of the equilibrium",
        compute=_alloys,
    ),
    Check(
        id="mirror_image_of_an_appliance",
        what="loads of a right appliance beside the image of the left one's, over the largest",
        code="fem.cantilever.solve_for_offset",
        kind=Kind.CODE,
        source="objectivity",
        place="reflection in the midline plane: forces as vectors, couples as axial vectors",
        tolerance=1e-8,
        reason="residual of the equilibrium",
        compute=_mirror_images,
    ),
    Check(
        id="two_mirrored_wires",
        what="motion of a symmetric unit under a wire and its image, over the largest component",
        code="fem.mirror.felt_by_one, fem.mirror.from_both",
        kind=Kind.CODE,
        source="statics",
        place="the whole unit solved under w + S w",
        tolerance=1e-6,
        reason="directions shut off by symmetry are held 1e7 times as firmly, not rigidly",
        compute=_two_mirrored_wires,
    ),
    Check(
        id="friction_on_a_slope",
        what="force while activating over that while letting back, and rub over press",
        code="fem.friction.friction_bracket, fem.cantilever_contacts.engage_with_friction",
        kind=Kind.CODE,
        source="coulomb_slope",
        place="bar at 10, 25, 40° to the wire: (1 + μ tan β)/(1 − μ tan β), ±μ, at μ = 0.2",
        tolerance=1e-4,
        reason="slope of the wire at the hook, 1e-4",
        compute=_friction_on_a_slope,
    ),
)
