"""Linear theory of a cantilever of any shape: the unit-load method along its passive wire.

A wire in a tube, free to turn at both mouths, is statically determinate: a force on its end is
carried by the two mouths across the tube, and by the first along it and against rolling. With the
resultants σᵢ(s) of unit forces at the end along three axes and the section law S, the end gives by

    ``Cᵢⱼ = ∫ σᵢᵀ S⁻¹ σⱼ ds``   (Castigliano; bending, torsion, stretch and shear)

Small deflections only. Of a straight wire this is ``1/k = L² (L + b)/(3 E I) + …`` of
`fem.closed_form.TwoPointCantilever`. Curvature of the wire's own thickness is left out: not for
loops tighter than about three times the wire's size.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fem.cantilever import passive_path
from fem.cantilever_design import Cantilever
from geometry.wire import CantileverWire
from geometry.wire_path import Arc, along_arc

Array = NDArray[np.float64]

_GAUSS = 4


def tip_compliance(path: CantileverWire, law: Array) -> Array:
    """Displacement of the wire's end by a unit force there, (3, 3), mm/N, in global axes.

    Parameters
    ----------
    path
        The passive wire.
    law
        Diagonal of the section law, (6,), N, N and N·mm².
    """
    first, second = path.points[list(path.mouths)]
    width, height = path.axes[0].T[1:]
    base = float(np.linalg.norm(second - first))
    compliance = np.zeros((3, 3))
    points, axes, weights = _gauss_points(path)
    unit = np.eye(3)
    about_first = np.cross(path.tip - first, unit)
    across = (
        -np.outer(about_first @ height, width) / base + np.outer(about_first @ width, height) / base
    )
    in_tube = np.arange(len(points)) < _GAUSS * path.mouths[1]
    for p, R, weight, inside in zip(points, axes, weights, in_tube, strict=True):
        force = unit + across if inside else unit
        moment = np.cross(path.tip - p, unit)
        if inside:
            moment = moment + np.cross(second - p, across)
        resultants = np.concatenate([force @ R, moment @ R], axis=1)
        compliance += weight * (resultants / law) @ resultants.T
    return compliance


def linear_force(cantilever: Cantilever, offset_mm: float) -> Array:
    """Force on the wire's end by linear theory of its passive shape, (3,), N; units immovable.

    Over a bar the force is square to it; of a pulled wire along the activation; of a tied one
    square to the tube, the last leg being as long as lets the wire rest in its tube. A second
    bracket counts as a hook over a bar along it, further holds do not count.

    Raises
    ------
    ValueError
        If the bend cannot reach the passive end.
    """
    sites = cantilever.sites.hooked
    path = passive_path(replace(cantilever, sites=sites), offset_mm)
    compliance = tip_compliance(path, cantilever.wire.law)
    wanted = offset_mm * sites.activation
    if sites.pull:
        basis = sites.activation[:, None]
    else:
        free = sites.bar if sites.bar is not None else sites.tube_axes[:, 0]
        basis = np.linalg.svd(np.asarray(free, dtype=float)[None])[2][1:].T
    if not sites.cinched:
        leg = path.axes[-1][:, :1]
        return np.asarray(basis @ np.linalg.solve(np.hstack([compliance @ basis, leg]), wanted)[:2])
    return np.asarray(basis @ np.linalg.solve(basis.T @ compliance @ basis, basis.T @ wanted))


def _gauss_points(path: CantileverWire) -> tuple[Array, Array, Array]:
    """Places (k, 3), section axes (k, 3, 3) and weights (k,) along the wire, mm."""
    swept = path.swept
    x, w = np.polynomial.legendre.leggauss(_GAUSS)
    points, axes, weights = [], [], []
    for p, R, length, curvature in zip(
        swept.points, swept.axes, swept.lengths_mm, swept.curvature_per_mm, strict=False
    ):
        moved, turned = along_arc(Arc(length, curvature), 0.5 * length * (1 + x))
        points.append(p + moved @ R.T)
        axes.append(R @ turned)
        weights.append(0.5 * length * w)
    return np.concatenate(points), np.concatenate(axes), np.concatenate(weights)
