"""Per case: what the scenes of its sheet are drawn from."""


rule scenes:
    message:
        "Gathering bodies, loads, movement and stress of {wildcards.case} for scenes to turn."
    input:
        summary=rules.summary.output.summary,
        equilibrium=rules.equilibrium.output.record,
        fields=rules.response.output.fields,
        meshes=of_teeth("results/supports/{support}/mesh.vtu"),
    output:
        record="results/cases/{case}/scenes.json",
    params:
        case=case_of,
        teeth=teeth_of,
        code=code_digest("scenes"),
    log:
        "results/cases/{case}/logs/scenes.log",
    benchmark:
        "results/cases/{case}/logs/scenes.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/scenes.py"
