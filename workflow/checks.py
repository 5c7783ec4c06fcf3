"""Checks every case makes of itself, each against a closed form, a law of statics or a proof."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from fem.mirror import axial_image, image
from workflow.specs import Spec

STATICS = "Equilibrium of a free body (statics)"
BEAM = "Two-point cantilever 3EI/(L²(L+b)), Euler–Bernoulli beam theory"
TIMOSHENKO = "Timoshenko beam theory with Cowper's factor (Cowper 1966, from memory)"
UNIT_LOAD = "Unit-load method along the passive wire (Castigliano), units immovable"
SWEPT = "The other model: 3D solid with finite rotations against the rod, between the same ends"
BETTI = "Betti's reciprocity: the 6×6 of an elastic support is symmetric"
SOLVER = "Residual of the linear system"
CASE = "The case file"


@dataclass(frozen=True)
class Check:
    """One computed number beside what it has to be.

    Attributes
    ----------
    id, what
        Short name and plain words.
    computed, reference
        The two numbers.
    relative_error
        Their difference over the reference, or over the stated scale where the reference is 0.
    tolerance
        Largest relative error that passes.
    source
        Where the reference comes from.
    """

    id: str
    what: str
    computed: float
    reference: float
    relative_error: float
    tolerance: float
    source: str

    @property
    def passed(self) -> bool:
        """Whether the error stays within the tolerance; a NaN does not."""
        return bool(self.relative_error <= self.tolerance)

    def record(self) -> dict[str, Any]:
        """Entry of ``checks`` in the summary."""
        entry = asdict(self)
        source = entry.pop("source")
        return entry | {"passed": self.passed, "source": source}


def case_checks(
    case: Spec,
    solved: Spec,
    units: Mapping[str, Any],
    supports: Iterable[Any],
    rod: Any,
    solid: Any,
    curve: Any,
) -> list[Check]:
    """All checks of one case from its records."""
    twins = twin_units(case)
    checks = [
        *balance_checks(units, twins),
        _statics(case, solved, units),
        *_wire_checks(rod, solid),
    ]
    checks += [_as_bent(solved), *_swept(curve), *_wanted(case, solved, units)]
    return [*checks, *_support_checks(supports)]


def balance_checks(units: Mapping[str, Any], twins: Collection[str] = ()) -> list[Check]:
    """Sums of the loads on all units, from the reported forces, moments and centres.

    The wire is a free body that only the units touch, so what it exerts on them sums to nothing.
    Units named as `twins` stand on the other side too, with the mirror image of their load.
    """
    force, moment = free_body_residual(units, twins)
    scales = [_size(unit["force_N"]) for unit in units.values()]
    couples = [_size(unit["moment_at_attachment_Nmm"]) for unit in units.values()]
    return [
        _zero("force_balance", "sum of forces on the units, N", force, max(scales), 1e-8),
        _zero("moment_balance", "sum of moments on the units, N·mm", moment, max(couples), 1e-8),
    ]


def free_body_residual(
    units: Mapping[str, Any], twins: Collection[str] = ()
) -> tuple[float, float]:
    """Size of the sum of forces, N, and of moments about the origin, N·mm."""
    forces, moments = [], []
    for name, unit in units.items():
        force = np.asarray(unit["force_N"])
        about = np.cross(unit["resistance_centre_mm"], force)
        moment = np.asarray(unit["moment_at_resistance_Nmm"]) + about
        forces.append(force)
        moments.append(moment)
        if name in twins:
            forces.append(image(force))
            moments.append(axial_image(moment))
    return _size(np.sum(forces, 0)), _size(np.sum(moments, 0))


def twin_units(case: Spec) -> tuple[str, ...]:
    """Units that a mirror image of the wire has on the other side."""
    if not case["mirror_image"]:
        return ()
    return tuple(name for name in case["units"] if name != case["one_point"]["unit"])


def _statics(case: Spec, solved: Spec, units: Mapping[str, Any]) -> Check:
    """The couple is the sum of the forces at one point times their distances from the tube.

    With one such force it is statically determinate.
    """
    tube, two = np.asarray(solved["tube"]["middle_mm"]), case["two_point"]["unit"]
    moments = [
        np.cross(np.asarray(contact["point_mm"]) - tube, contact["wrench"][:3])
        + contact["wrench"][3:]
        for contact in solved["contacts"]
        if contact["unit"] != two
    ]
    couple = _size(units[two]["moment_at_attachment_Nmm"])
    needed = _size(np.sum(moments, axis=0))
    return _equal("couple_from_force", "couple at the tube, N·mm", couple, needed, 1e-8, STATICS)


def _as_bent(solved: Spec) -> Check:
    """The wire with its bends and loops, at small activation."""
    small = solved["wire"]["small_activation"]
    return _equal(
        "rod_as_bent_small_activation",
        "tip stiffness of the wire as bent, rod, N/mm",
        small["rod_N_per_mm"],
        small["unit_load_N_per_mm"],
        1e-3,
        UNIT_LOAD,
    )


def _swept(curve: Spec) -> Iterable[Check]:
    """The free run as a solid with finite rotations, between the rod's ends."""
    for point, name in zip(curve["solid"], ("half", "working"), strict=False):
        yield _equal(
            f"solid_as_bent_{name}_activation",
            f"force of the free run at {point['activation_mm']:.3g} mm, 3D solid, N",
            point["force_N"],
            point["rod_force_N"],
            1.5e-2,
            SWEPT,
        )


