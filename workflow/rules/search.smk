"""Searches: which wire gives what is wished for within limits."""

from workflow.search_config import load_search
from workflow.wire_study import alloy_row, section_row

SEARCH_FOLDER = Path("configs/searches")
SEARCH_NAMES = sorted(path.stem for path in SEARCH_FOLDER.glob("*.yaml"))


def search_of(name):
    try:
        return load_search(SEARCH_FOLDER / f"{name}.yaml", CASE_FOLDER)[0]
    except CaseError as error:
        raise WorkflowError(str(error)) from None


def plan_of_search(wildcards):
    return PLANS[search_of(wildcards.search).case]


def rows_of_search(wildcards):
    """Catalogue rows that a search names, so that a change of theirs reruns it."""
    field = search_of(wildcards.search).field
    return {
        "alloys": {name: alloy_row(name) for name in field.alloys},
        "sections": {name: section_row(name) for name in field.sections},
    }


def of_searched_teeth(name):
    """Files of the supports of the base case's teeth, in the order of the teeth."""

    def files(wildcards):
        ids = plan_of_search(wildcards).supports.values()
        return expand(f"results/supports/{{support}}/{name}", support=ids)

    return files


def title_of_search(wildcards):
    return search_of(wildcards.search).title


rule search:
    message:
        "Searching the wires of {wildcards.search}."
    input:
        search="configs/searches/{search}.yaml",
        case=lambda wildcards: f"{CASE_FOLDER}/{search_of(wildcards.search).case}.yaml",
        supports=of_searched_teeth("support.json"),
        bases=of_searched_teeth("stress_basis.npz"),
    output:
        report=reported(
            "results/searches/{search}/report.json", "search_report", title_of_search
        ),
        chosen=reported(
            "results/searches/{search}/chosen.yaml", "search_chosen", title_of_search
        ),
        feasible=reported(
            "results/searches/{search}/tables/feasible.csv",
            "search_feasible",
            title_of_search,
        ),
        map_csv=numbers_of(
            "results/searches/{search}/figures/couple_against_force.csv",
            "couple_against_force",
            title_of_search,
        ),
        map_svg=reported(
            "results/searches/{search}/figures/couple_against_force.svg",
            "couple_against_force",
            title_of_search,
        ),
        map_png="results/searches/{search}/figures/couple_against_force.png",
        binding_csv=numbers_of(
            "results/searches/{search}/figures/binding_limits.csv",
            "binding_limits",
            title_of_search,
        ),
        binding_svg=reported(
            "results/searches/{search}/figures/binding_limits.svg",
            "binding_limits",
            title_of_search,
        ),
        binding_png="results/searches/{search}/figures/binding_limits.png",
    params:
        case=lambda wildcards: plan_of_search(wildcards).case,
        rows=rows_of_search,
        teeth=lambda wildcards: list(plan_of_search(wildcards).supports),
        code=code_digest("search"),
    log:
        "results/searches/{search}/logs/search.log",
    benchmark:
        "results/searches/{search}/logs/search.benchmark.tsv"
    wildcard_constraints:
        search="[a-z][a-z0-9_]*",
    threads: 2
    resources:
        mem_mb=3000,
    script:
        "../scripts/search.py"


rule searches:
    input:
        expand(rules.search.output, search=SEARCH_NAMES),
