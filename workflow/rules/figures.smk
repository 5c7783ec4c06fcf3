"""Per case: figures, each with the table it is drawn from beside it."""


def of_tube_tooth(pattern):
    """File of the support of the tooth that carries the tube."""

    def file(wildcards):
        plan = PLANS[wildcards.case]
        return pattern.format(support=plan.supports[plan.case["two_point"]["tooth"]])

    return file


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


rule free_body:
    message:
        "Drawing units and wire of {wildcards.case} as free bodies."
    input:
        summary=rules.summary.output.summary,
        equilibrium=rules.equilibrium.output.record,
        meshes=of_teeth("results/supports/{support}/mesh.vtu"),
    output:
        table="results/cases/{case}/figures/free_body.csv",
        png="results/cases/{case}/figures/free_body.png",
        svg="results/cases/{case}/figures/free_body.svg",
    params:
        case=case_of,
        teeth=teeth_of,
        code=code_digest("free_body"),
    log:
        "results/cases/{case}/logs/free_body.log",
    benchmark:
        "results/cases/{case}/logs/free_body.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/free_body.py"


rule movement:
    message:
        "Drawing how the units of {wildcards.case} start to move."
    input:
        summary=rules.summary.output.summary,
        meshes=of_teeth("results/supports/{support}/mesh.vtu"),
    output:
        table="results/cases/{case}/figures/movement.csv",
        png="results/cases/{case}/figures/movement.png",
        svg="results/cases/{case}/figures/movement.svg",
    params:
        case=case_of,
        teeth=teeth_of,
        code=code_digest("movement"),
    log:
        "results/cases/{case}/logs/movement.log",
    benchmark:
        "results/cases/{case}/logs/movement.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/movement.py"


rule wire_deflection:
    message:
        "Drawing the wire of {wildcards.case} as rod, by linear theory and as solid."
    input:
        summary=rules.summary.output.summary,
        path=of_wire("results/wires/{wire}/path.csv"),
        rod=of_wire("results/wires/{wire}/rod.json"),
        solid=of_wire("results/wires/{wire}/solid.json"),
    output:
        table="results/cases/{case}/figures/wire_deflection.csv",
        png="results/cases/{case}/figures/wire_deflection.png",
        svg="results/cases/{case}/figures/wire_deflection.svg",
    params:
        code=code_digest("wire_deflection"),
    log:
        "results/cases/{case}/logs/wire_deflection.log",
    benchmark:
        "results/cases/{case}/logs/wire_deflection.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/wire_deflection.py"


rule ligament_stress:
    message:
        "Drawing the ligament stress of the two-point tooth of {wildcards.case}."
    input:
        equilibrium=rules.equilibrium.output.record,
        fields=rules.response.output.fields,
        meshes=of_teeth("results/supports/{support}/mesh.vtu"),
    output:
        table="results/cases/{case}/figures/ligament_stress.csv",
        png="results/cases/{case}/figures/ligament_stress.png",
    params:
        case=case_of,
        teeth=teeth_of,
        code=code_digest("ligament_stress"),
    log:
        "results/cases/{case}/logs/ligament_stress.log",
    benchmark:
        "results/cases/{case}/logs/ligament_stress.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/ligament_stress.py"


rule mesh_section:
    message:
        "Cutting through the mesh of the two-point tooth of {wildcards.case}."
    input:
        mesh=of_tube_tooth("results/supports/{support}/mesh.vtu"),
        support=of_tube_tooth("results/supports/{support}/support.json"),
    output:
        table="results/cases/{case}/figures/mesh_section.csv",
        png="results/cases/{case}/figures/mesh_section.png",
        svg="results/cases/{case}/figures/mesh_section.svg",
    params:
        code=code_digest("mesh_section"),
    log:
        "results/cases/{case}/logs/mesh_section.log",
    benchmark:
        "results/cases/{case}/logs/mesh_section.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/mesh_section.py"


rule bench_template:
    message:
        "Drawing the passive wire of {wildcards.case} in true size, to hold the bent wire against."
    input:
        equilibrium=rules.equilibrium.output.record,
    output:
        table="results/cases/{case}/figures/bench_template.csv",
        pdf="results/cases/{case}/figures/bench_template.pdf",
        svg="results/cases/{case}/figures/bench_template.svg",
    params:
        case=case_of,
        code=code_digest("bench_template"),
    log:
        "results/cases/{case}/logs/bench_template.log",
    benchmark:
        "results/cases/{case}/logs/bench_template.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/bench_template.py"