def _wanted(case: Spec, solved: Spec, units: Mapping[str, Any]) -> Iterable[Check]:
    """The couple or force that the case asks for."""
    activation = case["wire"]["activation"]
    if activation["couple_Nmm"] is not None:
        couple = _size(units[case["two_point"]["unit"]]["moment_at_attachment_Nmm"])
        wanted = activation["couple_Nmm"]
        yield _equal("wanted_couple", "couple at the tube, N·mm", couple, wanted, 1e-6, CASE)
    if activation["force_N"] is not None:
        force = _size(solved["hook"]["force_N"])
        wanted = activation["force_N"]
        yield _equal("wanted_force", "force at the hook, N", force, wanted, 1e-6, CASE)


def _wire_checks(rod: Any, solid: Any) -> Iterable[Check]:
    beam = rod["closed_form"]
    yield _equal(
        "rod_small_activation",
        "tip stiffness of the straight wire without shear, rod, N/mm",
        rod["stiffness_without_shear_N_per_mm"],
        beam["euler_bernoulli_N_per_mm"],
        1e-3,
        BEAM,
    )
    yield _equal(
        "rod_small_activation_shear",
        "tip stiffness of the straight wire, rod, N/mm",
        rod["stiffness_N_per_mm"],
        beam["timoshenko_N_per_mm"],
        1e-3,
        TIMOSHENKO,
    )
    if solid["stiffness_N_per_mm"] is not None:
        yield _equal(
            "solid_small_activation",
            "tip stiffness of the straight wire, 3D solid, N/mm",
            solid["stiffness_N_per_mm"],
            beam["timoshenko_N_per_mm"],
            1e-2,
            TIMOSHENKO,
        )


def _support_checks(supports: Iterable[Any]) -> Iterable[Check]:
    for support in supports:
        tooth = support["spec"]["tooth"]
        asymmetry = support["asymmetry"]
        solver = support["solver"]
        residual, bound = solver["relative_residual"], solver["residual_bound"]
        yield _zero(f"reciprocity_{tooth}", "asymmetry of the 6×6", asymmetry, 1.0, 1e-8, BETTI)
        yield _zero(f"solve_{tooth}", "residual of the solve", residual, 1.0, bound, SOLVER)


def _size(vector: Any) -> float:
    return float(np.linalg.norm(vector))


def _equal(
    name: str, what: str, computed: float, reference: float, tolerance: float, source: str
) -> Check:
    error = abs(computed - reference) / abs(reference)
    return Check(name, what, float(computed), float(reference), float(error), tolerance, source)


def _zero(
    name: str, what: str, computed: float, scale: float, tolerance: float, source: str = STATICS
) -> Check:
    return Check(name, what, float(computed), 0.0, float(computed / scale), tolerance, source)
