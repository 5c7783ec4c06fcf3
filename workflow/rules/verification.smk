"""The verification programme: all checks, deliberate faults, one report."""

from workflow.digest import module_digest
from workflow.verification.programme import AREAS

VERIFICATION_FOLDER = "results/verification"


def digest_of_area(wildcards):
    """Digest of an area's checks and of all the code they lead to."""
    return module_digest(f"workflow/verification/{wildcards.area}.py")


rule verification_area:
    message:
        "Checking: {wildcards.area}."
    input:
        references=sorted(
            map(str, Path("workflow/verification/reference").glob("*.csv"))
        ),
        catalogue=sorted(map(str, Path("configs/catalogue").glob("*.yaml"))),
    output:
        records=f"{VERIFICATION_FOLDER}/parts/{{area}}.json",
        figures=reported(
            directory(f"{VERIFICATION_FOLDER}/figures/{{area}}"),
            "verification_figures",
            "Verification",
            patterns=FIGURES_IN_FOLDER,
        ),
    params:
        folder=lambda wildcards, output: output.figures,
        code=code_digest("verification_area"),
        area=digest_of_area,
    log:
        f"{VERIFICATION_FOLDER}/logs/area_{{area}}.log",
    benchmark:
        f"{VERIFICATION_FOLDER}/logs/area_{{area}}.benchmark.tsv"
    wildcard_constraints:
        area="|".join(AREAS),
    threads: 1
    resources:
        mem_mb=lambda wildcards: {"solution": 5500, "peers": 2000, "layers": 1500}.get(
            wildcards.area, 1000
        ),
    script:
        "../scripts/verification_area.py"


rule verification_faults:
    message:
        "Planting faults, to see each noticed by its check."
    output:
        records=f"{VERIFICATION_FOLDER}/parts/faults.json",
    params:
        code=code_digest("verification_faults"),
        areas=[module_digest(f"workflow/verification/{area}.py") for area in AREAS],
    log:
        f"{VERIFICATION_FOLDER}/logs/faults.log",
    benchmark:
        f"{VERIFICATION_FOLDER}/logs/faults.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/verification_faults.py"


rule verification_report:
    message:
        "Writing what was checked."
    input:
        areas=expand(rules.verification_area.output.records, area=AREAS),
        figures=expand(rules.verification_area.output.figures, area=AREAS),
        faults=rules.verification_faults.output.records,
        page=["workflow/report/verification.html.j2", "workflow/report/sheet.css"],
    output:
        table=reported(
            f"{VERIFICATION_FOLDER}/checks.csv", "verification_checks", "Verification"
        ),
        records=f"{VERIFICATION_FOLDER}/checks.json",
        page=reported(
            f"{VERIFICATION_FOLDER}/report.html", "verification", "Verification"
        ),
    params:
        areas=list(AREAS),
        figures=f"{VERIFICATION_FOLDER}/figures",
        code=code_digest("verification_report"),
    log:
        f"{VERIFICATION_FOLDER}/logs/report.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/verification_report.py"


# Apart from the report, which must stay to be read where a check fails.
rule verification_verdict:
    message:
        "Looking whether all checks pass."
    input:
        records=rules.verification_report.output.records,
        page=rules.verification_report.output.page,
    output:
        said=f"{VERIFICATION_FOLDER}/verdict.txt",
    params:
        code=code_digest("verification_verdict"),
    log:
        f"{VERIFICATION_FOLDER}/logs/verdict.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/verification_verdict.py"


rule verification:
    input:
        rules.verification_verdict.output.said,
