"""Per wire: the straight wire as rod, as 3D solid and as closed-form beam."""


rule wire_rod:
    message:
        "Force and couple of the straight wire as a rod with finite rotations ({wildcards.wire})."
    output:
        path="results/wires/{wire}/path.csv",
        rod="results/wires/{wire}/rod.json",
    params:
        spec=lambda wildcards: PLANS.wires[wildcards.wire],
        code=code_digest("wire_rod"),
    log:
        "results/wires/{wire}/logs/wire_rod.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/wire_rod.py"


rule wire_solid:
    message:
        "Stiffness of the straight wire as a 3D solid ({wildcards.wire})."
    output:
        solid="results/wires/{wire}/solid.json",
    params:
        spec=lambda wildcards: PLANS.wires[wildcards.wire],
        code=code_digest("wire_solid"),
    log:
        "results/wires/{wire}/logs/wire_solid.log",
    benchmark:
        "results/wires/{wire}/logs/wire_solid.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/wire_solid.py"
