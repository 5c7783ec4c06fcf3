"""Choosing a set-up: every candidate solved, scaled to the leading wish, scored and ranked.

All candidates are first solved for one couple; their loads and movements are then scaled in
proportion until the leading wish has its amount. That is exact in the supports, which are linear,
and leaves out that a wire activated further leaves its tube at another angle. The best three are
therefore solved again, as often as it takes to find the couple that gives the amount.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from fem.appliance import EquilibriumError
from fem.cantilever_design import ONE_POINT, TWO_POINT
from fem.movement import movement
from workflow.case import resolved
from workflow.case_models import Case
from workflow.case_units import case_units
from workflow.choice_config import Choice
from workflow.choice_score import Aim, Movements, agreement, aims_of, component_word, leading_aim
from workflow.choice_setups import Candidate, base_case, candidate_case, candidates
from workflow.equilibrium import engage_case
from workflow.plan import cantilever_sites
from workflow.unit_records import movement_record
from workflow.units import GF_PER_N

BEST = 3
_TOLERANCE = 1e-3  # of the leading wish's amount
_MOST_SOLUTIONS = 12


@dataclass(frozen=True)
class Outcome:
    """What a set-up does at one activation.

    Attributes
    ----------
    couple_Nmm, force_N
        Sizes of the couple on the unit with the tube and of the force on each unit.
    yield_ratio
        Greatest stress of the wire as a share of its yield strength.
    movements
        Anatomical components of each unit's movement, µm and mrad.
    """

    couple_Nmm: float
    force_N: float
    yield_ratio: float
    movements: Movements

    def scaled(self, factor: float) -> Outcome:
        """The same in proportion."""
        return Outcome(
            factor * self.couple_Nmm,
            factor * self.force_N,
            factor * self.yield_ratio,
            {
                unit: {name: factor * value for name, value in moved.items()}
                for unit, moved in self.movements.items()
            },
        )


Solver = Callable[[Case], Outcome]


@dataclass(frozen=True)
class Ranked:
    """A candidate and what came of it.

    Attributes
    ----------
    candidate
        The set-up.
    outcome
        With the leading wish at its amount; at the first couple where it goes the wrong way, None
        where the set-up could not be solved.
    agreement
        See `workflow.choice_score`; −1 where the set-up could not be solved.
    exact
        Whether it was solved at that activation, not scaled to it.
    disqualified
        Why it is no choice; empty if it is one.
    """

    candidate: Candidate
    outcome: Outcome | None
    agreement: float
    exact: bool = False
    disqualified: str = ""


def solve_case(case: Case, support_files: Mapping[int, str]) -> Outcome:
    """Engage the wire of a case and describe how its units start to move."""
    spec = resolved(case)
    units = case_units(spec, support_files)
    engaged = engage_case(spec, units)
    motions = engaged.solved.equilibrium.motions
    moved = {}
    for name, index in ((units.two_point, TWO_POINT), (units.one_point, ONE_POINT)):
        unit = units.supports[name]
        at = unit.centre.point
        moved[name] = movement_record(movement(motions[index], at, at, unit.axes))["anatomical"]
    return Outcome(
        couple_Nmm=engaged.couple_Nmm(cantilever_sites(spec).tube_middle),
        force_N=engaged.force_N,
        yield_ratio=float(engaged.stress_MPa.max()) / spec["wire"]["alloy"]["yield_strength_MPa"],
        movements=moved,
    )


def rank(choice: Choice, solver: Solver) -> list[Ranked]:
    """All set-ups of a choice, the best first and the disqualified last.

    Raises
    ------
    CaseError
        If the choice's base is no case.
    """
    aims = aims_of(choice)
    highest = base_case(choice).limits.force_range_gf[1]
    search = _Search(choice, solver, aims, leading_aim(aims), highest)
    found = _in_order([search.first(candidate) for candidate in candidates(choice)])
    while True:
        best = [r for r in found if not r.disqualified][:BEST]
        if all(r.exact for r in best):
            return found
        exact = {r.candidate: search.exactly(r) for r in best if not r.exact}
        found = _in_order([exact.get(r.candidate, r) for r in found])


def _in_order(found: list[Ranked]) -> list[Ranked]:
    return sorted(found, key=lambda r: (bool(r.disqualified), -r.agreement, r.candidate.name))


@dataclass(frozen=True)
class _Search:
    """What the set-ups of one choice are solved with and judged by."""

    choice: Choice
    solver: Solver
    aims: tuple[Aim, ...]
    lead: Aim
    highest_gf: float

    def reached(self, outcome: Outcome) -> float:
        """Movement along the leading wish as a share of its amount."""
        return self.lead.counted_um(outcome.movements) / self.lead.amount_um

    def solved(self, candidate: Candidate, couple_Nmm: float) -> Outcome | str:
        """Solved at a couple, or why it cannot be."""
        try:
            return self.solver(candidate_case(self.choice, candidate, couple_Nmm))
        except (ValueError, EquilibriumError) as error:
            return f"cannot be engaged: {str(error).splitlines()[0]}"

    def first(self, candidate: Candidate) -> Ranked:
        """Solved for the first couple, and scaled until the leading wish has its amount."""
        outcome = self.solved(candidate, self.choice.first_couple_Nmm)
        if isinstance(outcome, str):
            return Ranked(candidate, None, -1.0, disqualified=outcome)
        reached = self.reached(outcome)
        return self.judged(candidate, outcome.scaled(1 / reached) if reached > 0 else outcome)

    def exactly(self, ranked: Ranked) -> Ranked:
        """Solved for the couple at which the leading wish has its amount.

        The couple is changed in proportion to what is still missing: movement over couple hardly
        changes with the activation.
        """
        assert ranked.outcome is not None
        couple, candidate = ranked.outcome.couple_Nmm, ranked.candidate
        for _ in range(_MOST_SOLUTIONS):
            outcome = self.solved(candidate, couple)
            if isinstance(outcome, str):
                return replace(ranked, disqualified=outcome)
            reached = self.reached(outcome)
            if reached <= 0 or abs(reached - 1) < _TOLERANCE:
                return replace(self.judged(candidate, outcome), exact=True)
            couple = outcome.couple_Nmm / reached
        reason = f"no couple was found at which {self.lead.unit} moves as far as wanted"
        return replace(ranked, disqualified=reason)

    def judged(self, candidate: Candidate, outcome: Outcome) -> Ranked:
        """With its agreement, and disqualified where it must be."""
        score = agreement(self.aims, outcome.movements)
        return Ranked(candidate, outcome, score, disqualified=self.fault(outcome))

    def fault(self, outcome: Outcome) -> str:
        """Why a set-up is no choice; empty if it is one."""
        unit, force_gf = self.lead.unit, outcome.force_N * GF_PER_N
        if self.reached(outcome) <= 0:
            word = component_word(outcome.movements[unit], self.lead.component).word
            return f"wrong direction: {unit} gets {word}, not {self.lead.word}"
        if force_gf > self.highest_gf:
            highest = f"{self.highest_gf:g} gf of limits.force_range_gf"
            return f"force {force_gf:.0f} gf above the {highest}"
        return ""
