"""A rigid shaft in a bonded bush: closed forms with held ends, and finite bushes with free ends."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from fem.support import rigid_body_support
from geometry.mesh import TetMesh
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.layers_meshes import bush, stiffness_with_held_ends, unit_shear
from workflow.verification.reference import reference_table

Array = NDArray[np.float64]
Shape = tuple[float, float, float]
Meshes = dict[Shape, tuple[int, int, int]]

SUPPORT = "fem.support.rigid_body_support"
LAYER = "fem.assembly.LayerDilatation"
ACCURACY = "half a percent is asked of the support; facets and free ends take most of it"
NEARLY_INCOMPRESSIBLE = (
    "at ν = 0.499 the pressure is that of a layer: its corner and its facets count fourfold"
)
_RATIOS = (0.0, 0.3, 0.45, 0.49, 0.499)
_COLUMNS = {"axial": 2, "radial": 0, "tilt": 3, "torsion": 5}
# Radius b of the outer wall, a = 1: facets around and layers across.
_LONG = {1.05: (64, 2), 1.25: (48, 2), 2.0: (32, 3)}
# Around, along and across: rows narrow to the free ends.
_FINITE: Meshes = {(1, 1.25, 2): (32, 12, 2), (1, 1.25, 4): (40, 16, 2), (1, 1.1, 3): (48, 20, 2)}
_THICK: Meshes = {(1, 2, 2): (32, 8, 4)}
_THICK_FINE: Meshes = {(1, 2, 2): (48, 12, 6)}


def radial_long(a: float, b: float, nu: float) -> float:
    """Force per displacement and length in plane strain, G = 1.

    ``2π (1 + κ)/(κ q − tanh q/κ)`` with ``κ = 3 − 4ν`` and ``q = ln(b/a)``.
    """
    kappa, q = 3 - 4 * nu, np.log(b / a)
    tanh = (b**2 - a**2) / (b**2 + a**2)
    return float(2 * np.pi * (1 + kappa) / (kappa * q - tanh / kappa))


@cache
def _long_bush(b: float) -> TetMesh:
    around, layers = _LONG[b]
    return bush(1, b, 2 * b, around, 4, layers, grading=1)


def _torsion() -> Compared:
    found, expected = {}, []
    for length in (0.4, 1, 3):
        for nu in (0.3, 0.499):
            support = rigid_body_support(
                bush(1, 1.25, length, 48, 8, 2), unit_shear(nu), np.zeros(3)
            )
            found[f"L = {length}, ν = {nu}"] = support.stiffness[5, 5]
            expected.append(4 * np.pi * length / (1 - 1 / 1.25**2))
    return Compared(list(found.values()), expected, labels=list(found))


def _axial() -> Compared:
    cases = [(b, nu) for b in _LONG for nu in _RATIOS]
    computed = [
        stiffness_with_held_ends(_long_bush(b), unit_shear(nu), [0, 1], volumetric="projected")
        for b, nu in cases
    ]
    return Compared(
        [K[2, 2] for K in computed],
        [2 * np.pi * 2 * b / np.log(b) for b, _ in cases],
        labels=[_case(b, nu) for b, nu in cases],
    )


def _case(b: float, nu: float) -> str:
    return f"b/a = {b:g}, ν = {nu:g}"


def _radial(ratios: tuple[float, ...]) -> Compared:
    cases = [(b, nu) for b in _LONG for nu in ratios]
    computed = [
        stiffness_with_held_ends(_long_bush(b), unit_shear(nu), [2], volumetric="projected")
        for b, nu in cases
    ]
    return Compared(
        [K[0, 0] for K in computed],
        [2 * b * radial_long(1, b, nu) for b, nu in cases],
        labels=[_case(b, nu) for b, nu in cases],
    )


def _closed_form_digits() -> Compared:
    printed = {(1.05, 0.49): 3316.058302, (1.25, 0.499): 2332.415991, (2, 0.3): 19.24128951}
    return Compared(
        [radial_long(1, b, nu) for b, nu in printed],
        list(printed.values()),
        labels=[_case(b, nu) for b, nu in printed],
        note="the closed form that the other checks of bushes use, against its printed digits",
    )


def _facets() -> Compared:
    """N flat facets make a thin layer cos(π/n) thinner and its face n sin(π/n)/π shorter."""
    found, expected = {}, []
    for around in (12, 24, 48):
        layer, material = bush(1, 1.05, 1, around, 4, 2, grading=1), unit_shear(0.3)
        held = partial(stiffness_with_held_ends, layer, material, volumetric="projected")
        found[f"{around} facets, axial"] = held([0, 1])[2, 2]
        found[f"{around} facets, radial"] = held([2])[0, 0]
        stiffer = np.tan(np.pi / around) / (np.pi / around)
        expected += [stiffer * 2 * np.pi / np.log(1.05), stiffer * radial_long(1, 1.05, 0.3)]
    return Compared(list(found.values()), expected, labels=list(found))


def _order() -> Compared:
    """Order of the error of a long bush at ν = 0.499 in one, two and three layers."""
    exact, size = radial_long(1, 1.25, 0.499), np.array([1, 2, 3])
    errors = {
        name: np.array(
            [
                stiffness_with_held_ends(
                    bush(1, 1.25, 1, 16 * n, 2 * n, n, grading=1),
                    unit_shear(0.499),
                    [2],
                    volumetric=name,
                )[0, 0]
                / exact
                - 1
                for n in size
            ]
        )
        for name in ("projected", "exact")
    }
    orders = -np.diff(np.log(np.abs(errors["projected"]))) / np.diff(np.log(size))
    percent = {name: ", ".join(f"{100 * e:.1f}" for e in found) for name, found in errors.items()}
    note = f"errors in percent: {percent['projected']}; without the projection {percent['exact']}"
    note = f"observed {orders[0]:.2f} and {orders[1]:.2f}; {note}"
    return Compared(np.maximum(2 - orders, 0), 0.0, 1.0, ["1 to 2 layers", "2 to 3 layers"], note)


def _finite(meshes: Meshes, chosen: Callable[[Any], bool]) -> Compared:
    found, expected = {}, []
    for row in _rows(meshes, chosen):
        K = _finite_stiffness((row.a, row.b, row.L), meshes[row.a, row.b, row.L], row.nu)
        for name, place in _COLUMNS.items():
            found[f"{name}, b/a = {row.b:g}, L = {row.L:g}, ν = {row.nu:g}"] = K[place, place]
            expected.append(getattr(row, name))
    return Compared(list(found.values()), expected, labels=list(found))


def _rows(meshes: Meshes, chosen: Callable[[Any], bool]) -> list[Any]:
    table: pd.DataFrame = reference_table("finite_bush")
    return [r for r in table.itertuples() if (r.a, r.b, r.L) in meshes and chosen(r)]


def _finite_stiffness(shape: Shape, counts: tuple[int, int, int], nu: float) -> Array:
    return rigid_body_support(bush(*shape, *counts), unit_shear(nu), np.zeros(3)).stiffness


def _between(low: float, high: float, row: Any) -> bool:
    return bool(low < row.nu < high)


_below, _above = partial(_between, 0, 0.495), partial(_between, 0.495, 0.5)


_TABLE_PLACE = "digits good to 1e-5 (ν ≤ 0.45), 5e-5 (0.49), 1e-4 (0.499)"

BUSH_CHECKS = (
    Check(
        id="bush_torsion",
        what="torsional stiffness of bushes of any length with free ends, N·mm/rad",
        code=SUPPORT,
        kind=Kind.BENCHMARK,
        source="lame",
        place="4πGL/(1/a² − 1/b²): the shear stress leaves the ends free",
        tolerance=5e-3,
        reason="48 flat facets",
        compute=_torsion,
    ),
    Check(
        id="bush_axial",
        what="axial stiffness of bushes with u_r = u_θ = 0 at the ends, N/mm",
        code=LAYER,
        kind=Kind.BENCHMARK,
        source="adkins_gent",
        place="2πGL/ln(b/a), exact with such ends for every ν",
        tolerance=5e-3,
        reason="32 to 64 flat facets",
        compute=_axial,
    ),
    Check(
        id="bush_closed_form",
        what="radial stiffness of a long bush per length, formula, MPa",
        code="workflow.verification.layers_bush.radial_long",
        kind=Kind.BENCHMARK,
        source="adkins_gent",
        place="2πG(1 + κ)/(κq − tanh q/κ), evaluated by another program",
        tolerance=1e-9,
        reason="ten digits are given",
        compute=_closed_form_digits,
    ),
    Check(
        id="bush_radial",
        what="radial stiffness of bushes in plane strain, ν from 0 to 0.49, N/mm",
        code=LAYER,
        kind=Kind.BENCHMARK,
        source="adkins_gent",
        place="2πGL(1 + κ)/(κq − tanh q/κ), exact with u_z = 0 at the ends",
        tolerance=5e-3,
        reason=ACCURACY,
        compute=partial(_radial, _RATIOS[:-1]),
    ),
    Check(
        id="bush_radial_nearly_incompressible",
        what="radial stiffness of bushes in plane strain, ν = 0.499, N/mm",
        code=LAYER,
        kind=Kind.BENCHMARK,
        source="adkins_gent",
        place="2πGL(1 + κ)/(κq − tanh q/κ), exact with u_z = 0 at the ends",
        tolerance=2e-2,
        reason=NEARLY_INCOMPRESSIBLE,
        compute=partial(_radial, _RATIOS[-1:]),
    ),
    Check(
        id="bush_facets",
        what="stiffness of a thin bush of 12, 24 and 48 facets, N/mm",
        code=LAYER,
        kind=Kind.SOLUTION,
        source="adkins_gent",
        place="closed forms times tan(π/n)/(π/n), the facets' share (geometry)",
        tolerance=1e-3,
        reason="a fifth of the accuracy asked for: what is off is the facets, not the elements",
        compute=_facets,
    ),
    Check(
        id="bush_order",
        what="what the observed order of the radial stiffness falls short of two, ν = 0.499",
        code=LAYER,
        kind=Kind.SOLUTION,
        source="adkins_gent",
        place="facets and projection leave errors of second order, which partly cancel",
        tolerance=0.3,
        reason="the coarsest mesh is one layer of 16 facets",
        compute=_order,
    ),
    Check(
        id="finite_bush",
        what="stiffness of bushes with free ends, ν from 0.3 to 0.49, N/mm and N·mm/rad",
        code=SUPPORT,
        kind=Kind.BENCHMARK,
        source="bush_fourier",
        place=_TABLE_PLACE,
        tolerance=5e-3,
        reason=ACCURACY,
        compute=partial(_finite, _FINITE, _below),
    ),
    Check(
        id="finite_bush_nearly_incompressible",
        what="stiffness of bushes with free ends, ν = 0.499, N/mm and N·mm/rad",
        code=SUPPORT,
        kind=Kind.BENCHMARK,
        source="bush_fourier",
        place=_TABLE_PLACE,
        tolerance=2e-2,
        reason=NEARLY_INCOMPRESSIBLE,
        compute=partial(_finite, _FINITE, _above),
    ),
    Check(
        id="thick_finite_bush",
        what="stiffness of a bush as thick as its shaft, ν from 0.3 to 0.49, N/mm and N·mm/rad",
        code=SUPPORT,
        kind=Kind.BENCHMARK,
        source="bush_fourier",
        place=_TABLE_PLACE,
        tolerance=1e-2,
        reason="four layers; half a percent needs six, since the free end's corner is singular",
        compute=partial(_finite, _THICK, _below),
    ),
    Check(
        id="thick_finite_bush_in_six_layers",
        what="stiffness of a bush as thick as its shaft in six layers, N/mm and N·mm/rad",
        code=SUPPORT,
        kind=Kind.BENCHMARK,
        source="bush_fourier",
        place=_TABLE_PLACE,
        tolerance=5e-3,
        reason=ACCURACY,
        compute=partial(_finite, _THICK_FINE, _below),
        slow=True,
    ),
    Check(
        id="thick_finite_bush_nearly_incompressible",
        what="stiffness of a bush as thick as its shaft, ν = 0.499, N/mm and N·mm/rad",
        code=SUPPORT,
        kind=Kind.BENCHMARK,
        source="bush_fourier",
        place=_TABLE_PLACE,
        tolerance=2e-2,
        reason=NEARLY_INCOMPRESSIBLE,
        compute=partial(_finite, _THICK, _above),
    ),
)
