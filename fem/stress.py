"""What a stress field says: hydrostatic, von Mises and principal stress, by share of volume."""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class VolumeStatistics:
    """A scalar at quadrature points, by share of the volume.

    Attributes
    ----------
    p01, p50, p99
        Values that 1, 50 and 99 % of the volume stay below.
    min, max
        Smallest and largest value at any quadrature point.
    """

    p01: float
    p50: float
    p99: float
    min: float
    max: float

    def scaled(self, factor: float) -> dict[str, float]:
        """The five numbers times a positive factor, as a dictionary."""
        return {name: factor * value for name, value in asdict(self).items()}


def hydrostatic(stress: Array) -> Array:
    """Mean normal stress of tensors (…, 3, 3); tension positive."""
    return np.trace(stress, axis1=-2, axis2=-1) / 3


def von_mises(stress: Array) -> Array:
    """``√(3/2 s:s)`` of tensors (…, 3, 3) with deviator s."""
    deviator = stress - hydrostatic(stress)[..., None, None] * np.eye(3)
    return np.sqrt(1.5 * np.sum(deviator**2, axis=(-2, -1)))


def principal(stress: Array) -> Array:
    """Principal stresses of tensors (…, 3, 3), largest (most tensile) first, (…, 3)."""
    return np.asarray(np.linalg.eigvalsh(stress), dtype=np.float64)[..., ::-1]


def volume_statistics(values: Array, volumes: Array) -> VolumeStatistics:
    """Percentiles by volume and extremes of a scalar at quadrature points.

    Parameters
    ----------
    values, volumes
        Same shape: the scalar and the volume each point stands for.
    """
    order = np.argsort(values, axis=None)
    sorted_values = values.ravel()[order]
    share = np.cumsum(volumes.ravel()[order])
    share /= share[-1]
    p01, p50, p99 = (
        float(sorted_values[np.searchsorted(share, level)]) for level in (0.01, 0.50, 0.99)
    )
    return VolumeStatistics(p01, p50, p99, float(sorted_values[0]), float(sorted_values[-1]))
