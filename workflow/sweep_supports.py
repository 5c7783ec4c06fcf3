"""The supports of a parameter study: one for each distinct tooth, shared with all cases.

A study may have thousands of runs and few teeth that differ. Only the factors that a tooth's
support can depend on are expanded to find them, so that a workflow is read fast.
"""

from __future__ import annotations

from collections.abc import Mapping

from workflow.case_errors import CaseError, Problem
from workflow.digest import spec_id
from workflow.plan import PLACEMENT
from workflow.specs import Spec
from workflow.sweep_config import LoadedStudy
from workflow.sweep_design import design_points
from workflow.sweep_factor import Choice, Factor
from workflow.sweep_modulus import MODULUS, made_at_MPa, made_supports
from workflow.sweep_runs import make_run

MOST_SUPPORTS = 2000
_SECONDS_EACH = 5
_TISSUES = ("units", "ligament", "bone", "tooth_body", "mesh")


def of_support(path: str) -> bool:
    """Whether the support of a tooth can depend on a key of the case."""
    first, *rest = path.split(".")
    if first == "teeth":
        return rest[1:2] == [] or rest[1] not in PLACEMENT
    return first in _TISSUES


def study_supports(loaded: LoadedStudy) -> dict[str, Spec]:
    """Spec of every distinct support of a study, by its id.

    Raises
    ------
    CaseError
        If there are more than a workflow can make.
    """
    found: dict[str, Spec] = {}
    at_MPa = made_at_MPa(loaded)
    for points in _alike(loaded, at_MPa).values():
        for point in points:
            case = make_run(loaded, point).case
            if case is not None:
                specs = made_supports(case, at_MPa).values()
                found |= {spec_id(spec): spec for spec in specs}
                break
    if len(found) > MOST_SUPPORTS:
        text = (
            f"lead to {len(found)} different teeth, of about {_SECONDS_EACH} s each; leave at most "
            f"{MOST_SUPPORTS}, with fewer levels or runs"
        )
        raise CaseError([Problem(loaded.path, "factors", text)])
    return found


def _alike(
    loaded: LoadedStudy, at_MPa: float | None
) -> Mapping[tuple[str, ...], list[tuple[Choice, ...]]]:
    """Points of the design by the values that supports depend on."""
    one_for_all = MODULUS if at_MPa is not None else ""
    of_teeth = [_of_support(factor, one_for_all) for factor in loaded.study.factors]
    groups: dict[tuple[str, ...], list[tuple[Choice, ...]]] = {}
    for point in design_points(loaded.study):
        pairs = zip(point, of_teeth, strict=True)
        groups.setdefault(tuple(str(c.shown) for c, own in pairs if own), []).append(point)
    return groups


def _of_support(factor: Factor, one_for_all: str) -> bool:
    return any(of_support(path) and path != one_for_all for path in factor.keys)
