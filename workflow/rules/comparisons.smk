"""Cases beside each other: one table and one figure a question."""

from workflow.comparison_file import load_comparison

COMPARISON_FOLDER = Path("configs/comparisons")


def question_of(wildcards):
    """The question of a comparison, read when it is asked for."""
    try:
        return load_comparison(COMPARISON_FOLDER / f"{wildcards.name}.yaml").model_dump(
            mode="json"
        )
    except ValueError as error:
        raise WorkflowError(str(error)) from None


def words_of(wildcards):
    return question_of(wildcards)["question"]


def of_compared(pattern):
    """Files of the cases of a comparison, in their order."""

    def files(wildcards):
        return expand(pattern, case=question_of(wildcards)["cases"])

    return files


rule comparison:
    message:
        "Comparing the cases of {wildcards.name}."
    input:
        question="configs/comparisons/{name}.yaml",
        summaries=of_compared("results/cases/{case}/summary.json"),
        curves=of_compared("results/cases/{case}/force_activation.json"),
    output:
        table=numbers_of(
            "results/comparisons/{name}/comparison.csv", "comparison", words_of
        ),
        svg=reported(
            "results/comparisons/{name}/comparison.svg", "comparison", words_of
        ),
        png="results/comparisons/{name}/comparison.png",
        errors=reported(
            "results/comparisons/{name}/mesh_error.csv", "comparison_errors", words_of
        ),
    params:
        question=question_of,
        code=code_digest("comparison"),
    log:
        "results/comparisons/{name}/logs/comparison.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/comparison.py"


def meshes_of_compared(wildcards):
    return [
        f"results/supports/{support}/mesh.vtu"
        for case in question_of(wildcards)["cases"]
        for support in PLANS[case].supports.values()
    ]


rule comparison_page:
    message:
        "Writing the page of {wildcards.name}: its cases at one scale."
    input:
        question="configs/comparisons/{name}.yaml",
        case=of_compared("results/cases/{case}/case.resolved.yaml"),
        summary=of_compared("results/cases/{case}/summary.json"),
        curve=of_compared("results/cases/{case}/force_activation.json"),
        solved=of_compared("results/cases/{case}/equilibrium.json"),
        provenance=of_compared("results/cases/{case}/provenance.json"),
        meshes=meshes_of_compared,
        parts=expand(
            "workflow/report/{part}",
            part=[
                "comparison.html.j2",
                "comparison.css",
                "parts.html.j2",
                "sheet.css",
                "sheet_page.css",
                "sheet.js",
            ],
        ),
    output:
        page=reported(
            "results/comparisons/{name}/comparison.html", "comparison_page", words_of
        ),
        table=numbers_of(
            "results/comparisons/{name}/panels.csv", "comparison_panels", words_of
        ),
        svg=reported(
            "results/comparisons/{name}/panels.svg", "comparison_panels", words_of
        ),
        png="results/comparisons/{name}/panels.png",
    params:
        question=question_of,
        teeth=lambda wildcards: [
            list(PLANS[case].supports) for case in question_of(wildcards)["cases"]
        ],
        code=code_digest("comparison_page"),
    log:
        "results/comparisons/{name}/logs/comparison_page.log",
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/comparison_page.py"


rule two_couples:
    message:
        "The wire of {wildcards.case} on a hook and in the bracket of tooth {wildcards.tooth}."
    input:
        equilibrium="results/cases/{case}/equilibrium.json",
        supports=of_teeth("results/supports/{support}/support.json"),
    output:
        table=numbers_of(
            "results/comparisons/two_couples/{case}_{tooth}.csv", "two_couples"
        ),
        svg=reported(
            "results/comparisons/two_couples/{case}_{tooth}.svg", "two_couples"
        ),
        png="results/comparisons/two_couples/{case}_{tooth}.png",
    params:
        case=case_of,
        teeth=teeth_of,
        bracket=lambda wildcards: int(wildcards.tooth),
        code=code_digest("two_couples"),
    log:
        "results/comparisons/two_couples/logs/{case}_{tooth}.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/two_couples.py"


TIP_BACK = "upper_molar_tip_back"
CLINICAL = "Clinical results beside modelled cases"


rule clinical:
    message:
        "Clinical results beside modelled cases."
    input:
        equilibrium=f"results/cases/{TIP_BACK}/equilibrium.json",
        supports=lambda wildcards: expand(
            "results/supports/{support}/support.json",
            support=list(PLANS[TIP_BACK].supports.values()),
        ),
        summaries=expand(
            "results/cases/{case}/summary.json",
            case=[
                "lower_molar_alloy_stainless_steel",
                "lower_molar_alloy_beta_titanium",
                "upper_incisor_intrusion",
            ],
        ),
    output:
        table=reported(
            "results/comparisons/clinical/tip_back.csv", "clinical_table", CLINICAL
        ),
        page=reported("results/comparisons/clinical/clinical.md", "clinical", CLINICAL),
    params:
        case=lambda wildcards: PLANS[TIP_BACK].case,
        teeth=lambda wildcards: list(PLANS[TIP_BACK].supports),
        code=code_digest("clinical"),
    log:
        "results/comparisons/clinical/logs/clinical.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/clinical.py"


COMPARISONS = sorted(path.stem for path in COMPARISON_FOLDER.glob("*.yaml"))


def sheets_of_compared(wildcards):
    """Sheets that the pages lead to."""
    names = {
        case
        for name in COMPARISONS
        for case in load_comparison(COMPARISON_FOLDER / f"{name}.yaml").cases
    }
    return expand("results/cases/{case}/sheet.html", case=sorted(names))


rule comparisons:
    input:
        rules.clinical.output,
        "results/comparisons/two_couples/lower_molar_uprighting_34.csv",
        expand(rules.comparison.output.table, name=COMPARISONS),
        expand(rules.comparison_page.output.page, name=COMPARISONS),
        sheets_of_compared,
