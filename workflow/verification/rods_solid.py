"""A bent wire as a solid swept along its path, against exact values and the rod."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from skfem import Basis, ElementHex2, ElementVector

from fem.appliance import Appliance
from fem.appliance_system import solve_equilibrium
from fem.attachment import DeadForce, clamp_contact
from fem.elasticity import elastic_energy
from fem.material import Elastic
from fem.rigid import rotation
from fem.rod import RodState, passive_rod
from fem.section import Section, rectangular_section, round_section
from fem.sweep_compare import rod_tip_compliance
from fem.sweep_mesh import swept_mesh
from fem.sweep_rotation import LargeBending, bend_by_force, bend_to
from fem.sweep_solid import WireSolid, tip_response, wire_solid
from fem.sweep_stress import surface_stress
from geometry.wire_features import Helix, ULoop
from geometry.wire_path import Bend, Straight, SweptWire
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.rods_elastica import WALL
from workflow.verification.rods_linear import swept

Array = NDArray[np.float64]

STEEL = Elastic(200e3, 0.3)
ROUND, SQUARE = round_section(0.4), rectangular_section(0.4, 0.4)
LOOP = (Straight(2.0), Helix(1, 1.0, 0.8, "width"), Straight(2.0))
U_LOOP = (Straight(2.0), ULoop(4.0, 3.0, 1.0, "width"), Straight(2.0))
X, Y, Z, RX = 0, 1, 2, 3

_ALPHA = 1.4  # PL²/EI of the straight wire bent far


def _volumes() -> Compared:
    wire = swept(LOOP, turn=0.2)
    found, exact = [], []
    for section in (rectangular_section(0.4, 0.5), SQUARE):
        mesh = swept_mesh(wire, section).mesh
        found.append(Basis(mesh, ElementHex2(), intorder=4).dx.sum())
        exact.append(section.width_mm * section.height_mm * wire.length_mm)
    return Compared(found, exact, labels=["0.4 × 0.5 mm", "0.4 × 0.4 mm"])


def _round_volume() -> Compared:
    wire = swept(LOOP, turn=0.2)
    mesh = swept_mesh(wire, ROUND).mesh
    volume = Basis(mesh, ElementHex2(), intorder=4).dx.sum()
    return Compared(volume, np.pi * 0.04 * wire.length_mm)


@cache
def _bend() -> WireSolid:
    return wire_solid(swept((Bend(0.4, 1.0, "height"),), turn=0.2), SQUARE, STEEL, (1, 1))


def _tangent_at_rest() -> Compared:
    """scikit-fem numbers vectors by vertices, edges, facets, cells, three components each."""
    solid = _bend()
    _, K = solid.internal(np.zeros(solid.unknowns))
    space = Basis(solid.swept.mesh, ElementVector(ElementHex2()), intorder=4)
    lame, shear = STEEL.lame_MPa, STEEL.shear_modulus_MPa
    other = elastic_energy.assemble(space, lame=lame, shear=shear).tocsr()
    parts = (space.nodal_dofs, space.edge_dofs, space.facet_dofs, space.interior_dofs)
    order = np.concatenate([part.T.ravel() for part in parts])
    reordered = other[order][:, order].toarray()
    return Compared(K.toarray(), reordered, scale=float(np.abs(reordered).max()))


def _tangent_derivative() -> Compared:
    solid, step = _bend(), 1e-4
    u, along = np.random.default_rng(1).normal(scale=0.01, size=(2, solid.unknowns))
    _, K = solid.internal(u)
    ahead, behind = (solid.internal(u + way * step * along)[0] for way in (1, -1))
    product = K @ along
    return Compared(product, (ahead - behind) / 2 / step, scale=float(np.abs(product).max()))


def _rigid_turn() -> Compared:
    solid = wire_solid(swept(LOOP, turn=0.4), SQUARE, STEEL, (1, 1))
    x = solid.swept.mesh.doflocs.T
    u = (x @ rotation(np.array([0.7, -1.1, 0.4])).T - x + [1.0, 2.0, 3.0]).ravel()
    forces, K = solid.internal(u)
    return Compared(forces, 0.0, scale=float(abs(K).max()))


_WIRES = {
    "straight round": ((Straight(10.0),), ROUND),
    "straight square": ((Straight(10.0),), SQUARE),
    "closed loop": (LOOP, ROUND),
    "U loop": (U_LOOP, ROUND),
}


@cache
def _by_solid(name: str) -> Array:
    features, section = _WIRES[name]
    compliance, _ = tip_response(wire_solid(swept(features), section, STEEL))
    return compliance


def _rod_and_solid() -> Compared:
    found, exact, labels = [], [], []
    for name, (features, section) in _WIRES.items():
        found.append(np.diag(rod_tip_compliance(swept(features), section, STEEL))[:3])
        exact.append(np.diag(_by_solid(name))[:3])
        labels += [f"{name}, {axis}" for axis in "xyz"]
    return Compared(found, exact, labels=labels)


def _reciprocity() -> Compared:
    found = [_by_solid(name) / np.abs(_by_solid(name)).max() for name in _WIRES]
    labels = [f"{name}, C{i}{j}" for name in _WIRES for i in range(6) for j in range(6)]
    return Compared(found, [C.T for C in found], scale=1.0, labels=labels)


def _bending_stress() -> Compared:
    """Two heights away from the ends, over the stress at the root."""
    wire = swept((Straight(10.0),), piece_mm=0.4)
    solid, force = wire_solid(wire, SQUARE, STEEL), 2.0
    _, u = tip_response(solid)
    inner = slice(2, -2)
    largest = surface_stress(solid, force * u[:, Z], linear=True).largest_by_piece_MPa()[inner]
    expected = (force * (10.0 - wire.arc_mm[:-1]) / (0.4**3 / 6))[inner]
    labels = [f"x = {x:.1f} mm" for x in wire.arc_mm[:-1][inner]]
    return Compared(largest, expected, scale=force * 10 / (0.4**3 / 6), labels=labels)


def rod_under_force(wire: SweptWire, section: Section, force: ArrayLike) -> Array:
    """Way of the tip (3,) of a clamped rod under a dead force (3,) in N."""
    rod = passive_rod(wire.points, wire.axes, wire.lengths_mm, section.stiffness(STEEL))
    load = DeadForce(rod.n_elements, np.asarray(force, dtype=float))
    clamp = clamp_contact(0, 0, wire.points[0], wire.axes[0])
    passive = RodState(wire.points, wire.axes)
    state = solve_equilibrium(Appliance(rod, passive, WALL, clamp, (load,))).state
    return np.asarray(state.points[-1] - wire.points[-1])


def _bar_force() -> Array:
    return np.array([0.0, 0.0, _ALPHA * 200e3 * (0.4**4 / 12) / 100])


@cache
def _straight_bar() -> WireSolid:
    return wire_solid(swept((Straight(10.0),), piece_mm=1.0), SQUARE, STEEL, (1, 1))


@cache
def _bent_far() -> LargeBending:
    return bend_by_force(_straight_bar(), _bar_force(), steps=3)


def _solid_elastica() -> Compared:
    bent = _bent_far()
    note = f"largest strain {bent.largest_strain:.3f}; the elastica neither stretches nor shears"
    return Compared(
        [bent.tip_mm[Z] / 10, -bent.tip_mm[X] / 10],
        [0.391465722235, 0.0973168133326],
        scale=1.0,
        labels=["w/L", "u/L"],
        note=note,
    )


def _solid_and_rod_far() -> Compared:
    wire = swept((Straight(10.0),), piece_mm=0.25)
    by_rod = rod_under_force(wire, SQUARE, _bar_force())
    return Compared(_bent_far().tip_mm, by_rod, scale=float(np.linalg.norm(by_rod)), labels="xyz")


def _led_and_loaded() -> Compared:
    moved = bend_to(_straight_bar(), float(_bent_far().tip_mm[Z]), np.eye(3)[Z], steps=3)
    return Compared(moved.force_N, _bar_force(), scale=float(_bar_force()[Z]), labels="xyz")


def _loop_far() -> Compared:
    solid = wire_solid(swept(LOOP, turn=0.2), ROUND, STEEL, (1, 1))
    bent = bend_to(solid, 2.0, np.eye(3)[Y], steps=4)
    by_rod = rod_under_force(swept(LOOP, turn=0.05), ROUND, bent.force_N)
    return Compared(by_rod, bent.tip_mm, scale=2.0, labels="xyz")


CHECKS = (
    Check(
        id="swept_volume",
        what="volume of a swept rectangular wire with a loop, mm³",
        code="fem.sweep_mesh.swept_mesh",
        kind=Kind.CODE,
        source="pappus",
        place="area times length of the centroid's path",
        tolerance=1e-5,
        reason="parabolas of 0.2 rad instead of arcs, fourth order",
        compute=_volumes,
    ),
    Check(
        id="swept_volume_round",
        what="volume of a swept round wire with a loop, mm³",
        code="fem.sweep_mesh.swept_mesh",
        kind=Kind.CODE,
        source="pappus",
        place="area times length of the centroid's path",
        tolerance=1e-3,
        reason="the rim is drawn by eight parabolas, 8e-4 of its area short",
        compute=_round_volume,
    ),
    Check(
        id="swept_solid_linear_form",
        what="stiffness matrix at rest against the linear form, over its largest entry",
        code="fem.sweep_solid.WireSolid.internal",
        kind=Kind.PEER,
        source="scikit_fem",
        place="bent wire of two elements",
        tolerance=1e-12,
        reason="rounding",
        compute=_tangent_at_rest,
    ),
    Check(
        id="swept_solid_tangent",
        what="tangent against differences of the internal forces, over the largest product",
        code="fem.sweep_solid.WireSolid.internal",
        kind=Kind.CODE,
        source="calculus",
        place="bent wire, random strains",
        tolerance=1e-7,
        reason="central differences of step 1e-4 of a cubic",
        compute=_tangent_derivative,
    ),
    Check(
        id="swept_solid_objectivity",
        what="internal forces after a rigid motion, over the largest stiffness",
        code="fem.sweep_solid.WireSolid.internal",
        kind=Kind.CODE,
        source="objectivity",
        place="wire with a loop turned by 1.36 rad",
        tolerance=1e-12,
        reason="rounding",
        compute=_rigid_turn,
    ),
    Check(
        id="rod_and_solid",
        what="compliance of the rod's tip in x, y and z against the solid on the same path",
        code="fem.sweep_compare.rod_tip_compliance, fem.sweep_solid.tip_response",
        kind=Kind.CODE,
        source="beam",
        place="straight wires, a closed loop and a U loop; models sharing path and constants only",
        tolerance=1e-2,
        reason="bends of 2.5 heights: Winkler's share of order (3/5)(h/2R)² on part of the wire",
        compute=_rod_and_solid,
    ),
    Check(
        id="swept_solid_reciprocity",
        what="compliance matrix against its transpose, over the largest entry",
        code="fem.sweep_solid.tip_response",
        kind=Kind.CODE,
        source="betti",
        place="straight wires, a closed loop and a U loop",
        tolerance=1e-6,
        reason="residual of the solver on a slender wire",
        compute=_reciprocity,
    ),
    Check(
        id="swept_bending_stress",
        what="greatest surface stress along a straight wire, over that at its root",
        code="fem.sweep_stress.surface_stress",
        kind=Kind.CODE,
        source="beam",
        place="M/W, two heights away from the ends",
        tolerance=2e-2,
        reason="a piece's largest stress is read at its quadrature points; shear adds a little",
        compute=_bending_stress,
    ),
    Check(
        id="solid_elastica",
        what="deflection and shortening of a solid wire bent far, in spans",
        code="fem.sweep_rotation.bend_by_force",
        kind=Kind.BENCHMARK,
        source="bisshopp_drucker",
        place="PL²/EI = 1.4",
        tolerance=2e-3,
        reason="slenderness of 25: shear and stretch are worth (h/L)² = 1.6e-3",
        compute=_solid_elastica,
    ),
    Check(
        id="solid_and_rod_bent_far",
        what="way of the tip of a solid bent far against the rod, over its length",
        code="fem.sweep_rotation.bend_by_force, fem.appliance_system.solve_equilibrium",
        kind=Kind.CODE,
        source="beam",
        place="PL²/EI = 1.4; two models sharing path and constants only",
        tolerance=5e-3,
        reason="one quadratic element across, ten along",
        compute=_solid_and_rod_far,
    ),
    Check(
        id="solid_led_and_loaded",
        what="force that leads a solid's tip to where a given force bent it, over that force",
        code="fem.sweep_rotation.bend_to, fem.sweep_rotation.bend_by_force",
        kind=Kind.CODE,
        source="statics",
        place="the same wire, by displacement and by force",
        tolerance=1e-5,
        reason="the residuals at which both Newton's methods stop",
        compute=_led_and_loaded,
    ),
    Check(
        id="solid_loop_bent_far",
        what="way of the rod's tip under the force that holds a solid loop bent, over 2 mm",
        code="fem.sweep_rotation.bend_to, fem.appliance_system.solve_equilibrium",
        kind=Kind.CODE,
        source="beam",
        place="closed loop of 1 mm in 0.4 mm wire, tip led by 2 mm",
        tolerance=3e-2,
        reason="one core element across and 0.2 rad a layer; Winkler's share at R = 2.5 d",
        compute=_loop_far,
        slow=True,
    ),
)
