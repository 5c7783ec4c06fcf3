"""Code to code: the same meshes, materials and loads solved by other programs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from workflow.verification import peers_felupe, peers_ngsolve, peers_scikit_fem
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.peers_models import (
    HELD,
    LOADED,
    RATIOS,
    Answer,
    largest_difference,
    our_tooth,
    our_wire,
    stiffness,
    tooth_materials,
    tooth_mesh,
    tooth_model,
    wire_model,
    wire_path,
)

_QUADRATURE_ORDER = 4  # of `fem.sweep_solid`

Array = NDArray[np.float64]
Solve = Callable[[float], Answer]


def _compared(ours: Solve, peer: Solve, points: Array) -> Compared:
    """Displacements of each load and the 6×6, as differences over the largest of each."""
    differences, labels = [], []
    for ratio in RATIOS:
        mine, theirs = ours(ratio), peer(ratio)
        expected = stiffness(theirs, points)
        apart = np.abs(stiffness(mine, points) - expected).max() / np.abs(expected).max()
        differences += [*largest_difference(mine, theirs), apart]
        labels += [f"ν = {ratio:g}, displacements of load {load}" for load in range(1, 7)]
        labels += [f"ν = {ratio:g}, 6×6"]
    note = "Shown are differences over the largest displacement, and over the largest entry."
    return Compared(differences, 0.0, scale=1.0, labels=labels, note=note)


def _tooth(peer: Solve) -> Callable[[], Compared]:
    return lambda: _compared(our_tooth, peer, tooth_mesh().points)


def _wire(peer: Solve) -> Callable[[], Compared]:
    return lambda: _compared(our_wire, peer, np.asarray(wire_path().points))


def _ngsolve_tooth(ratio: float) -> Answer:
    return peers_ngsolve.solve_tooth(tooth_model(), tooth_materials(ratio), LOADED, HELD)


def _ngsolve_wire(ratio: float) -> Answer:
    return peers_ngsolve.solve_wire(wire_model(ratio), wire_path())


def _felupe_tooth(ratio: float) -> Answer:
    return peers_felupe.solve_tooth(tooth_model(), tooth_materials(ratio))


def _felupe_wire(ratio: float) -> Answer:
    return peers_felupe.solve_wire(wire_model(ratio))


def _scikit_fem_tooth(ratio: float) -> Answer:
    return peers_scikit_fem.solve_tooth(tooth_model(), tooth_materials(ratio), LOADED, HELD)


def _scikit_fem_wire(ratio: float) -> Answer:
    return peers_scikit_fem.solve_wire(wire_model(ratio), _QUADRATURE_ORDER)


def _scikit_fem_quadrature(ratio: float) -> Answer:
    return peers_scikit_fem.solve_wire(wire_model(ratio))


_PEERS = {
    "ngsolve": ("NGSolve", _ngsolve_tooth, _ngsolve_wire, "its own traction and Cholesky"),
    "felupe": ("FElupe", _felupe_tooth, _felupe_wire, "our nodal loads, SciPy's direct solver"),
    "scikit_fem": (
        "scikit-fem",
        _scikit_fem_tooth,
        _scikit_fem_wire,
        "its own order of nodes, SciPy's direct solver",
    ),
}


def _checks(source: str) -> tuple[Check, Check]:
    name, tooth, wire, how = _PEERS[source]
    return (
        Check(
            id=f"tooth_{source}",
            what=f"displacements and 6×6 of an elastic tooth in its ligament beside {name}",
            code="fem.deformable.deformable_support, fem.multigrid.solve_layered",
            kind=Kind.PEER,
            source=source,
            place=f"lower incisor, quadratic tetrahedra, ν = 0.3 and 0.45; {how}",
            tolerance=1e-6,
            reason="the same discrete equations; the iterative solver stops at 1e-8 of the load",
            compute=_tooth(tooth),
        ),
        Check(
            id=f"wire_{source}",
            what=f"displacements and 6×6 of a bent wire as a solid beside {name}",
            code="fem.sweep_solid.tip_response",
            kind=Kind.PEER,
            source=source,
            place=f"27-node hexahedra round a right angle, ν = 0.3 and 0.45; {how}",
            tolerance=1e-6,
            reason="the same discrete equations, both solved directly",
            compute=_wire(wire),
        ),
    )


_QUADRATURE = Check(
    id="wire_quadrature",
    what="displacements and 6×6 of a bent wire as a solid beside a quadrature of order 12",
    code="fem.sweep_solid.wire_solid",
    kind=Kind.SOLUTION,
    source="scikit_fem",
    place="its default quadrature of the same 27-node hexahedra round a right angle",
    tolerance=1e-5,
    reason="a hundredth of the 0.1 % that such a mesh is good for",
    compute=_wire(_scikit_fem_quadrature),
)

CHECKS: tuple[Check, ...] = (
    *(check for source in _PEERS for check in _checks(source)),
    _QUADRATURE,
)
