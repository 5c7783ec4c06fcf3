"""The one-couple set-ups that two units allow: tube, hook, and where the wire comes from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from workflow.case import validate_case
from workflow.case_errors import CaseError, Problem
from workflow.case_models import Case
from workflow.case_parts import arch_order
from workflow.choice_config import Choice

_VERTICAL, _ACROSS = ("apical", "occlusal"), ("buccal", "lingual")
_FROM = {"apical": "gingival", "occlusal": "occlusal", "buccal": "buccal", "lingual": "lingual"}
_COUPLE_DIGITS = 6


@dataclass(frozen=True)
class Candidate:
    """One set-up.

    Attributes
    ----------
    tube_unit, tube
        Unit that gets the couple, and its tooth with the tube.
    hook_unit, hook
        Unit that gets the force alone, and its tooth or two neighbours where the hook rests.
    pulls
        Where the wire pulls the unit with the hook; its end lies to that side before.
    """

    tube_unit: str
    tube: int
    hook_unit: str
    hook: tuple[int, ...]
    pulls: str

    @property
    def name(self) -> str:
        """Short name of letters and digits."""
        return f"tube{self.tube}_hook{'_'.join(map(str, self.hook))}_{self.pulls}"

    @property
    def label(self) -> str:
        """The set-up in few words."""
        return f"tube {self.tube}, hook {self._hook}, from {_FROM[self.pulls]}"

    @property
    def words(self) -> str:
        """The set-up in words."""
        place = "between" if len(self.hook) == 2 else "at"
        return (
            f"tube on {self.tube} ({self.tube_unit}), hook {place} {self._hook} "
            f"({self.hook_unit}), wire's end from {_FROM[self.pulls]}"
        )

    @property
    def _hook(self) -> str:
        return " and ".join(map(str, self.hook))


def candidates(choice: Choice) -> list[Candidate]:
    """All set-ups of a choice, in a fixed order.

    Each unit in turn carries the tube, on each of its teeth that can, and the other takes the hook
    at each bracket and in each gap. The wire comes from gingival and from occlusal, and from buccal
    and lingual too where a movement across the arch is wanted.
    """
    case = base_case(choice)
    sides = _VERTICAL + (_ACROSS if choice.transverse else ())
    able = case.used_teeth if choice.tubes is None else choice.tubes
    first, second = case.units
    return [
        Candidate(tube_unit, tube, hook_unit, hook, pulls)
        for tube_unit, hook_unit in ((first, second), (second, first))
        for tube in case.units[tube_unit].teeth
        if tube in able
        for hook in hook_sites(case.units[hook_unit].teeth, case.missing)
        for pulls in sides
    ]


def hook_sites(teeth: Sequence[int], missing: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Each tooth of a unit, and each two neighbours with no other tooth standing between them."""
    ordered = sorted(teeth, key=arch_order)
    yield from ((tooth,) for tooth in ordered)
    gone = {arch_order(tooth)[1] for tooth in missing}
    for first, second in pairwise(ordered):
        between = range(arch_order(first)[1] + 1, arch_order(second)[1])
        if all(place in gone for place in between):
            yield first, second


def case_content(
    choice: Choice, candidate: Candidate, couple_Nmm: float, name: str | None = None
) -> dict[str, Any]:
    """Content of the case file of a set-up at a couple.

    Parameters
    ----------
    name
        Name of the case; left out, that of the set-up.
    """
    base = {key: value for key, value in choice.base.items() if key != "wire"}
    wire = dict(choice.base.get("wire") or {})
    activation = dict(wire.pop("activation", None) or {})
    place: dict[str, Any] = (
        {"tooth": candidate.hook[0]}
        if len(candidate.hook) == 1
        else {"between": list(candidate.hook)}
    )
    return {
        "schema_version": 1,
        "case": name or candidate.name,
        "title": f"{choice.title}: {candidate.words}"[:200],
        **base,
        "two_point": {"unit": candidate.tube_unit, "tooth": candidate.tube}
        | (choice.base.get("two_point") or {}),
        "one_point": {"unit": candidate.hook_unit} | place | (choice.base.get("one_point") or {}),
        "wire": wire
        | {
            "activation": activation
            | {"couple_Nmm": float(f"{couple_Nmm:.{_COUPLE_DIGITS}g}"), "pulls": candidate.pulls}
        },
    }


def candidate_case(
    choice: Choice, candidate: Candidate, couple_Nmm: float, source: str | None = None
) -> Case:
    """The checked case of a set-up at a couple.

    Parameters
    ----------
    source
        File to name in messages; left out, the one in which the workflow looks for the choice.

    Raises
    ------
    CaseError
        If the set-up is no case; keys are those of ``base``.
    """
    content = case_content(choice, candidate, couple_Nmm)
    try:
        return validate_case(content, source or f"configs/choices/{choice.choice}.yaml")
    except CaseError as error:
        raise CaseError([replace(p, key=f"base.{p.key}") for p in error.problems]) from None


def base_case(choice: Choice, source: str | None = None) -> Case:
    """Some set-up as a case: checks all that the set-ups share.

    Parameters
    ----------
    source
        As in `candidate_case`.

    Raises
    ------
    CaseError
        With every problem of ``base``, and of ``tubes``.
    """
    source = source or f"configs/choices/{choice.choice}.yaml"
    units = choice.base["units"]
    if len(units) != 2:
        text = f"holds {len(units)}; name two, as a set-up with one couple joins exactly two units"
        raise CaseError([Problem(source, "base.units", text)])
    first, second = units
    try:
        teeth = [int(units[name]["teeth"][0]) for name in (first, second)]
    except (KeyError, TypeError, ValueError, IndexError, OverflowError):
        text = "each unit needs its teeth, as molar: {teeth: [37], role: target}"
        raise CaseError([Problem(source, "base.units", text)]) from None
    some = Candidate(first, teeth[0], second, (teeth[1],), "apical")
    case = candidate_case(choice, some, choice.first_couple_Nmm, source)
    strangers = [tooth for tooth in choice.tubes or () if tooth not in case.used_teeth]
    if strangers:
        text = f"tooth {strangers[0]} is in no unit; use some of {case.used_teeth}"
        raise CaseError([Problem(source, "tubes", text)])
    return case
