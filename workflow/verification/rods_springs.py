"""Coiled springs and tight bends: thin rods by Kirchhoff, thick wires by exact elasticity."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fem.material import Elastic
from fem.rigid import point_shift
from fem.section import round_section
from fem.sweep_compare import rod_against_solid
from fem.sweep_solid import tip_response, wire_solid
from geometry.wire_features import Helix
from geometry.wire_path import Bend, Straight
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.rods_linear import ROUND_LAW, STIFF, swept, thin_compliance
from workflow.verification.rods_solid import ROUND, RX, SQUARE, STEEL

Array = NDArray[np.float64]

_FOURTH = "0.1 rad an element, fourth order"


def _spring_compliance(
    turns: int, radius: float, pitch: float, law: ArrayLike
) -> tuple[float, float, float]:
    """C_F, C_M and C_FM of a helix loaded on its axis through a rigid arm."""
    wire = swept([Helix(turns, radius, pitch)])
    along = wire.tip if pitch else np.array([0.0, 1.0, 0.0])
    axis = along / np.linalg.norm(along)  # whole turns: the tip lies along the helix axis
    to_axis = point_shift(-radius * np.array([0.0, 0, 1]))  # from the tip to the point beside it
    C = to_axis @ thin_compliance(wire, law) @ to_axis.T
    return (
        float(axis @ C[:3, :3] @ axis),
        float(axis @ C[3:, 3:] @ axis),
        float(abs(axis @ C[:3, 3:] @ axis)),
    )


def _open_spring() -> Compared:
    alpha = np.radians(10)
    C_F, C_M, C_FM = _spring_compliance(5, 1.0, 2 * np.pi * np.tan(alpha), ROUND_LAW)
    found = [C_F, C_M, C_FM, 1 / (C_F - C_FM**2 / C_M), 1 / C_F]
    exact = [39.635230, 32.141048, 1.363830, 0.02526697, 0.02523008]
    labels = ["C_F", "C_M", "C_FM", "k, ends kept from turning", "k, ends free to turn"]
    return Compared(found, exact, labels=labels)


def _spring_formula() -> Compared:
    n, R, law = 4, 1.3, [STIFF, STIFF, STIFF, 0.8, 1.0, 1.0]
    found, exact, labels = [], [], []
    for degrees in (5, 20, 35):
        a = np.radians(degrees)
        c, s, wire = np.cos(a), np.sin(a), 2 * np.pi * R * n / np.cos(a)
        C_F, C_M, C_FM = _spring_compliance(n, R, 2 * np.pi * R * np.tan(a), law)
        found += [C_F, C_M, C_FM, 1 / (C_F - C_FM**2 / C_M)]
        exact += [
            wire * R**2 * (c**2 / 0.8 + s**2),
            wire * (s**2 / 0.8 + c**2),
            wire * R * s * c * (1 / 0.8 - 1),
            (0.8 * c**2 + s**2) / (wire * R**2),
        ]
        labels += [f"{name}, {degrees}°" for name in ("C_F", "C_M", "C_FM", "k fixed")]
    return Compared(found, exact, labels=labels)


def _close_spring() -> Compared:
    """Material and section in N and mm: the handbook's rates of a close-coiled spring."""
    steel, d, D, n = Elastic(200e3, 0.3), 0.4, 4.0, 6
    law = round_section(d).stiffness(steel)
    law[:3] = law[4]  # thin_compliance takes their share off again
    C_F, C_M, _ = _spring_compliance(n, D / 2, 0.0, law)
    G = 200e3 / 2.6
    rate = G * d**4 / (8 * D**3 * n)
    turning = 200e3 * (np.pi * d**4 / 64) / (np.pi * D * n)
    return Compared([1 / C_F, 1 / C_M], [rate, turning],
                    labels=["axial rate, N/mm", "turning rate, N·mm/rad"])  # fmt: skip


def _tight_bend() -> Compared:
    """Pure bending of a curved bar stores M²/2EI_w with I_w/I = 3 (artanh x − x)/x³, x = h/2R.

    A quarter circle pushed across at its end is bent by F R sin φ, and its normal force
    N = F sin φ is M/R as in Winkler's own form, where stretch and bending go together; the shear
    F cos φ on the straight section's κGA is left as the rod has it.
    """
    sizes = (3.0, 5.0, 8.0)
    found = [c.in_plane for c in rod_against_solid(SQUARE, STEEL, sizes, shapes=["quarter bend"])]
    exact = []
    for size in sizes:
        R, x = size * 0.4, 0.5 / size
        EA, EI = 200e3 * 0.16, 200e3 * 0.4**4 / 12
        kappa_GA = 13 / 15.3 * 200e3 / 2.6 * 0.16
        bending = np.pi / 4 * R**3 / EI
        shear = np.pi / 4 * R / kappa_GA
        stretch = np.pi / 4 * R / EA
        winkler = bending * x**3 / (3 * (np.arctanh(x) - x)) + shear
        exact.append(winkler / (bending + shear + stretch))
    return Compared(found, exact, labels=[f"R/h = {size:g}" for size in sizes])


