"""Cases beside each other: one table and one figure a question."""

from workflow.comparison import load_comparison

COMPARISON_FOLDER = Path("configs/comparisons")


def question_of(wildcards):
    """The question of a comparison, read when it is asked for."""
    try:
        return load_comparison(COMPARISON_FOLDER / f"{wildcards.name}.yaml").model_dump(
            mode="json"
        )
    except ValueError as error:
        raise WorkflowError(str(error)) from None


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
        table="results/comparisons/{name}/comparison.csv",
        svg="results/comparisons/{name}/comparison.svg",
        png="results/comparisons/{name}/comparison.png",
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


rule two_couples:
    message:
        "The wire of {wildcards.case} on a hook and in the bracket of tooth {wildcards.tooth}."
    input:
        equilibrium="results/cases/{case}/equilibrium.json",
        supports=of_teeth("results/supports/{support}/support.json"),
    output:
        table="results/comparisons/two_couples/{case}_{tooth}.csv",
        svg="results/comparisons/two_couples/{case}_{tooth}.svg",
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
        table="results/comparisons/clinical/tip_back.csv",
        page="results/comparisons/clinical/clinical.md",
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


rule comparisons:
    input:
        rules.clinical.output,
        "results/comparisons/two_couples/lower_molar_uprighting_34.csv",
        expand(
            rules.comparison.output.table,
            name=sorted(path.stem for path in COMPARISON_FOLDER.glob("*.yaml")),
        ),
