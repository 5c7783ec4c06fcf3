"""One support for all moduli of the ligament, where nothing else deforms.

Between a rigid tooth and rigid bone the 6×6 of a linear ligament and the stress under a given
motion are both proportional to its Young's modulus E, at a given Poisson's ratio:

    ``K(E) = (E/E₀) K(E₀)``,  ``σ(q; E) = (E/E₀) σ(q; E₀)``,

exactly, not nearly; centres and axes of resistance stay where they are. A study that draws E from
a distribution therefore makes each tooth once, at the E₀ of its base case. A modulus given by
levels has supports of its own for each, and so has one beside an elastic tooth or bone. Not for
teeth joined by a wire, whose stiffness stays as it is.
"""

from __future__ import annotations

from dataclasses import replace

from fem.unit import UnitSupport
from workflow.digest import spec_id
from workflow.plan import teeth_of
from workflow.specs import Spec
from workflow.sweep_config import LoadedStudy
from workflow.sweep_runs import make_run
from workflow.tooth_specs import support_spec

MODULUS = "ligament.youngs_modulus_MPa"
_NAME = MODULUS.rsplit(".", 1)[-1]


def made_at_MPa(loaded: LoadedStudy) -> float | None:
    """Modulus at which all supports of a study are made; None where each has its own."""
    factors = loaded.study.factors
    keys = [path for factor in factors for path in factor.keys]
    drawn = any(MODULUS in factor.keys and not factor.choices for factor in factors)
    base = make_run(loaded, ()).case if drawn else None
    if base is None or not in_proportion(base) or any(map(_may_deform_more, keys)):
        return None
    return float(base["ligament"][_NAME])


def made_supports(case: Spec, at_MPa: float | None) -> dict[int, Spec]:
    """Spec of the support that is made for each tooth of a case."""
    specs = {tooth: support_spec(case, tooth) for tooth in teeth_of(case)}
    if at_MPa is None:
        return specs
    return {tooth: spec | {_NAME: at_MPa} for tooth, spec in specs.items()}


def made_ids(case: Spec, at_MPa: float | None) -> dict[int, str]:
    """Id of the support that is made for each tooth of a case."""
    return {tooth: spec_id(spec) for tooth, spec in made_supports(case, at_MPa).items()}


def factor_of(case: Spec, at_MPa: float | None) -> float:
    """Stiffness and stress of a case over those of the supports made for it."""
    if at_MPa is None:
        return 1.0
    return float(case["ligament"][_NAME]) / at_MPa


def in_proportion(case: Spec) -> bool:
    """Whether only ligaments deform."""
    joined = any(unit["joined_by"] for unit in case["units"].values())
    return not (joined or case["tooth_body"]["elastic"] or case["bone"]["elastic"])


def _may_deform_more(path: str) -> bool:
    """Whether some runs may have more that deforms than their base case."""
    return path.endswith((".elastic", ".joined_by")) or path in ("tooth_body", "bone", "units")


def stiffened(unit: UnitSupport, factor: float) -> UnitSupport:
    """A unit of teeth that are one body, with another modulus of all its ligaments."""
    teeth = tuple(replace(tooth, stiffness=factor * tooth.stiffness) for tooth in unit.teeth)
    centre = replace(unit.centre, stiffness=factor * unit.centre.stiffness)
    return replace(unit, teeth=teeth, centre=centre)
