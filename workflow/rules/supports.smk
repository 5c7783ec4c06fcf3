"""Per tooth: mesh of crown, root and ligament; 6×6 support and stress basis."""


rule tooth_mesh:
    message:
        "Meshing tooth {params.spec[tooth]} with its ligament ({wildcards.support})."
    output:
        mesh="results/supports/{support}/mesh.vtu",
        record="results/supports/{support}/mesh.json",
    params:
        spec=lambda wildcards: PLANS.supports[wildcards.support],
        code=code_digest("tooth_mesh"),
    log:
        "results/supports/{support}/logs/tooth_mesh.log",
    benchmark:
        "results/supports/{support}/logs/tooth_mesh.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/tooth_mesh.py"


rule tooth_support:
    message:
        "Six unit motions of tooth {params.spec[tooth]} in its ligament ({wildcards.support})."
    input:
        mesh=rules.tooth_mesh.output.mesh,
        meshed=rules.tooth_mesh.output.record,
    output:
        record="results/supports/{support}/support.json",
        basis="results/supports/{support}/stress_basis.npz",
    params:
        spec=lambda wildcards: PLANS.supports[wildcards.support],
        code=code_digest("tooth_support"),
    log:
        "results/supports/{support}/logs/tooth_support.log",
    benchmark:
        "results/supports/{support}/logs/tooth_support.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=memory_of_support,
        runtime=minutes_of_support,
    script:
        "../scripts/tooth_support.py"
