"""Per case: force and couple over the activation of its wire."""


rule force_activation:
    message:
        "Following force and couple of {wildcards.case} over the activation of its wire."
    input:
        equilibrium=rules.equilibrium.output.record,
        supports=of_teeth("results/supports/{support}/support.json"),
    output:
        record="results/cases/{case}/force_activation.json",
        table="results/cases/{case}/figures/force_activation.csv",
        png="results/cases/{case}/figures/force_activation.png",
        svg="results/cases/{case}/figures/force_activation.svg",
    params:
        case=case_of,
        teeth=teeth_of,
        code=code_digest("force_activation"),
    log:
        "results/cases/{case}/logs/force_activation.log",
    benchmark:
        "results/cases/{case}/logs/force_activation.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/force_activation.py"
