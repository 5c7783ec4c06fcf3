"""What batches of engaged wires are asked for beside loads: ligament stress, and the elastic limit.

Shared by searches and parameter studies.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from fem.ligament_percentiles import hydrostatic_percentiles
from fem.unit import ToothSupport, UnitSupport, tooth_motion
from workflow.catalogue import load_catalogue
from workflow.supports import load_stress_basis
from workflow.units import KPA_PER_MPA

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

PAST_YIELD = "past its elastic limit"
PAST_PLATEAU = "past its plateau: run it as a case"


def tooth_motions(unit: UnitSupport, motions: Array, tooth: ToothSupport) -> Array:
    """Motions of a tooth about its own point and axes, (n, 6), from its unit's at the centre."""
    to_tooth = np.column_stack([tooth_motion(unit, q, tooth) for q in np.eye(6)])
    return np.asarray(motions @ to_tooth.T)


def hydrostatic_kPa(basis_file: str, motions: Array) -> Array:
    """Hydrostatic stress that 1 % and 99 % of a ligament's volume stay below, (n, 2), kPa.

    Parameters
    ----------
    basis_file
        ``stress_basis.npz`` of the tooth.
    motions
        Motions of the tooth about its own point and axes, (n, 6); NaN gives NaN.
    """
    basis, _ = load_stress_basis(basis_file)
    return KPA_PER_MPA * hydrostatic_percentiles(basis, motions)


def past_limit(alloys: Iterable[str], yield_ratios: Array) -> tuple[Flags, Flags]:
    """Which wires taken as elastic are past their limit, and of which the numbers mean nothing.

    Past its plateau a superelastic wire is nothing like an elastic one.

    Parameters
    ----------
    alloys, yield_ratios
        Alloy, and peak stress over the limit, of each wire.
    """
    rows = load_catalogue().alloys
    superelastic = np.array([rows[name].superelastic is not None for name in alloys], dtype=bool)
    past = np.asarray(yield_ratios > 1)
    return past, past & superelastic
