"""Reproduction: the shipped figures made again and compared with tracked references; an archive.

``./workflow/run reproduce`` is all of them, ``./workflow/run figure_3`` one with its table, and
``./workflow/run reproduce --config figures=1,19`` compares some.
"""

from workflow.archive import state_of_checkout
from workflow.reproduction_config import CONFIG, load_reproduction

REPRODUCTION_FOLDER = "results/reproduction"
ARCHIVE = "results/archive/onecouple.tar.gz"

try:
    REPRODUCTION = load_reproduction(CONFIG)
    REPRODUCED = REPRODUCTION.chosen(config.get("figures"))
except CaseError as error:
    raise WorkflowError(str(error)) from None

for numbered in REPRODUCTION.figures:

    rule:
        name:
            f"figure_{numbered.number}"
        localrule: True
        input:
            numbered.targets,


rule figures:
    localrule: True
    input:
        [figure.targets for figure in REPRODUCED],


rule reproduction_agreement:
    message:
        "Comparing the numbers of the figures with their references."
    input:
        listed=str(CONFIG),
        made=[figure.targets for figure in REPRODUCED],
        references=[str(f.reference) for f in REPRODUCED if f.reference.is_file()],
        page=["workflow/report/reproduction.html.j2", "workflow/report/sheet.css"],
    output:
        table=reported(
            f"{REPRODUCTION_FOLDER}/agreement.csv", "agreement_table", "Reproduction"
        ),
        differences=reported(
            f"{REPRODUCTION_FOLDER}/differences.csv",
            "agreement_differences",
            "Reproduction",
        ),
        records=f"{REPRODUCTION_FOLDER}/agreement.json",
        page=reported(
            f"{REPRODUCTION_FOLDER}/agreement.html", "agreement", "Reproduction"
        ),
    params:
        figures=[str(figure.number) for figure in REPRODUCED],
        code=code_digest("reproduction_agreement"),
    log:
        f"{REPRODUCTION_FOLDER}/logs/agreement.log",
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/reproduction_agreement.py"


# Apart from the page, which must stay to be read where numbers differ.
rule reproduction_verdict:
    message:
        "Looking whether all figures agree."
    input:
        records=rules.reproduction_agreement.output.records,
        page=rules.reproduction_agreement.output.page,
    output:
        said=f"{REPRODUCTION_FOLDER}/verdict.txt",
    params:
        code=code_digest("reproduction_verdict"),
    log:
        f"{REPRODUCTION_FOLDER}/logs/verdict.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/reproduction_verdict.py"


rule reproduce:
    localrule: True
    input:
        rules.reproduction_verdict.output.said,


rule archive_file:
    message:
        "Packing code, lock file, figures, tables and pages into one archive."
    input:
        made=[figure.targets for figure in REPRODUCED],
        pages=list(REPRODUCTION.pages),
        agreement=rules.reproduction_agreement.output,
    output:
        archive=ARCHIVE,
        contents="results/archive/contents.csv",
    params:
        results=sorted(
            {figure.figure for figure in REPRODUCED}
            | {figure.table for figure in REPRODUCED}
            | {*REPRODUCTION.pages, *map(str, rules.reproduction_agreement.output)}
        ),
        checkout=lambda wildcards: state_of_checkout(),
        code=code_digest("archive"),
    log:
        "results/archive/logs/archive.log",
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/archive.py"


rule archive:
    localrule: True
    input:
        rules.archive_file.output,