def _coil_per_radian(radius_mm: float) -> float:
    """Compliance along the axis of a close coil, for each radian of it (mm/N).

    Arcs of one plane, loaded through a rigid arm on the axis: twisted alike all along, so the
    difference of two is free of what their ends add.
    """
    ways = []
    for angle in (np.pi / 2, np.pi):
        wire = swept((Bend(angle, radius_mm, "height"),), turn=np.pi / 16)
        C, _ = tip_response(wire_solid(wire, ROUND, STEEL))
        axis = np.cross(wire.axes[0][:, 0], wire.tip)
        axis = axis / np.linalg.norm(axis)
        centre = wire.points[0] + radius_mm * np.cross(axis, wire.axes[0][:, 0])
        unit = np.concatenate([axis, np.cross(centre - wire.tip, axis)])
        ways.append(float(unit @ C @ unit))
    return (ways[1] - ways[0]) / (np.pi / 2)


def _twist_per_mm() -> float:
    """Twist of the straight wire under a unit moment: the disc drawn by the same parabolas."""
    twists = []
    for length in (2.0, 4.0):
        C, _ = tip_response(wire_solid(swept((Straight(length),), piece_mm=0.2), ROUND, STEEL))
        twists.append(float(C[RX, RX]))
    return (twists[1] - twists[0]) / 2.0


_THICK_COILS = {3: 1.02310617, 4: 1.01241420}


def _thick_coil() -> Compared:
    twist, found = _twist_per_mm(), []
    for index in _THICK_COILS:
        R = index * 0.4 / 2
        found.append(R**3 * twist / _coil_per_radian(R))
    return Compared(
        found,
        list(_THICK_COILS.values()),
        labels=[f"D/d = {index}" for index in _THICK_COILS],
        note="the handbooks' factor for direct shear, 1/(1 + 1/(2C²)), has the wrong sign",
    )


CHECKS = (
    Check(
        id="open_coiled_spring",
        what="compliances and stiffness of an open-coiled spring, ends free and kept from turning",
        code="geometry.wire_features.Helix, fem.rod.passive_rod",
        kind=Kind.PEER,
        source="frame",
        place="n = 5, R = 1, EI = 1, GJ = 0.8, pitch angle 10°; Love's closed form agrees",
        tolerance=1e-5,
        reason=_FOURTH,
        compute=_open_spring,
    ),
    Check(
        id="open_coiled_spring_formula",
        what="compliances and fixed-end stiffness of springs of three pitch angles",
        code="geometry.wire_features.Helix, fem.rod.passive_rod",
        kind=Kind.BENCHMARK,
        source="love",
        place="thin rods: C_F, C_M, C_FM and k with both ends kept from turning; 5°, 20°, 35°",
        tolerance=1e-5,
        reason=_FOURTH,
        compute=_spring_formula,
    ),
    Check(
        id="close_coiled_spring",
        what="axial and turning rates of a close-coiled spring",
        code="fem.section.round_section, geometry.wire_features.Helix, fem.rod.passive_rod",
        kind=Kind.BENCHMARK,
        source="love",
        place="k = G d⁴/(8 D³ n) and EI/l: the pitch angle gone to 0",
        tolerance=1e-5,
        reason=_FOURTH,
        compute=_close_spring,
    ),
    Check(
        id="tight_bend",
        what="rod's stiffness over the solid's in a tight quarter bend loaded in its plane",
        code="fem.sweep_compare.rod_against_solid",
        kind=Kind.BENCHMARK,
        source="winkler",
        place="I_w/I = 3 (artanh x − x)/x³ with x = h/2R; radii of 3, 5 and 8 heights",
        tolerance=1e-2,
        reason="Winkler's theory leaves out radial stress and takes the straight bar's shear",
        compute=_tight_bend,
    ),
    Check(
        id="thick_coil",
        what="axial stiffness of a close coil of thick wire over G d⁴/(8 D³ n)",
        code="fem.sweep_solid.tip_response",
        kind=Kind.BENCHMARK,
        source="michell_goehner",
        place="exact elasticity at D/d = 3 and 4; Ancker & Goodier 1958 agree to their order",
        tolerance=5e-4,
        reason="0.2 rad a layer; the disc's own error falls out with the straight wire's",
        compute=_thick_coil,
    ),
)
