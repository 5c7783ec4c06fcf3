"""The report's story: its chapters in the order in which a reviewer asks, and what they hold.

The report (``./workflow/run --report results/report.zip``) lists each result under a chapter, with
a name and, where they say enough, a few numbers of the run.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from workflow.specs import Spec

# The report sorts them by their names, hence the numbers.
CHAPTERS = {
    "case": "01 Question and case",
    "set_up": "02 Set-up",
    "loads": "03 Loads",
    "wire": "04 Wire",
    "movement": "05 Movement",
    "ligament": "06 Ligament",
    "checks": "07 Checks of the case",
    "comparisons": "08 Comparisons",
    "choices": "09 Choices and searches",
    "studies": "10 Studies",
    "verification": "11 Verification and reproduction",
}


def name_of_case(case: Spec) -> str:
    """Title of a case, and its name, for titles may be alike."""
    return f"{case['title']} ({case['case']})"


@dataclass(frozen=True)
class Told:
    """A result as the report tells it; its words stand in ``report/captions``.

    Attributes
    ----------
    chapter
        Key of `CHAPTERS`.
    name
        What the list calls it; of many figures in a folder what comes before the name of each.
    found
        Its numbers, if a few of them say enough: a function of `workflow.report_numbers`.
    """

    chapter: str
    name: str
    found: str | None = None

    def label(self, wildcards: Any, read: Any, written: Any, numbers: bool = False) -> str:
        """Name in the list; `numbers` for the table which a figure is drawn from."""
        if getattr(wildcards, "figure", None):
            name = f"{self.name}, {wildcards.figure.replace('_', ' ')}"
            return _in_numbers(name) if wildcards.kind == "csv" else name
        if numbers:
            return _in_numbers(self.name)
        return f"{self.name}: {self._numbers(read, written)}" if self.found else self.name

    def _numbers(self, read: Any, written: Any) -> str:
        # Imported only here: what it imports takes half a second, and only reports need it.
        from workflow import report_numbers

        return str(getattr(report_numbers, str(self.found))(read, written))


def _in_numbers(name: str) -> str:
    return f"{name} (in numbers)"


RESULTS = {
    "sheet": Told("case", "The sheet: all of the case on one page", "loads"),
    "sheet_pdf": Told("case", "The sheet on A4"),
    "resolve_case": Told("case", "The case with all defaults filled in"),
    "summary": Told("case", "Every number, for other programs"),
    "appliance_3d": Told("set_up", "The appliance in space"),
    "bench_template": Told("set_up", "The passive wire in three views"),
    "bench_template_pdf": Told("set_up", "The passive wire in true size, to print"),
    "mesh_section": Told("set_up", "Cut through the mesh of the two-point tooth", "elements"),
    "free_body": Told("loads", "Free bodies of units and wire", "loads"),
    "units_table": Told("loads", "Loads and movement of every unit"),
    "force_activation": Told("wire", "Force and couple over the activation", "activations"),
    "wire_deflection": Told("wire", "Finite rotations and linear theory", "rod_and_formula"),
    "wire_table": Told("wire", "Shape and stress along the wire"),
    "movement": Told("movement", "How the units start to move", "movements"),
    "bilinear": Told("movement", "In a ligament that stiffens with strain"),
    "course": Told("movement", "Course as the teeth move on"),
    "course_steps": Told("movement", "Course as the teeth move on, step by step"),
    "ligament_stress": Told("ligament", "Stress on the ligament of the two-point tooth"),
    "ligament_table": Told("ligament", "Stress in the ligament of every tooth"),
    "checks": Told("checks", "Against closed forms and statics", "passing"),
    "provenance": Told("checks", "Code, platform and libraries of this run"),
    "comparison_page": Told("comparisons", "The page: the cases at one scale"),
    "comparison_panels": Told("comparisons", "Free bodies and movement at one scale"),
    "comparison_errors": Told("comparisons", "Error of the mesh of each case"),
    "comparison": Told("comparisons", "The cases beside each other"),
    "two_couples": Told("comparisons", "The wire on a hook and in a second bracket"),
    "clinical": Told("comparisons", "What agrees, what does not, and why"),
    "clinical_table": Told("comparisons", "Tip-back of molars, measured and modelled"),
    "ranking": Told("choices", "Ranking of the set-ups", "ranked"),
    "ranking_table": Told("choices", "Ranking of the set-ups, in numbers"),
    "parts": Told("choices", "What each set-up does of what is wished for"),
    "search_report": Told("choices", "Outcome of the search", "searched"),
    "search_chosen": Told("choices", "The wire that was chosen, as a case"),
    "search_feasible": Told("choices", "Wires that keep all limits"),
    "couple_against_force": Told("choices", "Couple against force of all wires"),
    "binding_limits": Told("choices", "Which limit binds"),
    "sweep_runs": Told("studies", "All runs", "runs"),
    "sweep_resolved": Told("studies", "The study with all defaults filled in"),
    "sweep_report": Told("studies", "Report with its methods"),
    "sweep_figures": Told("studies", "Figure"),
    "sweep_explorer": Told("studies", "Page to filter and look at the runs"),
    "study_teeth": Told("studies", "Areas and centres of resistance of all teeth"),
    "study_thin_layer": Told("studies", "Where thin-layer theory holds"),
    "study_rigidity": Told("studies", "What a rigid tooth and rigid bone cost"),
    "study_mobility": Told("studies", "A light force, computed and measured"),
    "study_rotation": Told("studies", "Centre of rotation and moment-to-force ratio"),
    "study_beam_theory": Told("studies", "Where beam theory holds"),
    "study_large_bending": Told("studies", "Where beam theory holds, a straight wire bent far"),
    "study_bending_test": Told("studies", "Three-point bending of four alloys"),
    "study_bending_table": Told("studies", "Three-point bending: unloading and set"),
    "study_stiffness": Told("studies", "Stiffness of all sections in all alloys"),
    "simplified": Told("studies", "The page: you may use the simple formula when …"),
    "simplified_limits": Told("studies", "The limits in one table"),
    "simplified_bending": Told("studies", "Straight beam"),
    "simplified_tube": Told("studies", "Tube as a clamp"),
    "simplified_play": Told("studies", "Play of the tube, in numbers"),
    "simplified_centre": Told("studies", "Parabola's centre of resistance"),
    "simplified_all_teeth": Told("studies", "Parabola's centre of resistance, all teeth"),
    "simplified_winkler": Told("studies", "Springs square to the root"),
    "simplified_planar": Told("studies", "Planar statics"),
    "simplified_thin_layer": Told("studies", "Thin layer"),
    "simplified_rigidity": Told("studies", "Rigid tooth and bone"),
    "simplified_loops": Told("studies", "Loops"),
    "verification": Told("verification", "Report of all checks and deliberate faults"),
    "verification_checks": Told("verification", "All checks", "passing"),
    "verification_figures": Told("verification", "Figure"),
    "agreement": Told(
        "verification", "Do the figures have the numbers of the references?", "agreeing"
    ),
    "agreement_table": Told("verification", "Agreement, column by column"),
    "agreement_differences": Told("verification", "Differences, number by number"),
}
