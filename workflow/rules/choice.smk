"""Choices of a set-up: every one-couple set-up of two units solved, scored and ranked."""

from workflow.case import resolved
from workflow.choice_file import load_choice
from workflow.choice_setups import base_case
from workflow.digest import spec_id
from workflow.plan import teeth_of as teeth_of_case
from workflow.tooth_specs import support_spec

CHOICE_FOLDER = Path("configs/choices")

try:
    CHOICES = {
        path.stem: resolved(base_case(load_choice(path)))
        for path in sorted(CHOICE_FOLDER.glob("*.yaml"))
    }
except CaseError as error:
    raise WorkflowError(str(error)) from None

CHOICE_SUPPORTS = {
    name: {tooth: support_spec(case, tooth) for tooth in teeth_of_case(case)}
    for name, case in CHOICES.items()
}
for specs in CHOICE_SUPPORTS.values():
    PLANS.supports.update({spec_id(spec): spec for spec in specs.values()})


def supports_of_choice(wildcards):
    return [
        f"results/supports/{spec_id(spec)}/support.json"
        for spec in CHOICE_SUPPORTS[wildcards.choice].values()
    ]


def title_of_choice(wildcards):
    return CHOICES[wildcards.choice]["title"]


rule choice:
    message:
        "Ranking the set-ups of {wildcards.choice}."
    input:
        choice="configs/choices/{choice}.yaml",
        supports=supports_of_choice,
    output:
        ranking=reported(
            "results/choices/{choice}/ranking.csv", "ranking_table", title_of_choice
        ),
        page=reported(
            "results/choices/{choice}/ranking.html", "ranking", title_of_choice
        ),
        parts=numbers_of(
            "results/choices/{choice}/figures/parts.csv", "parts", title_of_choice
        ),
        svg=reported(
            "results/choices/{choice}/figures/parts.svg", "parts", title_of_choice
        ),
        png="results/choices/{choice}/figures/parts.png",
        cases=directory("results/choices/{choice}/cases"),
    params:
        case=lambda wildcards: CHOICES[wildcards.choice],
        teeth=lambda wildcards: list(CHOICE_SUPPORTS[wildcards.choice]),
        code=code_digest("choice"),
    log:
        "results/choices/{choice}/logs/choice.log",
    benchmark:
        "results/choices/{choice}/logs/choice.benchmark.tsv"
    wildcard_constraints:
        choice="[a-z][a-z0-9_]*",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/choice.py"


rule choices:
    input:
        expand("results/choices/{choice}/ranking.html", choice=list(CHOICES)),
