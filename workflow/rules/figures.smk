"""Per case: figures, each with the table it is drawn from beside it."""


rule appliance_3d:
    message:
        "Drawing the appliance of {wildcards.case} in space."
    input:
        summary=rules.summary.output.summary,
        equilibrium=rules.equilibrium.output.record,
        meshes=of_teeth("results/supports/{support}/mesh.vtu"),
    output:
        table="results/cases/{case}/figures/appliance_3d.csv",
        png="results/cases/{case}/figures/appliance_3d.png",
    params:
        case=case_of,
        teeth=teeth_of,
        code=code_digest("appliance_3d"),
    log:
        "results/cases/{case}/logs/appliance_3d.log",
    benchmark:
        "results/cases/{case}/logs/appliance_3d.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/appliance_3d.py"
