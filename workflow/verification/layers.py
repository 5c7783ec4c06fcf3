"""Thin bonded layers between rigid bodies: bushes, shells, discs, roots."""

from __future__ import annotations

from functools import cache, partial

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from fem.support import Support, rigid_body_support
from geometry.ligament import ligament_layer
from geometry.surface import sphere_surface
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.layers_bush import (
    ACCURACY,
    BUSH_CHECKS,
    NEARLY_INCOMPRESSIBLE,
    SUPPORT,
)
from workflow.verification.layers_meshes import disc_layer, unit_shear
from workflow.verification.layers_root import ROOT_CHECKS
from workflow.verification.layers_thin import THIN_CHECKS
from workflow.verification.reference import reference_table

Array = NDArray[np.float64]

_RADIUS_MM = 3.0
_RATIOS = (0.3, 0.45, 0.49, 0.499)


@cache
def _shell_stiffness(ratio: float, nu: float) -> Array:
    """6×6 of a sphere in two layers of elements, G = 1."""
    layer = ligament_layer(sphere_surface(_RADIUS_MM, 4), (ratio - 1) * _RADIUS_MM, layers=2)
    return rigid_body_support(layer, unit_shear(nu), np.zeros(3)).stiffness


def _shell_table() -> pd.DataFrame:
    table = reference_table("bonded_spherical_shell")
    return table[table.nu.isin(_RATIOS) & (table.b_over_a < 2)]


def _shell_coupling() -> Compared:
    found = {}
    for row in _shell_table().itertuples():
        K = _shell_stiffness(row.b_over_a, row.nu)[:3, :3]
        coupling = np.abs(K - np.diag(np.diag(K))).max() / K[0, 0]
        found[f"b/a = {row.b_over_a:g}, ν = {row.nu:g}"] = coupling
    return Compared(list(found.values()), 0.0, 1.0, list(found))


def _shell(column: str, power: int, first: int) -> Compared:
    table = _shell_table()
    labels = [
        f"b/a = {row.b_over_a:g}, ν = {row.nu:g}, {axis}"
        for row in table.itertuples()
        for axis in "xyz"
    ]
    computed = [
        np.diag(_shell_stiffness(row.b_over_a, row.nu))[first : first + 3] / _RADIUS_MM**power
        for row in table.itertuples()
    ]
    return Compared(np.ravel(computed), np.repeat(table[column].to_numpy(), 3), labels=labels)


@cache
def _disc(shape_factor: float, nu: float) -> Support:
    """Disc of thickness 1; four layers where the rim is near, two where it is far."""
    layers, rows = (4, (4, 9)) if shape_factor < 3 else (2, (int(2 + shape_factor), 6))
    layer = disc_layer(2 * shape_factor, 1.0, layers, 24, rows)
    return rigid_body_support(layer, unit_shear(nu), np.zeros(3))


def _disc_rows(nearly: bool) -> list[tuple[float, float, float]]:
    table = reference_table("bonded_disc")
    table = table[(table.nu > 0.495) == nearly]
    return list(zip(table.S, table.nu, table.apparent_over_E, strict=True))


def _compression(nearly: bool) -> Compared:
    rows = _disc_rows(nearly)
    computed = [
        _disc(S, nu).stiffness[2, 2] / (np.pi * (2 * S) ** 2 * 2 * (1 + nu)) for S, nu, _ in rows
    ]
    return Compared(
        computed,
        [value for *_, value in rows],
        labels=[f"S = {S:g}, ν = {nu:g}" for S, nu, _ in rows],
    )


def _disc_torsion() -> Compared:
    rows = [(S, nu) for S, nu, _ in _disc_rows(True)]
    return Compared(
        [_disc(S, nu).stiffness[5, 5] for S, nu in rows],
        [np.pi * (2 * S) ** 4 / 2 for S, _ in rows],
        labels=[f"S = {S:g}, ν = {nu:g}" for S, nu in rows],
    )


_DISC_PLACE = "apparent modulus by axisymmetric elements; the approximate formulas are not used"

_BODY_CHECKS = (
    Check(
        id="shell_translation",
        what="force per displacement of a rigid sphere in a bonded shell over G a",
        code=SUPPORT,
        kind=Kind.BENCHMARK,
        source="shell_exact",
        place="b/a = 1.1 and 1.25, ν = 0.3, 0.45, 0.49 and 0.499",
        tolerance=5e-3,
        reason="half a percent is asked of the support; the facets of the sphere take most of it",
        compute=partial(_shell, "translation", 1, 0),
        slow=True,
    ),
    Check(
        id="shell_rotation",
        what="moment per turn of a rigid sphere in a bonded shell over G a³",
        code=SUPPORT,
        kind=Kind.BENCHMARK,
        source="stokes",
        place="8π/(1 − a³/b³), by derivation too",
        tolerance=5e-3,
        reason="half a percent is asked of the support; the facets of the sphere take most of it",
        compute=partial(_shell, "rotation", 3, 3),
        slow=True,
    ),
    Check(
        id="shell_coupling",
        what="force across a displacement of the sphere over that along it",
        code=SUPPORT,
        kind=Kind.CODE,
        source="exact",
        place="symmetry of the sphere",
        tolerance=1e-4,
        reason="the icosahedron is as symmetric as that; its prisms are cut without regard to it",
        compute=_shell_coupling,
        slow=True,
    ),
    Check(
        id="disc_compression",
        what="apparent modulus of a bonded disc over E, ν from 0.3 to 0.49",
        code=SUPPORT,
        kind=Kind.BENCHMARK,
        source="gent_lindley",
        place=_DISC_PLACE,
        tolerance=5e-3,
        reason=ACCURACY,
        compute=partial(_compression, False),
    ),
    Check(
        id="disc_compression_nearly_incompressible",
        what="apparent modulus of a bonded disc over E, ν = 0.499 and 0.4999",
        code=SUPPORT,
        kind=Kind.BENCHMARK,
        source="gent_lindley",
        place=_DISC_PLACE,
        tolerance=2e-2,
        reason=NEARLY_INCOMPRESSIBLE,
        compute=partial(_compression, True),
    ),
    Check(
        id="disc_torsion",
        what="torsional stiffness of a bonded disc, N·mm/rad",
        code=SUPPORT,
        kind=Kind.BENCHMARK,
        source="saint_venant",
        place="πGR⁴/(2t): a linear twist across the layer leaves the rim free",
        tolerance=1e-3,
        reason="the polygon of 24 sides has the circle's area, not quite its polar moment",
        compute=_disc_torsion,
    ),
)

CHECKS: tuple[Check, ...] = (*BUSH_CHECKS, *_BODY_CHECKS, *THIN_CHECKS, *ROOT_CHECKS)
