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
        table=numbers_of(
            "results/cases/{case}/figures/appliance_3d.csv", "appliance_3d"
        ),
        png="results/cases/{case}/figures/appliance_3d.png",
        svg=reported("results/cases/{case}/figures/appliance_3d.svg", "appliance_3d"),
    params:
        case=case_of,
        teeth=teeth_of,
        ranges=ranges_of("arrows"),
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
        table=numbers_of("results/cases/{case}/figures/free_body.csv", "free_body"),
        png="results/cases/{case}/figures/free_body.png",
        svg=reported("results/cases/{case}/figures/free_body.svg", "free_body"),
    params:
        case=case_of,
        teeth=teeth_of,
        ranges=ranges_of("arrows"),
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
        table=numbers_of("results/cases/{case}/figures/movement.csv", "movement"),
        png="results/cases/{case}/figures/movement.png",
        svg=reported("results/cases/{case}/figures/movement.svg", "movement"),
    params:
        case=case_of,
        teeth=teeth_of,
        ranges=ranges_of("movement"),
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
        equilibrium=rules.equilibrium.output.record,
        path=of_wire("results/wires/{wire}/path.csv"),
        rod=of_wire("results/wires/{wire}/rod.json"),
        solid=of_wire("results/wires/{wire}/solid.json"),
    output:
        table=numbers_of(
            "results/cases/{case}/figures/wire_deflection.csv", "wire_deflection"
        ),
        png="results/cases/{case}/figures/wire_deflection.png",
        svg=reported(
            "results/cases/{case}/figures/wire_deflection.svg", "wire_deflection"
        ),
    params:
        case=case_of,
        ranges=ranges_of("curves"),
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
        summary=rules.summary.output.summary,
        equilibrium=rules.equilibrium.output.record,
        fields=rules.response.output.fields,
        meshes=of_teeth("results/supports/{support}/mesh.vtu"),
    output:
        table=numbers_of(
            "results/cases/{case}/figures/ligament_stress.csv", "ligament_stress"
        ),
        png="results/cases/{case}/figures/ligament_stress.png",
        svg=reported(
            "results/cases/{case}/figures/ligament_stress.svg", "ligament_stress"
        ),
    params:
        case=case_of,
        teeth=teeth_of,
        ranges=ranges_of("ligament_stress"),
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
        table=numbers_of(
            "results/cases/{case}/figures/mesh_section.csv", "mesh_section"
        ),
        png="results/cases/{case}/figures/mesh_section.png",
        svg=reported("results/cases/{case}/figures/mesh_section.svg", "mesh_section"),
    params:
        tooth=lambda wildcards: case_of(wildcards)["two_point"]["tooth"],
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
        table=numbers_of(
            "results/cases/{case}/figures/bench_template.csv", "bench_template"
        ),
        pdf=reported(
            "results/cases/{case}/figures/bench_template.pdf", "bench_template_pdf"
        ),
        svg=reported(
            "results/cases/{case}/figures/bench_template.svg", "bench_template"
        ),
        png="results/cases/{case}/figures/bench_template.png",
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
