"""Parameter studies: thousands of runs of a base case, one table each.

``./workflow/run studies`` makes all of them, ``./workflow/run results/studies/<name>/report.md``
one. Only a study that is asked for is read, and of its runs only the teeth are expanded here.
"""

from functools import cache

from workflow.catalogue import load_catalogue
from workflow.digest import spec_id
from workflow.sweep_config import STUDIES, load_parameter_study, study_names
from workflow.sweep_late import LateSpecs

SWEEPS = study_names(STUDIES)
SUPPORT_FOLDER = "results/supports"


@cache
def sweep_of(name):
    try:
        return load_parameter_study(STUDIES / f"{name}.yaml", CASE_FOLDER)
    except CaseError as error:
        raise WorkflowError(str(error)) from None


@cache
def supports_of_sweep(name):
    # Imported only here: what it imports takes a fifth of a second, and few runs need it.
    from workflow.sweep_supports import study_supports

    try:
        return study_supports(sweep_of(name))
    except CaseError as error:
        raise WorkflowError(str(error)) from None


def title_of_sweep(wildcards):
    return sweep_of(wildcards.sweep).study.title


def supports_of_all_sweeps():
    return {id: spec for name in SWEEPS for id, spec in supports_of_sweep(name).items()}


PLANS.supports = LateSpecs(PLANS.supports, supports_of_all_sweeps)


include: "sweep_teeth.smk"


def of_sweep_teeth(name):
    """Files of all supports of a study; none where its teeth are made in chunks."""

    def files(wildcards):
        if chunked(wildcards.sweep):
            return []
        found = supports_of_sweep(wildcards.sweep)
        PLANS.supports.update(found)
        return expand(f"{SUPPORT_FOLDER}/{{support}}/{name}", support=list(found))

    return files


wildcard_constraints:
    sweep="|".join(SWEEPS),


rule sweep_runs:
    message:
        "Runs of the parameter study {wildcards.sweep}: what is missing of them."
    input:
        study=f"{STUDIES}/{{sweep}}.yaml",
        case=lambda wildcards: f"{CASE_FOLDER}/{sweep_of(wildcards.sweep).study.case}.yaml",
        supports=of_sweep_teeth("support.json"),
        bases=of_sweep_teeth("stress_basis.npz"),
        chunks=records_of_chunks,
    output:
        parquet="results/studies/{sweep}/runs.parquet",
        csv=reported("results/studies/{sweep}/runs.csv", "sweep_runs", title_of_sweep),
        resolved=reported(
            "results/studies/{sweep}/study.resolved.yaml",
            "sweep_resolved",
            title_of_sweep,
        ),
    params:
        supports=folder_of_teeth,
        rows=spec_id(load_catalogue().model_dump(mode="json")),
        code=code_digest("sweep_runs"),
    log:
        "results/studies/{sweep}/logs/sweep_runs.log",
    benchmark:
        "results/studies/{sweep}/logs/sweep_runs.benchmark.tsv"
    threads: 2
    resources:
        mem_mb=2000,
    script:
        "../scripts/sweep_runs.py"


rule sweep_report:
    message:
        "Figures and report of the parameter study {wildcards.sweep}."
    input:
        study=f"{STUDIES}/{{sweep}}.yaml",
        parquet=rules.sweep_runs.output.parquet,
        chunks=records_of_chunks,
    output:
        report=reported(
            "results/studies/{sweep}/report.md", "sweep_report", title_of_sweep
        ),
        figures=reported(
            directory("results/studies/{sweep}/figures"),
            "sweep_figures",
            title_of_sweep,
            patterns=FIGURES_IN_FOLDER,
        ),
    params:
        code=code_digest("sweep_report"),
    log:
        "results/studies/{sweep}/logs/sweep_report.log",
    threads: 1
    resources:
        mem_mb=1500,
    script:
        "../scripts/sweep_report.py"


rule sweep_explorer:
    message:
        "Page to filter and look at the runs of {wildcards.sweep}."
    input:
        table=rules.sweep_runs.output.parquet,
        parts=sorted(map(str, Path("workflow/report").glob("explorer*"))),
        look="workflow/report/sheet.css",
    output:
        page=reported(
            "results/studies/{sweep}/explorer.html", "sweep_explorer", title_of_sweep
        ),
    params:
        factors=lambda wildcards: [
            f.name for f in sweep_of(wildcards.sweep).study.factors
        ],
        responses=lambda wildcards: list(sweep_of(wildcards.sweep).study.responses),
        title=lambda wildcards: sweep_of(wildcards.sweep).study.title,
        words={},
        code=code_digest("sweep_explorer"),
    log:
        "results/studies/{sweep}/logs/sweep_explorer.log",
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/sweep_explorer.py"


rule studies:
    input:
        expand(rules.sweep_report.output.report, sweep=SWEEPS),
        expand(rules.sweep_explorer.output.page, sweep=SWEEPS),
