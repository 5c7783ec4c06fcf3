"""Finite elements of a paraboloid root against thin-layer theory, as the layer gets thinner."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from fem.material import Elastic
from fem.support import rigid_body_support
from fem.thin_layer import thin_layer_stiffness
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.layers_meshes import paraboloid_layer, stiffness_with_held_ends
from workflow.verification.layers_thin import paraboloid

Array = NDArray[np.float64]

_SUPPORT = "fem.support.rigid_body_support"
_HEIGHT, _RADIUS = 15.0, 3.5
_THICKNESSES = (0.4, 0.2, 0.1, 0.05)
_POINT = np.array([0.0, 0.0, 0.6 * _HEIGHT])
_MOTIONS = {"lateral": 0, "axial": 2, "tilt": 3}


@cache
def differences(nu: float) -> dict[str, Array]:
    """Finite elements over theory less one, a row for each thickness.

    On the root's surface and half-way through the layer (lateral, axial, tilt), and with the rim
    held flat half-way (lateral alone).
    """
    material = Elastic(0.05, nu)
    found: dict[str, list[Array]] = {"root": [], "middle": [], "held": []}
    pick = list(_MOTIONS.values())
    for t in _THICKNESSES:
        # The sagitta of a facet must stay small beside the thickness.
        layer = paraboloid_layer(_HEIGHT, _RADIUS, t, around=40 if t > 0.15 else 64)
        free = rigid_body_support(layer, material, _POINT)
        held = stiffness_with_held_ends(layer, material, [2], volumetric=free.volumetric)
        on_root, in_middle = (
            thin_layer_stiffness(paraboloid(_HEIGHT, _RADIUS, offset), material, t, _POINT)
            for offset in (0.0, t / 2)
        )
        found["root"].append((np.diag(free.stiffness) / np.diag(on_root) - 1)[pick])
        found["middle"].append((np.diag(free.stiffness) / np.diag(in_middle) - 1)[pick])
        found["held"].append(np.array([held[0, 0] / in_middle[0, 0] - 1]))
    return {name: np.array(values) for name, values in found.items()}


def _limit(what: str) -> Compared:
    """What is left of the difference in the thinnest layer."""
    found = {
        f"{motion}, ν = {nu}": value
        for nu in (0.3, 0.45)
        for motion, value in zip(_MOTIONS, differences(nu)[what][-1], strict=False)
    }
    history = "; ".join(
        f"ν = {nu} lateral {', '.join(f'{100 * d:.2f}' for d in differences(nu)[what][:, 0])} %"
        for nu in (0.3, 0.45)
    )
    note = f"thickness 0.4, 0.2, 0.1, 0.05 mm: {history}"
    return Compared(list(found.values()), 0.0, 1.0, list(found), note)


def _limit_on_the_root() -> Compared:
    return _limit("root")


def _limit_in_the_middle() -> Compared:
    return _limit("middle")


def _limit_with_held_rim() -> Compared:
    return _limit("held")


def _short_of(theory: int, falls: dict[str, Array]) -> Compared:
    """How far the mean order from 0.4 to 0.05 mm stays below theory's."""
    orders = [np.log2(np.abs(d[0] / d[-1])) / (len(d) - 1) for d in falls.values()]
    note = "observed " + ", ".join(f"{order:.2f}" for order in orders)
    return Compared(np.maximum(theory - np.array(orders), 0), 0.0, 1.0, list(falls), note)


def _order_with_free_rim() -> Compared:
    return _short_of(
        1,
        {
            f"{motion}, ν = {nu}": differences(nu)["middle"][:, column]
            for nu in (0.3, 0.45)
            for motion, column in (("lateral", 0), ("tilt", 2))
        },
    )


def _order_with_held_rim() -> Compared:
    return _short_of(2, {f"ν = {nu}": differences(nu)["held"][:, 0] for nu in (0.3, 0.45)})


ROOT_CHECKS = (
    Check(
        id="thin_root_meets_theory",
        what="finite elements over theory on the root's surface, less one, layer of 0.05 mm",
        code=_SUPPORT,
        kind=Kind.BENCHMARK,
        source="provatidis",
        place="limit of a thin layer, ν = 0.3 and 0.45",
        tolerance=1.5e-2,
        reason="curvature stiffens and the rim softens by the thickness over the root's radius",
        compute=_limit_on_the_root,
        slow=True,
    ),
    Check(
        id="thin_root_meets_theory_half_way",
        what="finite elements over theory half-way through the layer, less one, layer of 0.05 mm",
        code=_SUPPORT,
        kind=Kind.BENCHMARK,
        source="provatidis",
        place="limit of a thin layer, ν = 0.3 and 0.45",
        tolerance=1e-2,
        reason="without the curvature's share; the free rim's is left",
        compute=_limit_in_the_middle,
        slow=True,
    ),
    Check(
        id="thin_root_with_held_rim",
        what="lateral stiffness over theory half-way, less one, rim held flat, layer of 0.05 mm",
        code=_SUPPORT,
        kind=Kind.BENCHMARK,
        source="provatidis",
        place="limit of a thin layer without a free rim, ν = 0.3 and 0.45",
        tolerance=1e-3,
        reason="what is left is of second order in the thickness, and the mesh's own 0.1 %",
        compute=_limit_with_held_rim,
        slow=True,
    ),
    Check(
        id="thin_root_order",
        what="what the order of the difference half-way falls short of one in the thickness",
        code=_SUPPORT,
        kind=Kind.SOLUTION,
        source="provatidis",
        place="the free rim is softer over a width of one thickness: first order",
        tolerance=0.1,
        reason="mean over three halvings from 0.4 mm, where the rim is no small part of the root",
        compute=_order_with_free_rim,
        slow=True,
    ),
    Check(
        id="thin_root_order_with_held_rim",
        what="what the order of the lateral difference half-way falls short of two, rim held flat",
        code=_SUPPORT,
        kind=Kind.SOLUTION,
        source="provatidis",
        place="without a free rim curvature leaves the second order",
        tolerance=0.5,
        reason="the mesh's own 0.1 % is as large as the last of these differences",
        compute=_order_with_held_rim,
        slow=True,
    ),
)
