"""Stress of many engaged wires at once, from the loads that their contacts give the units."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fem.batch_result import BatchResult
from fem.cantilever_arrays import MOUTHS
from fem.cantilever_design import Cantilever
from fem.rigid import shift_wrench
from fem.section import Section

Array = NDArray[np.float64]

_FORCE_AND_MOMENT = (slice(3), slice(3, None))


def section_resultants(result: BatchResult) -> Array:
    """Section resultants N, V2, V3, T, M2, M3 along every wire, (n, nodes + 1, 6), N and N·mm.

    A wire carries what it hands on: in the tube the load of its first mouth, on the free run that
    of the hook. The node at the second mouth comes twice, once with either. Up to the sign, which
    turns with the side that a cut is seen from, the numbers of `fem.rod.section_resultants`, which
    takes them from the strain instead; a batch proves that the two agree (`residual_N`).
    """
    first, second = MOUTHS
    tube, run = slice(first, second + 1), slice(second, None)
    return np.concatenate([_carried(result, 0, first, tube), _carried(result, 2, -1, run)], axis=1)


def _carried(result: BatchResult, contact: int, node: int, cut: slice) -> Array:
    """Load of one contact, touching a node, in the section axes of others."""
    load, place = result.loads[:, contact, None], result.points[:, node, None]
    points, axes = result.points[:, cut], result.axes[:, cut]
    everywhere = np.broadcast_to(load, (*points.shape[:2], 6))
    wrench = shift_wrench(everywhere, place, points)
    turned = [np.einsum("nkji,nkj->nki", axes, wrench[..., part]) for part in _FORCE_AND_MOMENT]
    return np.concatenate(turned, axis=-1)


def peak_stresses_MPa(cantilevers: Sequence[Cantilever], result: BatchResult) -> Array:
    """Greatest stress along each wire, (n,); see `fem.section.Section.peak_stress_MPa`.

    NaN where a design failed.
    """
    resultants = section_resultants(result)
    peaks = np.full(len(cantilevers), np.nan)
    alike: dict[Section, list[int]] = {}
    for number, cantilever in enumerate(cantilevers):
        alike.setdefault(cantilever.wire.section, []).append(number)
    for section, numbers in alike.items():
        peaks[numbers] = section.peak_stress_MPa(resultants[numbers]).max(axis=1)
    return peaks
